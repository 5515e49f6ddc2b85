"""How the package is built: imports, circles, doors, sizes, names, and nothing written twice.

Each rule is one test that names all its offenders. Where the package falls short of its aim, the
number of today stands in `LIMITS`: it may not grow, and once it has fallen the table is lowered.
`python -m tests.test_house [RULE ...]` prints the table, with the offenders of the rules named.

Imports are counted wherever they stand: in functions, by `flownet.NAME`, whose home is where the
package takes it from, and by `importlib`. Those for type checkers alone (under `TYPE_CHECKING`, or
named in annotations only) are told apart: they load nothing.
"""

from __future__ import annotations

import ast
import collections
import functools
import statistics
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import networkx as nx
import pytest

PACKAGE = Path(__file__).parents[1] / "flownet"
# What stands at the top, and nothing else: neither wheels nor notes.
FRAME = {".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "cases", "docs", "flownet",
         "pyproject.toml", "tests"}  # fmt: skip
# Rule: today, aim, and how far below today the package may be before the table is lowered.
LIMITS = {
    "lines": (57246, 30000, 250),
    "files": (340, 190, 2),
    "imports upwards": (0, 0, 0),
    "modules in circles": (0, 0, 0),
    "modules in circles, types too": (0, 0, 0),
    "files that import flownet": (0, 0, 0),
    "files over 350 lines": (0, 0, 0),
    "functions over 40 lines": (0, 0, 0),
    "classes whose name is taken": (0, 0, 0),
    "underscores of others": (0, 0, 0),
    "constants written twice": (0, 0, 0),
    "constants whose name is taken": (0, 0, 0),
    "type names written twice": (0, 0, 0),
}
# Folder, or file of the top: the most lines it may have today, and at last; 0: it goes.
FOLDERS = {
    "__init__": (39, 40), "__main__": (5, 5), "casefile": (2254, 2250),
    "cli": (3635, 1800), "columns": (350, 280), "draw": (51, 0), "enclosure": (4449, 3000),
    "equations": (3792, 2400), "exports": (813, 980), "findings": (3083, 2300),
    "handover": (2220, 2400), "judging": (628, 600),
    "pages": (1913, 900), "physics": (1583, 1150),
    "pictures": (7458, 3600), "results": (1854, 850), "schema": (2183, 1500),
    "solver": (5319, 3500), "solving": (545, 480), "studies": (15072, 6100),
}  # fmt: skip
FOLDER_STEP = 100  # lines below today before the table is lowered
LEVELS = {
    "__init__": 0, "schema": 1, "physics": 2, "enclosure": 3, "columns": 3, "results": 3,
    "equations": 4, "solver": 4.1, "judging": 4.2, "findings": 4.3,
    "pages": 4.35, "solving": 4.4,
    "studies": 5, "exports": 5.1, "casefile": 6, "pictures": 6, "draw": 6,
    "handover": 6.5, "cli": 7, "__main__": 7,
}  # fmt: skip
APART = ({"casefile", "pages"}, {"casefile", "pictures"})
NEVER = {
    "pages/": ("equations", "solver", "studies", "solving"),
    "pictures/": ("equations", "solver"),
    "pictures/map/": ("studies", "solving"),
    "pictures/network.py": ("studies", "solving"),
    "pictures/network_grid.py": ("studies", "solving"),
    "pictures/scene/": ("studies", "solving"),
    "solver/elimination.py": ("physics", "enclosure", "columns", "results", "equations"),
}
DOORS = {
    "fluids": ("physics/",),
    "ht": ("physics/",),
    "matplotlib": ("pictures/", "handover/figures.py", "handover/slider.py"),
    "networkx": ("enclosure/contents.py", "exports/", "pictures/"),
    "openpyxl": ("exports/",),
    "click": ("cli/",),
    "rich": ("cli/", "pages/"),
    "jinja2": ("handover/",),
    "markupsafe": ("handover/",),
}
# Between a number of the case and a result everything takes complex arrays.
BETWEEN = (
    "equations/laws.py", "equations/walls.py", "equations/state.py",
    "equations/branch.py", "equations/residual.py", "equations/readout.py",
    "equations/component_temperatures.py", "physics/",
)  # fmt: skip
BETWEEN_LINES = 2500  # of those files, so that a new name takes none of them out of the rule
DECIDES_BY_REAL = {"maximum", "minimum", "sign", "clip", "abs", "fabs", "hypot"}


