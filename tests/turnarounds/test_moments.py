"""The moment of a sample: from the steps that ended, and those still to come."""

import pytest

from brewhygiene.turnarounds.moments import EndedStep, moment_of

Steps = list[str | tuple[str, bool]]


def moment(ended: Steps, still: list[str] | None = None) -> str:
    steps = [EndedStep(*one) if isinstance(one, tuple) else EndedStep(one) for one in ended]
    return moment_of(steps, still or []).value


@pytest.mark.parametrize(
    ("ended", "still", "found"),
    [
        (["caustic", "rinse", "acid", "rinse"], ["sanitiser", "drain"], "before_sanitiser"),
        (["caustic", "rinse"], ["hot_water"], "before_heat"),
        (["caustic", "rinse"], ["drain", "hot_water", "sanitiser"], "before_heat"),
        (["caustic", "rinse"], ["sanitiser", "hot_water"], "before_sanitiser"),
        (["caustic", ("rinse", True)], [], "rinse_proved"),
        (["caustic", ("rinse", True)], ["sample", "drain"], "rinse_proved"),
        (["caustic", ("rinse", False)], [], "unknown"),
        (["caustic", "rinse"], [], "unknown"),
        (["rinse", "sanitiser"], [], "in_sanitiser"),
        (["rinse", "sanitiser", "drain"], [], "in_sanitiser"),
        (["rinse", "sanitiser", "rinse"], [], "after_sanitiser"),
        (["rinse", "hot_water", "drain"], [], "after_sanitiser"),
        (["rinse", "hot_water", "rinse"], [], "after_sanitiser"),
        # A clean that is not through: what comes later would count, not this.
        (["caustic", "rinse"], ["acid", "rinse", "sanitiser"], "unknown"),
        (["rinse"], ["caustic", "rinse"], "unknown"),
        # What an agent left is no rinse.
        (["caustic"], ["sanitiser"], "unknown"),
        (["rinse", "acid"], ["sanitiser"], "unknown"),
        (["hot_water", "caustic"], ["hot_water"], "unknown"),
        # Backflushed with hot water first: that sanitises nothing.
        (["hot_water", "caustic", "rinse"], ["hot_water"], "before_heat"),
        (["pre_rinse"], ["sanitiser"], "unknown"),
        (["vent", "drain", "hand_clean"], [], "unknown"),
        ([], [], "unknown"),
    ],
    ids=str,
)
def test_moment_follows_from_the_steps(ended: Steps, still: list[str], found: str) -> None:
    assert moment(ended, still) == found
