"""Which numbers an ATP meter can show."""

from brewhygiene.refusals import Refusal

MAX_RLU = 9_999_999


def check_rlu(value: int, *, field: str) -> None:
    if not 0 <= value <= MAX_RLU:
        raise Refusal(
            f"{value} RLU is not possible. Enter a whole number from 0 to {MAX_RLU}.", field=field
        )
