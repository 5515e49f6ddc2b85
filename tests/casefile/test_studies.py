"""Scenarios, variants, sweeps, tolerances, choices and timelines of a case file."""

from __future__ import annotations

from itertools import pairwise

import pytest

from flownet.enclosure.scenarios import scenario_changes
from tests.casefile.small import BASE, faults, load
from tests.each import each, named

CASE = (
    BASE + '[part.p]\nin = "box"\npower = "20 W"\nlimit = "80 degC"\n[supply.s]\nvoltage = "24 V"\n'
    '[vent.v]\nfrom = "top"\nto = "outside"\narea = "5 cm2"\nopen_ratio = 0.5\n'
)


def said(folder, extra):
    """The faults without the file's name."""
    found = faults(folder, CASE + extra)
    assert all(line.startswith("case.toml: ") for line in found)
    return [line.removeprefix("case.toml: ") for line in found]


def test_changes_are_read_in_si_and_words(tmp_path):
    extra = (
        '[scenario.hot]\nnote = "n"\noutside.temperature = "50 degC"\n'
        'fan.left.state = "stopped"\n"fan.*.speed" = "2400 rpm"\n'
        '"vent.v.area" = "1 cm2"\nfan_type.plain.curve = { flow = "0 9 m3/h", rise = "8 0 Pa" }\n'
        'fan.left.guard = { loss = 0.5 }\nopening.low.at = ["1 mm", "2 mm"]\n'
    )
    case = load(tmp_path, CASE + extra)
    assert case.scenarios["hot"] == {
        "fan.*.speed": "2400 rpm",
        "outside.temperature": 323.15,
        "fan.left.state": "stopped",
        "vent.v.area": 1e-4,
        "fan_type.plain.curve": ((0.0, 8.0), (0.0025, 0.0)),
        "fan.left.guard.loss": 0.5,
        "opening.low.at": (0.001, 0.002),
    }
    assert case.studies["remarks"]["scenario.hot"] == {"note": "n"}
    hot = case.under("hot")
    assert (hot["fan.left.rotation"], hot["fan.left.guard.loss"]) == (40.0, 0.5)


CONTROL = '{ by = "part.p", temperature = "40 60 degC", speed = [0.4, 1] }'


def test_a_group_with_points_is_given_whole_or_by_its_other_keys(tmp_path):
    """And one without points key by key, as `guard = { loss = 0.5 }` is."""
    text = (
        f"[variant.follows]\nfan.left.speed_control = {CONTROL}\n[scenario.out]\n"
        '"fan.left.speed_control" = { by = "outside", temperature = "10 20 30 degC", speed = '
        "[0.2, 0.3, 1] }\nfan.left.shutter = { open_loss = 0.5, closed_leak = 0.02 }\n"
        '[variant.other]\nlike = "follows"\nfan.left.speed_control.by = "compartment.box"\n'
    )
    case = load(tmp_path, CASE + text)
    points = {"follows": "part.p", "other": "compartment.box"}
    for variant, by in points.items():
        made = case.under("base", variant).fans["left"].speed_control
        assert (made.by, made.speed) == (by, (0.4, 1.0))
    made = case.under("out", "follows").fans["left"]
    assert (made.speed_control.by, len(made.speed_control.speed)) == ("outside", 3)
    assert made.shutter.closed_leak == 0.02
    assert case.fans["left"].speed_control is None
    path = "variant.v.fan.left.speed_control"
    for raw, wanted in (
        ("{ speed = [0.2, 1] }", [f"{path}.by: must be", f"{path}.temperature: must be"]),
        (CONTROL.replace("[0.4, 1]", "[0.4]"), [f"{path}.speed: "]),
        (CONTROL.replace("part.p", "part.q"), [f"{path}.by: no part".replace(".fan", ": fan")]),
    ):
        found = said(tmp_path, f"[variant.v]\nfan.left.speed_control = {raw}\n")
        assert len(found) == len(wanted)
        assert all(line.startswith(start) for line, start in zip(found, wanted, strict=True))


