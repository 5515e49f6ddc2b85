"""Columns: an enclosure as arrays, and changes as rows of them."""

from __future__ import annotations

import math
import pickle
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.columns import Inputs, gather, take_rows
from flownet.enclosure.changes import as_columns, steps
from flownet.enclosure.contents import Place
from flownet.enclosure.surroundings import Supply
from flownet.equations import curve_fits, elements
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import Choice, Link, Number, Rows, get, given, roles
from tests.each import every
from tests.every_kind import alternatives, everything

CASE = everything()
BASE = Inputs.of(CASE)


def decoded(inputs, kinds=tuple(KINDS)):
    """What every column says, a list over variants: numbers, words, names and tables."""
    found = {}
    for kind in kinds:
        for key, column in inputs.columns[kind].items():
            role = roles(KINDS[kind])[key]
            for name, row in zip(inputs.names(kind), column, strict=True):
                path = Place(kind, name, key).path
                found[path] = [_word(inputs, kind, key, role, code) for code in row]
    return found


def _word(inputs, kind, key, role, code):
    if isinstance(role, Number):
        return None if math.isnan(code) else code
    words = {
        Choice: lambda: role.words,
        Link: lambda: [n for k in role.kinds for n in inputs.names(k)],
        Rows: lambda: inputs.tables[kind, key],
    }[type(role)]()
    return None if code < 0 else words[int(code)]


def test_columns_say_what_the_things_say():
    found = decoded(BASE)
    for kind, named in CASE.things.items():
        for name, item in named.items():
            for key, role in roles(KINDS[kind]).items():
                if isinstance(role, (Number, Choice, Rows)) or getattr(role, "varies", False):
                    value = get(item, key)
                    value = getattr(value, "rows", value)  # numbers beside it have their own
                    assert found[Place(kind, name, key).path] == [value if given(value) else None]


def test_every_column_has_all_things_and_one_variant():
    for kind, columns in BASE.columns.items():
        for column in columns.values():
            assert column.shape == (len(CASE.things[kind]), 1)
    assert BASE.variants == 1


def test_a_change_of_columns_is_a_change_of_things():
    """At every key of every kind: the columns of the changed enclosure."""
    for path, value, made in alternatives():
        found, wanted = BASE.changed({path: value}), Inputs.of(made, near=BASE)
        kinds = [kind for kind in KINDS if any(v is not BASE.columns[kind][key]
                 for each in (found, wanted) for key, v in each.columns[kind].items())]  # fmt: skip
        assert kinds
        assert decoded(found, kinds) == decoded(wanted, kinds), path


def test_every_change_at_once_one_a_variant():
    """A batch in which variant k has only the k-th change: each as an enclosure of its own."""
    every = {path: value for path, value, _ in alternatives()}
    tried = [(path, v) for path, v in every.items() if CASE[path] is not None][::3]
    changes = {}
    for k, (path, value) in enumerate(tried):
        values = np.empty(len(tried), object)
        values[:] = [CASE[path]] * len(tried)
        values[k] = value
        changes[path] = values
    batch = decoded(BASE.changed(changes))
    for k, (path, value) in enumerate(tried):
        alone = decoded(BASE.changed({path: value}))
        for place, values in batch.items():
            own = values[k if len(values) > 1 else 0]
            assert own == alone[place][0], (path, place)


def test_discrete_changes_are_columns():
    batch = BASE.changed({
        "fan.left.state": ["running", "stopped", "blanked"],
        "fan.left.type": ["axial", "small", "small"],
        "slot.a.type": ["line", "wide", "line"], "baffle.shelf.present": [True, False, True],
        "fan.right.supply": ["mains", "battery", None], "enclosure.up": "left",
    })  # fmt: skip
    found = decoded(batch)
    assert batch.variants == 3
    assert found["fan.left.state"] == ["running", "stopped", "blanked"]
    assert found["fan.right.state"] == ["running"] * 3
    assert found["fan.left.type"] == ["axial", "small", "small"]
    assert found["slot.a.gap"] == [0.015, 0.03, 0.015]
    assert found["slot.a.power"] == [16.0, 5.0, 16.0]
    assert found["baffle.shelf.present"] == [True, False, True]
    assert found["fan.right.supply"] == ["mains", "battery", None]
    assert found["enclosure.up"] == ["left"]


def test_rows_by_path():
    batch = BASE.changed({"fan.*.speed": [0.5, 1.0], "leak.seal.flow_at.0": "4 m3/h"})
    assert batch.row("fan.left.speed").tolist() == [0.5, 1.0]
    assert batch.row("leak.seal.flow_at.0").tolist() == [4 / 3600]
    with pytest.raises(CaseError, match='did you mean "left"'):
        batch.row("fan.lef.speed")


