"""Names in the order in which people count: FV 2 before FV 10, on every database alike."""

import re
import unicodedata
from typing import Any

from django.db import models

# More digits than any name has; a longer number is compared by its first digits.
PADDED_TO = 10
KEY_LENGTH = 1200


def natural_key(name: str) -> str:
    """What a name is sorted by: its numbers padded, without regard to case, accents and blanks.

    In the digits of a hexadecimal number, which every collation orders alike.

    >>> sorted(["FV 10", "fv2", "FV 1", "Överjäst"], key=natural_key)
    ['FV 1', 'fv2', 'FV 10', 'Överjäst']
    """
    plain = "".join(
        letter
        for letter in unicodedata.normalize("NFKD", name.casefold())
        if not unicodedata.combining(letter)
    )
    padded = re.sub(r"[0-9]+", lambda found: found[0].lstrip("0").rjust(PADDED_TO, "0"), plain)
    return "".join(padded.split()).encode().hex()[:KEY_LENGTH]


class SortKeyField(models.CharField):  # type: ignore[type-arg]
    """The stored key of the name in another field; written whenever that is."""

    def __init__(self, *, source: str = "name", **kwargs: Any) -> None:
        self.source = source
        super().__init__(
            **{
                "max_length": KEY_LENGTH,
                "blank": True,
                "default": "",
                "editable": False,
                "db_index": True,
                **kwargs,
            }
        )

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        return name, path, args, {**kwargs, "source": self.source}

    def pre_save(self, model_instance: models.Model, add: bool) -> str:
        key = natural_key(getattr(model_instance, self.source))
        setattr(model_instance, self.attname, key)
        return key


def keys_with(model: type[models.Model], names: Any) -> dict[str, str]:
    """The sort keys that have to be written with these fields: their names, by their sources."""
    return {
        field.source: field.name
        for field in model._meta.concrete_fields
        if isinstance(field, SortKeyField) and field.source in names
    }
