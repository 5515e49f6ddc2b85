"""Kinds of branches: their keys become the right laws, heat and states, alone and in a batch."""

from __future__ import annotations

from typing import Any

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flownet.columns import Inputs
from flownet.enclosure import enclosure as w
from flownet.enclosure.heat import SinkType
from flownet.equations import elements
from flownet.equations.laws import in_series
from flownet.physics import air as properties
from flownet.results.tables import STATES
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import Choice, roles
from tests.each import each, every
from tests.network.kind_samples import (
    ENDS,
    FAN_TYPE,
    HOLE,
    POINTS,
    SPARE,
    air,
    drop,
    fan,
    inputs,
    loss,
    made,
)
from tests.published import rows

# --- losses --------------------------------------------------------------------------------------


def test_opening_is_a_sharp_edged_hole_unless_told():
    """K = 1/C^2 on its area (definition), C = 0.61 by default; a loss is taken as it is."""
    assert loss(made(w.Opening(**ENDS, area=0.01))) == pytest.approx(2.687, abs=5e-4)
    assert loss(made(w.Opening(**ENDS, area=0.01, discharge_coefficient=0.5))) == pytest.approx(4.0)
    assert loss(made(w.Opening(**ENDS, area=0.01, loss=1.3))) == pytest.approx(1.3)


@pytest.mark.parametrize("row", rows("losses", "L3"), ids=str)
def test_perforated_plate(row):
    """Idelchik's thin plate with sharp-edged holes, on the gross area."""
    plates = [w.Vent(**ENDS, area=0.1, open_ratio=f) for f in row.given["open_ratio"]]
    row.check(loss=[loss(made(plate), 10.0) for plate in plates])


@pytest.mark.parametrize("row", rows("losses", "L5"), ids=str)
def test_perforated_plate_in_creeping_flow(row):
    """What the size of the holes adds is 30/(f^2 Re) of rho v^2/2, Re in the holes."""
    found = []
    for ratio, reynolds in zip(*row.given.values(), strict=True):
        keys = {**ENDS, "area": 0.1, "open_ratio": ratio}
        coarse, fine = made(w.Vent(**keys)), made(w.Vent(**keys, hole=1e-3))
        velocity = ratio * reynolds * 1.81e-5 / (1.2 * 1e-3)
        flow = 1.2 * velocity * 0.1
        added = drop(fine, flow) - drop(coarse, flow)
        found.append((added / (1.2 * velocity**2 / 2)).item())
    np.testing.assert_allclose(found, row.expected["loss"], rtol=1e-9)


def test_vent_constructions():
    """Round edges and wire screens as in fluids.filters; a given loss goes before the ratio."""
    grille = w.Vent(**ENDS, area=0.1, open_ratio=0.4, construction="round-edged")
    assert loss(made(grille)) == pytest.approx(fluids.filters.round_edge_grill(0.4), rel=1e-6)
    screen = {**ENDS, "area": 0.1, "open_ratio": 0.5, "construction": "wire screen"}
    wanted = fluids.filters.round_edge_screen(0.5, 400.0)
    assert loss(made(w.Vent(**screen))) == pytest.approx(wanted, rel=1e-6)
    fine = made(w.Vent(**screen, hole=1e-3))
    velocity = 0.5 * 100.0 * 1.81e-5 / (1.2 * 1e-3)
    wanted = fluids.filters.round_edge_screen(0.5, 100.0)
    assert loss(fine, 1.2 * velocity * 0.1) == pytest.approx(wanted, rel=1e-3)
    assert loss(made(w.Vent(**ENDS, area=0.1, loss=2.5))) == pytest.approx(2.5, rel=1e-6)
    coefficient = w.Vent(**ENDS, area=0.1, discharge_coefficient=0.4)
    assert loss(made(coefficient)) == pytest.approx(6.25, rel=1e-6)


