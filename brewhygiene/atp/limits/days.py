"""The days of a set of limits: until when it is valid, when its review is due."""

from collections.abc import Iterable
from datetime import date, timedelta

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.quantities.style import shown_moment
from brewhygiene.refusals import Refusal

SOON = timedelta(days=30)


def check_limit_days(*, today: date, review_on: date, valid_until: date | None) -> None:
    """Raise :class:`Refusal` where limits would end before their review, or have ended."""
    if review_on <= today:
        raise Refusal("Enter a review date after today.", field="review_on")
    if valid_until is not None and valid_until < review_on:
        raise Refusal(
            "These limits would end before their review. Enter a later last day, or an earlier "
            "review.",
            field="valid_until",
        )


def day_words(day: date) -> str:
    """As “9 March 2026”."""
    return f"{shown_moment(day, 'j F Y')}"


def _in_days(day: date, today: date) -> str:
    left = (day - today).days
    return {0: "today", 1: "tomorrow"}.get(left, f"in {left} days")


def due_words(limits: LimitSet, *, today: date) -> str:
    """What is due of limits in force, after their name; '' where nothing is."""
    last, review = limits.valid_until, limits.review_on
    if last is not None and last < today:
        return (
            f"were valid until {day_words(last)}. "
            "Readings are unjudged until new limits are approved"
        )
    if last is not None and last <= today + SOON:
        return (
            f"are valid until {day_words(last)} ({_in_days(last, today)}). "
            "Later readings are unjudged"
        )
    if review < today:
        return f"are overdue for review since {day_words(review)}"
    if review <= today + SOON:
        return f"are due for review on {day_words(review)} ({_in_days(review, today)})"
    return ""


def due_sentences(sets: Iterable[LimitSet], *, today: date) -> list[str]:
    """A sentence for each approved set of ``sets`` whose last day or review is near."""
    return [
        f"The limits of {each.meter.name} with {each.atp_test.name}"
        f"{f' at {each.point}' if each.point else ''} {words}."
        for each in sets
        if each.approved_at is not None and (words := due_words(each, today=today))
    ]
