"""The pictures that `flownet draw` knows: what each needs, and the figures it makes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
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

    find: Callable[[Request, Extra, Any], Any]  # what is drawn, of a scenario or its solution
    function: str  # of flownet.draw
    each: bool = True  # a file for each scenario; else one for all
    solved: bool = False  # of its solution; one that has none keeps its place
    told: bool = False  # what it says first is a note too
    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()


def drawn(picture: str, asked: Request, extra: Extra) -> Drawn:
    """All files of a picture; matplotlib is loaded here."""
    own, code = PICTURES[picture], 0
    subjects: dict[str, Any] = {name: name for name in (asked.names if own.each else [""])}
    if own.solved:
        made = list(outcomes(asked.enclosure, asked.names, asked.design, asked.changes))
        subjects = {item.scenario: item for item in made if isinstance(item, Solution)}
        code = exit_code(made)
    more = {"of": extra["of"]} if picture in ("sweep", "path") else {}
    if picture == "map":
        more = {"temperatures": _colours(asked, subjects.values()), "shares": bool(extra["shares"])}

    def figure(subject: Any) -> Figure:
        found = own.find(asked, extra, subject)
        if own.told:
            asked.screen.note(found.verdicts(_units(asked))[0])
        ax: Axes = getattr(draw, own.function)(found, units=_units(asked), **more)
        made = ax.get_figure(root=True)
        assert made is not None  # axes of a page have one
        return made

    return Drawn({name: figure(subject) for name, subject in subjects.items()}, code)


def _units(asked: Request) -> str:
    return asked.units or asked.enclosure.units


def _colours(asked: Request, solved: Iterable[Solution]) -> Any:
    """One range of colours for all: that of the case as it was read."""
    from flownet.pictures.scene.page import temperature_range  # noqa: PLC0415 - only here

    hottest = [row.temperature for item in solved for row in item.compartments.values()]
    return temperature_range(asked.enclosure, hottest)


def _solution(asked: Request, extra: Extra, solution: Solution) -> Solution:
    return solution


def _curves(asked: Request, extra: Extra, solution: Solution) -> Any:
    """What several fans gain is told beside it."""
    from flownet.studies.fans.curves import fan_curves  # noqa: PLC0415 - only here

    found = fan_curves(solution, fan=extra["fan"])
    if found.gain is not None:
        asked.screen.note(found.gain.words(_units(asked)))
    return found


def _network(asked: Request, extra: Extra, name: str) -> Solution | Enclosure:
    """It helps most where nothing can be solved: then it is drawn without flows."""
    from flownet.solving.solve import solve  # noqa: PLC0415 - only here

    try:
        return solve(asked.enclosure, scenario=name, variant=asked.design,
                     changes=asked.changes or None)  # fmt: skip
    except (CaseError, NoSolution) as error:
        asked.screen.note(f"drawn without flows, not solved: {error}")
        return asked.made(name)


def _matrix(asked: Request, extra: Extra, _: str) -> Any:
    """Every variant, or the one asked for, where the limits must hold, or in these scenarios."""
    from flownet.studies.compare import compare  # noqa: PLC0415 - only here

    return compare(
        asked.enclosure, variants=[asked.variant] if asked.variant else None,
        scenarios=asked.scenarios or None, changes=asked.changes or None,
    )  # fmt: skip


def _rank(asked: Request, extra: Extra, name: str) -> Any:
    from flownet.studies.rank import rank  # noqa: PLC0415 - only here

    return rank(asked.made(name), extra["of"])


def _headroom(asked: Request, extra: Extra, name: str) -> Any:
    from flownet.studies.headroom import headroom  # noqa: PLC0415 - only here

    return headroom(asked.made(name), extra["of"])


def _choose(asked: Request, extra: Extra, _: str) -> Any:
    """The best few types; the scenario that decides is drawn."""
    from flownet.studies.choose import choose  # noqa: PLC0415 - only here

    return choose(
        asked.enclosure, extra["fan"], scenarios=asked.scenarios or None, variant=asked.design,
        changes=asked.changes or None, best=extra["best"] or "temperature", frame=extra["frame"],
    )  # fmt: skip


def _choice(asked: Request, extra: Extra, _: str) -> Any:
    """The trade-off of a choice of the case."""
    from flownet.studies.choice.study import choose_options  # noqa: PLC0415 - only here

    return choose_options(asked.made("base"), extra["of"], scenarios=asked.scenarios or None)


def _uncertainty(asked: Request, extra: Extra, name: str) -> Any:
    from flownet.studies.uncertainty import uncertainty  # noqa: PLC0415 - only here

    return uncertainty(
        asked.enclosure, samples=extra["samples"] or DRAWS, seed=extra["seed"], scenario=name,
        variant=asked.design, changes=asked.changes or None, of=extra["of"],
    )  # fmt: skip


def _sweep(asked: Request, extra: Extra, name: str) -> Any:
    """A sweep of the case, or what `--vary` says."""
    from flownet.cli.varying import varied  # noqa: PLC0415 - only here
    from flownet.studies.sweep import sweep  # noqa: PLC0415 - likewise

    made = asked.made(name)
    wanted = varied(made, extra["name"], extra["vary"] or ())
    return sweep(made, wanted, keep=None if extra["of"] is None else [extra["of"]])


def _time(asked: Request, extra: Extra, _: str) -> Any:
    """A timeline of the case, by its own scenario where none is asked for; or events."""
    from flownet.cli.transient import course, plans  # noqa: PLC0415 - only here

    if len(asked.scenarios) > 1:
        raise CaseError(f"-s: time takes one scenario; -s {'+'.join(asked.scenarios)} joins them")
    given = {key: extra[key] for key in TIMING}
    found = plans(asked, extra["timeline"], given)
    if len(found) > 1:
        raise CaseError(f"TIMELINE: must be given, one of {', '.join(found)}")
    return course(asked, found[0], "+".join(asked.scenarios) or None, given)


TIMING = ("events", "inputs", "until", "start")  # options that say what happens when
DRAWS = 1000  # of an uncertainty
PICTURES = {
    "map": Picture(_solution, "map", solved=True, takes=("shares",)),
    "network": Picture(_network, "network"),
    "curves": Picture(_curves, "curves", solved=True, takes=("fan",)),
    "margins": Picture(_solution, "margins", solved=True),
    "split": Picture(_solution, "split", solved=True),
    "path": Picture(_solution, "path", solved=True, takes=("of",)),
    "slot": Picture(_solution, "slot", solved=True),
    "choose": Picture(_choose, "fan_choice", each=False, told=True, needs=("fan",),
                      takes=("best", "frame")),
    "choice": Picture(_choice, "front", each=False, told=True, takes=("of",)),
    "matrix": Picture(_matrix, "matrix", each=False),
    "headroom": Picture(_headroom, "headroom", told=True, needs=("of",)),
    "rank": Picture(_rank, "rank", needs=("of",)),
    "sweep": Picture(_sweep, "sweep", told=True, takes=("of", "name", "vary")),
    "time": Picture(_time, "time", each=False, told=True,
                    takes=("timeline", *TIMING)),
    "uncertainty": Picture(_uncertainty, "uncertainty", needs=("seed",), takes=("of", "samples")),
}  # fmt: skip
HEADROOM_KEY = "the input that moves, such as --of outside.temperature"
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
            wanted = HEADROOM_KEY if (picture, name) == ("headroom", "of") else OPTIONS[name]
            yield f"--{name}: {picture} needs {wanted}"
    for name, value in extra.items():
        if value is not None and name not in (*asked.needs, *asked.takes):
            owners = [p for p, it in PICTURES.items() if name in (*it.needs, *it.takes)]
            option = {"timeline": "TIMELINE", "events": "--event"}.get(name, f"--{name}")
            yield Fault(option, f"only for {listed(owners, len(owners))}", picture)
