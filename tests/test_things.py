"""How things declare, read, check and compare their keys."""

from __future__ import annotations

import ast
import copy
import dataclasses
import inspect
import math
import pickle
import textwrap

import numpy as np
import pytest

from flownet.enclosure.branches import Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.fans import Fan, FanType, Guard
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Body, Compartment, Outside
from flownet.schema.component import KINDS
from flownet.schema.convert import LARGEST_VALUE, convert
from flownet.schema.errors import CaseError
from flownet.schema.fields import (
    Choice,
    Group,
    Link,
    Number,
    Numbers,
    Pair,
    Rows,
    Subtables,
    Text,
    WordList,
    get,
    given,
    keys,
    roles,
)
from tests.each import each, named
from tests.every_kind import THINGS, everything

ENDS = {"from_": "outside", "to": "box"}
FAN = {"name": "f", "from_": "box", "to": "outside", "type": "t"}
CURVE = ((0.0, 60.0), (0.03, 0.0))


EVERY_NUMBER = {
    f"{kind}.{path}": (cls, path, role)
    for kind, cls in KINDS.items()
    for path, role in roles(cls).items()
    if isinstance(role, Number)
}
SAMPLES = {item.path: item for item in THINGS}


# --- declarations --------------------------------------------------------------------------------


@each(EVERY_NUMBER)
def test_every_number_declares_a_range_that_holds_its_default(cls, path, role):
    assert role.low < role.high
    key = keys(cls)[path.partition(".")[0]]
    assert key.doc
    if isinstance(key.default, float) and not math.isnan(key.default):
        assert role.low <= key.default <= role.high


@each(EVERY_NUMBER)
def test_every_number_reads_text_with_a_unit_and_refuses_another_quantity(cls, path, role):
    assert isinstance(convert(role._replace(low=-1e9, high=1e9), role.quantity.example), float)
    with pytest.raises(CaseError):
        convert(role, "5 J/K" if role.quantity.name != "heat capacity" else "5 kg")
    for wrong in ("", "x", True, None, [1.0], {"a": 1}):
        with pytest.raises(CaseError):
            convert(role, wrong)
    for wrong in (math.inf, -math.inf, 10 * LARGEST_VALUE, 10**400):
        with pytest.raises(CaseError):
            convert(role, wrong)


@each(EVERY_NUMBER)
def test_every_bound_is_held_and_told(cls, path, role):
    for bound, beyond in ((role.low, -1), (role.high, 1)):
        if math.isfinite(bound):
            assert convert(role, bound) == bound
            with pytest.raises(CaseError, match=r"must be|is -?[0-9.]+ K; Python numbers"):
                convert(role, bound + beyond * max(1e-6, 1e-6 * abs(bound)))


@each(KINDS)
def test_exclusive_and_required_keys_are_keys(cls):
    named = {key for names in (*cls.EXCLUSIVE, *cls.REQUIRED) for key in names}
    assert named <= set(keys(cls))
    assert set(cls.COMPARED) <= set(roles(cls))


BETWEEN = {"compartment": {"layers"}}  # judged by checks between things


