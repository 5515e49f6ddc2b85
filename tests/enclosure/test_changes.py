"""Changes: the one mechanism behind scenarios, variants, sweeps and settings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flownet.enclosure.branches import Slot
from flownet.enclosure.changes import as_columns, converted, role_of, steps, width_of
from flownet.enclosure.fans import Clearance, Guard
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import Link, keys
from tests.each import every
from tests.every_kind import LINE, alternatives, everything

CASE = everything()


def changed(path, value):
    return CASE.with_changes({path: value})


# --- values --------------------------------------------------------------------------------------


def test_text_carries_its_unit_and_numbers_are_si():
    for value in ("50 degC", 323.15, np.float64(323.15), np.array(323.15), "122 degF"):
        assert changed("outside.temperature", value)["outside.temperature"] == pytest.approx(323.15)
    with pytest.raises(CaseError) as error:
        changed("outside.temperature", 50)
    assert str(error.value) == (
        "outside.temperature = 50 is 50 K; Python numbers are SI. "
        'Write "50 degC" or flownet.si("50 degC")'
    )


def test_the_old_enclosure_stays_as_it_is():
    before = CASE.digest
    changed("fan.*.speed", 0.5)
    assert CASE.digest == before


def test_later_changes_win_over_earlier_ones():
    first = CASE.with_changes({"fan.left.speed": 0.8, "fan.*.speed": 0.5})
    then = CASE.with_changes({"fan.*.speed": 0.5, "fan.left.speed": 0.8})
    assert [fan.speed for fan in first.fans.values()] == [0.5, 0.5, 0.5]
    assert [fan.speed for fan in then.fans.values()] == [0.8, 0.5, 0.5]


def test_all_faults_of_changes_come_at_once():
    with pytest.raises(CaseError) as error:
        CASE.with_changes({"fan.lef.speed": 1, "filter.mat.fouling": 0, "fan.left.state": "of"})
    assert [fault.partition(":")[0] for fault in error.value.faults] == [
        "fan.lef.speed", "filter.mat.fouling", "fan.left.state",
    ]  # fmt: skip


def test_what_a_change_breaks_between_keys_or_things_is_a_fault():
    for path, value, sentence in (
        ("baffle.shelf.open_area", "0.2 m2", "must not be larger than cross_section"),
        ("outside.over_pressure", 5.0, "is the reference"),
        ("slot.b.state", "filler", 'slot.b.state: "filler" needs filler'),
        ("fan_type.axial.curve", [(0, 40), (0, 0)], "appears twice"),
        ("recirculation.short.fraction", 0.995, "must be from 0 to 0.99"),
        ("filter.mat.fouling", 1e-300, r"must be at least 1e-12 \(got 1e-300\)"),
        ("fan.left.type", "zz", 'fan.left.type: no fan type "zz"; known: axial, small'),
        ("part.drive.resistance_over_velocity", [(1, 0.5)], "needs stream and flow_area"),
        ("compartment.high.outline.2", 0.0, "width and height must be above 0"),
        ("compartment.high.outline", None, "has no outline; give area instead"),
        ("part.drive.material", "steel", "mass: needs material"),
    ):
        with pytest.raises(CaseError, match=sentence):
            changed(path, value)


@every(
    ("path", "value"),
    [("fan.left.speed", [1, 0.5]), ("slot.a.type", ["line", "wide"]), ("fan.left.guard", [{}]),
     ("fan.left.type", np.array(["axial", "small"])), ("outside.temperature", np.array([300.0])),
     ("fan_type.axial.curve", [[(0, 5), (1, 0)]])],
)  # fmt: skip
def test_one_enclosure_takes_one_value(path, value):
    with pytest.raises(CaseError, match=f"{path}: takes one value here; solve_many takes arrays"):
        changed(path, value)


# --- sub-tables and lists ------------------------------------------------------------------------


def test_a_path_may_go_on_into_a_sub_table_or_a_list():
    assert changed("fan.left.guard.loss", 0.9)["fan.left.guard"] == Guard(loss=0.9)
    assert changed("leak.seal.flow_at.0", "4 m3/h")["leak.seal.flow_at"] == (4 / 3600, 10.0)
    assert changed("compartment.low.outline.3", "1 m").compartments["low"].outline[3] == 1.0
    shutter = changed("fan.right.shutter.closed_leak", 0.02).fans["right"].shutter
    assert (shutter.open_loss, shutter.closed_leak) == (0.5, 0.02)


def test_a_whole_sub_table_or_list_takes_the_place_of_the_old_one():
    new = changed("fan.left.clearance", {"outlet": "60 mm"})
    assert new["fan.left.clearance"] == Clearance(outlet=0.06)
    assert changed("fan.left.guard", Guard(loss=0.2))["fan.left.guard.loss"] == 0.2
    assert changed("fan.left.guard", {})["fan.left.guard.loss"] == 0.0
    assert changed("fan.right.shutter", None).fans["right"].shutter is None
    assert changed("filter.mat.at", np.array([0.1, 0.2]))["filter.mat.at.1"] == 0.2
    assert changed("filter.mat.at", None)["filter.mat.at"] is None


def test_a_sub_table_can_begin_with_a_change():
    made = CASE.with_changes({"fan.left.shutter.open_loss": 0.5,
                              "fan.left.shutter.closed_leak": "2 %"})  # fmt: skip
    assert made["fan.left.shutter.closed_leak"] == 0.02
    control = CASE.with_changes({"fan.left.speed_control": {
        "by": "outside", "temperature": "45 70 degC", "speed": [0.5, 1]}})  # fmt: skip
    assert control["fan.left.speed_control.temperature.1"] == pytest.approx(343.15)


@every(("path", "value", "sentence"), [
    ("fan.left.shutter.open_loss", 0.5, "fan.left.shutter.closed_leak: must be given"),
    ("vent.side.at.0", "1 m", "vent.side.at.1: must be given too"),
    ("fan.left.guard", {"los": 1}, 'guard.los: unknown key; did you mean "loss"'),
    ("fan.left.guard", "none", "guard: takes a table"),
    ("leak.seal.flow_at", ["2 m3/h"], "takes two values"),
    ("leak.seal.flow_at.1", None, "leak.seal.flow_at.1: a pressure is wanted"),
])  # fmt: skip
def test_a_sub_table_or_list_is_whole(path, value, sentence):
    with pytest.raises(CaseError) as error:
        changed(path, value)
    assert sentence in str(error.value)


# --- keys that exclude each other ----------------------------------------------------------------

PAIRS = [
    (kind, one, names) for kind, cls in KINDS.items() for names in cls.EXCLUSIVE for one in names
]


@every(("kind", "key", "names"), PAIRS)
def test_a_change_to_one_takes_back_the_others(kind, key, names):
    """For every kind that has such keys: after the change the other ones have no value."""
    of = {"outside": "", "slot": "a"}.get(kind) if kind in ("outside", "slot") else None
    name = next(iter(CASE.things[kind])) if of is None else of
    path = f"{kind}.{name}.{key}" if name else f"{kind}.{key}"
    role = keys(KINDS[kind])[key].role
    if type(role).__name__ == "WordList":
        with pytest.raises(CaseError, match="cannot be changed"):
            changed(path, ["front"])
        return
    value = {
        "curve": [(0, 1), (1, 0)], "velocity_drop": [(1.0, 5.0)], "section": (0.1, 0.2),
        "resistance_over_velocity": [(1.0, 0.5)], "material": "steel", "dew_point": 285.0,
        "resistance_law": {"a": 0.1, "b": 0.2, "n": 0.5, "velocity": 1.0}, "pressure": 9e4,
        "sun": {"irradiance": 500, "absorptance": 0.5}, "discharge_coefficient": 0.6,
         "facing": "up", "mounting": "row-end", "sky": "clear", "sky_temperature": 270.0,
         "sink": "comb",
    }.get(key, 0.5)  # fmt: skip
    settings = {step.place.key: step.value for step in steps(CASE, {path: value})}
    for other in set(names) - {key}:
        below = [v for k, v in settings.items() if k == other or k.startswith(f"{other}.")]
        assert below, other
        for v in below:
            assert v is None or v == () or (isinstance(v, float) and math.isnan(v))


def test_taking_one_back_leaves_the_other_that_is_set_beside_it():
    changes = {"outside.pressure": 9e4, "outside.altitude": None}
    for order in (changes, dict(reversed(changes.items()))):
        assert CASE.with_changes(order).outside.pressure == 9e4


def test_what_belongs_to_a_key_goes_with_it():
    assert math.isnan(changed("part.choke.power", 5.0)["part.choke.efficiency"])
    assert changed("part.choke.heat_capacity", 300.0)["part.choke.material"] is None
    assert changed("wall.door.solar", 100.0)["wall.door.sun"] is None
    sized = CASE.with_changes(
        {"slot.b.gap": 0.01, "slot.b.width": 0.2, "slot.b.length": 0.1}
    ).things["slot"]["b"]  # fmt: skip
    assert math.isnan(sized.area)
    assert math.isnan(sized.loss)
    assert math.isnan(changed("fan.left.speed", "1400 rpm")["fan.left.speed"])
    assert math.isnan(changed("fan.left.rotation", "1400 rpm")["fan.left.speed"])


def test_none_takes_back_what_may_be_left_out():
    assert math.isnan(changed("part.drive.limit", None)["part.drive.limit"])
    assert changed("fan.left.speed", None)["fan.left.speed"] == 1.0  # its default
    with pytest.raises(CaseError):
        changed("vent.roof.area", None)


@pytest.mark.parametrize("path", ["part.drive.limit", "vent.roof.area", "part.drive.power"])
@pytest.mark.parametrize("value", [math.nan, np.float64("nan"), np.array([350.0, math.nan])])
def test_not_a_number_is_refused_and_never_taken_for_not_given(path, value):
    """A limit lost in somebody's arithmetic must not become no limit."""
    with pytest.raises(CaseError, match=rf"{path}: must be finite \(got nan\)"):
        list(steps(CASE, {path: value}))


