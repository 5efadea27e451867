"""What each check shows as its evidence: every line of it, in situations told in words."""

from dataclasses import replace

import pytest

from brewhygiene.brewery.models import Brewery
from brewhygiene.release.gates import NEVER_WAIVABLE, Answer, Gate, gates_of
from tests.release.situations.reading import situation
from tests.release.situations.words import HAND

PASSED = (
    "Passed {} h ago (clean-hold time 24 h, sanitised-hold time 4 h): re-sanitise and sample again"
)
SELF = "Jonas Feld worked on this clean"
C = {"cleans": "1:00-3:00 sanitised 3:00"}
ONE = {**C, "readings": "Cone clear 3:10", "now": "5:00"}
SANITISE = PASSED.replace("re-sanitise and sample again", "sanitise again, the samples still count")
RECLEAN = PASSED.replace(
    "re-sanitise and sample again", "re-clean, a re-sanitise renews the clean-hold once"
)
TWO = {
    **C,
    "resanitises": "8:00-8:20 sanitised 8:20",
    "readings": "Cone clear 3:10; Cone clear 4 8:30",
    "now": "9:20",
}


def gates(**cells: str) -> dict[str, Gate]:
    told = situation(**cells)
    assert told.dossier is not None
    found = gates_of(told.dossier, brewery=told.brewery, now=told.now, user=told.signer)
    return {gate.code: gate for gate in found}


WHERE = "Rinse sampler, after the sanitiser"
UNJUDGED = (
    "Cone: unjudged, Meter 1 failed or missed its control check. Pass a fresh control check or "
    "use another meter, then sample again"
)


