"""The small changes tried on one file: one at a time, each of a kind that a slip of the hand could make.

Sentences are left alone (their wording is no fact); single words are changed, because they are codes that
events and checklists are matched by.
"""

from __future__ import annotations

import ast
import copy
import re
from collections.abc import Iterator
from dataclasses import dataclass

CODE = re.compile(r"[a-z][a-z0-9_.:-]*")
COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
COUNTED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.FloorDiv: ast.Mult,
    ast.Div: ast.Mult,
    ast.Mod: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any"}
ALREADY_NEGATED = (ast.Eq, ast.NotEq, ast.Is, ast.IsNot, ast.In, ast.NotIn)


@dataclass(frozen=True)
class Mutant:
    """One change. ``number`` finds it again; ``inside`` says whether it lies in the body of a function."""

    number: int
    line: int
    what: str
    inside: bool


class _Change(ast.NodeTransformer):
    """Walks a file, counts the changes that could be made, and makes the one that is wanted."""

    def __init__(self, wanted: int | None = None) -> None:
        self.wanted = wanted
        self.found: list[Mutant] = []
        self._depth = 0

    def _offer(self, node: ast.AST, new: ast.AST | None, what: str) -> ast.AST | None:
        """Note the change; give the new node if it is the one that is wanted."""
        number = len(self.found)
        line = node.target.lineno if isinstance(node, ast.comprehension) else getattr(node, "lineno", 0)
        self.found.append(Mutant(number, line, what, self._depth > 0))
        return new if number == self.wanted else None

    def _swap(self, node: ast.AST, new: ast.AST) -> ast.AST | None:
        return self._offer(node, ast.copy_location(new, node), f"{_said(node)}  ->  {_said(new)}")

    def visit(self, node: ast.AST) -> ast.AST:
        for new in self._changes(node):
            changed = self._swap(node, new)
            if changed is not None:
                return changed
        return super().visit(node)  # type: ignore[no-any-return]

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        node.body = self._body(node.body, inside=True)
        node.args = self.generic_visit(node.args)  # type: ignore[assignment]
        return node

    def visit_ClassDef(self, node: ast.ClassDef) -> ast.AST:
        node.body = self._body(node.body, inside=False)
        return node

    def visit_Assign(self, node: ast.Assign) -> ast.AST:
        listing = isinstance(node.targets[0], ast.Name) and node.targets[0].id == "__all__"
        return node if listing else self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if node.value is not None:
            node.value = self.visit(node.value)  # type: ignore[assignment]
        return node

    def visit_Expr(self, node: ast.Expr) -> ast.AST:
        return node if isinstance(node.value, ast.Constant) else self.generic_visit(node)

    def visit_arg(self, node: ast.arg) -> ast.AST:
        return node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.AST:
        node.values = [v if isinstance(v, ast.Constant) else self.generic_visit(v) for v in node.values]  # type: ignore[misc]
        return node

    def visit_ImportFrom(self, node: ast.ImportFrom) -> ast.AST:
        return node

    def _body(self, body: list[ast.stmt], *, inside: bool) -> list[ast.stmt]:
        self._depth += inside
        done = [self.visit(statement) for statement in body]
        self._depth -= inside
        return done  # type: ignore[return-value]

    def _changes(self, node: ast.AST) -> Iterator[ast.AST]:
        match node:
            case ast.Compare():
                yield from _compared(node)
            case ast.BoolOp(values=values):
                for n in range(len(values)):
                    rest = values[:n] + values[n + 1 :]
                    yield rest[0] if len(rest) == 1 else _with(node, values=rest)
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                yield operand
            case ast.BinOp(op=op) if type(op) in COUNTED:
                yield _with(node, op=COUNTED[type(op)]())
            case ast.AugAssign(op=op) if type(op) in COUNTED:
                yield _with(node, op=COUNTED[type(op)]())
                yield ast.Pass()
            case ast.Constant(value=value):
                yield from _constants(value)
            case ast.Call(func=ast.Name(id=name)) if name in SWAPPED:
                yield _with(node, func=ast.copy_location(ast.Name(SWAPPED[name], ast.Load()), node.func))
            case ast.Call(func=ast.Name(id="sorted" | "reversed"), args=[argument, *_]):
                yield ast.Call(ast.Name("list", ast.Load()), [argument], [])
            case ast.If(test=test) | ast.IfExp(test=test) if not _negated_already(test):
                yield _with(node, test=ast.UnaryOp(ast.Not(), test))
            case ast.comprehension(ifs=ifs) if ifs:
                for n in range(len(ifs)):
                    yield _with(node, ifs=ifs[:n] + ifs[n + 1 :])
            case ast.Return(value=value) if value is not None and _said(value) != "None":
                yield ast.Return(ast.Constant(None))
            case ast.Expr(value=ast.Call() | ast.Await() | ast.YieldFrom() | ast.Yield()):
                yield ast.Pass()
            case ast.Raise() | ast.Continue() | ast.Break() | ast.Return(value=None):
                yield ast.Pass()
            case ast.Assign(targets=[ast.Attribute() | ast.Subscript()]):
                yield ast.Pass()


def _compared(node: ast.Compare) -> Iterator[ast.AST]:
    for n, op in enumerate(node.ops):
        ops = [*node.ops[:n], COMPARED[type(op)](), *node.ops[n + 1 :]]
        yield _with(node, ops=ops)


def _constants(value: object) -> Iterator[ast.AST]:
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int):
        yield ast.Constant(value + 1)
        yield ast.Constant(value - 1)
    elif isinstance(value, float):
        yield ast.Constant(value * 1.01 + 0.01)
    elif isinstance(value, str) and CODE.fullmatch(value):
        yield ast.Constant(value + "x")


def _negated_already(test: ast.expr) -> bool:
    """Another change says the same: the test is one comparison, or a ``not``."""
    one = isinstance(test, ast.Compare) and len(test.ops) == 1 and isinstance(test.ops[0], ALREADY_NEGATED)
    return one or (isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not))


def _with(node: ast.AST, **changed: object) -> ast.AST:
    new = copy.copy(node)
    for name, value in changed.items():
        setattr(new, name, value)
    return new


def _said(node: ast.AST) -> str:
    if isinstance(node, ast.comprehension):
        return ast.unparse(node).strip()
    text = ast.unparse(ast.fix_missing_locations(copy.deepcopy(node))).splitlines()
    return text[0] + (" ..." if len(text) > 1 else "")


def mutants_of(source: str) -> list[Mutant]:
    """Every change that could be made to this file, in the order of the file."""
    walk = _Change()
    walk.visit(ast.parse(source))
    return walk.found


def mutated(source: str, number: int) -> ast.Module:
    """The file with that one change made."""
    tree = _Change(number).visit(ast.parse(source))
    assert isinstance(tree, ast.Module)
    return ast.fix_missing_locations(tree)
