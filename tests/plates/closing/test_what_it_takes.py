"""A positive plate is closed by a strong re-clean, an inspection and a negative plate after it."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature
from brewhygiene.plates import actions
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.closing.models import PlateClosing
from brewhygiene.plates.corrections.actions import correct_plate
from brewhygiene.plates.models import Plate
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Regime
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code
from tests.board.scenes import Now
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    made_good,
    make_plate_again,
    make_point,
    make_reclean,
    make_vessel,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
READ = NOW + 2 * DAY
CLOSED = NOW + 9 * DAY


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.fixture
def plate(cellar: Cellar) -> Plate:
    """Of the released vessel, read positive on the second day."""
    plate = actions.send_plate(
        by=acting(cellar.hand, now=NOW + 35 * MINUTE),
        turnaround=cellar.released(),
        point=cellar.point,
        medium="MRS",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=7,
    )
    return actions.read_plate(
        by=acting(cellar.brewer, now=READ), plate=plate, state="positive", colonies=4
    )


def close(cellar: Cellar, plate: Plate, **values: Any) -> Plate:
    return resolve_plate(
        by=acting(cellar.brewer, now=CLOSED),
        plate=plate,
        **{"resolution": "Gasket renewed", "password": PASSWORD, **values},
    )


def refused(cellar: Cellar, plate: Plate, **values: Any) -> tuple[str | None, str]:
    """Beside which field, and what is said; nothing is written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refusal:
        close(cellar, plate, **values)
    assert (Entry.objects.count(), PlateClosing.objects.count()) == (before, 0)
    plate.refresh_from_db()
    assert plate.open_positive
    return refusal.value.field, refusal.value.message


def test_closing_keeps_what_it_rests_on(cellar: Cellar, plate: Plate) -> None:
    made = made_good(plate, now=CLOSED)
    close(cellar, plate, **{**made, "finding": " Seat pitted ", "inspected": "repaired"})
    closing = PlateClosing.objects.get()
    assert (closing.plate, closing.reclean, closing.replating) == (
        plate,
        made["reclean"],
        made["replating"],
    )
    assert (closing.inspected, closing.finding) == ("repaired", "Seat pitted")
    assert (closing.inspected_at, closing.recorded_by) == (CLOSED, cellar.brewer)
    values = Entry.objects.get(verb="close positive plate").values
    assert values["reclean"] == str(made["reclean"])
    assert values["replating"] == str(made["replating"])
    assert (values["finding"], values["inspected"]) == ("Seat pitted", "repaired")
    assert state_of(cellar.vessel, now=CLOSED).status.code != Code.HELD


def test_reason_alone_closes_nothing(cellar: Cellar, plate: Plate) -> None:
    field, words = refused(cellar, plate)
    assert field == "reclean"
    assert words == (
        f"A re-clean is missing. Clean {cellar.vessel.name} at the level strong (hot, opened and "
        "hand-cleaned). No such clean was finished after this plate was read positive."
    )
    assert state_of(cellar.vessel, now=CLOSED).status.code == Code.HELD


@pytest.mark.parametrize(
    "values",
    [
        {"now": READ},  # in the very minute, and so not after
        {"now": CLOSED, "level": 2},
        {"now": CLOSED, "purpose": "resanitise"},
        {"now": CLOSED, "finished_at": None, "finished_by": None},
        {"now": CLOSED, "finished_at": None, "finished_by": None, "stopped_at": CLOSED},
    ],
    ids=["not after", "ordinary", "re-sanitised", "running", "stopped"],
)
def test_clean_that_is_none_of_a_re_clean_does_not_count(
    cellar: Cellar, plate: Plate, values: dict[str, Any]
) -> None:
    make_plate_again(plate, now=CLOSED)
    reclean = make_reclean(plate, **values)
    field, words = refused(cellar, plate, reclean=reclean)
    assert (field, words[:23]) == ("reclean", "A re-clean is missing. ")