@pytest.mark.parametrize(
    "code, cells, evidence",
    [
        ("in_service", ONE, ["In service"]),
        ("in_service", {**ONE, "other": "out of service 4:00"}, ["Out of service: Weld"]),
        ("cleaned", {"now": "1:00"}, ["No finished clean"]),
        ("cleaned", {"cleans": "1:00-2:00 stopped", "now": "3:00"}, ["No finished clean"]),
        ("cleaned", ONE, ["Hot, version 1 (clean), finished by Jonas Feld"]),
        (
            "cleaned",
            TWO,
            [
                "Hot, version 1 (clean), finished by Jonas Feld",
                "Spray, version 1 (re-sanitise), finished by Jonas Feld",
            ],
        ),
        (
            "cleaned",
            {**ONE, "cleans": "1:00-3:00 sanitised 3:00; 4:00-4:30 stopped"},
            ["The last clean was stopped"],
        ),
        (
            "cleaned",
            {**ONE, "cleans": "1:00-3:00 sanitised 3:00; 4:00-"},
            ["A clean is still running"],
        ),
        ("safety", {"now": "1:00"}, ["No finished clean"]),
        ("safety", ONE, ["Cautions of 1 step acknowledged before the start"]),
        ("safety", TWO, ["Cautions of 2 steps acknowledged before the start"]),
        (
            "safety",
            {**TWO, "other": "no cautions 2"},
            ["Cautions of 1 step acknowledged before the start"],
        ),
        ("safety", {**ONE, "other": "no cautions 1"}, ["No step has a caution"]),
        (
            "safety",
            {**ONE, "other": "no caution acknowledged 1; step left out 1"},
            ["No step has a caution"],
        ),
        (
            "safety",
            {**TWO, "other": "no caution acknowledged 2"},
            ["2. sanitiser: not acknowledged"],
        ),
        (
            "safety",
            {**TWO, "other": "no caution acknowledged 1; no caution acknowledged 2"},
            ["2. sanitiser: not acknowledged", "2. sanitiser: not acknowledged"],
        ),
        (
            "safety",
            {**ONE, "other": "hot water before the rinse 1"},
            ["1. rinse: not acknowledged"],
        ),
        (
            "safety",
            {**ONE, "other": "hot water before the rinse 1; cold into hot acknowledged 1"},
            ["Cautions of 3 steps acknowledged before the start"],
        ),
        (
            "safety",
            {**ONE, "other": "cold into hot acknowledged 1; no cautions 1"},
            ["Cautions of 1 step acknowledged before the start"],
        ),
        ("regime_strength", ONE, ["Hot: strong (hot, opened and hand-cleaned)"]),
        (
            "regime_strength",
            {**ONE, "other": "weaker regime 1"},
            [
                "Hot (ordinary) is weaker than proposed (Strong): In a hurry",
                "Proposed because: Sour before",
            ],
        ),
        ("deviations", ONE, ["Every step run, every reading within its window"]),
        (
            "deviations",
            {**ONE, "other": "deviation open 1"},
            ["Strength 60 mg/L: below 80 mg/L: not decided"],
        ),
        (
            "deviations",
            {**TWO, "other": "deviation accept 1; deviation repeat 2"},
            [
                "Strength 60 mg/L: below 80 mg/L: accept with a reason, Read late (Jonas Feld)",
                "Strength 60 mg/L: below 80 mg/L: repeat the step, Read late (Jonas Feld)",
            ],
        ),
        (
            "dirty_hold",
            ONE,
            ["The clean that counts started 1.0 h after emptying, dirty-hold time 24 h"],
        ),
        (
            "dirty_hold",
            # Ten days: a hundredth of an hour more or less in an hour would be seen.
            {**ONE, "cleans": "240:00-241:00", "readings": "Cone clear 242:00", "now": "250:00"},
            ["The clean that counts started 240.0 h after emptying, dirty-hold time 24 h"],
        ),
        ("dirty_hold", {"now": "1:00"}, ["No finished clean"]),
        ("sampled", ONE, ["Cone: 5 RLU, clear, after the sanitiser"]),
        (
            "sampled",
            TWO,
            [
                "Cone: 5 RLU, clear, after the sanitiser",
                "Cone: 4 RLU, clear, after the sanitiser",
            ],
        ),
        (
            "sampled",
            {**ONE, "readings": "Arm clear 3:10; Cone alert 3:20; Cone clear 3:30"},
            [
                "Arm: 5 RLU, clear, after the sanitiser",
                "Cone: 20 RLU, alert, after the sanitiser",
                "Cone: 5 RLU, clear, after the sanitiser",
            ],
        ),
        (
            "sampled",
            {**ONE, "other": "3 points"},
            ["Arm: not sampled", "Lid: not sampled"],
        ),
        (
            "sampled",
            {**ONE, "other": "0 points"},
            ["No sampling point is required for release. Add one in the set-up"],
        ),
        ("sampled", {"now": "1:00"}, ["No finished clean"]),
        ("rinse_end", ONE, ["Cone: no-rinse sanitiser drained, not rinsed"]),
        (
            "rinse_end",
            {**TWO, "other": "rinse end not checked at reading 2"},
            ["Cone: rinse end not checked, residue can lower the reading"],
        ),
        ("control_check", ONE, ["Meter 1 on 2026-03-10: blank 0, positive 200 RLU"]),
        # One check of a day stands for all of its readings.
        ("control_check", TWO, ["Meter 1 on 2026-03-10: blank 0, positive 200 RLU"]),
        (
            "control_check",
            {**TWO, "other": "no control check before reading 1"},
            [
                "Meter 1 on 2026-03-10: blank 0, positive 200 RLU",
                "Cone: 5 RLU unjudged, sampled again",
            ],
        ),
        (
            "control_check",
            {**TWO, "other": "no control check before reading 2"},
            [UNJUDGED],
        ),
        ("stick_in_date", ONE, ["Rinse sampler L1, in date until 2026-06-08"]),
        (
            "stick_in_date",
            {**TWO, "other": "lot out of date at reading 2"},
            ["Cone: Rinse sampler L1 was out of date"],
        ),
        ("limits", ONE, ["Meter 1, Rinse sampler: 10/30 RLU"]),
        (
            "limits",
            {**ONE, "readings": "Cone clear 3:10; Arm unjudged 3:20"},
            [f"Arm: 7 RLU unjudged, Meter 1 has no approved limits for {WHERE}"],
        ),
        ("nothing_over_action", TWO, ["Highest reading 5 RLU"]),
        (
            "nothing_over_action",
            {**ONE, "readings": "Cone clear 3:10; Cone action 44 3:20; Arm action 41 3:30"},
            ["Cone: 44 RLU, over the action limit", "Arm: 41 RLU, over the action limit"],
        ),
        ("nothing_over_action", {**C, "now": "4:00"}, ["No reading after the last clean"]),
        ("alerts", ONE, ["No reading over the alert level"]),
        (
            "alerts",
            {**ONE, "readings": "Cone alert 3:10; Cone clear 3:20; Arm alert 29 3:30"},
            ["Cone: 20 RLU, over the alert level", "Arm: 29 RLU, over the alert level"],
        ),
        (
            "alerts",
            {**ONE, "readings": "Cone alert 3:10", "other": "note at reading 1"},
            ["Cone: 20 RLU, over the alert level: Wet"],
        ),
        ("plates", ONE, ["No open positive plate"]),
        (
            "plates",
            {**ONE, "other": "1 plate growing"},
            ["None positive, 1 plate of this turnaround still growing"],
        ),
        (
            "plates",
            {**ONE, "other": "2 plates growing; 1 plate read"},
            ["None positive, 2 plates of this turnaround still growing"],
        ),
        (
            "plates",
            {**ONE, "other": "1 plate read"},
            ["No open positive plate"],
        ),
        ("plates", {**ONE, "other": "positive plate 4:00"}, ["Cone, WLN: positive"]),
        ("hold_time", ONE, ["2.0 h left (clean-hold time 24 h, sanitised-hold time 4 h)"]),
        (
            "hold_time",
            {**ONE, "other": "clean-hold 300 h; sanitised-hold 300 h", "now": "3:00"},
            ["300.0 h left (clean-hold time 300 h, sanitised-hold time 300 h)"],
        ),
        (
            "hold_time",
            {**ONE, "now": "307:00"},
            [PASSED.format("300.0")],
        ),
        ("hold_time", {**ONE, "now": "7:00"}, [SANITISE.format("0.0")]),
        ("hold_time", {**ONE, "now": "26:59:59"}, [SANITISE.format("20.0")]),
        (
            "hold_time",
            {**ONE, "resanitises": "27:00-27:20 sanitised 27:20", "now": "51:20"},
            [RECLEAN.format("20.0")],
        ),
        ("hold_time", {"now": "1:00"}, ["No finished clean"]),
        ("not_opened", ONE, ["Closed since the clean"]),
        ("not_opened", {**ONE, "openings": "3:20; 3:40"}, ["Opened: Opening 2"]),
        ("not_opened", {"now": "1:00"}, ["No finished clean"]),
        ("two_people", ONE, ["The signer did not work on this clean"]),
        (
            "two_people",
            {**ONE, "other": "signer is the hand"},
            [f"{SELF}, so this is a self-release"],
        ),
        (
            "two_people",
            {**ONE, "other": "signer is the hand; self-release off"},
            [f"{SELF}, and this brewery does not allow a self-release"],
        ),
    ],
)
def test_evidence(code: str, cells: dict[str, str], evidence: list[str]) -> None:
    assert list(gates(**cells)[code].evidence) == evidence


