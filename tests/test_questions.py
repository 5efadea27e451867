"""A lower room asks the rooms above it openly, and never reaches up by a related name."""

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

from brewhygiene.questions import Question

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "brewhygiene"


def floors() -> dict[str, int]:
    """How high each room stands, by the contract of the floors."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        contract = tomllib.load(file)["tool"]["importlinter"]["contracts"][0]
    lowest_first = contract["layers"][::-1]
    return {
        room: height for height, layer in enumerate(lowest_first) for room in layer.split(" | ")
    }


def room_of(model: type[models.Model]) -> str:
    return model.__module__.split(".")[1]


def names_from_above() -> dict[str, int]:
    """Related names that a model has from a room above its own, by the height of that room."""
    height = floors()
    found: dict[str, int] = {}
    for model in apps.get_app_config("brewhygiene").get_models():
        for relation in model._meta.related_objects:
            above = height.get(room_of(relation.related_model), 0)
            accessor = relation.get_accessor_name()
            if accessor and not relation.hidden and above > height[room_of(model)]:
                for name in (accessor, relation.name):
                    found[name] = min(above, found.get(name, above))
    return found


def names_used(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Attributes that are read, and the first part of each look-up, with their lines."""
    called = {node.func for node in ast.walk(tree) if isinstance(node, ast.Call)}
    for node in ast.walk(tree):
        # Nobody calls a row of another table: that is a thread's start, or the like.
        if isinstance(node, ast.Attribute) and node in called:
            continue
        if isinstance(node, ast.Attribute):
            yield node.lineno, node.attr
        elif isinstance(node, ast.keyword) and node.arg and "__" in node.arg:
            yield from ((node.value.lineno, part) for part in node.arg.split("__"))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield from ((node.lineno, part) for part in node.value.split("__"))


def reaching_up() -> list[str]:
    above, height = names_from_above(), floors()
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
        # What the dataclasses of pure rooms call their own fields is no relation.
        if room not in height or room in {"science", "drawing", "quantities", "questions"}:
            continue
        for line, name in names_used(ast.parse(path.read_text(encoding="utf-8"))):
            if above.get(name, 0) > height[room]:
                found.append(f"{path.relative_to(PACKAGE)}:{line} {name}")
    return found


def test_no_room_reaches_up_by_a_related_name() -> None:
    assert reaching_up() == []


def test_related_names_from_above_are_found() -> None:
    height = floors()
    names = names_from_above()
    assert {name: names[name] for name in ("plates", "results", "cleans")} == {
        "plates": height["plates"],
        "results": height["atp"],
        "cleans": height["turnarounds"],
    }


def test_every_question_has_its_answer() -> None:
    assert [question.words for question in Question.asked if question.answer is None] == []
    assert len(Question.asked) >= 3


def test_question_is_answered_once_and_only_by_who_knows() -> None:
    question: Question[[int], int] = Question("Twice a number?")
    try:
        with pytest.raises(LookupError, match="no room answers"):
            question(2)
        assert question.answered_by(lambda number: 2 * number)(3) == 6
        assert question(2) == 4
        with pytest.raises(ValueError, match="answered already"):
            question.answered_by(lambda number: number)
    finally:
        Question.asked.remove(question)
