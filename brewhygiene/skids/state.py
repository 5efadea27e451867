"""How a solution stands: its uses, how strong it last was, and whether it is to be dumped. Pure."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, timedelta

from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import counted
from brewhygiene.regimes.measures import UNIT_OF
from brewhygiene.skids.models import Solution, SolutionCheck, SolutionTank, SolutionTopUp
from brewhygiene.skids.questions import Use


@dataclasses.dataclass(frozen=True)
class Strength:
    """How strong a solution was, and how somebody knows."""

    value: float
    basis: str
    how: str
    at: datetime

    @property
    def shown(self) -> str:
        return f"{show_number(self.value)} {UNIT_OF[self.basis]}"


def age_words(span: timedelta) -> str:
    """How long ago something was, in one unit.

    >>> age_words(timedelta(minutes=20)), age_words(timedelta(hours=1)), age_words(timedelta(2.5))
    ('20 min ago', '1 h ago', '2 days ago')
    >>> age_words(timedelta(seconds=59))
    'just now'
    """
    minutes = int(span.total_seconds() // 60)
    if minutes < 1:
        return "just now"
    if minutes < 60:
        return f"{minutes} min ago"
    if minutes < 24 * 60:
        return f"{minutes // 60} h ago"
    return f"{counted(minutes // (24 * 60), 'day')} ago"


@dataclasses.dataclass(frozen=True)
class SolutionState:
    """A solution at one moment, with everything that happened to it, the oldest first."""

    solution: Solution
    checks: Sequence[SolutionCheck]
    top_ups: Sequence[SolutionTopUp]
    used: Sequence[Use]
    now: datetime

    @property
    def tank(self) -> SolutionTank:
        return self.solution.tank

    @property
    def uses(self) -> int:
        """Steps that drew from it; one that prolongs another is no use of its own."""
        return sum(use.drew and use.counts for use in self.used)

    @property
    def days(self) -> int:
        """Whole days since it was made up."""
        return (self.now - self.solution.made_at).days

    @property
    def strength(self) -> Strength:
        """The latest: of a titration or a reading, in its tank or in a step, else as made up."""
        made = self.solution
        how = "made up" if made.source == ValueSource.CALCULATED else "read when made up"
        found = [Strength(made.strength, made.basis, how, made.made_at)]
        found += [
            Strength(check.strength, check.basis, "titrated" if check.titrated else "read",
                     check.taken_at)
            for check in self.checks
            if check.strength is not None
        ]  # fmt: skip
        found += [
            Strength(read.value, read.basis, "titrated" if read.titrated else "read", read.at)
            for use in self.used
            if use.drew
            for read in use.strengths
        ]
        # Of two at the same moment the one that was read.
        return sorted(found, key=lambda one: one.at)[-1]

    @property
    def topped_up_since(self) -> bool:
        """Whether something was added after its strength was last read."""
        return any(one.added_at >= self.strength.at for one in self.top_ups)

    @property
    def carbonate(self) -> SolutionCheck | None:
        """The latest titration to two end points."""
        titrated = [one for one in self.checks if one.carbonate_percent is not None]
        return titrated[-1] if titrated else None

    @property
    def temperature(self) -> SolutionCheck | None:
        read = [one for one in self.checks if one.temperature_c is not None]
        return read[-1] if read else None

    @property
    def soiled(self) -> bool:
        """Whether soil was seen in it. It does not become clear again."""
        return any(one.soiled for one in self.checks)

    @property
    def must_dump(self) -> str:
        """Why nothing may be drawn from it any more, whatever its rule says; '' if it may."""
        carried = next((use for use in self.used if use.carries), None)
        if carried is None:
            return ""
        return f"It took back what was in {carried.vessel}. {carried.carries}"

    @property
    def past_rule(self) -> list[str]:
        """In what it is past the dump rule of its tank; empty where it is not."""
        tank, found = self.tank, []
        if tank.most_uses is not None and self.uses >= tank.most_uses:
            found.append(f"{counted(self.uses, 'use')}, and the rule allows {tank.most_uses}")
        age = self.now - self.solution.made_at
        if tank.most_days is not None and age > timedelta(days=tank.most_days):
            allowed = counted(tank.most_days, "day")
            found.append(f"made up {age_words(age)}, and the rule allows {allowed}")
        read = self.carbonate
        most = tank.most_carbonate_percent
        if most is not None and read is not None and (read.carbonate_percent or 0) > most:
            share = show_number(read.carbonate_percent or 0, significant=2)
            found.append(
                f"carbonate is {share} % of the alkalinity, and the rule allows "
                f"{digits(most, 'g')} %"
            )
        if tank.dump_soiled and self.soiled:
            found.append("soil was seen in it")
        return found

    @property
    def words(self) -> str:
        """As 'Caustic tank 1: 1.9 % w/v, titrated 2 days ago, 6 uses'."""
        return f"{self.tank.name}: {self.strength_words}"

    @property
    def strength_words(self) -> str:
        """The same without the tank's name."""
        last = self.strength
        again = ", topped up since" if self.topped_up_since else ""
        ago = age_words(self.now - last.at)
        return f"{last.shown}, {last.how} {ago}{again}, {counted(self.uses, 'use')}"

    @property
    def share_words(self) -> str:
        """As 'carbonate 31 % of the alkalinity, titrated 2 days ago', or ''."""
        read = self.carbonate
        if read is None or read.carbonate_percent is None:
            return ""
        share = show_number(read.carbonate_percent, significant=2)
        ago = age_words(self.now - read.taken_at)
        return f"carbonate {share} % of the alkalinity, titrated {ago}"

    @property
    def added_kg(self) -> float | None:
        """Agent as supplied, of the make-up and every top-up; ``None`` where it is not known."""
        if self.solution.amount_kg is None:
            return None
        return (
            self.solution.amount_kg
            + sum(one.amount_kg or 0.0 for one in self.top_ups)
            + sum(use.added_kg for use in self.used)
        )


def rule_words(tank: SolutionTank) -> str:
    """The dump rule of a tank in one line.

    >>> rule_words(SolutionTank(most_uses=20, most_days=7, dump_soiled=True))
    'After 20 uses, after 7 days, or once soil is seen'
    """
    parts = []
    if tank.most_uses is not None:
        parts.append(f"after {counted(tank.most_uses, 'use')}")
    if tank.most_days is not None:
        parts.append(f"after {counted(tank.most_days, 'day')}")
    if tank.most_carbonate_percent is not None:
        parts.append(f"above {digits(tank.most_carbonate_percent, 'g')} % carbonate")
    if tank.dump_soiled:
        parts.append("once soil is seen")
    if not parts:
        return "No rule"
    *rest, last = parts
    words = f"{', '.join(rest)}, or {last}" if rest else last
    return words[0].upper() + words[1:]
