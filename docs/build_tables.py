"""The generated tables of the docs, made from the declarations in the code."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from itertools import zip_longest
from typing import Any

import numpy as np

import flownet.enclosure.enclosure  # noqa: F401 - declares every kind
from flownet.exports.cfd import declared
from flownet.findings import RULES
from flownet.findings.explain import words
from flownet.physics import losses
from flownet.physics.materials import MATERIALS
from flownet.physics.registry import COMMON_PRACTICE, REGISTRY
from flownet.results import tables
from flownet.schema import fields as t
from flownet.schema.component import KINDS, Thing
from flownet.schema.quantities import QUANTITIES, UNITS, Quantity
from flownet.studies.headroom_subject import RANGES
from flownet.studies.tolerances import USUAL_SPREADS

KIND_ORDER = (
    "enclosure", "outside", "supply", "compartment", "opening", "vent", "filter", "baffle",
    "slot", "duct", "leak", "fan", "fan_type", "exchange", "recirculation", "wall", "part",
    "sink_type", "limits",
)  # fmt: skip

FIELDS = {
    "compartment.NAME": tables.COMPARTMENT + tables.OF_AIR, "compartment.NAME.NAME": tables.LAYER,
    "KIND.NAME": tables.BRANCH, "fan.NAME": tables.FAN + tables.OF_AIR[1:2],
    "part.NAME": tables.PART, "part.NAME.NAME": tables.STATION, "wall.NAME": tables.WALL,
    "exchange.NAME": tables.HEAT, "site": tables.SITE, "total": tables.TOTALS,
    "balance": tables.BALANCE,
}  # fmt: skip


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(_cell(c) for c in line) + " |" for line in lines)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


# --- keys of a case file -----------------------------------------------------------------------


def kind_tables() -> str:
    """One section a kind: what it is, and its keys."""
    missing = KINDS.keys() - set(KIND_ORDER)
    if missing:
        raise ValueError(f"kinds without a place in the manual: {sorted(missing)}")
    return "\n\n".join(_kind(KINDS[name]) for name in KIND_ORDER)


def _kind(cls: type[Thing]) -> str:
    single = cls.KIND in ("enclosure", "limits")
    name = f"[{cls.KIND}]" if single else f"[{cls.KIND}.NAME]"
    about = (cls.__doc__ or "").strip().splitlines()[0]
    common = ("tag", "note", "data")
    rows = [row for key, made in t.keys(cls).items() if key not in common
            for row in _key_rows(key, made)]  # fmt: skip
    notes = [f"At most one of {_listed(names)}." for names in cls.EXCLUSIVE]
    notes += [_needed(names) for names in cls.REQUIRED]
    parts = [f"### `{name}`", about]
    parts.append(table(("key", "meaning", "takes", "default", "range"), rows))
    return "\n\n".join([*parts, *([" ".join(notes)] if notes else [])])


def _needed(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"`{names[0]}` must be given."
    return f"One of {_listed(names)} must be given."


def _listed(names: Sequence[str]) -> str:
    quoted = [f"`{n}`" for n in names]
    return ", ".join(quoted[:-1]) + " and " + quoted[-1]


def _key_rows(name: str, key: t.Key, prefix: str = "") -> list[list[str]]:
    path = prefix + name
    if isinstance(key.role, t.Group):
        head = [f"`{path}`", key.doc, "a sub-table:", "none" if key.role.optional else "", ""]
        inner = t.keys(key.role.cls).items()
        return [head, *(row for n, k in inner for row in _key_rows(n, k, path + "."))]
    meaning = key.doc
    if key.typical:
        meaning += f"; typical {key.typical}"
    if key.source:
        meaning += f" ({key.source})"
    own = [f"`{path}`", meaning, takes(key.role, name), default(key), limits(key.role)]
    beside = getattr(key.role, "cls", None)
    inner = t.keys(beside).items() if beside is not None else ()
    return [own, *(row for n, k in inner for row in _key_rows(n, k, path + "."))]


EXAMPLES = {
    "size": "800 x 1800 x 400 mm", "outline": "0 0 800 900 mm", "at": "200 1800 mm",
    "frame": "119 x 38 mm", "section": "80 x 120 mm", "air_range": "-20 70 degC",
    "speed_range": "0.3 1.0", "speed": "0.5 1.0", "temperature": "45 70 degC",
}  # fmt: skip
BRANCH_KINDS = {"opening", "vent", "filter", "baffle", "slot", "duct", "leak", "fan"}


def takes(role: t.Role, name: str = "") -> str:
    """What is written: an example, or the words it takes."""
    if isinstance(role, t.Numbers) and name in EXAMPLES:
        return f'`"{EXAMPLES[name]}"`'
    if isinstance(role, t.Choice) and role.words == tuple(MATERIALS):
        return "a material of the table below"
    found = _TAKES.get(type(role))
    return found(role) if found else "text"


def _takes_number(role: t.Number) -> str:
    plain = role.quantity.name in ("plain number", "count", "price")
    return "number" if plain else f"{role.quantity.name}, {_written(role.quantity)}"


def _takes_numbers(role: t.Numbers) -> str:
    number, _, unit = role.quantity.example.partition(" ")
    return f'`"{" ".join([number] * role.count + [unit]).strip()}"`'


def _takes_words(role: t.WordList) -> str:
    return "a list of " + (", ".join(f'`"{w}"`' for w in role.words) or "names")


def _takes_link(role: t.Link) -> str:
    """Branches and parts are named by path where other kinds could be meant, `fan.left`."""
    words = [k for k in role.kinds if k not in BRANCH_KINDS]
    if set(role.kinds) >= BRANCH_KINDS:
        words.insert(0, 'path of a branch, `"fan.left"`')
    return " or ".join("name of a " + w if w in ("supply", "fan_type") else w for w in words)


_TAKES: dict[type, Callable[[Any], str]] = {
    t.Number: _takes_number,
    t.Numbers: _takes_numbers,
    t.Pair: lambda role: "`[" + ", ".join(_written(q, "") for q in role.quantities) + "]`",
    t.Choice: lambda role: ", ".join(f"`{_word(w)}`" for w in role.words),
    t.WordList: _takes_words,
    t.Link: _takes_link,
    t.Rows: lambda role: f"`{{ {_columns(role)} }}`",
    t.Subtables: lambda role: "named sub-tables",
}


def _columns(role: t.Rows) -> str:
    shown = []
    for name, quantity in zip(role.names, role.quantities, strict=True):
        example = '["case", ...]' if quantity is None else f'"... {quantity.metric.unit}"'
        shown.append(f"{name} = {example}")
    return ", ".join(shown)


def _word(word: str | bool) -> str:
    return str(word).lower() if isinstance(word, bool) else f'"{word}"'


def _written(quantity: Quantity, tick: str = "`") -> str:
    plain = quantity.bare and " " not in quantity.example
    return f"{tick}{quantity.example}{tick}" if plain else f'{tick}"{quantity.example}"{tick}'


def default(key: t.Key) -> str:
    """The default as a user would write it."""
    if key.default is dataclasses.MISSING:
        return "**must be given**"
    value, role = key.default, key.role
    if not isinstance(value, bool) and not t.given(value):
        return "none"
    if isinstance(role, t.Number):
        return f"`{value:g}`" if role.quantity.bare else f"`{_shown(role.quantity, value)}`"
    return f"`{_word(value)}`"


def _shown(quantity: Quantity, value: float) -> str:
    return quantity.metric.exact(value)


def limits(role: t.Role) -> str:
    """The range a number must keep."""
    if not isinstance(role, (t.Number, t.Numbers, t.Pair)):
        return ""
    low = role.low
    high = getattr(role, "high", math.inf)
    quantity = role.quantities[0] if isinstance(role, t.Pair) else role.quantity
    if low == -math.inf and high == math.inf:
        return ""
    if high == math.inf:
        return "above 0" if low == t.TINY else f"from {_shown(quantity, low)}"
    least = "above 0" if low == t.TINY else f"{_shown(quantity, low)}"
    return f"{least} to {_shown(quantity, high)}"


def material_table() -> str:
    """Materials of walls and parts."""
    rows = [[f"`{n}`", f"{m.conductivity:g}", f"{m.heat_capacity:g}", m.source]
            for n, m in MATERIALS.items()]  # fmt: skip
    return table(("material", "conductivity W/(m K)", "heat capacity J/(kg K)", "source"), rows)


# --- names -------------------------------------------------------------------------------------


def quantity_table() -> str:
    """Every quantity once: its JSON suffix, and how it is shown."""
    rows = []
    for name, quantity in QUANTITIES.items():
        suffix = f"`_{quantity.json.unit}`" if quantity.json.unit else "none"
        units = [shown.unit or "-" for shown in (quantity.metric, quantity.us)]
        bare = "yes" if quantity.bare else ""
        rows.append([name, _written(quantity), suffix, *units, bare])
    head = ("quantity", "is written", "JSON suffix", "metric", "US", "bare number allowed")
    return table(head, rows)


def unit_table() -> str:
    """The closed table of units."""
    named: dict[str, list[str]] = {}
    for name, unit in UNITS.items():
        named.setdefault(unit.dimension, []).append(name)
    return table(("measures", "units"), ([d, ", ".join(f"`{u}`" for u in us)]
                                         for d, us in named.items()))  # fmt: skip


def result_table() -> str:
    """Every result: its path, its JSON key, what it is."""
    rows = []
    for place, fields in FIELDS.items():
        for field in fields:
            taken = ", ".join(field.words) if field.words else ""
            what = field.quantity.name if field.quantity else f"one of {taken}"
            told = words("results")[place][field.name]
            rows.append([f"`{place}.{field.name}`", f"`{field.key}`", told, what])
    return table(("result path", "JSON key", "meaning", "quantity"), rows)


# --- check values ------------------------------------------------------------------------------


def validation_summary() -> str:
    """How many values there are of each kind, by what of the code computed them."""
    from tests.published import WAYS  # noqa: PLC0415 - only that table

    rows = []
    for way in WAYS:
        own = [check for check in checks() if check.by == way]
        printed = [check for check in own if check.row.published and not check.row.same_formula]
        alike = [check for check in own if check.row.same_formula]
        rest = len(own) - len(printed) - len(alike)
        rows.append([f"`{way}`", *map(str, (len(own), len(printed), len(alike), rest))])
    rows.append(["all", *(str(sum(int(row[i]) for row in rows)) for i in range(1, 5))])
    head = ("evaluated by", "values", "published", "of a library, by the same formula",
            "not published")  # fmt: skip
    return table(head, rows)


def validation_table() -> str:
    """Theirs and ours for every check value."""
    head = ("id", "what", "value", "evaluated by", "theirs", "ours", "difference", "allowed",
            "seen as", "source")  # fmt: skip
    return table(head, map(_check_row, checks()))


@cache
def checks() -> tuple[Any, ...]:
    """One comparison a value and way of computing it, recorded while the tests run that make them;
    by the rows' places."""
    import pytest  # noqa: PLC0415 - only this table needs it

    from tests import published  # noqa: PLC0415 - only that table

    with published.recording() as found:
        code = pytest.main(["-q", "-x", "--no-header", "-p", "no:cacheprovider", *using_rows()])
    if code:
        raise RuntimeError("the tests that use published rows do not pass")
    files = {file.stem for file in published.FOLDER.glob("*.toml")}
    real = [c for c in found if c.row.where.partition(".")[0] in files]
    made = {(c.row.where, c.row.title, c.name, c.by): c for c in real}
    return tuple(made[key] for key in sorted(made))


