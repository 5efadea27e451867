"""The forms of a regime: what it is, one step of it, and the name of a copy."""

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import CleanLevel, VesselKind
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.quantities.fields import NumberField
from brewhygiene.regimes.about import About
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.measures import from_site, site_label, to_site
from brewhygiene.regimes.models import (
    VENT_QUANTITIES,
    Agent,
    AgentKind,
    Basis,
    EndCriterion,
    Quantity,
    StepKind,
)
from brewhygiene.regimes.rules.problems import INSTRUCTION_LENGTH, SOURCE_LENGTH, window_field

# What a window may bound.
WINDOWED = [value for value in Quantity.values if value not in VENT_QUANTITIES]
PARTS = ("minimum", "target", "maximum")
# What a brewer sets for a step of a kind nearly always: shown open from the start.
USUAL_WINDOWS: dict[str, tuple[str, ...]] = {
    StepKind.CAUSTIC: (Quantity.CONCENTRATION, Quantity.TEMPERATURE_C, Quantity.TIME_MIN),
    StepKind.ACID: (Quantity.CONCENTRATION, Quantity.TEMPERATURE_C, Quantity.TIME_MIN),
    StepKind.SANITISER: (Quantity.CONCENTRATION, Quantity.TIME_MIN),
    StepKind.HOT_WATER: (Quantity.TEMPERATURE_C, Quantity.TIME_MIN),
    StepKind.SAMPLE: (Quantity.TEMPERATURE_C,),
}


class RegimeForm(ConfirmedForm):
    """What a regime is, apart from its steps."""

    name = forms.CharField(max_length=80)
    vessel_kinds = forms.MultipleChoiceField(
        choices=VesselKind.choices,
        widget=forms.CheckboxSelectMultiple,
        label="Kinds of vessel",
        error_messages={"required": "Choose at least one kind of vessel."},
    )
    level = forms.TypedChoiceField(
        choices=CleanLevel.choices,
        coerce=int,
        initial=CleanLevel.ORDINARY,
        label="Strength of the clean",
        help_text="The regime is proposed where this is strong enough.",
    )
    under_co2 = forms.BooleanField(
        required=False,
        label="Runs with CO2 left in the vessel",
        help_text="Such a regime has no caustic and nothing hot.",
    )
    resanitises_only = forms.BooleanField(
        required=False,
        label="Only re-sanitises",
        help_text="For a lapsed release. Never proposed as a clean.",
    )
    change_note = forms.CharField(
        max_length=200,
        required=False,
        label="What changed and why",
        help_text="Shown in the version history.",
    )
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def about(self) -> About:
        """What was typed; the form is valid."""
        return About(**{name: self.cleaned_data[name] for name in About.__dataclass_fields__})


class TakeShippedForm(ConfirmedForm):
    """Take the shipped wording that was compared."""

    seen = forms.CharField(widget=forms.HiddenInput)


class CopyForm(ConfirmedForm):
    name = forms.CharField(max_length=80, label="Name of the copy")
    field_order = ("name", "password")


@dataclasses.dataclass(frozen=True)
class WindowRow:
    """The fields of one window, for a template."""

    quantity: str
    label: str
    unit: str
    basis: forms.BoundField | None
    bounds: list[tuple[str, forms.BoundField]]
    source: forms.BoundField
    common: forms.BoundField

    @property
    def fields(self) -> list[forms.BoundField]:
        inner = [self.basis] if self.basis is not None else []
        return [*inner, *(field for _, field in self.bounds), self.source, self.common]

    @property
    def errors(self) -> list[str]:
        return [str(error) for field in self.fields for error in field.errors]

    @property
    def filled(self) -> bool:
        return any(field.value() not in (None, "", False) for field in self.fields)


@dataclasses.dataclass(frozen=True)
class EndRow:
    """The fields of a step's end, for a template."""

    until: forms.BoundField
    source: forms.BoundField
    common: forms.BoundField

    @property
    def fields(self) -> list[forms.BoundField]:
        return [self.until, self.source, self.common]

    @property
    def errors(self) -> list[str]:
        return [str(error) for field in self.fields for error in field.errors]


def _agent_choices(agents: Sequence[Agent]) -> list[Any]:
    grouped: list[Any] = [("", "none")]
    for kind, label in AgentKind.choices:
        inner = [
            (str(agent.pk), agent.name if agent.active else f"{agent.name} (retired)")
            for agent in agents
            if agent.kind == kind
        ]
        if inner:
            grouped.append((label, inner))
    return grouped


