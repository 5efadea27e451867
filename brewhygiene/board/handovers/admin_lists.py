"""What the lists of this room's tables show to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.board.handovers.models import Handover, HandoverRead

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    Handover: {
        "list_display": "handed_over_at handed_over_by note",
        "list_select_related": "handed_over_by",
    },
    HandoverRead: {
        "list_display": "handover read_at read_by",
        "list_select_related": "handover__handed_over_by read_by",
    },
}
