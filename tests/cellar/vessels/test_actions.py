"""The actions on vessels."""

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.vessels import actions
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature, User
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_cellar_hand,
    make_head_brewer,
    make_resanitise_version,
    make_version,
    make_vessel,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    return make_head_brewer()


def added(by: User, **values) -> Vessel:
    return actions.add_vessel(
        by=acting(by), **{"name": "FV 1", "kind": "fermenter", "volume_hl": 20, **values}
    )


def test_added_vessel_is_in_the_ledger_with_its_values(brewer: User) -> None:
    vessel = added(brewer, diameter_m=1.2, note="by the door")
    entry = Entry.objects.get()
    assert (entry.verb, entry.subject_id, entry.aggregate) == (
        "add vessel",
        vessel.pk,
        f"vessel:{vessel.pk}",
    )
    assert entry.values == {
        "name": "FV 1",
        "kind": "fermenter",
        "volume_hl": 20,
        "diameter_m": 1.2,
        "spray_device": "static_ball",
        "material": "stainless_304",
        "seal_material": "unknown",
        "spray_device_material": "unknown",
        "pressure_rating_bar": None,
        "vacuum_rating_mbar": None,
        "vacuum_valve": True,
        "solution_l": None,
        "least_level": 2,
        "culture_use": "either",
        "default_regime": None,
        "acid_every_n": 5,
        "caustic_every_n": 10,
        "clean_within_days": None,
        "acid_within_days": None,
        "note": "by the door",
        "order": 0,
    }


@pytest.mark.parametrize("volume_hl", [0, -2, 10_001, float("nan")])
def test_impossible_volume_is_refused(brewer: User, volume_hl: float) -> None:
    with pytest.raises(Refusal) as refused:
        added(brewer, volume_hl=volume_hl)
    assert refused.value.field == "volume_hl"
    assert Vessel.objects.count() == 0


@pytest.mark.parametrize("name", ["fv 1", "FV 1", " FV 1 "])
def test_name_of_another_is_refused_whatever_its_capitals(brewer: User, name: str) -> None:
    added(brewer)
    with pytest.raises(Refusal) as refused:
        added(brewer, name=name)
    assert (refused.value.field, refused.value.code) == ("name", "taken")


def test_capitals_beyond_plain_letters_are_the_same_name(brewer: User) -> None:
    added(brewer, name="Gärtank")
    with pytest.raises(Refusal):
        added(brewer, name="GÄRTANK")


@pytest.mark.parametrize(
    "kind, volume_hl, diameter_m",
    [
        ("fermenter", 20, 0.1),  # 255 m tall
        ("fermenter", 20, 12),  # a puddle
        ("keg", 0.5, 4),
        ("draught_line", 5, 0.01),  # 6 km long
    ],
)
def test_diameter_that_cannot_go_with_the_volume_is_refused(
    brewer: User, kind: str, volume_hl: float, diameter_m: float
) -> None:
    with pytest.raises(Refusal) as refused:
        added(brewer, kind=kind, volume_hl=volume_hl, diameter_m=diameter_m)
    assert (refused.value.field, refused.value.code) == ("diameter_m", "odd_shape")


@pytest.mark.parametrize(
    "kind, volume_hl, diameter_m",
    [
        ("fermenter", 20, 1.2),
        ("fermenter", 2_000, 3.6),
        ("bright_tank", 5, 0.8),
        ("yeast_vessel", 0.19, 0.22),  # a soda keg used as a brink
        ("keg", 0.5, 0.4),
        ("draught_line", 0.007, 0.009),  # 11 m
        ("hose_set", 0.2, 0.05),
        ("heat_exchanger", 0.1, 0.4),  # no body of one width
    ],
)
def test_usual_shapes_are_taken(
    brewer: User, kind: str, volume_hl: float, diameter_m: float
) -> None:
    assert added(brewer, kind=kind, volume_hl=volume_hl, diameter_m=diameter_m).pk


def test_edit_keeps_before_and_after_of_what_changed(brewer: User) -> None:
    vessel = added(brewer)
    actions.edit_vessel(
        by=acting(brewer), vessel=vessel, name="FV 1", kind="fermenter", volume_hl=25, note="new"
    )
    assert Entry.objects.last().values == {
        "before": {"volume_hl": 20.0, "note": ""},
        "after": {"volume_hl": 25, "note": "new"},
    }


