"""What ATP asks of the rooms above it."""

from typing import Any

from django.db.models import OuterRef, QuerySet

from brewhygiene.questions import Question

plates_that_grew: Question[[OuterRef], QuerySet[Any]] = Question(
    "Which plates of the turnaround of the query around it grew something?"
)
