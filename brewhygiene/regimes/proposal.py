"""Which regime a vessel needs: the strongest of what everything asks for, with the reasons."""

import dataclasses
from collections.abc import Iterable, Sequence

from brewhygiene.cellar.models import Beer, CleanLevel, Vessel
from brewhygiene.regimes.materials.fit import harms_to
from brewhygiene.regimes.materials.labels import Labels
from brewhygiene.regimes.models import RegimeVersion, StepKind

# A level that is missing outweighs every kind of step.
LEVEL_WEIGHS = len(StepKind) + 1


@dataclasses.dataclass(frozen=True)
class Ask:
    """What one circumstance asks of the clean."""

    origin: str  # "vessel", "last contents", "next contents", "acid", "caustic"
    reason: str
    level: int = CleanLevel.LIGHT
    needs: frozenset[str] = frozenset()


@dataclasses.dataclass(frozen=True)
class Proposal:
    """The regime proposed, what asked for it, and what no regime of the site gives."""

    version: RegimeVersion | None
    asks: Sequence[Ask]
    level: int
    needs: frozenset[str]
    reminders: Sequence[str]
    unmet: Sequence[str]

    @property
    def reasons(self) -> list[str]:
        return [ask.reason for ask in self.asks]

    def is_met_by(self, version: RegimeVersion) -> bool:
        """Whether another version is as strong; reads prefetched steps."""
        return version.regime.level >= self.level and self.needs <= step_kinds(version)

    def lacks_of(self, version: RegimeVersion) -> list[str]:
        """What another version lacks of what is asked for; reads prefetched steps."""
        return lacks(version, level=self.level, needs=self.needs)


def step_kinds(version: RegimeVersion) -> frozenset[str]:
    """The kinds of step that a version has; reads prefetched steps."""
    return frozenset(step.kind for step in version.steps.all())


def lacks(version: RegimeVersion, *, level: int, needs: frozenset[str]) -> list[str]:
    """What a version lacks of a level and of kinds of step; reads prefetched steps."""
    missing = [f"no {StepKind(kind).label} step" for kind in sorted(needs - step_kinds(version))]
    if version.regime.level < level:
        missing.insert(0, f"only {CleanLevel(version.regime.level).label}")
    return missing


def fits(version: RegimeVersion, vessel: Vessel) -> bool:
    """Whether a version is a clean for a vessel's kind."""
    return vessel.kind in version.regime.vessel_kinds and not version.regime.resanitises_only


def harm_of(version: RegimeVersion, vessel: Vessel, labels: Labels) -> str:
    """Why a version must not clean a vessel, or ''; reads prefetched steps and windows.

    1 query for all that have the same ``labels``, and that only where something is unfit.
    """
    harms = harms_to(vessel, list(version.steps.all()), labels)
    return next((harm.words for harm in harms), "")


def asks_of(
    *,
    vessel: Vessel,
    last_beer: Beer | None,
    next_beer: Beer | None,
    cleans_since_acid: int,
    cleans_since_caustic: int,
    acid_by_date: str = "",
) -> list[Ask]:
    """What the vessel, its last and next contents and overdue steps each ask for.

    ``cleans_since_acid`` and ``cleans_since_caustic`` count finished cleans since the last one
    with such a step; ``acid_by_date`` says why one is due by date. What a beer asks for after it
    is common practice; that the strongest counts is our rule.
    """
    level = CleanLevel(vessel.least_level)
    asks = [Ask("vessel", f"{vessel.name} needs at least: {level.label}", level)]
    if last_beer is None:
        asks.append(
            Ask(
                "last contents",
                "The last beer is not on record, so the strong clean is proposed",
                CleanLevel.STRONG,
            )
        )
    elif last_beer.sour_or_mixed or last_beer.diastatic:
        what = "sour or mixed culture" if last_beer.sour_or_mixed else "diastatic yeast"
        asks.append(Ask("last contents", f"Last beer {last_beer.name}: {what}", CleanLevel.STRONG))
    elif last_beer.allergen_words or last_beer.fruit_or_heavy_hops:
        what = last_beer.allergen_words or "fruit or heavy dry hop"
        asks.append(
            Ask("last contents", f"Last beer {last_beer.name}: {what}", CleanLevel.ORDINARY)
        )
    if next_beer is not None and next_beer.strict_before:
        asks.append(
            Ask(
                "next contents",
                f"Next beer {next_beer.name} needs a strong clean",
                CleanLevel.STRONG,
            )
        )
    if cleans_since_acid + 1 >= vessel.acid_every_n:
        asks.append(
            Ask(
                "acid",
                f"{cleans_since_acid} cleans since the last acid step, due every "
                f"{vessel.acid_every_n}",
                needs=frozenset({StepKind.ACID}),
            )
        )
    if acid_by_date:
        asks.append(Ask("acid", acid_by_date, needs=frozenset({StepKind.ACID})))
    if cleans_since_caustic + 1 >= vessel.caustic_every_n:
        asks.append(
            Ask(
                "caustic",
                f"{cleans_since_caustic} cleans since the last caustic step, due every "
                f"{vessel.caustic_every_n}, with the CO2 purged",
                needs=frozenset({StepKind.CAUSTIC}),
            )
        )
    return asks


def reminders_of(*, last_beer: Beer | None, next_beer: Beer | None) -> list[str]:
    """What no regime does by itself."""
    reminders = []
    if last_beer is not None and last_beer.fruit_or_heavy_hops:
        reminders.append("Check the spray device: fruit and hops block it.")
    if last_beer is not None and (named := last_beer.allergen_words):
        reminders.append(
            f"{named[0].upper()}{named[1:]}: use an allergen test. ATP does not detect allergens."
        )
    if last_beer is not None and (last_beer.sour_or_mixed or last_beer.diastatic):
        reminders.append("Keep seals and plastics of this vessel apart, or renew them.")
    if next_beer is not None and next_beer.strict_before:
        reminders.append(f"{next_beer.name} is next. Tell the head brewer about any doubt.")
    return reminders


def propose(
    *,
    vessel: Vessel,
    asks: Sequence[Ask],
    candidates: Iterable[RegimeVersion],
    reminders: Sequence[str] = (),
) -> Proposal:
    """The least regime that gives everything asked for, preferring the vessel's own.

    ``candidates``: current versions with regime and steps loaded. Where none gives everything,
    the strongest one is proposed and ``unmet`` says what it lacks. One that harms the vessel's
    materials is never proposed.
    """
    level = max((ask.level for ask in asks), default=CleanLevel.LIGHT)
    needs = frozenset().union(*(ask.needs for ask in asks))
    labels = Labels()
    fitting = [
        version
        for version in candidates
        if fits(version, vessel) and not harm_of(version, vessel, labels)
    ]

    def preference(version: RegimeVersion) -> tuple[int, bool, int, str]:
        shortfall = max(0, level - version.regime.level) * LEVEL_WEIGHS + len(
            needs - step_kinds(version)
        )
        return (
            shortfall,
            version.regime_id != vessel.default_regime_id,
            version.regime.level,
            version.regime.name,
        )

    best = min(fitting, key=preference, default=None)
    return Proposal(
        version=best,
        asks=asks,
        level=level,
        needs=needs,
        reminders=reminders,
        unmet=lacks(best, level=level, needs=needs) if best is not None else [],
    )
