"""Where every measured value is from: each table says so, and each write gives it."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

import brewhygiene
from brewhygiene.ledger.places import Evidence
from brewhygiene.quantities.sources import UNRECORDED, ValueSource, source_of_correction

ROOT = Path(brewhygiene.__file__).parent
OWN = {model.__name__: model for model in apps.get_app_config("brewhygiene").get_models()}

# Numbers that nobody measured, by table: why they need no source.
NOT_MEASURED = {
    "Arrival": "what a tablet's clock was corrected by",
    "Batch": "how much was brewed, declared by the brewer; no check judges it",
    "BrewCorrection": "a number, units or a volume declared anew, with its reason",
    "Bridge": "a line through the pairs of a study, which have their sources",
    "Clean": "a regime's level",
    "Fill": "how much was filled, declared by who filled; no check judges it",
    "Hold": "a rank",
    "LimitSet": "chosen and signed, with a source of its own kind",
    "LoggerFile": "a file's size",
    "Lot": "what was packaged, declared",
    "MaterialLabel": "the strength up to which a label allows, from the file kept with it",
    "Movement": "what was moved and lost, declared; its balance is shown",
    "RecallDrill": "what was counted in stock, with who counted it",
    "Shipment": "units shipped, declared",
    "SolutionTopUp": "what was added, declared; the strength is read again after it",
    "StepRecord": "the number of an attempt",
    "Touch": "the order of what a movement went through",
    "Turnaround": "a revision",
    "Validation": "how many tests a report counts, with the report's reference",
    "YeastCrop": "what its supplier or laboratory says of it; no check judges it",
}


def measured(model: type[models.Model]) -> list[str]:
    """The numbers that a table keeps besides keys."""
    return [
        field.name
        for field in model._meta.concrete_fields
        if isinstance(field, models.FloatField | models.IntegerField | models.DecimalField)
        and not field.primary_key
        and not field.is_relation
    ]


EVIDENCE = {name: model for name, model in OWN.items() if issubclass(model, Evidence)}
WITH_VALUES = {name for name, model in EVIDENCE.items() if measured(model)}
SOURCED = sorted(WITH_VALUES - set(NOT_MEASURED))


def test_tables_with_a_source_are_these() -> None:
    assert SOURCED == [
        "BridgePair",
        "ControlCheck",
        "DishCount",
        "EntryPermit",
        "GearRinse",
        "Plate",
        "PlateCorrection",
        "RecoveryStudy",
        "Result",
        "Solution",
        "SolutionCheck",
        "StepReading",
    ]
    # A table that is named here and keeps no number any more is named for nothing.
    assert set(NOT_MEASURED) <= WITH_VALUES


@pytest.mark.parametrize("name", SOURCED)
def test_a_table_with_a_measured_value_says_where_it_is_from(name: str) -> None:
    """From the closed list and without a default, so that a write has to say it."""
    field = EVIDENCE[name]._meta.get_field("source")
    assert field.choices == ValueSource.choices
    assert not field.has_default()


def writes() -> Iterator[tuple[str, str, set[str | None]]]:
    """Every place that makes a row of those tables: where, which, and with which keywords."""
    for path in sorted(ROOT.rglob("*.py")):
        if "migrations" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Call) or not node.keywords:
                continue
            called = ast.unparse(node.func)
            for name in SOURCED:
                if called in (name, f"{name}.objects.create"):
                    place = f"{path.relative_to(ROOT)}:{node.lineno}"
                    yield place, name, {keyword.arg for keyword in node.keywords}


WRITES = list(writes())


def test_every_table_with_a_source_is_written_somewhere() -> None:
    assert {name for _, name, _ in WRITES} == set(SOURCED)


# A plate is sent without a value; reading it gives one, with its source.
SENT = "plates/actions.py"


@pytest.mark.parametrize(
    ("place", "name", "keywords"), WRITES, ids=[f"{name} {place}" for place, name, _ in WRITES]
)
def test_every_write_of_a_value_says_where_it_is_from(
    place: str, name: str, keywords: set[str | None]
) -> None:
    if name == "Plate" and place.startswith(SENT):
        assert not keywords & {"colonies", "state"}
        return
    assert "source" in keywords


@pytest.mark.parametrize(
    ("source", "corrected"),
    [("read", "read"), ("", "read"), ("logger", "stated"), ("imported", "stated")],
)
def test_what_an_instrument_gave_is_only_said_to_differ(source: str, corrected: str) -> None:
    assert source_of_correction(source) == corrected


@pytest.mark.parametrize("name", ["ControlCheck", "Plate", "Result", "StepReading"])
def test_a_row_of_before_says_that_its_source_was_not_recorded(name: str) -> None:
    assert EVIDENCE[name]().source_words == UNRECORDED
    assert EVIDENCE[name](source="imported").source_words == "imported"
