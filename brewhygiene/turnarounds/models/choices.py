"""The closed lists of a turnaround's tables."""

from django.db import models


class CleanPurpose(models.TextChoices):
    CLEAN = "clean", "clean"
    RESANITISE = "resanitise", "re-sanitise"
    BEFORE_FILLING = "sanitise", "sanitise before filling"


class Outflow(models.TextChoices):
    """Where water or solution of a step went."""

    DUMPED = "dumped", "to the drain"
    RETURNED = "returned", "back to the tank"


class ReadingStage(models.TextChoices):
    START = "start", "at the start"
    RETURN = "return", "at the return"
    END = "end", "at the end"
    SUPPLY = "supply", "of the supply water"


class WindowVerdict(models.TextChoices):
    WITHIN = "within", "within its window"
    BELOW = "below", "below its window"
    ABOVE = "above", "above its window"
    NO_WINDOW = "no_window", "no window set"
