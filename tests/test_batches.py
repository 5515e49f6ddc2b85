"""Batches: whatever varies, in whatever form it is given, is what one enclosure a variant gives."""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest

import flownet
from flownet.schema.errors import CaseError
from flownet.schema.quantities import QUANTITIES
from flownet.solver import tolerances
from flownet.solving.solve import completed
from tests.each import every
from tests.every_kind import alternatives, everything
from tests.small_cabinet import CASE as SHELVES
from tests.test_readout import chain

CASE = everything()
TABLES = ("compartments", "branches", "fans", "parts", "stations", "walls", "exchanges")


def values(solution):
    """Every result by table, row and field."""
    found = {}
    for name in TABLES:
        table = getattr(solution, name)
        for row in table:
            for field in table.fields:
                found[name, row, field.name] = getattr(table[row], field.name)
    found |= {("total", name, ""): v for name, v in solution.totals_.items()}
    found |= {("site", name, ""): v for name, v in solution.site.items()}
    for item in solution.limits:
        found[item.limit, item.subject, ""] = item.margin
    return found


def sizes_of(every):
    """How large a result of each kind is anywhere: what its last digits are measured by."""
    found = {}
    for (table, _, field), value in every.items():
        if value is not None and not isinstance(value, str) and np.isfinite(value):
            found[table, field] = max(abs(value), found.get((table, field), 0.0))
    return found


def assert_same(batch, variant, alone):
    """One variant of a batch and a solution of its own, but for the last digits of an iteration."""
    one, other = values(batch.select(variant)), values(alone)
    sizes = sizes_of(other)
    assert one.keys() == other.keys()
    for key, value in one.items():
        wanted = other[key]
        if isinstance(value, str) or value is None:
            assert value == wanted, key
        elif key[2] != "density":  # of air that stands it is only reported
            near = sizes.get((key[0], key[2]), 1.0)  # air past parts is that of some branch
            of_air = sizes["branches", key[2]] if key[2] in ("velocity", "volume_flow") else near
            follows = 1e-3 if key[2] == "resistance" else 1e-6  # the velocity of nearly still air
            room = 1e-6 * max(near, of_air)
            assert value == pytest.approx(wanted, rel=follows, abs=room, nan_ok=True), key


# --- every key -----------------------------------------------------------------------------------


def first_of_each_key():
    """Another value at one thing of each kind and key, words before numbers."""
    found = {}
    for path, value, _ in sorted(alternatives(), key=lambda each: isinstance(each[1], float)):
        place = CASE.place(path)
        if (place.kind, place.key) != ("part", "sink"):  # takes back what gives its resistance
            found.setdefault((place.kind, place.key), (path, value))
    return found.values()


def test_every_key_varies_in_one_batch():
    """Words, names, tables and numbers of every kind: variant k has the k-th other value."""
    tried = list(first_of_each_key())
    assert len(tried) > 130
    changes = {}
    for k, (path, value) in enumerate(tried):
        column = np.empty(len(tried), object)
        column[:] = [CASE[path]] * len(tried)
        column[k] = value
        changes[path] = column
    batch = flownet.solve_many(CASE, changes)
    for k in range(0, len(tried), 8):  # that all are columns is shown in test_inputs.py
        path, value = tried[k]
        try:
            alone = flownet.solve(CASE, changes={path: value})
        except (CaseError, flownet.NoSolution) as error:
            words = str(error)
        else:
            words = ""
            assert_same(batch, k, alone)
        assert batch.status[k] == words, path


