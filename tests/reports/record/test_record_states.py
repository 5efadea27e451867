"""What a release record says of drafts, fills without a release, waived checks and plates."""

from datetime import datetime, timedelta

import pytest

from brewhygiene.plates import actions as plate_actions
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.corrections.actions import correct_plate
from brewhygiene.release import actions as release_actions
from brewhygiene.release.powers.rules import rules_in_force
from brewhygiene.reports.record.pdf import record_html, record_pdf
from brewhygiene.science.counting.colonies import Dish
from brewhygiene.turnarounds.actions import stop_clean
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.steps.actions import leave_out_step
from tests.factories import NOW, PASSWORD, Cellar, acting, because, made_good
from tests.reports.pdf.text import page_texts, text_of, words_of
from tests.reports.scene import Story

LATER = NOW + timedelta(days=1)

pytestmark = pytest.mark.django_db


def words(turnaround: Turnaround, *, now: datetime = LATER) -> str:
    return words_of(record_html(turnaround, now=now))


def test_undecided_record_is_a_draft_on_every_page_and_shows_the_checks_as_they_stand() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=3)
    pdf = record_pdf(turnaround, now=NOW + timedelta(minutes=35))
    pages = page_texts(pdf)
    assert [page.upper().count("NOT DECIDED") >= 1 for page in pages] == [True] * len(pages)
    text = text_of(pdf)
    assert text.count("Not decided: to decide") == 1
    assert text.count("No decision was signed before this was printed.") == 1
    assert text.count("The checks now, not decided") == 1
    assert text.count("Highest reading 3 RLU") == 1


def test_held_at_once_without_a_signature_is_still_a_draft() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=500)
    text = words(turnaround, now=NOW + timedelta(minutes=35))
    assert text.count("Not decided: held") == 1


def test_signed_hold_is_no_draft() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=500)
    cellar.decided(turnaround, "hold")
    text = words(turnaround, now=NOW + timedelta(minutes=45))
    assert text.upper().count("NOT DECIDED") == 0
    assert text.count("Hold signed by Mara Oduya") == 1


def test_clean_after_a_decision_makes_the_record_a_draft_again() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.decided(turnaround, "hold", now=NOW + timedelta(minutes=30))
    cellar.run(
        cellar.started(turnaround, now=NOW + timedelta(minutes=40)),
        now=NOW + timedelta(minutes=40),
    )
    text = words(turnaround, now=NOW + timedelta(minutes=70))
    assert text.count("Not decided: to sample") == 1
    assert text.count("No signed decision stands.") == 1


def test_fill_without_a_release_stands_out() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    release_actions.record_fill_without_release(
        by=acting(cellar.brewer, now=NOW + timedelta(hours=2)),
        turnaround=turnaround,
        beer=cellar.pale,
        batch="26-007",
        volume_hl=20,
        filled_at=NOW + timedelta(hours=1),
        reason="Pumped over before anybody had sampled it",
        password=PASSWORD,
    )
    pdf = record_pdf(turnaround, now=LATER)
    text = text_of(pdf)
    # On top, and in the box with its reason.
    assert text.count("Filled without a release Harrow Pale (invented), batch 26-007") == 2
    assert text.count("Reason given: Pumped over before anybody had sampled it") == 1
    assert text.count("Meaning Recorded a fill of FV") == 1
    assert text.count("The checks when the vessel was filled") == 1
    pages = page_texts(pdf)
    assert [page.upper().count("NOT RELEASED") for page in pages] == [1] * len(pages)


def test_waived_gate_shows_its_reason() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=500)
    cellar.decided(
        turnaround, gate_reasons={"nothing_over_action": "Proved to be the swab, see the plate"}
    )
    text = words(turnaround)
    because_words = because("Proved to be the swab, see the plate").words
    assert text.count(f"Waived: {because_words}") == 1
    assert text.count("Released over the action limit by two people, second signature") == 1
    assert text.count(f"Release of {cellar.vessel.name}") == 2
    assert text.count(f"Release of {cellar.vessel.name}, over the action limit") == 1
    assert text.count(f"Rules in force: {' '.join(rules_in_force(cellar.brewery))}") == 1


