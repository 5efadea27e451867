"""Titrations: from what the burette or the dropper gave to a strength and its uncertainty.

A reading is in mL, or in drops where the setup counts drops. Sanitisers that free iodine are in
:mod:`~oxidants`, titrations with two end points in one sample in :mod:`~two_end_points`.
"""

import dataclasses
from collections.abc import Callable, Mapping
from typing import Literal

from brewhygiene.science.errors import OutOfRange, require
from brewhygiene.science.solutions.strength import EQUIVALENT_WEIGHT_G
from brewhygiene.science.uncertainty import Uncertainty, propagated, standard_from_tolerance
from brewhygiene.science.working import WorkingLine, shown


@dataclasses.dataclass(frozen=True)
class Tolerances:
    """Within what each input is known (±), to be replaced by the site's own glassware.

    ``burette_ml`` mL of one reading; ``drop`` the resolution of a count in drops;
    ``drop_size_percent``, ``sample_percent`` and ``titrant_percent`` in % of their values. The
    drop's is that of USP ⟨1101⟩ droppers (45 to 55 mg); the others are common practice, no
    source.
    """

    burette_ml: float = 0.05
    drop: float = 0.5
    drop_size_percent: float = 10.0
    sample_percent: float = 0.5
    titrant_percent: float = 0.5


