"""When a sample is taken: the moments of a clean that readings can be compared at."""

from django.db import models


class SamplingMoment(models.TextChoices):
    """The closed list. Limits set at one moment judge no reading of another."""

    BEFORE_SANITISER = "before_sanitiser", "last rinse, before the sanitiser"
    BEFORE_HEAT = "before_heat", "cooled rinse, before heat"
    RINSE_PROVED = "rinse_proved", "after the rinse is proved"
    IN_SANITISER = "in_sanitiser", "in the sanitiser"
    AFTER_SANITISER = "after_sanitiser", "after the sanitiser or heat"
    UNKNOWN = "unknown", "moment not known"


# What a person can choose; unknown is what was never stated.
STATED_MOMENTS = [choice for choice in SamplingMoment.choices if choice[0] != "unknown"]
# A sample of these is taken while the clean runs, at its sample step.
DURING_THE_CLEAN = frozenset({SamplingMoment.BEFORE_SANITISER, SamplingMoment.BEFORE_HEAT})
_AFTER_THOSE = frozenset({SamplingMoment.IN_SANITISER, SamplingMoment.AFTER_SANITISER})


def taken_late(meant: str, taken: str) -> bool:
    """Whether a sample ``meant`` for a moment before the sanitiser was ``taken`` after it."""
    return meant in DURING_THE_CLEAN and taken in _AFTER_THOSE
