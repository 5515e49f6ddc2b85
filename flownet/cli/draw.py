"""`flownet draw`: pictures of a case as files."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from flownet.cli import fan_curve, options, pictures, reading, varying
from flownet.cli.demos import CASE_FILE
from flownet.cli.pictures import Asked
from flownet.cli.screen import Screen
from flownet.cli.settings import Setting
from flownet.cli.writing import STDOUT, save
from flownet.pictures import save as files
from flownet.pictures.caption import changed

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NAMES = tuple(pictures.PICTURES)
NO_SIGN = re.compile(r"Glyph .* missing")
INCH, SHEET = 25.4, 1189.0  # mm; long side of A0 (ISO 216): no print shows more at its true size
BEST = ("temperature", "noise", "power", "price", "life")


@click.command(
    "draw",
    help=options.help_text(
        "Draw a case. PICTURE is map (the default: to scale, with flows and temperatures), "
        "network (what joins what), "
        "curves (fans against what the network asks of them), matrix (all variants in all "
        "scenarios), headroom (margins over one key), rank (which inputs matter most for one "
        "result), choose (the best fan types for a place), choice (the trade-off of a "
        "[choice] of the case), uncertainty (margins with the tolerances of a case, and whose "
        "spread that is) or sweep (a result over one or two varied keys).",
        "flownet draw drive-cabinet -s hot+dirty",
        "flownet draw drive-cabinet network -o network.pdf",
        "flownet draw drive-cabinet curves -s hot",
        "flownet draw fan-catalogue curves --of axial-119x38-230v",
        "flownet draw telecom-shelf matrix",
        "flownet draw drive-cabinet headroom --of filter.intake.fouling -s hot",
        "flownet draw drive-cabinet rank --of part.controller.temperature",
        "flownet draw telecom-shelf choose --fan 'fan.*' --catalogue fan-catalogue",
        "flownet draw telecom-shelf choice",
        "flownet draw drive-cabinet uncertainty --seed 1 -s hot+dirty",
        "flownet draw drive-cabinet sweep --name fouling -s hot",
    ),
)
@options.case
@click.argument("picture", metavar="[PICTURE]", default="map", type=click.Choice(NAMES))
@options.once("--of", "of", what="name", metavar="NAME",
              help="For rank: a result, part.NAME.temperature and the like. For curves of a "
              "catalogue: a fan type. For choice: its name. "
              "For uncertainty: a result. For sweep: a result, or a pattern of several. For "
              "headroom: a key.")  # fmt: skip
@options.once("--fan", "fan", what="fan", metavar="NAME",
              help="For curves: one fan. Default: those that work together. For choose: the "
              "fan, or a pattern.")  # fmt: skip
@click.option("--best", "best", type=click.Choice(BEST), default=None,
              help="For choose: what ranks the types.")  # fmt: skip
@click.option("--frame", "frame", metavar="SIZE",
              help="For choose: the frame that the place takes; any compares none.")  # fmt: skip
@click.option("--seed", "seed", type=int, metavar="N",
              help="For uncertainty: what starts the draws.")  # fmt: skip
@click.option("--samples", "samples", type=int, metavar="N",
              help="For uncertainty: how many. Default: 1000.")  # fmt: skip
@options.once("--name", "name", what="sweep", metavar="NAME",
              help="For sweep: a [sweep.NAME] of the case.")  # fmt: skip
@varying.option
@options.apply(
    options.scenarios_by("base; of matrix, choose and choice limits.scenarios, else all"),
    options.variant_by("base; of matrix every one"), *options.CHANGES[2:], options.out,
    options.force, options.units, *options.SCREEN,
)  # fmt: skip
def command(
    case: str,
    picture: str,
    of: str | None,
    fan: str | None,
    best: str | None,
    frame: str | None,
    seed: int | None,
    samples: int | None,
    name: str | None,
    ranges: Sequence[Setting],
    scenarios: Sequence[str],
    variant: str | None,
    settings: Sequence[Setting],
    catalogue: Sequence[Path],
    out: Path | None,
    force: bool,
    units: str | None,
    quiet: bool,
    color: str,
) -> int:
    """Solve every scenario asked for, and write a file for each."""
    if fan_curve.wanted(case):
        if scenarios or variant or settings or catalogue:
            raise click.UsageError("scenarios, variants, --set and --catalogue belong to a case")
        _check_file(out, 1)
        files.into_files()
        called, drawn = fan_curve.figure(case, picture, of, units or "metric")
        _save(drawn, out or Path(f"{called}-curves.svg"), force, Screen.of(color, quiet))
        return 0
    extra = {"of": of, "fan": fan, "best": best, "frame": frame, "seed": seed,
             "samples": samples, "name": name, "vary": ranges or None}  # fmt: skip
    for fault in pictures.faults(picture, extra):
        raise click.UsageError(fault)
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    changes = reading.changes(enclosure, settings)
    asked = Asked(enclosure, scenarios, variant, changes, units or enclosure.units, screen, extra)
    wanted = pictures.PICTURES[picture]
    _check_file(out, len(asked.names) if wanted.each else 1)
    files.into_files()
    path = out or Path(f"{_name(case)}-{picture}.svg")
    with changed([setting.text for setting in settings]):
        made = wanted.draw(asked)
    for scenario, figure in made.figures.items():
        several = wanted.each and len(asked.names) > 1
        _save(figure, _of_scenario(path, scenario) if several else path, force, screen)
    return made.code


def _check_file(out: Path | None, count: int) -> None:
    if out == STDOUT and count > 1:
        raise click.UsageError("--out - takes one picture; several scenarios were asked for")
    if out is not None and out != STDOUT:
        try:
            files.picture_format(out)
        except ValueError as error:
            raise click.UsageError(f"--out: {error}") from None


def _name(case: str) -> str:
    """What files of this case are called after: the file, or the folder of a `case.toml`."""
    path = Path(case).resolve()
    if path.name == CASE_FILE:
        path = path.parent
    return path.stem if path.suffix == ".toml" else path.name


def _of_scenario(path: Path, scenario: str) -> Path:
    """The file of one scenario of several: its name stands before the suffix."""
    return path.with_name(f"{path.stem}-{scenario}{path.suffix}")


def _save(figure: Figure, path: Path, force: bool, screen: Screen) -> None:
    form = "svg" if path == STDOUT else files.picture_format(path)
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        content = files.encoded(figure, form)
    files.close(figure)
    save(path, content, files.ours, screen, force=force)
    for words in _doubts(figure, [str(item.message) for item in told]):
        screen.note(f"{path}: {words}")


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
