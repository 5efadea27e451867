"""The pictures of a bridge study as data."""

import math

import pytest

from brewhygiene.atp.bridges.actions import PairValues
from brewhygiene.atp.bridges.figures import difference_figure, scale_names, scatter_figure
from brewhygiene.atp.bridges.queries import sort_pairs
from brewhygiene.atp.bridges.study import Study as Found
from brewhygiene.atp.bridges.study import study_of
from brewhygiene.drawing.figure import Band, Dots, Level, Line
from brewhygiene.drawing.svg import svg_of
from tests.atp.bridges.scenes import Study, pairs

pytestmark = pytest.mark.django_db


def found(study: Study) -> Found:
    return study_of(sort_pairs(study.bridge), [study.cellar.limits])


def test_scatter_shows_every_pair_and_three_lines() -> None:
    study = Study()
    figure = scatter_figure(study.bridge, found(study))
    assert figure is not None
    (panel,) = figure.panels
    lines = [mark.name for mark in panel.marks if isinstance(mark, Line)]
    assert lines == ["equal readings", "Deming", "Passing–Bablok"]
    (dots,) = [mark for mark in panel.marks if isinstance(mark, Dots)]
    assert len(dots.x) == len(dots.words) == len(figure.table.rows) == 40
    assert dots.x[0] == math.log10(1 + int(figure.table.rows[0][1]))
    assert [mark.name for mark in panel.marks if isinstance(mark, Band)] == [
        "Deming, 95 % interval"
    ]
    assert "nan" not in svg_of(figure).lower()


def test_scatter_without_a_fit_shows_the_pairs_and_says_so() -> None:
    study = Study(count=6)
    figure = scatter_figure(study.bridge, found(study))
    assert figure is not None
    assert figure.says == "No line: the pairs do not allow one."
    assert [mark.name for mark in figure.panels[0].marks if isinstance(mark, Line)] == [
        "equal readings"
    ]


@pytest.mark.parametrize("count", [0, 1, 2])
def test_two_pairs_are_no_picture(count: int) -> None:
    study = Study(count=count)
    assert scatter_figure(study.bridge, found(study)) is None
    assert difference_figure(study.bridge, found(study)) is None


def test_differences_show_the_mean_and_both_limits_as_ratios() -> None:
    study = Study()
    figure = difference_figure(study.bridge, found(study))
    assert figure is not None
    levels = [mark for mark in figure.panels[0].marks if isinstance(mark, Level)]
    assert levels[0].words == "mean, × 0.71"
    low, high = levels[1].y, levels[2].y
    assert low < levels[0].y < high
    assert levels[0].y == pytest.approx((low + high) / 2)
    assert figure.says.startswith("On average New meter reads 0.71 times ")


@pytest.mark.parametrize(
    "rows",
    [[PairValues(7, 7)] * 25, [PairValues(n, n) for n in range(25)], [PairValues(0, 0)] * 25,
     [PairValues(0, 9_999_999)] * 25, [*pairs(), PairValues(9_999_999, 0)]],
    ids=["all equal", "identical", "all zero", "enormous", "one enormous"],
)  # fmt: skip
def test_odd_pairs_are_drawn_without_a_number_that_is_none(rows: list[PairValues]) -> None:
    study = Study(count=0)
    study.add(rows)
    shown = found(study)
    for figure in (scatter_figure(study.bridge, shown), difference_figure(study.bridge, shown)):
        assert figure is not None
        drawn = svg_of(figure).lower()
        assert "nan" not in drawn
        assert "inf" not in drawn


def test_scales_are_named_by_what_differs() -> None:
    study = Study(count=0)
    bridge = study.bridge
    assert scale_names(bridge) == (study.cellar.meter.name, "New meter")
    bridge.new_meter = bridge.reference_meter
    bridge.new_atp_test.name = "Rinse sampler B"
    assert scale_names(bridge)[1] == "Rinse sampler B"
