"""The days of a set of limits: until when it judges, when it is looked at again, what is due."""

from collections.abc import Iterable
from datetime import date, timedelta

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.refusals import Refusal

SOON = timedelta(days=30)


def check_limit_days(*, today: date, review_on: date, valid_until: date | None) -> None:
    """Raise :class:`Refusal` where limits would be reviewed too late, or have run out already."""
    if review_on <= today:
        raise Refusal("The review date has to lie ahead.", field="review_on")
    if valid_until is not None and valid_until < review_on:
        raise Refusal(
            "They would run out before they are reviewed. From the day after, readings are "
            "unjudged: give a later last day, or an earlier review.",
            field="valid_until",
        )


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _in_days(day: date, today: date) -> str:
    left = (day - today).days
    return {0: "today", 1: "tomorrow"}.get(left, f"in {left} days")


def due_words(limits: LimitSet, *, today: date) -> str:
    """What is due of limits in force, as a sentence without their name; '' where nothing is."""
    last, review = limits.valid_until, limits.review_on
    if last is not None and last < today:
        return f"ran out after {_day(last)}: readings are unjudged until others are approved"
    if last is not None and last <= today + SOON:
        return f"run out after {_day(last)} ({_in_days(last, today)}): readings are unjudged then"
    if review < today:
        return f"were to be reviewed by {_day(review)}"
    if review <= today + SOON:
        return f"are to be reviewed by {_day(review)} ({_in_days(review, today)})"
    return ""


def due_sentences(sets: Iterable[LimitSet], *, today: date) -> list[str]:
    """A sentence for each approved set of ``sets`` that runs out or is to be reviewed soon."""
    return [
        f"The limits of {each.meter.name} with {each.atp_test.name}"
        f"{f' at {each.point}' if each.point else ''} {words}."
        for each in sets
        if each.approved_at is not None and (words := due_words(each, today=today))
    ]