@dataclasses.dataclass(frozen=True)
class TitrationSetup:
    """What a titration was done with.

    ``titrant_eq_l`` eq/L on the label, times ``titrant_factor`` from its standardisation;
    the sample is ``sample_ml`` mL or ``sample_g`` g, one of them, taken from a liquid that was
    first diluted ``dilution`` times; ``blank`` is a reading without sample, in the unit of the
    readings: mL, or drops where ``drops_per_ml`` is given.
    """

    titrant_eq_l: float
    sample_ml: float | None = None
    sample_g: float | None = None
    titrant_factor: float = 1.0
    blank: float = 0.0
    dilution: float = 1.0
    drops_per_ml: float | None = None
    tolerances: Tolerances = Tolerances()

    def __post_init__(self) -> None:
        require("titrant's strength", self.titrant_eq_l, unit="eq/L", minimum=0, above=True)
        require("titrant's factor", self.titrant_factor, minimum=0.5, maximum=2)
        require("dilution", self.dilution, unit="times", minimum=1)
        require("blank", self.blank, unit=self.reading_unit, minimum=0)
        if self.drops_per_ml is not None:
            require("drops in a mL", self.drops_per_ml, minimum=1, maximum=200)
        if (self.sample_ml is None) == (self.sample_g is None):
            raise OutOfRange("Enter the sample in mL or in g, not both.")
        require("sample", self.sample, unit=self.sample_unit, minimum=0, above=True)
        for name, tolerance in dataclasses.asdict(self.tolerances).items():
            require(f"tolerance {name}", tolerance, minimum=0)

    @property
    def sample(self) -> float:
        """The sample in its unit, mL or g."""
        amount = self.sample_g if self.sample_ml is None else self.sample_ml
        assert amount is not None
        return amount

    @property
    def sample_unit(self) -> str:
        """``mL`` or ``g``."""
        return "g" if self.sample_ml is None else "mL"

    @property
    def basis(self) -> Literal["wv", "ww"]:
        """% w/v of a sample in mL, % w/w of one in g."""
        return "ww" if self.sample_ml is None else "wv"

    @property
    def reading_unit(self) -> str:
        """``mL`` or ``drops``."""
        return "mL" if self.drops_per_ml is None else "drops"

    def millilitres(self, reading: float) -> float:
        """A reading less the blank, in mL, with drops turned into mL.

        Raises :class:`OutOfRange` for a reading below 0 or below the blank.
        """
        require("reading", reading, unit=self.reading_unit, minimum=0)
        if reading < self.blank:
            raise OutOfRange(
                f"The reading of {shown(reading)} {self.reading_unit} is below the blank of "
                f"{shown(self.blank)} {self.reading_unit}."
            )
        return (reading - self.blank) / (self.drops_per_ml or 1.0)

    def eq_per_l_or_kg(self, millilitres: float) -> float:
        """Equivalents in a litre (or kg) of the liquid as it was before any dilution."""
        titrant_eq_l = self.titrant_eq_l * self.titrant_factor
        return millilitres * titrant_eq_l * self.dilution / self.sample

    def _inputs(self, readings: Mapping[str, float]) -> dict[str, float]:
        inputs = {
            **readings,
            "titrant": self.titrant_eq_l * self.titrant_factor,
            "sample": self.sample,
        }
        if self.blank:
            inputs["blank"] = self.blank
        if self.drops_per_ml is not None:
            inputs["drop size"] = self.drops_per_ml
        return inputs

    def _standard_uncertainties(self, inputs: Mapping[str, float]) -> dict[str, float]:
        within = self.tolerances
        percent = {
            "titrant": within.titrant_percent,
            "sample": within.sample_percent,
            "drop size": within.drop_size_percent,
        }
        one_reading = within.burette_ml if self.drops_per_ml is None else within.drop
        return {
            name: standard_from_tolerance(
                tolerance=value * percent[name] / 100 if name in percent else one_reading
            )
            for name, value in inputs.items()
        }

    def found(
        self,
        *,
        substance: str,
        equivalent_g: float,
        readings: Mapping[str, float],
        combine: Callable[..., float],
    ) -> "Found":
        """What was found of a substance, with its uncertainty.

        ``equivalent_g`` g of ``substance`` in an equivalent; ``readings`` by name, mL or drops;
        ``combine`` turns their mL, in the same order, into the mL that the substance took.
        """

        def percent(inputs: Mapping[str, float]) -> float:
            millilitres = [
                (inputs[name] - inputs.get("blank", 0.0)) / inputs.get("drop size", 1.0)
                for name in readings
            ]
            took_ml = combine(*millilitres)
            return (
                took_ml * inputs["titrant"] * equivalent_g * self.dilution / (10 * inputs["sample"])
            )

        inputs = self._inputs(readings)
        return Found(
            substance=substance,
            basis=self.basis,
            percent=percent(inputs),
            uncertainty=propagated(
                function=percent,
                values=inputs,
                standard_uncertainties=self._standard_uncertainties(inputs),
            ),
        )

    def lines(
        self, *, found: "Found", equivalent_g: float, millilitres: float, took: str
    ) -> tuple[WorkingLine, ...]:
        """The working of one substance: ``took`` says how its ``millilitres`` mL were found.

        ``found`` is what came of it with ``equivalent_g`` g in an equivalent.
        """
        eq = self.eq_per_l_or_kg(millilitres)
        per = "kg" if self.basis == "ww" else "L"
        diluted = "" if self.dilution == 1 else f" × {shown(self.dilution)}"
        numbers = (
            f"{shown(millilitres)} × {shown(self.titrant_eq_l)} × {shown(self.titrant_factor)}"
            f"{diluted} ÷ {shown(self.sample)}"
        )
        return (
            WorkingLine(
                f"equivalents of {found.substance}",
                f"{took} · N · f{' · dilution' if diluted else ''} ÷ sample", numbers, eq,
                f"eq/{per}",
            ),
            WorkingLine(
                found.substance, "equivalents · equivalent weight ÷ 10",
                f"{shown(eq)} × {shown(equivalent_g, significant=6)} ÷ 10", found.percent,
                found.percent_unit,
            ),
            WorkingLine(
                f"uncertainty of {found.substance}", "k · u, k = 2",
                f"2 × {shown(found.uncertainty.standard, significant=3)}",
                found.uncertainty.expanded, found.percent_unit,
            ),
        )  # fmt: skip