def test_filter_passes_its_measured_points():
    """Three points that a v + b v^2 meets exactly (30 and 12), in their air; fouling multiplies."""
    density = properties.density(293.15, 101325.0)
    viscosity = properties.viscosity(293.15)
    here = air(density=density, viscosity=viscosity)
    for fouling in (1.0, 2.0):
        mat = made(w.Filter(**ENDS, area=0.045, velocity_drop=POINTS, fouling=fouling))
        for velocity, measured in POINTS:
            found = drop(mat, float(density * velocity * 0.045), here).item()
            assert found == pytest.approx(fouling * measured, rel=1e-5)


def test_filter_of_known_loss_is_that_loss_on_its_area():
    """K rho v^2/2 on the face velocity, times fouling; a vent of the same numbers is the same."""
    for fouling in (1.0, 3.0):
        mat = made(w.Filter(**ENDS, area=0.045, loss=20.0, fouling=fouling))
        grille = made(w.Vent(**ENDS, area=0.045, loss=20.0, fouling=fouling))
        for flow in (0.05, 1e-6, -0.01):
            assert drop(mat, flow).item() == pytest.approx(drop(grille, flow).item(), rel=1e-14)
        assert loss(mat) == pytest.approx(20.0 * fouling, rel=1e-6)
    assert loss(made(w.Filter(**ENDS, area=0.045, loss=20.0, state="removed"))) == pytest.approx(
        2.687, abs=5e-4
    )


@every(
    "keys",
    [
        {"loss": 2.5}, {"discharge_coefficient": 0.5}, {"open_ratio": 0.4},
        {"open_ratio": 0.4, "hole": 2e-3},
        {"open_ratio": 0.4, "construction": "round-edged"},
        {"open_ratio": 0.5, "construction": "wire screen", "hole": 1e-3},
    ],
)  # fmt: skip
def test_fouling_multiplies_the_drop_of_a_vent_at_every_flow(keys):
    clean, dirty = (made(w.Vent(**ENDS, area=0.1, fouling=f, **keys)) for f in (1.0, 2.5))
    for flow in (0.3, 1e-3, 1e-6, -1e-3):
        wanted = 2.5 * drop(clean, flow).item()
        assert drop(dirty, flow).item() == pytest.approx(wanted, rel=1e-13)


def test_removed_filter_is_an_opening_of_its_area():
    """The frame stays: K = 1/0.61^2."""
    frame = made(w.Filter(**ENDS, area=0.045, velocity_drop=POINTS, state="removed"))
    assert loss(frame) == pytest.approx(2.687, abs=5e-4)


@pytest.mark.parametrize("row", rows("losses", "L3", "L13"), ids=str)
def test_baffle_is_a_plate_across_its_passage(row):
    """A handbook's square-edged plate, on the velocity in the whole passage."""
    found = [
        loss(made(w.Baffle(**ENDS, open_area=0.2 * share, cross_section=0.2)), 100.0)
        for share in row.given["open_ratio"]
    ]
    row.check(loss=found)


def test_baffle_in_a_wall_wide_open_or_taken_out():
    """A hole in a large wall has C = 0.61 on itself; what is open next to nothing, 0.02 at least
    (assumption)."""
    keys = {**ENDS, "cross_section": 0.2}
    for more, area, state, wanted in (
        ({"open_area": 0.01, "plate": "wall"}, 0.01, "fitted", 2.687),
        ({"open_area": 0.2}, 0.2, "fitted", 0.02),
        ({"open_area": 0.199}, 0.2, "fitted", 0.02),
        ({"open_area": 0.01, "present": False}, 0.2, "removed", 0.02),
        ({"open_area": 0.01, "present": False, "plate": "wall"}, 0.2, "removed", 0.02),
    ):
        plate = made(w.Baffle(**keys, **more))
        assert (plate.area.item(), STATES[plate.state.item()]) == (area, state)
        assert loss(plate, 10.0) == pytest.approx(wanted, abs=1e-3)