@pytest.mark.parametrize(
    "ruled",
    [
        {"kind": "keg"},
        {"least_level": 1},
        {"culture_use": "mixed"},
        {"clean_within_days": 7},
        {"acid_within_days": 60},
        {"material": "stainless_316"},
        {"seal_material": "epdm"},
        {"spray_device": "rotary_jet"},
        {"spray_device_material": "ptfe"},
        {"vacuum_valve": False},
    ],
)
def test_what_releases_and_safety_checks_follow_from_is_edited_with_the_password_only(
    brewer: User, ruled: dict
) -> None:
    vessel = added(brewer, least_level=2)
    given = {"name": "FV 1", "kind": "fermenter", "volume_hl": 20, "least_level": 2, **ruled}
    for password, code in (("", "no_password"), ("not-my-password", "bad_password")):
        with pytest.raises(Refusal) as refused:
            actions.edit_vessel(by=acting(brewer), vessel=vessel, password=password, **given)
        assert (refused.value.field, refused.value.code) == ("password", code)
    vessel.refresh_from_db()
    assert (vessel.kind, vessel.least_level, Signature.objects.count()) == ("fermenter", 2, 0)
    actions.edit_vessel(by=acting(brewer), vessel=vessel, password=PASSWORD, **given)
    vessel.refresh_from_db()
    assert {name: getattr(vessel, name) for name in ruled} == ruled
    assert Signature.objects.get().meaning == "Changed the rules of FV 1"


def test_preferred_regime_is_one_for_its_kind(brewer: User) -> None:
    regime = make_resanitise_version(vessel_kinds=["keg"]).regime
    with pytest.raises(Refusal) as refused:
        added(brewer, default_regime=regime)
    assert refused.value.field == "default_regime"


def test_out_of_service_and_back_keep_time_and_reason(brewer: User) -> None:
    vessel = added(brewer)
    actions.take_out_of_service(by=acting(brewer), vessel=vessel, reason="Weld cracked")
    vessel.refresh_from_db()
    assert (vessel.out_of_service_since, vessel.out_of_service_reason) == (NOW, "Weld cracked")
    actions.return_to_service(by=acting(brewer), vessel=vessel, reason="Welded and passivated")
    vessel.refresh_from_db()
    assert (vessel.out_of_service_since, vessel.out_of_service_reason) == (None, "")
    assert Entry.objects.last().values == {
        "was_out_since": "2026-03-10T09:00:00Z",
        "was_out_for": "Weld cracked",
        "reason": "Welded and passivated",
    }


def test_out_of_service_twice_names_the_first_reason(brewer: User) -> None:
    vessel = added(brewer)
    actions.take_out_of_service(by=acting(brewer), vessel=vessel, reason="Weld cracked")
    with pytest.raises(Refusal, match="Weld cracked") as refused:
        actions.take_out_of_service(by=acting(brewer), vessel=vessel, reason="Other")
    assert refused.value.code == "already_out"


def test_back_in_service_of_one_that_is_in_is_refused(brewer: User) -> None:
    with pytest.raises(Refusal) as refused:
        actions.return_to_service(by=acting(brewer), vessel=added(brewer), reason="x")
    assert refused.value.code == "already_in"


@pytest.mark.parametrize("verb", [actions.take_out_of_service, actions.return_to_service])
def test_service_is_changed_for_a_reason(brewer: User, verb) -> None:
    vessel = added(brewer)
    if verb is actions.return_to_service:
        actions.take_out_of_service(by=acting(brewer), vessel=vessel, reason="Weld cracked")
    with pytest.raises(Refusal) as refused:
        verb(by=acting(brewer), vessel=vessel, reason="  ")
    assert refused.value.field == "reason"


def test_vessel_added_by_mistake_is_removed_with_its_points(brewer: User) -> None:
    vessel = make_vessel(points=2)
    pk = vessel.pk
    actions.remove_vessel(by=acting(brewer), vessel=vessel)
    assert not Vessel.objects.filter(pk=pk).exists()
    assert Entry.objects.get().subject_id == pk


def test_vessel_with_a_history_stays() -> None:
    cellar = Cellar()
    cellar.emptied()
    with pytest.raises(Refusal) as refused:
        actions.remove_vessel(by=acting(cellar.brewer), vessel=cellar.vessel)
    assert refused.value.code == "has_history"
    assert cellar.vessel.points.count() == 1


