"""`flownet draw`: pictures of a case as files."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from flownet.cli import fan_curve, options, pictures, transient, varying
from flownet.cli.request import Request, command_of
from flownet.cli.settings import KeyValue
from flownet.cli.writing import STDOUT, save
from flownet.pictures import save as files
from flownet.pictures.caption import changed
from flownet.studies.choice.order import MEASURES

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NAMES = tuple(pictures.PICTURES)
NO_SIGN = re.compile(r"Glyph .* missing")
INCH, SHEET = 25.4, 1189.0  # mm; long side of A0 (ISO 216): no print shows more at its true size


@command_of(
    "draw",
    "Draw a case. PICTURE is map (the default: to scale, with flows and temperatures), "
    "network (what joins what), margins (every limit on one scale), "
    "split (which share of the air goes where), path (pressure along the way of most air), "
    "slot (air and parts along each slot), "
    "curves (fans against what the network asks of them), matrix (all variants in all "
    "scenarios), headroom (margins over one key), rank (which inputs matter most for one "
    "result), choose (the best fan types for a place), choice (the trade-off of a "
    "[choice] of the case), time (the margin of each limit, by a [timeline] or --event), "
    "uncertainty (margins with the tolerances of a case, and whose spread that is) or "
    "sweep (a result over one or two varied keys).",
    "flownet draw drive-cabinet -s hot+dirty",
    "flownet draw drive-cabinet network -o network.pdf",
    "flownet draw drive-cabinet margins -s hot+dirty+fan.left-out",
    "flownet draw drive-cabinet split -s hot+dirty+fan.left-out",
    "flownet draw drive-cabinet path -s hot+dirty",
    "flownet draw telecom-shelf slot -s hot+dirty+fan.left-out",
    "flownet draw drive-cabinet curves -s hot",
    "flownet draw fan-catalogue curves --of axial-119x38-230v",
    "flownet draw telecom-shelf matrix",
    "flownet draw drive-cabinet headroom --of filter.intake.fouling -s hot",
    "flownet draw drive-cabinet rank --of part.controller.temperature",
    "flownet draw telecom-shelf choose --fan 'fan.*' --catalogue fan-catalogue",
    "flownet draw telecom-shelf choice",
    "flownet draw drive-cabinet time fan-stop",
    'flownet draw drive-cabinet time --event "9s:fan.left.speed=0" --until 5min',
    "flownet draw drive-cabinet uncertainty --seed 1 -s hot+dirty",
    "flownet draw drive-cabinet sweep --name fouling -s hot",
    takes=(
        options.case,
        click.argument("picture", metavar="[PICTURE]", default="map", type=click.Choice(NAMES)),
        click.argument("timeline", metavar="[TIMELINE]", required=False),
        options.once("--of", "of", what="name", metavar="NAME",
                     help="What the picture is about. rank (must be given) and uncertainty: a "
                     "result, such as part.NAME.temperature. sweep: a result, or a pattern of "
                     "several. headroom (must be given): the key that moves, such as "
                     "outside.temperature. choice: which [choice.NAME]. curves of a catalogue: "
                     "which fan type. path: a fan or branch on the way."),
        options.once("--fan", "fan", what="fan", metavar="NAME",
                     help="For curves: one fan. Default: those that work together. For choose: the "
                     "fan, or a pattern."),
        click.option("--shares", "shares", is_flag=True, default=None,
                     help="For map: where the air of each compartment comes from, how old it is, "
                     "and what comes back."),
        click.option("--best", "best", type=click.Choice(tuple(MEASURES)), default=None,
                     help="For choose: what ranks the types."),
        click.option("--frame", "frame", metavar="SIZE",
                     help="For choose: the frame that the place takes; any compares none."),
        click.option("--seed", "seed", type=int, metavar="N",
                     help="For uncertainty: what starts the draws."),
        click.option("--samples", "samples", type=int, metavar="N",
                     help="For uncertainty: how many. Default: 1000."),
        options.once("--name", "name", what="sweep", metavar="NAME",
                     help="For sweep: a [sweep.NAME] of the case."),
        varying.option, *transient.timing("For time. "),
        options.scenarios_by("base; of matrix, choose and choice limits.scenarios, else all; of "
                             "time that of the timeline"),
        options.variant_by("base; of matrix every one"), *options.CHANGES[2:], options.out,
        options.force, options.units,
    ),
)  # fmt: skip
def command(asked: Request, picture: str, ranges: Sequence[KeyValue], **extra: Any) -> int:
    """Solve every scenario asked for, and write a file for each."""
    assert asked.case is not None  # it is an argument of the command
    if fan_curve.wanted(asked.case):
        return _curve(asked, asked.case, picture, extra["of"])
    extra |= {"vary": ranges or None, "events": extra["events"] or None}
    for fault in pictures.faults(picture, extra):
        raise click.UsageError(fault)
    asked.changes  # noqa: B018 - its faults are told before any work
    count = len(asked.names) if pictures.PICTURES[picture].each else 1
    _check_file(asked.out, count)
    files.into_files()
    path = asked.out or Path(f"{asked.name}-{picture}.svg")
    with changed(asked.told):
        made = pictures.drawn(picture, asked, extra)
    for scenario, figure in made.figures.items():
        named = path.with_name(f"{path.stem}-{scenario}{path.suffix}") if count > 1 else path
        _save(figure, named, asked)
    return made.code


def _curve(asked: Request, text: str, picture: str, of: str | None) -> int:
    """The picture of a curve file, or of a fan type in a catalogue."""
    if asked.scenarios or asked.variant or asked.settings or asked.catalogue:
        raise click.UsageError("scenarios, variants, --set and --catalogue belong to a case")
    _check_file(asked.out, 1)
    files.into_files()
    called, drawn = fan_curve.figure(text, picture, of, asked.units or "metric")
    _save(drawn, asked.out or Path(f"{called}-curves.svg"), asked)
    return 0


def _check_file(out: Path | None, count: int) -> None:
    if out == STDOUT and count > 1:
        raise click.UsageError("--out - takes one picture; several scenarios were asked for")
    if out is not None and out != STDOUT:
        try:
            files.picture_format(out)
        except ValueError as error:
            raise click.UsageError(f"--out: {error}") from None


def _save(figure: Figure, path: Path, asked: Request) -> None:
    form = "svg" if path == STDOUT else files.picture_format(path)
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        content = files.encoded(figure, form)
    files.close(figure)
    save(path, content, files.ours, asked.screen, force=asked.force)
    for words in _doubts(figure, [str(item.message) for item in told]):
        asked.screen.note(f"{path}: {words}")


def _doubts(figure: Figure, warned: Sequence[str]) -> Iterator[str]:
    """Why a picture may not be read: what the painter warned of, and its size."""
    strange = {words for words in warned if NO_SIGN.match(words)}
    if strange:
        yield f"letters that the typeface of pictures lacks are drawn as boxes ({len(strange)})"
    yield from (words for words in dict.fromkeys(warned) if words not in strange)
    wide, tall = (INCH * float(size) for size in figure.get_size_inches())
    if max(wide, tall) > SHEET:
        yield (
            f"{wide:.0f} x {tall:.0f} mm is too large to read (the largest sheet, A0, is "
            f"{SHEET:.0f} mm long); draw a case with fewer compartments, or read the tables of "
            "flownet solve"
        )
