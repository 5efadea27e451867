"""What the lists of this room's tables show to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.people.models import PinWait, Signature, Tablet

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    # Enrolled with the password, on the product's own page.
    Tablet: {
        "list_display": "name enrolled_at enrolled_by retired_at",
        "list_select_related": "enrolled_by",
    },
    PinWait: {
        "list_display": "person tablet failures last_at until",
        "list_select_related": "person",
    },
    Signature: {
        "list_display": "printed_name meaning signed_at",
        "list_select_related": "user",
    },
}