def test_a_small_hole_in_a_passage_is_nearly_one_in_a_large_wall():
    """Nearly closed the plate's K on the hole is (1 + 0.707)^2 against 1/0.61^2, from creeping to
    fast: both turn linear at one Reynolds number of the hole, and it is the one that is told."""
    keys = {**ENDS, "open_area": 2e-5, "cross_section": 0.2}
    across, wall = made(w.Baffle(**keys)), made(w.Baffle(**keys, plate="wall"))
    wanted = (1 + 0.707) ** 2 * 0.61**2
    for flow in (1e-9, 1e-7, 1e-5, 1e-3):
        ratio = drop(across, flow).item() / drop(wall, flow).item()
        assert ratio == pytest.approx(wanted, rel=1e-3)
    told = [(x.diameter / x.area).item() for x in (across, wall)]
    assert told[0] == pytest.approx(told[1], rel=1e-12)


def test_leak_has_no_area():
    """It passes its point; area and diameter are unknown."""
    seal = made(w.Leak(**ENDS, flow_at=("2 m3/h", "10 Pa")))
    assert drop(seal, 1.2 * 2 / 3600).item() == pytest.approx(10.0, rel=1e-5)
    assert np.isnan(seal.area).all()
    assert np.isnan(seal.diameter).all()


# --- channels ------------------------------------------------------------------------------------


def test_slot_adds_entrance_and_exit():
    """Short and fast, with half its front open: friction of a smooth channel, and the losses
    0.5 (1 - s) and (1 - s)^2 on the velocity in a channel, of both of its two."""
    size = {"gap": 0.015, "width": 0.22, "length": 0.16}
    closed = made(w.Slot(**ENDS, **size, count=2, free_ratio=0.5))
    open_ = made(w.Slot(**ENDS, **size, count=2, free_ratio=1.0))
    assert closed.area.item() == pytest.approx(0.0033)
    assert closed.diameter.item() == pytest.approx(2 * 0.0033 / 0.235)
    assert loss(closed) - loss(open_) == pytest.approx(0.25 + 0.25, rel=1e-6)


def test_a_long_slow_slot_is_a_gap_between_plates():
    """12 mu v L / (gap^2 (1 - 0.63 gap/width)): laminar flow in a flat rectangle, from memory."""
    card = made(w.Slot(**ENDS, gap=0.002, width=0.2, length=4.0, count=3, free_ratio=1.0))
    velocity = 1e-4 / (1.2 * 0.002 * 0.2)
    flat = 12 * air().viscosity.item() * velocity * 4.0 / 0.002**2 / (1 - 0.63 * 0.01)
    assert drop(card, 3e-4).item() == pytest.approx(flat, rel=3e-3)


def test_a_loss_that_a_change_gives_stands_before_measured_points():
    """As it is of a card that never was measured."""
    card = {**ENDS, "name": "x", "area": 4e-3}
    measured = inputs(w.Slot(**card, velocity_drop=POINTS))
    changed = elements.element(measured.changed({"slot.x.loss": 5.0}), "slot")
    for flow in (1e-3, 0.02):
        assert drop(changed, flow) == pytest.approx(drop(made(w.Slot(**card, loss=5.0)), flow))


def test_sides_of_a_slot_may_be_exchanged():
    """Gap and width are two sides of one rectangle."""
    one = made(w.Slot(**ENDS, gap=0.015, width=0.22, length=0.16))
    other = made(w.Slot(**ENDS, gap=0.22, width=0.015, length=0.16))
    np.testing.assert_array_equal(drop(one, 0.01), drop(other, 0.01))


def test_measured_cards():
    """A loss on the area of one channel; or measured points, one of which is met exactly."""
    card = made(w.Slot(**ENDS, area=4e-3, loss=7.0, count=3))
    assert loss(card) == pytest.approx(7.0, rel=1e-5)
    density = properties.density(293.15, 101325.0)
    card = made(w.Slot(**ENDS, area=4e-3, velocity_drop=[(2.0, 10.0)], count=3))
    found = drop(card, float(density * 2.0 * 4e-3 * 3), air(density=density)).item()
    assert found == pytest.approx(10.0, rel=1e-4)


