"""Which numbers a meter can show."""

from brewhygiene.refusals import Refusal

MAX_RLU = 9_999_999


def check_rlu(value: int, *, field: str) -> None:
    if not 0 <= value <= MAX_RLU:
        raise Refusal(
            f"{value} RLU cannot be. Meters show whole numbers from 0 to {MAX_RLU}.", field=field
        )