@dataclasses.dataclass(frozen=True)
class Found:
    """How much of a substance was found, in % w/v (``basis`` wv) or % w/w (ww).

    ``uncertainty`` is in the same %; 0 where the end points rule the substance out.
    """

    substance: str
    basis: Literal["wv", "ww"]
    percent: float
    uncertainty: Uncertainty

    @property
    def percent_unit(self) -> str:
        """``% w/v`` or ``% w/w``."""
        return "% w/v" if self.basis == "wv" else "% w/w"

    @property
    def grams_per_l_or_kg(self) -> float:
        """g/L (``wv``) or g/kg (``ww``)."""
        return self.percent * 10

    @property
    def milligrams_per_l_or_kg(self) -> float:
        """mg/L (``wv``) or mg/kg (``ww``)."""
        return self.percent * 10_000


@dataclasses.dataclass(frozen=True)
class OneEndPoint:
    """A titration of one end point: what was found, and eq/L (or eq/kg) of it."""

    found: Found
    eq_per_l_or_kg: float
    working: tuple[WorkingLine, ...]


def delivered_line(setup: TitrationSetup, reading: float, name: str) -> WorkingLine:
    """The line that turns a ``reading`` (mL or drops, as ``setup`` says) called ``name`` into mL.

    Raises as :meth:`TitrationSetup.millilitres`.

    >>> str(delivered_line(TitrationSetup(1, sample_ml=1, drops_per_ml=20), 10, "end point"))
    'end point: (drops − blank) ÷ drops per mL = (10 − 0) ÷ 20 = 0.5 mL'
    """
    taken = f"{shown(reading)} − {shown(setup.blank)}"
    if setup.drops_per_ml is None:
        return WorkingLine(name, "reading − blank", taken, setup.millilitres(reading), "mL")
    return WorkingLine(
        name,
        "(drops − blank) ÷ drops per mL",
        f"({taken}) ÷ {shown(setup.drops_per_ml)}",
        setup.millilitres(reading),
        "mL",
    )


def one_end_point(
    *,
    setup: TitrationSetup,
    substance: str,
    reading: float,
    equivalent_weight_g: float | None = None,
) -> OneEndPoint:
    """Strength from one end point: c = (V − blank) · N · f · E · dilution / (10 · sample).

    ``setup`` is what it was done with, ``reading`` mL (or drops) of titrant to the end point;
    ``substance`` is a key of ``EQUIVALENT_WEIGHT_G``, or any with its ``equivalent_weight_g``
    g/eq. The result is % w/v of a sample in mL, % w/w of one in g. H3PO4 counts one equivalent,
    to pH 4.5; give half its molar mass for pH 9.5. Its error is stated with it (k = 2). Raises
    :class:`OutOfRange` for a reading below 0 or below the blank, ``KeyError`` for an unknown
    substance without its equivalent weight.

    >>> caustic = one_end_point(setup=TitrationSetup(0.5, sample_ml=10), substance="NaOH",
    ...                         reading=10.2)
    >>> round(caustic.found.percent, 3), round(caustic.found.uncertainty.expanded, 3)
    (2.04, 0.02)

    References
    ----------
    .. [1] Stoichiometry; IUPAC atomic weights.
    """
    equivalent_g = (
        EQUIVALENT_WEIGHT_G[substance]
        if equivalent_weight_g is None
        else require("equivalent weight", equivalent_weight_g, unit="g/eq", minimum=0, above=True)
    )
    millilitres = setup.millilitres(reading)
    found = setup.found(
        substance=substance,
        equivalent_g=equivalent_g,
        readings={"end point": reading},
        combine=lambda end_point_ml: end_point_ml,
    )
    return OneEndPoint(
        found=found,
        eq_per_l_or_kg=setup.eq_per_l_or_kg(millilitres),
        working=(
            delivered_line(setup, reading, "titrant"),
            *setup.lines(found=found, equivalent_g=equivalent_g, millilitres=millilitres, took="V"),
        ),
    )
