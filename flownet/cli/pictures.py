"""The pictures that `flownet draw` knows: what each needs, and the figures it makes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from flownet import draw
from flownet.cli.request import Request
from flownet.cli.solving import exit_code, outcomes
from flownet.enclosure.enclosure import Enclosure
from flownet.results.solution import Solution
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fault import Fault, listed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


Extra = Mapping[str, Any]  # options that only some pictures have, by name; None: not given


class Drawn(NamedTuple):
    """The figures by the scenario that a file name tells, and the exit code."""

    figures: Mapping[str, Figure]
    code: int = 0


class Picture(NamedTuple):
    """A picture, the options that are its own (those in `needs` must be given)."""

    draw: Callable[[Request, Extra], Drawn]
    each: bool = True  # a file for each scenario; else one for all
    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()


def _map(asked: Request, extra: Extra) -> Drawn:
    """One range of colours for all: that of the case as it was read."""
    from flownet.pictures.scene.page import temperature_range  # noqa: PLC0415 - only here

    solved, code = _solved(asked)
    hottest = [row.temperature for item in solved for row in item.compartments.values()]
    colours = temperature_range(asked.enclosure, hottest)
    return Drawn({item.scenario: _figure(asked, "map", item, temperatures=colours)
                  for item in solved}, code)  # fmt: skip


def _curves(asked: Request, extra: Extra) -> Drawn:
    """What several fans gain is told beside it."""
    from flownet.studies.fans.curves import fan_curves  # noqa: PLC0415 - only here

    def figure(solution: Solution) -> Figure:
        found = fan_curves(solution, fan=extra["fan"])
        if found.gain is not None:
            asked.screen.note(found.gain.words(_units(asked)))
        return _figure(asked, "curves", found)

    solved, code = _solved(asked)
    return Drawn({item.scenario: figure(item) for item in solved}, code)


def _units(asked: Request) -> str:
    return asked.units or asked.enclosure.units


def _figure(asked: Request, picture: str, found: object, **more: Any) -> Figure:
    """A picture on a page of its own; matplotlib is loaded here."""
    ax: Axes = getattr(draw, picture)(found, units=_units(asked), **more)
    figure = ax.get_figure(root=True)
    assert figure is not None  # axes of a page have one
    return figure


def _solved(asked: Request) -> tuple[list[Solution], int]:
    found = list(outcomes(asked.enclosure, asked.names, asked.design, asked.changes))
    return [item for item in found if isinstance(item, Solution)], exit_code(found)


def _network(asked: Request, extra: Extra) -> Drawn:
    """It helps most where nothing can be solved: then it is drawn without flows."""
    from flownet.solving.solve import solve  # noqa: PLC0415 - only here

    def shown(name: str) -> Solution | Enclosure:
        try:
            return solve(asked.enclosure, scenario=name, variant=asked.design,
                                 changes=asked.changes or None)  # fmt: skip
        except (CaseError, NoSolution) as error:
            asked.screen.note(f"drawn without flows, not solved: {error}")
            return asked.made(name)

    return Drawn({name: _figure(asked, "network", shown(name)) for name in asked.names})


def _matrix(asked: Request, extra: Extra) -> Drawn:
    """Every variant, or the one asked for, where the limits must hold, or in these scenarios."""
    from flownet.studies.compare import compare  # noqa: PLC0415 - only here

    found = compare(
        asked.enclosure, variants=[asked.variant] if asked.variant else None,
        scenarios=asked.scenarios or None, changes=asked.changes or None,
    )  # fmt: skip
    return Drawn({"": _figure(asked, "matrix", found)})


def _rank(asked: Request, extra: Extra) -> Drawn:
    from flownet.studies.rank import rank  # noqa: PLC0415 - only here

    return Drawn({name: _figure(asked, "rank", rank(asked.made(name), extra["of"]))
                  for name in asked.names})  # fmt: skip


def _headroom(asked: Request, extra: Extra) -> Drawn:
    from flownet.studies.headroom import headroom  # noqa: PLC0415 - only here

    def figure(name: str) -> Figure:
        found = headroom(asked.made(name), extra["of"])
        asked.screen.note(found.verdicts(_units(asked))[0])
        return _figure(asked, "headroom", found)

    return Drawn({name: figure(name) for name in asked.names})


def _choose(asked: Request, extra: Extra) -> Drawn:
    """The best few types; the scenario that decides is drawn."""
    from flownet.studies.choose import choose  # noqa: PLC0415 - only here

    found = choose(
        asked.enclosure, extra["fan"], scenarios=asked.scenarios or None, variant=asked.design,
        changes=asked.changes or None, best=extra["best"] or "temperature",
        frame=extra["frame"],
    )  # fmt: skip
    asked.screen.note(found.verdicts(_units(asked))[0])
    return Drawn({"": _figure(asked, "fan_choice", found)})


def _choice(asked: Request, extra: Extra) -> Drawn:
    """The trade-off of a choice of the case."""
    from flownet.studies.choice.study import choose_options  # noqa: PLC0415 - only here

    made = asked.made("base")
    found = choose_options(made, extra["of"], scenarios=asked.scenarios or None)
    asked.screen.note(found.verdicts(_units(asked))[0])
    return Drawn({"": _figure(asked, "front", found)})


def _uncertainty(asked: Request, extra: Extra) -> Drawn:
    from flownet.studies.uncertainty import uncertainty  # noqa: PLC0415 - only here

    def figure(name: str) -> Figure:
        found = uncertainty(
            asked.enclosure, samples=extra["samples"] or SAMPLES, seed=extra["seed"],
            scenario=name, variant=asked.design, changes=asked.changes or None,
            of=extra["of"],
        )  # fmt: skip
        return _figure(asked, "uncertainty", found)

    return Drawn({name: figure(name) for name in asked.names})


def _sweep(asked: Request, extra: Extra) -> Drawn:
    """A sweep of the case, or what `--vary` says."""
    from flownet.cli import varying  # noqa: PLC0415 - only here
    from flownet.studies.sweep import sweep  # noqa: PLC0415 - likewise

    of = extra["of"]

    def figure(name: str) -> Figure:
        made = asked.made(name)
        wanted = varying.varied(made, extra["name"], extra["vary"] or ())
        found = sweep(made, wanted, keep=None if of is None else [of])
        asked.screen.note(found.verdicts(_units(asked))[0])
        return _figure(asked, "sweep", found, of=of)

    return Drawn({name: figure(name) for name in asked.names})


SAMPLES = 1000  # of an uncertainty
PICTURES = {
    "map": Picture(_map),
    "network": Picture(_network),
    "curves": Picture(_curves, takes=("fan",)),
    "choose": Picture(_choose, each=False, needs=("fan",), takes=("best", "frame")),
    "choice": Picture(_choice, each=False, takes=("of",)),
    "matrix": Picture(_matrix, each=False),
    "headroom": Picture(_headroom, needs=("of",)),
    "rank": Picture(_rank, needs=("of",)),
    "sweep": Picture(_sweep, takes=("of", "name", "vary")),
    "uncertainty": Picture(_uncertainty, needs=("seed",), takes=("of", "samples")),
}
KEY = "the input that moves, such as --of outside.temperature"
OPTIONS = {  # what to write where a picture needs the option
    "of": "the result it is about, such as --of part.NAME.temperature",
    "fan": "a fan, such as --fan left",
    "best": "what ranks, such as --best noise",
    "frame": 'a size, such as --frame "119 x 38 mm"',
    "seed": "a whole number, such as --seed 1; the same seed draws the same samples",
    "samples": "a count, such as --samples 10000",
}


def faults(picture: str, extra: Mapping[str, Any]) -> Iterator[str]:
    """Options that are missing, or belong to other pictures."""
    asked = PICTURES[picture]
    for name in asked.needs:
        if extra[name] is None:
            wanted = KEY if (picture, name) == ("headroom", "of") else OPTIONS[name]
            yield f"--{name}: {picture} needs {wanted}"
    for name, value in extra.items():
        if value is not None and name not in (*asked.needs, *asked.takes):
            owners = [p for p, it in PICTURES.items() if name in (*it.needs, *it.takes)]
            yield Fault(f"--{name}", f"only for {listed(owners, len(owners))}", picture)
