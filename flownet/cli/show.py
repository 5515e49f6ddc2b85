"""`flownet show`: the case as it is understood, every value with where it comes from."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence

import click

from flownet import __version__
from flownet.casefile import Resolved, resolved
from flownet.casefile.resolved import counting
from flownet.cli import complete, options
from flownet.cli.reading import written_order
from flownet.cli.request import Request, command_of
from flownet.cli.writing import STDOUT, save_text
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.overriding import notes
from flownet.pages import json
from flownet.pages.table import Cell, Paint, coloured, hanging, plain
from flownet.physics.sound import blade_pass
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.fields import given

SET = "--set"
ORIGINS_AT = 44  # where origins stand, if there is room
LEFT_FREE = 8  # what a long one leaves free at the left


@command_of(
    "show",
    "Print a case as it is understood: every value that counts, and where it comes from. PATH "
    "picks some, such as fan.left or filter.*.area.",
    "flownet show drive-cabinet filter.intake",
    'flownet show drive-cabinet "fan.*" -s hot',
    takes=(
        options.case,
        click.argument("path", metavar="[PATH]", required=False, shell_complete=complete.elements),
        options.scenarios_by("base", several=""), *options.DESIGN, options.json, options.force,
    ),
)  # fmt: skip
def command(asked: Request, path: str | None) -> None:
    """Print the values of one scenario in one variant."""
    screen, enclosure, names = asked.screen, asked.enclosure, asked.names
    if len(names) > 1:
        raise click.UsageError(f"show takes one scenario; join several with + (got {len(names)})")
    rows = picked(_values(asked, names[0]), path)
    groups = _by_thing(enclosure, rows)
    lost = notes(enclosure, [names[0]], [asked.design])
    if asked.json_file != STDOUT:
        for words in lost:
            screen.answer(textwrap.wrap(words, screen.width, initial_indent="# ",
                                        subsequent_indent="# "))  # fmt: skip
        screen.answer(_lines(groups, screen.width, coloured if screen.colour else plain))
    if asked.json_file is not None:
        content = {
            "flownet": __version__, "format": 1, "command": "show",
            "case": enclosure.title or enclosure.origin, "notes": list(lost),
            "values": [row._asdict() for _, found in groups for row in found],
        }  # fmt: skip
        save_text(asked.json_file, json.text(content), json.JSON_MARK, screen, force=asked.force)


def _values(asked: Request, scenario: str) -> list[Resolved]:
    """The values after variant, scenario and `--set`, as far as they count; the tones of fans."""
    case, variant = asked.enclosure, asked.design
    rows, after = list(resolved(case, scenario, variant)), case.under(scenario, variant)
    if asked.settings:
        after = after.with_changes(asked.changes)
        known = {row.path: row for row in rows}
        rows = [
            old if (old := known.get(row.path)) is not None and old.value == row.value
            else row._replace(origin=SET)
            for row in resolved(after)
        ]  # fmt: skip
    return [*counting(after, rows), *tones(after)]


def picked(rows: Sequence[Resolved], path: str | None) -> list[Resolved]:
    """Those at a path or below it; CaseError where there is none."""
    if not path:
        return list(rows)
    rule = re.compile(".*".join(map(re.escape, path.split("*"))) + r"(?:\..*)?\Z")
    found = [row for row in rows if rule.match(row.path)]
    if not found:
        above = {row.path.rsplit(".", n)[0] for row in rows for n in range(row.path.count(".") + 1)}
        hint = did_you_mean(nearest(path, sorted(above)))
        raise CaseError(Fault(path, "nothing in the case has this path", hint=hint))
    return found


def _by_thing(case: Enclosure, rows: Sequence[Resolved]) -> list[tuple[str, list[Resolved]]]:
    """Values in groups, one a thing, in the order in which a case is written."""
    things = [item.path for kind in written_order(case) for item in case.things[kind].values()]
    groups: dict[str, list[Resolved]] = {path: [] for path in things if ".rating." not in path}
    longest_first = sorted(groups, key=len, reverse=True)
    for row in rows:
        head = next(path for path in longest_first if row.path.startswith(path + "."))
        groups[head].append(row)
    return [(path, found) for path, found in groups.items() if found]


def _lines(
    groups: Sequence[tuple[str, Sequence[Resolved]]], width: int, paint: Paint
) -> Iterator[str]:
    """Each thing with its keys; the origin stands behind the value, or below it."""
    for number, (head, rows) in enumerate(groups):
        if number:
            yield ""
        yield paint(f"[{head}]", "heading")
        keys = [row.path[len(head) + 1 :] for row in rows]
        size = max(map(len, keys))
        for key, row in zip(keys, rows, strict=True):
            line, origin = f"{key:<{size}} = {row.value}", f"# {row.origin}"
            if len(line) + 2 + len(origin) <= width:
                column = min(ORIGINS_AT, width - len(origin) - 2)
                yield f"{line:<{column}}  {paint(origin, 'quiet')}"
            else:
                yield from hanging([Cell(f"{key:<{size}} = ")], row.value, width)
                told = textwrap.wrap(origin, width - LEFT_FREE, subsequent_indent="# ")
                left = " " * (width - max(map(len, told)))
                yield from (paint(left + part, "quiet") for part in told)


# --- beside the values --------------------------------------------------------------------------


def tones(case: Enclosure) -> Iterator[Resolved]:
    """The blade-pass tone of every running fan whose blades and rated speed are known."""
    for name, fan in case.fans.items():
        row = case.fed(fan)
        known = given(row.rating.blades) and given(row.rating.rated_speed)
        if fan.running and known:
            speed = _speed(fan, row.rating.rated_speed, row.speed)
            tone = q.FREQUENCY.metric.text(float(blade_pass(row.rating.blades, speed)))
            origin = f"{row.rating.blades:.0f} blades at {q.SPEED.metric.text(speed)}"
            if fan.speed_control is not None:
                origin += ", its top speed"
            yield Resolved(f"fan.{name}.blade_pass", tone, origin)


def _speed(fan: Fan, rated: float, scaled: float) -> float:
    """Revolutions per second; the highest that a speed control asks for."""
    if fan.speed_control is not None:
        return rated * scaled * max(fan.speed_control.speed)
    if given(fan.rotation):
        return fan.rotation
    return rated * scaled * fan.speed
