"""Forms of one step: safety checks, readings, its end, deviations."""

import json
from collections.abc import Sequence
from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.codes.fields import LotField
from brewhygiene.quantities.fields import NumberField
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.cautions import Caution
from brewhygiene.regimes.measures import from_site, site_label, to_site, window_in_words
from brewhygiene.regimes.models import (
    Basis,
    ConductivityCalibration,
    Quantity,
    StepWindow,
)
from brewhygiene.science.tank.indicators import Indicator
from brewhygiene.turnarounds.deviations.actions import PUTS_RIGHT, needs_server
from brewhygiene.turnarounds.forms import ReasonField
from brewhygiene.turnarounds.models import (
    ReadingStage,
    StepReading,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import (
    DECISIONS,
    Deviation,
    DeviationKind,
    Disposition,
)
from brewhygiene.turnarounds.progress import MEASURED_ENDS
from brewhygiene.turnarounds.quantities import (
    CONDUCTIVITY,
    INDICATOR,
    TITRATION,
    Colour,
    MeterReading,
    Titration,
    quantity_title,
)


class SafetyForm(ActionForm):
    """Every caution of a step, each with a tick of its own."""

    codes = forms.MultipleChoiceField(
        label="Safety checks", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, cautions: Sequence[Caution], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["codes"].choices = [  # type: ignore[attr-defined]
            (caution.code, caution.title) for caution in cautions
        ]
        self.cautions = cautions

    def ticks(self) -> list[tuple[Caution, bool]]:
        """Each caution, and whether it was ticked."""
        ticked = self["codes"].value() or []
        return [(caution, caution.code in ticked) for caution in self.cautions]


STRAIGHT = "straight"
WAYS = (STRAIGHT, TITRATION, CONDUCTIVITY)
WAYS_OF_PH = (STRAIGHT, INDICATOR)


# What each way of reading a strength asks for.
FIELDS_OF: dict[str, tuple[str, ...]] = {
    STRAIGHT: ("value", "basis"),
    TITRATION: ("titrant_ml", "titrant_normality", "sample_ml"),
    CONDUCTIVITY: ("conductivity_ms_cm", "solution_c"),
    INDICATOR: ("colour",),
}


def _carried(window: StepWindow | None, brewery: Brewery) -> str:
    """The bounds as they are typed, for a tablet without a network; '' without a window."""
    if window is None:
        return ""
    shown = {
        bound: None if value is None else to_site(value, quantity=window.quantity, brewery=brewery)
        for bound, value in (("minimum", window.minimum), ("maximum", window.maximum))
    }
    return json.dumps({**shown, "basis": window.basis})


class ReadingForm(ActionForm):
    """One reading of one quantity; a strength straight, by titration or by conductivity.

    ``last`` is the last titration of this agent: its titrant and sample are offered again.
    ``calibration`` is the agent's in force; ``readable`` whether conductivity can tell it,
    ``warning`` what it cannot see.
    """

    record = forms.IntegerField(widget=forms.HiddenInput)
    quantity = forms.CharField(widget=forms.HiddenInput)
    by = forms.CharField(widget=forms.HiddenInput, required=False)
    value = NumberField(
        label="Reading", pad=True, error_messages={"required": "Enter the reading."}
    )
    basis = forms.ChoiceField(
        label="Basis",
        choices=Basis.choices,
        required=False,
    )
    titrant_ml = NumberField(
        label="Titrant used",
        unit="mL",
        pad=True,
        error_messages={"required": "Enter the volume of titrant used."},
    )
    titrant_normality = NumberField(
        label="Titrant strength",
        unit="eq/L",
        pad=True,
        help_text="From the bottle, in equivalents (mol of acid or base) per litre.",
        error_messages={"required": "Enter the strength from the titrant's bottle."},
    )
    sample_ml = NumberField(
        label="Sample",
        unit="mL",
        pad=True,
        error_messages={"required": "Enter the volume of sample titrated."},
    )
    conductivity_ms_cm = NumberField(
        label="Conductivity",
        unit="mS/cm",
        low=0,
        high=2000,
        pad=True,
        help_text="As measured, without temperature compensation.",
        error_messages={"required": "Enter the reading of the conductivity meter."},
    )
    solution_c = NumberField(
        label="Temperature of the solution",
        pad=True,
        error_messages={"required": "Enter the temperature at the meter."},
    )
    colour = forms.ChoiceField(
        label="Indicator and colour",
        error_messages={"required": "Choose a colour.", "invalid_choice": "Choose a colour."},
    )
    stage = forms.ChoiceField(
        label="When",
        choices=ReadingStage.choices,
        widget=forms.RadioSelect,
        initial=ReadingStage.RETURN,
        error_messages={"required": "Choose when it was read."},
    )

    def __init__(
        self,
        *args: Any,
        record: StepRecord,
        quantity: str,
        way: str,
        window: StepWindow | None,
        last: StepReading | None,
        brewery: Brewery,
        calibration: ConductivityCalibration | None = None,
        readable: bool = False,
        warning: str = "",
        indicators: Sequence[Indicator] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.brewery, self.calibration, self.readable = brewery, calibration, readable
        self.asked_quantity, self.way, self.warning = quantity, way, warning
        self.carried_window = _carried(window, brewery) if way == STRAIGHT else ""
        # Whether the step asks for it, or it is read besides.
        self.asked_here = window is not None
        self.initial = {**self.initial, "record": record.pk, "quantity": quantity, "by": way}
        used = FIELDS_OF[way]
        if quantity != Quantity.CONCENTRATION and way != INDICATOR:
            used = ("value",)
        for name in {name for names in FIELDS_OF.values() for name in names} - set(used):
            del self.fields[name]
        if "colour" in self.fields:
            self.fields["colour"].choices = [  # type: ignore[attr-defined]
                ("", "Choose"),
                *(
                    (f"{one.code}:{colour}", f"{one.name}: {colour}".capitalize())
                    for one in indicators
                    for colour in one.colours
                ),
            ]
        if "solution_c" in self.fields:
            degree = site_label(quantity=Quantity.TEMPERATURE_C, brewery=brewery)
            self.fields["solution_c"].widget.unit = degree
        if self.titrated and last is not None and last.titration:
            self.initial["titrant_normality"] = last.titration["titrant_normality"]
            self.initial["sample_ml"] = last.titration["sample_ml"]
        if window is not None:
            first = self.fields[used[0]]
            words = f"Window: {window_in_words(window, brewery)}."
            first.help_text = f"{first.help_text} {words}".strip()
            self.initial["basis"] = window.basis
        if quantity not in MEASURED_ENDS.values():
            self.fields["stage"].choices = [  # type: ignore[attr-defined]
                choice for choice in ReadingStage.choices if choice[0] != ReadingStage.SUPPLY
            ]
        if "value" in self.fields:
            self.fields["value"].label = quantity_title(quantity)
            # A strength has its unit in its basis, which is chosen below it.
            label = site_label(quantity=quantity, brewery=brewery)
            self.fields["value"].widget.unit = "" if quantity == Quantity.PH else label

    @property
    def direct(self) -> bool:
        return self.way == STRAIGHT

    @property
    def titrated(self) -> bool:
        return self.way == TITRATION

    @property
    def by_colour(self) -> bool:
        return self.way == INDICATOR

    @property
    def by_conductivity(self) -> bool:
        return self.way == CONDUCTIVITY

    def refuse(self, refusal: Refusal) -> None:
        if self.way != STRAIGHT and refusal.field in ("value", "basis"):
            field = "titrant_ml" if self.titrated else "conductivity_ms_cm"
            refusal = Refusal(refusal.message, field=field, code=refusal.code)
        super().refuse(refusal)

    def values(self) -> dict[str, Any]:
        """What ``record_reading`` takes, in stored units."""
        data = self.cleaned_data
        if self.titrated:
            titration = Titration(
                titrant_ml=data["titrant_ml"],
                titrant_normality=data["titrant_normality"],
                sample_ml=data["sample_ml"],
            )
            return {"titration": titration, "stage": data["stage"]}
        if self.by_colour:
            indicator, _, colour = data["colour"].partition(":")
            return {"colour": Colour(indicator, colour), "stage": data["stage"]}
        if self.by_conductivity:
            degrees = from_site(
                data["solution_c"], quantity=Quantity.TEMPERATURE_C, brewery=self.brewery
            )
            assert degrees is not None
            meter = MeterReading(data["conductivity_ms_cm"], degrees)
            return {"meter": meter, "stage": data["stage"]}
        return {
            "value": from_site(data["value"], quantity=self.asked_quantity, brewery=self.brewery),
            "basis": data.get("basis", ""),
            "stage": data["stage"],
        }


DISPOSITION_WORDS: dict[str, tuple[str, str]] = {
    Disposition.TOP_UP: (
        "Topped up",
        "The step keeps running. The strength has to be read again.",
    ),
    Disposition.HEAT: (
        "Heated up",
        "The step keeps running. The temperature has to be read again.",
    ),
    Disposition.REPEAT: (
        "Repeat the step",
        "The step runs again from the start. Readings so far stay on record.",
    ),
    Disposition.EXTEND: (
        "Extend the step",
        "The step continues where it stopped. The minutes add up.",
    ),
    Disposition.ACCEPT: (
        "Accept the deviation",
        "The step stays as it is, with your reason. It is shown at release.",
    ),
    Disposition.STOP: (
        "Stop the clean",
        "The whole clean ends, with your reason. The vessel needs a new clean.",
    ),
}


class DisposeForm(ActionForm):
    """What is done about a deviation."""

    disposition = forms.ChoiceField(
        label="What to do",
        choices=[(choice.value, choice.label) for choice in DECISIONS],
        required=False,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose a decision."},
    )
    added_kg = NumberField(
        label="Amount added",
        unit="kg",
        required=False,
        pad=True,
        help_text="Of the agent, when topped up.",
    )
    agent_lot = LotField(scan="agent", label="Agent lot", required=False, max_length=40)
    reason = ReasonField(label="Reason", required=False)

    def __init__(
        self,
        *args: Any,
        deviation: Deviation,
        running: bool,
        late: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.running = running
        words = dict(DISPOSITION_WORDS)
        for disposition, quantity in PUTS_RIGHT.items():
            low = deviation.kind == DeviationKind.BELOW and deviation.quantity == quantity
            if not running or not low:
                del words[disposition]
        if Disposition.TOP_UP not in words:
            del self.fields["added_kg"], self.fields["agent_lot"]
        else:
            agent = deviation.record.step.agent_id
            self.fields["agent_lot"].widget.attrs["data-scan-agent"] = agent
        if deviation.kind == DeviationKind.LEFT_OUT:
            del words[Disposition.EXTEND]
            words[Disposition.REPEAT] = ("Do the step", "It can be started next.")
            words[Disposition.ACCEPT] = (
                "Leave out the step",
                "It stays left out, with your reason. It is shown at release.",
            )
        elif running:
            words[Disposition.EXTEND] = (
                "Correct it and continue",
                "The step keeps running. It has to be read again.",
            )
            words[Disposition.REPEAT] = (
                "Repeat the step",
                "This attempt ends now. A new one runs from the start.",
            )
        if late:
            words = {Disposition.ACCEPT: words[Disposition.ACCEPT]}
        self.words = words

    def values(self) -> dict[str, Any]:
        """What ``dispose_deviation`` takes."""
        names = ("disposition", "reason", "added_kg", "agent_lot")
        return {name: self.cleaned_data[name] for name in names if name in self.fields}

    def options(self) -> list[tuple[str, str, str, bool, bool]]:
        """Each choice: code, title, what it means, whether it is chosen, and needs the network."""
        chosen = self["disposition"].value()
        return [
            (code, *texts, code == chosen, needs_server(code, running=self.running))
            for code, texts in self.words.items()
        ]


class CorrectReadingForm(ActionForm):
    """A reading set right: the number and what was wrong with the first."""

    value = NumberField(
        label="Correct reading", pad=True, error_messages={"required": "Enter the correct reading."}
    )
    reason = ReasonField(label="Reason for the correction")

    def __init__(self, *args: Any, reading: StepReading, brewery: Brewery, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reading, self.brewery = reading, brewery
        label = site_label(quantity=reading.quantity, basis=reading.basis, brewery=brewery)
        self.fields["value"].widget.unit = "" if reading.quantity == Quantity.PH else label

    def stored_value(self) -> float:
        value = from_site(
            self.cleaned_data["value"], quantity=self.reading.quantity, brewery=self.brewery
        )
        assert value is not None
        return value