def test_clean_of_another_vessel_does_not_count(cellar: Cellar, plate: Plate) -> None:
    elsewhere = cellar.emptied(vessel=make_vessel())
    reclean = make_reclean(plate, now=CLOSED, turnaround=elsewhere)
    assert refused(cellar, plate, reclean=reclean)[0] == "reclean"
    right = make_reclean(plate, now=CLOSED)
    field, words = refused(cellar, plate, reclean=reclean)
    assert (field, words) == (
        "reclean",
        (
            f"Choose a clean of {cellar.vessel.name} that was finished after this plate was read "
            "positive, at the level strong (hot, opened and hand-cleaned)."
        ),
    )
    assert refused(cellar, plate, reclean=right)[0] == "inspected"


def test_re_clean_just_after_the_reading_counts(cellar: Cellar, plate: Plate) -> None:
    reclean = make_reclean(plate, now=READ + timedelta(seconds=1))
    assert refused(cellar, plate, reclean=reclean)[0] == "inspected"


def test_where_no_strong_regime_is_for_the_kind_the_strongest_counts(
    cellar: Cellar, plate: Plate
) -> None:
    reclean = make_reclean(plate, now=CLOSED, level=2)
    assert refused(cellar, plate, reclean=reclean)[0] == "reclean"
    # Strong ones are for other kinds of vessel, retired, or only re-sanitise.
    strong = Regime.objects.filter(level=3)
    assert strong.count() == 1
    for values in ({"vessel_kinds": ["keg"]}, {"active": False}, {"resanitises_only": True}):
        strong.update(vessel_kinds=["fermenter"], active=True, resanitises_only=False)
        assert refused(cellar, plate, reclean=reclean)[0] == "reclean"
        strong.update(**values)
        assert refused(cellar, plate, reclean=reclean)[0] == "inspected"


def test_count_corrected_later_does_not_undo_the_re_clean(cellar: Cellar, plate: Plate) -> None:
    made = made_good(plate, now=CLOSED - DAY)
    correct_plate(
        by=acting(cellar.brewer, now=CLOSED - MINUTE),
        plate=plate,
        state="positive",
        colonies=5,
        reason="Counted twice",
    )
    assert close(cellar, plate, **made).resolved_at == CLOSED


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"inspected": ""}, "inspected", "Choose what the inspection found."),
        ({"inspected": "fault"}, "inspected", "Choose what the inspection found."),
        ({"finding": " "}, "finding", "Enter what was opened and what was seen."),
        (
            {"inspected_at": READ - MINUTE},
            "inspected_at",
            (
                "Enter a time after this plate was read positive. An earlier inspection does not "
                "count."
            ),
        ),
        (
            {"inspected_at": CLOSED + DAY},
            "inspected_at",
            "Enter a time that is not in the future.",
        ),
    ],
)
def test_inspection_is_asked_for_with_its_finding(
    cellar: Cellar, plate: Plate, values: dict[str, Any], field: str, words: str
) -> None:
    assert refused(cellar, plate, **{**made_good(plate, now=CLOSED), **values}) == (field, words)


def test_inspection_without_a_time_is_now(cellar: Cellar, plate: Plate) -> None:
    close(cellar, plate, **{**made_good(plate, now=CLOSED - DAY), "inspected_at": None})
    assert PlateClosing.objects.get().inspected_at == CLOSED


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"now": CLOSED - DAY - MINUTE}, "A new plate is missing. Send one of "),
        ({"now": CLOSED, "medium": "WLN"}, "A new plate is missing. Send one of "),
        ({"now": CLOSED, "state": "pending", "read_at": None, "read_by": None}, "is not read yet"),
        ({"now": CLOSED, "state": "positive", "colonies": 2}, "is positive too"),
    ],
    ids=["before the re-clean", "another medium", "pending", "positive"],
)
def test_plate_that_shows_nothing_does_not_count(
    cellar: Cellar, plate: Plate, values: dict[str, Any], words: str
) -> None:
    made = {
        "reclean": make_reclean(plate, now=CLOSED - DAY),
        "inspected": "sound",
        "finding": "Clean",
        "replating": make_plate_again(plate, **values),
    }
    field, said = refused(cellar, plate, **made)
    assert (field, words in said) == ("replating", True)
    # Nor when there is one that would, and it is not the one that was chosen.
    right = make_plate_again(plate, now=CLOSED - DAY)
    field, said = refused(cellar, plate, **made)
    assert (field, said[:24]) == ("replating", "Choose a negative plate ")
    assert close(cellar, plate, **{**made, "replating": right}).resolved_at == CLOSED


