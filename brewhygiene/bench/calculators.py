"""What every calculator is: a form whose inputs are its address, and a sum."""

import math
from collections.abc import Iterable, Mapping
from typing import Any, ClassVar
from urllib.parse import urlencode

from django import forms

from brewhygiene.bench.answers import Answer
from brewhygiene.bench.fields import LinesField, MeasureField
from brewhygiene.bench.measures import Measure, Site
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.fields import NumberField
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.models import Agent
from brewhygiene.science.batch import Infeasible
from brewhygiene.science.calibration import CannotFit
from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.strength import NotConvertible

REFUSALS = (OutOfRange, Infeasible, NotConvertible, CannotFit, TooFewReadings)
# Says in which units an address is written, so that a link stays true elsewhere.
UNITS = "units"
_NOT_TYPED = ("agent", "vessel", UNITS)


class Calculator(forms.Form):
    """One calculator.

    ``slug`` is its address, ``question`` what the brewer wants to know; ``parts`` groups the
    fields; ``method`` and ``holds`` say by what it computes and where that is valid; ``blame``
    names, for words of a refusal, the fields that it may be about.
    """

    # A template would call the class to see what comes of it.
    do_not_call_in_templates = True

    slug: ClassVar[str]
    title: ClassVar[str]
    question: ClassVar[str]
    parts: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]]
    method: ClassVar[tuple[str, ...]]
    holds: ClassVar[tuple[str, ...]] = ()
    blame: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = ()

    def __init__(
        self,
        address: Mapping[str, str],
        *,
        brewery: Brewery,
        agents: Iterable[Agent] = (),
        vessels: Iterable[Vessel] = (),
    ) -> None:
        self.site = Site(brewery)
        self._agents = {str(agent.pk): agent for agent in agents}
        self._vessels = {str(vessel.pk): vessel for vessel in vessels}
        super().__init__()
        for field in self.fields.values():
            if isinstance(field, MeasureField | LinesField):
                field.settle(self.site)
        self._offer()
        if any(name in address for name in self.fields):
            self.is_bound = True
            self.data = self._typed(address)

    @classmethod
    def substances(cls) -> list[str]:
        """The substances that may be chosen."""
        field = cls.base_fields["substance"]
        assert isinstance(field, forms.ChoiceField)
        return [str(key) for key, _ in list(field.choices)]  # type: ignore[arg-type, misc]

    def _offer(self) -> None:
        for name, known in (("agent", self._agents), ("vessel", self._vessels)):
            if name in self.fields:
                field = self.fields[name]
                assert isinstance(field, forms.ChoiceField)
                field.choices = [
                    ("", "none: as typed below"),
                    *((key, str(record)) for key, record in known.items()),
                ]

    def default(self, name: str) -> str:
        """What the empty form shows in a field, as it would be typed."""
        field = self.fields[name]
        value = field.initial
        if isinstance(field, NumberField):
            value = field.prepare_value(value)
        return "" if value is None else str(value)

    def _typed(self, address: Mapping[str, str]) -> dict[str, str]:
        """What the address says; what it leaves out is the default."""
        return {name: address.get(name, self.default(name)) for name in self.fields}

    @property
    def units(self) -> str:
        """The site's units, to be sent along."""
        return self.site.name

    @property
    def shown_parts(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under their titles."""
        return [(title, [self[name] for name in names]) for title, names in self.parts]

    @property
    def given(self) -> list[tuple[str, str, str]]:
        """What was typed, for paper: label, value, unit; what was left empty is left out."""
        rows = []
        for name, field in self.fields.items():
            text = self.data.get(name, "")
            if name in _NOT_TYPED or not text:
                continue
            if isinstance(field, forms.ChoiceField):
                text = dict(field.choices).get(text, text)  # type: ignore[arg-type]
            rows.append((str(field.label), str(text), getattr(field, "unit", "")))
        return rows

    @property
    def turned(self) -> list[tuple[str, str]]:
        """What was typed in the site's units beside what the sum took, where they differ."""
        rows = []
        for name, field in self.fields.items():
            value = getattr(self, "cleaned_data", {}).get(name)
            if isinstance(field, MeasureField) and self.site.differs(field.measure):
                if value is None:
                    continue
                rows.append(
                    (
                        f"{field.label}: {self.data[name].strip()} {field.unit}",
                        f"{show_number(value, significant=5)} {field.measure.label}",
                    )
                )
        return rows

    # -- The address ----------------------------------------------------------------------------

    def from_agent(self, agent: Agent) -> Mapping[str, Any]:
        """Values of fields that an agent of the brewery gives, in the units of the sums."""
        raise NotImplementedError

    def from_vessel(self, vessel: Vessel) -> Mapping[str, Any]:
        """Values of fields that a vessel gives, in the units of the sums."""
        raise NotImplementedError

    def _as_typed(self, name: str, value: Any) -> str:
        field = self.fields[name]
        if value is None:
            return ""
        if isinstance(field, MeasureField):
            value = self.site.to_site(value, field.measure)
        return show_number(value, significant=6) if isinstance(value, int | float) else str(value)

    @property
    def query(self) -> str:
        """The address's query with every input in it, the defaults too."""
        inputs = {name: str(text) for name, text in self.data.items() if name not in _NOT_TYPED}
        return urlencode({**inputs, UNITS: self.units})

    def settled_query(self, address: Mapping[str, str]) -> str | None:
        """The query to go to instead: agent or vessel written out, units those of the site.

        ``None`` where the address is settled already.
        """
        told_in = Site.named(address.get(UNITS, self.units)) or self.site
        changes: dict[str, str] = {}
        if told_in.name != self.site.name:
            for name, field in self.fields.items():
                if isinstance(field, MeasureField | LinesField) and name in address:
                    changes[name] = field.retold(address[name], told_in=told_in, site=self.site)
        filled: dict[str, Any] = {}
        dropped = []
        if address.get("agent", "") in self._agents:
            filled.update(self.from_agent(self._agents[address["agent"]]))
            dropped.append("agent")
        if address.get("vessel", "") in self._vessels:
            filled.update(self.from_vessel(self._vessels[address["vessel"]]))
            dropped.append("vessel")
        if told_in.name == self.site.name and not dropped:
            return None
        changes |= {name: self._as_typed(name, value) for name, value in filled.items()}
        query = {**self._typed(address), **changes, UNITS: self.units}
        return urlencode({name: text for name, text in query.items() if name not in dropped})

    # -- The sum --------------------------------------------------------------------------------

    def work(self, given: dict[str, Any]) -> Answer:
        """The answer to what was given; refusals of the pure layer pass through."""
        raise NotImplementedError

    def answer(self) -> Answer | None:
        """The answer, or ``None`` with the errors beside their fields."""
        if not self.is_valid():
            return None
        try:
            return self.work(self.cleaned_data)
        except REFUSALS as refusal:
            self._refuse(refusal)
        return None

    def _refuse(self, refusal: Exception) -> None:
        name = self._blamed(refusal)
        measure = getattr(self.fields[name], "measure", None) if name else None
        self.add_error(name, self._in_words(refusal, measure))

    def _blamed(self, refusal: Exception) -> str | None:
        about = (getattr(refusal, "quantity", "") or str(refusal)).lower()
        value = getattr(refusal, "value", None)
        for words, possible in self.blame:
            names = [name for name in possible if name in self.fields]
            if words in about and names:
                return next((name for name in names if self._is(name, value)), names[0])
        return None

    def _is(self, name: str, value: float | None) -> bool:
        """Whether a field was given as the very value that was refused."""
        typed = self.cleaned_data.get(name)
        if value is None or not isinstance(typed, float):
            return False
        return math.isclose(typed, value, rel_tol=1e-9, abs_tol=1e-12)

    def _in_words(self, refusal: Exception, measure: Measure | None) -> str:
        if (
            isinstance(refusal, OutOfRange)
            and measure is not None
            and self.site.differs(measure)
            and refusal.unit == measure.label
            and refusal.value is not None
        ):
            said = self.site.words(refusal.value, measure)
            bounds = {
                word: self.site.words(bound, measure)
                for word, bound in (("at least", refusal.minimum), ("at most", refusal.maximum))
                if bound is not None
            }
            must = " and ".join(f"{word} {bound}" for word, bound in bounds.items())
            return f"The {refusal.quantity} is {said}; it must be {must}."
        return self.site.beside(str(refusal))
