"""Strength on one basis turned into strength on another, and titrations of one end point."""

from typing import TYPE_CHECKING

from brewhygiene.quantities.style import digits
from brewhygiene.science.arrays import pointwise
from brewhygiene.science.errors import Numbers, require
from brewhygiene.science.solutions.density import (
    SOLUTES,
    OutOfRange,
    known_solute,
    solution_density_kg_l,
)

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

# The solution's volume is read at room temperature when it is titrated or diluted.
ROOM_TEMPERATURE_C = 20.0

# Grams per equivalent, from IUPAC standard atomic weights: molar mass over the equivalents
# that react. H3PO4 is taken to its first end point (methyl orange, pH 4.5). Peracetic acid by
# iodide and thiosulfate, as is chlorine (expressed as Cl2) and iodine.
EQUIVALENT_WEIGHT_G: dict[str, float] = {
    "NaOH": 39.9971,
    "KOH": 56.1056,
    "HNO3": 63.0129,
    "H3PO4": 97.9952,
    "PAA": 38.0257,
    "H2O2": 17.0073,
    "chlorine": 35.453,
    "iodine": 126.9045,
}


class NotConvertible(ValueError):
    """Two bases that cannot be turned into each other with what is known."""


def titrated_strength_wv(
    *, equivalent_weight_g: float, titrant_ml: float, titrant_normality: float, sample_ml: float
) -> float:
    """Strength in % w/v from a titration of one end point.

    c [% w/v] = V [mL] · N [mol/L] · E [g/mol] / (10 · Vs [mL]).

    ``titrant_ml`` mL of titrant of ``titrant_normality`` eq/L for a sample of ``sample_ml`` mL;
    ``equivalent_weight_g`` g of active substance per equivalent, as in
    ``EQUIVALENT_WEIGHT_G``. Raises ``ValueError`` for a volume or strength that cannot be.

    >>> round(titrated_strength_wv(equivalent_weight_g=EQUIVALENT_WEIGHT_G["NaOH"],
    ...                            titrant_ml=5, titrant_normality=1, sample_ml=10), 3)
    2.0
    """
    if titrant_ml < 0:
        raise ValueError("A titration cannot use a negative volume.")
    if titrant_normality <= 0 or sample_ml <= 0 or equivalent_weight_g <= 0:
        raise ValueError("Titrant strength, sample volume and equivalent must be above 0.")
    return titrant_ml * titrant_normality * equivalent_weight_g / (10 * sample_ml)


def wv_from_ww(
    *,
    substance: str,
    strength_ww: Numbers,
    temperature_c: "Numbers | float | FloatArray" = ROOM_TEMPERATURE_C,
) -> Numbers:
    """% w/v from % w/w: the strength by weight times the density in kg/L.

    ``substance`` is a key of ``SOLUTES``; ``strength_ww`` % w/w and ``temperature_c`` °C of the
    volume, numbers or arrays. Raises as :func:`~density.solution_density_kg_l`.

    >>> round(wv_from_ww(substance="NaOH", strength_ww=2), 3)
    2.041
    """
    return pointwise(
        lambda strength, temperature: (
            strength
            * solution_density_kg_l(
                solute=substance, strength_ww=strength, temperature_c=temperature
            )
        ),
        strength_ww,
        temperature_c,
    )


def ww_from_wv(
    *,
    substance: str,
    strength_wv: Numbers,
    temperature_c: "Numbers | float | FloatArray" = ROOM_TEMPERATURE_C,
) -> Numbers:
    """% w/w from % w/v, to 1e-9 %: w = c/ρ(w), repeated until it stands still.

    ``substance`` is a key of ``SOLUTES``; ``strength_wv`` % w/v and ``temperature_c`` °C of the
    volume, numbers or arrays. Raises :class:`OutOfRange` below 0, above the strongest solution
    with a known density, or outside its temperatures.

    >>> round(ww_from_wv(substance="NaOH", strength_wv=2.04), 3)
    1.999
    """
    strongest = known_solute(substance).strength_max_ww

    def strength_ww(wv: float, temperature_c: float) -> float:
        most = strongest * solution_density_kg_l(
            solute=substance, strength_ww=strongest, temperature_c=temperature_c
        )
        require(f"strength of {substance}", wv, unit="% w/v", minimum=0, maximum=most * (1 + 1e-12))
        # Each round is nearer than the last, and the first is the strongest there is: none
        # leaves the range of the density.
        ww = strongest
        for _ in range(200):
            following = wv / solution_density_kg_l(
                solute=substance, strength_ww=ww, temperature_c=temperature_c
            )
            following = min(following, strongest)
            if abs(following - ww) < 1e-10:
                return following
            ww = following
        raise OutOfRange(
            f"{digits(wv, 'g')} % w/v {substance} did not resolve to a strength by weight."
        )

    return pointwise(strength_ww, strength_wv, temperature_c)


def convert_strength(
    *,
    value: float,
    basis: str,
    to_basis: str,
    substance: str,
    product_strength_ww: float | None = None,
    product_density_kg_l: float | None = None,
) -> float:
    """``value`` of a ``substance``'s strength on another basis.

    ``basis`` and ``to_basis``: ``ww`` (% w/w active), ``wv`` (% w/v active), ``vv`` (% v/v of
    the product) or ``mg_l`` (mg/L active). ``product_strength_ww`` (% w/w) and
    ``product_density_kg_l`` (kg/L) describe the product, for ``vv``. Between ``ww`` and the
    volume bases the solution's density at 20 °C is used where there is a table of it; a
    solution weaker than 0.5 % of any other substance is taken as 1 kg/L (error below 0.5 %).
    Raises :class:`NotConvertible` or :class:`~density.OutOfRange`.

    >>> convert_strength(value=150, basis="mg_l", to_basis="wv", substance="PAA")
    0.015
    """
    if basis == to_basis:
        return value
    return _from_wv(
        _to_wv(value, basis, substance, product_strength_ww, product_density_kg_l),
        to_basis,
        substance,
        product_strength_ww,
        product_density_kg_l,
    )


def _product_g_per_100_ml(strength_ww: float | None, density_kg_l: float | None) -> float:
    if strength_ww is None or density_kg_l is None:
        raise NotConvertible("A strength in % v/v needs the concentrate's strength and density.")
    return strength_ww * density_kg_l


def _to_wv(
    value: float, basis: str, substance: str, strength_ww: float | None, density_kg_l: float | None
) -> float:
    match basis:
        case "wv":
            return value
        case "mg_l":
            return value / 10_000
        case "vv":
            return value / 100 * _product_g_per_100_ml(strength_ww, density_kg_l)
        case "ww" if substance in SOLUTES:
            return wv_from_ww(substance=substance, strength_ww=value)
        case "ww" if value <= 0.5:
            return value
    raise NotConvertible(f"There is no density table of {substance} to convert {basis} to % w/v.")


def _from_wv(
    value: float, basis: str, substance: str, strength_ww: float | None, density_kg_l: float | None
) -> float:
    match basis:
        case "wv":
            return value
        case "mg_l":
            return value * 10_000
        case "vv":
            return value * 100 / _product_g_per_100_ml(strength_ww, density_kg_l)
        case "ww" if substance in SOLUTES:
            return ww_from_wv(substance=substance, strength_wv=value)
        case "ww" if value <= 0.5:
            return value
    raise NotConvertible(f"There is no density table of {substance} to convert % w/v to {basis}.")
