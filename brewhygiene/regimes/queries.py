"""Reads of regimes that more than one caller needs."""

from django.db.models import Count, Exists, OuterRef, Prefetch, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from brewhygiene.regimes.models import Agent, Regime, RegimeVersion, Step
from brewhygiene.regimes.questions import cleans_by, is_validated


def versions_with_steps() -> QuerySet[RegimeVersion]:
    """Versions with regime, steps, agents and windows loaded. 3 queries."""
    steps = Step.objects.select_related("agent").prefetch_related("windows")
    return RegimeVersion.objects.select_related("regime").prefetch_related(
        Prefetch("steps", queryset=steps)
    )


def current_versions() -> QuerySet[RegimeVersion]:
    """The version in force of every active regime, with its steps. 3 queries."""
    return (
        versions_with_steps().filter(current=True, regime__active=True).order_by("regime__sort_key")
    )


def _with_use(versions: QuerySet[RegimeVersion]) -> QuerySet[RegimeVersion]:
    """With ``cleans_count``, the number of cleans that ran by each."""
    used = cleans_by(OuterRef("pk")).order_by().values("version").annotate(n=Count("pk"))
    counted = Coalesce(Subquery(used.values("n")), Value(0))
    return versions.annotate(cleans_count=counted).select_related("created_by")


def regimes_for_list() -> QuerySet[Regime]:
    """Every regime with ``in_force``, a list of its one version in force with steps. 4 queries."""
    return Regime.objects.prefetch_related(
        Prefetch(
            "versions",
            queryset=_with_use(versions_with_steps().filter(current=True)),
            to_attr="in_force",
        )
    ).order_by("sort_key")


def versions_for_history(regime: Regime) -> QuerySet[RegimeVersion]:
    """Every version of a regime, newest first, with steps and ``cleans_count``. 3 queries."""
    return _with_use(versions_with_steps()).filter(regime=regime).order_by("-number")


def was_ever_used(regime: Regime) -> bool:
    """Whether any clean ran by any version of it, or one was ever validated. 2 queries at most."""
    ran = regime.versions.filter(Exists(cleans_by(OuterRef("pk")))).exists()
    return ran or is_validated(regime)


def agents_for_setup() -> QuerySet[Agent]:
    """Every agent with ``regimes_using``, the number of regimes in force with it. 1 query.

    Those in use come first.
    """
    using = (
        Step.objects.filter(
            agent=OuterRef("pk"), version__current=True, version__regime__active=True
        )
        .order_by()
        .values("agent")
        .annotate(regimes=Count("version__regime", distinct=True))
        .values("regimes")
    )
    return Agent.objects.annotate(regimes_using=Coalesce(Subquery(using), Value(0))).order_by(
        "-active", "kind", "sort_key"
    )


def agents_to_choose() -> QuerySet[Agent]:
    """Every agent, those out of use too: a step may still name one. 1 query."""
    return Agent.objects.order_by("kind", "sort_key")