def test_a_path_without_star_says_more_wherever_it_stands(tmp_path):
    extra = '[scenario.a]\nfan.left.speed = 1.0\n"fan.*.speed" = 0.5\n[fan.right]\nlike = "left"\n'
    case = load(tmp_path, CASE + extra).under("a")
    assert (case["fan.left.speed"], case["fan.right.speed"]) == (1.0, 0.5)


def test_like_joins_from_left_to_right_and_later_wins(tmp_path):
    extra = (
        '[scenario.a]\nfan.left.speed = 0.9\npart.p.power = "1 W"\n'
        '[scenario.b]\n"fan.*.speed" = 0.5\n'
        '[scenario.ab]\nlike = ["a", "b"]\n[scenario.ba]\nlike = "b+a"\n'
        '[scenario.out]\nlike = ["ab", "fan.left-out"]\npart.p.power = "3 W"\n'
    )
    scenarios = load(tmp_path, CASE + extra).scenarios
    assert scenarios["ab"] == {"part.p.power": 1.0, "fan.*.speed": 0.5}
    assert scenarios["ba"] == {"fan.*.speed": 0.5, "fan.left.speed": 0.9, "part.p.power": 1.0}
    assert scenarios["out"] == {
        "part.p.power": 3.0, "fan.*.speed": 0.5, "fan.left.state": "stopped",
    }  # fmt: skip


def test_joined_scenarios_let_the_later_win_whatever_stood_first(tmp_path):
    extra = '[scenario.a]\n"fan.*.speed" = 0.9\n[scenario.b]\nfan.left.speed = 0.5\n'
    case = load(tmp_path, CASE + extra)
    assert list(scenario_changes(case, "b+a")) == ["fan.*.speed"]
    assert case.under("b+a")["fan.left.speed"] == 0.9
    assert case.under("a+b")["fan.left.speed"] == 0.5


@each(named([
        ('[scenario.x]\noutside.temperature = 50\n"fan.*.speed" = "2400 Hz"\n'
         'fan.lft.state = "stopped"\nfan.left.stat = "stopped"\nfan.left.state = "stop"\n'
         '"filter.*.fouling" = 3\nfan.left.from = "box"\nfan.left.type = "pla"\n'
         'grille.x.loss = 3\nfan.left.supply = "ss"\nlimits.scenarios = ["a"]\n'
         "vent.v.open_ratio = 63", [
            'x.fan.*.speed: "2400 Hz" is a frequency; a speed of rotation is wanted, '
            'such as "2400 rpm"',
            'x.filter.*.fouling: "*" matches no filter',
            'x.outside.temperature: 50 has no unit; a temperature is wanted, such as "40 degC"',
            'x.fan.lft.state: no fan "lft"; did you mean "left"?',
            'x.fan.left.stat: fan has no key "stat"; did you mean "state"?',
            'x.fan.left.state: must be one of "running", "stopped", "freewheeling", "blanked" (got '
            '"stop"); did you mean "stopped"?',
            "x.fan.left.from: this key shapes the network and cannot be changed; make both "
            "arrangements in the case and switch them by state",
            'x.fan.left.type: no fan type "pla"; did you mean "plain"?',
            'x.fan.left.supply: no supply "ss"; did you mean "s"?',
            'x.grille.x.loss: no kind "grille"; did you mean "vent"?',
            "x.limits.scenarios: this key cannot be changed",
            "x.vent.v.open_ratio: must be from 0.01 to 0.99 (got 63); did you mean 0.63?"]),
        ('[scenario.x]\noutside.temperature = "50 degC"\n"outside.temperature" = "40 degC"', [
            "x.outside.temperature: stands twice"]),
        ('[scenario.x]\nvent.v.construction = "round-edged"\nvent.v.open_ratio = 0.9', [
            "x: vent.v.open_ratio: round-edged grilles are known from 0.3 to 0.7 (got 0.9)"]),
        ('[scenario.x]\nlike = "y"\n[scenario.y]\nlike = "x"', [
            "x.like: a circle: x -> y -> x"]),
        ("[scenario.x]\nlike = 5", ["x.like: takes a name or a list of names (got 5)"]),
        ('[scenario.x]\nlike = "hit"\n[scenario.hot]', [
            'x.like: no scenario "hit"; did you mean "hot"?']),
        ("[scenario.base]", ['base: "base" is reserved']),
        ("[scenario.x-out]", ['x-out: names ending in "-out" are reserved for outages']),
        ('[scenario."a+b"]', ['"a+b": a name is made of letters, digits, - and _']),
        ("[scenario]\nx = 3", [
            "x: belongs into a table with a name; write [scenario.NAME] above it"]),
    ]), "extra lines")  # fmt: skip