def test_numbers_are_the_paths_of_all_that_can_be_differentiated():
    paths = set(BASE.numbers())
    assert {"fan.left.speed", "outside.temperature", "leak.seal.flow_at.1",
            "fan_type.axial.rating.sixty.power", "part.sink.resistance_law.n"} <= paths  # fmt: skip
    assert paths == {
        path for path in CASE.keys("*")
        if isinstance(roles(KINDS[(place := CASE.place(path)).kind]).get(place.key), Number)
    }  # fmt: skip


# --- lengths -------------------------------------------------------------------------------------


def test_arrays_of_one_length_and_scalars_broadcast():
    batch = BASE.changed(
        {"fan.left.speed": [0.5, 1.0], "limits.margin": [3.0], "part.drive.load": 2}
    )
    assert batch.variants == 2
    assert batch.columns["limits"]["margin"].shape == (1, 1)
    assert batch.changed({"fan.right.speed": [1.0, 0.5]}).variants == 2
    assert batch.changed({"part.drive.load": 1.0}).row("fan.left.speed").tolist() == [0.5, 1.0]


def test_other_lengths_are_told_with_all_lengths_by_key():
    with pytest.raises(CaseError) as error:
        BASE.changed(
            {"fan.*.speed": [1, 0.5], "outside.altitude": np.arange(3), "limits.margin": [5]}
        )
    assert str(error.value) == (
        "arrays of one length are wanted, one value a variant "
        "(got fan.*.speed: 2, outside.altitude: 3)"
    )
    with pytest.raises(CaseError, match=r"got outside\.altitude: 3, among 2 variants"):
        BASE.changed({"fan.*.speed": [1, 0.5]}).changed({"outside.altitude": [0, 1, 2]})


def test_a_block_is_a_run_of_variants():
    batch = BASE.changed({"fan.left.speed": np.linspace(0.1, 1, 10), "part.drive.load": 0.5})
    block = batch.block(8, 16)
    assert block.variants == 2
    assert block.row("fan.left.speed").tolist() == batch.row("fan.left.speed")[8:].tolist()
    assert block.row("part.drive.load").tolist() == [0.5]


def test_the_columns_before_a_change_stay_as_they_are():
    before = decoded(BASE)
    BASE.changed({"fan.*.speed": [0.5, 1.0], "fan_type.small.curve": [(0, 5), (1, 0)]})
    assert decoded(BASE) == before
    one = BASE.changed({"outside.altitude": 100.0})
    one.changed({"outside.altitude": 200.0})
    assert one.row("outside.altitude").tolist() == [100.0]


def test_columns_travel_to_other_processes():
    batch = BASE.changed({"fan.left.speed": [0.5, 1.0]})
    again = pickle.loads(pickle.dumps(batch))
    assert decoded(again) == decoded(batch)
    assert again.enclosure == CASE


def test_words_that_decide_are_not_overlooked():
    with pytest.raises(CaseError, match=r"fan_type\.axial\.supply: cannot be changed here"):
        BASE.changed({"fan_type.axial.supply": "230 V 60 Hz"})
    assert decoded(BASE.changed({"fan.left.note": "x"})) == decoded(BASE)


# --- complex numbers -----------------------------------------------------------------------------


def test_complex_numbers_pass_through():
    step = 1e-20
    batch = BASE.changed({"outside.temperature": np.array([313.0 + step * 1j, 313.0]),
                          "fan.left.speed": 0.8 + step * 1j})  # fmt: skip
    assert batch.row("outside.temperature").imag.tolist() == [step, 0.0]
    assert batch.row("fan.left.speed").tolist() == [0.8 + step * 1j]
    assert batch.row("fan.right.speed").tolist() == [0.9]
    assert not np.iscomplexobj(batch.columns["part"]["load"])
    space = elements.columns(batch, "fan")
    assert space.speed.imag.tolist() == [[step], [0.0], [0.0]]


# --- for the kinds -------------------------------------------------------------------------------


def test_columns_of_a_kind_by_attribute():
    space = BASE.kind("fan", curve_fits.FITS)
    assert isinstance(space, SimpleNamespace)
    assert space.guard.loss[:, 0].tolist() == [0.6, 0.0, 0.0]
    assert np.isnan(space.shutter.open_loss[:, 0]).tolist() == [True, False, True]
    assert space.at[1][0, 0] == 1.8
    assert space.type.power[:, 0].tolist() == [19.0, 19.0, 9.0]
    assert space.type.curve.count[:, 0].tolist() == [4, 4, 4]
    mat = BASE.kind("filter", curve_fits.FITS).velocity_drop
    velocity, drop = np.array(CASE["filter.mat.velocity_drop"]).T
    fit = mat.linear.item() * velocity + mat.quadratic.item() * velocity**2
    assert fit == pytest.approx(drop, rel=0.1)  # least squares through three points