# --- what cannot be changed ----------------------------------------------------------------------


@every(
    "path",
    ["filter.mat.from", "filter.mat.to", "part.drive.in", "vent.guard.on",
     "exchange.middle.between", "wall.door.to", "recirculation.short.from", "part.choke.stream",
     "fan.*.from"],
)  # fmt: skip
def test_keys_that_shape_the_network_are_refused_by_name(path):
    with pytest.raises(CaseError, match="this key shapes the network and cannot be changed"):
        changed(path, "low")
    with pytest.raises(CaseError, match="this key shapes the network and cannot be changed"):
        converted(CASE, path, "low")
    with pytest.raises(CaseError, match="this key shapes the network and cannot be changed"):
        as_columns(CASE, {path: ["low", "high"]})


def test_every_link_that_does_not_vary_is_refused():
    for kind, named in CASE.things.items():
        for name, item in named.items():
            for key, declared in keys(type(item)).items():
                if isinstance(declared.role, Link) and not declared.role.varies:
                    with pytest.raises(CaseError, match="shapes the network"):
                        role_of(CASE.place(f"{kind}.{name}.{key}"))


@every("path", ["limits.scenarios", "wall.door.faces", "fan_type.axial.rating"])
def test_lists_of_words_are_not_changed(path):
    with pytest.raises(CaseError, match=f"{path}: this key cannot be changed"):
        changed(path, ["a"])


