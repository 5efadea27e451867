"""Neutralisers: which is proposed, which fits, and what a plate without one says."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.batches.trace.ranks import bounds_of
from brewhygiene.brewery.models import Brewery
from brewhygiene.plates import actions
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.closing.queries import ways_to_close
from brewhygiene.plates.forms import SendForm
from brewhygiene.plates.models import Plate
from brewhygiene.plates.neutralisers import FITS, Neutraliser, fit_words, fits, proposed, taken_in
from brewhygiene.plates.queries import fills_at_risk, positive_lines
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import ActiveSubstance, Agent, StepKind
from brewhygiene.release.gates import gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.trends.plates.pairs import pairs_since
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_peracetic,
    make_plate_again,
    make_reclean,
    make_version,
)

DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
SENT = NOW + 45 * MINUTE


def of_agent(substance: str) -> Cellar:
    """A cellar whose regime ends with a sanitiser of a substance."""
    cellar = Cellar()
    Agent.objects.filter(kind="sanitiser").update(active_substance=substance)
    return cellar


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def sent(cellar: Cellar, neutraliser: str, *, turnaround: Any = None, **values: Any) -> Plate:
    return actions.send_plate(
        by=acting(cellar.hand, now=values.pop("now", SENT)),
        turnaround=turnaround or cellar.cleaned(),
        point=cellar.point,
        **{
            "medium": "MRS",
            "neutraliser": neutraliser,
            "incubation_c": 28,
            "incubation_days": 1,
            **values,
        },
    )


def read(
    cellar: Cellar, plate: Plate, state: str = "negative", *, now: Any = NOW + 2 * DAY
) -> Plate:
    return actions.read_plate(
        by=acting(cellar.brewer, now=now),
        plate=plate,
        state=state,
        colonies=4 if state == "positive" else None,
    )


@pytest.mark.parametrize(
    ("substance", "first", "also"),
    [
        ("chlorine", "thiosulfate", ()),
        ("iodine", "thiosulfate", ()),
        ("PAA", "thiosulfate", ()),
        ("H2O2", "catalase", ()),
        ("quat", "lecithin", ("egg_yolk",)),
        ("", "none", ("thiosulfate", "catalase", "lecithin", "egg_yolk")),
    ],
)
def test_each_sanitiser_has_its_own(substance: str, first: str, also: tuple[str, ...]) -> None:
    assert proposed(substance) == first
    fitting = {one for one in Neutraliser.values if fits(one, substance)}
    assert fitting == {first, *also}


def test_every_sanitiser_there_is_has_one() -> None:
    acids_and_alkalis = {"NaOH", "KOH", "HNO3", "H3PO4", "HNO3+H3PO4"}
    assert set(FITS) == set(ActiveSubstance.values) - acids_and_alkalis


def test_what_fits_is_told_with_its_source() -> None:
    assert fit_words("quat") == (
        "For quaternary ammonium: lecithin and polysorbate 80 (common practice, no source) or egg "
        "yolk (5 to 50 mL/L, European Pharmacopoeia 5.0, Table 2.6.13-3)."
    )
    assert fit_words("") == ""


@pytest.mark.django_db
@pytest.mark.parametrize("substance", ["PAA", "chlorine", "quat"])
def test_the_last_sanitiser_is_what_it_is_taken_in(substance: str) -> None:
    cellar = of_agent(substance)
    turnaround = cellar.cleaned()
    assert taken_in(turnaround, SENT) == substance
    assert taken_in(turnaround, NOW - MINUTE) == ""


@pytest.mark.parametrize(("end", "left"), [("", "PAA"), ("tap_ph", "")])
def test_only_a_proved_rinse_leaves_none(cellar: Cellar, end: str, left: str) -> None:
    cellar.version = make_version(steps=False)
    add_step(cellar.version, StepKind.RINSE)
    add_step(
        cellar.version,
        StepKind.SANITISER,
        agent=make_peracetic(),
        windows={"concentration": (80, 200)},
        basis="mg_l",
    )
    add_step(cellar.version, StepKind.RINSE, end_criterion=end)
    assert taken_in(cellar.cleaned(), SENT) == left


def test_caustic_is_no_sanitiser(cellar: Cellar) -> None:
    cellar.version = make_version(steps=False)
    add_step(
        cellar.version,
        StepKind.CAUSTIC,
        agent=make_agent(),
        windows={"concentration": (1, 2)},
        basis="ww",
    )
    assert taken_in(cellar.cleaned(), SENT) == ""


def test_nothing_is_left_once_it_is_filled(cellar: Cellar) -> None:
    turnaround = cellar.released()
    cellar.filled(turnaround)
    turnaround.refresh_from_db()
    assert turnaround.closed_at is not None
    assert taken_in(turnaround, turnaround.closed_at - MINUTE) == "PAA"
    assert taken_in(turnaround, turnaround.closed_at) == ""


@pytest.mark.parametrize(("given", "fitting"), [("thiosulfate", True), ("none", False)])
def test_it_is_kept_with_what_it_was_taken_in(cellar: Cellar, given: str, fitting: bool) -> None:
    plate = sent(cellar, given)
    plate.refresh_from_db()
    assert (plate.taken_in, plate.neutraliser, plate.neutralised) == ("PAA", given, fitting)
    assert plate.not_known == ("" if fitting else "not known: no neutraliser for peracetic acid")


@pytest.mark.parametrize("given", ["", "milk"])
def test_it_has_to_be_said(cellar: Cellar, given: str) -> None:
    turnaround = cellar.cleaned()
    with pytest.raises(Refusal) as refused:
        sent(cellar, given, turnaround=turnaround)
    assert (refused.value.field, str(refused.value)) == ("neutraliser", "Choose the neutraliser.")


@pytest.mark.parametrize(("given", "negative"), [("thiosulfate", True), ("none", False)])
def test_only_with_its_neutraliser_is_no_growth_a_negative(
    cellar: Cellar, given: str, negative: bool
) -> None:
    turnaround = cellar.released()
    good = sent(cellar, given, turnaround=turnaround)
    fill = cellar.filled(turnaround, now=NOW + 10 * MINUTE + 40 * MINUTE)
    read(cellar, good)
    bad = sent(cellar, "thiosulfate", turnaround=turnaround, now=NOW + 3 * DAY)
    read(cellar, bad, "positive", now=NOW + 5 * DAY)
    good.refresh_from_db()
    assert good.clean_negative is negative
    assert bounds_of(bad)[0] == (good.taken_at if negative else None)
    assert list(fills_at_risk(bad)) == [fill]
    assert [line.at_risk for line in positive_lines()] == [[fill]]


def test_a_plate_without_it_ends_no_fill_at_risk(cellar: Cellar) -> None:
    """The good plate after the fill would leave it out; one that says nothing does not."""
    turnaround = cellar.released()
    fill = cellar.filled(turnaround)
    found = {}
    for given, days in (("none", 1), ("thiosulfate", 2)):
        plate = Plate.objects.create(
            vessel=cellar.vessel,
            turnaround=turnaround,
            point=cellar.point,
            medium="MRS",
            taken_in="PAA",
            neutraliser=given,
            neutralised=given == "thiosulfate",
            taken_at=NOW + days * DAY,
            due_on=(NOW + 9 * DAY).date(),
            sent_by=cellar.hand,
            state="negative",
            read_at=NOW + 9 * DAY,
            read_by=cellar.brewer,
        )
        bad = sent(cellar, "none", turnaround=turnaround, now=plate.taken_at + MINUTE)
        read(cellar, bad, "positive", now=NOW + 9 * DAY)
        lines = {line.plate.pk: line.at_risk for line in positive_lines()}
        found[given] = (list(fills_at_risk(bad)), lines[bad.pk])
    assert found == {"none": ([fill], [fill]), "thiosulfate": ([], [])}


def test_it_closes_no_positive_plate(cellar: Cellar) -> None:
    plate = sent(cellar, "thiosulfate", turnaround=cellar.released())
    read(cellar, plate, "positive")
    plate.refresh_from_db()
    made = {
        "reclean": make_reclean(plate, now=NOW + 9 * DAY),
        "inspected": "sound",
        "finding": "Valve and gasket opened: clean",
        "inspected_at": NOW + 9 * DAY,
    }
    bare = make_plate_again(
        plate, now=NOW + 9 * DAY, taken_in="PAA", neutraliser="none", neutralised=False
    )
    assert bare not in ways_to_close(plate).negative
    with pytest.raises(Refusal) as refused:
        resolve_plate(
            by=acting(cellar.brewer, now=NOW + 9 * DAY),
            plate=plate,
            resolution="Gasket renewed",
            password=PASSWORD,
            **{**made, "replating": bare},
        )
    assert (refused.value.field, refused.value.code) == ("replating", "not_neutralised")
    assert "is not known: no neutraliser for peracetic acid" in str(refused.value)


@pytest.mark.parametrize(
    ("given", "answer", "words"),
    [
        ("thiosulfate", "yes", "None positive, 1 plate of this turnaround still growing"),
        ("none", "explain", "{point}, MRS: not known: no neutraliser for peracetic acid"),
        ("catalase", "explain", "{point}, MRS: not known: no neutraliser for peracetic acid"),
    ],
)
def test_the_check_says_that_it_is_not_known(
    cellar: Cellar, given: str, answer: str, words: str
) -> None:
    turnaround = cellar.cleaned()
    sent(cellar, given, turnaround=turnaround)
    found = gates_of(
        load_dossier(turnaround, now=SENT),
        brewery=Brewery.current(),
        now=SENT,
        user=cellar.brewer,
    )
    gate = next(one for one in found if one.code == "plates")
    assert (gate.answer, gate.evidence) == (answer, (words.format(point=cellar.point.name),))


@pytest.mark.parametrize(
    ("given", "state", "paired"),
    [
        ("thiosulfate", "negative", 1),
        ("none", "negative", 0),
        ("none", "positive", 1),
    ],
)
def test_without_it_no_growth_is_paired_with_no_reading(
    cellar: Cellar, given: str, state: str, paired: int
) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    read(cellar, sent(cellar, given, turnaround=turnaround), state)
    assert len(pairs_since(None).pairs) == paired


def test_the_form_proposes_the_one_that_fits(cellar: Cellar) -> None:
    for inside, first in (("PAA", "thiosulfate"), ("quat", "lecithin"), ("", "none")):
        form = SendForm(None, vessel=cellar.vessel, brewery=Brewery.current(), inside=inside)
        assert form.fields["neutraliser"].initial == first
        assert form.fields["neutraliser"].help_text == (
            fit_words(inside) or "No sanitiser is left inside."
        )


def test_pages_say_it(cellar: Cellar, client: Client) -> None:
    turnaround = cellar.cleaned()
    plate = sent(cellar, "none", turnaround=turnaround)
    client.force_login(cellar.hand)
    page = client.get(reverse("plates:plate", args=[plate.pk])).content.decode()
    assert "None, taken in peracetic acid" in page
    assert "Not known: no neutraliser for peracetic acid" in page
    form = client.get(reverse("plates:send", args=[turnaround.pk])).content.decode()
    assert 'value="thiosulfate"' in form
    assert "For peracetic acid: sodium thiosulfate (common practice, no source)." in form
