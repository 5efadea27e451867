"""What one small change may be: operators of ``cosmic_ray``, and those of ours it lacks."""

from collections.abc import Iterator

import parso
from cosmic_ray.operators import (
    binary_operator_replacement as binary,
)
from cosmic_ray.operators import (
    boolean_replacer,
    break_continue,
    exception_replacer,
    number_replacer,
    remove_decorator,
    zero_iteration_for_loop,
)
from cosmic_ray.operators import (
    comparison_operator_replacement as comparison,
)
from cosmic_ray.operators import (
    unary_operator_replacement as unary,
)
from cosmic_ray.operators.operator import Example, Operator

Position = tuple[tuple[int, int], tuple[int, int]]


def _position(node: parso.tree.NodeOrLeaf) -> Position:
    return node.start_pos, node.end_pos


def _with_prefix(code: str, like: parso.tree.NodeOrLeaf) -> parso.tree.NodeOrLeaf:
    """New code that stands where ``like`` stood."""
    return parso.parse(like.get_first_leaf().prefix + code)


class ReplaceIn(Operator):
    """``in`` for ``not in`` and the reverse."""

    PAIRS = {"in": "not in", "not in": "in"}

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[Position]:
        for operator in self._operators(node):
            yield _position(operator)

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        operator = self._operators(node)[index]
        code = self.PAIRS[operator.get_code(include_prefix=False)]
        node.children[node.children.index(operator)] = _with_prefix(code, operator)
        return node

    def _operators(self, node: parso.tree.NodeOrLeaf) -> list[parso.tree.NodeOrLeaf]:
        if node.type != "comparison":
            return []
        return [c for c in node.children[1::2] if c.get_code(include_prefix=False) in self.PAIRS]

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example("x in y", "x not in y"), Example("x not in y", "x in y"))


class AddNot(Operator):
    """The condition of an ``if``, a ``while``, a ternary or a comprehension, turned round.

    In brackets, so that all of it is. One comparison and a ``not`` have operators of their own.
    """

    OWN = frozenset({"comparison", "not_test"})
    PLACES = {"if_stmt": 1, "while_stmt": 1, "ternary": 2, "test": 2, "comp_if": 1}

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[Position]:
        for _, condition in self._conditions(node):
            yield _position(condition)

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        place, condition = self._conditions(node)[index]
        code = f"not ({condition.get_code(include_prefix=False)})"
        node.children[place] = _with_prefix(code, condition)
        return node

    def _conditions(self, node: parso.tree.NodeOrLeaf) -> list[tuple[int, parso.tree.NodeOrLeaf]]:
        if node.type not in self.PLACES:
            return []
        places = [self.PLACES[node.type]]
        if node.type == "if_stmt":
            places += [
                place + 1
                for place, child in enumerate(node.children)
                if getattr(child, "value", "") == "elif"
            ]
        found = [(place, node.children[place]) for place in places]
        return [(place, condition) for place, condition in found if condition.type not in self.OWN]

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (
            Example("if a or b: pass", "if not (a or b): pass"),
            Example("x = a if b else c", "x = a if not (b) else c"),
            Example("[a for a in b if a.c]", "[a for a in b if not (a.c)]"),
        )


class ReplaceName(Operator):
    """A function or a method by the one that looks from the other side."""

    PAIRS = {
        one: other
        for pair in (
            ("min", "max"),
            ("any", "all"),
            ("floor", "ceil"),
            ("first", "last"),
            ("filter", "exclude"),
        )
        for one, other in (pair, pair[::-1])
    }

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[Position]:
        if node.type == "name" and node.value in self.PAIRS and self._is_called(node):
            yield _position(node)

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        node.value = self.PAIRS[node.value]
        return node

    @staticmethod
    def _is_called(node: parso.tree.NodeOrLeaf) -> bool:
        following = node.get_next_leaf()
        return following is not None and following.get_code() == "("

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (
            Example("min(a, b)", "max(a, b)"),
            Example("rows.filter(a=b)", "rows.exclude(a=b)"),
        )


class ReplaceLookup(Operator):
    """A lookup at its boundary: ``at__gt=`` for ``at__gte=``, and so on."""

    PAIRS = (("__gte", "__gt"), ("__lte", "__lt"), ("__gt", "__gte"), ("__lt", "__lte"))

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[Position]:
        if node.type == "name" and self._pair(node.value) and node.get_next_leaf().value == "=":
            yield _position(node)

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        old, new = self._pair(node.value)
        node.value = node.value.removesuffix(old) + new
        return node

    def _pair(self, name: str) -> tuple[str, str] | None:
        return next((pair for pair in self.PAIRS if name.endswith(pair[0])), None)

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example("q(at__gt=now)", "q(at__gte=now)"), Example("q(a__lte=b)", "q(a__lt=b)"))


