"""Fans held against their own data sheets: shaft, air, speed, kinds of life and of pressure."""

from __future__ import annotations

from collections.abc import Iterator

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.findings.facts import number_at, running_fans, word_at, working_fans
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution
from flownet.schema.component import given

ROUND_OFF = 1e-9
SHAFTS = ("horizontal", "vertical")
PARALLEL = {  # which directions in the view are vertical, by the side that is up
    "top": ("up", "down"), "bottom": ("up", "down"), "left": ("left", "right"),
    "right": ("left", "right"), "front": ("front", "back"), "back": ("front", "back"),
}  # fmt: skip


@rule
def bearing_unsuited(solution: Solution) -> Iterator[Said]:
    """Fans that may not be mounted so."""
    for fan in working_fans(solution):
        shaft, rating = shaft_of(solution.case, fan.item), fan.rating
        permitted = permitted_shafts(rating)
        if shaft and shaft not in permitted:
            warm = number_at(solution.fans, fan.path, "air_temperature")
            yield say(
                fan.path, "stands", given(warm) and "warm", "type",
                bool(rating.bearing) and "bearing", "permitted", shaft=shaft, warm=warm,
                type=rating.path, bearing=rating.bearing, permitted=permitted,
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


@rule
def fan_air_range(solution: Solution) -> Iterator[Said]:
    """Fans in air they are not made for."""
    for fan in working_fans(solution):
        span = fan.rating.air_range
        warm = number_at(solution.fans, fan.path, "air_temperature")
        if span is None or not given(warm) or span[0] <= warm <= span[1]:
            continue
        side, bound = ("above", span[1]) if warm > span[1] else ("below", span[0])
        yield say(
            fan.path, warm=warm, away=abs(warm - bound), side=side, type=fan.rating.path,
            bound=bound,
        )  # fmt: skip


@rule
def speed_below_minimum(solution: Solution) -> Iterator[Said]:
    """Fans out of their range of speeds; first what a speed by temperature asks for."""
    for fan in running_fans(solution):
        fed, span = solution.case.fed(fan.item), fan.rating.speed_range
        if span is None:
            continue
        follows, control = solution.followed(fan.path), fan.item.speed_control
        if follows is not None and control is not None:
            asked = control.asked(follows.temperature)
            if side := _side(asked, span):
                yield say(
                    fan.path, "asked", hint="end-points", asked=asked, by=follows.by,
                    warm=follows.temperature, bound=span[side > 0], type=fan.rating.path,
                    end="highest" if side > 0 else "lowest",
                )  # fmt: skip
                continue
        by_mains = fed.speed if fed.how == "frequency" and not given(fan.item.rotation) else 1.0
        ratio = fan.speed / by_mains
        if side := _side(ratio, span):
            yield say(
                fan.path, ratio=ratio, side="above" if side > 0 else "below",
                bound=span[side > 0], type=fan.rating.path,
            )  # fmt: skip


def _side(speed: float, span: tuple[float, float]) -> int:
    """-1 below a range of speeds, 1 above it, 0 within."""
    return int(speed > span[1] + ROUND_OFF) - int(speed < span[0] - ROUND_OFF)


@rule
def life_kinds_mixed(solution: Solution) -> Iterator[Said]:
    """Running fans by the kind of their life figure."""
    kinds: dict[str, list[str]] = {}
    for fan in running_fans(solution):
        if kind := word_at(solution.fans, fan.path, "life_kind"):
            kinds.setdefault(kind, []).append(fan.path)
    if len(kinds) > 1:
        yield say(kinds["mean"][0], means=kinds["mean"], tenths=kinds["L10"])


@rule
def curve_total_pressure(solution: Solution) -> Iterator[Said]:
    """Running fans with a total curve, with what is taken off where they work."""
    for fan in running_fans(solution):
        if fan.rating.curve_pressure == "total" and given(fan.flow):
            yield say(fan.path, type=fan.rating.path, lost=fan.head, flow=fan.flow)
