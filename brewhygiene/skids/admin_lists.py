"""What the lists of this room's tables show to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.skids.models import (
    GearRinse,
    Skid,
    Solution,
    SolutionCheck,
    SolutionTank,
    SolutionTopUp,
)

# Signed for on the product's pages, so that these only read.
RECORDS: dict[type[models.Model], dict[str, Any]] = {
    Skid: {"list_display": "name kind material active"},
    SolutionTank: {"list_display": "name skid volume_hl active", "list_select_related": "skid"},
    Solution: {
        "list_display": "tank agent strength basis made_at dumped_at",
        "list_select_related": "tank agent",
    },
    SolutionCheck: {
        "list_display": "solution strength basis carbonate_percent taken_at taken_by",
        "list_select_related": "solution__tank solution__agent taken_by",
    },
    SolutionTopUp: {
        "list_display": "solution amount_kg water_l added_at added_by",
        "list_select_related": "solution__tank solution__agent added_by",
    },
    GearRinse: {
        "list_display": "skid tank quantity value rinsed_at recorded_by",
        "list_select_related": "skid tank recorded_by",
    },
}
