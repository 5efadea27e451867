"""Which PINs are too easily guessed. Common practice, no source."""

from itertools import pairwise

LEAST_DIGITS, MOST_DIGITS = 4, 12
KEYPAD = {str(n): divmod(n - 1, 3) for n in range(1, 10)} | {"0": (3, 1)}
YEARS = range(1900, 2100)
# Down or up a column that ends at the 0, which stands below the middle one.
COLUMNS = frozenset({"1470", "0741", "3690", "0963"})


def is_obvious(pin: str) -> bool:
    """Whether a PIN is among the first that anybody would try.

    >>> [is_obvious(pin) for pin in ("1111", "2345", "1987", "7373", "4422", "2580", "4826")]
    [True, True, True, True, True, True, False]
    """
    steps = {int(b) - int(a) for a, b in pairwise(pin)}
    half = len(pin) // 2
    return (
        len(steps) == 1
        or len(set(pin)) == 1
        or (len(pin) == 4 and int(pin) in YEARS)
        or (len(pin) % 2 == 0 and pin[:half] == pin[half:])
        or (len(pin) % 2 == 0 and all(a == b for a, b in zip(pin[::2], pin[1::2], strict=True)))
        or pin == pin[::-1]
        or _is_line(pin)
    )


def _is_line(pin: str) -> bool:
    """Whether each digit is the next key in one direction, or the keys go round the corners."""
    places = [KEYPAD[digit] for digit in pin]
    moves = {(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(places)}
    corners = set(pin) == set("1379")
    return corners or pin in COLUMNS or (len(moves) == 1 and moves != {(0, 0)})