def using_rows() -> list[str]:
    """Test files that read published rows."""
    from tests import published  # noqa: PLC0415 - only that table

    folder = published.FOLDER.parent
    files = sorted(folder.rglob("test_*.py"))
    return [str(f) for f in files if "published import" in f.read_text()]


def _check_row(check: Any) -> list[str]:
    row, name = check.row, check.name
    theirs = np.atleast_1d(np.asarray(row.expected[name], float))
    ours = np.broadcast_to(np.asarray(check.value, float), theirs.shape).ravel()
    theirs = theirs.ravel()
    gap = ours - theirs
    allowed = row.tolerance[name]
    worst = int(np.argmax(abs(gap) / np.where(theirs == 0, 1.0, abs(theirs))))
    unit = row.units.get(name, "")
    many = f" (worst of {theirs.size})" if theirs.size > 1 else ""
    return [
        row.where, row.title, name + many, check.by,
        f"{theirs[worst]:.6g} {unit}".strip(), f"{ours[worst]:.6g} {unit}".strip(),
        _difference(float(gap[worst]), float(theirs[worst]), "relative" in allowed),
        _allowed(allowed), _seen(row), row.source,
    ]  # fmt: skip


def _seen(row: Any) -> str:
    if row.same_formula:
        return f"{row.provenance}, same formula"
    return row.provenance if row.published else f"{row.provenance}, not published"


