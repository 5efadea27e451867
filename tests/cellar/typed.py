"""What is typed into the set-up forms of the cellar."""

from tests.factories import PASSWORD

VESSEL = {
    "name": "FV 1",
    "kind": "fermenter",
    "volume_hl": "20",
    "diameter_m": "1,2",
    "spray_device": "static_ball",
    "material": "stainless_304",
    "seal_material": "epdm",
    "spray_device_material": "stainless_316",
    "pressure_rating_bar": "2",
    "vacuum_rating_mbar": "",
    "vacuum_valve": "on",
    "least_level": "2",
    "culture_use": "either",
    "default_regime": "",
    "acid_every_n": "5",
    "caustic_every_n": "10",
    "order": "3",
    "note": "By the door",
}
SIGNED = {"password": PASSWORD}
POINT = {
    "name": "Racking arm",
    "sample_kind": "surface",
    "moment": "before_sanitiser",
    "area_cm2": "25",
    "required_for_release": "on",
    "where_to_find": "Inside the arm",
    "password": PASSWORD,
}
