"""Fans held against their own data sheets: shaft, air, speed, kinds of life and of pressure."""

from __future__ import annotations

from collections.abc import Iterator

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.findings.facts import Working, number_at, running_fans, word_at, working_fans
from flownet.findings.registry import COMMON_PRACTICE, OUR_OWN, Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

ROUND_OFF = 1e-9
SHAFTS = ("horizontal", "vertical")
PARALLEL = {  # which directions in the view are vertical, by the side that is up
    "top": ("up", "down"), "bottom": ("up", "down"), "left": ("left", "right"),
    "right": ("left", "right"), "front": ("front", "back"), "back": ("front", "back"),
}  # fmt: skip


@rule(
    name="bearing-unsuited",
    severity="warning",
    title="a fan's shaft stands in a way its data sheet does not permit",
    cause="A sleeve bearing keeps its oil film with the shaft lying; with the shaft upright it "
    "wears early and gets loud. The shaft follows from direction and from the side of the "
    "enclosure that is up.",
    try_="Turn the fan so that air leaves sideways, or take a type with ball bearings (or one "
    "whose shaft list permits it).",
    thresholds="direction given, and the shaft not in the type's shaft list; without a list: a "
    "sleeve bearing with its shaft upright. A plan view says nothing of heights",
    source=f"rule of fan makers, seen in trade notes; {COMMON_PRACTICE}",
)
def bearing_unsuited(solution: Solution) -> Iterator[Said]:
    """Fans that may not be mounted so."""
    for fan in working_fans(solution):
        shaft, rating = shaft_of(solution.case, fan.item), fan.rating
        if not shaft:
            continue
        permitted = permitted_shafts(rating)
        if shaft in permitted:
            continue
        bearing = f" has a {rating.bearing} bearing and" if rating.bearing else ""
        warm = number_at(solution.fans, fan.path, "air_temperature")
        heat = " in air of {warm}" if given(warm) else ""
        yield say(
            fan.path, "{subject} stands with its shaft {shaft}" + heat + "; {type}{bearing} is "
            "for {permitted} shafts only", shaft=(None, shaft), warm=(q.TEMPERATURE, warm),
            type=(None, rating.path), bearing=(None, bearing),
            permitted=(None, listed(permitted)),
        )  # fmt: skip


def permitted_shafts(rating: FanType) -> tuple[str, ...]:
    """How the shaft of a type may stand: its list, or what its bearing permits."""
    return rating.shaft or (("horizontal",) if rating.bearing == "sleeve" else SHAFTS)


def shaft_of(case: Enclosure, fan: Fan) -> str:
    """`horizontal`, `vertical`; empty where the case does not say."""
    body = case.body
    turned = body.view == "side" and body.up in ("left", "right")
    if not fan.direction or body.view == "plan" or turned:
        return ""
    return "vertical" if fan.direction in PARALLEL[body.up] else "horizontal"


@rule(
    name="fan-air-range",
    severity="warning",
    title="a fan's air is colder or hotter than its data sheet allows",
    cause="Lubricant, plastics and electronics of a fan are made for a range of air temperatures. "
    "Beyond it life figures do not hold, and cold grease may keep it from starting.",
    try_="Let the fan blow in instead of out, move it to cooler air, or take a type with a wider "
    "range.",
    thresholds="air temperature of a fan outside the air_range of its type",
    source="the data sheet",
)
def fan_air_range(solution: Solution) -> Iterator[Said]:
    """Fans in air they are not made for."""
    for fan in working_fans(solution):
        span = fan.rating.air_range
        warm = number_at(solution.fans, fan.path, "air_temperature")
        if span is None or not given(warm) or span[0] <= warm <= span[1]:
            continue
        side, bound = ("above", span[1]) if warm > span[1] else ("below", span[0])
        yield say(
            fan.path, "{subject} has air of {warm}, {away} {side} what {type} is made for "
            "({bound})",
            warm=(q.TEMPERATURE, warm), away=(q.DIFFERENCE, abs(warm - bound)), side=(None, side),
            type=(None, fan.rating.path), bound=(q.TEMPERATURE, bound),
        )  # fmt: skip


