"""The pictures that `flownet draw` knows: what each needs, and the figures it makes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from flownet.cli import reading
from flownet.cli.screen import Screen
from flownet.cli.solving import exit_code, outcomes
from flownet.enclosure.enclosure import Enclosure
from flownet.results.solution import Solution
from flownet.schema.errors import CaseError, NoSolution

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Asked:
    """What the command line said."""

    case: Enclosure
    scenarios: Sequence[str]
    variant: str | None
    changes: dict[str, Any]
    units: str
    screen: Screen
    told: Sequence[str]  # the changes as they were written
    extra: Mapping[str, Any]  # options that only some pictures have, by name; None: not given

    @property
    def names(self) -> tuple[str, ...]:
        """The scenarios one by one, for pictures of one each."""
        return tuple(reading.scenarios(self.case, self.scenarios, self.variant))

    @property
    def design(self) -> str:
        return self.variant or "base"

    @property
    def look(self) -> dict[str, Any]:
        """What every picture takes."""
        return {"units": self.units, "changed": self.told}

    def made(self, scenario: str) -> Enclosure:
        """The case with everything that was asked for applied."""
        case = self.case.under(scenario, self.design)
        return case.with_changes(self.changes) if self.changes else case


class Drawn(NamedTuple):
    """The figures by the scenario that a file name tells, and the exit code."""

    figures: Mapping[str, Figure]
    code: int = 0


class Picture(NamedTuple):
    """A picture, the options that are its own (those in `needs` must be given)."""

    draw: Callable[[Asked], Drawn]
    each: bool = True  # a file for each scenario; else one for all
    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()


def _map(asked: Asked) -> Drawn:
    """One range of colours for all: that of the case as it was read."""
    from flownet.pictures.map import axes as figures  # noqa: PLC0415 - loads matplotlib
    from flownet.pictures.scene import page as scene_page  # noqa: PLC0415

    solved, code = _solved(asked)
    hottest = [row.temperature for item in solved for row in item.compartments.values()]
    colours = scene_page.temperature_range(asked.case, hottest)
    return Drawn({item.scenario: figures.figure(item, **asked.look, temperatures=colours)
                  for item in solved}, code)  # fmt: skip


def _curves(asked: Asked) -> Drawn:
    """What several fans gain is told beside it."""
    from flownet.pictures.curves import curves  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.fans.curves import fan_curves  # noqa: PLC0415 - likewise

    def figure(solution: Solution) -> Figure:
        found = fan_curves(solution, fan=asked.extra["fan"])
        if found.gain is not None:
            asked.screen.note(found.gain.words(asked.units))
        return _on_page(curves, found, **asked.look)

    solved, code = _solved(asked)
    return Drawn({item.scenario: figure(item) for item in solved}, code)


def _on_page(draw: Callable[..., Axes], found: Any, **look: Any) -> Figure:
    figure = draw(found, **look).get_figure(root=True)
    assert figure is not None  # axes of a page have one
    return figure


def _solved(asked: Asked) -> tuple[list[Solution], int]:
    found = list(outcomes(asked.case, asked.names, asked.design, asked.changes))
    return [item for item in found if isinstance(item, Solution)], exit_code(found)


def _network(asked: Asked) -> Drawn:
    """It helps most where nothing can be solved: then it is drawn without flows."""
    from flownet.pictures.network import axes  # noqa: PLC0415 - loads matplotlib
    from flownet.solve import solve  # noqa: PLC0415 - likewise

    def shown(name: str) -> Solution | Enclosure:
        try:
            return solve(asked.case, scenario=name, variant=asked.design,
                                 changes=asked.changes or None)  # fmt: skip
        except (CaseError, NoSolution) as error:
            asked.screen.note(f"drawn without flows, not solved: {error}")
            return asked.made(name)

    return Drawn({name: axes.figure(shown(name), **asked.look) for name in asked.names})


def _matrix(asked: Asked) -> Drawn:
    """Every variant, or the one asked for, where the limits must hold, or in these scenarios."""
    from flownet.pictures.matrix import matrix  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.compare import compare  # noqa: PLC0415 - likewise

    found = compare(
        asked.case, variants=[asked.variant] if asked.variant else None,
        scenarios=asked.scenarios or None, changes=asked.changes or None,
    )  # fmt: skip
    return Drawn({"": _on_page(matrix, found, **asked.look)})


def _rank(asked: Asked) -> Drawn:
    from flownet.pictures.rank import rank as page  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.rank import rank  # noqa: PLC0415 - likewise

    return Drawn({
        name: _on_page(page, rank(asked.made(name), asked.extra["of"]), **asked.look)
        for name in asked.names
    })  # fmt: skip


def _headroom(asked: Asked) -> Drawn:
    from flownet.pictures.headroom import headroom as page  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.headroom.study import headroom  # noqa: PLC0415 - likewise

    def figure(name: str) -> Figure:
        found = headroom(asked.made(name), asked.extra["of"])
        asked.screen.note(found.verdicts(asked.units)[0])
        return _on_page(page, found, **asked.look)

    return Drawn({name: figure(name) for name in asked.names})


def _choose(asked: Asked) -> Drawn:
    """The best few types; the scenario that decides is drawn."""
    from flownet.pictures.fan_choice import fan_choice  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.choice.fan_picture import fan_choice_curves  # noqa: PLC0415
    from flownet.studies.choose import choose  # noqa: PLC0415 - likewise

    found = choose(
        asked.case, asked.extra["fan"], scenarios=asked.scenarios or None, variant=asked.design,
        changes=asked.changes or None, best=asked.extra["best"] or "temperature",
        frame=asked.extra["frame"],
    )  # fmt: skip
    asked.screen.note(found.verdicts(asked.units)[0])
    return Drawn({"": _on_page(fan_choice, fan_choice_curves(found), **asked.look)})


def _choice(asked: Asked) -> Drawn:
    """The trade-off of a choice of the case."""
    from flownet.pictures.pareto import pareto  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.choice.study import choose_options  # noqa: PLC0415 - likewise

    made = asked.made("base")
    found = choose_options(made, asked.extra["of"], scenarios=asked.scenarios or None)
    asked.screen.note(found.verdicts(asked.units)[0])
    return Drawn({"": _on_page(pareto, found, **asked.look)})


def _uncertainty(asked: Asked) -> Drawn:
    from flownet.pictures.uncertainty import uncertainty as page  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.uncertainty.study import uncertainty  # noqa: PLC0415 - likewise

    def figure(name: str) -> Figure:
        found = uncertainty(
            asked.case, samples=asked.extra["samples"] or SAMPLES, seed=asked.extra["seed"],
            scenario=name, variant=asked.design, changes=asked.changes or None,
            of=asked.extra["of"],
        )  # fmt: skip
        return _on_page(page, found, **asked.look)

    return Drawn({name: figure(name) for name in asked.names})


def _sweep(asked: Asked) -> Drawn:
    """A sweep of the case, or what `--vary` says."""
    from flownet.cli import varying  # noqa: PLC0415 - only here
    from flownet.pictures.sweep import sweep as page  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.sweep import sweep  # noqa: PLC0415 - likewise

    of = asked.extra["of"]

    def figure(name: str) -> Figure:
        made = asked.made(name)
        wanted = varying.varied(made, asked.extra["name"], asked.extra["vary"] or ())
        found = sweep(made, wanted, keep=None if of is None else [of])
        asked.screen.note(found.verdicts(asked.units)[0])
        return _on_page(page, found, of=of, **asked.look)

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
            yield f"--{name}: only for {_listed(owners)} (got {picture})"


def _listed(names: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
