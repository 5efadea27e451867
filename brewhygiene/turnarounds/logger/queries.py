"""Reads of logger files that more than one caller needs."""

from django.db.models import QuerySet

from brewhygiene.turnarounds.models import Clean, LoggerFile, LoggerMapping


def logger_files_of(*cleans: Clean) -> QuerySet[LoggerFile]:
    """The logger files of cleans in the order they came, without their evaluations. 1 query."""
    return (
        LoggerFile.objects.filter(clean__in=cleans)
        .select_related("uploaded_by")
        .defer("evaluation")
    )


def remembered_mappings() -> QuerySet[LoggerMapping]:
    """Loggers whose columns were told before. 1 query."""
    return LoggerMapping.objects.order_by("sort_key")