def test_nobody_who_signs_is_nobody_who_cleaned() -> None:
    told = situation(**ONE)
    assert told.dossier is not None
    found = gates_of(told.dossier, brewery=told.brewery, now=told.now, user=None)
    assert {gate.code: gate.answer for gate in found}["two_people"] == Answer.YES


@pytest.mark.parametrize(
    "answer, waivable, reason, blocks",
    [
        (Answer.YES, False, False, False),
        (Answer.YES, True, False, False),
        (Answer.EXPLAIN, False, True, False),
        (Answer.EXPLAIN, True, True, False),
        (Answer.NO, False, False, True),
        (Answer.NO, True, True, False),
    ],
)
def test_a_no_blocks_unless_it_may_be_waived_with_a_reason(
    answer: Answer, waivable: bool, reason: bool, blocks: bool
) -> None:
    gate = Gate("limits", "Limits", answer, ("Why",), waivable)
    assert (gate.needs_reason, gate.blocks) == (reason, blocks)
    assert Gate("limits", "Limits", answer, ("Why",)).waivable is False


def test_a_check_is_kept_with_its_title_answer_and_evidence() -> None:
    gate = Gate("limits", "Limits", Answer.NO, ("One", "Two"), waivable=True)
    assert gate.as_record() == {
        "code": "limits",
        "title": "Limits",
        "answer": "no",
        "evidence": ["One", "Two"],
    }