def test_reading_without_limits_is_said_to_be_unjudged() -> None:
    cellar = Cellar()
    cellar.limits.meter.limits.update(retired_at=NOW)
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=4)
    text = words(turnaround)
    assert text.count("No limits approved for this meter and ATP test: nothing was judged.") == 1
    assert text.count("4 unjudged Jonas Feld (JF)") == 1


def test_stopped_clean_says_why_and_what_was_not_run() -> None:
    story = Story()
    turnaround = story.cellar.emptied()
    clean = story.start(turnaround, 10)
    story.end(story.step(clean, 1, 11), 15, end_criterion_met=True)
    stop_clean(by=story.by(16), clean=clean, reason="Pump tripped")
    text = words(turnaround)
    assert text.count("Stopped 10 Mar 2026 10:16: Pump tripped") == 1
    assert text.count("2 Caustic Caustic liquor 50 % not run") == 1
    assert text.count("Required: strength 1.5 to 3 % w/w · temperature 60 to 85 °C") == 1


def test_left_out_step_says_who_and_why() -> None:
    story = Story()
    turnaround = story.cellar.emptied()
    clean = story.start(turnaround, 10)
    leave_out_step(
        by=story.by(11), clean=clean, step=clean.version.steps.get(order=1), reason="Open already"
    )
    text = words(turnaround)
    assert text.count("Left out 10 Mar 10:11 by Jonas Feld (JF): Open already") == 1
    assert text.count("Not decided.") == 1


def test_positive_plate_shows_what_grew_and_how_it_was_closed() -> None:
    cellar = Cellar()
    turnaround = cellar.released()
    plate = plate_actions.send_plate(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=45)),
        turnaround=turnaround,
        point=cellar.point,
        medium="UBA",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=7,
    )
    plate_actions.read_plate(
        by=acting(cellar.brewer, now=NOW + timedelta(days=5)),
        plate=plate,
        state="positive",
        colonies=4,
        organism="lactic rods",
    )
    text = words(turnaround)
    assert text.count("positive 4 colonies, lactic rods") == 1
    assert text.count("Open: this vessel is held until the plate is closed.") == 1
    made = made_good(plate, now=NOW + timedelta(days=6))
    resolve_plate(
        by=acting(cellar.brewer, now=NOW + timedelta(days=6)),
        plate=plate,
        resolution="Valve rebuilt",
        password=PASSWORD,
        **made,
    )
    text = words(turnaround)
    assert text.count("Closed 16 Mar 2026 09:00: Valve rebuilt") == 1
    rests_on = (
        f"Re-clean {made['reclean'].version}, finished 16 Mar 2026 09:00. Inspection, no fault "
        "found: Valve and gasket opened: clean New plate taken 16 Mar 2026, negative. Signed "
        "Mara Oduya."
    )
    assert text.count(rests_on) == 1


def test_plate_counted_by_dish_shows_its_cfu_and_what_it_was_read_as_before() -> None:
    cellar = Cellar()
    turnaround = cellar.released()
    plate = plate_actions.send_plate(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=45)),
        turnaround=turnaround,
        point=cellar.point,
        medium="UBA",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=7,
    )
    plate_actions.read_plate(
        by=acting(cellar.brewer, now=NOW + timedelta(days=8)),
        plate=plate,
        dishes=[Dish(1, 1, 35)],
    )
    assert words(turnaround).count("positive 35 CFU per mL (24 to 49)") == 1
    correct_plate(
        by=acting(cellar.brewer, now=NOW + timedelta(days=9)),
        plate=plate,
        dishes=[Dish(1, 100, 0)],
        reason="Read the dish of another tank",
        password=PASSWORD,
    )
    text = words(turnaround)
    bound = "negative none found in 100 mL: below 0.03 CFU per mL with 95 % confidence"
    assert text.count(bound) == 1
    assert text.count("35 colonies, positive nothing grew, negative") == 1
    assert text.count("Read the dish of another tank") == 1
