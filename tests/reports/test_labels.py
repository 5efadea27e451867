"""Labels: what is printed, and what their code says."""

from typing import Any

import pytest

from brewhygiene.cellar.models import Vessel
from brewhygiene.reports.labels import labels_name, labels_of, labels_pdf
from brewhygiene.reports.pdf.codes import qr_svg
from tests.factories import NOW, make_brewery, make_point, make_vessel
from tests.reports.pdf.text import page_texts, text_of

pytestmark = pytest.mark.django_db

BASE = "http://192.0.2.20:8000/"


def test_label_code_opens_the_point_on_the_servers_address() -> None:
    vessel = make_vessel(points=0)
    point = make_point(vessel, code="K7WQ2MXA")
    label = labels_of(Vessel.objects.all(), base=BASE)[0]
    assert label.point == point
    assert label.address == "http://192.0.2.20:8000/p/K7WQ2MXA/"
    assert label.qr == qr_svg("http://192.0.2.20:8000/p/K7WQ2MXA/", error="q")


def test_label_shows_vessel_point_kind_place_and_address() -> None:
    make_brewery()
    vessel = make_vessel(points=0, name="FV 3")
    make_point(
        vessel,
        name="Racking arm",
        sample_kind="surface",
        area_cm2=25,
        where_to_find="Inside the arm",
        code="K7WQ2MXA",
    )
    assert text_of(labels_pdf(Vessel.objects.all(), base=BASE, now=NOW)) == (
        "FV 3 Racking arm Surface 25 cm² Inside the arm K7WQ2MXA "
        "192.0.2.20:8000/p/K7WQ2MXA/ Quenlarrow & Ombry (invented) Labels for sampling points "
        "Cut along the lines, laminate, hang at the point. Printed 10 Mar 2026 09:00 (UTC+00:00) "
        "Page 1 of 1"
    )


def test_retired_point_has_no_label() -> None:
    vessel = make_vessel(points=0)
    make_point(vessel, active=False)
    assert labels_of(Vessel.objects.all(), base=BASE) == []


def test_labels_stand_in_the_order_of_the_board() -> None:
    later = make_vessel(points=0, name="A later one", order=2)
    first = make_vessel(points=0, name="The first", order=1)
    points = [
        make_point(later, name="Only", order=0),
        make_point(first, name="Second", order=1),
        make_point(first, name="First", order=0),
    ]
    found = [label.point for label in labels_of(Vessel.objects.all(), base=BASE)]
    assert found == [points[2], points[1], points[0]]


def test_eight_labels_fill_a_sheet_and_the_ninth_begins_another() -> None:
    make_brewery()
    make_vessel(points=9)
    pages = page_texts(labels_pdf(Vessel.objects.all(), base=BASE, now=NOW))
    assert [page.count("/p/") for page in pages] == [8, 1]
    # Each is a sheet by itself: it says whose it is, and when it was printed.
    for number, page in enumerate(pages, start=1):
        assert page.count("Quenlarrow & Ombry (invented)") == 1
        assert page.count(f"Printed 10 Mar 2026 09:00 (UTC+00:00) Page {number} of 2") == 1


@pytest.mark.parametrize(
    ("vessel", "point", "size"),
    [
        ("FV 3", "Racking arm", "large"),
        ("FV 3", "Pressure-relief and vacuum valve", "small"),
        ("Long-name tank", "Racking arm", "small"),
        ("The tank behind the old bottling hall", "Racking arm", "tiny"),
        ("FV 3", "The second gasket from the left at the upper manway", "tiny"),
    ],
)
def test_long_names_are_set_smaller(vessel: str, point: str, size: str) -> None:
    make_point(make_vessel(points=0, name=vessel), name=point)
    assert labels_of(Vessel.objects.all(), base=BASE)[0].size == size


@pytest.mark.parametrize("base", ["http://localhost:8000/", "http://127.0.0.1/", "http://[::1]/"])
def test_address_that_opens_only_on_the_server_is_warned_of(base: str) -> None:
    make_brewery()
    make_vessel()
    assert (
        text_of(labels_pdf(Vessel.objects.all(), base=base, now=NOW)).count("own machine only") == 1
    )
    assert (
        text_of(labels_pdf(Vessel.objects.all(), base=BASE, now=NOW)).count("own machine only") == 0
    )


def test_vessel_without_points_says_what_to_do() -> None:
    make_brewery()
    make_vessel(points=0)
    text = text_of(labels_pdf(Vessel.objects.all(), base=BASE, now=NOW))
    assert text.count("Add one to a vessel in the set-up") == 1


def test_labels_name_tells_the_vessel() -> None:
    assert labels_name(make_vessel(points=0, name="FV 3")) == "labels-fv-3.pdf"
    assert labels_name(None) == "labels.pdf"


def test_labels_take_the_same_queries_for_one_vessel_as_for_three(
    django_assert_num_queries: Any,
) -> None:
    make_brewery()
    make_vessel(points=1)
    with django_assert_num_queries(2):
        labels_pdf(Vessel.objects.all(), base=BASE, now=NOW)
    make_vessel(points=2)
    make_vessel(points=3)
    with django_assert_num_queries(2):
        labels_pdf(Vessel.objects.all(), base=BASE, now=NOW)
