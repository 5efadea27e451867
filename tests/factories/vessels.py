"""Vessels, their points, and beers."""

from typing import Any

from brewhygiene.cellar.models import Beer, SamplingPoint, Vessel
from tests.factories.values import next_number


def make_beer(**values: Any) -> Beer:
    return Beer.objects.create(**{"name": f"Beer {next_number()}", **values})


def make_vessel(*, points: int = 1, **values: Any) -> Vessel:
    number = next_number()
    vessel = Vessel.objects.create(
        **{
            "name": f"FV{number}",
            "kind": "fermenter",
            "volume_hl": 30,
            "diameter_m": 1.4,
            "pressure_rating_bar": 2,
            "vacuum_rating_mbar": 50,
            **values,
        }
    )
    for order in range(points):
        make_point(vessel, name=f"Point {order + 1}", order=order)
    return vessel


def make_point(vessel: Vessel, **values: Any) -> SamplingPoint:
    return SamplingPoint.objects.create(
        vessel=vessel,
        **{
            "name": f"Point {next_number()}",
            "sample_kind": "rinse",
            "code": f"T{next_number():07d}",
            **values,
        },
    )
