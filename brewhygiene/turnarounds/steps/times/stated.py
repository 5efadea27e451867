"""What somebody says was read in a step that ran without its timer."""

import dataclasses


@dataclasses.dataclass(frozen=True)
class StatedReading:
    """What somebody says was read in a step: a value in the unit of its quantity's name."""

    quantity: str
    value: float
    basis: str = ""