@each(KINDS)
def test_numbers_that_faults_compare_are_declared_as_compared(cls):
    """What `faults` reads otherwise than through `given` may depend on the size of a number."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(cls.faults)))
    presence = {
        id(node)
        for call in ast.walk(tree)
        if isinstance(call, ast.Call) and ast.unparse(call.func) in ("given", "series")
        for node in ast.walk(call)
    }
    read = {
        node.attr.rstrip("_")
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "self"
        and id(node) not in presence
    }  # fmt: skip
    declared = keys(cls)
    numbers = {
        path for path, role in roles(cls).items()
        if isinstance(role, Number) and path.partition(".")[0] in read & set(declared)
    }  # fmt: skip
    judged = {path.partition(".")[0] for path in numbers} | BETWEEN.get(cls.KIND, set())
    assert judged == {path.partition(".")[0] for path in cls.COMPARED}


def test_single_values_are_addressed_through_sub_tables_and_lists():
    assert {"guard.loss", "at.0", "at.1", "speed", "shutter.closed_leak"} <= set(roles(Fan))
    assert {"flow_at.0", "flow_at.1"} <= set(roles(Leak))
    fan = Fan(**FAN, guard={"loss": 0.6}, at="200 1800 mm")
    assert (get(fan, "guard.loss"), get(fan, "at.1")) == (0.6, 1.8)
    assert get(fan, "shutter.open_loss") is None
    assert get(Opening(name="o", **ENDS, area=1.0), "from") == "outside"


def test_everything_of_every_kind_has_its_role():
    """The sample of the tests leaves out no kind and no kind of role."""
    assert {item.KIND for item in THINGS} == set(KINDS)
    used = {type(role) for cls in KINDS.values() for role in roles(cls).values()}
    assert {Number, Choice, Rows, Link, Text, WordList} <= used
    whole = {type(key.role) for cls in KINDS.values() for key in keys(cls).values()}
    assert {Group, Numbers, Pair, Subtables} <= whole


# --- reading -------------------------------------------------------------------------------------


def test_a_table_is_read_by_column_by_row_and_from_arrays():
    by_column = {"velocity": "0.5 1 m/s", "drop": ["18 Pa", "42 Pa"]}
    forms = [
        by_column,
        [["0.5 m/s", "18 Pa"], (1.0, 42.0)],
        [{"velocity": 0.5, "drop": 18.0}, {"velocity": "1 m/s", "drop": "42 Pa"}],
        np.array([[0.5, 18.0], [1.0, 42.0]]),
        {"velocity": np.array([0.5, 1.0]), "drop": np.array([18.0, 42.0])},
        (np.array([0.5, 18.0]), np.array([1.0, 42.0])),
    ]
    for form in forms:
        mat = Filter(name="m", **ENDS, area=1.0, velocity_drop=form)
        assert mat.velocity_drop == ((0.5, 18.0), (1.0, 42.0))
        assert all(type(v) is float for row in mat.velocity_drop for v in row)


def test_a_list_is_read_from_text_lists_and_arrays():
    outlines = ["0 0 800 900 mm", [0, 0, 0.8, 0.9], np.array([0, 0, 0.8, 0.9])]
    outlines.append(["0 mm", "0 mm", "0.8 m", "0.9 m"])
    for outline in outlines:
        assert Compartment(name="a", outline=outline).outline == (0.0, 0.0, 0.8, 0.9)
    assert Leak(name="l", **ENDS, flow_at=np.array([1e-3, 10.0])).flow_at == (1e-3, 10.0)
    assert Body(size="800 x 1800 x 400 mm").size == (0.8, 1.8, 0.4)


def test_numpy_numbers_are_numbers():
    made = Opening(name="o", **ENDS, area=np.float64(0.01), loss=np.array(2.0))
    assert type(made.area) is float
    assert type(made.loss) is float


@each(named([
        (lambda: Filter(name="m", **ENDS, area=1.0, velocity_drop={"velocity": "1 m/s"}),
         'filter.m.velocity_drop: has no column "drop"'),
        (lambda: Filter(name="m", **ENDS, area=1.0, velocity_drop=[[1.0]]),
         "row 1: takes 2 values"),
        (lambda: Filter(name="m", **ENDS, area=1.0,
                        velocity_drop={"velocity": "1 2 m/s", "drop": "1 Pa"}), "the same length"),
        (lambda: Leak(name="l", **ENDS, flow_at="2 m3/h"), "takes two values"),
        (lambda: Compartment(name="c", outline="0 0 800 mm"), "holds 3 numbers; 4 are wanted"),
        (lambda: Compartment(name="c", outline="0 0 800 0 mm"), "width and height must be above 0"),
        (lambda: Opening(name="o", **ENDS, area="0,5 m2"), 'has a comma; write "0.5 m2"'),
        (lambda: Opening(name="o", **ENDS, area="nan m2"), "is not a finite number"),
        (lambda: Outside(temperature="40 C"), 'did you mean "40 degC"'),
        (lambda: Slot(name="s", **ENDS, gap=0.01), "gap: needs width and length"),
        (lambda: Slot(name="s", **ENDS, area=0.01), "area: needs loss or velocity_drop"),
        (lambda: Part(name="p", in_="a", output="1 kW"), "output: needs efficiency"),
        (lambda: Wall(name="w", from_="a", to="outside", area=1.0, thickness="1 mm"),
         "thickness: needs conductivity or material"),
        (lambda: FanType(name="t", curve=((0.1, 5.0), (0.2, 0.0)), flow_area=0.01),
         "the first point must be at zero flow"),
        (lambda: FanType(name="t", curve=CURVE, flow_area=0.01, supply="230 V"), "no frequency"),
        (lambda: Fan(**FAN, state=True), "must be one of"),
        (lambda: Fan(**FAN, guard=5), "guard: takes a table with loss"),
        (lambda: Fan(**FAN, shutter={"open_loss": 1}), r"shutter\.closed_leak: must be given"),
        (lambda: Fan(**FAN, note=5), "note: takes text"),
        (lambda: Fan(**FAN, data=5), "data: takes a table of anything"),
        (lambda: Compartment(name=5), "name: takes text"),
        (lambda: Vent(name="v", **ENDS, area=1, open_ratio=45), r"did you mean 0\.45\?"),
    ]))  # fmt: skip
def test_what_is_wrong_is_told_at_its_key(make, sentence):
    with pytest.raises(CaseError, match=sentence):
        make()


def test_ratings_are_read_like_the_type_itself():
    keys_of = {
        "supply": "230 V 60 Hz",
        "power": "23 W",
        "curve": {"flow": [0, 1], "rise": "9 0 Pa"},
    }
    made = FanType(name="t", curve=CURVE, flow_area=0.01, rating={"sixty": keys_of})
    assert made.rating["sixty"]["power"] == 23.0
    assert made.rating["sixty"]["curve"] == ((0.0, 9.0), (1.0, 0.0))
    keys_of["power"] = "1 W"
    assert made.rating["sixty"]["power"] == 23.0
    with pytest.raises(TypeError):
        made.rating["sixty"]["power"] = 5.0
    with pytest.raises(CaseError) as error:
        FanType(name="t", curve=CURVE, flow_area=0.01,
                rating={"sixty": {"powr": 1, "power": "1 m", "note": "x"}})  # fmt: skip
    assert list(error.value.faults) == [
        'fan_type.t.rating.sixty.powr: unknown key; did you mean "power"?',
        'fan_type.t.rating.sixty.power: "1 m" is a length; a power is wanted, such as "96 W"',
        'fan_type.t.rating.sixty.note: unknown key; did you mean "noise"?',
    ]


def test_a_case_error_is_a_value_error():
    with pytest.raises(ValueError, match="must be above 0"):
        Opening(name="o", **ENDS, area=0.0)


def test_a_key_without_effect_beside_another_is_no_fault():
    """The round edge belongs to an open ratio; with a loss it says nothing."""
    assert Vent(name="v", **ENDS, area=1.0, loss=2.0, construction="round-edged").loss == 2.0


def test_minus_zero_is_zero():
    found = Compartment(name="c", outline=(-0.0, 0.0, 1.0, 1.0)).outline
    assert math.copysign(1.0, found[0]) == 1.0


# --- frozen, compared, sent ----------------------------------------------------------------------


@each(SAMPLES)
def test_things_are_frozen(item):
    with pytest.raises(dataclasses.FrozenInstanceError):
        item.note = "other"
    with pytest.raises((TypeError, AttributeError)):
        item.data["x"] = 1


@each(SAMPLES)
def test_things_are_compared_by_value(item):
    """Built again, copied or sent to another process they are the same, NaN or not."""
    again = dataclasses.replace(item)
    sent = pickle.loads(pickle.dumps(item))
    for other in (again, sent, copy.deepcopy(item)):
        assert other == item
        assert hash(other) == hash(item)
    other = dataclasses.replace(item, note="another")
    assert other != item
    assert item != "something else"


def test_sub_tables_are_compared_by_value_and_by_class():
    assert Guard(loss=0.6) == Guard(loss=0.6)
    assert len({Guard(loss=0.6), Guard(loss=0.6), Guard(loss=0.5)}) == 2
    assert Opening(name="x", **ENDS, area=1.0) != Vent(name="x", **ENDS, area=1.0, loss=1.0)


def test_where_a_value_stands_does_not_make_another_thing():
    plain = Slot(name="a", **ENDS, area=0.01, loss=2.0)
    assert dataclasses.replace(plain, given=frozenset({"area"})) == plain


def test_free_data_cannot_be_changed_any_more():
    raw = {"list": [1, {"deep": 2}]}
    fan = Fan(**FAN, data=raw)
    raw["list"].append(3)
    assert fan.data["list"][0] == 1
    assert len(fan.data["list"]) == 2
    with pytest.raises(TypeError):
        fan.data["list"][1]["deep"] = 3


def test_a_speed_is_a_ratio_or_in_rpm():
    assert Fan(**FAN).speed == 1.0
    turned = Fan(**FAN, speed="2400 rpm")
    assert math.isnan(turned.speed)
    assert turned.rotation == pytest.approx(40.0)  # turns a second
    assert not Fan(**FAN, speed=0).running
    assert not Fan(**FAN, speed="0 rpm").running
    with pytest.raises(CaseError, match='a speed in rpm is text, "2400 rpm"'):
        Fan(**FAN, speed=2400)
    with pytest.raises(CaseError, match="cannot stand together"):
        Fan(**FAN, speed=0.5, rotation=40.0)


def test_the_sample_is_sound():
    """Every value of it can be read back through its own path."""
    case = everything()
    for path in case.keys("*"):
        assert given(case[path]), path
