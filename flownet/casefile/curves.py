"""Fan curves in CSV files, as a data sheet is copied out or a spreadsheet exports it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from flownet.casefile.files import inside, neighbours
from flownet.enclosure.fans import FanType
from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, brief, did_you_mean, nearest
from flownet.schema.fields import keys
from flownet.schema.text_file import CsvLine, csv_lines, read_text

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
    with placed(name):
        lines = list(csv_lines(text))
    for line in lines:
        if line.remark:
            with placed(f"{name}: line {line.number}", faults=faults):
                made |= _remark(line)
    with placed(faults=faults):
        made["curve"] = _curve([line for line in lines if not line.remark], name)
    if faults:
        raise CaseError(faults)
    return made


def _remark(line: CsvLine) -> Mapping[str, Any]:
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


def _curve(rows: list[CsvLine], name: str) -> tuple[tuple[float, ...], ...]:
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


def _header(line: CsvLine, name: str) -> list[tuple[str, str]]:
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


def _point(line: CsvLine, order: list[tuple[str, str]]) -> tuple[float, float]:
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
