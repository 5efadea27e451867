"""GS1 check digits, and product numbers (GTIN) as every length that a package carries."""

# EAN-8, UPC, EAN-13 and the 14 digits of a case; shorter ones are the same number with zeros.
GTIN_LENGTHS = (8, 12, 13, 14)
GTIN_DIGITS = 14


def check_digit(digits: str) -> int:
    """The digit that follows ``digits``: weights 3, 1, 3 ... from the right, up to the next ten.

    GS1 General Specifications, 7.9.

    >>> check_digit("629104150021")
    3
    """
    total = sum(int(digit) * (3, 1)[place % 2] for place, digit in enumerate(reversed(digits)))
    return -total % 10


def is_number(text: str) -> bool:
    """Whether a text is digits of ASCII only; Python's own word takes those of every script."""
    return text.isascii() and text.isdigit()


def has_check_digit(digits: str) -> bool:
    """Whether the last of these digits is the check digit of those before it."""
    return check_digit(digits[:-1]) == int(digits[-1])


def is_gtin(text: str) -> bool:
    """Whether a bare text is a product number: its length, digits only, its check digit."""
    return len(text) in GTIN_LENGTHS and is_number(text) and has_check_digit(text)


def whole_gtin(text: str) -> str:
    """A product number in its 14 digits, by which it is compared and kept."""
    return text.zfill(GTIN_DIGITS)
