"""The sheet of one solution: the verdict, then margins, fans, air, heat, findings, balance."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.judging.assessment import STATUSES, assessed
from flownet.pages.caption import Caption
from flownet.pages.findings import Told, findings_table
from flownet.pages.noise import fan_set
from flownet.pages.origins import origins_table
from flownet.pages.page import STYLES, Unsolved, counted
from flownet.pages.render import NO_BREAK
from flownet.pages.sheet import Column, Listing, Sentence, Sheet, Tabled
from flownet.pages.table import INDENT
from flownet.pages.verdict import ranked, verdict
from flownet.pages.walls import heat_sinks, wall_faces
from flownet.results.batch import SolutionBatch
from flownet.results.dew import coldest_first
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.streams import each_way, is_outside, is_still
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.fields import Number, roles
from flownet.schema.quantities import Quantity
from flownet.schema.shown import apportioned

REGION_STYLES = {"backflow": "bad", "stall": "bad", "past-free-delivery": "doubtful", "normal": ""}
NO_AIR = "no air"
DEFAULT_STATES = ("open", "fitted", "running", None)


def solution_sheet(solution: Solution, told: Told | None = None) -> Sheet:
    """What a solution says; `told` are findings of pages before this one (`findings_table`)."""
    tables: list[Tabled] = [
        _margins(solution), *_fans(solution), *fan_set(solution), *_air(solution),
        *wall_faces(solution), *heat_sinks(solution),
        *origins_table(solution),
        Listing("heat", (), notes=(Sentence("Heat", partial(_heat, solution), "heading"),)),
        *([partial(findings_table, solution.findings, told)] if solution.findings else []),
        Listing("balance", (), notes=(Sentence("Balance", _balance(solution), "heading"),)),
    ]  # fmt: skip
    return Sheet("solve", Caption.of(solution), partial(verdict, solution), tables, close=True,
                 names=_longest_name(solution))  # fmt: skip


def unsolved_sheet(item: Unsolved) -> Sheet:
    """What stands in the place of a solution where a scenario of several was not solved."""
    said = [Sentence("", "not solved", "bad"), *(Sentence(INDENT, fault) for fault in item.faults)]
    caption = Caption(title=item.title, scenario=item.scenario, variant=item.variant)
    return Sheet("solve", caption, lambda units: said)


def batch_sheet(batch: SolutionBatch) -> Sheet:
    """How each variant of a batch stands, the worst first where not all are shown."""
    stand, case, every = assessed(batch), batch.inputs_.enclosure, range(len(batch))
    words = [STATUSES[code] for code in stand.status]
    counts = [f"{words.count(word)} {word}" for word in STATUSES if word in words]
    limits = [stand.deciding(i) for i in every]
    columns = [
        Column("Variant", [str(i) for i in every]),
        *(_given(case, path, value, len(batch)) for path, value in batch.changes.items()),
        Column("margin", stand.margin, [item.margin_quantity if item else q.DIFFERENCE
                                        for item in limits], "high", "+"),
        Column("status", words, styles=[STYLES.get(word, "bad") for word in words]),
        Column("flow", batch["total.volume_flow"], q.VOLUME_FLOW),
        Column("noise", batch["total.noise"], q.LEVEL, "low"),
        Column("", [item.subject if item else "" for item in limits]),
    ]  # fmt: skip
    said = f"{counted(len(batch), 'variant')}: {', '.join(counts)}"
    table = Listing("variants", tuple(columns), first=[int(i) for i in np.argsort(stand.order)])
    caption = Caption.of(case, f"{case.applied.variant} | {case.applied.scenario}")
    return Sheet("solve", caption, lambda units: [said], (table,))


def _given(case: Enclosure, path: str, value: Any, count: int) -> Column:
    """What was varied: a number in the units of the page, all else as a case file has it."""
    values = value if isinstance(value, np.ndarray) else [value] * count
    first = case.places(path)[0]
    role = roles(KINDS[first.kind])[first.key]
    if isinstance(role, Number) and all(isinstance(x, (int, float)) for x in values):
        return Column(path, values, role.quantity, form="bound")
    return Column(path, [as_text(case, path, x) for x in values], right=True)


def _longest_name(solution: Solution) -> int:
    names = [*solution.branches, *(limit.subject for limit in solution.limits)]
    names += [f"part.{name}" for name in solution.parts]
    names += [f"compartment.{name}" for name in solution.compartments]
    return len(INDENT) + max(map(len, names))


def _text(quantity: Quantity, value: float, units: str) -> str:
    return quantity.shown(units).text(float(value)) if math.isfinite(value) else "-"


# --- tables ------------------------------------------------------------------------------------


def _margins(solution: Solution) -> Listing:
    """All limits, then temperatures that have none; how layers lie stands below."""
    limits = ranked(solution)
    held = {limit.subject for limit in solution.limits}
    groups = (("part", solution.parts), ("compartment", solution.compartments))
    free = [(path, row.temperature) for kind, rows in groups for name, row in rows.items()
            if (path := f"{kind}.{name}") not in held]  # fmt: skip
    items, none = [item for item, _ in limits], [math.nan] * len(free)
    kinds = [item.quantity for item in items] + [q.TEMPERATURE] * len(free)
    apart = [item.margin_quantity for item in items] + [q.DIFFERENCE] * len(free)
    words = [word for _, word in limits]
    layers = [
        Sentence(f"{INDENT}compartment.{name}: ", partial(_layers, rows, row.mean_temperature))
        for name, row in solution.compartments.items() if (rows := solution.layers_of(name))
    ]  # fmt: skip
    return Listing("margins", (
        Column("Margins, worst first", [*(i.subject for i in items), *(path for path, _ in free)]),
        Column("value", [item.value for item in items] + [warm for _, warm in free], kinds),
        Column("limit", [item.bound for item in items] + none, kinds, form="bound"),
        Column("margin", [item.margin for item in items] + none, apart, "high", "+"),
        Column("", words + ["no limit"] * len(free),
               styles=[STYLES[word] for word in words] + [""] * len(free)),
        Column("", [partial(_beside, solution, item) for item in items] + [""] * len(free)),
    ), notes=tuple(layers), apart=False)  # fmt: skip


def _layers(rows: dict[str, Any], mean: float, units: str) -> str:
    """`layers upward 42.1 degC, 46.1 degC; mean 45.5 degC`."""
    upward = ", ".join(_text(q.TEMPERATURE, row.temperature, units) for row in rows.values())
    return f"layers upward {upward}; mean {_text(q.TEMPERATURE, mean, units)}"


def _beside(solution: Solution, limit: Limit, units: str) -> str:
    limits = solution.case.limits
    if limit.limit == "noise":
        return f"at {_text(q.DISTANCE, solution.totals.noise_distance, units)}"
    if limit.limit == "dew":
        return f"at {next(iter(coldest_first(solution)))}"
    if limit.limit != "life":
        return ""
    note = str(solution.fans[limit.subject].life_kind or "")
    if limits.duty == "intermittent" and not math.isnan(limits.running_share):
        note += f", runs {100 * limits.running_share:.3g} % of the time"
    return note


def _fans(solution: Solution) -> Iterator[Listing]:
    """The fans, those that work badly first; below them what speeds follow."""
    names, rows = list(solution.fans), list(solution.fans.values())
    if not names:
        return
    worst_first = {region: i for i, region in enumerate(REGION_STYLES) if region != "normal"}
    kinds = {row.life_kind for row in rows if not math.isnan(row.life)}
    life = "life" if len(kinds) > 1 else " ".join(["life", *(str(kind) for kind in kinds if kind)])
    following = [
        Sentence(f"{INDENT}{name}: ", partial(_following, row.speed_ratio, *follows))
        for name, row in solution.fans.items() if (follows := solution.followed(name)) is not None
    ]  # fmt: skip
    yield Listing("fans", (
        Column("Fans", names),
        Column("flow", [_flow(solution, name) for name in names], q.VOLUME_FLOW),
        Column("rise", [row.rise for row in rows], q.PRESSURE),
        Column("region", [_region(solution, name) for name in names],
               styles=[REGION_STYLES.get(row.region, "quiet") for row in rows]),
        Column("air in", [row.air_temperature for row in rows], q.TEMPERATURE),
        Column("power", [row.power for row in rows], q.POWER),
        Column(life, [row.life for row in rows], q.HOURS),
        Column("", [partial(_fan_notes, solution, name, len(kinds) > 1) for name in names]),
    ), notes=tuple(following), apart=False, first=sorted(
        range(len(rows)), key=lambda i: worst_first.get(rows[i].region, len(worst_first))
    ))  # fmt: skip


def _region(solution: Solution, name: str) -> str:
    """Where a fan works on its curve; of one that does not run, whether the air may turn it."""
    state, region = solution.branches[name].state, str(solution.fans[name].region)
    return str(state) if (state, region) == ("freewheeling", "stopped") else region


def _following(ratio: float, by: str, temperature: float, units: str) -> str:
    """`speed 0.71 by part.sink 58.3 degC`."""
    warm = _text(q.TEMPERATURE, temperature, units)
    return f"speed {_text(q.RATIO, ratio, units)} by {by} {warm}"


def _fan_notes(solution: Solution, name: str, kinds: bool, units: str) -> str:
    row = solution.fans[name]
    notes = [str(row.life_kind)] if kinds and not math.isnan(row.life) else []
    notes += _way_notes(name, solution)
    if row.region == "stopped" and not is_still(solution, name):
        notes.append(f"drop {_text(q.PRESSURE, abs(solution.branches[name].drop), units)}")
    return ", ".join(notes)


def _air(solution: Solution) -> Iterator[Listing]:
    """Every other branch, the largest flows first."""
    names = [name for name in solution.branches if name not in solution.fans]
    if not names:
        return
    flows = [abs(solution.branches[name].volume_flow) for name in names]
    yield Listing("air", (
        Column("Air", names),
        Column("flow", [_flow(solution, name) for name in names], q.VOLUME_FLOW),
        Column("drop", [solution.branches[name].drop for name in names], q.PRESSURE),
        Column("from > to", [_ends(solution.case.branches[name]) for name in names]),
        Column("", [partial(_air_notes, solution, name) for name in names]),
    ), notes=tuple(
        Sentence(f"{INDENT}compartment.{name}: ", partial(_neutral, solution, row))
        for name, row in solution.compartments.items() if math.isfinite(row.neutral_level)
    ), first=sorted(range(len(names)), key=lambda i: -flows[i]))  # fmt: skip


def _neutral(solution: Solution, row: Any, units: str) -> str:
    """`neutral level 0.83 m, outside air presses in below it`."""
    side = "below" if row.mean_temperature > solution.site["temperature"] else "above"
    level = _text(q.LENGTH, row.neutral_level, units)
    return f"neutral level {level}, outside air presses in {side} it"


def _ends(item: Any) -> str:
    on = getattr(item, "on", None)
    return f"on {on}" if on is not None else f"{item.from_} > {item.to}"


def _flow(solution: Solution, name: str) -> float | str:
    """The net flow of a branch; `no air` where none passes."""
    flow = solution.volume_flow(name)
    if flow == 0 or is_still(solution, name):
        return 0.0 if each_way(solution, name) else NO_AIR
    return flow


def _air_notes(solution: Solution, name: str, units: str) -> str:
    """What is worth a word beside a flow: its state, its way, its share, what leaves it."""
    row = solution.branches[name]
    notes = [] if row.state in DEFAULT_STATES else [row.state]
    notes += _way_notes(name, solution)
    if counter := each_way(solution, name):
        notes.append(f"plus {_text(q.VOLUME_FLOW, counter, units)} each way at once")
    if row.heat and math.isfinite(row.heat) and math.isfinite(row.outlet_temperature):
        notes.append(f"out at {_text(q.TEMPERATURE, row.outlet_temperature, units)}")
    return ", ".join(notes)


def _way_notes(name: str, solution: Solution) -> Iterator[str]:
    """`back` where air goes against the way that was meant, and the share of the intake."""
    still = is_still(solution, name)
    if still and not each_way(solution, name):
        return
    mounted = getattr(solution.case.branches[name], "mounted", "forward")
    if not still and solution.branches[name].volume_flow * (-1 if mounted == "reversed" else 1) < 0:
        yield "back"
    share = _intake_shares(solution).get(name)
    if share is not None:
        yield f"{share} % of intake" if share else "under 1 % of intake"


def _intake_shares(solution: Solution) -> dict[str, int]:
    """Percents of the air drawn in, by branch; they add up to 100."""
    whole = solution.totals.volume_flow
    drawn = {}
    for name, row in solution.branches.items():
        item = solution.case.branches[name]
        if (both := each_way(solution, name)) and whole:
            for place, way in ((item.from_, 1.0), (item.to, -1.0)):
                if is_outside(str(place)):
                    drawn[name] = 100 * (max(way * float(row.volume_flow), 0.0) + both) / whole
        elif getattr(item, "on", None) is None and row.volume_flow and whole:
            start = item.from_ if row.volume_flow > 0 else item.to
            if is_outside(str(start)) and not is_still(solution, name):
                drawn[name] = 100 * abs(float(row.volume_flow)) / whole
    percents = apportioned(round(math.fsum(drawn.values())), list(drawn.values()))
    return dict(zip(drawn, percents, strict=True))


# --- sums, balance -----------------------------------------------------------------------------


def _heat(solution: Solution, units: str) -> str:
    """`376 W in = 345 W by air + 31 W through walls`, which adds up as printed."""
    totals, shown = solution.totals, q.POWER.shown(units)
    walls = 0.0 if math.isnan(totals.wall_heat) else totals.wall_heat
    if not solution.walls:
        return f"  {shown.text(totals.heat)} in, all by air"
    if walls < 0:
        air, (heat, sun) = shown.shares(totals.heat - walls, (totals.heat, -walls))
        return f"  {heat} in + {sun} in through walls = {air} by air"
    heat, (air, out) = shown.shares(totals.heat, (totals.heat - walls, walls))
    return f"  {heat} in = {air} by air + {out} through walls"


def _balance(solution: Solution) -> str:
    """`mass 3e-9  pressure 0  energy 2e-10  (7 rounds)     stable, one of 3 ...`."""
    made = solution.balance
    told = [f"{name} {_power_of_ten(getattr(made, name + '_residual'))}"
            for name in ("mass", "pressure", "energy")]  # fmt: skip
    word = "stable" if solution.stable else "unstable"
    several = solution.points is not None and solution.points > 1
    more = f", one of {solution.points} operating points found" if several else ""
    end = f"  {word}{more}".replace(" ", NO_BREAK)  # it goes to the next line as a whole
    return f"  {'  '.join(told)}  ({counted(int(made.iterations), 'round')})   {end}"


def _power_of_ten(value: float) -> str:
    """`3e-9`; one digit says enough of a residual."""
    mantissa, _, exponent = f"{float(value):.0e}".partition("e")
    return f"{mantissa}e{int(exponent)}" if value else "0"
