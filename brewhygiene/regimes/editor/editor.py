"""The editor of a regime: its form and those of its steps, on one page, without script.

Buttons such as "move up" send the whole page; it comes back rearranged, with all that was
typed, and nothing is written until it is saved.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from django.http import QueryDict

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.forms import new_key
from brewhygiene.quantities.parsing import parse_row
from brewhygiene.regimes.about import About
from brewhygiene.regimes.actions import RegimeRefused, content_mark
from brewhygiene.regimes.drafts import StepDraft, drafts_of
from brewhygiene.regimes.editor.forms import RegimeForm, StepForm, step_initial
from brewhygiene.regimes.models import Agent, RegimeVersion, StepKind
from brewhygiene.regimes.rules.problems import MAX_STEPS, Problem, problems_of

SAVE = "save"
T = TypeVar("T")


def _prefix(position: int) -> str:
    return f"step{position}"


class RegimeEditor:
    """The forms of a regime and its steps.

    ``posted`` is what was sent; without it the editor starts from ``version``, or empty.
    """

    def __init__(
        self,
        *,
        agents: Sequence[Agent],
        brewery: Brewery,
        version: RegimeVersion | None = None,
        posted: QueryDict | None = None,
    ) -> None:
        self.agents, self.brewery = agents, brewery
        self.bound = posted is not None and posted.get("do", SAVE) == SAVE
        self.moved_to: int | None = None
        if posted is None:
            self.regime = RegimeForm(initial=self._regime_initial(version))
            steps = drafts_of(version) if version is not None else []
            self._start([step_initial(step, brewery=brewery) for step in steps])
        elif self.bound:
            self.regime = RegimeForm(posted)
            self.steps = [
                StepForm(posted, prefix=_prefix(position), agents=agents, brewery=brewery)
                for position in range(self._count(posted))
            ]
        else:
            self.regime = RegimeForm(initial=self._retyped(posted))
            self._start(self._rearranged(posted))

    def _regime_initial(self, version: RegimeVersion | None) -> dict[str, Any]:
        if version is None:
            return {"key": new_key()}
        about = About.of(version.regime)
        return {"key": new_key(), "seen": content_mark(version), **vars(about)}

    def _start(self, initials: Sequence[Mapping[str, Any]]) -> None:
        self.steps = [
            StepForm(
                initial=dict(initial),
                prefix=_prefix(position),
                agents=self.agents,
                brewery=self.brewery,
            )
            for position, initial in enumerate(initials)
        ]

    @staticmethod
    def _count(posted: QueryDict) -> int:
        """How many steps were sent; one more than allowed stands for any more."""
        count = 0
        while count <= MAX_STEPS and f"{_prefix(count)}-kind" in posted:
            count += 1
        return count

    @staticmethod
    def _retyped(posted: QueryDict) -> dict[str, Any]:
        typed: dict[str, Any] = {name: posted.get(name, "") for name in RegimeForm.base_fields}
        typed["vessel_kinds"] = posted.getlist("vessel_kinds")
        return typed

    def _rearranged(self, posted: QueryDict) -> list[dict[str, Any]]:
        """The steps as typed, after what the button pressed asks for."""
        steps: list[dict[str, Any]] = []
        for position in range(self._count(posted)):
            start = f"{_prefix(position)}-"
            steps.append(
                {
                    name.removeprefix(start): posted[name]
                    for name in posted
                    if name.startswith(start)
                }
            )
        act, _, at = str(posted["do"]).partition(":")
        asked = parse_row(at)
        position = len(steps) if asked is None else asked
        match act:
            case "up" if 0 < position < len(steps):
                steps.insert(position - 1, steps.pop(position))
                self.moved_to = position - 1
            case "down" if position < len(steps) - 1:
                steps.insert(position + 1, steps.pop(position))
                self.moved_to = position + 1
            case "remove" if position < len(steps):
                steps.pop(position)
                self.moved_to = min(position, len(steps) - 1) if steps else None
            case "add" if len(steps) < MAX_STEPS:
                kind = posted.get("new_kind", "")
                if kind not in StepKind.values:
                    kind = StepKind.RINSE
                place = min(position, len(steps))
                steps.insert(place, {"kind": kind})
                self.moved_to = place
        return steps

    def is_valid(self) -> bool:
        """Whether it was sent to be saved and could be read; marks all that may not be run."""
        if not self.bound:
            return False
        readable = all([self.regime.is_valid(), *(step.is_valid() for step in self.steps)])
        if not readable:
            about = self.regime.cleaned_data
            self.mark(
                problems_of(
                    self.drafts(),
                    under_co2=about.get("under_co2", False),
                    resanitises_only=about.get("resanitises_only", False),
                )
            )
        return readable

    def drafts(self) -> list[StepDraft]:
        return [step.draft() for step in self.steps]

    def mark(self, problems: Sequence[Problem]) -> None:
        """Put each problem beside its field, unless that has one already."""
        for problem in problems:
            if problem.step is None:
                self.regime.add_error(None, problem.message)
                continue
            step = self.steps[problem.step]
            field = problem.field if problem.field in step.fields else None
            if field is None or field not in step.errors:
                step.add_error(field, problem.message)

    def attempt(self, call: Callable[[], T]) -> T | None:
        """What ``call`` saved; ``None`` where nothing was sent to be saved or something is wrong.

        Every problem of a regime that may not be run is marked beside its field.
        """

        def marked() -> T | None:
            try:
                return call()
            except RegimeRefused as refusal:
                self.mark(refusal.problems)
                return None

        return self.regime.attempt(marked) if self.is_valid() else None

    @property
    def error_places(self) -> list[tuple[str, str]]:
        """Where on the page something is wrong: what to call it and its place's id."""
        places = [("Regime", "what")] if self.regime.errors else []
        return places + [
            (f"Step {position + 1}", _prefix(position))
            for position, step in enumerate(self.steps)
            if step.errors
        ]