def test_a_scenario_is_checked_when_it_is_read(tmp_path, extra, lines):
    assert said(tmp_path, extra) == [f"scenario.{line}" for line in lines]


def test_a_variant_is_like_variants_only(tmp_path):
    extra = '[scenario.hot]\n[variant.v]\nlike = "hot"\n[variant.w]\nlike = "v"\n'
    assert said(tmp_path, extra) == ['variant.v.like: no variant "hot"']


def test_the_names_in_limits_are_checked(tmp_path):
    names = (
        '"base", "fan.left-out", "supply.s-out", "each-fan-out+base", "each-supply-out", '
        '"hit", "each-fan-out+fan.lft-out", "hot+hot"'
    )
    assert said(tmp_path, f"[scenario.hot]\n[limits]\nscenarios = [{names}]") == [
        'limits.scenarios: no scenario "hit"; did you mean "hot"?',
        'limits.scenarios: scenario "fan.left-out+fan.lft-out": no scenario "fan.lft-out"; '
        'did you mean "fan.left-out"?',
        'limits.scenarios: scenario "hot+hot": hot stands twice; name it once',
    ]


# --- sweeps ------------------------------------------------------------------------------------


def test_values_and_ranges_of_a_sweep(tmp_path):
    extra = (
        '[sweep.a]\n"outside.altitude" = "0 to 4000 m in 3"\n'
        '"outside.temperature" = "-20 50 degC"\n'
        '"fan.left.speed" = "1000 to 2000 rpm in 3"\n"opening.low.area" = "1 to 5 in2"\n'
        '"opening.mid.area" = "1 to 5 in2 in 3"\n"part.p.power" = ["1 W", "5 W"]\n'
        '"part.p.load" = "0.5 to 1 in 2"\nfan.left.state = ["running", "stopped"]\n'
        '"part.p.limit" = "50 degC to 343.15 K"\ntag = "-S1"\n'
    )
    case = load(tmp_path, CASE + extra)
    inch = 0.0254**2
    assert case.studies["sweep"]["a"] == {
        "outside.altitude": (0.0, 2000.0, 4000.0),
        "outside.temperature": pytest.approx((253.15, 323.15), abs=1e-9),
        "fan.left.speed": ("1000 rpm", "1500 rpm", "2000 rpm"),
        "opening.low.area": {"low": pytest.approx(inch), "high": pytest.approx(5 * inch)},
        "opening.mid.area": pytest.approx((inch, 3 * inch, 5 * inch)),
        "part.p.power": (1.0, 5.0),
        "part.p.load": (0.5, 1.0),
        "fan.left.state": ("running", "stopped"),
        "part.p.limit": {"low": 323.15, "high": 343.15},
    }
    assert case.studies["remarks"]["sweep.a"] == {"tag": "-S1"}