@every("state", ["filler", "empty"])
def test_what_stands_in_for_a_card(state):
    """Each channel is an opening of the given area and loss, without heat."""
    keys = {**ENDS, "gap": 0.015, "width": 0.22, "length": 0.16, "count": 4, "power": 16.0}
    element = made(w.Slot(**keys, state=state, **{state: HOLE}))
    assert loss(element) == pytest.approx(6.0, rel=1e-5)
    assert element.area.item() == 2e-3
    assert element.heat.item() == 0.0
    assert STATES[element.state.item()] == state


def test_only_a_fitted_slot_has_power():
    """Power times load; none when blanked."""
    keys = {**ENDS, "gap": 0.015, "width": 0.22, "length": 0.16, "power": 16.0, "load": 0.5}
    assert made(w.Slot(**keys)).heat.item() == 8.0
    blanked = made(w.Slot(**keys, state="blanked"))
    assert blanked.heat.item() == 0.0
    assert blanked.closed.item()


@pytest.mark.parametrize("roughness", [0.0, 1.5e-4, 2e-3])
def test_duct_is_friction_and_losses(roughness):
    """f L/D + loss + bends with fluids' friction factor and bends; a square one by D_h. The bends
    of a rough hose lose more."""
    bends = [(90.0, 1.5), (45.0, 2.0)]
    keys = {**ENDS, "length": 3.0, "roughness": roughness, "bends": bends}
    for size, diameter in (({"diameter": 0.1}, 0.1), ({"section": (0.1, 0.1)}, 0.1)):
        duct = made(w.Duct(**keys, **size))
        assert duct.diameter.item() == pytest.approx(diameter)
        flow = 0.5
        reynolds = flow / duct.area.item() * diameter / 1.81e-5
        friction = fluids.friction.Churchill_1977(reynolds, roughness / diameter)
        wanted = friction * 3.0 / diameter + 1.5
        for angle, ratio in bends:
            wanted += fluids.bend_rounded(
                Di=diameter, angle=angle, rc=ratio * diameter, fd=friction, method="Rennels"
            )
        assert loss(duct, flow) == pytest.approx(wanted, rel=1e-4)


def test_slow_rectangular_duct():
    """Poiseuille flow in a square: Darcy f Re = 4 * 14.227 (Shah and London, from memory)."""
    duct = made(w.Duct(**ENDS, length=1e6, section=(0.1, 0.1), loss=0.0))
    velocity = 10.0 * 1.81e-5 / (1.2 * 0.1)
    wanted = 4 * 14.227 / 10.0 * 1e6 / 0.1 * 1.2 * velocity**2 / 2
    assert drop(duct, 1.2 * velocity * 0.01).item() == pytest.approx(wanted, rel=1e-3)


def test_losses_of_a_flat_duct_turn_linear_by_its_hydraulic_diameter():
    """At rest K adds the slope K rho v_t / 2 / (rho A), v_t = 30 mu / (rho D_h), by hand."""
    keys = {**ENDS, "length": 1.0, "section": (0.01, 1.0)}
    slopes = [
        in_series(made(w.Duct(**keys, loss=k)).laws, np.zeros((1, 1)), air())[1] for k in (1.0, 3.0)
    ]
    wanted = 2.0 / 2 * 30 * 1.81e-5 / (0.02 / 1.01) / (1.2 * 0.01)
    assert (slopes[1] - slopes[0]).item() == pytest.approx(wanted, rel=1e-9)


