"""What the list of this room's table shows to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.delivery.models import Arrival, SetAside

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    Arrival: {
        "list_display": "subject_label name person name_stated typed_at arrived_at confirmed_at",
        "list_select_related": "person",
    },
    SetAside: {
        "list_display": "what set_aside_at set_aside_by reason",
        "list_select_related": "set_aside_by",
    },
}
