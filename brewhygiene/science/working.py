"""The working of a sum, line by line, so that a person can follow it and do it again by hand."""

import dataclasses

from brewhygiene.quantities.style import signed


@dataclasses.dataclass(frozen=True)
class WorkingLine:
    """One line of a sum.

    ``label`` names what is found, ``formula`` is the rule in symbols or words, ``numbers`` the
    same rule with its numbers in place, ``value`` what comes out and ``unit`` its unit (empty
    for a pure number).

    >>> print(WorkingLine("cross-section", "A = π D² / 4", "π × 0.05² / 4", 0.0019635, "m²"))
    cross-section: A = π D² / 4 = π × 0.05² / 4 = 0.0019635 m²
    """

    label: str
    formula: str
    numbers: str
    value: float
    unit: str = ""

    def __str__(self) -> str:
        after = f" {self.unit}" if self.unit else ""
        return f"{self.label}: {self.formula} = {self.numbers} = {shown(self.value)}{after}"


def shown(value: float, *, significant: int = 5) -> str:
    """``value`` with ``significant`` digits, without an exponent and without trailing
    zeros, in the style in force.

    >>> shown(182000.4), shown(0.00075131), shown(12.0)
    ('182000', '0.00075131', '12')
    """
    if value == 0:
        return "0"
    digits = f"{value:.{significant}g}"
    if "e" not in digits:
        return signed(digits)
    plain = f"{float(digits):.15f}"
    return signed(plain.rstrip("0").rstrip(".") if "." in plain else plain)
