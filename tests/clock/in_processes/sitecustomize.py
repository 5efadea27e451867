"""Gives the suite's clock to every Python that a test starts, before it does anything else.

Python imports a module of this name by itself when it starts; the product knows nothing of it.
"""

import os
import time

import time_machine


def go_by(told: str) -> None:
    """Tick on from the time that was told, by as much as has passed since."""
    then, real = map(float, told.split())
    time_machine.travel(then + time.time() - real, tick=True).start()


if __name__ == "sitecustomize" and (told := os.environ.get("CLOCK_OF_THE_SUITE")):
    go_by(told)