def test_a_table_is_gathered_by_variant():
    curves = [[(0, 50), (0.05, 0)], [(0, 60), (0.02, 40), (0.05, 0)]]
    batch = BASE.changed({"fan_type.small.curve": curves})
    points = batch.kind("fan", curve_fits.FITS).type.curve
    assert points.count[2].tolist() == [2, 3]
    assert points.count[0].tolist() == [4, 4]
    assert points.rise[2, 0].tolist() == [50.0, 60.0]


@every(
    ("volts", "hertz", "power"),
    [(230.0, 50.0, 19.0), (230.0, 60.0, 23.0), (229.0, 59.95, 23.0), (226.0, 60.0, 23.0),
     (230.0, 54.0, 19.0), (230.0, 57.0, 23.0), (300.0, 60.0, 19.0), (230.0, None, 19.0)],
)  # fmt: skip
def test_the_supply_of_a_variant_chooses_its_rating(volts, hertz, power):
    """As `Enclosure.rating` chooses it for an enclosure of its own."""
    batch = BASE.changed({"supply.mains.voltage": [230.0, volts],
                          "supply.mains.frequency": [50.0, hertz]})  # fmt: skip
    found = batch.kind("fan", curve_fits.FITS).type.power
    assert found[:2, 1].tolist() == [power, power]
    assert found[:2, 0].tolist() == [19.0, 19.0]
    case = CASE.with_changes({"supply.mains.voltage": volts, "supply.mains.frequency": hertz})
    assert case.rating(case.fans["left"]).power == power


def test_supply_and_type_and_frequency_may_vary_together():
    case = everything(Supply(name="far", voltage="230 V", frequency="60 Hz"))
    batch = Inputs.of(case).changed({
        "fan.left.supply": ["mains", "far", None, "mains", "far"],
        "fan.left.type": ["axial", "axial", "axial", "small", "small"],
        "supply.mains.frequency": [60.0, 50.0, 50.0, 50.0, 50.0],
    })  # fmt: skip
    power = batch.kind("fan", curve_fits.FITS).type.power
    assert power[0].tolist() == [23.0, 23.0, 19.0, 9.0, 9.0]
    assert power[1].tolist() == [23.0, 19.0, 19.0, 19.0, 19.0]  # right stays on mains


def test_no_supply_is_the_first_rating():
    """And an enclosure without any supply has no column of them."""
    items = [item for kind, named in CASE.things.items() for item in named.values()
             if kind not in ("supply", "fan") and ".rating." not in item.name]  # fmt: skip
    fans = everything().with_changes({"fan.*.supply": None}).fans.values()
    alone = Inputs.of(type(CASE).of(*items, *fans))
    assert alone.kind("fan", curve_fits.FITS).type.power[:, 0].tolist() == [19.0, 19.0, 9.0]


# --- gathering -----------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [1, 4])
@pytest.mark.parametrize("wide", [1, 4])
@pytest.mark.parametrize("inner", [(), (3,), (2, 3)])
def test_rows_are_gathered_thing_by_thing_and_variant_by_variant(width, wide, inner):
    rng = np.random.default_rng(5)
    column = rng.normal(size=(6, *inner, width))
    index = rng.integers(0, 6, (2, wide))
    found = gather(column, index)
    count = max(width, wide)
    assert found.shape == (2, *inner, count)
    for thing in range(2):
        for variant in range(count):
            row = index[thing, variant % wide]
            assert np.array_equal(found[thing, ..., variant], column[row, ..., variant % width])


def test_constants_are_taken_by_index():
    constants = np.arange(12.0).reshape(3, 4)
    index = np.array([[0, 2], [1, 1]])
    assert np.array_equal(take_rows(constants, index)[1, :, 0], constants[1])
    assert take_rows(constants, index).shape == (2, 4, 2)
    assert take_rows(np.arange(3.0), index).tolist() == [[0.0, 2.0], [1.0, 1.0]]


def test_ten_thousand_variants_cost_no_rebuilding(monkeypatch):
    """A change fills rows: no thing is built while columns are changed."""
    built = []
    for cls in set(KINDS.values()):
        monkeypatch.setattr(cls, "__init__", lambda self, **keys: built.append(self))
    many = np.linspace(0.5, 1.0, 10_000)
    paths = {
        path: many for path in BASE.numbers() if path.endswith((".load", ".speed", ".fouling"))
    }
    wide = as_columns(CASE, paths)
    batch = BASE.stepped(list(steps(CASE, wide)), 10_000)
    assert built == []
    assert all(np.array_equal(batch.row(path), many) for path in paths)
