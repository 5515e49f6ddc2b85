"""Imports run downwards, and what keeps complex steps alive is not forgotten."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "flownet"
FILES = sorted(PACKAGE.rglob("*.py"))
LEVELS = {
    "doors": 0, "errors": 0, "atomic": 0, "quantities": 0, "arrays": 0, "shown": 0,
    "units": 1, "roles": 1, "things": 1, "conversion": 1,
    "air": 2, "correlations": 2,
    "enclosure": 3, "inputs": 3, "tables": 3, "solution": 3, "batches": 3, "streams": 3,
    "layered": 4,
    "network": 4, "limits": 4, "noise": 4, "solve": 4, "operating_points": 4,
    "opposed": 4, "voids": 4, "assessment": 4,
    "findings": 5, "studies": 5,
    "casefile": 6, "report": 6, "pictures": 6, "draw": 6,
    "cli": 7, "__main__": 7,
}  # fmt: skip
DOORS = {
    "fluids": ("correlations/",),
    "ht": ("correlations/",),
    "matplotlib": ("pictures/", "report/figures/"),
    "networkx": ("enclosure/whole.py", "report/figures/"),
    "click": ("cli/",),
    "rich": ("cli/", "report/"),
    "jinja2": ("report/",),
}
BETWEEN = ("network/laws.py", "network/model.py", "network/parts.py", "network/results.py",
           "network/walls.py", "air.py", "correlations/")  # fmt: skip
DECIDES_BY_REAL = {"maximum", "minimum", "sign", "clip", "abs", "fabs", "hypot"}


def name(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def imports(path: Path) -> Iterator[str]:
    """Every module imported anywhere in a file, inside functions too; not for type checking."""
    tree = ast.parse(path.read_text())
    skipped = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def layer(module: str) -> str | None:
    steps = module.split(".")
    return steps[1] if steps[0] == "flownet" and len(steps) > 1 and steps[1] in LEVELS else None


@pytest.mark.parametrize("path", FILES, ids=name)
def test_imports_run_downwards(path):
    own = name(path).split("/", maxsplit=1)[0].removesuffix(".py")
    if own == "__init__":
        return  # the public names, loaded when asked for
    for module in imports(path):
        other = layer(module)
        if other is not None and other != own:
            assert LEVELS[other] <= LEVELS[own], f"{name(path)} imports {module}"
            assert {own, other} != {"casefile", "report"}, f"{name(path)} imports {module}"
    if own == "report":
        assert not any(layer(m) in ("network", "studies", "solve") for m in imports(path))


@pytest.mark.parametrize("path", FILES, ids=name)
def test_libraries_come_through_their_door(path):
    for module in imports(path):
        doors = DOORS.get(module.split(".", maxsplit=1)[0])
        if doors is not None:
            assert name(path).startswith(doors), f"{name(path)} imports {module}"


def test_no_circle_among_modules_when_loaded():
    """Imports at the top of a file alone; those inside functions happen later."""
    graph = {}
    for path in FILES:
        module = "flownet." + name(path).removesuffix(".py").replace("/", ".")
        tree = ast.parse(path.read_text())
        found = set()
        for node in tree.body:
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("flownet"):
                found |= {node.module, *(f"{node.module}.{a.name}" for a in node.names)}
        graph[module.removesuffix(".__init__")] = found
    state: dict[str, int] = {}

    def visit(module: str, trail: tuple[str, ...]) -> None:
        assert state.get(module) != 1, f"a circle: {' -> '.join([*trail, module])}"
        if module in graph and module not in state:
            state[module] = 1
            for other in graph[module] - {module}:
                visit(other, (*trail, module))
            state[module] = 2

    for module in graph:
        visit(module, ())


@pytest.mark.parametrize("path", FILES, ids=name)
def test_no_file_is_longer_than_500_lines(path):
    assert len(path.read_text().splitlines()) <= 500


@pytest.mark.parametrize("path", [p for p in FILES if name(p).startswith(BETWEEN)], ids=name)
def test_between_inputs_and_results_everything_takes_complex_arrays(path):
    """Functions that drop or compare imaginary parts; `.real` inside their arguments decides."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            owner = ast.unparse(node.func.value)
            if owner == "math":
                raise AssertionError(f"{name(path)}:{node.lineno} uses math.{node.func.attr}")
            if owner == "np" and node.func.attr in DECIDES_BY_REAL:
                assert ".real" in ast.unparse(node), f"{name(path)}:{node.lineno}"
