"""What holds for the whole pure layer: what it imports, and what its docstrings say."""

import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from brewhygiene import science

ROOT = Path(science.__file__).parents[2]
PREFIX = "brewhygiene.science."
MODULES = sorted(module.name for module in pkgutil.walk_packages(science.__path__, PREFIX))
# What a reading at the tank is judged with.
AT_THE_TANK = (
    "solutions.density",
    "solutions.strength",
    "judging",
    "solutions.titration",
    "solutions.two_end_points",
    "solutions.oxidants",
)
# The packages whose functions are sums with units; the others read files and judge rows.
SUMS = ("solutions", "tank", "counting")
HEAVY = {"numpy", "scipy", "statsmodels", "pandas", "polars", "thermo", "chemicals", "fluids"}
UNIT = re.compile(
    r"(%|°C|\bK\b|\bmL\b|\bL\b|\bhL\b|\bm\b|\bmm\b|\bm²|\bm³|\bcm²|\bkg\b|\bg\b|\bmg\b|\bmol\b|\beq\b"
    r"|\bg/mol\b|\bmS/cm\b|\bmin\b|\bs\b|\bh\b|\bkPa\b|\bPa\b|\bbar\b|\bmbar\b|\bkJ\b|\bkWh\b"
    r"|\bRLU\b|\bPU\b|\bunit\b|\bunits\b|\bvolumes\b|-fold\b|\bdigits\b)"
)


def public_functions() -> Iterator[Callable[..., object]]:
    """The computations; the packages beside them read files, where most words have no unit."""
    for name in MODULES:
        package, _, inner = name.removeprefix(PREFIX).partition(".")
        if inner and package not in SUMS:
            continue
        module = importlib.import_module(name)
        for attribute, value in vars(module).items():
            if (
                inspect.isfunction(value)
                and value.__module__ == module.__name__
                and not attribute.startswith("_")
            ):
                yield value


FUNCTIONS = [
    pytest.param(function, id=f"{function.__module__}.{function.__name__}".removeprefix(PREFIX))
    for function in public_functions()
]


@pytest.mark.parametrize("function", FUNCTIONS)
def test_docstring_names_every_parameter_and_a_unit(function: Callable[..., object]) -> None:
    said = inspect.getdoc(function) or ""
    prose = said.split(">>>")[0]
    missing = [
        name for name in inspect.signature(function).parameters if f"``{name}``" not in prose
    ]
    assert missing == []
    assert UNIT.search(prose), "It names no unit."


@pytest.mark.parametrize("name", MODULES)
def test_module_imports_neither_django_nor_the_rooms(name: str) -> None:
    source = inspect.getsource(importlib.import_module(name))
    imported = re.findall(r"^\s*(?:from|import) ([\w.]+)", source, flags=re.MULTILINE)
    outside = [
        module
        for module in imported
        if module.startswith("django")
        or (module.startswith("brewhygiene") and not module.startswith("brewhygiene.science"))
    ]
    # How a figure is written for whoever looks, which imports nothing itself.
    outside = [module for module in outside if module != "brewhygiene.quantities.style"]
    assert outside == []


def loaded_by(statements: str) -> set[str]:
    """The heavy libraries that a fresh interpreter has loaded after ``statements``."""
    script = f"import sys\n{statements}\nprint(*({HEAVY!r} & sys.modules.keys()))"
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, check=True, capture_output=True, text=True
    )
    return set(done.stdout.split())


DJANGO = (
    "import os, django\nos.environ['DJANGO_SETTINGS_MODULE'] = 'tests.settings'\ndjango.setup()\n"
)


def test_start_of_the_program_loads_no_heavy_library() -> None:
    assert (
        loaded_by(f"{DJANGO}import brewhygiene.urls, brewhygiene.turnarounds.quantities") == set()
    )


def test_what_is_needed_at_the_tank_is_imported_without_a_heavy_library() -> None:
    names = ", ".join(f"{PREFIX}{name}" for name in AT_THE_TANK)
    assert loaded_by(f"import {names}") == set()


def test_a_sum_loads_what_it_needs() -> None:
    """So that the two tests above would see it."""
    loaded = loaded_by(
        "from brewhygiene.science.solutions.density import water_density_kg_l\n"
        "water_density_kg_l(temperature_c=20)"
    )
    assert {"numpy", "thermo"} <= loaded
    assert "pandas" not in loaded
