"""Finds where Python code reads the real clock, or waits by time."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass

# By the name under which they can be imported, whatever a file calls them.
CLOCKS = {
    "datetime.date.today",
    "datetime.datetime.now",
    "datetime.datetime.today",
    "datetime.datetime.utcnow",
    "django.db.models.functions.Now",
    "django.utils.timezone.localdate",
    "django.utils.timezone.localtime",
    "django.utils.timezone.now",
    "time.asctime",
    "time.clock_gettime",
    "time.clock_gettime_ns",
    "time.ctime",
    "time.gmtime",
    "time.localtime",
    "time.strftime",
    "time.time",
    "time.time_ns",
    "uuid.uuid1",
}
# These take a moment, and read the clock only without it: so many arguments make them harmless.
HARMLESS_WITH = {
    "django.utils.timezone.localdate": 1,
    "django.utils.timezone.localtime": 1,
    "time.asctime": 1,
    "time.ctime": 1,
    "time.gmtime": 1,
    "time.localtime": 1,
    "time.strftime": 2,
}
# How long something took, and waiting for as long.
DURATIONS = {
    "time.monotonic",
    "time.monotonic_ns",
    "time.perf_counter",
    "time.perf_counter_ns",
    "time.process_time",
    "time.sleep",
    "time.thread_time",
}
WAITS_IN_THE_BROWSER = {"wait_for_timeout"}
# The clock itself may be set by nobody but the suite.
SETTING = {"time_machine", "freezegun"}


@dataclass(frozen=True)
class Found:
    """One place that reads a clock."""

    line: int
    name: str
    kind: str  # "clock", "duration", "wait" or "setting"


def read_in(source: str) -> list[Found]:
    """Every place in a file that reads the clock, measures or waits by time, in its order.

    >>> [f.name for f in read_in("from django.utils import timezone as tz\\nx = tz.now()")]
    ['django.utils.timezone.now']
    """
    tree = ast.parse(source)
    names = _imported(tree)
    return sorted(_found(tree, names), key=lambda found: (found.line, found.name))


def _imported(tree: ast.AST) -> dict[str, str]:
    names: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for each in node.names:
                names[each.asname or each.name.partition(".")[0]] = (
                    each.name if each.asname else each.name.partition(".")[0]
                )
        elif isinstance(node, ast.ImportFrom) and node.module:
            for each in node.names:
                names[each.asname or each.name] = f"{node.module}.{each.name}"
    return names


def _dotted(node: ast.expr, names: dict[str, str]) -> str:
    if isinstance(node, ast.Name):
        return names.get(node.id, "")
    if isinstance(node, ast.Attribute):
        before = _dotted(node.value, names)
        return f"{before}.{node.attr}" if before else ""
    return ""


def _found(tree: ast.AST, names: dict[str, str]) -> Iterator[Found]:
    harmless = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            needed = HARMLESS_WITH.get(_dotted(node.func, names))
            if needed is not None and _has_its_moment(node, needed):
                harmless.add(id(node.func))
    for node in ast.walk(tree):
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Import | ast.ImportFrom):
            yield from _setting(node)
        if isinstance(node, ast.Attribute) and node.attr in WAITS_IN_THE_BROWSER:
            yield Found(line, node.attr, "wait")
        if not isinstance(node, ast.Name | ast.Attribute) or id(node) in harmless:
            continue
        name = _dotted(node, names)
        # Named without being called it is handed on, and called by somebody else.
        if name in CLOCKS:
            yield Found(line, name, "clock")
        elif name in DURATIONS:
            yield Found(line, name, "duration")


def _has_its_moment(call: ast.Call, needed: int) -> bool:
    """Whether the moment is given, and not None."""
    given = [*call.args, *(each.value for each in call.keywords if each.arg == "value")]
    return len(given) >= needed and not any(
        isinstance(one, ast.Constant) and one.value is None for one in given[:needed]
    )


def _setting(node: ast.Import | ast.ImportFrom) -> Iterator[Found]:
    modules = (
        [each.name for each in node.names] if isinstance(node, ast.Import) else [node.module or ""]
    )
    for module in modules:
        if module.partition(".")[0] in SETTING:
            yield Found(node.lineno, module, "setting")