def _difference(gap: float, theirs: float, relative: bool) -> str:
    if abs(gap) <= 1e-12 * abs(theirs):
        return "0"
    if not relative or theirs == 0:
        return f"{gap:+.2g}"
    return "below 1e-9" if abs(gap / theirs) < 1e-9 else f"{100 * gap / theirs:+.2g} %"


def _allowed(tolerance: Any) -> str:
    shown = [f"{100 * tolerance['relative']:.2g} %"] if "relative" in tolerance else []
    shown += [f"{tolerance['absolute']:.2g}"] if "absolute" in tolerance else []
    return " or ".join(shown)


# --- usual tolerances --------------------------------------------------------------------------


def usual_tolerance_table() -> str:
    """What stands in for a tolerance that a case does not state."""
    rows = []
    for usual in USUAL_SPREADS:
        within = f"{100 * usual.within:g} %" if usual.relative else f"{usual.within:g} dB"
        about = ", ".join(f"`{key}`" for key in usual.about)
        rows.append([f"`{usual.pattern}`", within, usual.shape, usual.words, about])
    return table(["input", "within", "shape", "what is off", "not where the case states one of"],
                 rows)  # fmt: skip


def headroom_range_table() -> str:
    """How far a key is tried where nobody says it; the first row that fits."""
    return table(["key", "range"], [[row.keys, row.words] for row in RANGES])