def test_duct_wall():
    """U times the inner surface, round or rectangular; nothing without a wall of its own."""
    wall = {"wall_temperature": 333.15, "u_value": 8.0}
    pipe = made(w.Duct(**ENDS, length=2.0, diameter=0.1, **wall))
    assert pipe.wall_conductance.item() == pytest.approx(8.0 * np.pi * 0.1 * 2.0)
    assert pipe.wall_temperature.item() == 333.15
    channel = made(w.Duct(**ENDS, length=2.0, section=(0.1, 0.3), **wall))
    assert channel.wall_conductance.item() == pytest.approx(8.0 * 0.8 * 2.0)
    plain = made(w.Duct(**ENDS, length=2.0, diameter=0.1))
    assert plain.wall_conductance.item() == 0.0
    assert np.isfinite(plain.wall_temperature).all()


@each({"round": ({"diameter": 0.08}, np.pi * 0.04**2, np.pi * 0.08),
       "rectangle": ({"section": (0.05, 0.2)}, 0.01, 0.5)}, "keys area around")  # fmt: skip
def test_sizes_of_a_duct(keys, area, around):
    """Hydraulic diameter 4 A / U; heat by the surface that is all around it."""
    duct = made(w.Duct(**ENDS, **keys, length=3.0, loss=0.0, u_value=6.0, wall_temperature=330.0))
    assert duct.area.item() == pytest.approx(area)
    assert duct.diameter.item() == pytest.approx(4 * area / around)
    assert duct.wall_conductance.item() == pytest.approx(6.0 * around * 3.0)
    assert duct.wall_temperature.item() == 330.0
    bare = made(w.Duct(**ENDS, **keys, length=3.0))
    assert (bare.wall_conductance.item(), bare.heat.item()) == (0.0, 0.0)


def test_a_bend_belongs_to_its_duct_alone():
    """A straight duct beside a bent one keeps its own loss."""
    keys = {**ENDS, "length": 1.0, "diameter": 0.1}
    bent, straight = w.Duct(name="b", **keys, bends=[(90.0, 1.0)]), w.Duct(name="s", **keys)
    both, alone = made(bent, straight), made(straight)
    np.testing.assert_array_equal(drop(both, 0.1)[1], drop(alone, 0.1)[0])
    assert drop(both, 0.1)[0] > drop(both, 0.1)[1]


# --- batches -------------------------------------------------------------------------------------

