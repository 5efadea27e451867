"""The record against 21 CFR 117.305, general requirements applying to records (read).

Each requirement is put beside the words of a record that meet it.
"""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction

from brewhygiene.ledger.models import Entry, LedgerIsAppendOnly
from brewhygiene.ledger.recording import check_chain
from brewhygiene.reports.record.pdf import record_pdf
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW
from tests.reports.pdf.text import page_texts, text_of
from tests.reports.scene import whole_story


@pytest.fixture(scope="module")
def turnaround(django_db_setup: None, django_db_blocker: Any) -> Iterator[Turnaround]:
    with django_db_blocker.unblock(), transaction.atomic():
        _, turnaround = whole_story()
        yield turnaround
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def pdf(turnaround: Turnaround) -> bytes:
    return record_pdf(turnaround, now=NOW + timedelta(days=1))


@pytest.fixture(scope="module")
def text(pdf: bytes) -> str:
    return text_of(pdf)


@pytest.mark.parametrize(
    "value",
    [
        "2.08 % w/v calculated 10.4 mL of 0.5 eq/L for a sample of 10 mL",
        "Temperature at the return 72 °C read 60 to 85 °C within",
        "Strength at the return 140 mg/L read 80 to 200 mg/L within",
        "Time 25 min timer 20 to 45 min within",
        "180 action",
        "blank 0, positive 200 RLU, passed",
    ],
)
def test_117_305_b_actual_values_and_observations(text: str, value: str) -> None:
    assert text.count(value) >= 1


def test_117_305_c_accurate_values_stand_as_typed_beside_their_corrections(text: str) -> None:
    assert text.count("7.4 °C, below 74 °C, within A digit was missing") == 1
    assert text.count("5 RLU, clear 15 RLU, clear The meter shows 15, not 5") == 1


def test_117_305_c_indelible_entries_are_neither_changed_nor_deleted(
    turnaround: Turnaround,
) -> None:
    entry = Entry.objects.filter(aggregate=f"turnaround:{turnaround.pk}").latest("id")
    for attempt in (entry.save, entry.delete, Entry.objects.all().delete):
        with pytest.raises(LedgerIsAppendOnly):
            attempt()
    with pytest.raises(LedgerIsAppendOnly):
        Entry.objects.update(user_name="Somebody else")
    assert check_chain() is None


def test_117_305_c_legible_as_text_of_a_size_that_prints(pdf: bytes) -> None:
    """Readable by machine, page for page, so by eye too: no page is a picture."""
    assert [len(page) > 200 for page in page_texts(pdf)] == [True] * len(page_texts(pdf))


def test_117_305_d_created_with_the_work_by_the_servers_clock(
    turnaround: Turnaround, text: str
) -> None:
    """Every entry has its own moment, to the second; none is written later in one go."""
    entries = list(Entry.objects.filter(aggregate=f"turnaround:{turnaround.pk}").order_by("id"))
    moments = [entry.recorded_at for entry in entries]
    assert moments == sorted(moments)
    assert text.count("empty vessel: FV 3, turnaround") == 1
    for clock in ("10 Mar 2026 10:00:00", "10 Mar 2026 10:24:00", "10 Mar 2026 14:20:00"):
        assert text.count(clock) >= 1


def test_117_305_e_detailed_enough_for_the_history_of_the_work(
    turnaround: Turnaround, text: str
) -> None:
    """Every write that belongs to the turnaround is listed, one line each."""
    entries = Entry.objects.filter(aggregate=f"turnaround:{turnaround.pk}")
    listed = [text.count(f" {entry.hash[:12]} ") for entry in entries]
    assert listed == [1] * entries.count()


def test_117_305_f_1_plant_by_name_and_location(text: str) -> None:
    assert (
        text.count("Brewery Quenlarrow & Ombry (invented), 2 Millrace, Tolvenhythe (invented)") == 1
    )


@pytest.mark.parametrize(
    "activity",
    [
        "Emptied 10 Mar 2026 10:00",
        "Started 10 Mar 2026 10:10",
        "Finished 10 Mar 2026 11:09",
        "Filled 10 Mar 2026 14:20",
        "When 10 Mar 2026 14:10:00 CET",
        "Printed 11 Mar 2026 10:00 (CET, UTC+01:00)",
    ],
)
def test_117_305_f_2_date_and_time_of_the_activity(text: str, activity: str) -> None:
    assert text.count(activity) >= 1


@pytest.mark.parametrize(
    "performed",
    [
        "recorded by Jonas Feld (JF). CO2 left in the vessel.",
        "10 Mar 10:40 JF",
        "10 Mar 11:14 180 action Jonas Feld (JF)",
        "0 clear Mara Oduya (MO)",
        "Signed by Mara Oduya Meaning Hold of FV 3",
        "Signed by Mara Oduya Meaning Release of FV 3",
    ],
)
def test_117_305_f_3_signature_or_initials_of_who_performed_it(text: str, performed: str) -> None:
    assert text.count(performed) >= 1


def test_117_305_f_4_product_and_lot(text: str) -> None:
    assert text.count("Harrow Pale (invented), batch 26-031, 25 hL") == 1
    assert text.count("Agent lot C-118") >= 1
    assert text.count("Surface swab, lot SW-7") >= 1
