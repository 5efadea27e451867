"""What a verb changed, as the ledger keeps it: every changed value before and after."""

from datetime import date, time
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from brewhygiene.refusals import Refusal


def as_value(value: Any) -> Any:
    """As the ledger's JSON keeps it: numbers, words and times as they are, the rest by name."""
    if value is None or isinstance(value, bool | int | float | str | list | dict):
        return value
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value)


def values_of(record: models.Model, names: list[str]) -> dict[str, Any]:
    """The named values of a record, for the ledger. May query for a named foreign key."""
    return {name: as_value(getattr(record, name)) for name in names}


def change(record: models.Model, **new: Any) -> dict[str, dict[str, Any]]:
    """Set new values on a record, unsaved, and tell which changed: ``{"before", "after"}``."""
    names = [name for name, value in new.items() if getattr(record, name) != value]
    before = values_of(record, names)
    for name in names:
        setattr(record, name, new[name])
    return {"before": before, "after": values_of(record, names)}


def refuse_invalid(record: models.Model) -> None:
    """Refuse the first value that its own field would not hold, whatever form it came from."""
    try:
        record.clean_fields()
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise Refusal(messages[0], field=field, code="invalid") from error