SINKS = (
    SinkType(name="comb", base=(0.08, 0.1), fins=18, fin=(0.03, 1.2e-3), material="aluminium"),
    SinkType(name="fine", base=(0.05, 0.1), fins=20, fin=(0.02, 1e-3), conductivity=200.0),
)  # fmt: skip
THINGS: dict[str, tuple[Any, ...]] = {
    "opening": (
        w.Opening(name="x", **ENDS, area=0.01),
        w.Opening(name="y", **ENDS, area=0.4, height=1.0),
    ),
    "vent": (
        w.Vent(name="x", **ENDS, area=0.01, loss=2.5),
        w.Vent(name="y", **ENDS, area=0.01, open_ratio=0.4, hole=2e-3),
        w.Vent(name="z", **ENDS, area=0.01, open_ratio=0.4, hole=1e-4, construction="wire screen"),
        w.Vent(name="u", **ENDS, area=0.01, discharge_coefficient=0.4),
        w.Vent(name="t", **ENDS, area=0.4, loss=3.0, height=0.5),
    ),
    "filter": (w.Filter(name="x", **ENDS, area=0.045, velocity_drop=POINTS),),
    "baffle": (w.Baffle(name="x", **ENDS, open_area=0.01, cross_section=0.2),),
    "slot": (
        w.Slot(name="x", **ENDS, gap=0.01, width=0.2, length=0.1, filler=HOLE, empty=HOLE,
               power=9.0, count=2),
        w.Slot(name="y", **ENDS, area=4e-3, velocity_drop=[(2.0, 10.0)], empty=HOLE, count=3),
        w.Slot(name="z", **ENDS, area=4e-3, loss=3.0, filler=HOLE, count=4),
        w.Slot(name="u", **ENDS, sink="comb", filler=HOLE, count=2), *SINKS,
    ),
    "duct": (
        w.Duct(name="x", **ENDS, length=1.0, diameter=0.1, bends=[(90.0, 1.0)]),
        w.Duct(name="y", **ENDS, length=1.0, section=(0.1, 0.2)),
        w.Duct(name="z", **ENDS, length=0.5, section=(0.1, 0.2), sink="comb"), *SINKS,
    ),
    "leak": (w.Leak(name="x", **ENDS, flow_at=(1e-3, 10.0)),),
    "fan": (fan(name="x"), fan(name="y", type="spare"), FAN_TYPE, SPARE),
}  # fmt: skip
CHANGES: dict[str, dict[str, list[Any]]] = {  # one variant at a time, and all of them in one batch
    "opening.x": {"loss": [1.0, 2.0], "discharge_coefficient": [0.5], "state": ["blanked"]},
    "opening.y": {"height": [2.0], "loss": [7.0], "state": ["blanked"]},
    "vent.x": {"open_ratio": [0.4], "discharge_coefficient": [0.5], "loss": [7.0]},
    "vent.y": {
        "construction": ["wire screen", "round-edged"], "loss": [7.0], "hole": [1e-3],
        "fouling": [3.0],
    },
    "filter.x": {"state": ["removed", "blanked"], "fouling": [2.0], "loss": [20.0]},
    "baffle.x": {"present": [False], "open_area": [0.05], "plate": ["wall"]},
    "slot.x": {"state": ["filler", "empty", "blanked"], "gap": [0.02], "power": [5.0]},
    "slot.y": {"state": ["empty"], "loss": [2.0], "count": [5.0]},
    "slot.z": {"state": ["filler"], "area": [1e-3], "load": [0.0]},
    "slot.u": {"sink": ["fine"], "state": ["filler"], "count": [3.0]},
    "duct.z": {"sink": ["fine", None], "section.1": [0.3]},
    "duct.x": {"sink": ["comb"], "length": [9.0], "roughness": [1e-3]},
    "duct.y": {"section.0": [0.05], "state": ["blanked"]},
    "leak.x": {"exponent": [0.5, 1.0]},
    "fan.x": {
        "state": ["stopped", "freewheeling", "blanked"], "mounted": ["reversed"], "type": ["spare"],
        "speed": [0.0, 0.5], "rotation": [20.0], "pressure_factor": [0.9],
    },
}  # fmt: skip


@every("path", CHANGES)
def test_variants_of_a_batch_are_those_alone(path):
    """Whatever varies beside it, no column of a law that is not picked leaks into a variant."""
    kind, _, _ = path.partition(".")
    base = inputs(*THINGS[kind])
    singles = [{f"{path}.{k}": v} for k, values in CHANGES[path].items() for v in values]
    alone = [elements.element(base.changed(change), kind) for change in [{}, *singles]]
    columns = [base.changed(change).columns[kind] for change in [{}, *singles]]
    joined = {key: np.concatenate([c[key] for c in columns], axis=1) for key in columns[0]}
    every = Inputs(base.enclosure, {**base.columns, kind: joined}, base.tables, len(alone))
    batch = elements.element(every, kind)
    for flow in (0.01, -1e-4, 0.0):
        together = in_series(batch.laws, np.full((len(batch.area), 1), flow), air(len(alone)))
        for variant, one in enumerate(alone):
            apart = in_series(one.laws, np.full((len(one.area), 1), flow), air())
            for both, single in zip(together, apart, strict=True):
                np.testing.assert_allclose(both[:, variant], single[:, 0], rtol=1e-13, atol=1e-16)
    for name in set(elements.Element._fields) - {"laws", "fan"}:
        for variant, one in enumerate(alone):
            whole, single = getattr(batch, name), getattr(one, name)
            wide = np.broadcast_to(whole, (len(single), len(alone)))
            np.testing.assert_array_equal(wide[:, variant], single[:, 0], err_msg=name)


