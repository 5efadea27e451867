"""The cellar's set-up, tried by the head brewer, a cellar hand and a stranger."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from brewhygiene.cellar.models import Beer, HoldClock, Vessel, VesselKind
from brewhygiene.cellar.points import actions as point_actions
from brewhygiene.cellar.vessels import actions
from brewhygiene.people.models import User
from tests.factories import (
    Cellar,
    acting,
    make_beer,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_point,
    make_vessel,
)

pytestmark = pytest.mark.django_db
VESSEL = {
    "name": "FV 1",
    "kind": "fermenter",
    "volume_hl": "20",
    "diameter_m": "1,2",
    "spray_device": "static_ball",
    "material": "stainless_304",
    "pressure_rating_bar": "2",
    "vacuum_rating_mbar": "",
    "least_level": "2",
    "default_regime": "",
    "acid_every_n": "5",
    "caustic_every_n": "10",
    "order": "3",
    "note": "By the door",
}
POINT = {
    "name": "Racking arm",
    "sample_kind": "surface",
    "area_cm2": "25",
    "required_for_release": "on",
    "where_to_find": "Inside the arm",
}


@pytest.fixture
def brewer() -> User:
    return make_head_brewer()


@pytest.fixture
def desk(client: Client, brewer: User) -> Client:
    """The head brewer, signed in."""
    client.force_login(brewer)
    return client


@pytest.fixture
def tablet(client: Client) -> Client:
    """A cellar hand, signed in."""
    client.force_login(make_cellar_hand())
    return client


@pytest.fixture
def vessel() -> Vessel:
    return make_vessel(name="FV 9")


def photo(name: str = "tank.png") -> SimpleUploadedFile:
    file = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(file, "PNG")
    return SimpleUploadedFile(name, file.getvalue(), content_type="image/png")


# --- vessels -----------------------------------------------------------------------------------


def test_vessel_is_added_from_what_was_typed(desk: Client) -> None:
    response = desk.post("/set-up/vessels/add/", VESSEL)
    added = Vessel.objects.get()
    assert response["Location"] == f"/set-up/vessels/{added.pk}/"
    assert (added.name, added.volume_hl, added.diameter_m, added.order) == ("FV 1", 20, 1.2, 3)


def test_same_form_sent_twice_adds_one_vessel(desk: Client) -> None:
    for _ in range(2):
        assert desk.post("/set-up/vessels/add/", {**VESSEL, "key": "a" * 32}).status_code == 302
    assert Vessel.objects.count() == 1


@pytest.mark.parametrize(
    "field, typed, message",
    [
        ("name", "", "Fill this in."),
        ("name", "fv 9", "Another vessel has that name."),
        ("volume_hl", "twenty", "“twenty” is not a number. Type digits, as 2.5 or 2,5."),
        ("volume_hl", "0", "0 hL is too little: at least 0.001 hL."),
        ("volume_hl", "-5", "-5 hL is too little: at least 0.001 hL."),
        (
            "volume_hl",
            "1.234,5",
            "“1.234,5” can be read two ways. Type it without thousands marks.",
        ),
        (
            "diameter_m",
            "0.1",
            "With this volume it would be 255 m tall. Check the diameter and the volume.",
        ),
        ("pressure_rating_bar", "400", "400 bar is too much: at most 20 bar."),
        ("vacuum_rating_mbar", "2000", "2000 mbar is too much: at most 1013 mbar."),
        ("acid_every_n", "0", "0 is too little: at least 1."),
        ("acid_every_n", "2.5", "“2.5” is not a whole number. Type digits only, as 12."),
        ("kind", "bathtub", "Select a valid choice. bathtub is not one of the available choices."),
    ],
)
def test_bad_value_is_named_and_the_rest_is_kept(
    desk: Client, vessel: Vessel, field: str, typed: str, message: str
) -> None:
    response = desk.post("/set-up/vessels/add/", {**VESSEL, field: typed})
    form = response.context["form"]
    assert (response.status_code, form.errors) == (422, {field: [message]})
    assert form["note"].value() == "By the door"
    assert form[field].value() == typed
    assert Vessel.objects.count() == 1


def test_units_of_the_site_are_typed_and_shown(desk: Client) -> None:
    make_brewery(volume_unit="bbl")
    desk.post("/set-up/vessels/add/", {**VESSEL, "volume_hl": "20", "diameter_m": "48"})
    added = Vessel.objects.get()
    # 1 US beer barrel is 31 US gallons of 3.785411784 L; 1 inch is 25.4 mm exactly.
    assert added.volume_hl == pytest.approx(20 * 31 * 0.03785411784)
    assert added.diameter_m == pytest.approx(48 * 0.0254)
    page = desk.get(f"/set-up/vessels/{added.pk}/").content.decode()
    assert "<dd>20 bbl</dd>" in page
    assert "<dd>48 in</dd>" in page


def test_saving_a_form_again_does_not_move_a_figure(desk: Client) -> None:
    """20 hL is 17.0434 barrels as shown, and 20 hL again when sent back."""
    make_brewery(volume_unit="bbl")
    vessel = make_vessel(volume_hl=20, diameter_m=1.2)
    address = f"/set-up/vessels/{vessel.pk}/edit/"
    form = desk.get(address).context["form"]
    shown = {name: form[name].value() for name in ("volume_hl", "diameter_m")}
    typed = {**VESSEL, **{name: form[name].field.prepare_value(v) for name, v in shown.items()}}
    assert typed["volume_hl"] == "17.0434"
    desk.post(address, typed)
    vessel.refresh_from_db()
    assert (vessel.volume_hl, vessel.diameter_m) == (20, 1.2)


def test_limits_of_a_field_are_told_in_the_site_s_unit(desk: Client) -> None:
    make_brewery(volume_unit="gal")
    response = desk.post("/set-up/vessels/add/", {**VESSEL, "volume_hl": "999999"})
    assert response.context["form"].errors["volume_hl"] == [
        "999999 US gal is too much: at most 264172 US gal."
    ]


def test_edit_form_shows_what_is_stored(desk: Client) -> None:
    vessel = make_vessel(volume_hl=30, note="Old one")
    form = desk.get(f"/set-up/vessels/{vessel.pk}/edit/").context["form"]
    assert (form["name"].value(), form["volume_hl"].value(), form["note"].value()) == (
        vessel.name,
        "30",
        "Old one",
    )


def test_service_is_taken_and_given_with_a_reason(desk: Client, vessel: Vessel) -> None:
    address = f"/set-up/vessels/{vessel.pk}/"
    response = desk.post(f"{address}out-of-service/", {"reason": ""})
    assert response.context["form"].errors == {"reason": ["Say why, so that others know."]}
    assert desk.post(f"{address}out-of-service/", {"reason": "Weld"}).status_code == 302
    assert "Out of service since" in desk.get(address).content.decode()
    assert desk.post(f"{address}back-in-service/", {"reason": "Mended"}).status_code == 302
    vessel.refresh_from_db()
    assert vessel.out_of_service_since is None


def test_vessel_with_a_history_is_not_removed(client: Client) -> None:
    cellar = Cellar()
    cellar.emptied()
    client.force_login(cellar.brewer)
    response = client.post(f"/set-up/vessels/{cellar.vessel.pk}/remove/")
    assert response.status_code == 422
    assert response.context["form"].non_field_errors() == [
        f"{cellar.vessel.name} has a history, which is kept. Take it out of service instead."
    ]


def test_unused_vessel_is_removed(desk: Client, vessel: Vessel) -> None:
    assert desk.post(f"/set-up/vessels/{vessel.pk}/remove/")["Location"] == "/set-up/vessels/"
    assert not Vessel.objects.exists()


# --- photos ------------------------------------------------------------------------------------


def test_photo_is_shown_to_the_signed_in_only(desk: Client, vessel: Vessel) -> None:
    address = f"/set-up/vessels/{vessel.pk}/photo/"
    assert desk.get(address).status_code == 404
    assert desk.post(f"{address}set/", {"photo": photo()}).status_code == 302
    response = desk.get(address)
    assert response["Content-Type"] == "image/jpeg"
    assert response["Cache-Control"] == "private, max-age=2592000"
    with Image.open(io.BytesIO(response.getvalue())) as image:
        assert image.format == "JPEG"
    assert Client().get(address)["Location"] == f"/sign-in/?next={address}"
    assert desk.post(f"{address}remove/").status_code == 302
    assert desk.get(address).status_code == 404


def test_photo_lies_among_no_static_files(desk: Client, vessel: Vessel) -> None:
    desk.post(f"/set-up/vessels/{vessel.pk}/photo/set/", {"photo": photo()})
    vessel.refresh_from_db()
    assert Client().get(f"/photos/{vessel.photo.name}").status_code in (302, 404)
    assert Client().get(f"/static/{vessel.photo.name}").status_code in (302, 404)


@pytest.mark.parametrize(
    "sent, message",
    [
        ({}, "Choose a photo first."),
        ({"photo": SimpleUploadedFile("a.jpg", b"")}, "That file is empty."),
        (
            {"photo": SimpleUploadedFile("a.jpg", b"MZ")},
            "That is not a photo that can be read. Use JPEG, PNG or WebP.",
        ),
    ],
)
def test_what_is_no_photo_is_said_on_the_vessel_s_page(
    desk: Client, vessel: Vessel, sent: dict, message: str
) -> None:
    response = desk.post(f"/set-up/vessels/{vessel.pk}/photo/set/", sent)
    assert response.status_code == 422
    assert response.context["photo_form"].errors == {"photo": [message]}
    assert response.content.decode().count("<h1>") == 1


def test_point_has_a_photo_of_its_own(desk: Client, vessel: Vessel) -> None:
    point = vessel.points.get()
    address = f"/set-up/points/{point.pk}/photo/"
    assert desk.post(f"{address}set/", {"photo": photo()})["Location"] == (
        f"/set-up/points/{point.pk}/"
    )
    response = desk.get(address)
    assert (response["Content-Type"], response.getvalue()[:3]) == ("image/jpeg", b"\xff\xd8\xff")
    assert Client().get(address).status_code == 302
    desk.post(f"{address}remove/")
    assert desk.get(address).status_code == 404


# --- points ------------------------------------------------------------------------------------


def test_point_is_added_from_what_was_typed(desk: Client, vessel: Vessel) -> None:
    assert desk.post(f"/set-up/vessels/{vessel.pk}/points/add/", POINT).status_code == 302
    point = vessel.points.get(name="Racking arm")
    assert (point.area_cm2, point.required_for_release, point.order) == (25, True, 1)


@pytest.mark.parametrize(
    "wrong, errors",
    [
        (
            {"area_cm2": ""},
            {
                "area_cm2": [
                    "A surface sample needs the area that is swabbed: 100 cm² is 10 × 10 cm."
                ]
            },
        ),
        ({"area_cm2": "0"}, {"area_cm2": ["0 cm² is too little: at least 1 cm²."]}),
        ({"sample_kind": ""}, {"sample_kind": ["Choose one of the two."]}),
        ({"name": "POINT 1"}, {"name": ["FV 9 has a point of that name."]}),
    ],
)
def test_bad_point_is_named_and_the_rest_is_kept(
    desk: Client, vessel: Vessel, wrong: dict, errors: dict
) -> None:
    response = desk.post(f"/set-up/vessels/{vessel.pk}/points/add/", {**POINT, **wrong})
    form = response.context["form"]
    assert (response.status_code, form.errors) == (422, errors)
    assert form["where_to_find"].value() == "Inside the arm"
    assert vessel.points.count() == 1


def test_usual_point_is_added_with_one_tap(desk: Client, vessel: Vessel) -> None:
    address = f"/set-up/vessels/{vessel.pk}/points/usual/"
    assert desk.post(address, {"point": "Manway gasket"}).status_code == 302
    point = vessel.points.get(name="Manway gasket")
    assert (point.sample_kind, point.area_cm2, point.required_for_release) == (
        "surface",
        100,
        False,
    )
    page = desk.get(f"/set-up/vessels/{vessel.pk}/")
    assert "Manway gasket" not in [offer.name for offer, _ in page.context["offered"]]


def test_usual_point_that_is_there_already_says_so(desk: Client, vessel: Vessel) -> None:
    address = f"/set-up/vessels/{vessel.pk}/points/usual/"
    desk.post(address, {"point": "Manway gasket"})
    desk.get(f"/set-up/vessels/{vessel.pk}/")  # shows what the first tap did
    response = desk.post(address, {"point": "Manway gasket"}, follow=True)
    assert [str(m) for m in response.context["messages"]] == ["FV 9 has a point of that name."]
    assert vessel.points.count() == 2


@pytest.mark.parametrize("name", ["", "Sight glass", "<script>"])
def test_what_is_no_usual_point_is_not_found(desk: Client, vessel: Vessel, name: str) -> None:
    address = f"/set-up/vessels/{vessel.pk}/points/usual/"
    assert desk.post(address, {"point": name}).status_code == 404


def test_each_button_of_a_page_has_a_key_of_its_own(desk: Client, vessel: Vessel) -> None:
    make_point(vessel)
    context = desk.get(f"/set-up/vessels/{vessel.pk}/").context
    buttons = [context["small_form"], *(form for _, form in context["offered"])]
    assert len({form["key"].value() for form in buttons}) == len(buttons)


def test_point_is_edited_retired_and_taken_back(desk: Client, vessel: Vessel) -> None:
    point = vessel.points.get()
    address = f"/set-up/points/{point.pk}/"
    assert desk.get(address).context["form"]["name"].value() == "Point 1"
    assert desk.post(address, POINT)["Location"] == f"/set-up/vessels/{vessel.pk}/"
    desk.post(f"{address}retire/")
    point.refresh_from_db()
    assert (point.name, point.active) == ("Racking arm", False)
    desk.post(f"{address}reinstate/")
    point.refresh_from_db()
    assert point.active


# --- beers and clocks --------------------------------------------------------------------------


def test_beer_is_added_and_edited(desk: Client) -> None:
    desk.post("/set-up/beers/add/", {"name": "Tarn Gose", "sour_or_mixed": "on"})
    beer = Beer.objects.get()
    assert (beer.sour_or_mixed, beer.active) == (True, True)
    address = f"/set-up/beers/{beer.pk}/"
    assert desk.get(address).context["form"]["sour_or_mixed"].value() is True
    desk.post(address, {"name": "Tarn Gose", "allergen": "coriander"})
    beer.refresh_from_db()
    assert (beer.sour_or_mixed, beer.active, beer.allergen) == (False, False, "coriander")


def test_second_beer_of_a_name_is_refused_beside_it(desk: Client) -> None:
    make_beer(name="Tarn Gose")
    response = desk.post("/set-up/beers/add/", {"name": "tarn gose", "allergen": "coriander"})
    form = response.context["form"]
    assert (response.status_code, form.errors) == (422, {"name": ["Another beer has that name."]})
    assert form["allergen"].value() == "coriander"


def clocks_as_shown(client: Client) -> dict[str, str]:
    form = client.get("/set-up/hold-times/").context["form"]
    return {name: form[name].value() for name in form.fields if "-" in name}


def test_clocks_start_at_the_defaults_with_their_source(desk: Client) -> None:
    page = desk.get("/set-up/hold-times/")
    assert "one author&#x27;s rule of thumb, not law" in page.content.decode()
    shown = clocks_as_shown(desk)
    assert len(shown) == 3 * len(VesselKind.values)
    assert {name.split("-")[1]: value for name, value in shown.items()} == {
        "dirty_hold_h": "24",
        "clean_hold_h": "24",
        "sanitised_hold_h": "4",
    }


def test_only_changed_clocks_are_stored(desk: Client) -> None:
    given = {**clocks_as_shown(desk), "keg-clean_hold_h": "72,5"}
    assert desk.post("/set-up/hold-times/", given)["Location"] == "/set-up/hold-times/"
    clock = HoldClock.objects.get()
    assert (clock.vessel_kind, clock.clean_hold_h) == ("keg", 72.5)


@pytest.mark.parametrize(
    "typed, message",
    [
        ("0", "0 h is too little: at least 0.25 h."),
        ("", "This field is required."),
        ("a day", "“a day” is not a number. Type digits, as 2.5 or 2,5."),
        ("99999", "99999 h is too much: at most 8760 h."),
    ],
)
def test_clock_that_cannot_be_is_named_beside_its_box(
    desk: Client, typed: str, message: str
) -> None:
    given = {**clocks_as_shown(desk), "keg-clean_hold_h": typed, "keg-dirty_hold_h": "30"}
    response = desk.post("/set-up/hold-times/", given)
    form = response.context["form"]
    assert (response.status_code, form.errors) == (422, {"keg-clean_hold_h": [message]})
    assert form["keg-dirty_hold_h"].value() == "30"
    assert HoldClock.objects.count() == 0


def test_clocks_sent_unchanged_say_so(desk: Client) -> None:
    response = desk.post("/set-up/hold-times/", clocks_as_shown(desk))
    assert response.context["form"].non_field_errors() == ["Nothing was changed."]


# --- who may -----------------------------------------------------------------------------------

WRITES = [
    "vessels/add/",
    "vessels/{vessel}/edit/",
    "vessels/{vessel}/photo/set/",
    "vessels/{vessel}/photo/remove/",
    "vessels/{vessel}/out-of-service/",
    "vessels/{vessel}/back-in-service/",
    "vessels/{vessel}/remove/",
    "vessels/{vessel}/points/add/",
    "vessels/{vessel}/points/usual/",
    "points/{point}/",
    "points/{point}/retire/",
    "points/{point}/reinstate/",
    "points/{point}/photo/set/",
    "points/{point}/photo/remove/",
    "beers/add/",
    "beers/{beer}/",
    "hold-times/",
]
LISTS = ["vessels/", "vessels/{vessel}/", "beers/", "hold-times/"]


@pytest.fixture
def numbers(vessel: Vessel) -> dict[str, int]:
    return {"vessel": vessel.pk, "point": vessel.points.get().pk, "beer": make_beer().pk}


@pytest.mark.parametrize("page", WRITES)
def test_cellar_hand_changes_nothing(tablet: Client, numbers: dict, page: str) -> None:
    assert tablet.post("/set-up/" + page.format(**numbers), VESSEL).status_code == 403
    assert Vessel.objects.get().name == "FV 9"


@pytest.mark.parametrize("page", LISTS)
def test_cellar_hand_may_look(tablet: Client, numbers: dict, page: str) -> None:
    response = tablet.get("/set-up/" + page.format(**numbers))
    assert response.status_code == 200
    main = response.content.decode().split("<main")[1]
    assert "<form" not in main.replace('<form method="post" action="/set-up/hold-times/"', "")
    assert "/add/" not in main


@pytest.mark.parametrize("page", [*LISTS, *WRITES])
def test_stranger_is_sent_to_sign_in(numbers: dict, page: str) -> None:
    address = "/set-up/" + page.format(**numbers)
    assert Client().post(address, VESSEL)["Location"] == f"/sign-in/?next={address}"


# --- what it costs -----------------------------------------------------------------------------


@pytest.mark.parametrize("more", [0, 2])
@pytest.mark.parametrize("page, queries", [("vessels/", 5), ("beers/", 5)])
def test_list_costs_the_same_for_one_and_for_three(
    desk: Client, more: int, page: str, queries: int, django_assert_num_queries
) -> None:
    """Session, user, brewery, permissions, and the list."""
    for _ in range(1 + more):
        make_vessel(points=2)
        make_beer()
    with django_assert_num_queries(queries):
        desk.get(f"/set-up/{page}")


@pytest.mark.parametrize("points", [1, 3])
def test_vessel_s_page_costs_the_same_for_one_and_for_three_points(
    desk: Client, points: int, django_assert_num_queries
) -> None:
    vessel = make_vessel(points=points)
    with django_assert_num_queries(6):
        desk.get(f"/set-up/vessels/{vessel.pk}/")


def test_counts_of_the_list_leave_retired_points_out(desk: Client, brewer: User) -> None:
    vessel = make_vessel(points=3)
    point = vessel.points.get(order=0)
    point_actions.retire_point(by=acting(brewer), point=point)
    make_point(vessel, required_for_release=False)
    actions.take_out_of_service(by=acting(brewer), vessel=vessel, reason="Weld")
    row = desk.get("/set-up/vessels/").context["vessels"].get()
    assert (row.points_in_use, row.points_required) == (3, 2)
