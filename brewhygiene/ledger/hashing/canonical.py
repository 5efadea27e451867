"""One text for one value: canonical JSON as RFC 8785 describes it.

Numbers are written as ECMAScript writes an IEEE 754 double, names are sorted by their UTF-16
units, and nothing stands between the tokens, so that the same content has the same bytes on
every machine and database.
"""

import hashlib
import math
from json.encoder import encode_basestring
from typing import Any

# Beyond this a double no longer tells two neighbouring whole numbers apart (RFC 8785, 3.2.2.3).
LARGEST_WHOLE = 2**53


class NotCanonical(ValueError):
    """A value that JSON has no one form for."""


def number_text(value: float) -> str:
    """A number as ECMAScript writes it (RFC 8785, 3.2.2.3).

    >>> [number_text(n) for n in (333333333.33333329, 1e30, 4.5, 2e-3, 1e-27, -0.0)]
    ['333333333.3333333', '1e+30', '4.5', '0.002', '1e-27', '0']
    """
    value = float(value)
    if not math.isfinite(value):
        raise NotCanonical(f"{value} is no JSON number.")
    if value == 0:
        return "0"
    if value < 0:
        return "-" + number_text(-value)
    mantissa, _, exponent = f"{value!r}".partition("e")
    whole, _, fraction = mantissa.partition(".")
    fraction = "" if fraction == "0" else fraction
    point = len(whole) + int(exponent or 0)
    digits = (whole + fraction).lstrip("0")
    point -= len(whole + fraction) - len(digits)
    digits = digits.rstrip("0")
    if 0 < point <= 21:
        if len(digits) <= point:
            return digits + "0" * (point - len(digits))
        return f"{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return "0." + "0" * -point + digits
    power = f"e{'+' if point > 0 else '-'}{abs(point - 1)}"
    return (digits if len(digits) == 1 else f"{digits[0]}.{digits[1:]}") + power


def canonical(value: Any) -> str:
    """The canonical JSON text of a value of plain Python types.

    >>> canonical([56, {"d": True, "10": None, "1": []}])
    '[56,{"1":[],"10":null,"d":true}]'
    """
    if value is None:
        return "null"
    if value is True:
        return "true"
    if value is False:
        return "false"
    if isinstance(value, str):
        return encode_basestring(value)
    if isinstance(value, int):
        return str(value) if abs(value) <= LARGEST_WHOLE else number_text(float(value))
    if isinstance(value, float):
        return number_text(value)
    if isinstance(value, list | tuple):
        return f"[{','.join(canonical(item) for item in value)}]"
    if isinstance(value, dict):
        names = sorted(value, key=lambda name: name.encode("utf-16-be"))
        return f"{{{','.join(f'{canonical(n)}:{canonical(value[n])}' for n in names)}}}"
    raise NotCanonical(f"{type(value).__name__} has no canonical JSON.")


def digest_of(text: str) -> str:
    """SHA-256 of a text's UTF-8 bytes, in hex."""
    return hashlib.sha256(text.encode()).hexdigest()
