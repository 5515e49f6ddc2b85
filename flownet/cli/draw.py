"""`flownet draw`: pictures of a case as files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import flownet
from flownet.cli import fan_curve, options, reading
from flownet.cli.demos import CASE_FILE
from flownet.cli.options import Setting
from flownet.cli.screen import Screen
from flownet.cli.solving import exit_code, outcomes
from flownet.cli.writing import STDOUT, save
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError, NoSolution
from flownet.report import files
from flownet.solution import Solution

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PICTURES = ("map", "network", "curves", "matrix", "rank")


@click.command(
    "draw",
    help=options.help_text(
        "Draw a case: map (to scale, with flows and temperatures), network (what joins what), "
        "curves (fans against what the network asks of them), matrix (all variants in all "
        "scenarios) or rank (which inputs matter most for one result).",
        "flownet draw drive-cabinet -s hot+dirty",
        "flownet draw drive-cabinet network -o network.pdf",
        "flownet draw drive-cabinet curves -s hot",
        "flownet draw fan-catalogue curves --of axial-119x38-230v",
        "flownet draw telecom-shelf matrix",
        "flownet draw drive-cabinet rank --of part.controller.temperature",
    ),
)
@options.case
@click.argument(
    "picture", metavar=f"[{'|'.join(PICTURES)}]", default="map", type=click.Choice(PICTURES)
)
@click.option("--of", "of", metavar="NAME", help="For rank: a result, part.NAME.temperature and "
              "the like. For curves of a catalogue: a fan type.")  # fmt: skip
@click.option("--fan", "fan", metavar="NAME",
              help="For curves: one fan. Default: those that work together.")  # fmt: skip
@options.apply(*options.CHANGES, options.out, options.force, options.units, *options.SCREEN)
def command(
    case: str,
    picture: str,
    of: str | None,
    fan: str | None,
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
        name, drawn = fan_curve.figure(case, picture, of, units or "metric")
        _save(drawn, out or Path(f"{name}-curves.svg"), force, Screen.of(color, quiet))
        return 0
    if (of is None) == (picture == "rank"):
        raise click.UsageError(
            "--of: rank needs the result it is about, such as --of part.NAME.temperature"
            if of is None else f"--of: only for rank (got {picture})"
        )  # fmt: skip
    if fan is not None and picture != "curves":
        raise click.UsageError(f"--fan: only for curves (got {picture})")
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    changes = reading.changes(enclosure, settings)
    path = out or Path(f"{_name(case)}-{picture}.svg")
    units = units or enclosure.units
    if picture == "matrix":
        _check_file(out, 1)
        _save(_matrix(enclosure, scenarios, variant, changes, units), path, force, screen)
        return 0
    names = reading.scenarios(enclosure, scenarios, variant)
    _check_file(out, len(names))
    code = 0
    if of is not None:
        for name in names:
            figure = _rank(enclosure.under(name, variant or "base"), of, changes, units)
            _save(figure, _one_of(path, name, names), force, screen)
    elif picture == "network":
        for name in names:
            shown = _solved_or_not(enclosure, name, variant or "base", changes, screen)
            _save(_network(shown, units), _one_of(path, name, names), force, screen)
    else:
        found = list(outcomes(enclosure, names, variant or "base", changes))
        solved = [item for item in found if isinstance(item, Solution)]
        figures = (
            [_curves(item, fan, units, screen) for item in solved] if picture == "curves"
            else _maps(enclosure, solved, units)
        )  # fmt: skip
        for item, figure in zip(solved, figures, strict=True):
            _save(figure, _one_of(path, item.scenario, names), force, screen)
        code = exit_code(found)
    return code


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


def _one_of(path: Path, scenario: str, names: Sequence[str]) -> Path:
    """The file of one scenario of several: its name stands before the suffix."""
    if len(names) == 1:
        return path
    return path.with_name(f"{path.stem}-{scenario}{path.suffix}")


def _solved_or_not(
    case: Enclosure, scenario: str, variant: str, changes: dict[str, Any], screen: Screen
) -> Solution | Enclosure:
    """A network helps most where nothing can be solved: then it is drawn without flows."""
    try:
        return flownet.solve(case, scenario=scenario, variant=variant, changes=changes or None)
    except (CaseError, NoSolution) as error:
        screen.note(f"drawn without flows, not solved: {error}")
        made = case.under(scenario, variant)
        return made.with_changes(changes) if changes else made


def _network(drawn: Solution | Enclosure, units: str) -> Figure:
    from flownet.report.figures import network  # noqa: PLC0415 - loads matplotlib

    return network.figure(drawn, units=units)


def _curves(solution: Solution, fan: str | None, units: str, screen: Screen) -> Figure:
    """The picture; what several fans gain is told beside it."""
    from flownet.report.figures import curves  # noqa: PLC0415 - loads matplotlib

    found = flownet.fan_curves(solution, fan=fan)
    if found.gain is not None:
        screen.note(found.gain.words(units))
    return curves.figure(found, units=units)


def _matrix(
    case: Enclosure, scenarios: Sequence[str], variant: str | None, changes: dict[str, Any],
    units: str,
) -> Figure:  # fmt: skip
    """Every variant, or the one asked for, where the limits must hold, or in these scenarios."""
    from flownet.report.figures import matrix  # noqa: PLC0415 - loads matplotlib

    found = flownet.compare(
        case, variants=[variant] if variant else None, scenarios=scenarios or None,
        changes=changes or None,
    )  # fmt: skip
    return matrix.figure(found, units=units)


def _rank(case: Enclosure, of: str, changes: dict[str, Any], units: str) -> Figure:
    from flownet.report.figures import rank  # noqa: PLC0415 - loads matplotlib

    return rank.figure(flownet.rank(case.with_changes(changes), of), units=units)


def _maps(case: Enclosure, solved: Sequence[Solution], units: str) -> list[Figure]:
    """One range of colours for all: that of the case as it was read."""
    from flownet.report import scene_page  # noqa: PLC0415
    from flownet.report.figures import map as figures  # noqa: PLC0415 - loads matplotlib

    hottest = [row.temperature for item in solved for row in item.compartments.values()]
    colours = scene_page.temperature_range(case, hottest)
    return [figures.figure(item, units=units, temperatures=colours) for item in solved]


def _save(figure: Figure, path: Path, force: bool, screen: Screen) -> None:
    from flownet.report.figures.painter import encoded  # noqa: PLC0415 - loads matplotlib

    form = "svg" if path == STDOUT else files.picture_format(path)
    save(path, encoded(figure, form), files.ours, screen, force=force)
