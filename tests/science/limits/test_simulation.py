"""The kept table of the simulation, and what is said by it."""

import math

import pytest

from brewhygiene.atp.baselines.words import SIMULATED
from brewhygiene.science.limits.side_by_side import LOGS, METHODS, RAW, TOLERANCE
from tests.simulation.limits import SHAPES, SIZES, Line, read, simulate

NAMES = {RAW: "raw, exact k", LOGS: "logs, exact k"}


@pytest.fixture(scope="module")
def kept() -> dict[tuple[str, int, str, str], Line]:
    return {line.key: line for line in read()}


def test_table_has_every_shape_size_method_and_level(
    kept: dict[tuple[str, int, str, str], Line],
) -> None:
    methods = {key[2] for key in kept}
    assert methods == {NAMES.get(code, code) for code in METHODS} | {
        "raw, k 2 and 3",
        "logs, k 2 and 3",
    }
    assert len(kept) == len(SHAPES) * len(SIZES) * len(methods) * 2


def far(ours: float, theirs: float, *errors: float) -> bool:
    """Five standard errors apart: by chance less than once in a million."""
    return abs(ours - theirs) > 5 * math.hypot(*errors) + 0.01


def test_small_run_of_other_chance_agrees_with_the_table(
    kept: dict[tuple[str, int, str, str], Line],
) -> None:
    for line in simulate(baselines=500, sizes=(20, 60), seed=77):
        table = kept[line.key]
        assert (line.false_alarm_percent is None) == (table.false_alarm_percent is None)
        if line.false_alarm_percent is None:
            continue
        apart = far(
            line.false_alarm_percent,
            table.false_alarm_percent,
            line.false_alarm_error,
            table.false_alarm_error,
        )
        assert not apart, (line, table)
        apart = far(
            line.attained_percent,
            table.attained_percent,
            line.attained_error,
            table.attained_error,
        )
        assert not apart, (line, table)


@pytest.mark.parametrize("code", METHODS)
def test_words_about_a_method_are_those_of_the_table(
    kept: dict[tuple[str, int, str, str], Line], code: str
) -> None:
    said = SIMULATED[code]
    lines = [kept[shape.name, said.readings, NAMES.get(code, code), said.level] for shape in SHAPES]
    above = [line.false_alarm_percent for line in lines]
    sure = [line.attained_percent for line in lines]
    assert said.above == (round(min(above), 1), round(max(above), 1))
    assert said.sure == (round(min(sure)), round(max(sure)))


@pytest.mark.parametrize("readings", [60, 120])
def test_bound_keeps_its_confidence_whatever_the_shape(
    kept: dict[tuple[str, int, str, str], Line], readings: int
) -> None:
    for shape in SHAPES:
        line = kept[shape.name, readings, TOLERANCE, "alert"]
        assert line.attained_percent + 3 * line.attained_error >= 95