def test_cellar_hand_changes_no_vessel(brewer: User) -> None:
    vessel, by = added(brewer), acting(make_cellar_hand())
    attempts = [
        lambda: added(by.user, name="FV 2"),
        lambda: actions.edit_vessel(by=by, vessel=vessel, name="x", kind="keg", volume_hl=1),
        lambda: actions.take_out_of_service(by=by, vessel=vessel, reason="x"),
        lambda: actions.return_to_service(by=by, vessel=vessel, reason="x"),
        lambda: actions.remove_vessel(by=by, vessel=vessel),
        lambda: actions.set_vessel_photo(by=by, vessel=vessel, photo=None),
    ]
    for attempt in attempts:
        with pytest.raises(NotAllowed):
            attempt()
    assert Entry.objects.count() == 1


def test_new_photo_replaces_the_file_of_the_old_one(
    brewer: User, django_capture_on_commit_callbacks
) -> None:
    vessel = added(brewer)
    actions.set_vessel_photo(by=acting(brewer), vessel=vessel, photo=ContentFile(b"one"))
    vessel.refresh_from_db()
    first = vessel.photo.name
    with django_capture_on_commit_callbacks(execute=True):
        actions.set_vessel_photo(by=acting(brewer), vessel=vessel, photo=ContentFile(b"two"))
    vessel.refresh_from_db()
    assert not default_storage.exists(first)
    with vessel.photo.open() as file:
        assert file.read() == b"two"
    assert Entry.objects.last().values == {
        "photo": {
            "file": vessel.photo.name,
            "bytes": 3,
            # printf two | sha256sum
            "sha256": "3fc4ccfe745870e2c0d99f71f30ff0656c8dedd41cc1d7d3d376b0dbe685e2f3",
        }
    }
    second = vessel.photo.name
    with django_capture_on_commit_callbacks(execute=True):
        actions.set_vessel_photo(by=acting(brewer), vessel=vessel, photo=None)
    vessel.refresh_from_db()
    assert not vessel.photo
    assert not default_storage.exists(second)


def test_preferred_regime_that_harms_the_vessel_is_refused_beside_it(brewer: User) -> None:
    version = make_version(steps=False)
    add_step(version, "caustic", agent=make_agent(name="Caustic liquor"))
    with pytest.raises(Refusal) as refused:
        added(brewer, material="aluminium", default_regime=version.regime)
    assert (refused.value.field, refused.value.code) == ("default_regime", "unfit_material")
    assert refused.value.message == (
        "The vessel of FV 1 is unfit. Caustic liquor (sodium hydroxide, NaOH) on aluminium: the "
        "metal dissolves, and hydrogen forms. Source: International Chemical Safety Card "
        "0360 and its potassium twin. Choose another regime, or edit the materials."
    )
    assert Vessel.objects.count() == 0


def test_editing_the_material_asks_the_preferred_regime(brewer: User) -> None:
    version = make_version(steps=False)
    add_step(version, "hot_water", windows={"temperature_c": (80, 85)})
    vessel = added(brewer, default_regime=version.regime)

    def edited(**values) -> Vessel:
        return actions.edit_vessel(
            by=acting(brewer),
            vessel=vessel,
            name="FV 1",
            kind="fermenter",
            volume_hl=20,
            password=PASSWORD,
            **values,
        )

    with pytest.raises(Refusal) as refused:
        edited(material="pvc")
    assert (refused.value.field, refused.value.code) == ("default_regime", "unfit_material")
    edited(material="pvc", default_regime=None)
    with pytest.raises(Refusal):
        edited(default_regime=version.regime)
    assert edited(material="unknown", default_regime=version.regime).material == "unknown"


@pytest.mark.parametrize(
    ("values", "parts"),
    [
        ({}, ["seals", "spray device"]),
        ({"spray_device": "none"}, ["seals"]),
        ({"seal_material": "none", "spray_device_material": "ptfe"}, []),
        ({"seal_material": "none", "spray_device": "none", "material": "unknown"}, ["vessel"]),
        ({"seal_material": "none", "spray_device": "none", "material": "plastic"}, ["vessel"]),
    ],
)
def test_vessel_says_which_material_is_not_known(
    brewer: User, values: dict[str, str], parts: list[str]
) -> None:
    assert added(brewer, **values).unknown_materials == parts