class Module(NamedTuple):
    """A file of the package, read once."""

    name: str  # flownet.equations.state
    file: str  # equations/state.py
    lines: int
    tree: ast.Module
    nodes: list[ast.AST]
    typing: set[int]  # nodes that only a type checker reads

    @property
    def top(self) -> str:
        return self.file.partition("/")[0].removesuffix(".py")


class Import(NamedTuple):
    """One import of a module or of a name in it."""

    where: str
    own: Module
    target: str  # the module, within the package or not
    names: tuple[str, ...]  # taken out of it
    typing: bool
    late: bool  # within a function: not when the file is loaded


# --- what there is -------------------------------------------------------------------------------


@functools.cache
def modules() -> dict[str, Module]:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        file = path.relative_to(PACKAGE).as_posix()
        name = f"flownet.{file.removesuffix('.py').replace('/', '.')}".removesuffix(".__init__")
        text = path.read_text(encoding="utf-8")
        tree = ast.parse(text)
        nodes = list(ast.walk(tree))
        found[name] = Module(name, file, len(text.splitlines()), tree, nodes, set(_typing(nodes)))
    return found


def _typing(nodes: list[ast.AST]) -> Iterator[int]:
    """Nodes under `if TYPE_CHECKING`, and in annotations."""
    for node in nodes:
        read: list[ast.AST | None] = []
        if isinstance(node, ast.If) and _named(node.test) == "TYPE_CHECKING":
            read = [*node.body]
        elif isinstance(node, (ast.arg, ast.AnnAssign)):
            read = [node.annotation]
        elif isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            read = [node.returns]
        for part in read:
            if part is not None:
                yield from map(id, ast.walk(part))