def test_a_range_has_both_its_ends_exactly(tmp_path):
    case = load(tmp_path, CASE + '[sweep.a]\n"part.p.load" = "0.1 to 0.7 in 101"\n')
    values = case.studies["sweep"]["a"]["part.p.load"]
    assert (len(values), values[0], values[-1]) == (101, 0.1, 0.7)
    steps = [b - a for a, b in pairwise(values)]
    assert steps == pytest.approx([0.006] * 100, rel=1e-9)


@each(named([
        ('"fan.left.speed" = "1000 to 2000 rpm"',
         'fan.left.speed: a range of speeds in rpm needs its count, such as "... in 5"'),
        ('"opening.low.area" = "5 to 3 cm2 in 3"',
         'opening.low.area: a range goes from low to high (got "5 to 3 cm2 in 3")'),
        ('"opening.low.area" = "5 cm2"',
         "opening.low.area: takes a list of values, or a range such as "
         '"450 to 900 cm2 in 5" (got "5 cm2")'),
        ('"part.p.limit" = []',
         'part.p.limit: takes a list of values, or a range such as "40 to 80 degC in 5" '
         "(got [])"),
        ('"part.p.load" = "1 to 3 in 1"', "part.p.load: a range has 2 to 100000 values (got 1)"),
        ('"part.p.resistance_factor" = "0 to 3 in 9"',
         "part.p.resistance_factor: must be above 0 (got 0)"),
        ('"fan.left.guard" = [1]',
         "fan.left.guard: holds several values; name one, such as fan.left.guard.loss"),
        ('"fan.left.state" = "running"', 'fan.left.state: takes a list of values (got "running")'),
        ('"fan.left.tag" = ["a"]', "fan.left.tag: cannot be varied"),
        ('"part.p.q" = ["1 W"]', 'part.p.q: part has no key "q"; did you mean "power"?'),
        ('"part.p.stream" = ["fan.left"]',
         "part.p.stream: this key shapes the network and cannot be changed; make both "
         "arrangements in the case and switch them by state"),
    ]), "line what")  # fmt: skip
def test_a_sweep_is_checked_when_it_is_read(tmp_path, line, what):
    assert said(tmp_path, f"[sweep.a]\n{line}") == [f"sweep.a.{what}"]


def test_a_sweep_without_a_path(tmp_path):
    assert said(tmp_path, "[sweep.a]") == ["sweep.a: names no path to vary"]


# --- tolerances --------------------------------------------------------------------------------


def test_tolerances_are_shares_or_amounts(tmp_path):
    extra = (
        '[tolerance]\n"part.p.power" = "6 W"\n"part.*.load" = "6 %"\noutside.temperature = "2 K"\n'
        '"vent.v.open_ratio" = { within = "20 %", shape = "lognormal" }\n'
        'opening.low.area = { within = "5 %", together = true }\n'
        'part.p.limit = { within = "0 K", shape = "uniform" }\nnote = "n"\n'
    )
    case = load(tmp_path, CASE + extra)
    plain = {"relative": True, "shape": "normal", "together": False}
    assert case.studies["tolerance"] == {
        "part.p.power": plain | {"within": 6.0, "relative": False},
        "part.*.load": plain | {"within": 0.06},
        "outside.temperature": plain | {"within": 2.0, "relative": False},
        "vent.v.open_ratio": plain | {"within": 0.2, "shape": "lognormal"},
        "opening.low.area": plain | {"within": 0.05, "together": True},
        "part.p.limit": {"within": 0.0, "relative": False, "shape": "uniform", "together": False},
    }
    assert case.studies["remarks"]["tolerance"] == {"note": "n"}


SHARE = 'a share of the value is wanted, such as "6 %"'


