"""Random enclosures for round trips, drawn from what the keys declare. All data are invented."""

from __future__ import annotations

import math
import string
from collections.abc import Callable, Mapping
from typing import Any

from hypothesis import strategies as st

from flownet.enclosure import checks
from flownet.enclosure.enclosure import Enclosure
from flownet.schema import quantities as q
from flownet.schema.component import KINDS, excluded
from flownet.schema.errors import CaseError
from flownet.schema.fields import Choice, Group, Number, Numbers, Role, Text, attribute, keys, roles

Draw = Callable[[st.SearchStrategy[Any]], Any]
LETTERS = string.ascii_letters + string.digits + "-_"
WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
PLAIN = st.recursive(
    st.booleans() | st.integers(-(2**60), 2**60) | st.floats(allow_nan=False) | WORDS | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
    max_leaves=5,
)
# What each kind must have, apart from its ends; every other key is drawn.
LEAST: Mapping[str, Mapping[str, Any]] = {
    "opening": {"area": 0.01}, "vent": {"area": 0.01, "loss": 2.0},
    "filter": {"area": 0.01, "velocity_drop": ((0.5, 18.0), (1.1, 42.3))},
    "baffle": {"open_area": 0.01, "cross_section": 0.3},
    "slot": {"gap": 0.015, "width": 0.2, "length": 0.16},
    "duct": {"length": 1.5, "diameter": 0.08}, "leak": {"flow_at": (0.001, 10.0)},
    "fan": {"type": "t0"}, "wall": {"u_value": 5.0, "area": 1.1},
}  # fmt: skip
ELSEWHERE = ("resistance_law", "layers")  # they need a stream; an outline in a view with heights
CURVE = ((0.0, 80.0), (0.0123, 50.7), (0.03, 0.0))


def names() -> st.SearchStrategy[str]:
    """Names that a case file may use, and that no key has."""
    taken = {key for cls in KINDS.values() for key in keys(cls)}
    text = st.text(LETTERS, min_size=1, max_size=8)
    return text.filter(lambda name: not checks.name_fault("", name) and name not in taken)


def number(role: Number) -> st.SearchStrategy[float]:
    """A number within its declared range; speeds as whole rpm, the one unit that has no SI name."""
    low = -1e3 if role.low == -math.inf else max(role.low, 1e-9 if role.low > 0 else role.low)
    high = min(role.high, 1e6)
    if role.quantity is q.SPEED:
        return st.integers(1, 20_000).map(lambda rpm: rpm / 60)
    if role.quantity is q.COUNT:
        return st.integers(int(low), int(min(high, 100))).map(float)
    return st.floats(low, high)


def value(role: Role) -> st.SearchStrategy[Any] | None:
    """Values of a key by its role; None where only a sound combination will do."""
    if isinstance(role, Number):
        return number(role)
    if isinstance(role, Numbers):
        one = number(Number(role.quantity, role.low, role.high))
        return st.tuples(*[one] * role.count)
    if isinstance(role, Choice):
        return st.sampled_from(role.words)
    if isinstance(role, Text) and role.free:
        return st.dictionaries(WORDS, PLAIN, max_size=3)
    if isinstance(role, Group):
        inner = {attribute(name): value(key.role) for name, key in keys(role.cls).items()}
        if None not in inner.values():
            return st.builds(role.cls, **inner)  # type: ignore[arg-type]  # none of them is None
    return None


def thing(draw: Draw, kind: str, name: str, given: Mapping[str, Any]) -> Any:
    """A thing with its least keys and some of the others, without those that do not fit."""
    cls = KINDS[kind]
    chosen = dict(LEAST.get(kind, {})) | dict(given)
    for key, declared in keys(cls).items():
        drawn = WORDS if key in ("tag", "note", "origin", "basis") else value(declared.role)
        if drawn is None or key in (*chosen, *ELSEWHERE) or not draw(st.booleans()):
            continue
        more = chosen | {key: draw(drawn)}
        if not list(excluded(cls, set(more))) and _sound(cls, name, more):
            chosen = more
    return cls(name=name, **{attribute(key): item for key, item in chosen.items()})


def _sound(cls: Any, name: str, values: Mapping[str, Any]) -> bool:
    try:
        cls(name=name, **{attribute(key): item for key, item in values.items()})
    except CaseError:
        return False
    return True


ROW = {"curve": CURVE, "flow_area": 0.009, "rated_speed": 45.0, "freewheel_loss": 4.0}


@st.composite
def enclosures(draw: Draw) -> Enclosure:
    """Enclosures of every kind of thing, with scenarios and variants."""
    spaces = draw(st.lists(names(), min_size=2, max_size=4, unique=True))
    items = [thing(draw, "compartment", name, {}) for name in spaces]
    items += [thing(draw, kind, "", {}) for kind in ("outside", "enclosure")]
    items.append(thing(draw, "limits", "", {"scenarios": ("base",)}))
    items.append(thing(draw, "fan_type", "t0", {**ROW, **rated(draw)}))
    if draw(st.booleans()):
        items.append(thing(draw, "outside", draw(names()), {}))
    for kind in LEAST:
        ends = {"from": spaces[0], "to": draw(st.sampled_from([*spaces[1:], "outside"]))}
        for name in draw(st.lists(names(), max_size=2, unique=True)):
            items.append(thing(draw, kind, name, ends))
    for name in draw(st.lists(names(), max_size=2, unique=True)):
        items.append(thing(draw, "part", name, {"in": draw(st.sampled_from(spaces))}))
    case = Enclosure.of(*[item for item in items if _stands(item)], title=draw(WORDS))
    changes = draw(st.dictionaries(names(), _changes(case), max_size=2))
    return Enclosure.of(
        *[item for named in case.things.values() for item in named.values()
          if ".rating." not in item.name],
        title=case.title, scenarios=changes, variants=changes,
        units=draw(st.sampled_from(["metric", "us"])),
    )  # fmt: skip


def rated(draw: Draw) -> dict[str, Any]:
    """Nothing, or a rating for another supply."""
    if draw(st.booleans()):
        return {}
    return {"rating": {"sixty": {"supply": "230 V 60 Hz", "power": draw(st.floats(0, 50))}}}


def _stands(item: Any) -> bool:
    """Leave out walls with sun between compartments, whose outlines have a test of their own,
    upright holes at a place, which may lie beyond an outline, and air below its dew point or its
    sky."""
    if item.KIND == "outside":
        warm = item.temperature
        return not (item.dew_point > warm or item.sky_temperature > warm)
    if item.KIND in ("opening", "vent") and item.height > 0:
        return item.at is None
    return not (item.KIND == "wall" and item.to != "outside" and (item.sun or item.solar >= 0))


def _changes(case: Enclosure) -> st.SearchStrategy[dict[str, Any]]:
    """Changes of numbers and words that are given, each within its range."""
    paths = {}
    for path in case.keys("*"):
        place = case.place(path)
        role = roles(KINDS[place.kind])[place.key]
        plain = isinstance(role, (Number, Choice)) and place.kind in ("compartment", "opening")
        fixed = place.key in ("discharge_coefficient", "layers") or "outline" in place.key
        if plain and not fixed:
            paths[path] = value(role)
    return st.fixed_dictionaries({}, optional=paths)