BESIDE: dict[str, tuple[Any, ...]] = {
    "opening": (w.Opening(name="l", **ENDS, area=0.02, loss=4.0),
                w.Opening(name="b", **ENDS, area=0.02, height=0.5, state="blanked")),
    "vent": (w.Vent(name="r", **ENDS, area=0.01, open_ratio=0.6, construction="round-edged"),
             w.Vent(name="s", **ENDS, area=0.01, open_ratio=0.5, construction="wire screen")),
    "filter": (w.Filter(name="l", **ENDS, area=0.02, loss=30.0, fouling=2.0),
               w.Filter(name="r", **ENDS, area=0.03, loss=30.0, state="removed")),
    "baffle": (w.Baffle(name="w", **ENDS, open_area=0.01, cross_section=0.2, plate="wall"),
               w.Baffle(name="n", **ENDS, open_area=0.01, cross_section=0.1, present=False)),
    "slot": (w.Slot(name="e", **ENDS, gap=0.02, width=0.1, length=0.1, empty=HOLE, state="empty"),
             w.Slot(name="l", **ENDS, area=3e-3, loss=5.0, power=4.0, load=0.5)),
    "duct": (w.Duct(name="w", **ENDS, length=2.0, diameter=0.1, u_value=5.0,
                    wall_temperature=350.0, roughness=1e-4),
             w.Duct(name="h", **ENDS, length=2.0, section=(0.3, 0.1), u_value=2.0,
                    wall_temperature=330.0, state="blanked")),
    "leak": (w.Leak(name="y", **ENDS, flow_at=(2e-3, 20.0), exponent=1.0),),
    "fan": (fan(name="g", guard={"loss": 0.7}, shutter={"open_loss": 0.5, "closed_leak": 0.02}),
            fan(name="c", clearance={"inlet": 0.02, "outlet": 0.05}, mounted="reversed"),
            fan(name="o", clearance={"opening": 0.01, "clutter": 0.3}, speed=0.6),
            fan(name="n", rotation=30.0, pressure_factor=0.8, flow_factor=1.2),
            fan(name="s", state="stopped", type="spare",
                shutter={"open_loss": 2.0, "closed_leak": 0.1}),
            fan(name="w", state="freewheeling", installation="off", clearance={"inlet": 0.02})),
}  # fmt: skip


@every("kind", elements.ELEMENTS)
def test_things_beside_others_are_those_alone(kind):
    """Whatever stands in other rows of the same columns."""
    types = [each for each in THINGS[kind] if isinstance(each, w.FanType | SinkType)]
    things = [each for each in (*THINGS[kind], *BESIDE[kind]) if each not in types]
    whole = elements.element(inputs(*things, *types), kind)
    for row, item in enumerate(things):
        one = elements.element(inputs(item, *types), kind)
        for flow in (0.02, 1e-3, -1e-4, -0.03):
            together, apart = (in_series(each.laws, np.full((len(each.area), 1), flow), air())
                               for each in (whole, one))  # fmt: skip
            for all_, single in zip(together, apart, strict=True):
                np.testing.assert_allclose(all_[row], single[0], rtol=1e-13, atol=1e-16)
        for name in set(elements.Element._fields) - {"laws", "fan"}:
            beside, alone = getattr(whole, name)[row], getattr(one, name)[0]
            np.testing.assert_array_equal(beside, alone, err_msg=f"{item.name}: {name}")


@every("kind", elements.ELEMENTS)
def test_every_declared_state_is_one_of_the_results(kind):
    """States by their words; blanked ones are closed, others open."""
    role = roles(KINDS[kind]).get("state")
    if role is None:
        assert kind == "baffle"
        return
    assert isinstance(role, Choice)
    for word in role.words:
        changed = inputs(*THINGS[kind]).changed({f"{kind}.x.state": word})
        element = elements.element(changed, kind)
        assert STATES[element.state[0, 0]] == word
        assert element.closed[0, 0] == (word == "blanked")


