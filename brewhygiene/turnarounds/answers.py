"""What turnarounds answer to the rooms below them."""

from django.db.models import OuterRef, QuerySet

from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.regimes.questions import cleans_by
from brewhygiene.turnarounds.models import Clean


@cleans_by.answered_by
def cleans_by_version(version: RegimeVersion | OuterRef) -> QuerySet[Clean]:
    """Running and stopped cleans too."""
    return Clean.objects.filter(version=version)
