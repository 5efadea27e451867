"""What the lists of this room's tables show to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.changeovers.models import AllergenTest, Validation

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    Validation: {
        "list_display": "version allergen validated_on report signature retired_at",
        "list_select_related": "version__regime signature",
    },
    AllergenTest: {
        "list_display": "clean allergen kind lot result taken_at recorded_by",
        "list_select_related": "clean__turnaround__vessel clean__version__regime recorded_by",
    },
}
