"""The form by which a step starts: which solution it uses, where its skid has one in a tank."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm
from brewhygiene.skids.state import SolutionState
from brewhygiene.turnarounds.forms import ReasonField
from brewhygiene.turnarounds.steps.screen import StepScreen
from brewhygiene.turnarounds.steps.solutions.drawing import (
    FRESH,
    Draws,
    offered_solutions,
    usual_solution,
)


class DrawsForm(ActionForm):
    """Asks for the solution that a step uses; for nothing where no tank contains its agent."""

    solution = forms.ChoiceField(
        required=False,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose a solution that is in its tank now."},
    )
    solution_reason = ReasonField(
        label="Why it is used past its dump rule",
        required=False,
        help_text="Only if a solution past its rule is used.",
    )

    states: Sequence[SolutionState] = ()

    def offer_solutions(self, states: Sequence[SolutionState], usual: str) -> None:
        """Offer what the tanks contain, with what is usual chosen."""
        self.states = states
        if not states:
            del self.fields["solution"], self.fields["solution_reason"]
            return
        field = self.fields["solution"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            *((str(state.solution.pk), state.words) for state in states),
            (FRESH, "Made up fresh"),
        ]
        self.initial.setdefault("solution", usual)
        if not any(state.past_rule and state.tank.may_explain for state in states):
            del self.fields["solution_reason"]

    def draws(self) -> Draws:
        """What was chosen, as the actions take it."""
        chosen = self.cleaned_data.get("solution", "")
        found = [state.solution for state in self.states if str(state.solution.pk) == chosen]
        return Draws(
            solution=found[0] if found else None,
            made_fresh=chosen == FRESH,
            reason=self.cleaned_data.get("solution_reason", ""),
        )


def offer_on(form: DrawsForm, screen: StepScreen, *, now: datetime) -> None:
    """Offer the solutions of a step's skid while it may start. At most 7 queries.

    None where it has no skid or no agent, or prolongs what it drew before.
    """
    states: list[SolutionState] = []
    if screen.is_current and screen.state in ("next", "again") and not screen.item.extend:
        states = offered_solutions(screen.clean, screen.step, now=now)
    form.offer_solutions(states, usual_solution(states, screen.item, screen.clean))


def start_form(screen: StepScreen, *args: Any, now: datetime) -> DrawsForm:
    """The form of the button that starts a step."""
    form = DrawsForm(*args, auto_id="start_%s")
    offer_on(form, screen, now=now)
    return form
