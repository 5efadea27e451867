"""Ends and ticks of axes."""

import zoneinfo
from datetime import UTC, datetime, timedelta

import pytest

from brewhygiene.drawing.figure import Axis, Bars, Dots, Level, Moment, Panel, Spread
from brewhygiene.drawing.scales import (
    number_of,
    number_ticks,
    numbers,
    own_y,
    scale_of,
    shared_x,
    time_ticks,
)

VIENNA = zoneinfo.ZoneInfo("Europe/Vienna")
START = datetime(2026, 3, 2, 8, tzinfo=UTC)


def words(ticks: list[tuple[float, str]]) -> list[str]:
    return [each for _, each in ticks]


@pytest.mark.parametrize(
    ("low", "high", "most", "shown"),
    [
        (0.0, 1.0, 6, ["0", "0.2", "0.4", "0.6", "0.8", "1"]),
        (0.0, 97.0, 5, ["0", "20", "40", "60", "80"]),
        (-2.3, 7.1, 5, ["\u22122", "0", "2", "4", "6"]),
        (0.0, 12_000.0, 4, ["0", "5000", "10000"]),
        (0.00012, 0.00019, 4, ["0.00012", "0.00014", "0.00016", "0.00018"]),
    ],
)
def test_number_ticks_are_round(low: float, high: float, most: int, shown: list[str]) -> None:
    assert words(number_ticks(low, high, most)) == shown


@pytest.mark.parametrize(
    ("span", "shown"),
    [
        (timedelta(hours=3), ["09:00", "10:00", "11:00", "12:00"]),
        (timedelta(days=4), ["3 Mar", "4 Mar", "5 Mar", "6 Mar"]),
        (timedelta(days=30), ["9 Mar", "16 Mar", "23 Mar", "30 Mar"]),
        (timedelta(days=130), ["Apr 2026", "May", "Jun", "Jul"]),
        (timedelta(days=400), ["Apr 2026", "Jul", "Oct", "Jan 2027", "Apr"]),
        (timedelta(days=1500), ["2027", "2028", "2029", "2030"]),
    ],
)
def test_time_ticks_are_round_by_the_wall_clock(span: timedelta, shown: list[str]) -> None:
    ticks = time_ticks(START.timestamp(), (START + span).timestamp(), 5, VIENNA)
    assert words(ticks) == shown


def test_day_ticks_stand_at_midnight_through_a_change_of_clocks() -> None:
    """Summer time began in Austria on 29 March 2026."""
    low = datetime(2026, 3, 28, 1, tzinfo=VIENNA)
    ticks = time_ticks(low.timestamp(), (low + timedelta(days=3)).timestamp(), 6, VIENNA)
    shown = [datetime.fromtimestamp(at, VIENNA) for at, _ in ticks if at % 3600 == 0]
    midnights = [each for each in shown if each.hour == 0]
    assert [each.day for each in midnights] == [29, 30, 31]
    hours = (midnights[1].timestamp() - midnights[0].timestamp()) / 3600
    assert hours == 23


def test_range_leaves_room_around_what_is_shown() -> None:
    scale = scale_of(Axis(), [10.0, 30.0])
    assert (scale.low, scale.high) == (9.0, 31.0)


def test_range_of_equal_values_is_not_empty() -> None:
    scale = scale_of(Axis(), [0.0, 0.0])
    assert (scale.low, scale.high) == (-0.5, 0.5)
    assert scale.share(0.0) == 0.5


def test_bounds_of_an_axis_win() -> None:
    scale = scale_of(Axis(low=0, high=100), [20.0, 300.0])
    assert (scale.low, scale.high) == (0.0, 100.0)


def test_bars_stand_on_nothing() -> None:
    panel = Panel(x=Axis(), y=Axis(), marks=[Bars(at=[1, 2], length=[5, 20])])
    scale = own_y(panel)
    assert (scale.low, scale.high) == (0.0, 21.0)
    assert (shared_x([panel]).low, shared_x([panel]).high) == (0.6 - 0.09, 2.4 + 0.09)


def test_panels_share_the_range_of_x() -> None:
    one = Panel(x=Axis(), y=Axis(), marks=[Dots(x=[0, 10], y=[1, 2])])
    two = Panel(x=Axis(), y=Axis(), marks=[Dots(x=[50, 100], y=[1, 2]), Moment(x=-10)])
    scale = shared_x([one, two])
    assert (scale.low, scale.high) == (-15.5, 105.5)


def test_levels_and_intervals_count_into_the_range() -> None:
    panel = Panel(
        x=Axis(),
        y=Axis(),
        marks=[Spread(at=[1], low=[-4], middle=[0], high=[None]), Level(y=16)],
    )
    scale = own_y(panel)
    assert (scale.low, scale.high) == (-5.0, 17.0)


def test_numbers_that_cannot_be_drawn_are_refused() -> None:
    with pytest.raises(ValueError, match="nan cannot be drawn"):
        numbers([1.0, float("nan")], Axis())
    with pytest.raises(ValueError, match="“FV-9” is no category"):
        number_of("FV-9", Axis(kind="category", categories=("FV-1",)))


def test_ticks_given_are_thinned_to_what_fits() -> None:
    axis = Axis(ticks=tuple((float(n), str(n)) for n in range(10)))
    assert words(scale_of(axis, [0.0, 9.0]).ticks(5, UTC)) == ["0", "2", "4", "6", "8"]