def test_plate_of_another_point_counts_only_where_the_point_is_retired(
    cellar: Cellar, plate: Plate
) -> None:
    other = make_point(cellar.vessel, name="Manway")
    reclean = make_reclean(plate, now=CLOSED)
    values = {
        "reclean": reclean,
        "inspected": "sound",
        "finding": "Clean",
        "replating": make_plate_again(plate, now=CLOSED, point=other),
    }
    assert refused(cellar, plate, **values)[0] == "replating"
    plate.point.active = False
    plate.point.save()
    assert close(cellar, plate, **values).resolved_at == CLOSED


def test_plate_of_another_vessel_does_not_count(cellar: Cellar, plate: Plate) -> None:
    plate.point.active = False
    plate.point.save()
    values = {"reclean": make_reclean(plate, now=CLOSED), "inspected": "sound", "finding": "Clean"}
    other = make_plate_again(plate, now=CLOSED, vessel=make_vessel())
    assert refused(cellar, plate, **values, replating=other)[0] == "replating"


def test_medium_written_another_way_is_the_same(cellar: Cellar, plate: Plate) -> None:
    made = made_good(plate, now=CLOSED)
    made["replating"] = make_plate_again(plate, now=CLOSED, medium="mrs")
    assert close(cellar, plate, **made).resolved_at == CLOSED


# --- the page ---


def client_of(cellar: Cellar) -> Client:
    client = Client()
    client.force_login(cellar.brewer)
    return client


def test_page_says_what_is_missing_and_offers_what_is_there() -> None:
    cellar = Now()
    plate = cellar.positive_plate()
    client, address = client_of(cellar), reverse("plates:resolve", args=[plate.pk])

    def html() -> str:
        return client.get(address).content.decode()

    first = html()
    assert "Missing: a clean at the level strong" in first
    assert f"Missing: a plate of {plate.point.name}, MRS, taken after the re-clean" in first
    reclean = make_reclean(plate, now=cellar.now - 3 * MINUTE)
    make_plate_again(plate, now=cellar.now - MINUTE, state="pending", read_at=None, read_by=None)
    second = html()
    assert f"{reclean.version}, finished " in second
    assert "is not read yet." in second
    assert "Missing:" not in second
    made = make_plate_again(plate, now=cellar.now - 2 * MINUTE)
    third = html()
    assert f'value="{made.pk}"' in third
    assert third.count("checked") == 2
    assert "is not read yet." not in third


def test_refusal_stands_beside_the_re_clean() -> None:
    cellar = Now()
    plate = cellar.positive_plate()
    address = reverse("plates:resolve", args=[plate.pk])
    response = client_of(cellar).post(
        address, {"resolution": "Gasket renewed", "password": PASSWORD}
    )
    html = response.content.decode()
    assert response.status_code == 422
    assert '<p class="error">A re-clean is missing. ' in html
    assert "Gasket renewed</textarea>" in html


def test_closed_plate_shows_what_it_rests_on() -> None:
    cellar = Now()
    plate = cellar.positive_plate()
    made = made_good(plate, now=cellar.now)
    resolve_plate(
        by=acting(cellar.brewer, now=cellar.now),
        plate=plate,
        resolution="Gasket renewed",
        password=PASSWORD,
        **made,
    )
    address = reverse("plates:plate", args=[plate.pk])
    html = client_of(cellar).get(address).content.decode()
    assert "No fault found: Valve and gasket opened: clean" in html
    assert f"{made['reclean'].version}, finished" in html
    assert "Closed by its measures alone" not in html


def test_plate_that_was_closed_by_its_measures_alone_stays_closed() -> None:
    cellar = Now()
    plate = cellar.positive_plate()
    plate.resolution = "Gasket renewed"
    plate.resolved_at = cellar.now
    plate.resolution_signature = Signature.objects.create(
        user=cellar.brewer, printed_name="Mara Oduya", meaning="Closed", signed_at=cellar.now
    )
    plate.save()
    assert state_of(cellar.vessel, now=cellar.now).status.code != Code.HELD
    html = client_of(cellar).get(reverse("plates:plate", args=[plate.pk])).content.decode()
    assert "Closed by its measures alone, as it was done then." in html
    assert "Gasket renewed" in html
