"""The form of the end of a step."""

from typing import Any

from django import forms
from django.utils import timezone

from brewhygiene.people.requests import Request
from brewhygiene.quantities.codes.fields import LotField
from brewhygiene.regimes.models import EndCriterion, Step
from brewhygiene.turnarounds.forms import YesNoField
from brewhygiene.turnarounds.models import Outflow, StepRecord
from brewhygiene.turnarounds.models.observations import Observation
from brewhygiene.turnarounds.observations.asked import asked_observations
from brewhygiene.turnarounds.observations.forms import ObservedForm
from brewhygiene.turnarounds.queries import last_agent_lot
from brewhygiene.turnarounds.steps.ends import end_as_read
from brewhygiene.turnarounds.steps.screen import StepScreen


def outflow_field(**kwargs: Any) -> forms.ChoiceField:
    """Where water and solution of a step went."""
    return forms.ChoiceField(
        label="Water and solution went",
        choices=Outflow.choices,
        required=False,
        widget=forms.RadioSelect,
        **kwargs,
    )


class EndForm(ObservedForm):
    """What is asked at the end of a step: only what this step has.

    ``as_read`` is the reading that shows its end, in words: then nobody is asked for a yes.
    """

    asked: tuple[str, ...] = ("end_criterion_met", "agent_lot", "outflow", "note")

    record = forms.IntegerField(widget=forms.HiddenInput, required=False)
    end_criterion_met = YesNoField(label="", required=False)
    agent_lot = LotField(
        scan="agent",
        label="Agent lot",
        required=False,
        max_length=40,
        help_text="From the drum, or scan its barcode. The last lot is filled in.",
    )
    outflow = outflow_field()
    note = forms.CharField(
        label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(
        self,
        *args: Any,
        step: Step,
        record: StepRecord | None = None,
        drain: str = "",
        as_read: str = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.as_read, self.end_words = as_read, str(step.get_end_criterion_display())
        # Asked once where it would be the same question twice.
        self.drains = (
            step.end_criterion == EndCriterion.DRAINED
            and Observation.DRAINS_FREE in self.observations
        )
        from_tank = record is not None and record.solution_id is not None
        if from_tank and not drain:
            self.fields["outflow"].initial = Outflow.RETURNED
        elif not drain:
            del self.fields["outflow"]
        if record is None:
            del self.fields["record"]
        else:
            self.fields["record"].initial = record.pk
        if self.drains:
            self.fields[Observation.DRAINS_FREE].label = f"Drains free, {self.end_words}"
        if step.end_criterion == EndCriterion.NONE or as_read or self.drains:
            del self.fields["end_criterion_met"]
        else:
            self.fields["end_criterion_met"].label = f"End reached: {self.end_words}"
        if step.agent is None:
            del self.fields["agent_lot"]
        else:
            self.fields["agent_lot"].widget.attrs["data-scan-agent"] = step.agent_id

    @property
    def question(self) -> forms.BoundField | None:
        """The one thing asked, which a button can answer; ``None`` where there is none or more."""
        asked = [name for name in ("end_criterion_met", *self.observations) if name in self.fields]
        if self.is_bound or len(asked) != 1 or {"agent_lot", "outflow"} & set(self.fields):
            return None
        return self[asked[0]]

    def values(self) -> dict[str, Any]:
        """What ``end_step`` takes; what this step does not ask for is left out."""
        given = {name: self.cleaned_data[name] for name in self.asked if name in self.fields}
        if self.drains:
            given["end_criterion_met"] = self.cleaned_data[Observation.DRAINS_FREE]
        elif self.as_read:
            given["end_criterion_met"] = True
        return {**given, "observations": self.seen()}


def end_form_of(request: Request, screen: StepScreen, data: Any) -> EndForm:
    """What is asked at the end of the attempt that is on. 1 query where an agent's lot is, and 2
    at most where a reading shows its end."""
    step, record = screen.step, screen.item.record
    lot = last_agent_lot(step.agent) if step.agent is not None else ""
    return EndForm(
        data,
        request.FILES or None,
        record=record,
        step=step,
        drain=screen.drain,
        as_read=end_as_read(step, record, now=timezone.now()) if record is not None else "",
        observations=asked_observations(screen.clean, step),
        initial={"agent_lot": lot},
    )
