"""A worse fact never gives a check of the release a better answer."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.release.gates import Answer, gates_of
from brewhygiene.release.status import Code, status_of
from tests.release.situations.reading import Situation, situation

VERDICTS = ("clear", "alert", "action", "unjudged")


ANSWERS = [Answer.YES, Answer.EXPLAIN, Answer.NO]


BETTER_AND_WORSE = [
    ({"readings": "Cone clear 3:10"}, {"readings": "Cone alert 3:10"}),
    ({"readings": "Cone clear 3:10"}, {"readings": "Cone action 3:10"}),
    ({"readings": "Cone clear 3:10"}, {"readings": "Cone unjudged 3:10"}),
    ({"readings": "Cone clear 3:10"}, {"readings": "-"}),
    ({"openings": "-"}, {"openings": "3:00"}),
    ({"now": "6:59:59"}, {"now": "7:00"}),
    *(
        ({"other": "-"}, {"other": worse})
        for worse in (
            "2 points",
            "0 points",
            "out of service 3:00",
            "positive plate 3:00",
            "sanitised-hold 1 h",
            "clean-hold 1 h",
            "dirty-hold 0 h",
            "weaker regime 1",
            "no caution acknowledged 1",
            "deviation open 1",
            "deviation accept 1",
            "rinse end not checked at reading 1",
            "no control check before reading 1",
            "control check failed before reading 1",
            "control check failed after reading 1",
            "lot out of date at reading 1",
            "signer is the hand",
            "brewer ran a step 1",
        )
    ),
]


GOOD = {
    "cleans": "1:00-3:00 sanitised 3:00",
    "readings": "Cone clear 3:10",
    "openings": "-",
    "other": "-",
    "now": "5:00",
}


def answers(read: Situation) -> dict[str, int]:
    assert read.dossier is not None
    gates = gates_of(read.dossier, brewery=read.brewery, now=read.now, user=read.signer)
    return {gate.code: ANSWERS.index(gate.answer) for gate in gates}


@pytest.mark.parametrize("better, worse", BETTER_AND_WORSE, ids=str)
def test_no_worse_fact_gives_any_check_a_better_answer(
    better: dict[str, str], worse: dict[str, str]
) -> None:
    before = answers(situation(**{**GOOD, **better}))
    then = answers(situation(**{**GOOD, **worse}))
    assert all(then[code] >= before[code] for code in before)
    assert then != before


@given(
    verdicts=st.lists(st.sampled_from(VERDICTS), min_size=1, max_size=5),
    resanitised=st.booleans(),
)
def test_the_worst_verdict_of_all_counted_readings_wins(
    verdicts: list[str], resanitised: bool
) -> None:
    times = [f"3:{10 + n}" for n in range(len(verdicts))]
    if resanitised:
        times[-1] = "8:30"
    read = situation(
        cleans="1:00-3:00 sanitised 3:00",
        resanitises="8:00-8:20 sanitised 8:20" if resanitised else "-",
        readings="; ".join(f"Cone {v} {t}" for v, t in zip(verdicts, times, strict=True)),
        now="8:40",
    )
    found = answers(read)
    assert found["nothing_over_action"] == (2 if "action" in verdicts else 0)
    assert found["limits"] == (2 if "unjudged" in verdicts else 0)
    assert found["alerts"] == (1 if "alert" in verdicts else 0)
    assert (status_of(read.facts, read.now).code == Code.HELD) == ("action" in verdicts)
