"""The mutants of a module: each its whole source with one change, and what names it."""

import dataclasses
import hashlib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import parso

from tests.mutants.operators import OPERATORS
from tests.mutants.scope import relative

MODULE_LEVEL = "(module)"
# Left out: they say nothing of a rule, or something else than tests tells when they are wrong.
NO_MUTANTS_IN = frozenset({"annassign", "import_name", "import_from", "assert_stmt", "tfpdef"})
NO_DECORATORS = ("@property", "@dataclasses.dataclass", "@staticmethod", "@classmethod")


@dataclasses.dataclass(frozen=True)
class Mutant:
    """One change. ``function`` is the outermost one around it, by its qualified name.

    What names it holds when lines above it come or go: module, function, and the changed lines
    before and after; ``nth`` counts those that are alike in all of these.
    """

    module: str
    function: str
    before: str
    after: str
    nth: int
    operator: str
    first_line: int
    last_line: int
    source: str = dataclasses.field(repr=False, compare=False)

    @property
    def key(self) -> str:
        text = "\n".join((self.module, self.function, self.before, self.after, str(self.nth)))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def __str__(self) -> str:
        nth = f" ({self.nth})" if self.nth > 1 else ""
        return (
            f"{self.module}:{self.first_line} {self.function}{nth}\n"
            f"  - {self.before}\n  + {self.after}"
        )


def mutants_of(path: Path) -> list[Mutant]:
    """Every mutant of a module, in the order of its lines."""
    return mutants_in(path.read_text("utf-8"), module=relative(path))


def mutants_in(source: str, *, module: str) -> list[Mutant]:
    """As :func:`mutants_of`, of a text; ``module`` is the path that it is known by."""
    tree = parso.parse(source)
    tables = "models" in module.removesuffix(".py").split("/")
    seen: Counter[tuple[str, str, str]] = Counter()
    found = []
    for node in list(_nodes(tree)):
        function = _function_of(node)
        if function == MODULE_LEVEL and tables:
            continue  # columns and constraints: ``make migrations`` compares them
        for name, operator in OPERATORS.items():
            for index, (start, end) in enumerate(list(operator.mutation_positions(node))):
                mutated = _mutated(tree, node, name, index)
                before, after = _difference(source, mutated)
                seen[function, before, after] += 1
                found.append(
                    Mutant(
                        module=module,
                        function=function,
                        before=before,
                        after=after,
                        nth=seen[function, before, after],
                        operator=name,
                        first_line=start[0],
                        last_line=end[0],
                        source=mutated,
                    )
                )
    assert tree.get_code() == source
    return sorted(found, key=lambda mutant: mutant.first_line)


def _nodes(node: parso.tree.NodeOrLeaf) -> Iterator[parso.tree.NodeOrLeaf]:
    if node.type in NO_MUTANTS_IN and not (node.type == "annassign" and len(node.children) == 4):
        return
    if node.type == "operator" and node.parent.type == "parameters":
        return  # the star of arguments that are given by name
    if node.type == "decorator" and node.get_code(include_prefix=False).startswith(NO_DECORATORS):
        return
    if node.type == "argument" and getattr(node.children[0], "value", "") == "widget":
        return  # how large a box is, or what a browser fills in: no rule
    yield node
    children = getattr(node, "children", ())
    if node.type == "annassign":
        children = children[3:]  # the value, not the type
    elif node.type == "funcdef":
        children = [child for child in children if not _is_annotation(child)]
    for child in children:
        yield from _nodes(child)


def _is_annotation(node: parso.tree.NodeOrLeaf) -> bool:
    """Whether a node of a function's head is the type that it returns."""
    before = node.get_previous_sibling()
    return getattr(before, "value", "") == "->"


def _function_of(node: parso.tree.NodeOrLeaf) -> str:
    """The outermost function whose body a node is in; defaults and decorators are outside."""
    function, names = MODULE_LEVEL, []
    child = node
    while child.parent is not None:
        parent = child.parent
        if parent.type == "classdef":
            names.append(parent.name.value)
        elif parent.type == "funcdef" and child is parent.children[-1]:
            function, names = parent.name.value, []
        child = parent
    if function == MODULE_LEVEL:
        return MODULE_LEVEL
    return ".".join([*reversed(names), function])


def _mutated(
    tree: parso.tree.NodeOrLeaf, node: parso.tree.NodeOrLeaf, name: str, index: int
) -> str:
    """The whole source with one change, which is undone again."""
    kept = [(inner, list(inner.children)) for inner in _all(node) if hasattr(inner, "children")]
    values = [(leaf, leaf.value, leaf.prefix) for leaf in _all(node) if hasattr(leaf, "value")]
    siblings = None if node.parent is None else list(node.parent.children)
    changed = OPERATORS[name].mutate(node, index)
    if changed is not node and node.parent is not None:
        place = next(n for n, child in enumerate(node.parent.children) if child is node)
        node.parent.children[place : place + 1] = [] if changed is None else [changed]
    code = tree.get_code()
    for inner, children in kept:
        inner.children = children
    for leaf, value, prefix in values:
        leaf.value, leaf.prefix = value, prefix
    if siblings is not None:
        node.parent.children = siblings
    return code


def _all(node: parso.tree.NodeOrLeaf) -> Iterator[parso.tree.NodeOrLeaf]:
    yield node
    for child in getattr(node, "children", ()):
        yield from _all(child)


def _difference(source: str, mutated: str) -> tuple[str, str]:
    """The lines that differ, before and after, each as one: between a common head and tail."""
    old, new = source.splitlines(), mutated.splitlines()
    shorter = min(len(old), len(new))
    head = 0
    while head < shorter and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < shorter - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    return _joined(old[head : len(old) - tail]), _joined(new[head : len(new) - tail])


def _joined(lines: list[str]) -> str:
    return " ".join(line.strip() for line in lines)