@rule(
    name="speed-below-minimum",
    severity="warning",
    title="a fan is asked for a speed it cannot turn at",
    cause="Below its lowest speed a fan holds that speed, or stops, or does not start, by its "
    "control electronics; above its highest it is driven past its data sheet. The result takes a "
    "given speed as it is asked for; a speed by temperature is held within the range.",
    try_='Set speed within speed_range, or state = "stopped" where the control switches off.',
    thresholds="speed ratio outside the speed_range of the type",
    source="the data sheet; behaviour below the lowest speed: specification of four-wire fans, as "
    f"trade notes tell it ({COMMON_PRACTICE})",
)
def speed_below_minimum(solution: Solution) -> Iterator[Said]:
    """Fans out of their range of speeds."""
    for fan in running_fans(solution):
        fed = solution.case.fed(fan.item)
        by_mains = fed.speed if fed.how == "frequency" and not given(fan.item.rotation) else 1.0
        span, ratio = fan.rating.speed_range, fan.speed / by_mains
        if span is not None and (held := _held(solution, fan, span)) is not None:
            yield held
            continue
        if span is None or span[0] - ROUND_OFF <= ratio <= span[1] + ROUND_OFF:
            continue
        low = ratio < span[0]
        yield say(
            fan.path, "{subject} turns at {ratio} of its rated speed, {side} the {bound} that "
            "{type} allows", ratio=(q.RATIO, ratio), side=(None, "below" if low else "above"),
            bound=(q.RATIO, span[0] if low else span[1]), type=(None, fan.rating.path),
        )  # fmt: skip


def _held(solution: Solution, fan: Working, span: tuple[float, float]) -> Said | None:
    """A speed by temperature that the range of the type holds."""
    follows, control = solution.followed(fan.path), fan.item.speed_control
    if follows is None:
        return None
    assert control is not None  # what it follows stands there
    asked = control.asked(follows.temperature)
    low = asked < span[0] - ROUND_OFF
    if not (low or asked > span[1] + ROUND_OFF):
        return None
    return say(
        fan.path, "{subject} is asked for {asked} of its rated speed by {by} at {warm}; it is held "
        "at {bound}, the {side} that {type} allows",
        "Let the points of speed_control end at the speeds of speed_range.",
        asked=(q.RATIO, asked), by=(None, follows.by), warm=(q.TEMPERATURE, follows.temperature),
        bound=(q.RATIO, span[0] if low else span[1]), type=(None, fan.rating.path),
        side=(None, "lowest" if low else "highest"),
    )  # fmt: skip


@rule(
    name="life-kinds-mixed",
    severity="warning",
    title="life figures of two kinds stand side by side",
    cause="L10 is when a tenth of the fans have failed, a mean is when about half or more have: "
    "for one and the same fan the mean is several times as long. They cannot be compared.",
    try_="Ask the maker for L10 of every type.",
    thresholds="running fans whose types give life both as L10 and as mean",
    source="definition of both figures; one maker takes 7 times L10 as the mean (trade note)",
)
def life_kinds_mixed(solution: Solution) -> Iterator[Said]:
    """Running fans by the kind of their life figure."""
    kinds: dict[str, list[Working]] = {}
    for fan in running_fans(solution):
        if kind := word_at(solution.fans, fan.path, "life_kind"):
            kinds.setdefault(kind, []).append(fan)
    if len(kinds) < 2:
        return
    named = {kind: listed(fan.path for fan in fans) for kind, fans in kinds.items()}
    yield say(
        kinds["mean"][0].path, "the life of {means} is a mean, that of {tenths} L10: they are not "
        "comparable", means=(None, named["mean"]), tenths=(None, named["L10"]),
    )  # fmt: skip


@rule(
    name="curve-total-pressure",
    severity="warning",
    title="a fan curve is total pressure",
    cause="Total pressure has the velocity pressure of the air that leaves in it. That is lost "
    "when the fan blows into a space, so the curve is made static by taking rho (Q/A)^2/2 off, "
    "with A the flow area.",
    try_="Use the static curve of the data sheet where there is one; check flow_area.",
    thresholds='curve_pressure = "total" of a type whose fan runs',
    source="ISO 5801: fan static pressure is fan pressure less the velocity pressure at the "
    f"outlet; the flow area as the outlet: {OUR_OWN}",
)
def curve_total_pressure(solution: Solution) -> Iterator[Said]:
    """Running fans with a total curve, with what is taken off where they work."""
    for fan in running_fans(solution):
        if fan.rating.curve_pressure != "total" or not given(fan.flow):
            continue
        velocity = fan.flow / fan.rating.flow_area
        lost = fan.density * velocity * velocity / 2
        yield say(
            fan.path, "{subject}: the curve of {type} is total pressure; {lost} at {flow} are "
            "taken off to make it static", type=(None, fan.rating.path), lost=(q.PRESSURE, lost),
            flow=(q.VOLUME_FLOW, fan.flow),
        )  # fmt: skip