@functools.cache
def homes() -> dict[str, str]:
    """Public names and the module each is taken from when it is first asked for."""
    face, found = modules()["flownet"], {}
    for node in ast.walk(ast.parse((PACKAGE / "__init__.pyi").read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            found |= {alias.name: _absolute(face, node) for alias in node.names}
    return {name: home for name, home in found.items() if home != "flownet"}  # modules: no homes


def _named(node: ast.expr) -> str:
    """The last step of a name: `TYPE_CHECKING` of `typing.TYPE_CHECKING`."""
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def _absolute(own: Module, node: ast.ImportFrom) -> str:
    if not node.level:
        return node.module or ""
    package = own.name if own.file.endswith("__init__.py") else own.name.rpartition(".")[0]
    steps = package.split(".")
    base = ".".join(steps[: len(steps) - node.level + 1])
    return f"{base}.{node.module}" if node.module else base


@functools.cache
def imports() -> tuple[Import, ...]:
    """Every import of every file but the face itself."""
    return tuple(one for own in modules().values() if own.name != "flownet" for one in _all(own))


def _all(own: Module) -> Iterator[Import]:
    faces, loaded = set(), set(map(id, _loaded(own.tree.body)))
    for node in own.nodes:
        where = f"{own.file}:{getattr(node, 'lineno', 0)}"
        when = (id(node) in own.typing, id(node) not in loaded)
        if isinstance(node, ast.Import):
            faces |= {a.asname or "flownet" for a in node.names if a.name == "flownet"}
            for alias in node.names:
                yield Import(where, own, alias.name, (), *when)
        elif isinstance(node, ast.ImportFrom):
            for alias in node.names:
                yield _resolved(where, own, _absolute(own, node), alias.name, *when)
        elif isinstance(node, ast.Call) and _named(node.func) in ("import_module", "__import__"):
            for target in _by_text(node):
                yield Import(where, own, target, (), *when)
    for node in own.nodes:
        if not (isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)):
            continue
        if node.value.id in faces and not node.attr.startswith("__"):
            where = f"{own.file}:{node.lineno}"
            yield _resolved(where, own, "flownet", node.attr, id(node) in own.typing, True)


def _loaded(body: list[ast.stmt]) -> Iterator[ast.stmt]:
    """Statements that run when a file is loaded."""
    for node in body:
        yield node
        if not isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            for part in ("body", "orelse", "finalbody"):
                yield from _loaded(getattr(node, part, []))
            for handler in getattr(node, "handlers", []):
                yield from _loaded(handler.body)


def _resolved(where: str, own: Module, module: str, name: str, typing: bool, late: bool) -> Import:
    """`from module import name`: a module of the package, a public name by its home, or a name."""
    if f"{module}.{name}" in modules() and not (module == "flownet" and name in homes()):
        return Import(where, own, f"{module}.{name}", (), typing, late)
    home = homes().get(name, module) if module == "flownet" else module
    return Import(where, own, home, (name,), typing, late)


def _by_text(node: ast.Call) -> Iterator[str]:
    """Modules that `importlib.import_module` names; of a text with gaps, all that fit it."""
    text = node.args[0]
    if isinstance(text, ast.Constant):
        yield str(text.value)
    elif isinstance(text, ast.JoinedStr) and isinstance(text.values[0], ast.Constant):
        head = str(text.values[0].value)
        yield from (name for name in modules() if name.rpartition(".")[0] + "." == head)


def circles(*, typing: bool = False, late: bool = True) -> list[list[str]]:
    """Strongly connected components of the imports that are larger than one module.

    `late=False`: only what runs when files are loaded, with the packages that modules lie in.
    """
    graph = nx.DiGraph()
    for one in imports():
        if (one.typing and not typing) or (one.late and not late):
            continue
        targets = {one.target} if late else {one.target, one.target.rpartition(".")[0]}
        graph.add_edges_from(
            (one.own.name, target)
            for target in targets - {"flownet", one.own.name, one.own.name.rpartition(".")[0]}
            if target in modules()
        )
    found = nx.strongly_connected_components(graph)
    return sorted((sorted(part) for part in found if len(part) > 1), key=len, reverse=True)


# --- rules: each tells its offenders -------------------------------------------------------------


def upward() -> Iterator[str]:
    """Imports of a higher level, between rooms that are kept apart, and of what nobody may see."""
    for one in imports():
        if one.typing or one.target not in modules() or one.target == "flownet":
            continue
        own, other = one.own.top, modules()[one.target].top
        never = [tops for file, tops in NEVER.items() if one.own.file.startswith(file)]
        if (
            LEVELS[other] > LEVELS[own]
            or {own, other} in APART
            or any(other in tops for tops in never)
        ):
            yield f"{one.where} imports {one.target}"


def doors() -> Iterator[str]:
    """Libraries that come in by another door than theirs."""
    for one in imports():
        allowed = DOORS.get(one.target.partition(".")[0])
        if allowed is not None and not one.typing and not one.own.file.startswith(allowed):
            yield f"{one.where} imports {one.target}"


def in_circles(*, typing: bool = False, late: bool = True) -> Iterator[str]:
    """Modules that are part of a circle of imports."""
    for part in circles(typing=typing, late=late):
        yield from (f"circle of {len(part)}: {name}" for name in part)


def through_the_face() -> Iterator[str]:
    """Files that import `flownet` itself, or names from it, which hides what they need."""
    for module in modules().values():
        for node in module.nodes:
            if (isinstance(node, ast.Import) and any(a.name == "flownet" for a in node.names)) or (
                isinstance(node, ast.ImportFrom)
                and _absolute(module, node) == "flownet"
                and any(alias.name in homes() for alias in node.names)
            ):
                yield f"{module.file}:{node.lineno}"


def homeless() -> Iterator[str]:
    """Names taken from `flownet` whose home is not found: an import that no rule would see."""
    for one in imports():
        if one.target == "flownet" and one.names and not one.names[0].startswith("__"):
            yield f"{one.where}: flownet.{one.names[0]}"


def long_files() -> Iterator[str]:
    """Files of more than 350 lines."""
    yield from (f"{m.file}: {m.lines}" for m in modules().values() if m.lines > 350)


def long_functions() -> Iterator[str]:
    """Functions of more than 40 lines, their docstrings included."""
    for module in modules().values():
        for node in module.nodes:
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                lines = (node.end_lineno or node.lineno) - node.lineno + 1
                if lines > 40:
                    yield f"{module.file}:{node.lineno} {node.name}: {lines}"


def ambiguous_classes() -> Iterator[str]:
    """Classes whose name stands for another thing elsewhere; private ones aside."""
    places = collections.defaultdict(list)
    for module in modules().values():
        for node in module.nodes:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places[node.name].append(f"{module.file}:{node.lineno}")
    yield from _beyond_the_first(places)


def _beyond_the_first(places: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Each further place of a name; the first one may keep it."""
    for name, (first, *others) in sorted(places.items()):
        yield from (f"{name}: {other}, beside {first}" for other in others)


def foreign_underscores() -> Iterator[str]:
    """Names with a leading underscore that another module takes."""
    for one in imports():
        for name in one.names:
            if one.target in modules() and name.startswith("_") and not name.startswith("__"):
                yield f"{one.where}: {one.target}.{name}"
    for module in modules().values():
        taken = {
            alias.asname or alias.name
            for node in module.nodes if isinstance(node, ast.ImportFrom)
            for alias in node.names if f"{_absolute(module, node)}.{alias.name}" in modules()
        }  # fmt: skip
        for node in module.nodes:
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                name = node.attr
                if node.value.id in taken and name.startswith("_") and not name.startswith("__"):
                    yield f"{module.file}:{node.lineno}: {node.value.id}.{name}"


def constants_twice() -> Iterator[str]:
    """Constants, names in capitals with a literal value, that stand in several files alike."""
    places = collections.defaultdict(list)
    for name, at in _constants().items():
        for file, value in at:
            places[f"{name} = {value:.60}"].append(file)
    yield from _beyond_the_first(places)


def ambiguous_constants() -> Iterator[str]:
    """Constants whose name stands for another value elsewhere; private ones aside."""
    places = collections.defaultdict(list)
    for name, at in _constants().items():
        for value, file in {value: file for file, value in reversed(at)}.items():
            if not name.startswith("_"):
                places[name].append(f"{value:.40} in {file}")
    yield from _beyond_the_first(places)


@functools.cache
def _constants() -> dict[str, list[tuple[str, str]]]:
    """Constants by name: file and value, wherever there are several."""
    found = collections.defaultdict(list)
    for module in modules().values():
        for name, value in _assigned(module):
            bare = name.lstrip("_")
            if bare.isupper() and len(bare) > 1 and _literal(value):
                found[name].append((module.file, value))
    return {
        name: [(file, ast.unparse(value)) for file, value in at]
        for name, at in sorted(found.items()) if len(at) > 1
    }  # fmt: skip


def aliases_twice() -> Iterator[str]:
    """Names of types, such as `Changes = Mapping[str, Any]`, that several files define."""
    places = collections.defaultdict(list)
    for module in modules().values():
        for name, value in _assigned(module):
            if name[:1].isupper() and not name.isupper() and isinstance(value, ast.Subscript):
                places[name].append(module.file)
    yield from _beyond_the_first(places)


def _assigned(module: Module) -> Iterator[tuple[str, ast.expr]]:
    for node in module.tree.body:
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value:
            yield node.target.id, node.value
        elif isinstance(node, ast.Assign):
            for target in node.targets:
                pairs = [(target, node.value)]
                if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                    pairs = list(zip(target.elts, node.value.elts, strict=False))
                yield from ((name.id, v) for name, v in pairs if isinstance(name, ast.Name))


def _literal(value: ast.expr) -> bool:
    """Numbers, text, and tables, lists and sums of them."""
    whole = (ast.Constant, ast.Tuple, ast.List, ast.Dict, ast.Set, ast.UnaryOp, ast.BinOp,
             ast.operator, ast.unaryop, ast.expr_context)  # fmt: skip
    plain = not (isinstance(value, ast.Constant) and isinstance(value.value, (bool, type(None))))
    return plain and all(isinstance(node, whole) for node in ast.walk(value))


def drops_imaginary_parts() -> Iterator[str]:
    """Functions that drop or compare imaginary parts; `.real` inside their arguments decides."""
    for module in modules().values():
        for node in module.nodes if module.file.startswith(BETWEEN) else ():
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                owner, name = ast.unparse(node.func.value), node.func.attr
                bare = name in DECIDES_BY_REAL and ".real" not in ast.unparse(node)
                if owner == "math" or (owner == "np" and bare):
                    yield f"{module.file}:{node.lineno} {owner}.{name}"


RULES: dict[str, Callable[[], Iterator[str]]] = {
    "imports upwards": upward,
    "libraries by another door": doors,
    "modules in circles": in_circles,
    "modules in circles, types too": functools.partial(in_circles, typing=True),
    "modules in circles when loaded": functools.partial(in_circles, late=False),
    "files that import flownet": through_the_face,
    "public names without a home": homeless,
    "files over 350 lines": long_files,
    "functions over 40 lines": long_functions,
    "classes whose name is taken": ambiguous_classes,
    "underscores of others": foreign_underscores,
    "constants written twice": constants_twice,
    "constants whose name is taken": ambiguous_constants,
    "type names written twice": aliases_twice,
    "imaginary parts dropped": drops_imaginary_parts,
}


@functools.cache
def offenders(rule: str) -> tuple[str, ...]:
    """Who breaks a rule."""
    return tuple(RULES[rule]())


def sizes() -> dict[str, int]:
    """Lines of each folder, and of each file at the top."""
    found: collections.Counter[str] = collections.Counter()
    for module in modules().values():
        found[module.top] += module.lines
    return dict(found)


def counts() -> dict[str, int]:
    """Every number that `LIMITS` holds, as it is now."""
    found = {rule: len(offenders(rule)) for rule in RULES}
    return found | {"lines": sum(sizes().values()), "files": len(modules())}


# --- tests ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", RULES)
def test_a_rule_has_no_more_offenders_than_its_limit(rule):
    found = offenders(rule)
    today, aim, _ = LIMITS.get(rule, (0, 0, 0))
    told = f"{rule}: {len(found)}, at most {today} (aim {aim})"
    assert len(found) <= today, "\n  ".join([told, *found])


def test_the_package_and_its_folders_are_no_larger_than_their_limits():
    found, now = [], counts()
    for name in ("lines", "files"):
        if now[name] > LIMITS[name][0]:
            found.append(f"{name}: {now[name]}, at most {LIMITS[name][0]} (aim {LIMITS[name][1]})")
    for folder, lines in sizes().items():
        if folder not in FOLDERS:
            found.append(f"{folder}: {lines} lines, and no limit; give it one in FOLDERS")
        elif lines > FOLDERS[folder][0]:
            found.append(f"{folder}: {lines} lines, at most {FOLDERS[folder][0]}")
    longest = max(modules().values(), key=lambda module: module.lines)
    if longest.lines > 500:
        found.append(f"{longest.file}: {longest.lines} lines, at most 500")
    median = statistics.median(module.lines for module in modules().values())
    assert not found, "\n  ".join(["too large:", *found])
    assert median <= 160, f"half of the files have more than {median} lines"


def test_limits_are_lowered_as_the_package_gets_better():
    now, found = counts(), []
    for rule, (today, aim, step) in LIMITS.items():
        least = max(today - step, aim)
        if now[rule] < least or today < aim:
            found.append(f"LIMITS, {rule}: {now[rule]} now, the table says {today}")
    for folder, (today, aim) in FOLDERS.items():
        lines = sizes().get(folder, 0)
        if today > aim and lines < max(today - FOLDER_STEP, aim):
            found.append(f"FOLDERS, {folder}: {lines} now, the table says {today}")
    assert not found, "\n  ".join(["better than the table; lower it:", *found])


def test_every_file_has_a_level_and_the_complex_ones_keep_their_rule():
    unknown = sorted({m.top for m in modules().values()} - set(LEVELS))
    assert not unknown, f"no level in LEVELS: {', '.join(unknown)}"
    between = sum(m.lines for m in modules().values() if m.file.startswith(BETWEEN))
    assert between >= BETWEEN_LINES, f"{between} lines left in BETWEEN; a file has a new name?"


def test_the_top_has_its_frame_and_nothing_else():
    """Of what git keeps; in a copy without its history, of all that it would not pass over."""
    root = PACKAGE.parent
    passed = [line.strip("/") for line in (root / ".gitignore").read_text().splitlines()]
    listed = [p.name for p in root.iterdir() if not any(map(p.match, passed))]
    if ".git" in listed:
        kept = subprocess.run(["git", "ls-files"], cwd=root, capture_output=True, text=True,
                              check=True)  # fmt: skip
        listed = [line.partition("/")[0].strip('"') for line in kept.stdout.splitlines()]
    assert set(listed) == FRAME


def main(words: list[str]) -> None:
    """The table of now, limits and aims."""
    now = counts()
    for rule, (today, aim, _) in LIMITS.items():
        print(f"{rule:32} now {now[rule]:6}  limit {today:6}  aim {aim:6}")
    for folder in {**FOLDERS, **sizes()}:
        today, aim = FOLDERS.get(folder, (0, 0))
        print(f"  {folder:30} now {sizes().get(folder, 0):6}  limit {today:6}  aim {aim:6}")
    for rule in RULES:
        if any(word in rule for word in words):
            print(f"\n{rule}", *offenders(rule), sep="\n  ")


if __name__ == "__main__":
    main(sys.argv[1:])