@pytest.mark.parametrize("waivable", [[], ["alerts"], ["alerts", "limits", "safety", "sampled"]])
def test_a_site_may_make_any_check_waivable_but_the_six(waivable: list[str]) -> None:
    told = situation(**ONE)
    assert told.dossier is not None
    brewery: Brewery = told.brewery
    brewery.waivable_gates = waivable
    found = gates_of(told.dossier, brewery=brewery, now=told.now, user=told.signer)
    assert {gate.code for gate in found if gate.waivable} == set(waivable) - NEVER_WAIVABLE


def test_a_lot_is_in_date_by_the_brewerys_own_day() -> None:
    """23:30 on the 10th in UTC is the 11th in Berlin, after the lot's last day."""
    cells = {**C, "readings": "Cone clear 17:30", "other": "lot on its last day at reading 1"}
    told = situation(**cells, now="17:40")
    assert told.dossier is not None
    answers = {}
    for zone in ("UTC", "Europe/Berlin"):
        told.brewery.time_zone = zone
        found = gates_of(told.dossier, brewery=told.brewery, now=told.now, user=told.signer)
        answers[zone] = {gate.code: gate.answer for gate in found}["stick_in_date"]
    assert answers == {"UTC": Answer.YES, "Europe/Berlin": Answer.NO}


def test_a_corrected_reading_counts_no_more() -> None:
    told = situation(**{**ONE, "readings": "Cone alert 3:10; Cone clear 3:20"})
    dossier = told.dossier
    assert dossier is not None
    dossier.results[1].corrects_id = dossier.results[0].pk
    found = gates_of(dossier, brewery=told.brewery, now=told.now, user=told.signer)
    assert {gate.code: gate.answer for gate in found}["alerts"] == Answer.YES


def test_deviation_without_a_name_or_a_reason_shows_neither() -> None:
    told = situation(**ONE, other="deviation accept 1")
    assert told.dossier is not None
    deviation = told.dossier.cleans[0].steps[-1].deviations[0]
    deviation.reason, deviation.disposed_by = "", None
    found = gates_of(told.dossier, brewery=told.brewery, now=told.now, user=told.signer)
    assert {gate.code: gate.evidence for gate in found}["deviations"] == (
        "Strength 60 mg/L: below 80 mg/L: accept with a reason",
    )


def test_a_weaker_regime_says_so_where_nothing_was_proposed() -> None:
    told = situation(**ONE, other="weaker regime 1")
    assert told.dossier is not None
    told.dossier.cleans[0].clean.proposed_regime = ""
    found = gates_of(told.dossier, brewery=told.brewery, now=told.now, user=told.signer)
    assert {gate.code: gate.evidence for gate in found}["regime_strength"][0] == (
        "Hot (ordinary) is weaker than proposed (none): In a hurry"
    )


def test_a_dossier_without_facts_of_the_turnaround_is_refused_everywhere_it_counts() -> None:
    """As little as a clean that is not there: nothing is answered with yes for want of facts."""
    told = situation(**ONE)
    assert told.dossier is not None
    dossier = replace(told.dossier, facts=replace(told.facts, turnaround=None))
    found = gates_of(dossier, brewery=told.brewery, now=told.now, user=told.signer)
    assert {gate.code for gate in found if gate.answer == Answer.NO} == {
        "cleaned",
        "sampled",
        "nothing_over_action",
        "hold_time",
        "not_opened",
    }


def test_cleaned_says_how_it_looked_smelled_and_drained_and_who_saw_it() -> None:
    told = situation(**ONE)
    assert told.dossier is not None
    (progress,) = told.dossier.counted_cleans
    item = progress.steps[-1]
    record = item.attempts[-1]
    record.ended_by = HAND
    record.observations = [
        {"observation": "looks_clean", "yes": True, "note": "", "photo": {"id": 3, "sha256": "f"}},
        {"observation": "smells_clean", "yes": False, "note": "of hops", "photo": None},
    ]
    found = gates_of(told.dossier, brewery=told.brewery, now=told.now, user=told.signer)
    (cleaned,) = [gate for gate in found if gate.code == "cleaned"]
    assert cleaned.evidence[1:] == (
        f"{item.step}: looks clean (with photo), does not smell clean: of hops, seen by Jonas Feld",
    )
