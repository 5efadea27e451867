"""What the lists of this room's tables show to whoever looks after the server."""

from typing import Any

from django.db import models

from brewhygiene.plates.closing.models import PlateClosing

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    PlateClosing: {
        "list_display": "plate reclean inspected inspected_at recorded_by",
        "list_select_related": "plate__point__vessel reclean__turnaround__vessel "
        "reclean__version__regime recorded_by",
    },
}
