"""Recovery of a positive in a sanitiser against a worked example."""

from collections.abc import Callable

from brewhygiene.science.agreement.recovery import recovery_of

Published = Callable[..., None]
WORKED = (
    "Spike recovery against a reference, Welch interval of the log ratio, computed with SciPy; "
    "the readings are a made example"
)


def test_worked_recovery_in_a_sanitiser(published: Published) -> None:
    found = recovery_of(
        water=[1040, 985, 1120, 890, 1010, 960],
        sanitiser=[870, 930, 790, 905, 840, 880],
        water_blank=1,
        sanitiser_blank=1 / 3,
    )
    for name, value, expected, off in (
        ("recovery, %", 100 * found.ratio, 86.996, 5e-4),
        ("lower end, %", 100 * found.low, 80.946, 5e-4),
        ("upper end, %", 100 * found.high, 93.497, 5e-4),
        ("degrees of freedom", found.degrees_of_freedom, 9.243, 5e-4),
    ):
        published(name, value, expected, WORKED, off)
    assert found.proved
