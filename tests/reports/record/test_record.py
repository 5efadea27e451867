"""The words of a release record, read back from its PDF."""

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import record_hash
from brewhygiene.plates import actions as plate_actions
from brewhygiene.reports.record.pdf import record_html, record_name, record_pdf
from brewhygiene.turnarounds.models import Turnaround
from tests.evidence import unguarded
from tests.factories import NOW, Cellar
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
        pytest.param("Batch 26-031, brewed 10 Mar 2026", id="batch"),
        pytest.param(
            "Release signed by Mara Oduya, 10 Mar 2026 14:10 (self-release)", id="signed on top"
        ),
        pytest.param(
            "Brewery Quenlarrow & Ombry (invented), 2 Millrace, Tolvenhythe (invented)",
            id="brewery",
        ),
        pytest.param(
            "Emptied 10 Mar 2026 10:00, recorded by Jonas Feld (JF). CO2 left in the vessel. "
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
            "Proposed Hot caustic (invented), because: FV 3 needs at least: ordinary",
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
            "10 Mar 10:12 to 10:18 (6 min, timer), by Jonas Feld (JF). End, vented and purged, "
            "air path open: reached",
            id="end reached",
        ),
        pytest.param("Agent lot C-118", id="agent lot"),
        pytest.param("Temperature at the return 72 °C read 60 to 85 °C within", id="within"),
        pytest.param("Time 12 min timer 20 to 45 min below 10 Mar 10:32 JF", id="below"),
        pytest.param(
            "10.4 mL of 0.5 eq/L for a sample of 10 mL, judged as 2.04 % w/w",
            id="titration",
        ),
        pytest.param(
            "below 20 min (timer 12 min). Extend the step. Jonas Feld (JF), 10 Mar 10:33",
            id="prolonged",
        ),
        pytest.param(
            "Attempt 2, prolongs attempt 1: 10 Mar 10:34 to 10:47 (13 min, timer)",
            id="second attempt",
        ),
        pytest.param(
            "End not reached: pH of the rinse 6 to 8. Accept with a reason: The rinse reads as "
            "the tap does. Jonas Feld (JF), 10 Mar 10:56",
            id="accepted",
        ),
        pytest.param("Racking arm, surface 100 cm² Taken in the sanitiser", id="point and area"),
        pytest.param("10 Mar 11:14 180 action Jonas Feld (JF)", id="over the limit"),
        pytest.param(
            "A slip is suspected. The reading stands. Retest of no. 2. Both stand.", id="retest"
        ),
        pytest.param("no-rinse sanitiser drained, not rinsed, read.", id="rinse end"),
        pytest.param("Contact time in window 20 min, strength read once", id="contact time"),
        pytest.param(
            "Control check 10 Mar 11:10 by Jonas Feld: blank 0, positive 200 RLU, passed, read.",
            id="control check",
        ),
        pytest.param("Surface swab, lot SW-7, use by 31 Jan 2027", id="ATP test"),
        pytest.param(
            "Alert over 20, action over 60 RLU, from the maker's figure (The maker's "
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
        pytest.param("No reading over the action limit no Racking arm: 180 RLU", id="gate then"),
        pytest.param(
            "Reason: Cause not found. Checked: Blank of the rinse water explains it",
            id="reason at a gate",
        ),
        pytest.param("Rules in force: Whoever cleaned or sampled can release. It is", id="rules"),
        pytest.param("match the hashes that", id="ledger"),
        pytest.param("Signed head of the ledger Keep this paper", id="head"),
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
            "Reading 5: Racking arm 5 RLU, clear 15 RLU, clear The meter shows 15, not 5 "
            "Jonas Feld (JF), 10 Mar 2026 12:44"
        )
        == 1
    )
    assert (text.count("Corrected by no. 6."), text.count("Corrects no. 5.")) == (1, 1)


def test_every_page_names_brewery_vessel_and_turnaround_and_its_number(pdf: bytes) -> None:
    pages = page_texts(pdf)
    for number, page in enumerate(pages, start=1):
        assert page.count("Quenlarrow & Ombry (invented)") >= 1
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
    # In full, and again in the head: it is the ledger's last entry too.
    assert text_of(pdf).count(digest) == 2
    assert text_of(pdf).count(f"{entries} entries of the append-only ledger belong") == 1
    pages = page_texts(pdf)
    assert [page.count(f"Record hash {digest[:16]}…") for page in pages] == [1] * len(pages)


@pytest.mark.django_db
def test_same_record_at_the_same_moment_is_the_same_file() -> None:
    turnaround = Cellar().released()
    assert record_pdf(turnaround, now=LATER) == record_pdf(turnaround, now=LATER)


@pytest.mark.django_db
def test_bare_turnaround_says_what_is_not_there() -> None:
    text = words(Cellar().emptied())
    assert text.count("No clean was started before this was printed.") == 1
    assert text.count("No reading was taken before this was printed.") == 1
    assert text.count("No value was corrected.") == 1
    assert text.count("No plate was sent from this turnaround.") == 1
    assert text.count("not filled when this was printed") == 1


@pytest.mark.django_db
def test_site_in_fahrenheit_reads_its_windows_in_fahrenheit() -> None:
    story = Story()
    story.cellar.brewery.temperature_unit = "F"
    story.cellar.brewery.save()
    turnaround = story.cellar.emptied()
    story.clean(turnaround, 10)
    assert (
        words(turnaround).count("Temperature at the return 168.8 °F read 140 to 185 °F within") == 1
    )


@pytest.mark.django_db
def test_tampered_entry_is_named_on_the_record() -> None:
    turnaround = Cellar().released()
    entry = Entry.objects.get(verb="record result")
    # As somebody with the database's password would do it.
    with unguarded(Entry), connection.cursor() as cursor:
        cursor.execute(
            "UPDATE brewhygiene_entry SET subject_label = 'tampered' WHERE id = %s", [entry.pk]
        )
    text = words(turnaround)
    assert text.count("Checked when printed: this record does not match the ledger.") == 1
    assert (
        text.count(f"changed: The content of entry {entry.number}: record result, tampered,") == 1
    )


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


def queries_of(turnaround: Turnaround) -> int:
    """Queries that a record takes, but for one more for each table that its rows are of."""
    with CaptureQueriesContext(connection) as made:
        record_html(turnaround, now=LATER)
    # The check reads rows as they are; every other query names its table before each column.
    checks = [q["sql"] for q in made if re.match(r'SELECT "\w+", ', q["sql"])]
    tables = [re.search(r'FROM "(\w+)"', sql)[1] for sql in checks]
    assert len(tables) == len(set(tables))
    return len(made) - len(tables)


@pytest.mark.django_db
def test_record_takes_the_same_queries_for_a_long_turnaround_as_for_a_short_one() -> None:
    story, long = whole_story()
    assert queries_of(long) == 52
    short = story.cellar.emptied(now=NOW + timedelta(hours=8))
    story.clean(short, 490)
    story.sample(short, 560, rlu=1)
    plate_actions.send_plate(
        by=story.by(565),
        turnaround=short,
        point=story.surface,
        medium="WLN",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=5,
    )
    assert queries_of(short) == 52