def export_column_table() -> str:
    """The columns of the tables for other programs."""
    rows = [[f"`{name}`" if not number else "", f"`{column}`", words]
            for name, columns in declared().items()
            for number, (column, (_, words)) in enumerate(columns.items())]  # fmt: skip
    return table(["table", "column", "what it is"], rows)


# --- which number ------------------------------------------------------------------------------


def key_number_table() -> str:
    """What the keys themselves say of their usual values, with grade and source."""
    rows = []
    for kind in KIND_ORDER:
        for path, key in _paths(KINDS[kind]):
            said = f"{key.typical}; {key.source}"
            if re.search(r"\d", f"{said}{key.doc}{default(key)}") and len(said) > len("; "):
                source = key.source.replace(COMMON_PRACTICE, "").strip(" :;")
                rows.append([f"`{kind}.{path}`", key.doc, default(key),
                             key.typical.replace(f"({COMMON_PRACTICE})", "").strip(),
                             _grade(said), source])  # fmt: skip
    return table(("key", "meaning", "default", "typical", "grade", "source"), rows)


def _paths(cls: type[Any], prefix: str = "") -> Iterable[tuple[str, t.Key]]:
    """Every key of a class with its path, those of its sub-tables behind it."""
    for name, key in t.keys(cls).items():
        yield prefix + name, key
        inner = getattr(key.role, "cls", None)
        if inner is not None:
            yield from _paths(inner, f"{prefix}{name}.")


def _grade(said: str) -> str:
    """How far a source holds what is said."""
    named = re.search(r"\b(1[89]|20)\d\d\b|\bISO\b|handbook", said)
    for word, grade in (("no source", COMMON_PRACTICE), ("common practice", COMMON_PRACTICE),
                        ("assumption", "assumption")):  # fmt: skip
        if word in said:
            return "in part published" if named else grade
    return "published" if named else "no source named"


SHARES = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)


def plate_loss_table() -> str:
    """K of grilles and screens over their open share, by the functions the program uses."""
    share = np.array(SHARES)
    columns = (
        losses.idelchik_thin_plate(share),
        np.where((share >= 0.3) & (share <= 0.7), losses.round_edge_grill(share), np.nan),
        losses.round_edge_screen(share, 400.0),
        losses.round_edge_screen(share, 100.0),
    )
    rows = [[f"{f:.1f}", *("-" if math.isnan(k) else f"{k:.2g}" for k in ks)]
            for f, *ks in zip(SHARES, *columns, strict=True)]  # fmt: skip
    head = ("open share", '`"square-edged"`', '`"round-edged"`', '`"wire screen"`, Re 400',
            "the same, Re 100")  # fmt: skip
    return table(head, rows)


def law_table() -> str:
    """Every relation the program uses, with its source and the range the source vouches for."""
    rows = []
    for law in REGISTRY.values():
        about = (law.function.__doc__ or "").strip().splitlines()[0].rstrip(".")
        valid = ", ".join(f"{arg} {_between(*span)}" for arg, span in law.valid.items())
        rows.append([about, law.source, valid.replace("_", " ") or "-"])
    return table(("what", "source", "range"), sorted(rows))