def test_words_and_names_must_be_known():
    for path, value, sentence in (
        ("fan.left.type", "axiall", 'no fan type "axiall"; did you mean "axial"?'),
        ("fan.left.type", "axial.rating.sixty", "no fan type"),
        ("slot.a.type", "lin", 'no slot type "lin"; did you mean "line"?'),
        ("vent.roof.type", "x", 'no vent type "x"'),
        ("fan.left.supply", "main", 'no supply "main"; did you mean "mains"?'),
        ("fan.left.mounted", "backward", 'must be one of "forward", "reversed"'),
        ("baffle.shelf.present", "yes", "must be one of true, false"),
    ):
        with pytest.raises(CaseError) as error:
            changed(path, value)
        assert sentence in str(error.value)
        with pytest.raises(CaseError):
            converted(CASE, path, value)


# --- types and ratings ---------------------------------------------------------------------------


def test_another_type_brings_its_keys_and_takes_back_those_of_the_old_one():
    case = everything(types={"slot_type": {
        "line": LINE, "hot": {"gap": "10 mm", "width": "0.2 m", "length": "0.1 m"}}})  # fmt: skip
    slot = case.with_changes({"slot.a.type": "hot"}).things["slot"]["a"]
    assert (slot.gap, slot.width, slot.length) == (0.01, 0.2, 0.1)
    assert (slot.power, slot.free_ratio) == (0.0, 0.0)  # what "line" gave is not there any more
    assert slot.type == "hot"
    assert slot.filler is not None  # its own
    assert slot.direction == "up"