class StepForm(forms.Form):
    """One step with a row for each quantity; temperature and flow in the site's units."""

    kind = forms.ChoiceField(choices=StepKind.choices, label="Kind of step")
    agent = forms.ChoiceField(required=False)
    instruction = forms.CharField(
        required=False,
        max_length=INSTRUCTION_LENGTH,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    end_criterion = forms.ChoiceField(
        choices=EndCriterion.choices, required=False, label="Ends when"
    )
    end_criterion_source = forms.CharField(
        required=False, max_length=SOURCE_LENGTH, label="Source of the end"
    )
    end_criterion_common = forms.BooleanField(required=False, label=COMMON_PRACTICE)

    def __init__(
        self, *args: Any, agents: Sequence[Agent], brewery: Brewery, **kwargs: Any
    ) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.agents = {str(agent.pk): agent for agent in agents}
        self.brewery = brewery
        self.fields["agent"].choices = _agent_choices(agents)  # type: ignore[attr-defined]
        for quantity in WINDOWED:
            if quantity == Quantity.CONCENTRATION:
                self.fields[window_field(quantity, "basis")] = forms.ChoiceField(
                    choices=[("", "Choose"), *Basis.choices], required=False, label="Basis"
                )
            for part, label in zip(PARTS, ("Minimum", "Target", "Maximum"), strict=True):
                self.fields[window_field(quantity, part)] = NumberField(required=False, label=label)
            self.fields[window_field(quantity, "source")] = forms.CharField(
                required=False, max_length=SOURCE_LENGTH, label="Source"
            )
            self.fields[window_field(quantity, "common")] = forms.BooleanField(
                required=False, label=COMMON_PRACTICE
            )

    @property
    def title(self) -> str:
        """Its kind and its agent, as chosen: 'Caustic: Caustic liquor 50 %'."""
        kind = str(dict(StepKind.choices).get(str(self["kind"].value()), "Step")).capitalize()
        agent = self.agents.get(str(self["agent"].value()))
        return f"{kind}: {agent.name}" if agent else kind

    def clean_agent(self) -> Agent | None:
        return self.agents.get(self.cleaned_data["agent"])

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        for stem in ("end_criterion", *WINDOWED):
            if given.get(f"{stem}_common") and (given.get(f"{stem}_source") or "").strip():
                self.add_error(
                    f"{stem}_source", "Enter a source or tick common practice, not both."
                )
        return given

    def _source(self, stem: str) -> str:
        if self.cleaned_data.get(f"{stem}_common"):
            return COMMON_PRACTICE
        source: str = self.cleaned_data.get(f"{stem}_source", "")
        return source

    def draft(self) -> StepDraft:
        """What was typed, in stored units; fields that could not be read count as empty."""
        given = self.cleaned_data
        return StepDraft(
            kind=given.get("kind", ""),
            agent=given.get("agent"),
            instruction=given.get("instruction", "").strip(),
            end_criterion=given.get("end_criterion", ""),
            end_criterion_source=self._source("end_criterion")
            if given.get("end_criterion")
            else "",
            windows=tuple(self._windows()),
        )

    def _windows(self) -> Iterator[WindowDraft]:
        for quantity in WINDOWED:
            minimum, target, maximum = (
                from_site(
                    self.cleaned_data.get(window_field(quantity, part)),
                    quantity=quantity,
                    brewery=self.brewery,
                )
                for part in PARTS
            )
            source = self._source(quantity)
            if source or any(bound is not None for bound in (minimum, target, maximum)):
                yield WindowDraft(
                    quantity=quantity,
                    minimum=minimum,
                    target=target,
                    maximum=maximum,
                    basis=self.cleaned_data.get(window_field(quantity, "basis"), ""),
                    source=source.strip(),
                )

    def end_row(self) -> EndRow:
        return EndRow(
            until=self["end_criterion"],
            source=self["end_criterion_source"],
            common=self["end_criterion_common"],
        )

    def rows(self) -> list[WindowRow]:
        return [
            WindowRow(
                quantity=quantity,
                label=Quantity(quantity).label,
                unit=site_label(quantity=quantity, brewery=self.brewery),
                basis=self[window_field(quantity, "basis")]
                if quantity == Quantity.CONCENTRATION
                else None,
                bounds=[
                    (label, self[window_field(quantity, part)])
                    for part, label in zip(PARTS, ("minimum", "target", "maximum"), strict=True)
                ],
                source=self[window_field(quantity, "source")],
                common=self[window_field(quantity, "common")],
            )
            for quantity in WINDOWED
        ]

    def _is_open(self, row: WindowRow) -> bool:
        usual = USUAL_WINDOWS.get(str(self["kind"].value()), ())
        return row.quantity in usual or row.filled or bool(row.errors)

    def open_rows(self) -> list[WindowRow]:
        """Those in use, usual for the kind, or wrong."""
        return [row for row in self.rows() if self._is_open(row)]

    def other_rows(self) -> list[WindowRow]:
        return [row for row in self.rows() if not self._is_open(row)]


def step_initial(step: StepDraft, *, brewery: Brewery) -> Mapping[str, Any]:
    """A step as its form shows it at first."""
    initial: dict[str, Any] = {
        "kind": step.kind,
        "agent": str(step.agent.pk) if step.agent else "",
        "instruction": step.instruction,
        "end_criterion": step.end_criterion,
        **_source_initial("end_criterion", step.end_criterion_source),
    }
    for window in step.windows:
        for part, value in zip(PARTS, window.bounds, strict=True):
            initial[window_field(window.quantity, part)] = to_site(
                value, quantity=window.quantity, brewery=brewery
            )
        initial[window_field(window.quantity, "basis")] = window.basis
        initial.update(_source_initial(window.quantity, window.source))
    return initial


def _source_initial(stem: str, source: str) -> dict[str, Any]:
    common = source == COMMON_PRACTICE
    return {f"{stem}_source": "" if common else source, f"{stem}_common": common}
