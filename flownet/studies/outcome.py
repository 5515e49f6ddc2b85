"""One pair of scenario and variant as a study shows it: what decides, and the figures beside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import HOLDS, STATUSES
from flownet.judging.voids import told
from flownet.pages.page import STYLES
from flownet.pages.sheet import Column, Listing, Sentence
from flownet.results.limits import AT_LEAST
from flownet.results.tables import REGIONS
from flownet.schema import quantities as q
from flownet.schema.fault import Fault, listed
from flownet.schema.quantities import Quantity
from flownet.studies.effective_flow import useful_flow
from flownet.studies.runs import Outcomes

IN_TROUBLE = ("stall", "backflow")  # regions in which a running fan should not be
SOUND = tuple(STATUSES[code] for code in HOLDS)


class PairOutcome(NamedTuple):
    """One variant in one scenario; SI, NaN where there is no value."""

    pair: int  # its number among the outcomes
    scenario: str
    variant: str
    asked: str  # the scenario as it was asked for: each-fan-out of fan.left-out
    status: str  # ok, tight, over, unknown (a limit without a value, or no limit), void, unsolved
    order: int  # 0 for the worst cell of all
    limit: str  # part, air, flow, noise, life: of the limit that decides; empty without any
    subject: str  # what it is about
    margin: float  # of it, in K, dB or h
    margin_quantity: Quantity
    miss: float  # largest share by which a limit is missed; infinite where no number says it
    worst_margin: float  # smallest temperature margin [K]
    hottest_air: float  # [K]
    hottest_air_in: str  # the compartment
    volume_flow: float  # all that is drawn in from outside [m3/s]
    useful_flow: float  # what of it passes a part with a limit [m3/s]
    noise: float  # [dBA]
    fan_power: float  # [W]
    standing: Mapping[str, float]  # fans that stand in an open hole: flow the way they blow [m3/s]
    troubled: Mapping[str, str]  # running fans in stall or driven backwards: their region
    void: Mapping[str, Sequence[str]]  # what makes it void: reason -> subjects, causes first
    in_dip: Mapping[str, Sequence[str]]  # fans in stall while another is out, in the same form
    stable: bool
    tried: bool  # false where the pair was refused before any solve
    why: str  # where it was not solved: the reason

    @property
    def holds(self) -> bool:
        """Whether every limit is known to hold, and nothing makes that void."""
        return self.status in SOUND

    @property
    def word(self) -> str:
        """Its status as it is read, `void: stall`; a life that is over its limit is `short`."""
        if self.void:
            return f"void: {next(iter(self.void))}"
        own = "short" if self.limit in AT_LEAST and self.status == "over" else self.status
        return ", ".join([own, *self.in_dip])


FIGURES = {  # what is shown of every pair -> its heading
    "hottest_air": "air", "volume_flow": "flow", "useful_flow": "useful", "noise": "noise",
    "fan_power": "power",
}  # fmt: skip
PAIR_NUMBERS = {
    "worst_margin": q.DIFFERENCE, "hottest_air": q.TEMPERATURE, "volume_flow": q.VOLUME_FLOW,
    "useful_flow": q.VOLUME_FLOW, "noise": q.LEVEL, "fan_power": q.POWER,
}  # fmt: skip


def pairs_table(name: str, some: Sequence[PairOutcome], use: str = "data") -> Listing:
    """One row a pair, for data."""

    def of(key: str) -> list[Any]:
        return [getattr(cell, key) for cell in some]

    def words(key: str) -> list[Any]:
        return [getattr(cell, key) or None for cell in some]

    return Listing(name, (
        Column("scenario", of("scenario")), Column("variant", of("variant")),
        Column("status", of("status")), Column("limit", words("limit")),
        Column("subject", words("subject")),
        Column("margin", of("margin"), of("margin_quantity"), "high"),
        Column("margin_unit", [margin_unit(cell.margin_quantity) if cell.limit else None
                               for cell in some]),
        *(Column(key, of(key), quantity) for key, quantity in PAIR_NUMBERS.items()),
        Column("hottest_air_in", words("hottest_air_in")),
        Column("standing_fans", [{path: {q.VOLUME_FLOW.key("volume_flow"): flow}
                                  for path, flow in cell.standing.items()} for cell in some]),
        Column("troubled_fans", of("troubled")), Column("void", of("void")),
        Column("stable", [cell.stable if cell.status != "unsolved" else None for cell in some]),
        Column("why", words("why")),
    ), use)  # fmt: skip


def place_facts(case: Enclosure) -> dict[str, str | None]:
    """Scenario and variant as JSON has them: those that every case has are no names."""
    applied = case.applied
    names = {"scenario": applied.scenario, "variant": applied.variant}
    return {key: None if name == "base" else name for key, name in names.items()}


def margin_unit(quantity: Quantity) -> str:
    """As it stands beside a margin in data."""
    return "h" if quantity == q.HOURS else quantity.json.unit


def details(
    title: str, some: Sequence[PairOutcome], names: Sequence[str], use: str = "page",
    where: bool = False,
) -> Listing:  # fmt: skip
    """What decides in each pair, and the figures beside it; `where`: in which scenario, too."""
    styles = [*map(style_of, some)]
    lost = ["unsolved" if cell.status == "unsolved" else cell.margin for cell in some]
    return Listing(title, (
        Column(title, names),
        Column("margin", lost, [cell.margin_quantity for cell in some], "high", "+", styles),
        *(Column(head, [getattr(cell, key) for cell in some], PAIR_NUMBERS[key])
          for key, head in FIGURES.items()),
        Column("", [partial(_beside, cell, cell.scenario * where) for cell in some]),
    ), use)  # fmt: skip


def _beside(cell: PairOutcome, where: str, units: str) -> str:
    """What decides, air that goes back through a dead fan, what makes it void, fans in a dip."""
    words = [" in ".join(filter(None, (cell.subject, where)))]
    back: dict[str, list[str]] = {}
    for path, flow in ((path, flow) for path, flow in cell.standing.items() if flow < 0):
        back.setdefault(q.VOLUME_FLOW.shown(units).text(-flow), []).append(path)
    words += [f"{flow} back through {'each of ' * (len(paths) > 1)}{listed(paths, 3)}"
              for flow, paths in back.items()]  # fmt: skip
    words += [lead + told(found, units)
              for lead, found in (("void: ", cell.void), ("", cell.in_dip)) if found]  # fmt: skip
    return ", ".join(words)


def unsolved(some: Sequence[PairOutcome]) -> Iterator[Listing]:
    """Each reason once, with where it arises."""
    reasons: dict[str, dict[str, None]] = {}
    for cell in some:
        if cell.status == "unsolved":
            reasons.setdefault(cell.why, {})[f"{cell.variant} | {cell.scenario}"] = None
    for why, places in reasons.items():
        title = f"not solved: {listed(places, 1, more=', and ')}"
        faults = tuple(Sentence("  ", fault) for fault in why.splitlines())
        yield Listing("unsolved", (), notes=faults, title=Sentence("", title, "bad"))


def style_of(cell: PairOutcome | None) -> str:
    """How its margin is painted."""
    if cell is None:
        return "quiet"
    return "bad" if cell.status == "unsolved" else STYLES[cell.status]


def cells(found: Outcomes, asked: Sequence[str] | None = None) -> list[PairOutcome]:
    """Every pair as a cell; `asked`: of each, the scenario as it was asked for."""
    stand, (warm, hottest_in) = found.stand, found.hottest
    numbers = {
        "worst_margin": found["total.worst_margin"], "volume_flow": found["total.volume_flow"],
        "useful_flow": found.per_pair(useful_flow), "noise": found["total.noise"],
        "fan_power": found["total.fan_power"], "hottest_air": warm, "margin": stand.margin,
        "miss": stand.miss,
    }  # fmt: skip
    stable = found.per_pair(lambda batch: batch.balance_["stable"])
    made = []
    for i, number in enumerate(found.run):
        run, item, (standing, troubled) = found.runs[number], stand.deciding(i), _fans(found, i)
        made.append(PairOutcome(
            i, run.scenario, run.variant, asked[i] if asked else run.scenario,
            STATUSES[stand.status[i]], int(stand.order[i]),
            item.limit if item else "", item.subject if item else "",
            margin_quantity=item.margin_quantity if item else q.DIFFERENCE,
            **{name: float(values[i]) for name, values in numbers.items()},
            hottest_air_in=hottest_in[i], standing=standing, troubled=troubled,
            void=stand.reasons(i), in_dip=stand.in_dip(i), stable=bool(stable[i] == 1),
            tried=not isinstance(found.status[i], Fault), why=found.status[i],
        ))  # fmt: skip
    return made


def _fans(found: Outcomes, pair: int) -> tuple[dict[str, float], dict[str, str]]:
    """Flow through every fan that stands in an open hole, positive the way it blows; and the region
    of those that run where none should."""
    standing: dict[str, float] = {}
    troubled: dict[str, str] = {}
    if found.status[pair]:
        return standing, troubled
    case, batch, place = found.case(pair), found.batches[found.batch[pair]], found.place[pair]
    codes = batch.fans.columns["region"][:, place]
    for path, code in zip(batch.fans.names, codes, strict=True):
        region = REGIONS[int(code)]
        if region == "stopped":
            flow = float(batch[f"{path}.volume_flow"][place])
            back = case.fans[path.removeprefix("fan.")].mounted == "reversed"
            standing[path] = -flow if back else flow
        elif region in IN_TROUBLE:
            troubled[path] = region
    return standing, troubled
