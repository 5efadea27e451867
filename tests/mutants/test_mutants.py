"""The making of mutants, what is kept of them, and the list of those that survive."""

import os
import types
from pathlib import Path

import pytest

from tests.mutants.making import MODULE_LEVEL, Mutant, mutants_in, mutants_of
from tests.mutants.operators import OPERATORS, AddNot
from tests.mutants.report import entries
from tests.mutants.running import Zygote, allow, ended_by_limit
from tests.mutants.scope import ROOT, files_of_tests, modules, names, relative

SOURCE = '''"""A module of 3 lines or more."""

from a import b

LEAST = 5


def within(value: int | None, *, least: int = 2) -> bool:
    """Whether 1 is at most 2."""
    if value is None:
        return False
    return value >= least


class Rule:
    hours = 24

    def ends(self, rows):
        save(rows)
        return min(r.at for r in rows if r.open or r.late)


def ordered(rows):
    assert rows is not None
    return rows.filter(at__gt=1).order_by("-at")
'''


def made(source: str = SOURCE) -> list[Mutant]:
    return mutants_in(source, module="brewhygiene/sample.py")


def changes(function: str) -> list[tuple[str, str]]:
    return [(mutant.before, mutant.after) for mutant in made() if mutant.function == function]


OURS = [name for name, one in OPERATORS.items() if type(one).__module__ == AddNot.__module__]


@pytest.mark.parametrize("name", OURS)
def test_operator_makes_what_its_examples_show(name: str) -> None:
    for example in type(OPERATORS[name]).examples():
        found = mutants_in(example.pre_mutation_code, module="a.py")
        own = [mutant.source for mutant in found if mutant.operator == name]
        assert own[example.occurrence] == example.post_mutation_code


def test_mutants_of_a_function_change_one_thing_each() -> None:
    assert changes("within") == [
        ("if value is None:", "if value is not None:"),
        ("return False", "return True"),
        ("return value >= least", "return None"),
        ("return value >= least", "return value > least"),
    ]
    assert changes("Rule.ends") == [
        ("save(rows)", "pass"),
        ("return min(r.at for r in rows if r.open or r.late)", "return None"),
        (
            "return min(r.at for r in rows if r.open or r.late)",
            "return max(r.at for r in rows if r.open or r.late)",
        ),
        (
            "return min(r.at for r in rows if r.open or r.late)",
            "return min(r.at for r in rows if not (r.open or r.late))",
        ),
        (
            "return min(r.at for r in rows if r.open or r.late)",
            "return min(r.at for r in rows if r.open and r.late)",
        ),
    ]
    assert changes("ordered") == [
        ('return rows.filter(at__gt=1).order_by("-at")', "return None"),
        (
            'return rows.filter(at__gt=1).order_by("-at")',
            'return rows.exclude(at__gt=1).order_by("-at")',
        ),
        (
            'return rows.filter(at__gt=1).order_by("-at")',
            'return rows.filter(at__gte=1).order_by("-at")',
        ),
        (
            'return rows.filter(at__gt=1).order_by("-at")',
            'return rows.filter(at__gt=2).order_by("-at")',
        ),
        (
            'return rows.filter(at__gt=1).order_by("-at")',
            'return rows.filter(at__gt=0).order_by("-at")',
        ),
        (
            'return rows.filter(at__gt=1).order_by("-at")',
            'return rows.filter(at__gt=1).order_by("at")',
        ),
    ]


def test_constants_and_defaults_are_of_the_module_and_types_and_asserts_of_nobody() -> None:
    assert changes(MODULE_LEVEL) == [
        ("LEAST = 5", "LEAST = 6"),
        ("LEAST = 5", "LEAST = 4"),
        (
            "def within(value: int | None, *, least: int = 2) -> bool:",
            "def within(value: int | None, *, least: int = 3) -> bool:",
        ),
        (
            "def within(value: int | None, *, least: int = 2) -> bool:",
            "def within(value: int | None, *, least: int = 1) -> bool:",
        ),
        ("hours = 24", "hours = 25"),
        ("hours = 24", "hours = 23"),
    ]


def test_mutants_are_told_apart_and_keep_their_names_when_lines_move() -> None:
    twice = "def f(a):\n    save(a)\n    go(a)\n    save(a)\n"
    alike = [m for m in mutants_in(twice, module="a.py") if m.before == "save(a)"]
    assert [(m.nth, m.first_line) for m in alike] == [(1, 2), (2, 4)]
    keys = [mutant.key for mutant in made()]
    assert len(set(keys)) == len(keys)
    moved = made(SOURCE.replace("LEAST = 5", "# moved\n\n\nLEAST = 5"))
    assert [mutant.key for mutant in moved] == keys


def test_every_mutant_is_a_module_that_compiles_and_differs() -> None:
    source = (ROOT / "brewhygiene/release/status.py").read_text("utf-8")
    found = mutants_of(ROOT / "brewhygiene/release/status.py")
    assert len(found) > 150
    for mutant in found:
        compile(mutant.source, mutant.module, "exec")
        assert mutant.source != source
        assert mutant.before != mutant.after


