"""What the lists of this room's later tables show to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.models.flow import FlowLoss
from brewhygiene.turnarounds.models.observations import StepPhoto

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    EntryPermit: {
        "list_display": "turnaround entrants attendant opened_at closed_at",
        "list_select_related": "turnaround__vessel",
    },
    FlowLoss: {
        "list_display": "record lost_at back_at",
        "list_select_related": "record__step record__clean__turnaround__vessel",
    },
    StepPhoto: {
        "list_display": "record observation taken_at taken_by",
        "list_select_related": "record__step record__clean__turnaround__vessel",
    },
}