def test_what_a_thing_says_itself_is_not_its_types():
    own = everything().things["slot"]["a"]
    assert own.given == {"from", "to"}
    case = CASE.with_changes({"slot.a.type": "wide"})
    assert (case["slot.a.gap"], case["slot.a.power"], case["slot.a.from"]) == (0.03, 5.0, "low")
    narrow = Slot(**{"name": "a", "from_": "low", "to": "high", "type": "line", **LINE, "gap": 0.02,
                     "given": frozenset({"from", "to", "gap"})})  # fmt: skip
    case = everything(narrow).with_changes({"slot.a.type": "wide"})
    assert (case["slot.a.gap"], case["slot.a.power"]) == (0.02, 5.0)


def test_a_change_of_a_fan_type_reaches_its_ratings():
    """Those that do not say it themselves; a rating can be changed by itself as well."""
    power = "fan_type.axial.rating.sixty.power"
    assert changed("fan_type.axial.noise_dBA", 50)["fan_type.axial.rating.sixty.noise_dBA"] == 50
    ranged = changed("fan_type.axial.speed_range", (0.5, 0.8)).things["fan_type"]
    assert ranged["axial.rating.sixty"].speed_range == (0.5, 0.8)  # a list as its single values
    assert changed("fan_type.axial.power", 30)[power] == 23.0
    alone = changed(power, 25.0)
    assert (alone[power], alone["fan_type.axial.power"]) == (25.0, 19.0)
    assert alone.things["fan_type"]["axial"].rating["sixty"]["power"] == 25.0
    louder = changed("fan_type.axial.rating.sixty.noise_dBA", 47)
    both = louder.with_changes({"fan_type.axial.noise_dBA": 41})
    assert both["fan_type.axial.rating.sixty.noise_dBA"] == 47  # it says so itself now
    curve = [(0, 90), (0.05, 0)]
    assert changed("fan_type.axial.curve", curve)["fan_type.axial.rating.sixty.curve"] != curve


def test_a_fault_of_a_type_is_not_told_again_for_its_ratings():
    with pytest.raises(CaseError) as error:
        changed("fan_type.axial.flow_area", "1 m2")
    assert error.value.faults == ("fan_type.axial.flow_area: must not be larger than the frame",)


# --- arrays --------------------------------------------------------------------------------------


def found(path, raw):
    """Values over variants as steps take them, one list a key."""
    wide = as_columns(CASE, {path: raw})
    return {
        step.place.key: step.value.tolist() if isinstance(step.value, np.ndarray) else step.value
        for step in steps(CASE, wide)
        if not (isinstance(step.value, float) and math.isnan(step.value))
    }


def test_a_list_is_one_value_a_variant():
    class Column:  # of a data frame
        def __array__(self, dtype=None, copy=None):
            return np.array([0.5, 1.0])

    for raw in ([0.5, 1], (0.5, 1.0), np.array([0.5, 1.0]), np.array([0.5, 1.0], object), Column()):
        assert found("fan.left.pressure_factor", raw) == {"pressure_factor": [0.5, 1.0]}
    assert found("slot.b.count", range(1, 4)) == {"count": [1.0, 2.0, 3.0]}
    assert found("outside.altitude", ["0 m", 900, "1000 ft"])["altitude"] == pytest.approx(
        [0, 900, 304.8]
    )
    words = ["running", "stopped"]
    for raw in (words, tuple(words), np.array(words)):
        assert found("fan.left.state", raw) == {"state": words}
    assert found("baffle.shelf.present", np.array([True, False])) == {"present": [True, False]}
    assert found("fan.left.supply", ["mains", None]) == {"supply": ["mains", None]}


def test_a_list_that_is_one_value_is_one_value():
    assert found("leak.seal.flow_at", ["2 m3/h", "10 Pa"]) == {
        "flow_at.0": 2 / 3600, "flow_at.1": 10.0,
    }  # fmt: skip
    assert found("leak.seal.flow_at", [(1e-3, 10.0), (2e-3, 20.0)]) == {
        "flow_at.0": [1e-3, 2e-3], "flow_at.1": [10.0, 20.0],
    }  # fmt: skip
    assert found("filter.mat.at", np.array([1.0, 2.0])) == {"at.0": 1.0, "at.1": 2.0}
    assert found("fan.left.guard", [{"loss": 1.0}, {}]) == {"guard.loss": [1.0, 0.0]}


