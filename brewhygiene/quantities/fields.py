"""Form fields for typed numbers: a decimal comma or point, and a message in plain words."""

from typing import Any

from django import forms
from django.utils.functional import lazy

from brewhygiene.quantities.parsing import NotANumber, parse_count, parse_number, show_number
from brewhygiene.quantities.style import own_words
from brewhygiene.quantities.units import LABELS, convert

# A fixed sentence beside a field, written anew for whoever looks.
words_of_ours = lazy(own_words, str)


class NumberInput(forms.TextInput):
    """A text box for a number: a number box would drop what it cannot read."""

    def __init__(self, *, unit: str = "", pad: bool = False) -> None:
        attrs = {"inputmode": "decimal", "autocomplete": "off", "class": "number"}
        if pad:
            attrs["data-pad"] = "decimal"
        super().__init__(attrs)
        self.unit = unit


class NumberField(forms.Field):
    """A number from ``low`` to ``high`` in ``unit``; keeps what was typed when it is none."""

    def __init__(
        self,
        *,
        unit: str = "",
        low: float | None = None,
        high: float | None = None,
        pad: bool = False,
        **kwargs: Any,
    ) -> None:
        self.unit, self.low, self.high = unit, low, high
        kwargs.setdefault("widget", NumberInput(unit=unit, pad=pad))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> float | None:
        if value in self.empty_values:
            return None
        try:
            number = parse_number(str(value))
        except NotANumber as error:
            raise forms.ValidationError(str(error), code="invalid") from error
        self._check_range(number)
        return number

    def _check_range(self, number: float) -> None:
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and number < self.low:
            raise forms.ValidationError(
                f"{show_number(number)}{unit} is too low. Enter at least "
                f"{show_number(self.low)}{unit}.",
                code="too_low",
            )
        if self.high is not None and number > self.high:
            raise forms.ValidationError(
                f"{show_number(number)}{unit} is too high. Enter at most "
                f"{show_number(self.high)}{unit}.",
                code="too_high",
            )

    def prepare_value(self, value: Any) -> Any:
        return show_number(value, significant=6) if isinstance(value, int | float) else value


class CountField(NumberField):
    """A whole number from 0, as RLU are; a zero is a real value."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget.attrs["inputmode"] = "numeric"
        if "data-pad" in self.widget.attrs:
            self.widget.attrs["data-pad"] = "count"

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values:
            return None
        try:
            number = parse_count(str(value))
        except NotANumber as error:
            raise forms.ValidationError(str(error), code="invalid") from error
        self._check_range(number)
        return number


class StoredQuantityField(NumberField):
    """A number typed in the site's unit and given in the stored one.

    ``low`` and ``high`` are in the stored unit. A value that comes back as it was shown keeps
    its stored figure, so that saving a form again never makes it drift.
    """

    def __init__(self, *, stored: str, low: float, high: float, **kwargs: Any) -> None:
        super().__init__(unit=LABELS[stored], low=low, high=high, **kwargs)
        self.stored = self.shown = stored
        self.kept: float | None = None

    def show_in(self, unit: str, *, kept: float | None = None) -> None:
        """Type and show in ``unit``; ``kept`` is the figure on record."""
        assert self.low is not None
        assert self.high is not None
        self.shown, self.kept = unit, kept
        self.low, self.high = self.to_shown(self.low), self.to_shown(self.high)
        self.unit = LABELS[unit]
        assert isinstance(self.widget, NumberInput)
        self.widget.unit = self.unit

    def to_shown(self, value: float) -> float:
        """A stored figure as it is shown."""
        return convert(value, self.stored, self.shown)

    def to_stored(self, value: float) -> float:
        """A typed figure as it is stored."""
        return convert(value, self.shown, self.stored)

    def to_python(self, value: Any) -> float | None:
        typed = super().to_python(value)
        if typed is None:
            return None
        if self.kept is not None and show_number(typed, significant=6) == self.prepare_value(
            self.kept
        ):
            return self.kept
        return self.to_stored(typed)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            value = self.to_shown(value)
        return super().prepare_value(value)
