"""Lethality of heat over a logged temperature: pasteurisation units, F and A0.

The rate is integrated, never the temperature: L = ∫ 10^((T − T_ref) / z) dt. Between two
readings the temperature is taken as a straight line, for which the integral has a closed form,
so that the result does not depend on how often the logger wrote. A gap longer than a stated
maximum is not bridged: nobody knows what happened in it.

References
----------
.. [1] Del Vecchio H.W., Dayharsh C.A., Baselt F.C., Proc. ASBC (1951) 45: PU = t · 1.393^(T − 60),
   which is z = 6.947 K, not 7.
.. [2] F0: z = 10 K, 121.1 °C; A0: z = 10 K, 80 °C, in seconds (ISO 15883-1). Definitions from
   memory.
"""

import dataclasses
import math
from typing import TYPE_CHECKING, cast

import numpy as np

from brewhygiene.quantities.style import digits
from brewhygiene.science.errors import Numbers, TooFewReadings, require

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

COLDEST_C = -50.0
HOTTEST_C = 250.0
GAPS_NAMED = 5


@dataclasses.dataclass(frozen=True)
class Reference:
    """What heat is measured against.

    ``rate_per_k`` is ln 10 / z, in 1/K; ``unit_s`` how many seconds one unit has.

    Units of different references answer for different organisms: never add them.
    """

    name: str
    unit: str
    reference_c: float
    rate_per_k: float
    unit_s: float = 60.0

    @property
    def z_k(self) -> float:
        """Rise in K that makes the heat ten times as lethal."""
        return math.log(10) / self.rate_per_k


PASTEURISATION = Reference("pasteurisation units", "PU", 60.0, math.log(1.393))
F0 = Reference("F0", "min", 121.1, math.log(10) / 10)
A0 = Reference("A0", "s", 80.0, math.log(10) / 10, unit_s=1.0)


def f_reference(*, reference_c: float, z_k: float) -> Reference:
    """F of any organism, in minutes at ``reference_c`` (°C, 40 to 150), with ``z_k`` (K, 2 to 50).

    Raises :class:`~brewhygiene.science.errors.OutOfRange`.

    >>> f_reference(reference_c=70, z_k=7.5).name
    'F at 70 °C, z 7.5 K'
    """
    require("reference temperature", reference_c, unit="°C", minimum=40, maximum=150)
    require("z", z_k, unit="K", minimum=2, maximum=50)
    return Reference(
        f"F at {digits(reference_c, 'g')} °C, z {digits(z_k, 'g')} K",
        "min",
        reference_c,
        math.log(10) / z_k,
    )


def lethal_rate(*, temperature_c: Numbers, reference: Reference = PASTEURISATION) -> Numbers:
    """How many times as lethal as the reference temperature: 10^((T − T_ref) / z), no unit.

    ``temperature_c`` °C, −50 to 250; ``reference`` as above. Raises
    :class:`~brewhygiene.science.errors.OutOfRange`.

    >>> round(lethal_rate(temperature_c=80), 3)  # 1 min at 80 °C, PU
    756.872
    """
    require("temperature", temperature_c, unit="°C", minimum=COLDEST_C, maximum=HOTTEST_C)
    above_k = np.asarray(temperature_c, dtype=float) - reference.reference_c
    rate = np.exp(reference.rate_per_k * above_k)
    return cast("Numbers", rate if rate.ndim else float(rate))


def held(
    *, minutes: Numbers, temperature_c: Numbers, reference: Reference = PASTEURISATION
) -> Numbers:
    """Lethality of a steady temperature, in the unit of ``reference``.

    ``minutes`` min from 0, at ``temperature_c`` °C, −50 to 250.

    Raises :class:`~brewhygiene.science.errors.OutOfRange`.

    >>> round(held(minutes=10, temperature_c=65), 4)
    52.4512
    >>> round(held(minutes=1, temperature_c=90, reference=A0), 6)
    600.0
    """
    require("time", minutes, unit="min", minimum=0)
    rate = lethal_rate(temperature_c=temperature_c, reference=reference)
    return rate * minutes * (60 / reference.unit_s)


@dataclasses.dataclass(frozen=True)
class Gap:
    """A stretch without readings, in seconds on the trace's own clock."""

    from_s: float
    until_s: float


@dataclasses.dataclass(frozen=True)
class Lethality:
    """Lethality of a trace in the unit of ``reference``, and what it is based on.

    ``counted_s`` seconds were integrated; ``not_bridged_s`` seconds lay in ``gap_count`` gaps
    longer than ``max_gap_s``, of which ``gaps`` names the first few. ``hottest_c`` and
    ``coldest_c`` are readings.
    """

    reference: Reference
    value: float
    counted_s: float
    readings: int
    coldest_c: float
    hottest_c: float
    max_gap_s: float
    gap_count: int
    not_bridged_s: float
    longest_gap_s: float
    gaps: tuple[Gap, ...]


