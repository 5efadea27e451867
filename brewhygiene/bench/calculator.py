"""What every calculator is: a form whose inputs are its address, and a calculation."""

import math
from collections.abc import Iterable, Mapping
from typing import Any, ClassVar
from urllib.parse import urlencode

from django import forms

from brewhygiene.bench.answers import Answer
from brewhygiene.bench.fields import LinesField, MeasureField
from brewhygiene.bench.measures import Measure, SiteUnits
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.fields import NumberField
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.models import Agent
from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.solutions.batch import Infeasible
from brewhygiene.science.solutions.calibration import CannotFit
from brewhygiene.science.solutions.strength import NotConvertible

REFUSALS = (OutOfRange, Infeasible, NotConvertible, CannotFit, TooFewReadings)
# Says in which units an address is written, so that a link stays true elsewhere.
UNITS = "units"


class Calculator(forms.Form):
    """One calculator.

    ``slug`` is its address, ``about`` what it calculates, in a line; ``fieldsets`` groups the
    fields, ``optional`` names those groups that are folded until something is typed in them;
    ``method`` and ``valid_for`` say by what it computes and where that is valid;
    ``refusal_fields`` names, for words of a refusal, the fields that it may be about;
    ``former_names`` are fields as older addresses call them.
    """

    # A template would call the class to see what comes of it.
    do_not_call_in_templates = True

    slug: ClassVar[str]
    title: ClassVar[str]
    about: ClassVar[str]
    fieldsets: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]]
    optional: ClassVar[frozenset[str]] = frozenset()
    method: ClassVar[tuple[str, ...]]
    valid_for: ClassVar[tuple[str, ...]] = ()
    refusal_fields: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = ()
    former_names: ClassVar[Mapping[str, str]] = {}

    def __init__(
        self,
        address: Mapping[str, str],
        *,
        brewery: Brewery,
        agents: Iterable[Agent] = (),
        vessels: Iterable[Vessel] = (),
    ) -> None:
        self.site = SiteUnits(brewery)
        self._agents = {str(agent.pk): agent for agent in agents}
        self._vessels = {str(vessel.pk): vessel for vessel in vessels}
        self._address = {self.former_names.get(name, name): text for name, text in address.items()}
        super().__init__(field_order=[name for _, names in self.fieldsets for name in names])
        self.set_defaults(brewery)
        for field in self.fields.values():
            if isinstance(field, MeasureField | LinesField):
                field.use_units(self.site)
        self._set_choices()
        if any(name in self._address for name in self.fields):
            self.is_bound = True
            self.data = self._typed()

    def set_defaults(self, brewery: Brewery) -> None:
        """Set defaults that are the brewery's own."""

    @classmethod
    def choices_of(cls, name: str) -> list[str]:
        """What may be chosen in a field."""
        field = cls.base_fields[name]
        assert isinstance(field, forms.ChoiceField)
        return [str(key) for key, _ in list(field.choices)]  # type: ignore[arg-type, misc]

    @classmethod
    def agent_fields(cls) -> dict[str, list[str]]:
        """The fields that offer agents of the brewery, each with the substances that fit it."""
        return {"agent": cls.choices_of("substance")} if "agent" in cls.base_fields else {}

    @property
    def filled_from(self) -> tuple[str, ...]:
        """The fields that fill in others and are no inputs of the calculation themselves."""
        return (*self.agent_fields(), "vessel")

    def _set_choices(self) -> None:
        offers: dict[str, Iterable[tuple[str, Agent | Vessel]]] = {
            name: [(key, a) for key, a in self._agents.items() if a.active_substance in fitting]
            for name, fitting in self.agent_fields().items()
        }
        if "vessel" in self.fields:
            offers["vessel"] = self._vessels.items()
        for name, known in offers.items():
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = [
                ("", "None: enter the values below"),
                *((key, str(record)) for key, record in known),
            ]

    def default(self, name: str) -> str:
        """What the empty form shows in a field, as it would be typed."""
        field = self.fields[name]
        value = field.initial
        if isinstance(field, NumberField):
            value = field.prepare_value(value)
        return "" if value is None else str(value)

    def _typed(self) -> dict[str, str]:
        """What the address says; what it leaves out is the default."""
        return {name: self._address.get(name, self.default(name)) for name in self.fields}

    @property
    def units(self) -> str:
        """The site's units, to be sent along."""
        return self.site.name

    @property
    def shown_fieldsets(self) -> list[tuple[str, list[forms.BoundField], str]]:
        """The fields under their titles, and whether they are ``shut`` or ``open`` or neither."""
        return [
            (title, [self[name] for name in names], self._fold(title, names))
            for title, names in self.fieldsets
        ]

    def _fold(self, title: str, names: Iterable[str]) -> str:
        if title not in self.optional:
            return ""
        touched = any(
            name in self.errors or self.data.get(name, "") != self.default(name)
            for name in names
            if self.is_bound and name not in self.filled_from
        )
        return "open" if touched else "shut"

    @property
    def inputs(self) -> list[tuple[str, str, str]]:
        """What was typed, for paper: label, value, unit; what was left empty is left out."""
        rows = []
        for name, field in self.fields.items():
            text = self.data.get(name, "")
            if name in self.filled_from or not text:
                continue
            if isinstance(field, forms.ChoiceField):
                text = dict(field.choices).get(text, text)  # type: ignore[arg-type]
            rows.append((str(field.label), str(text), getattr(field, "unit", "")))
        return rows

    @property
    def conversions(self) -> list[tuple[str, str]]:
        """What was typed in the site's units beside what was computed with, where they differ."""
        return [
            (
                f"{field.label}: {self.data[name].strip()} {field.unit}",
                f"{show_number(self.cleaned_data[name], significant=5)} {field.measure.label}",
            )
            for name, field in self.fields.items()
            if isinstance(field, MeasureField)
            and self.site.differs(field.measure)
            and self.cleaned_data.get(name) is not None
        ]

    # -- The address ----------------------------------------------------------------------------

    def from_agent(self, agent: Agent, *, field: str) -> Mapping[str, Any]:
        """Values that an agent chosen in ``field`` gives others, in the stored units."""
        raise NotImplementedError

    def from_vessel(self, vessel: Vessel) -> Mapping[str, Any]:
        """Values of fields that a vessel gives, in the stored units."""
        raise NotImplementedError

    def _as_text(self, name: str, value: Any) -> str:
        field = self.fields[name]
        if value is None:
            return ""
        if isinstance(field, MeasureField):
            value = self.site.to_site(value, field.measure)
        return show_number(value, significant=6) if isinstance(value, int | float) else str(value)

    @property
    def query(self) -> str:
        """The address's query with every input in it, the defaults too."""
        inputs = {
            name: str(text) for name, text in self.data.items() if name not in self.filled_from
        }
        return urlencode({**inputs, UNITS: self.units})

    def redirect_query(self) -> str | None:
        """The query to go to instead: agent or vessel written out, units those of the site.

        ``None`` where the address needs no other.
        """
        address = self._address
        written_in = SiteUnits.named(address.get(UNITS, self.units)) or self.site
        changes: dict[str, str] = {}
        if written_in.name != self.site.name:
            for name, field in self.fields.items():
                if isinstance(field, MeasureField | LinesField) and name in address:
                    changes[name] = field.converted(
                        address[name], written_in=written_in, site=self.site
                    )
        filled: dict[str, Any] = {}
        dropped = []
        for field_name in self.agent_fields():
            if address.get(field_name, "") in self._agents:
                agent = self._agents[address[field_name]]
                filled.update(self.from_agent(agent, field=field_name))
                dropped.append(field_name)
        if address.get("vessel", "") in self._vessels:
            filled.update(self.from_vessel(self._vessels[address["vessel"]]))
            dropped.append("vessel")
        if written_in.name == self.site.name and not dropped:
            return None
        changes |= {name: self._as_text(name, value) for name, value in filled.items()}
        query = {**self._typed(), **changes, UNITS: self.units}
        return urlencode({name: text for name, text in query.items() if name not in dropped})

    # -- The calculation ------------------------------------------------------------------------

    def calculate(self, given: dict[str, Any]) -> Answer:
        """The answer to what was given; refusals of the pure layer pass through."""
        raise NotImplementedError

    def answer(self) -> Answer | None:
        """The answer, or ``None`` with the errors beside their fields."""
        if not self.is_valid():
            return None
        try:
            return self.calculate(self.cleaned_data)
        except REFUSALS as refusal:
            name = self._field_of(refusal)
            measure = getattr(self.fields[name], "measure", None) if name else None
            self.add_error(name, self._in_words(refusal, measure))
        return None

    def need_both(self, name: str, other: str, message: str) -> None:
        """Refuse one of two fields without the other, beside the empty one."""
        given = self.cleaned_data
        for empty, typed in ((name, other), (other, name)):
            if empty in given and given[empty] is None and given.get(typed) is not None:
                self.add_error(empty, message)

    def _field_of(self, refusal: Exception) -> str | None:
        about = (getattr(refusal, "quantity", "") or str(refusal)).lower()
        value = getattr(refusal, "value", None)
        for words, possible in self.refusal_fields:
            names = [name for name in possible if name in self.fields]
            if words in about and names:
                return next((name for name in names if self._is(name, value)), names[0])
        return None

    def _is(self, name: str, value: float | None) -> bool:
        """Whether a field was given as the very value that was refused."""
        typed = self.cleaned_data.get(name)
        if value is None or not isinstance(typed, int | float):
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
            return f"The {refusal.quantity} is {said}. It must be {must}."
        return self.site.with_own_units(str(refusal))
