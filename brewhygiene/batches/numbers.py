"""Numbers of batches, crops and lots: typed by people, compared without regard to case."""


def key_of(number: str) -> str:
    """What two spellings of one number have in common, whatever the database compares by.

    >>> key_of(" B 26-031 ") == key_of("b  26-031")
    True
    """
    return " ".join(number.split()).casefold()


def tidy(number: str) -> str:
    """A number as it is kept: as typed, without spare blanks."""
    return " ".join(number.split())