def test_tables_are_one_or_one_a_variant():
    one, two = ((0.0, 5.0), (1.0, 0.0)), ((0.0, 7.0), (1.0, 0.0))
    by_column = {"flow": [0, 1], "rise": "7 0 Pa"}
    for raw in (one, list(one), np.array(one), {"flow": [0, 1], "rise": [5, 0]}):
        assert found("fan_type.small.curve", raw) == {"curve": one}
    for raw in ([one, two], (one, two), np.array([one, two]), [one, by_column], [by_column, two]):
        assert found("fan_type.small.curve", raw)["curve"][1] == two
    bends = [{"angle": 90, "radius_ratio": 1.5}, {"angle": "45 deg", "radius_ratio": 1}]
    assert found("duct.riser.bends", bends) == {"bends": ((90.0, 1.5), (45.0, 1.0))}
    routes = [["0 0 m", "0 1 m"], ["0 0 m", "1 1 m", "0 2 m"]]
    assert found("duct.riser.route", routes[0]) == {"route": ((0.0, 0.0), (0.0, 1.0))}
    assert len(found("duct.riser.route", routes)["route"][1]) == 3
    assert found("duct.riser.bends", [[], [(90, 1)]])["bends"] == [(), ((90.0, 1.0),)]
    by_row = [["0 m3/h", "78 Pa"], ["110 m3/h", "0 Pa"]]
    assert len(found("fan_type.small.curve", by_row)["curve"]) == 2
    objects = np.empty(2, object)
    objects[:] = [bends, None]
    assert found("duct.riser.bends", objects)["bends"] == [((90.0, 1.5), (45.0, 1.0)), None]


def test_speeds_in_rpm_and_ratios_may_stand_in_one_list():
    both = found("fan.left.speed", ["1400 rpm", 0.5, "2800 rpm"])
    assert both["rotation"][0] == pytest.approx(1400 / 60)
    assert both["speed"][1] == 0.5
    assert np.isnan([both["rotation"][1], both["speed"][0], both["speed"][2]]).all()
    assert found("fan.left.speed", ["1200 rpm", "1500 rpm"]) == {"rotation": [20.0, 25.0]}
    assert found("fan.left.speed", np.array(["1200 rpm", "0.5"])).keys() == {"rotation", "speed"}


@every(("path", "raw", "sentence"), [
    ("fan.left.speed", [], "fan.left.speed: takes one value for all variants, or one each"),
    ("fan.left.speed", [1.0, 9.0], "fan.left.speed: must be from 0 to 2 (got 9)"),
    ("fan.left.speed", [1.0, "2400 Hz"], '"2400 Hz" is a frequency'),
    ("fan.left.speed", [1.0, True], "a plain number is wanted"),
    ("fan.left.speed", [[1.0, 0.5]], "a plain number is wanted"),
    ("fan.left.speed", np.array([1.0, np.inf]), "must be finite (got inf)"),
    ("outside.temperature", np.array([300.0, 40.0]), "outside.temperature = 40 is 40 K"),
    ("vent.roof.area", [1e-3, np.nan], "vent.roof.area: must be finite (got nan)"),
    ("fan.left.state", ["running", "of"], "must be one of"),
    ("fan.left.type", ["axial", "x"], 'no fan type "x"'),
    ("slot.a.type", ["line", "x"], 'no slot type "x"'),
    ("slot.a.type", 5, 'no slot type "5"'),
    ("fan_type.axial.curve", [[(0, 5)], [(0, 5), (1, 0)]], "needs at least 2 rows"),
])  # fmt: skip
def test_a_wrong_value_among_many_is_told(path, raw, sentence):
    with pytest.raises(CaseError) as error:
        list(steps(CASE, as_columns(CASE, {path: raw})))
    assert sentence in str(error.value)


def test_arrays_have_one_length():
    wide = as_columns(
        CASE, {"fan.*.speed": [1, 0.5], "outside.altitude": [0, 1, 2], "limits.margin": 5}
    )
    with pytest.raises(CaseError, match=r"\(got fan\.\*\.speed: 2, outside\.altitude: 3\)"):
        width_of(wide)
    assert width_of({"a": np.zeros(3), "b": np.zeros(1), "c": 1.0}) == 3
    assert width_of({}) == 1
    with pytest.raises(CaseError, match=r"got a: 3, among 4 variants"):
        width_of({"a": np.zeros(3)}, 4)


def test_complex_numbers_pass():
    value = 313.15 + 1e-20j
    assert found("outside.temperature", np.array([value, value])) == {"temperature": [value, value]}
    assert found("outside.temperature", value) == {"temperature": value}


def test_another_value_is_in_its_place():
    """What a change sets is what its path gives afterwards, at every key of every kind."""
    tried = 0
    for path, value, made in alternatives():
        assert made[path] == value or made[path] == pytest.approx(value), path
        tried += 1
    assert tried > 400
