"""Reads of logger files that more than one caller needs."""

from django.db.models import QuerySet

from brewhygiene.turnarounds.models import Clean, Trace, TraceMapping


def traces_of(*cleans: Clean) -> QuerySet[Trace]:
    """The logger files of cleans in the order they came, without their evaluations. 1 query."""
    return Trace.objects.filter(clean__in=cleans).select_related("uploaded_by").defer("evaluation")


def remembered_mappings() -> QuerySet[TraceMapping]:
    """Loggers whose columns were told before. 1 query."""
    return TraceMapping.objects.order_by("name")
