"""The set-up pages of vessels."""

import pytest
from django.test import Client

from brewhygiene.cellar.models import Vessel
from tests.cellar.typed import SIGNED, VESSEL
from tests.factories import (
    PASSWORD,
    Cellar,
    add_step,
    make_agent,
    make_brewery,
    make_version,
    make_vessel,
)

pytestmark = pytest.mark.django_db


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
        ("name", "", "Fill in this field."),
        ("name", "fv 9", "Another vessel has this name. Enter a different name."),
        ("volume_hl", "twenty", "“twenty” is not a number. Enter digits, e.g. 2.5 or 2,5."),
        ("volume_hl", "0", "0 hL is too low. Enter at least 0.001 hL."),
        ("volume_hl", "-5", "-5 hL is too low. Enter at least 0.001 hL."),
        (
            "volume_hl",
            "1.234,5",
            "“1.234,5” is ambiguous. Enter it without thousands separators.",
        ),
        (
            "diameter_m",
            "0.1",
            "With this volume it would be 255 m tall. Check the diameter and the volume.",
        ),
        ("pressure_rating_bar", "400", "400 bar is too high. Enter at most 20 bar."),
        ("vacuum_rating_mbar", "2000", "2000 mbar is too high. Enter at most 1013 mbar."),
        ("acid_every_n", "0", "0 is too low. Enter at least 1."),
        ("acid_every_n", "2.5", "“2.5” is not a whole number. Enter digits only, e.g. 12."),
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
    assert "Fermenter, 20 bbl" in page
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
        "999999 US gal is too high. Enter at most 264172 US gal."
    ]


def test_edit_form_shows_what_is_stored(desk: Client) -> None:
    vessel = make_vessel(volume_hl=30, note="Old one")
    form = desk.get(f"/set-up/vessels/{vessel.pk}/edit/").context["form"]
    assert (form["name"].value(), form["volume_hl"].value(), form["note"].value()) == (
        vessel.name,
        "30",
        "Old one",
    )


def test_other_kind_asks_for_the_password_beside_its_field(desk: Client) -> None:
    vessel = make_vessel(points=0)
    address = f"/set-up/vessels/{vessel.pk}/edit/"
    for password, message in (
        ("", "Enter your password to sign."),
        ("not-mine", "This is not your password. Nothing was signed."),
    ):
        answer = desk.post(address, {**VESSEL, "kind": "keg", "password": password})
        assert answer.status_code == 422
        assert answer.context["form"].errors == {"password": [message]}
    assert desk.post(address, {**VESSEL, "kind": "keg", "password": PASSWORD}).status_code == 302
    vessel.refresh_from_db()
    assert vessel.kind == "keg"


def test_service_is_taken_and_given_with_a_reason(desk: Client, vessel: Vessel) -> None:
    address = f"/set-up/vessels/{vessel.pk}/"
    response = desk.post(f"{address}out-of-service/", {"reason": ""})
    assert response.context["form"].errors == {"reason": ["Enter a reason."]}
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
        f"{cellar.vessel} has records, so it cannot be removed. Take it out of service instead."
    ]


def test_unused_vessel_is_removed(desk: Client, vessel: Vessel) -> None:
    assert desk.post(f"/set-up/vessels/{vessel.pk}/remove/")["Location"] == "/set-up/vessels/"
    assert not Vessel.objects.exists()


def test_material_that_is_not_known_is_warned_of_when_saved_and_on_the_page(desk: Client) -> None:
    warning = "Material not known: seals. An agent that harms it is not refused."
    sent = desk.post("/set-up/vessels/add/", {**VESSEL, "seal_material": "unknown"}, follow=True)
    page = sent.content.decode()
    assert page.count(warning) == 2
    assert f"FV 1 added. Add its sampling points next. {warning}" in page
    added = Vessel.objects.get()
    refused = desk.post(f"/set-up/vessels/{added.pk}/edit/", VESSEL)
    assert list(refused.context["form"].errors) == ["password"]
    desk.post(f"/set-up/vessels/{added.pk}/edit/", {**VESSEL, **SIGNED})
    assert "Material not known" not in desk.get(f"/set-up/vessels/{added.pk}/").content.decode()


def test_aluminium_vessel_with_a_caustic_regime_comes_back_beside_the_regime(desk: Client) -> None:
    version = make_version(steps=False)
    add_step(version, "caustic", agent=make_agent())
    typed = {**VESSEL, "material": "aluminium", "default_regime": version.regime_id}
    answer = desk.post("/set-up/vessels/add/", typed)
    assert answer.status_code == 422
    ((field, (message,)),) = answer.context["form"].errors.items()
    assert field == "default_regime"
    assert "on aluminium: the metal dissolves, and hydrogen forms." in message
    assert 'value="aluminium" selected' in answer.content.decode()
    assert Vessel.objects.count() == 0
