"""What the lists of this room's tables show to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.regimes.materials.models import MaterialLabel, SignedLimits

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    MaterialLabel: {
        "list_display": "agent material max_strength signed_at withdrawn_at",
        "list_select_related": "agent",
    },
    SignedLimits: {
        "list_display": "version vessel signed_at",
        "list_select_related": "version__regime vessel",
    },
}
