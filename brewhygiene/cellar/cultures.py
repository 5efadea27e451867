"""Which beers a piece of gear is for: those of one yeast, those of a mixed culture, or either."""

from django.db import models


class CultureUse(models.TextChoices):
    """The tag of a vessel, a hose set or other gear."""

    EITHER = "either", "any beer"
    CLEAN = "clean", "no mixed culture"
    MIXED = "mixed", "mixed culture only"


def forbids(use: str, *, mixed: bool) -> bool:
    """Whether gear of a tag may not see a beer that is, or is not, of a mixed culture.

    >>> [forbids(use, mixed=True) for use in ("either", "clean", "mixed")]
    [False, True, False]
    >>> [forbids(use, mixed=False) for use in ("either", "clean", "mixed")]
    [False, False, True]
    """
    return use == (CultureUse.CLEAN if mixed else CultureUse.MIXED)