def _between(low: float, high: float) -> str:
    return f"from {low:g}" if math.isinf(high) else f"{low:g} to {high:g}"


def threshold_table() -> str:
    """From which number on a finding speaks, and who says so."""
    shown = ((name, rule.pages("metric")) for name, rule in RULES.items())
    rows = [[f"`{name}`", page["Threshold"], page["Source"]] for name, page in shown
            if re.search(r"\d", page["Threshold"]) and page["Source"]]  # fmt: skip
    return table(("finding", "speaks where", "source"), rows)


# --- all keys on a sheet -----------------------------------------------------------------------

SHEET_COLUMN = (26, 8, 12)  # key, unit, default: two of these and a gap are within 100 characters
EVERYWHERE = ("on", "at", "direction", "tag", "note", "data")
SHEET_WORDS: dict[type, str] = {
    t.Choice: "word", t.WordList: "list", t.Link: "name", t.Rows: "table", t.Pair: "pair",
    t.Group: "{ }", t.Subtables: "tables",
}  # fmt: skip


def key_sheet() -> str:
    """Kind, key, unit, default: two halves of two columns each, as equal as whole kinds allow."""
    kinds = [_sheet_lines(kind) for kind in KIND_ORDER]
    above = [sum(map(len, kinds[:i])) for i in range(len(kinds) + 1)]
    front = min(range(len(above)), key=lambda i: abs(above[i] - above[-1] / 2))
    sides = []
    for some in (kinds[:front], kinds[front:]):
        lines = [line for kind in some for line in kind]
        tall = -(-len(lines) // 2)
        sides.append(_side(lines[:tall], lines[tall:]))
    return "\n\n".join(sides)


def _side(left: Sequence[str], right: Sequence[str]) -> str:
    """Two columns beside each other, in letters of one width."""
    wide = sum(SHEET_COLUMN) + 4
    rows = (f"{a:<{wide}}{b}".rstrip() for a, b in zip_longest(left, right, fillvalue=""))
    return "\n".join(("```text", *rows, "```"))


def _sheet_lines(kind: str) -> list[str]:
    """A heading and one line a key; what stands in every kind of branch is left out."""
    lines = [f"[{kind}]"]
    for path, key in _paths(KINDS[kind]):
        if path in EVERYWHERE or (kind in BRANCH_KINDS and path in ("from", "to")):
            continue
        group, _, own = path.rpartition(".")
        words = (f"    .{own}" if group else f"  {own}", _sheet_unit(key), _sheet_default(key))
        lines.append(" ".join(f"{w:<{n}}" for w, n in zip(words, SHEET_COLUMN, strict=True)))
    too_long = [line for line in lines if len(line) > sum(SHEET_COLUMN) + 2]
    if too_long:
        raise ValueError(f"wider than a column of the sheet: {too_long}")
    return lines


def _sheet_unit(key: t.Key) -> str:
    """The unit of its example, in brackets where the number stands alone; or what is written."""
    if not isinstance(key.role, (t.Number, t.Numbers)):
        return SHEET_WORDS.get(type(key.role), "text")
    quantity = key.role.quantity
    unit = quantity.example.partition(" ")[2] or quantity.metric.unit
    return (f"({unit})" if quantity.bare else unit) if unit else "number"


def _sheet_default(key: t.Key) -> str:
    """As the manual has it, in few letters."""
    if isinstance(key.role, t.Group):
        return "-"
    words = {"**must be given**": "must", "none": "-"}
    return words.get(default(key), default(key).strip('`"'))


GENERATORS: dict[str, Callable[[], str]] = {
    "export-columns": export_column_table,
    "key-numbers": key_number_table,
    "key-sheet": key_sheet,
    "laws": law_table,
    "plate-losses": plate_loss_table,
    "thresholds": threshold_table,
    "headroom-ranges": headroom_range_table,
    "kinds": kind_tables,
    "materials": material_table,
    "timeline": lambda: table(
        ("key", "meaning"),
        [(f"`{key}`", " ".join(text.split())) for key, text in words("timeline").items()],
    ),
    "quantities": quantity_table,
    "units": unit_table,
    "results": result_table,
    "usual-tolerances": usual_tolerance_table,
    "validation": validation_table,
    "validation-summary": validation_summary,
}
