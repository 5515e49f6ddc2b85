"""Random enclosures with random results, to see that no picture breaks; nothing here balances."""

from __future__ import annotations

from random import Random
from typing import Any

from flownet.enclosure.enclosure import (
    Body,
    Compartment,
    Enclosure,
    Exchange,
    Fan,
    Leak,
    Opening,
    Outside,
    Part,
    Slot,
    Vent,
    Wall,
)
from flownet.results.solution import Solution
from tests.pictures.sample import fan_type, invented

LETTERS = "abcdefghijklmnopqrstuvwxyzWM"


def word(random: Random) -> str:
    """A name of two to thirty letters."""
    return "".join(random.choice(LETTERS) for _ in range(random.choice((2, 4, 8, 30))))


def random_solution(seed: int) -> Solution:
    """An enclosure of one to nine compartments, with or without outlines and places."""
    random = Random(seed)
    count = random.randint(1, 9)
    rooms = [f"{word(random)}{k}" for k in range(count)]
    drawn = random.random() < 0.7
    outlines = _outlines(random, count) if drawn else [None] * count
    places = [*rooms, "outside", "outside", "outside.aisle"]
    things: list[Any] = [
        Body(size="1000 x 1000 x 400 mm", view=random.choice(["front", "side", "plan"])),
        Outside(temperature="30 degC"),
        Outside(name="aisle", temperature="33 degC"),
        fan_type(),
    ]
    for name, outline in zip(rooms, outlines, strict=True):
        limit = random.choice([{}, {"air_limit": "45 degC"}])
        things.append(Compartment(name=name, outline=outline, **limit))
    for k in range(random.randint(count, 4 * count)):
        things.append(_branch(random, k, random.choice(rooms), places, drawn))
    if count > 1:
        things.append(Exchange(name="x", between=(rooms[0], rooms[-1]), flow="3 m3/h"))
    things += [
        Wall(name=f"w{k}", from_=random.choice(rooms), to="outside", area="1 m2", u_value=5)
        for k in range(random.randint(0, 3))
    ]
    for k in range(random.randint(0, 3 * count)):
        at = _point(random) if drawn and random.random() < 0.6 else None
        things.append(
            Part(name=f"{word(random)}{k}", in_=random.choice(rooms), power="5 W", at=at,
                 limit="70 degC")
        )  # fmt: skip
    case = Enclosure.of(*things, title=f"Random {seed} (invented data)")
    flows = {
        path: random.choice([0.0, 1.0, -1.0]) * random.uniform(1, 90) for path in case.branches
    }
    return invented(
        case,
        {name: random.uniform(30, 60) for name in rooms},
        flows,
        {path: random.uniform(0, 60) for path in flows},
        {path: (20.0, "normal") for path in flows if path.startswith("fan.")},
        {name: random.uniform(40, 80) for name in case.parts},
    )


def _outlines(random: Random, count: int) -> list[tuple[float, float, float, float] | None]:
    """Cells of a grid of three by three, some joined to the right, a few left out."""
    cells = random.sample([(x, y) for x in range(3) for y in range(3)], count)
    found: list[tuple[float, float, float, float] | None] = []
    for x, y in cells:
        wide = random.choice([0.333, 0.333, 0.2])
        found.append(None if random.random() < 0.1 else (x / 3, y / 3, wide, 0.333))
    if all(outline is None for outline in found):
        found[0] = (0.0, 0.0, 1.0, 1.0)
    return found


def _point(random: Random) -> tuple[float, float]:
    return random.choice([0.0, 0.333, 0.666, 1.0, 0.5]), random.uniform(0.0, 1.0)


def _branch(random: Random, k: int, room: str, places: list[str], drawn: bool) -> Any:
    other = random.choice([place for place in places if place != room])
    from_, to = random.choice([(room, other), (other, room)])
    at = _point(random) if drawn and random.random() < 0.7 else None
    name = random.choice([f"{word(random)}-{k}", f"copy-{k}"])
    kind = random.choice([Opening, Vent, Fan, Leak, Slot])
    if kind is Fan:
        direction = random.choice([None, "up", "left", "front"])
        state = random.choice(["running", "running", "stopped", "blanked"])
        return Fan(name=name, from_=from_, to=to, type="axial", at=at, direction=direction,
                   state=state, mounted=random.choice(["forward", "reversed"]))  # fmt: skip
    if kind is Leak:
        return Leak(name=name, from_=from_, to=to, flow_at=["2 m3/h", "10 Pa"], at=at)
    if kind is Slot:
        return Slot(name=name, from_=from_, to=to, area="0.002 m2", loss=4, at=at, length="0.1 m",
                    direction=random.choice(["up", "right", "back"]))  # fmt: skip
    return kind(name=name, from_=from_, to=to, area="0.01 m2", loss=3.0, at=at)