@every(("kind", "key", "state"), [
    ("vent", "loss", "open"), ("slot", "gap", "fitted"), ("duct", "diameter", "open"),
])  # fmt: skip
def test_what_a_law_needs_is_asked_for_unless_it_is_shut(kind, key, state):
    """No air passes a blanked way, whatever its law would be."""
    bare = inputs(*THINGS[kind]).changed({f"{kind}.x.{key}": None})
    with pytest.raises(CaseError, match=rf"{kind}\.x: its pressure drop needs a value"):
        elements.element(bare.changed({f"{kind}.x.state": state}), kind)
    assert elements.element(bare.changed({f"{kind}.x.state": "blanked"}), kind).closed[0, 0]


@every("kind", elements.ELEMENTS)
def test_arrays_of_an_element_have_all_rows(kind):
    """(branches, variants or 1), so that kinds can be joined below each other."""
    element = elements.element(inputs(*THINGS[kind]), kind)
    count = sum(kind == item.KIND for item in THINGS[kind])
    for name in set(elements.Element._fields) - {"laws", "fan"}:
        assert getattr(element, name).shape == (count, 1), name


@every("kind", elements.ELEMENTS)
def test_results_can_be_derived_by_every_number(kind):
    """A complex step in any number that is given goes through to the drop."""
    base = inputs(*THINGS[kind])
    for path in base.numbers():
        if not path.startswith((f"{kind}.", "fan_type.", "sink_type.")):
            continue
        value = base.row(path)[0]
        if value == 0 or path.endswith((".at.0", ".at.1")):
            continue
        found = []
        for changed in (value + 1e-30j, value * (1 + 1e-7), value * (1 - 1e-7)):
            given = np.array([changed], complex)  # complex ones pass: a count may be no whole one
            element = elements.element(base.changed({path: given}), kind)
            found.append(drop(element, 0.0213)[:, 0])
        wanted = (found[1] - found[2]).real / (2e-7 * value)
        scale = 1e-8 * np.abs(found[1]) / value
        np.testing.assert_allclose(found[0].imag / 1e-30, wanted, rtol=1e-5, atol=scale.max(),
                                   err_msg=path)  # fmt: skip


@given(
    state=st.sampled_from(["fitted", "filler", "empty", "blanked"]),
    gap=st.floats(1e-3, 0.1), width=st.floats(1e-3, 1.0), length=st.floats(1e-3, 3.0),
    count=st.integers(1, 40), free=st.floats(0.0, 1.0), flow=st.floats(-1.0, 1.0),
)  # fmt: skip
@settings(max_examples=40, deadline=None, derandomize=True)
def test_any_slot_resists(state, gap, width, length, count, free, flow):
    """Against the flow, rising with it, in every state and size."""
    element = made(
        w.Slot(**ENDS, gap=gap, width=width, length=length, count=count, free_ratio=free,
               state=state, filler=HOLE, empty=HOLE)
    )  # fmt: skip
    found, slope = in_series(element.laws, np.full((1, 1), flow), air())
    assert found.item() * flow >= 0
    assert slope.item() > 0


@every(("things", "change", "match"), [
    ("slot", {"slot.y.state": "filler"}, r"slot\.y: its pressure drop.*filler"),
    ("slot", {"slot.z.gap": 0.01}, r"slot\.z: its pressure drop.*width"),
    ("slot", {"slot.x.area": 1e-3}, r"slot\.x: its pressure drop.*velocity_drop"),
    ("fan", {"fan.x.type": "spare", "fan.x.rotation": 10.0}, r"fan\.x: .*rated_speed"),
])  # fmt: skip
def test_a_missing_value_is_named(things, change, match):
    """A change that asks for a value nobody gave does not solve as something else."""
    with pytest.raises(CaseError, match=match):
        elements.element(inputs(*THINGS[things]).changed(change), things)
