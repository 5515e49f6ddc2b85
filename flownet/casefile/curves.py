"""Fan curves in CSV files, as a data sheet is copied out or a spreadsheet exports it."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from flownet.casefile.files import inside, neighbours
from flownet.enclosure.fans import FanType
from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, brief, did_you_mean, nearest
from flownet.schema.fields import keys
from flownet.schema.text_file import read_text

FREE_FLOW = (
    "a free-air flow is reached at 0 Pa only; give the pressure-flow curve, "
    'such as curve = { flow = "0 60 110 170 m3/h", rise = "78 52 44 0 Pa" }'
)
COLUMNS = {"flow": q.VOLUME_FLOW, "rise": q.PRESSURE}
HEADER = "flow[m3/h],rise[Pa]"
REMARK_KEYS = {  # what a line `# word: value` gives
    "density": "reference_density",
    "speed": "rated_speed",
    "supply": "supply",
    "pressure": "curve_pressure",
    "origin": "origin",
}
_HEADING = re.compile(r"\s*([A-Za-z_ ]+?)\s*(?:\[\s*([^\]]*?)\s*\])?\s*")


class Line(NamedTuple):
    """One line of the file, by its cells."""

    number: int
    cells: list[str]


def read_curve(name: Any, folder: Path) -> dict[str, Any]:
    """What a curve file gives: `curve`, and the keys of its remarks, converted.

    `name` as the case file or catalogue in `folder` has it; CaseError, each line after
    `curve_csv: ` and that name.
    """
    if not isinstance(name, str) or not name:
        wanted = 'the name of a file, such as "curve.csv"'
        raise CaseError(f"curve_csv: takes {wanted} (got {brief(name)})")
    with placed("curve_csv"):
        path = inside(folder, name)
        if path is None:
            hint = did_you_mean(nearest(name, neighbours([folder], ".csv")))
            raise CaseError(Fault("", f'no file "{name}" beside the case', hint=hint))
        return _parsed(read_text(path, name), name)


def curve_file(path: str | Path) -> dict[str, Any]:
    """What a curve file by itself gives, as `read_curve`; CaseError, each line after its name."""
    found = Path(path)
    if not found.is_file():
        hint = did_you_mean(nearest(found.name, neighbours([found.parent], ".csv")))
        raise CaseError(Fault(found.name, "no such file", hint=hint))
    return _parsed(read_text(found, found.name), found.name)


def _parsed(text: str, name: str) -> dict[str, Any]:
    faults: list[Fault] = []
    made: dict[str, Any] = {}
    rows: list[Line] = []
    for line in _lines(text, name):
        if line.cells[0].startswith("#"):
            with placed(f"{name}: line {line.number}", faults=faults):
                made |= _remark(line)
        else:
            rows.append(line)
    with placed(faults=faults):
        made["curve"] = _curve(rows, name)
    if faults:
        raise CaseError(faults)
    return made


def _lines(text: str, name: str) -> Iterator[Line]:
    """Lines that hold something, without the empty cells that spreadsheets add at their ends."""
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip(" \t,;"):
            continue
        if line.lstrip(' "').startswith("#"):
            yield Line(number, [line.strip(' \t",;')])
            continue
        try:
            cells = next(csv.reader([line], strict=True))
        except csv.Error as error:
            raise CaseError(f"{name}: line {number}: {error}") from None
        while len(cells) > 1 and not cells[-1].strip():
            cells.pop()
        if len(cells) == 1 and (sign := _separator(line)):
            raise CaseError(
                f"{name}: line {number}: columns are separated by {sign}; "
                "export with commas between columns and points in numbers"
            )
        yield Line(number, [cell.strip() for cell in cells])


def _separator(line: str) -> str:
    return next((f'"{s}"' if s != "\t" else "tabs" for s in (";", "\t", "|") if s in line), "")


def _remark(line: Line) -> Mapping[str, Any]:
    """`# density: 1.2 kg/m3`; other remarks are for people."""
    word, colon, value = line.cells[0].lstrip("# ").partition(":")
    word, value = word.strip().lower(), value.strip()
    if not colon:
        return {}
    if word not in REMARK_KEYS:
        close = nearest(word, REMARK_KEYS) if len(word.split()) == 1 else ""
        if close:
            raise CaseError(f'"# {word}:" means nothing; {did_you_mean(f"# {close}:")}')
        return {}
    key = REMARK_KEYS[word]
    with placed(word):
        return {key: convert(keys(FanType)[key].role, value, file=True)}


def _curve(rows: list[Line], name: str) -> tuple[tuple[float, ...], ...]:
    if not rows:
        raise CaseError(f"{name}: holds no rows; its first line is {HEADER}")
    order = _header(rows[0], name)
    points = []
    faults: list[Fault] = []
    for line in rows[1:]:
        with placed(f"{name}: line {line.number}", faults=faults):
            points.append(_point(line, order))
    if faults:
        raise CaseError(faults)
    if len(points) < 2:
        raise CaseError(f"{name}: holds {len(points) or 'no'} points; {FREE_FLOW}")
    return tuple(points)


def _header(line: Line, name: str) -> list[tuple[str, str]]:
    """Column names with their units, in the order of the file."""
    order, faults = [], []
    for cell in line.cells:
        match = _HEADING.fullmatch(cell)
        word = match[1].lower() if match else cell
        if match is None or word not in COLUMNS:
            hint = did_you_mean(nearest(word, COLUMNS), f"the first line is {HEADER}")
            faults.append(f'unknown column "{cell[:40]}"; {hint}')
            continue
        example = "flow[m3/h] or flow[CFM]" if word == "flow" else "rise[Pa] or rise[inH2O]"
        if not match[2]:
            faults.append(f'column "{word}" has no unit; write {example}')
            continue
        order.append((word, match[2]))
        try:
            units.convert(0.0, match[2], COLUMNS[word])
        except CaseError as error:
            faults += [f'column "{word}": {fault}' for fault in error.faults]
    names = [word for word, _ in order]
    if not faults and sorted(names) != sorted(COLUMNS):
        faults.append(f"the columns are flow and rise, each once (got {', '.join(names)})")
    if faults:
        raise CaseError([f"{name}: line {line.number}: {fault}" for fault in faults])
    return order


def _point(line: Line, order: list[tuple[str, str]]) -> tuple[float, float]:
    if len(line.cells) < len(order):
        raise CaseError("a cell is empty; each row has a flow and a rise")
    if len(line.cells) > len(order):
        counts = f"{len(line.cells)} cells under {len(order)} columns"
        raise CaseError(f"{counts}; numbers take a point, not a comma")
    values = {
        word: units.parse(f"{cell} {unit}", COLUMNS[word])
        for (word, unit), cell in zip(order, line.cells, strict=True)
    }
    return values["flow"], values["rise"]
