"""Reads of labels and of signed limits."""

from collections.abc import Iterable
from datetime import datetime
from functools import cached_property

from django.db.models import QuerySet

from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.materials.models import MaterialLabel, SignedLimits
from brewhygiene.regimes.models import Agent, RegimeVersion


def labels_on_record() -> QuerySet[MaterialLabel]:
    """Every label with its agent and signature, the latest first. 1 query."""
    return MaterialLabel.objects.select_related("agent", "signature", "withdrawn_by")


class Labels:
    """Labels in force, now or at a moment, ``among`` those that are loaded where they are.

    Else 1 query, and that only once one is asked for.
    """

    def __init__(
        self, at: datetime | None = None, *, among: Iterable[MaterialLabel] | None = None
    ) -> None:
        self.at = at
        self.among = among

    @cached_property
    def _in_force(self) -> dict[tuple[int, str], list[MaterialLabel]]:
        found: dict[tuple[int, str], list[MaterialLabel]] = {}
        for label in labels_on_record() if self.among is None else self.among:
            if label.in_force(self.at):
                found.setdefault((label.agent_id, label.material), []).append(label)
        return found

    def that_allows(
        self, agent: Agent, material: str, strength: float | None
    ) -> MaterialLabel | None:
        """The latest label that covers an agent of a strength on a material."""
        if agent.pk is None:
            return None  # not kept yet, so that no label can be of it
        labels = self._in_force.get((agent.pk, material), [])
        return next((label for label in labels if label.allows(strength)), None)


def signed_limits(version: RegimeVersion, vessel: Vessel) -> dict[str, SignedLimits]:
    """By the words of each limit: where it was signed for a version and a vessel. 1 query."""
    signed = SignedLimits.objects.filter(version=version, vessel=vessel).select_related("signature")
    return {limit: one for one in signed for limit in one.limit_words}