def segments(
    seconds: "FloatArray", temperatures_c: "FloatArray", reference: Reference
) -> "FloatArray":
    """Lethality of each straight line from one reading to the next, in the unit of ``reference``.

    L = Δt · (r₂ − r₁) / x with x = ln 10 / z · (T₂ − T₁), and its series where x is small.
    ``seconds`` s and ``temperatures_c`` °C are arrays of one length; the result is one shorter.
    """
    rise = reference.rate_per_k * np.diff(temperatures_c)
    rate = np.exp(reference.rate_per_k * (temperatures_c - reference.reference_c))
    # Below 0.001 the difference of two nearly equal rates would lose more than the series leaves.
    small = np.abs(rise) < 1e-3
    mean = np.diff(rate) / np.where(small, 1.0, rise)
    x = rise[small]
    mean[small] = rate[:-1][small] * (1 + x / 2 * (1 + x / 3 * (1 + x / 4)))
    return np.diff(seconds) / reference.unit_s * mean


class LethalityTally:
    """Lethality added up over a trace that comes in parts, in the order of its times."""

    def __init__(self, *, reference: Reference = PASTEURISATION, max_gap_s: float = 60.0) -> None:
        """``max_gap_s`` s, above 0: the longest time between readings that a line may bridge."""
        require("longest gap to bridge", max_gap_s, unit="s", minimum=0, above=True)
        self.reference = reference
        self.max_gap_s = max_gap_s
        self._value = 0.0
        self._counted_s = 0.0
        self._readings = 0
        self._coldest_c = math.inf
        self._hottest_c = -math.inf
        self._gap_count = 0
        self._not_bridged_s = 0.0
        self._longest_gap_s = 0.0
        self._gaps: list[Gap] = []
        self._last_s: float | None = None
        self._last_c = 0.0

    def add(self, seconds: "FloatArray", temperatures_c: "FloatArray") -> None:
        """Add readings, °C at ``seconds`` s; NaN among ``temperatures_c`` is no reading.

        Raises ``ValueError`` for arrays of two lengths or times that go backwards, and
        :class:`~brewhygiene.science.errors.OutOfRange` for a temperature outside −50 to 250 °C.
        """
        seconds = np.asarray(seconds, dtype=float)
        temperatures_c = np.asarray(temperatures_c, dtype=float)
        if seconds.shape != temperatures_c.shape or seconds.ndim != 1:
            raise ValueError("Enter one temperature for each time.")
        known = ~np.isnan(temperatures_c)
        seconds, temperatures_c = seconds[known], temperatures_c[known]
        if not seconds.size:
            return
        require("temperature", temperatures_c, unit="°C", minimum=COLDEST_C, maximum=HOTTEST_C)
        self._readings += len(seconds)
        self._coldest_c = min(self._coldest_c, float(temperatures_c.min()))
        self._hottest_c = max(self._hottest_c, float(temperatures_c.max()))
        if self._last_s is not None:
            seconds = np.concatenate(([self._last_s], seconds))
            temperatures_c = np.concatenate(([self._last_c], temperatures_c))
        self._last_s, self._last_c = float(seconds[-1]), float(temperatures_c[-1])
        steps_s = np.diff(seconds)
        if not np.all(steps_s >= 0):
            at = int(np.flatnonzero(~(steps_s >= 0))[0])
            raise ValueError(
                f"Times go backwards: {digits(seconds[at + 1], 'g')} s comes after "
                f"{digits(seconds[at], 'g')} s."
            )
        bridged = steps_s <= self.max_gap_s
        self._value += float(segments(seconds, temperatures_c, self.reference)[bridged].sum())
        self._counted_s += float(steps_s[bridged].sum())
        for place in np.flatnonzero(~bridged):
            if len(self._gaps) < GAPS_NAMED:
                self._gaps.append(Gap(float(seconds[place]), float(seconds[place + 1])))
        gaps_s = steps_s[~bridged]
        if gaps_s.size:
            self._gap_count += len(gaps_s)
            self._not_bridged_s += float(gaps_s.sum())
            self._longest_gap_s = max(self._longest_gap_s, float(gaps_s.max()))

    def result(self) -> Lethality:
        """What was added up. Raises :class:`TooFewReadings` for fewer than two readings."""
        if self._readings < 2:
            raise TooFewReadings(
                f"A lethality needs at least two temperatures. Entered: {self._readings}."
            )
        return Lethality(
            reference=self.reference,
            value=self._value,
            counted_s=self._counted_s,
            readings=self._readings,
            coldest_c=self._coldest_c,
            hottest_c=self._hottest_c,
            max_gap_s=self.max_gap_s,
            gap_count=self._gap_count,
            not_bridged_s=self._not_bridged_s,
            longest_gap_s=self._longest_gap_s,
            gaps=tuple(self._gaps),
        )


def lethality(
    *,
    seconds: "FloatArray",
    temperatures_c: "FloatArray",
    reference: Reference = PASTEURISATION,
    max_gap_s: float = 60.0,
) -> Lethality:
    """Lethality of a logged trace, exact for straight lines between its readings.

    ``seconds`` s, in order, however uneven; ``temperatures_c`` °C, −50 to 250, NaN where there
    is no reading; ``reference`` as above; ``max_gap_s`` s, above 0: longer gaps are reported and
    not bridged. Raises :class:`TooFewReadings` for fewer than two, ``ValueError`` for times that
    go backwards, :class:`~brewhygiene.science.errors.OutOfRange` outside.

    >>> steady = lethality(seconds=np.array([0, 40, 60]), temperatures_c=np.array([80, 80, 80]))
    >>> round(steady.value, 3)  # 1 min at 80 °C [1]
    756.872
    """
    tally = LethalityTally(reference=reference, max_gap_s=max_gap_s)
    tally.add(seconds, temperatures_c)
    return tally.result()