MIXED = {
    "fan.left.state": ["running", "stopped", "blanked", "running", "running", "running"],
    "fan.left.type": ["axial", "axial", "small", "small", "axial", "small"],
    "fan.left.mounted": ["forward", "forward", "forward", "forward", "reversed", "forward"],
    "fan.left.supply": ["mains", "battery", None, "battery", "mains", "mains"],
    "fan.spare.state": ["blanked", "running", "running", "stopped", "running", "blanked"],
    "supply.mains.frequency": ["50 Hz", "60 Hz", "50 Hz", "60 Hz", None, "60 Hz"],
    "slot.a.type": ["line", "wide", "line", "wide", "line", "wide"],
    "slot.a.state": ["fitted", "fitted", "empty", "filler", "blanked", "fitted"],
    "filter.mat.state": ["fitted", "removed", "fitted", "blanked", "fitted", "fitted"],
    "baffle.shelf.present": [True, False, True, False, True, True],
    "fan.right.speed": ["2400 rpm", 0.9, "1400 rpm", 1.0, 0.7, "2000 rpm"],
    "outside.altitude": np.linspace(0.0, 3000.0, 6),
    "fan.right.guard": [{"loss": 0.3}, {}, {"loss": 1}, {}, {}, {"loss": "20 %"}],
    "leak.seal.flow_at": [("2 m3/h", "10 Pa"), (1e-3, 10.0), *[("5 m3/h", "10 Pa")] * 4],
    "part.drive.power": "140 W",
    "part.base.power": [9.0, 9.0, 9.0, 0.0, 9.0, 9.0],  # where no air comes to it
    "enclosure.up": ["top", "bottom", "left", "right", "front", "back"],
    "enclosure.view": ["front", "side", "plan", "front", "side", "plan"],
}


def one_of(changes, variant):
    return {p: v if isinstance(v, str) else v[variant] for p, v in changes.items()}


def test_everything_discrete_varies_at_once():
    """States, types, ratings, mounting, supplies, sub-tables and lists, two forms of a speed."""
    batch = flownet.solve_many(CASE, MIXED)
    for variant in range(6):
        own = one_of(MIXED, variant)
        assert_same(batch, variant, flownet.solve(CASE, changes=own))


def test_a_scenario_and_a_variant_come_before_the_changes():
    changes = {"fan.left.speed": [0.8, 1.1], "outside.temperature": ["45 degC", "30 degC"]}
    batch = flownet.solve_many(CASE, changes, scenario="hot+dirty", variant="slow")
    for k in range(2):
        alone = flownet.solve(
            CASE, scenario="hot+dirty", variant="slow", changes=one_of(changes, k)
        )
        assert_same(batch, k, alone)
        picked = batch.select(k)
        assert (picked.scenario, picked.variant) == ("hot+dirty", "slow")
        assert picked.case == alone.case
        assert picked.to_dict()["changes"] == alone.to_dict()["changes"]
        assert picked.case["fan.right.speed"] == 0.7


@pytest.mark.parametrize(
    ("path", "values"),
    [
        ("fan_type.axial.curve", [[(0, 78), (0.05, 0)], [(0, 60), (0.02, 40), (0.04, 0)]]),
        ("fan_type.*.curve", [{"flow": "0 100 m3/h", "rise": "60 0 Pa"},
                              {"flow": [0, 0.02, 0.03], "rise": "50 30 0 Pa"}]),
        ("filter.mat.velocity_drop", [[(1.0, 30.0)], [(0.5, 18.0), (2.0, 150.0)]]),
        ("slot.c.velocity_drop", [[(1.0, 4.0)], np.array([[1.0, 6.0], [2.0, 19.0]])]),
        ("part.choke.resistance_over_velocity", [[(1, 0.5)], [(0.5, 0.9), (2, 0.3)]]),
        ("part.chip.chain", [[["junction", 0.4], ["case", 0.25]], [["junction", 1], ["case", 2]]]),
        ("duct.riser.bends", [[], [(90, 1.0), (45, 2.0)]]),
        ("duct.riser.route", [["0 0 m", "0 1 m"], ["0 0.2 m", "0 0.5 m", "0 1.8 m"]]),
    ],
)  # fmt: skip
def test_tables_are_values_of_variants(path, values):
    batch = flownet.solve_many(CASE, {path: values})
    assert len(batch) == 2
    for variant in range(2):
        alone = flownet.solve(CASE.with_changes({path: values[variant]}))
        assert_same(batch, variant, alone)
    assert batch.select(0).case.digest != batch.select(1).case.digest


# --- what is refused -----------------------------------------------------------------------------


CONTROL = {"by": "outside", "temperature": "40 50 degC", "speed": (0, 1)}


