"""Invented things for tests, made through the product's own actions where one exists."""

from tests.factories.cellar import Cellar, because, because_typed, seen_well
from tests.factories.meters import (
    make_atp_test,
    make_limits,
    make_meter,
    make_recovery_study,
    make_test_lot,
)
from tests.factories.people import (
    acting,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
    make_user,
)
from tests.factories.plates import made_good, make_plate_again, make_reclean
from tests.factories.regimes import (
    add_step,
    make_agent,
    make_peracetic,
    make_resanitise_version,
    make_version,
)
from tests.factories.values import COMMON, NOW, PASSWORD, count_from_one
from tests.factories.vessels import make_beer, make_point, make_vessel

__all__ = [
    "COMMON",
    "NOW",
    "PASSWORD",
    "Cellar",
    "acting",
    "add_step",
    "because",
    "because_typed",
    "count_from_one",
    "made_good",
    "make_agent",
    "make_atp_test",
    "make_beer",
    "make_brewery",
    "make_cellar_hand",
    "make_head_brewer",
    "make_limits",
    "make_meter",
    "make_owner",
    "make_peracetic",
    "make_plate_again",
    "make_point",
    "make_reclean",
    "make_recovery_study",
    "make_resanitise_version",
    "make_test_lot",
    "make_user",
    "make_version",
    "make_vessel",
    "seen_well",
]