@each(named([
        ('"part.p.power" = 6', f'part.p.power: {SHARE}, or an amount, such as "96 W" (got 6)'),
        ('"part.p.load" = 0.06', f"part.p.load: {SHARE} (got 0.06)"),
        ('"part.p.load" = "150 %"', 'part.p.load: must be below 100 % (got "150 %")'),
        ('"part.p.load" = "-5 %"', "part.p.load: must be at least 0 (got -0.05)"),
        ('"part.p.limit" = "6 %"',
         'part.p.limit: "6 %" of a temperature has no meaning; a difference is wanted, '
         'such as "2 K"'),
        ('"fan.left.state" = "5 %"', "fan.left.state: is no number and has no tolerance"),
        ('"part.p.load" = { within = "5 %", shape = "gauss" }',
         'part.p.load.shape: must be one of normal, lognormal, uniform (got "gauss")'),
        ('"part.p.load" = { within = "5 %", x = 1 }',
         "part.p.load.x: unknown key; the keys are within, shape, together"),
        ('"outside.temperature" = { within = "2 K", shape = "lognormal" }',
         'outside.temperature.shape: "lognormal" goes with a share, such as within = "20 %"'),
        ('"part.p.pwr" = "5 %"', 'part.p.pwr: part has no key "pwr"; did you mean "power"?'),
    ]), "line what")  # fmt: skip
def test_a_tolerance_is_checked_when_it_is_read(tmp_path, line, what):
    assert said(tmp_path, f"[tolerance]\n{line}") == [f"tolerance.{what}"]


# --- choices -----------------------------------------------------------------------------------


def test_choices_name_what_is_best_and_what_is_open(tmp_path):
    extra = (
        '[choice.a]\nbest = ["noise", "price"]\n"fan.*.type" = "any"\n'
        '"opening.low.area" = "1 to 5 cm2"\n[choice.b]\n"fan.left.type" = ["plain"]\n'
        '"part.p.load" = "0.5 to 1 in 3"\nbest = "power"\n[choice.c]\nvent.v.state = ["open"]\n'
    )
    found = load(tmp_path, CASE + extra).studies["choice"]
    assert found["a"]["best"] == ("noise", "price")
    assert found["a"]["vary"]["fan.*.type"] == "any"
    assert found["a"]["vary"]["opening.low.area"] == {"low": 1e-4, "high": 5e-4}
    assert found["b"] == {
        "best": ("power",),
        "vary": {"fan.left.type": ("plain",), "part.p.load": (0.5, 0.75, 1.0)},
    }
    assert found["c"]["best"] == ("temperature",)


WORDS = '"noise", "power", "temperature", "price"'


@each(named([
        ('best = ["noise", "power", "price"]',
         f'best: takes one or two of {WORDS} (got ["noise", "power", "price"])'),
        ('best = "cost"', f'best: takes one or two of {WORDS} (got "cost")'),
        ("best = []", f"best: takes one or two of {WORDS} (got [])"),
        ('best = ["noise", "noise"]',
         f'best: takes one or two of {WORDS} (got ["noise", "noise"])'),
        ("best = [[1]]", f"best: takes one or two of {WORDS} (got [[1]])"),
        ('"fan.left.type" = ["x"]', 'fan.left.type: no fan type "x"; known: plain'),
        ('"fan.left.state" = "any"', 'fan.left.state: takes a list of values (got "any")'),
    ]), "lines what")  # fmt: skip
def test_a_choice_is_checked_when_it_is_read(tmp_path, lines, what):
    more = "" if "fan." in lines else '\n"vent.v.state" = ["open", "blanked"]'
    assert said(tmp_path, f"[choice.a]\n{lines}{more}") == [f"choice.a.{what}"]


def test_a_choice_without_a_path(tmp_path):
    assert said(tmp_path, '[choice.a]\nbest = "noise"') == ["choice.a: names no path to choose for"]


# --- timelines ---------------------------------------------------------------------------------

EVENTS = 'such as events = [{ after = "60 s", set = { "fan.left.state" = "stopped" } }]'