@every(
    ("changes", "sentence"),
    [
        ({"fan.left.from": ["low", "high"]}, "fan.left.from: this key shapes the network"),
        ({"part.drive.in": "low"}, "part.drive.in: this key shapes the network"),
        ({"vent.guard.on": ["fan.left"]}, "vent.guard.on: this key shapes the network"),
        ({"exchange.middle.between": ["low", "high"]}, "between: this key shapes the network"),
        ({"fan.left.speed": [1, 2], "filter.mat.fouling": [1, 2, 3], "limits.margin": [1] * 4},
         "(got fan.left.speed: 2, filter.mat.fouling: 3, limits.margin: 4)"),
        ({"baffle.shelf.open_area": [0.01, 0.2]}, "must not be larger than cross_section"),
        ({"slot.b.state": ["fitted", "filler"]}, 'slot.b.state: "filler" needs filler'),
        ({"fan_type.axial.supply": "230 V 60 Hz"}, "cannot be changed here"),
        ({"fan_type.axial.curve": [[(0, 5), (1, 0)], [(0, 5), (0, 0)]]}, "appears twice"),
        ({"fan.left.speed_control.by": ["outside"]}, "speed_control.temperature: must be given"),
        ({"fan.left.speed_control": [None, {**CONTROL, "by": "part.driv"}]},
         'no part, compartment or outside "part.driv"; did you mean "part.drive"'),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_before_anything_is_solved(changes, sentence):
    with pytest.raises(CaseError) as error:
        flownet.solve_many(CASE, changes)
    assert sentence in str(error.value)


def test_a_speed_that_follows_a_temperature_may_be_taken_back():
    case = CASE.with_changes({"fan.left.speed_control": CONTROL})
    replaced = flownet.solve_many(case, {"fan.left.speed": [0.8, 0.9]})
    assert replaced["fan.left.speed_ratio"][0] == replaced["fan.left.speed_ratio"][1]
    back = {"fan.left.speed_control": None, "fan.left.speed": 0.8}
    batch = flownet.solve_many(case, back)
    assert_same(batch, 0, flownet.solve(case, changes=back))


# --- blocks and executors ------------------------------------------------------------------------

SPEEDS = {
    "fan.*.speed": np.linspace(0.4, 1.0, 41),
    "slot.a.type": ["line", "wide"] * 20 + ["line"],
    "slot.a.state": ["empty"] * 20 + ["fitted"] * 21,
    "part.drive.limit": [None] * 11 + ["110 degC"] * 30,
}


@pytest.fixture(name="whole", scope="module")
def solved_whole():
    return flownet.solve_many(CASE, SPEEDS)


def in_blocks(**more):
    """Of at most eleven, and how far it was told to be."""
    seen = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys.modules["flownet.solving.solve"], "BLOCK", 11)
        found = flownet.solve_many(CASE, SPEEDS, progress=lambda *n: seen.append(n), **more)
    assert seen == [(11, 41), (22, 41), (33, 41), (41, 41)]
    return found


@pytest.fixture(name="blocks", scope="module")
def solved_in_blocks():
    return in_blocks()


def assert_identical(one, other):
    assert one.status == other.status
    for name in TABLES:
        assert getattr(one, name) == getattr(other, name)
    for name in ("totals_", "site", "balance_"):
        for key, column in getattr(one, name).items():
            wide = np.broadcast_to(getattr(other, name)[key], len(one))
            assert np.array_equal(np.broadcast_to(column, len(one)), wide, equal_nan=True), key


def test_blocks_give_what_one_block_gives(whole, blocks):
    """Limits that are not given in a whole block, and parts that are not there, keep their row."""
    assert len(blocks) == 41
    for name in TABLES:
        for row in getattr(whole, name):
            for field in getattr(whole, name).fields:
                one, other = (getattr(getattr(b, name)[row], field.name) for b in (whole, blocks))
                if field.quantity is None:
                    assert one.tolist() == other.tolist()
                else:
                    assert one == pytest.approx(other, rel=1e-6, abs=1e-9, nan_ok=True)
    named = [[(item.limit, item.subject) for item in batch.limits] for batch in (whole, blocks)]
    assert named[0] == named[1]
    for one, other in zip(whole.limits, blocks.limits, strict=True):
        assert one.margin == pytest.approx(other.margin, rel=1e-6, nan_ok=True), one.subject
    assert blocks.select(33).to_dict()["changes"] == whole.select(33).to_dict()["changes"]
    subjects = [{item.subject for item in blocks.select(i).limits} for i in (5, 15, 35)]
    assert ["part.drive" in s for s in subjects] == [False, True, True]
    assert ["part.chip" in s for s in subjects] == [False, False, True]


@pytest.mark.parametrize("pool", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_every_executor_gives_the_same_bits(pool, blocks):
    with pool(2) as executor:
        assert_identical(blocks, in_blocks(executor=executor))


def test_the_long_way_finds_the_same_states(monkeypatch):
    """With no quick passes, every variant goes through Newton on flow and heat together; then
    through a march alone."""
    few = {"fan.out.speed": [0.5, 0.75, 1.0], "vent.in.loss": [2.0, 4.0, 6.0]}
    quick = flownet.solve_many(chain(), few)
    for name in ("PASSES", "DIRECT_ROUNDS"):
        monkeypatch.setattr(tolerances, name, 0)
        slow = flownet.solve_many(chain(), few)
        for path in ("slot.card.mass_flow", "fan.out.power", "total.heat", "fan.out.rise",
                     "compartment.high.temperature", "compartment.low.pressure"):  # fmt: skip
            assert slow[path] == pytest.approx(quick[path], rel=1e-6, abs=1e-8), (name, path)


def test_a_box_with_walls_alone_varies_and_may_be_too_hot():
    """Closed form: the rise is the power over the wall's conductance; above 500 K it is refused."""
    box = flownet.Enclosure.of(
        flownet.Outside(temperature="25 degC"), flownet.Compartment(name="box"),
        flownet.Wall(name="sheet", from_="box", to="outside", area=0.5, u_value=4.0),
        flownet.Part(name="load", in_="box", power=100.0),
    )  # fmt: skip
    power = np.array([100.0, 3000.0, 50.0, 5000.0])
    batch = flownet.solve_many(box, {"part.load.power": power})
    assert batch.ok.tolist() == [True, False, True, False]
    rise = batch["compartment.box.temperature"] - 298.15
    assert rise[batch.ok] == pytest.approx(power[batch.ok] / 2.0, rel=1e-9)
    assert "nowhere to go" in batch.status[1]


def test_one_variant_is_what_solve_finds():
    one = flownet.solve(CASE, scenario="hot", changes={"fan.left.speed": 0.8})
    batch = flownet.solve_many(CASE, {"fan.left.speed": 0.8}, scenario="hot")
    assert len(batch) == 1
    found = completed(batch.select(0))  # with what a solve alone finds beside itself
    assert found.to_dict() == one.to_dict()
    assert len(flownet.solve_many(SHELVES, {})) == 1


def test_blocks_in_which_nothing_is_solved_keep_their_place(monkeypatch):
    """Heat with nowhere to go in the first block, in part of the second, and not in the third."""
    monkeypatch.setattr(sys.modules["flownet.solving.solve"], "BLOCK", 3)
    box = flownet.Enclosure.of(
        flownet.Compartment(name="box", air_limit="70 degC"),
        flownet.Part(name="p", in_="box", power=20.0, limit="90 degC"),
        flownet.Vent(name="in", from_="outside", to="box", area=0.01, loss=2.0),
        flownet.FanType(name="t", curve=((0, 50), (0.05, 0)), flow_area=0.01, noise_dBA=40),
        flownet.Fan(name="f", from_="box", to="outside", type="t"), flownet.Limits(noise_dBA=50),
    )  # fmt: skip
    batch = flownet.solve_many(box, {"vent.in.state": ["blanked"] * 4 + ["open"] * 4})
    assert batch.ok.tolist() == [False] * 4 + [True] * 4
    assert {item.limit for item in batch.limits} == {"part", "air", "noise"}
    warm = batch["compartment.box.temperature"]
    assert np.isnan(warm[:4]).all()
    assert warm[4:] == pytest.approx(flownet.solve(box)["compartment.box.temperature"])
    assert batch.select(7).worst.subject == "compartment.box"
    empty = flownet.solve_many(box, {"vent.in.state": ["blanked"] * 4})
    assert not empty.ok.any()
    assert np.isnan(empty["total.worst_margin"]).all()


def test_quantities_of_results_are_known(whole):
    for name in TABLES:
        for field in getattr(whole, name).fields:
            assert field.quantity is None or field.quantity.name in QUANTITIES