def test_columns_are_left_to_the_check_of_migrations() -> None:
    table = (
        "class A:\n    size = field(max_length=10)\n\n    def big(self):\n        return 5 > 4\n"
    )
    found = mutants_in(table, module="brewhygiene/a/models/things.py")
    assert {mutant.function for mutant in found} == {"A.big"}


def test_the_look_of_a_box_is_no_rule() -> None:
    field = 'reason = CharField(max_length=200, widget=Textarea(attrs={"rows": 3}))\n'
    assert [m.after for m in mutants_in(field, module="a.py")] == [
        field.strip().replace("200", number) for number in ("201", "199")
    ]


def test_modules_and_their_tests_are_where_the_table_says() -> None:
    names = {relative(path) for path in modules()}
    assert {
        "brewhygiene/release/status.py",
        "brewhygiene/release/gates/samples.py",
        "brewhygiene/plates/actions.py",
        "brewhygiene/turnarounds/actions.py",
        "brewhygiene/turnarounds/steps/actions.py",
        "brewhygiene/regimes/proposal.py",
        "brewhygiene/science/judging.py",
        "brewhygiene/science/control/rules.py",
    } <= names
    actions = {
        relative(p)
        for room in ("atp", "turnarounds", "plates", "release")
        for p in (ROOT / "brewhygiene" / room).rglob("actions.py")
    }
    assert actions <= names
    assert len(files_of_tests()) > 20


@pytest.mark.parametrize(
    "file, module, named",
    [
        ("tests/science/test_judging.py", "brewhygiene/science/judging.py", True),
        ("tests/science/test_judging.py", "brewhygiene/release/judging.py", False),
        ("tests/plates/test_plate_rules.py", "brewhygiene/plates/actions.py", True),
        ("tests/plates/test_plate_rules.py", "brewhygiene/plates/corrections/actions.py", True),
        ("tests/plates/test_views.py", "brewhygiene/plates/actions.py", False),
    ],
)
def test_tests_of_a_module_are_known_by_what_they_import(
    file: str, module: str, named: bool
) -> None:
    assert names(file, module) is named


# ---- running ----


def module_of(source: str, path: Path) -> types.ModuleType:
    module = types.ModuleType("sample")
    path.write_text(source, "utf-8")
    exec(compile(source, str(path), "exec"), module.__dict__)  # noqa: S102
    return module


def zygote_with(module: types.ModuleType, path: Path) -> Zygote:
    zygote = Zygote(None)
    for found in vars(module).values():
        if isinstance(found, types.FunctionType):
            code = found.__code__
            place = (str(path), code.co_qualname, code.co_firstlineno)
            zygote.functions.setdefault(place, []).append(found)
    return zygote


def test_a_function_that_others_have_imported_gets_the_mutants_code(tmp_path: Path) -> None:
    source, path = "def f(a):\n    return a >= 2\n\n\ndef g(a):\n    return -a\n", tmp_path / "s.py"
    module = module_of(source, path)
    imported, other = module.f, module.g
    assert zygote_with(module, path)._swap(path, source.replace(">=", ">")) is True
    assert (imported(2), imported(3), other(2)) == (False, True, -2)


def test_what_runs_on_import_only_cannot_be_swapped(tmp_path: Path) -> None:
    source, path = "LEAST = 2\n\n\ndef f(a, least=2):\n    return a >= least\n", tmp_path / "s.py"
    module = module_of(source, path)
    zygote = zygote_with(module, path)
    assert zygote._swap(path, source) is False
    assert zygote._swap(path, source.replace("LEAST = 2", "LEAST = 3")) is False
    assert zygote._swap(path, source.replace("least=2", "least=3")) is False


def test_a_child_that_never_ends_is_ended_by_its_own_use_of_the_processor() -> None:
    child = os.fork()
    if child == 0:
        allow(0)  # the system counts in whole seconds: the next one
        while True:
            pass
    _, status = os.waitpid(child, 0)
    assert ended_by_limit(os.waitstatus_to_exitcode(status))
    assert not ended_by_limit(0)


# ---- the committed list ----


def test_every_listed_survivor_is_still_a_mutant_of_its_function() -> None:
    listed = entries()
    known = {
        mutant.key
        for module in {entry.module for entry in listed}
        for mutant in (mutants_of(ROOT / module) if (ROOT / module).exists() else [])
    }
    assert [entry for entry in listed if entry.key not in known] == []
    assert len({entry.key for entry in listed}) == len(listed)


def test_an_entry_without_a_reason_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "equivalent.toml"
    file.write_text(
        '[[mutant]]\nmodule = "a.py"\nfunction = "f"\nbefore = "x"\nafter = "y"\nwhy = "same"\n'
    )
    with pytest.raises(ValueError, match="No reason is given"):
        entries(file)