def test_a_timeline_with_events(tmp_path):
    extra = (
        '[scenario.hot]\n[timeline.t]\nscenario = "hot+fan.left-out"\nstart = "cold"\n'
        'until = "5 min"\nevents = [{ after = "1 s", set = { "fan.left.state" = "stopped" } }, '
        '{ after = "1 min", over = "30 s", set = { part.p.power = "5 W" } }]\n'
    )
    assert load(tmp_path, CASE + extra).studies["timeline"]["t"] == {
        "scenario": "hot+fan.left-out",
        "start": "cold",
        "until": 300.0,
        "inputs_csv": "",
        "events": (
            {"after": 1.0, "over": 0.0, "set": {"fan.left.state": "stopped"}},
            {"after": 60.0, "over": 30.0, "set": {"part.p.power": 5.0}},
        ),
    }


@each(named([
        ("", ['until: must be given; when the time ends, such as "30 min"']),
        ('until = "-5 s"', ["until: must be at least 0 s (got -5 s)"]),
        ('until = "5 s"\nscenario = "hut"\nfoo = 1', [
            "foo: unknown key; the keys are scenario, start, until, events, inputs_csv",
            'scenario: no scenario "hut"; known: base, fan.left-out, '
            "supply.s-out"]),
        ('until = "5 s"\nscenario = 3', ["scenario: takes the name of a scenario (got 3)"]),
        ('until = "5 s"\nscenario = "each-fan-out"\n[fan.r]\nlike = "left"', [
            'scenario: "each-fan-out" stands for several; a timeline has one']),
        ('until = "5 s"\nstart = "warm"', [
            'start: must be one of "steady", "cold" (got "warm")']),
        ('until = "5 s"\nevents = 3', [f"events: takes a list, {EVENTS}"]),
        ('until = "5 s"\nevents = [{ after = "6 s", over = "1 s", '
         'set = { "fan.left.state" = "stopped" } }]', [
            "events.0.after: comes after the end, 5 s (got 6 s)",
            "events.0.set.fan.left.state: is no number and cannot change gradually"]),
        ('until = "5 s"\nevents = [{ set = {} }]', [
            'events.0.after: must be given; when it happens, such as "60 s"',
            'events.0.set: takes paths and values, such as {"after": "60 s", "set": '
            '{"fan.left.state": "stopped"}}']),
        ('until = "5 s"\nevents = [{ after = "1 s", ovr = 3, set = { part.p.power = 5 } }]', [
            'events.0.ovr: unknown key; did you mean "over"?',
            'events.0.set.part.p.power: 5 has no unit; a power is wanted, such as "96 W"']),
        ('until = "5 s"\nevents = [{ after = "1 s", set = { fan.left.state = "stopped" } }, '
         '{ after = "1 s", set = { "fan.*.state" = "running" } }]', [
            "events.1: fan.left.state is set at 1 s by events.0 as well; set it once, or at "
            "different times"]),
    ]), "lines what")  # fmt: skip
def test_a_timeline_is_checked_when_it_is_read(tmp_path, lines, what):
    assert said(tmp_path, f"[timeline.t]\n{lines}") == [f"timeline.t.{line}" for line in what]


def test_a_study_has_a_name_that_a_command_line_can_name(tmp_path):
    for kind in ("sweep", "choice", "timeline"):
        what = "begins with -, which begins an option of the command line"
        assert f"{kind}.-x: {what}" in said(tmp_path, f"[{kind}.-x]")


def test_studies_cannot_be_changed_afterwards(tmp_path):
    data = '[part.q]\nin = "box"\ndata = { a = [1, { b = 2 }] }'
    extra = f'[tolerance]\n"part.p.load" = "6 %"\n{data}'
    case = load(tmp_path, CASE + extra)
    with pytest.raises(TypeError):
        case.studies["tolerance"]["part.p.load"]["within"] = 1.0
    with pytest.raises(TypeError):
        case.parts["q"].data["a"][1]["b"] = 3
