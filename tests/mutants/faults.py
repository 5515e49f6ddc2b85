"""Single faults that a piece of code might have, each as one replacement in its text.

Left out is what cannot change a number, a name or a choice: docstrings and other text, functions
that return text, annotations, what an error says, assertions; how much work is done at a time or
looked through (`WORK`), how far is far (`FAR`), the divisor that stands where nothing is divided,
and what is `SAME`. One fault a line at most.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from itertools import accumulate
from pathlib import Path
from random import Random
from typing import NamedTuple

PAIRS = (
    ("start", "end"), ("at_start", "at_end"), ("warm_start", "warm_end"), ("from_", "to"),
    ("upstream", "outlet"), ("ahead", "back"), ("at_from", "at_to"), ("to_start", "to_end"),
    ("start_level", "end_level"), ("drawn", "blown"), ("width", "height"), ("first", "last"),
    ("low", "high"), ("lower", "upper"), ("inside", "outside"), ("inlet", "outlet"),
    ("any", "all"), ("min", "max"), ("minimum", "maximum"), ("argmin", "argmax"),
    ("wide", "tall"), ("right", "above"), ("below", "above_end"), ("flow", "volume"),
    ("heat", "power"), ("across", "along"), ("wall_start", "wall_end"), ("best", "worst"),
)  # fmt: skip
TWIN = {a: b for pair in PAIRS for a, b in (pair, pair[::-1])}
OTHER_OPERATOR = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.BitAnd: ast.BitOr,
    ast.Lt: ast.Gt, ast.Gt: ast.Lt, ast.LtE: ast.GtE, ast.GtE: ast.LtE, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn,
    ast.NotIn: ast.In, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
SYMMETRIC = {"maximum", "minimum", "max", "min", "hypot", "zip", "isinstance", "range", "add",
             "dist", "broadcast_shapes", "result_type"}  # fmt: skip
UNSEEN_NAMES = {"axis", "strict", "maxsize", "dtype", "errors", "encoding", "stacklevel",
                   "shape"}  # fmt: skip
TEXTS = {"str", "str | None", "list[str]", "tuple[str, ...]", "Iterator[str]"}
UNSEEN_CALLS = {"NoSolution", "TypeVar", "zeros", "ones", "empty"}  # words, and shapes
WORK = {"AHEAD", "BEHIND", "BEST", "BEYOND_ROUNDS", "BLOCK", "BLOCK_NUMBERS", "CHUNK",
        "CLOSER_LOOKS", "CLOSEST_KEPT", "COMPLETED", "COMPLETED_NEXT", "CURVE_POINTS",
        "DESIGNS_SEARCHED", "DIP_SAMPLES", "FACE_ROUNDS", "FEW", "FIT_SETTLED", "FREE_STARTS",
        "LACKING", "LARGEST_BLOCK", "LED", "LIMITS_AFTER", "LINE_STEPS", "MEMBERS", "MOST_SOLVES",
        "NARROWINGS", "NODES", "PAIRED", "PAIR_REACHES", "PAIR_VALUES", "PER_AXIS", "PIECE",
        "PIECE_ROWS", "RANKED_KEPT", "ROUNDS", "RUN", "SAMPLE", "TRACED", "TRIED_VALUES",
        "(NARROWED, SUBDIVIDED)", "(SOLVES, ASTRAY)"}  # fmt: skip
# How much larger than all others a number is that stands for "more than any", or how much smaller
# one that stands for next to nothing.
FAR = {"ABSENT_RISE", "BROKEN", "FREE_PASSAGE", "REGULAR", "STIFF", "UNBOUNDED",
       "(OTHERS, NO_VALUE, HEAT_FIRST, ON_PAPER)"}  # fmt: skip
# (file, what a line says, fault): what no answer can tell apart, and why.
SAME = (
    # What is not given is unknown at last, whatever stands there before.
    ("equations/levels.py", "np.where(given, side, 1.0)", "1.3"),
    ("results/origins.py", "np.where(unknown, 0.0, held)", "1.0"),
    # So is what is read only where it is given, or where a velocity is known.
    ("equations/component_temperatures.py", "np.isnan(mass_velocity.real), 0.0", "1.0"),
    ("equations/component_temperatures.py", "-np.where(fitted, law.n, 1.0)", "1.3"),
    # No wall without an `area` has a `tilt`: any number between the limits of lying is upright.
    ("equations/levels.py", 'np.isnan(c["area"]), 90.0', "117.0"),
    # Without an outline there is one layer, of which the middle alone counts.
    ("equations/levels.py", "np.where(np.isnan(tall.real), 0.0, tall)", "1.0"),
    # Shares add up to 1 or to 0.
    ("results/origins.py", "FED = 0.5", "0.65"),
    # Any number below 0 is the outside, or none; of fans that draw from outside one each.
    ("results/origins.py", "source[self.loops] = 0.0, -1", "2"),
    ("results/origins.py", "np.where(end < count, end, -1)", "2"),
    ("equations/component_temperatures.py", "rows.get(part.in_, -1)", "2"),
    ("studies/choice/evaluate.py", "NOT_TRIED = -1", "2"),
    ("studies/choice/evaluate.py", "NONE = -1", "2"),
    ("studies/runs.py", "NOWHERE = -1", "2"),
    ("results/origins.py", "-1 - np.arange(len(ends))", "2"),
    ("results/streams.py", "in held else s.source, -1)", "2"),
    ("solver/dividing.py", "np.where(placed, layer(", "2"),
    # From the end it is the same row.
    ("results/origins.py", "out = blown +", "blown - len(alone) * (ends[blown, 1] < count)"),
    # Names behind the last way.
    ("results/origins.py", "[item.path for item in swapped] * 2", "3"),
    # Where nothing reflects, no more is read than silence.
    ("equations/readout.py", "np.where(walled, room, 1.0)", "1.3"),
    # Where films are computed no U-value is asked for.
    ("equations/walls.py", "np.where(computed, 0.0, c.u_value)", "1.0"),
    # How short steps are near a place where flows end, and how far behind it: how soon, not where.
    ("solver/in_time.py", "longest = ahead * tol.TURN_SHARE", "ahead"),
    ("solver/in_time.py", "bound = min(lost.time + longest, end)", "lost.time"),
    # From where and by how fine a step two faces are sought: they end at round-off.
    ("equations/walls.py", "USUAL_FILM = 8.0", "10.4"),
    ("equations/walls.py", "NATURAL = 1.3", "1.6900000000000002"),
    ("equations/walls.py", "TILT = 1e-20", "1e-23"),
    # There the table of a wire screen ends: what is faster has its last value.
    ("equations/elements.py", "TURBULENT_SCREEN = 400.0", "520.0"),
    # Within one second: what is divided by one.
    ("solver/switching.py", "/ FAN_LAG", "np.where(self.follow.active, drive, 0.0)"),
    ("solver/switching.py", "/ FAN_LAG", "np.where(self.follow.active, drive, 0.0) * FAN_LAG"),
    # Of a wall that stores heat both faces are held, or neither.
    ("equations/walls.py", "own = ~np.isnan(self.held[0].real)", "1"),
    # How often columns are made is a matter of time and memory.
    ("equations/elements.py", "if inputs.variants == 1 else {}", "inputs.variants != 1"),
    # So stiff is a panel of given U that its faces are one, by whatever factor.
    ("equations/stores.py", "SOLID = 1e4", "13000.0"),
    # In how large steps a fit goes: how soon it settles, not where.
    ("studies/readings/fit.py", "x_scale=1.0 if scaled", "1.3"),
    # What is changed by a factor or an amount was found to be a number before.
    ("enclosure/relative.py", "isinstance(read, fields.Number) and given(v)", "given(v)"),
    # The same columns several times.
    ("studies/choice/refine.py", "tried.model, tried.found, {}), 1)", "2"),
    # A share is above 1 by round-off alone.
    ("results/streams.py", "np.clip(found[:, 0], 0.0, 1.0)", "1.3"),
)
SMALL = 1e-3  # a floor or a tolerance: a thousandth of it is the fault


class Fault(NamedTuple):
    """One replacement in one file."""

    file: str  # below the root of the checkout
    line: int
    function: int  # first line of the outermost function around it; 0: of the module
    kind: str
    start: int  # of the text that goes, in characters
    stop: int
    before: str
    after: str

    def __str__(self) -> str:
        before, after = (" ".join(text.split()) for text in (self.before, self.after))
        return f"{self.file}:{self.line} {self.kind}: {before} -> {after}"

    def source(self, root: Path) -> str:
        """The whole file with the fault in it."""
        text = (root / self.file).read_text()
        return text[: self.start] + self.after + text[self.stop :]


def faults(root: Path, file: str) -> list[Fault]:
    """Every fault of a file that an answer could show, in the order of its text."""
    lines = (root / file).read_text().splitlines()
    same = [(said, after) for own, said, after in SAME if file.endswith(own)]
    return [fault for fault in _File(root, file)
            if not any(said in lines[fault.line - 1] and fault.after in (after, f"({after})")
                       for said, after in same)]  # fmt: skip


def drawn(found: list[Fault], count: int, random: Random) -> list[Fault]:
    """So many of them, kinds of fault in turn, no two on one line."""
    by_kind: dict[str, list[Fault]] = {}
    for fault in found:
        by_kind.setdefault(fault.kind, []).append(fault)
    chosen: dict[tuple[str, int], Fault] = {}
    while by_kind and len(chosen) < count:
        kind = random.choice(sorted(by_kind))
        fault = by_kind[kind].pop(random.randrange(len(by_kind[kind])))
        chosen.setdefault((fault.file, fault.line), fault)
        by_kind = {name: rest for name, rest in by_kind.items() if rest}
    return sorted(chosen.values())


class _File:
    """The faults of one file while its tree is walked."""

    def __init__(self, root: Path, file: str) -> None:
        self.file, self.text = file, (root / file).read_text()
        self.tree = ast.parse(self.text)
        self.lines = self.text.splitlines(keepends=True)
        self.offsets = [0, *accumulate(map(len, self.lines))]
        self.names = {n.attr for n in ast.walk(self.tree) if isinstance(n, ast.Attribute)}
        self.local: dict[ast.FunctionDef | None, set[str]] = {None: set()}
        self.idle = {place for node in ast.walk(self.tree) if (place := _idle(node)) is not None}

    def __iter__(self) -> Iterator[Fault]:
        yield from self._within(self.tree, None)

    def _within(self, node: ast.AST, function: ast.FunctionDef | None) -> Iterator[Fault]:
        for child in _looked_at(node):
            if child in self.idle:
                continue
            own = child if function is None and isinstance(child, ast.FunctionDef) else function
            if own not in self.local and own is not None:
                self.local[own] = _local(own)
            for kind, after in _changes(child, self.local[own], self.names):
                yield self._fault(child, own, kind, after)
            yield from self._within(child, own)

    def _fault(
        self, node: ast.AST, function: ast.FunctionDef | None, kind: str, after: ast.expr
    ) -> Fault:
        assert isinstance(node, ast.expr)
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = self._place(node.lineno, node.col_offset)
        stop = self._place(node.end_lineno, node.end_col_offset)
        lines = [d.lineno for d in function.decorator_list] if function else []
        first = min([function.lineno, *lines]) if function else 0
        text = ast.unparse(after)
        simple = isinstance(after, ast.Name | ast.Attribute | ast.Constant | ast.Call)
        text = text if simple else f"({text})"
        return Fault(self.file, node.lineno, first, kind, start, stop, self.text[start:stop], text)

    def _place(self, line: int, column: int) -> int:
        """Characters from the start of the file; columns count bytes."""
        return self.offsets[line - 1] + len(self.lines[line - 1].encode()[:column].decode())


def _looked_at(node: ast.AST) -> Iterator[ast.AST]:
    """The parts of a node in which a fault could change a result."""
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not _is_said(child):
                yield child


def _idle(node: ast.AST) -> ast.expr | None:
    """The 1.0 of `x / np.where(there, y, 1.0)`, or of `x / np.where(none, 1.0, y)[:, None]`; the 1
    of `x.reshape(n, -1)`, which may be any number."""
    match node:
        case ast.BinOp(op=ast.Div(), right=ast.Subscript(value=divisor) | divisor):
            match divisor:
                case ast.Call(func=of, args=[_, *args]) if ast.unparse(of) == "np.where":
                    return next((one for one in args if isinstance(one, ast.Constant)), None)
        case ast.Call(func=ast.Attribute(attr="reshape"), args=[*args]):
            turned = (one.operand for one in args if isinstance(one, ast.UnaryOp))
            return next(turned, None)
    return None


def _is_said(node: ast.AST) -> bool:
    """Whether it is text, or what an error says, or for a type checker alone."""
    if isinstance(node, ast.FunctionDef):
        return node.returns is not None and ast.unparse(node.returns) in TEXTS
    if isinstance(node, ast.Call):
        name = ast.unparse(node.func).rpartition(".")[2]
        return name.endswith(("Error", "errstate")) or name in UNSEEN_CALLS
    if isinstance(node, ast.Assign | ast.If):
        one = ast.unparse(node.test if isinstance(node, ast.If) else node.targets[0])
        return one in WORK | FAR or "TYPE_CHECKING" in one
    match node:
        case ast.keyword(arg=name) | ast.Attribute(attr=name):
            return name in UNSEEN_NAMES
        case (  # a sentence that is put together, or a word where there is none
            ast.BinOp(left=left, op=ast.Add(), right=right) | ast.BoolOp(values=[left, *_, right])
        ):
            return _text(left) or _text(right)
    return isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom)


def _local(function: ast.FunctionDef) -> set[str]:
    return {n.id for n in ast.walk(function) if isinstance(n, ast.Name)} | {
        a.arg for a in ast.walk(function) if isinstance(a, ast.arg)
    }


def _changes(  # noqa: PLR0912 - one case a kind of fault
    node: ast.AST, names: set[str], attributes: set[str]
) -> Iterator[tuple[str, ast.expr]]:
    """What could stand in the place of an expression: kind of fault, expression."""
    match node:
        case ast.Constant(value=bool() | None):
            return
        case ast.Constant(value=int() | float() as value):
            yield "constant", ast.Constant(_other_number(value))
        case ast.UnaryOp(op=ast.USub() | ast.Not() | ast.Invert(), operand=inner):
            yield "sign", inner
        case ast.BinOp(left=left, op=op, right=right) if not (_silent(left) or _silent(right)):
            if (other := OTHER_OPERATOR.get(type(op))) is not None:
                yield "operator", ast.BinOp(left, other(), right)
            if isinstance(op, ast.Add | ast.Sub | ast.Mult | ast.Div | ast.BitAnd):
                yield "dropped term", left
        case ast.Compare(left=left, ops=[op], comparators=[right]):
            yield "comparison", ast.Compare(left, [OTHER_OPERATOR[type(op)]()], [right])
        case ast.BoolOp(op=op, values=[_, *rest] as values):
            yield "operator", ast.BoolOp(OTHER_OPERATOR[type(op)](), values)
            dropped = rest[0] if len(rest) == 1 else ast.BoolOp(op, rest)
            yield "dropped term", dropped
        case ast.IfExp(test=test, body=body, orelse=other) if not (_text(body) or _text(other)):
            yield "swapped", ast.IfExp(test, other, body)
        case ast.Name(id=name, ctx=ast.Load()) if TWIN.get(name) in names:
            yield "swapped", ast.Name(TWIN[name])
        case ast.Attribute(value=value, attr=name, ctx=ast.Load()) if TWIN.get(name) in attributes:
            yield "swapped", ast.Attribute(value, TWIN[name])
        case ast.Call(func=function, args=[*args], keywords=keywords):
            if (swapped := _swapped(function, args)) is not None:
                yield "swapped", ast.Call(function, swapped, keywords)


def _swapped(function: ast.expr, args: list[ast.expr]) -> list[ast.expr] | None:
    """Arguments of a call in another order; None where that is no likely slip."""
    name = ast.unparse(function)
    if name == "np.where" and len(args) == 3:
        return [args[0], args[2], args[1]]
    plain = all(isinstance(a, ast.Name | ast.Attribute) for a in args[:2])
    alike = plain and len(args) > 1 and ast.unparse(args[0]) == ast.unparse(args[1])
    if len(args) < 2 or not plain or alike or name.rpartition(".")[2] in SYMMETRIC:
        return None
    return [args[1], args[0], *args[2:]]


def _other_number(value: float) -> float:
    if isinstance(value, int):
        return value + 1
    if value == 0:
        return 1.0
    return value / 1000 if abs(value) < SMALL else value * 1.3


def _silent(node: ast.expr) -> bool:
    """Whether it is text, or a zero that only gives an array its shape."""
    match node:
        case ast.Constant(value=0) | ast.BinOp(left=ast.Constant(value=0), op=ast.Mult()):
            return True
        case ast.Call(func=ast.Attribute(attr="zeros" | "zeros_like")):
            return True
    return _text(node)


def _text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