class ReplaceOrder(Operator):
    """``order_by("-at")`` for ``order_by("at")`` and the reverse."""

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[Position]:
        if node.type == "string" and self._in_order_by(node):
            yield _position(node)

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        quote, field = node.value[0], node.value[1:]
        node.value = quote + (field[1:] if field.startswith("-") else f"-{field}")
        return node

    @staticmethod
    def _in_order_by(node: parso.tree.NodeOrLeaf) -> bool:
        holder = node.parent
        if holder is not None and holder.type == "arglist":
            holder = holder.parent
        if holder is None or holder.type != "trailer":
            return False
        before = holder.get_previous_leaf()
        return before is not None and before.get_code().strip() == "order_by"

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (
            Example('a.order_by("-at")', 'a.order_by("at")'),
            Example('a.order_by("at", "pk")', 'a.order_by("at", "-pk")', occurrence=1),
        )


class RemoveStatement(Operator):
    """A statement that does something, left out: a call, a refusal, a value set on a record."""

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[Position]:
        if node.type == "simple_stmt" and self._does_something(node.children[0]):
            yield _position(node.children[0])

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        node.children[0] = _with_prefix("pass", node.children[0])
        return node

    @staticmethod
    def _does_something(statement: parso.tree.NodeOrLeaf) -> bool:
        if statement.type == "atom_expr":  # a call
            return True
        if statement.type == "raise_stmt":
            return True
        if statement.type == "expr_stmt":
            target, sign = statement.children[0], statement.children[1]
            if sign.type == "operator" and sign.value == "=":
                return target.type == "atom_expr"  # on a record or in a collection
            return sign.type == "operator" and sign.value.endswith("=")  # augmented
        return False

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (
            Example("save(a)\n", "pass\n"),
            Example("a.b = c\n", "pass\n"),
            Example("a += 1\n", "pass\n"),
        )


class ReturnNone(Operator):
    """``None`` instead of what is returned."""

    PLAIN = frozenset({"None", "True", "False"})

    def mutation_positions(self, node: parso.tree.NodeOrLeaf) -> Iterator[Position]:
        if (
            node.type == "return_stmt"
            and node.children[1].get_code(include_prefix=False) not in self.PLAIN
        ):
            yield _position(node.children[1])

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        node.children[1] = _with_prefix("None", node.children[1])
        return node

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example("def f():\n    return a + b\n", "def f():\n    return None\n"),)


class BracketedNumber(number_replacer.NumberReplacer):
    """A number one more or one less; its place in the line is kept."""

    def mutate(self, node: parso.tree.NodeOrLeaf, index: int) -> parso.tree.NodeOrLeaf:
        prefix = node.prefix
        mutated = super().mutate(node, index)
        mutated.value, mutated.prefix = mutated.value.strip(), prefix
        return mutated


def _comparison(old: str, new: str) -> Operator:
    return getattr(comparison, f"ReplaceComparisonOperator_{old}_{new}")()


def _binary(old: str, new: str) -> Operator:
    return getattr(binary, f"ReplaceBinaryOperator_{old}_{new}")()


# By name: what a mutant is called by.
OPERATORS: dict[str, Operator] = {
    "equal": _comparison("Eq", "NotEq"),
    "not equal": _comparison("NotEq", "Eq"),
    "below": _comparison("Lt", "LtE"),
    "at most": _comparison("LtE", "Lt"),
    "above": _comparison("Gt", "GtE"),
    "at least": _comparison("GtE", "Gt"),
    "is": _comparison("Is", "IsNot"),
    "is not": _comparison("IsNot", "Is"),
    "in": ReplaceIn(),
    "not": unary.ReplaceUnaryOperator_Delete_Not(),
    "minus": unary.ReplaceUnaryOperator_Delete_USub(),
    "condition": AddNot(),
    "and": boolean_replacer.ReplaceAndWithOr(),
    "or": boolean_replacer.ReplaceOrWithAnd(),
    "true": boolean_replacer.ReplaceTrueWithFalse(),
    "false": boolean_replacer.ReplaceFalseWithTrue(),
    "plus": _binary("Add", "Sub"),
    "less": _binary("Sub", "Add"),
    "times": _binary("Mul", "Div"),
    "by": _binary("Div", "Mul"),
    "either": _binary("BitOr", "BitAnd"),
    "both": _binary("BitAnd", "BitOr"),
    "number": BracketedNumber(),
    "break": break_continue.ReplaceBreakWithContinue(),
    "continue": break_continue.ReplaceContinueWithBreak(),
    "except": exception_replacer.ExceptionReplacer(),
    "loop": zero_iteration_for_loop.ZeroIterationForLoop(),
    "decorator": remove_decorator.RemoveDecorator(),
    "name": ReplaceName(),
    "lookup": ReplaceLookup(),
    "order": ReplaceOrder(),
    "statement": RemoveStatement(),
    "return": ReturnNone(),
}
