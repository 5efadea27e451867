"""What was not recorded here as it happened says so, for ever, on every page and on paper."""

import zoneinfo
from datetime import timedelta

import pytest
from django.test import Client

from brewhygiene.batches.models.batches import Batch
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import Fill
from brewhygiene.release import actions as release_actions
from brewhygiene.release.starts.actions import Stands, put_on_record
from brewhygiene.reports.record.build import contents_of
from brewhygiene.reports.record.pdf import record_html
from brewhygiene.trends.turns.facts import turn_facts
from brewhygiene.turnarounds.models.starts import Stood, VesselStart
from tests.factories import NOW, PASSWORD, Cellar, acting

pytestmark = pytest.mark.django_db
MARK = "before this record began"
SIGNER = "R. Vane (invented)"


@pytest.fixture
def cellar(client: Client) -> Cellar:
    cellar = Cellar()
    client.force_login(cellar.brewer)
    return cellar


def put(cellar: Cellar, stands: Stands) -> VesselStart:
    return put_on_record(by=acting(cellar.brewer), vessels=[stands], password=PASSWORD)


def full(cellar: Cellar) -> VesselStart:
    day = brewery_day(NOW, Brewery.current()) - timedelta(days=9)
    return put(cellar, Stands(cellar.vessel, Stood.CONTAINS, cellar.pale, "26-007", 20, day))


def on_paper(cellar: Cellar) -> VesselStart:
    return put(
        cellar,
        Stands(
            cellar.vessel,
            Stood.RELEASED,
            released_at=NOW - timedelta(hours=1),
            paper_signer=SIGNER,
        ),
    )


def page(client: Client, address: str) -> str:
    return " ".join(client.get(address).content.decode().split())


def test_full_vessel_is_marked_on_board_vessel_batch_and_list(
    client: Client, cellar: Cellar
) -> None:
    full(cellar)
    for address in (
        "/",
        f"/vessels/{cellar.vessel.pk}/",
        f"/batches/{Batch.objects.get().pk}/",
        "/batches/",
        "/find/?q=26-0",
        f"/vessels/{cellar.vessel.pk}/empty/",
    ):
        assert MARK in page(client, address), address
    fill = Fill.objects.get()
    # A day was given, so no page says an hour.
    emptying = page(client, f"/vessels/{cellar.vessel.pk}/empty/")
    assert "batch 26-007, before this record began" in emptying
    assert "<dt>In it since</dt>" in emptying
    assert ", 00:00" not in emptying
    for address in (f"/vessels/{cellar.vessel.pk}/", f"/batches/{Batch.objects.get().pk}/"):
        assert f"{fill.filled_at:%Y}, 00:00" not in page(client, address)


def test_mark_stays_when_the_vessel_was_emptied_cleaned_and_filled_again(
    client: Client, cellar: Cellar
) -> None:
    full(cellar)
    turnaround = cellar.emptied(beer=None)
    assert f"batch 26-007, {MARK}" in page(client, f"/turnarounds/{turnaround.pk}/")
    assert MARK in page(client, f"/vessels/{cellar.vessel.pk}/")
    fill = Fill.objects.get()
    since = fill.filled_at.astimezone(zoneinfo.ZoneInfo(Brewery.current().time_zone))
    paper = " ".join(record_html(turnaround, now=NOW).split())
    assert f"{fill.words}, in it since {since.day} {since:%b %Y}" in paper
    assert fill.words.endswith(MARK)


def test_release_on_paper_is_marked_before_and_after_its_fill(
    client: Client, cellar: Cellar
) -> None:
    start = on_paper(cellar)
    turnaround = start.turnaround
    assert turnaround is not None
    words = f"Released on paper by {SIGNER}, {MARK}"
    assert f"Signed on paper by {SIGNER}, {MARK}" in page(client, "/")
    assert "Signed on paper" in page(client, "/release/")
    record = contents_of(turnaround, now=NOW)
    assert (record.headline.word, record.headline.draft) == (
        "Decided on paper only: released",
        "Not decided",
    )
    for address in (f"/turnarounds/{turnaround.pk}/", f"/vessels/{cellar.vessel.pk}/"):
        assert words in page(client, address)
    release_actions.fill_vessel(
        by=acting(cellar.hand),
        turnaround=turnaround,
        beer=cellar.pale,
        batch="26-100",
        volume_hl=10,
        filled_at=NOW,
    )
    batch = Batch.objects.get()
    assert not batch.before_record
    for address in (
        f"/turnarounds/{turnaround.pk}/",
        f"/vessels/{cellar.vessel.pk}/",
        f"/batches/{batch.pk}/",
    ):
        assert words in page(client, address)
    paper = " ".join(record_html(turnaround, now=NOW).split())
    assert f"<b>{words}</b>" in paper
    assert "Signed into the record by Mara Oduya." in paper
    headline = contents_of(turnaround, now=NOW).headline
    assert headline.word == "Released on paper and filled"
    assert headline.text == f"Harrow Pale (invented), batch 26-100. {words}"


def test_empty_vessel_needs_somebody_now_and_its_emptying_has_no_time(
    client: Client, cellar: Cellar
) -> None:
    start = put(cellar, Stands(cellar.vessel, Stood.EMPTY))
    (group,) = client.get("/").context["board"].groups
    assert group.title == "Needs you now"
    for address in (
        f"/vessels/{cellar.vessel.pk}/",
        f"/turnarounds/{start.turnaround_id}/",
        f"/turnarounds/{start.turnaround_id}/regime/",
    ):
        assert MARK in page(client, address).lower(), address
    assert "0 min ago" not in page(client, f"/turnarounds/{start.turnaround_id}/regime/")


def test_vessel_not_on_record_still_rests_and_its_page_leads_to_the_set_up(
    client: Client, cellar: Cellar
) -> None:
    (group,) = client.get("/").context["board"].groups
    assert group.title == "Resting"
    assert "/set-up/vessels-as-they-stand/" in page(client, f"/vessels/{cellar.vessel.pk}/")
    full(cellar)
    assert "/set-up/vessels-as-they-stand/" not in page(client, f"/vessels/{cellar.vessel.pk}/")


def test_hours_from_emptied_to_released_are_not_counted_where_nobody_knows_them(
    cellar: Cellar,
) -> None:
    start = put(cellar, Stands(cellar.vessel, Stood.EMPTY))
    assert start.turnaround is not None
    cellar.checked()
    done = NOW + timedelta(hours=2)
    clean = cellar.run(cellar.started(start.turnaround))
    cellar.sampled(clean.turnaround, now=done)
    cellar.decided(clean.turnaround, now=done, gate_reasons={"dirty_hold": "Taken over"})
    (fact,) = turn_facts(since=NOW - timedelta(days=1), until=NOW + timedelta(days=1), now=done)
    assert fact.released_at == done
    assert fact.hours_to_release is None
