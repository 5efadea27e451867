"""Form fields of the bench: quantities in the site's units, choices, and pasted lines."""

from collections.abc import Iterable
from typing import Any

from django import forms

from brewhygiene.bench.measures import (
    FLOW,
    PER_VESSEL,
    SOLUTION,
    TEMPERATURE,
    VESSEL,
    Measure,
    SiteUnits,
)
from brewhygiene.quantities.fields import NumberField, words_of_ours
from brewhygiene.quantities.lines import NotLines, numbers_in_lines
from brewhygiene.quantities.parsing import NotANumber, parse_number, show_number

NUMBER_NEEDED = {"required": "Enter a number."}


class MeasureField(NumberField):
    """A quantity typed in the site's unit; its value, bounds and default are stored ones."""

    def __init__(self, *, measure: Measure, **kwargs: Any) -> None:
        super().__init__(unit=measure.label, pad=True, **kwargs)
        self.measure = measure
        self.site: SiteUnits | None = None

    def use_units(self, site: SiteUnits) -> None:
        """Take on a site's units, once, for the field of one form."""
        self.site = site
        self.unit = self.widget.unit = site.label(self.measure)
        # Rounded, so that a bound in another unit reads as a number and not as a remainder.
        for name, digits in (("low", 6), ("high", 6), ("initial", 3)):
            value = getattr(self, name)
            if value is not None:
                setattr(self, name, float(f"{site.to_site(value, self.measure):.{digits}g}"))

    def to_python(self, value: Any) -> float | None:
        number = super().to_python(value)
        if number is None or self.site is None:
            return number
        return self.site.from_site(number, self.measure)

    def converted(self, text: str, *, written_in: SiteUnits, site: SiteUnits) -> str:
        """What was typed in the units of ``written_in``, in those of ``site``; else as it was."""
        try:
            stored = written_in.from_site(parse_number(text), self.measure)
        except NotANumber:
            return text
        return show_number(site.to_site(stored, self.measure), significant=6)


class PricePerVolumeField(MeasureField):
    """Money for so much of a vessel's volume, in the brewery's ``currency``."""

    currency = ""

    def __init__(self, *, high: float, **kwargs: Any) -> None:
        super().__init__(measure=PER_VESSEL, low=0, high=high, **kwargs)

    def use_units(self, site: SiteUnits) -> None:
        super().use_units(site)
        self.unit = self.widget.unit = f"{self.currency} {self.unit}"


class LinesField(forms.CharField):
    """Lines of numbers, pasted; one column may be a temperature in the site's unit."""

    widget = forms.Textarea

    def __init__(
        self,
        *,
        columns: tuple[str, ...],
        temperature_column: int | None = None,
        clock: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(**kwargs)
        self.columns, self.temperature_column, self.clock = columns, temperature_column, clock
        self.widget.attrs.update({"rows": 8, "autocomplete": "off", "spellcheck": "false"})
        self.site: SiteUnits | None = None

    def use_units(self, site: SiteUnits) -> None:
        """Take on a site's units."""
        self.site = site
        if isinstance(self.initial, str):
            self.initial = self._with_temperatures(self.initial, None, site)

    def _with_temperatures(self, text: str, written_in: SiteUnits | None, site: SiteUnits) -> str:
        if self.temperature_column is None:
            return text
        rows = []
        for row in numbers_in_lines(text, columns=self.columns, clock=self.clock):
            cells = list(row.values)
            given = cells[self.temperature_column]
            stored = written_in.from_site(given, TEMPERATURE) if written_in else given
            cells[self.temperature_column] = site.to_site(stored, TEMPERATURE)
            rows.append("; ".join(show_number(cell, significant=6) for cell in cells))
        return "\n".join(rows)

    def converted(self, text: str, *, written_in: SiteUnits, site: SiteUnits) -> str:
        """The lines with their temperatures in the units of ``site``; else as they were."""
        try:
            return self._with_temperatures(text, written_in, site)
        except NotLines:
            return text

    def clean(self, value: Any) -> list[tuple[float, ...]]:
        text = super().clean(value)
        try:
            rows = numbers_in_lines(text, columns=self.columns, clock=self.clock)
        except NotLines as error:
            raise forms.ValidationError(str(error), code="invalid") from error
        found = []
        for row in rows:
            cells = list(row.values)
            if self.site is not None and self.temperature_column is not None:
                cells[self.temperature_column] = self.site.from_site(
                    cells[self.temperature_column], TEMPERATURE
                )
            found.append(tuple(cells))
        return found


def number(
    label: str,
    *,
    unit: str = "",
    low: float = 0,
    high: float,
    initial: float | None = None,
    required: bool = True,
    hint: str = "",
) -> NumberField:
    """A plain number whose unit is the same at every site."""
    return NumberField(
        label=words_of_ours(label), unit=unit, low=low, high=high, initial=initial,
        required=required, help_text=words_of_ours(hint), pad=True, error_messages=NUMBER_NEEDED,
    )  # fmt: skip


def _measured(
    measure: Measure, label: str, low: float, high: float, initial: float | None, required: bool,
    hint: str,
) -> MeasureField:  # fmt: skip
    return MeasureField(
        measure=measure, label=words_of_ours(label), low=low, high=high, initial=initial,
        required=required, help_text=words_of_ours(hint), error_messages=NUMBER_NEEDED,
    )  # fmt: skip


def temperature(
    label: str, *, initial: float | None = 20.0, required: bool = True, hint: str = ""
) -> MeasureField:
    """A temperature, −50 to 250 °C; what a calculation allows is narrower, and it says so."""
    return _measured(TEMPERATURE, label, -50, 250, initial, required, hint)


def solution(
    label: str, *, initial: float | None = None, required: bool = True, hint: str = ""
) -> MeasureField:
    """A volume of cleaning solution, to a million litres."""
    return _measured(SOLUTION, label, 0, 1e6, initial, required, hint)


def vessel_volume(label: str, *, initial: float | None = None, hint: str = "") -> MeasureField:
    """A vessel's volume, to 100 000 hL."""
    return _measured(VESSEL, label, 0, 1e5, initial, True, hint)


def flow(
    label: str, *, initial: float | None = None, required: bool = True, hint: str = ""
) -> MeasureField:
    """A flow of liquid, to 100 000 L/min."""
    return _measured(FLOW, label, 0, 1e5, initial, required, hint)


def choice(
    label: str,
    choices: Iterable[tuple[str, str]],
    *,
    initial: str = "",
    required: bool = True,
    hint: str = "",
    wide: bool = False,
) -> forms.ChoiceField:
    """One of a few; ``wide`` where the words are long."""
    return forms.ChoiceField(
        label=label, initial=initial, required=required, help_text=words_of_ours(hint),
        choices=[(key, words_of_ours(words)) for key, words in choices],
        widget=forms.Select(attrs={"class": "wide"} if wide else {}),
        error_messages={
            "invalid_choice": "“%(value)s” is not in the list. Choose one that is.",
            "required": "Choose one of the list.",
        },
    )  # fmt: skip
