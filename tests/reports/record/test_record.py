"""The words of a release record, read back from its PDF."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection, transaction

from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import record_hash
from brewhygiene.plates import actions as plate_actions
from brewhygiene.plates.corrections.actions import correct_plate
from brewhygiene.release import actions as release_actions
from brewhygiene.reports.record.pdf import record_html, record_name, record_pdf
from brewhygiene.science.counting.colonies import Dish
from brewhygiene.turnarounds.actions import stop_clean
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.steps.actions import leave_out_step
from tests.factories import NOW, PASSWORD, Cellar, acting
from tests.reports.pdf.text import page_texts, text_of, words_of
from tests.reports.scene import Story, whole_story

LATER = NOW + timedelta(days=1)


def words(turnaround: Turnaround, *, now: datetime = LATER) -> str:
    return words_of(record_html(turnaround, now=now))


@pytest.fixture(scope="module")
def pdf(django_db_setup: None, django_db_blocker: Any) -> Iterator[bytes]:
    """The record of the turnaround in which everything happens; drawn once."""
    with django_db_blocker.unblock(), transaction.atomic():
        _, turnaround = whole_story()
        yield record_pdf(turnaround, now=LATER)
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def text(pdf: bytes) -> str:
    return text_of(pdf)


@pytest.mark.parametrize(
    "said",
    [
        pytest.param("Release record FV 3, turnaround", id="title"),
        pytest.param("Released and filled Harrow Pale (invented), batch 26-031", id="headline"),
        pytest.param(
            "Release signed by Mara Oduya, 10 Mar 2026 14:10 (self-release)", id="signed on top"
        ),
        pytest.param(
            "Plant Kestrel & Tarn (invented), 2 Millrace, Harrowmere (invented)", id="plant"
        ),
        pytest.param(
            "Emptied 10 Mar 2026 10:00, recorded by Jonas Feld (JF); CO2 left in it. "
            "Yeast cropped before",
            id="emptied",
        ),
        pytest.param(
            "Filled 10 Mar 2026 14:20 with Harrow Pale (invented), batch 26-031, 25 hL, "
            "recorded by Jonas Feld (JF)",
            id="filled",
        ),
        pytest.param("Clean 1: Hot caustic (invented), version 1", id="regime and version"),
        pytest.param(
            "Proposed Hot caustic (invented), because: FV 3 asks for at least: ordinary",
            id="why proposed",
        ),
        pytest.param("Started 10 Mar 2026 10:10 by Jonas Feld (JF)", id="started"),
        pytest.param("Finished 10 Mar 2026 11:09 by Jonas Feld (JF)", id="finished"),
        pytest.param(
            "Safety checks acknowledged 10 Mar 10:20 by Jonas Feld (JF): Vessel vented · "
            "CO2 purged · Air path open",
            id="safety",
        ),
        pytest.param(
            "10 Mar 10:12 to 10:18 (6 min), by Jonas Feld (JF); end, vented and purged, air path "
            "open: reached",
            id="end reached",
        ),
        pytest.param("agent lot C-118", id="agent lot"),
        pytest.param("Temperature at the return 72 °C 60 to 85 °C within", id="within"),
        pytest.param("Time 12 min 20 to 45 min below 10 Mar 10:32 JF", id="below"),
        pytest.param(
            "10.4 mL of 0.5 eq/L for a sample of 10 mL, judged as 2.04 % w/w", id="titration"
        ),
        pytest.param(
            "below 20 min. Extend the step. Jonas Feld (JF), 10 Mar 10:33", id="prolonged"
        ),
        pytest.param(
            "Attempt 2, prolongs attempt 1: 10 Mar 10:34 to 10:47 (13 min)", id="second attempt"
        ),
        pytest.param(
            "End not reached: pH of the rinse 6 to 8. Accept with a reason: The rinse reads as "
            "the tap does. Jonas Feld (JF), 10 Mar 10:56",
            id="accepted",
        ),
        pytest.param("Racking arm, surface 100 cm² After the sanitiser", id="point and area"),
        pytest.param("10 Mar 11:14 180 action Jonas Feld (JF)", id="over the limit"),
        pytest.param("A slip is suspected; the reading stands. Retest of no. 2", id="retest"),
        pytest.param("no-rinse sanitiser drained, not rinsed", id="rinse end"),
        pytest.param(
            "control check 10 Mar 11:10 by Jonas Feld: blank 0, positive 200 RLU, passed",
            id="control check",
        ),
        pytest.param("Surface swab, lot SW-7, good until 31 Jan 2027", id="stick"),
        pytest.param(
            "Alert over 20, action over 60 RLU, from the maker's figure, as a start (The maker's "
            "leaflet (invented)), approved by Mara Oduya 9 Mar 2026",
            id="limits",
        ),
        pytest.param("Purpose re-sanitise after a lapse or an opening", id="re-sanitise"),
        pytest.param(
            "10 Mar 2026 13:20, recorded by Jonas Feld (JF): Manway gasket looked at", id="opened"
        ),
        pytest.param("Racking arm WLN, 28 °C, 5 days", id="plate"),
        pytest.param(
            "Hold 10 Mar 2026 11:25, after clean 1 Reason: Gasket of the racking arm", id="hold"
        ),
        pytest.param(
            "Signed by Mara Oduya Meaning Release of FV 3 When 10 Mar 2026 14:10:00 CET",
            id="signature",
        ),
        pytest.param("Self-release: the person who signed also worked on the clean", id="flagged"),
        pytest.param("Nothing over the action limit no Racking arm: 180 RLU", id="gate then"),
        pytest.param("Reason: Blank of the rinse water explains it", id="reason at a gate"),
        pytest.param("Checked when printed: every one of them matches its hash", id="ledger"),
        pytest.param("Vessel vented The pressure is off and the gauge reads zero", id="wording"),
    ],
)
def test_record_says(text: str, said: str) -> None:
    assert text.count(said) >= 1, said


def test_corrected_reading_stands_beside_its_correction(text: str) -> None:
    assert text.count("7.4 °C, corrected below") == 1
    assert text.count("74 °C, correction") == 1
    assert text.count("Its reading was corrected.") == 1


def test_correction_of_a_reading_shows_old_new_who_when_and_why(text: str) -> None:
    assert (
        text.count(
            "Clean 1, step 2. caustic: temperature at the return 7.4 °C, below 74 °C, within "
            "A digit was missing Jonas Feld (JF), 10 Mar 2026 10:26"
        )
        == 1
    )


def test_correction_of_a_result_shows_old_new_who_when_and_why(text: str) -> None:
    assert (
        text.count(
            "Sample 5: Racking arm 5 RLU, clear 15 RLU, clear The meter shows 15, not 5 "
            "Jonas Feld (JF), 10 Mar 2026 12:44"
        )
        == 1
    )
    assert (text.count("Corrected by no. 6."), text.count("Corrects no. 5.")) == (1, 1)


def test_every_page_names_brewery_vessel_and_turnaround_and_its_number(pdf: bytes) -> None:
    pages = page_texts(pdf)
    for number, page in enumerate(pages, start=1):
        assert page.count("Kestrel & Tarn (invented)") >= 1
        assert page.count("Release record · FV 3 · turnaround") == 1
        assert page.count(f"Page {number} of {len(pages)}") == 1
        assert page.count("Printed 11 Mar 2026 10:00 (CET, UTC+01:00)") == 1


def test_signed_record_carries_no_watermark(text: str) -> None:
    assert text.upper().count("NOT DECIDED") == 0


@pytest.mark.django_db
def test_record_hash_is_printed_in_full_and_begins_every_footer() -> None:
    cellar = Cellar()
    turnaround = cellar.released()
    pdf = record_pdf(turnaround, now=LATER)
    digest, entries = record_hash(turnaround)
    assert len(digest) == 64
    assert text_of(pdf).count(digest) == 1
    assert text_of(pdf).count(f"{entries} entries of the append-only ledger belong") == 1
    pages = page_texts(pdf)
    assert [page.count(f"Record hash {digest[:16]}…") for page in pages] == [1] * len(pages)


@pytest.mark.django_db
def test_same_record_at_the_same_moment_is_the_same_file() -> None:
    turnaround = Cellar().released()
    assert record_pdf(turnaround, now=LATER) == record_pdf(turnaround, now=LATER)


@pytest.mark.django_db
def test_undecided_record_is_a_draft_on_every_page_and_shows_the_gates_as_they_stand() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=3)
    pdf = record_pdf(turnaround, now=NOW + timedelta(minutes=35))
    pages = page_texts(pdf)
    assert [page.upper().count("NOT DECIDED") >= 1 for page in pages] == [True] * len(pages)
    text = text_of(pdf)
    assert text.count("Not decided: to decide") == 1
    assert text.count("Nobody had signed a decision when this was printed.") == 1
    assert text.count("The gates as they stand, not decided") == 1
    assert text.count("Highest reading 3 RLU") == 1


@pytest.mark.django_db
def test_held_at_once_without_a_signature_is_still_a_draft() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=500)
    text = words(turnaround, now=NOW + timedelta(minutes=35))
    assert text.count("Not decided: held") == 1


@pytest.mark.django_db
def test_signed_hold_is_no_draft() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=500)
    cellar.decided(turnaround, "hold")
    text = words(turnaround, now=NOW + timedelta(minutes=45))
    assert text.upper().count("NOT DECIDED") == 0
    assert text.count("Hold signed by Mara Oduya") == 1


@pytest.mark.django_db
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


@pytest.mark.django_db
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
    assert text.count("The gates as they stood when it was filled") == 1
    pages = page_texts(pdf)
    assert [page.upper().count("NOT RELEASED") for page in pages] == [1] * len(pages)


@pytest.mark.django_db
def test_waived_gate_shows_its_reason() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=500)
    cellar.decided(
        turnaround, gate_reasons={"nothing_over_action": "Proved to be the stick, see the plate"}
    )
    text = words(turnaround)
    assert text.count("Waived: Proved to be the stick, see the plate") == 1


@pytest.mark.django_db
def test_reading_without_limits_is_said_to_be_unjudged() -> None:
    cellar = Cellar()
    cellar.limits.meter.limits.update(retired_at=NOW)
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=4)
    text = words(turnaround)
    assert text.count("No limits approved for this meter and stick: nothing was judged.") == 1
    assert text.count("4 unjudged Jonas Feld (JF)") == 1


@pytest.mark.django_db
def test_stopped_clean_says_why_and_what_was_not_run() -> None:
    story = Story()
    turnaround = story.cellar.emptied()
    clean = story.start(turnaround, 10)
    story.end(story.step(clean, 1, 11), 15, end_criterion_met=True)
    stop_clean(by=story.by(16), clean=clean, reason="Pump tripped")
    text = words(turnaround)
    assert text.count("Stopped 10 Mar 2026 10:16: Pump tripped") == 1
    assert text.count("2 Caustic Caustic liquor 50 % not run") == 1
    assert text.count("Asked for: strength 1.5 to 3 % w/w; temperature 60 to 85 °C") == 1


@pytest.mark.django_db
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


@pytest.mark.django_db
def test_positive_plate_shows_what_grew_and_how_it_was_closed() -> None:
    cellar = Cellar()
    turnaround = cellar.released()
    plate = plate_actions.send_plate(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=45)),
        turnaround=turnaround,
        point=cellar.point,
        medium="UBA",
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
    assert text.count("Open: this vessel is held until it is answered.") == 1
    plate_actions.resolve_plate(
        by=acting(cellar.brewer, now=NOW + timedelta(days=6)),
        plate=plate,
        resolution="Valve rebuilt",
        password=PASSWORD,
    )
    text = words(turnaround)
    assert text.count("Closed 16 Mar 2026 09:00: Valve rebuilt Signed Mara Oduya.") == 1


@pytest.mark.django_db
def test_plate_counted_by_dish_shows_its_cfu_and_what_it_was_read_as_before() -> None:
    cellar = Cellar()
    turnaround = cellar.released()
    plate = plate_actions.send_plate(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=45)),
        turnaround=turnaround,
        point=cellar.point,
        medium="UBA",
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


@pytest.mark.django_db
def test_bare_turnaround_says_what_is_not_there() -> None:
    text = words(Cellar().emptied())
    assert text.count("No clean was started before this was printed.") == 1
    assert text.count("No reading was taken before this was printed.") == 1
    assert text.count("No value was corrected.") == 1
    assert text.count("None was sent from this turnaround.") == 1
    assert text.count("not filled when this was printed") == 1


@pytest.mark.django_db
def test_site_in_fahrenheit_reads_its_windows_in_fahrenheit() -> None:
    story = Story()
    story.cellar.brewery.temperature_unit = "F"
    story.cellar.brewery.save()
    turnaround = story.cellar.emptied()
    story.clean(turnaround, 10)
    assert words(turnaround).count("Temperature at the return 168.8 °F 140 to 185 °F within") == 1


@pytest.mark.django_db
def test_tampered_entry_is_named_on_the_record() -> None:
    turnaround = Cellar().released()
    entry = Entry.objects.get(verb="record result")
    # As somebody with the database's password would do it.
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE brewhygiene_entry SET subject_label = 'tampered' WHERE id = %s", [entry.pk]
        )
    text = words(turnaround)
    assert text.count(f"Checked when printed: 1 of them do not match their hash: {entry.pk}.") == 1


@pytest.mark.django_db
def test_words_of_people_are_not_read_as_markup() -> None:
    cellar = Cellar()
    turnaround = cellar.emptied(note='<img src="http://192.0.2.9/"><b>x</b>')
    assert words(turnaround).count('<img src="http://192.0.2.9/"><b>x</b>') == 1


@pytest.mark.django_db
def test_demonstration_says_that_it_is_invented() -> None:
    cellar = Cellar(is_demo=True)
    assert words(cellar.emptied()).count("its people and its figures are invented") == 1


@pytest.mark.django_db
def test_record_name_tells_vessel_and_turnaround() -> None:
    story = Story()
    turnaround = story.cellar.emptied()
    assert record_name(turnaround) == f"release-record-fv-3-turnaround-{turnaround.pk}.pdf"


@pytest.mark.django_db
def test_record_takes_the_same_queries_for_a_long_turnaround_as_for_a_short_one(
    django_assert_num_queries: Any,
) -> None:
    story, long = whole_story()
    with django_assert_num_queries(29):
        record_html(long, now=LATER)
    short = story.cellar.emptied(now=NOW + timedelta(hours=8))
    story.clean(short, 490)
    story.sample(short, 560, rlu=1)
    plate_actions.send_plate(
        by=story.by(565),
        turnaround=short,
        point=story.surface,
        medium="WLN",
        incubation_c=28,
        incubation_days=5,
    )
    with django_assert_num_queries(29):
        record_html(short, now=LATER)
