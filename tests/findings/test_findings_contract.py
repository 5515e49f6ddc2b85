"""What every rule promises: its texts, its severity, its place among the others."""

from __future__ import annotations

import dataclasses
import inspect
import math
import pickle
import re
from pathlib import Path

import pytest

from flownet.findings import RULES, find, rule, say
from flownet.findings.rule import GAP, Rule, few, texts
from flownet.results.finding import SEVERITIES, Finding
from flownet.results.solution import Solution
from flownet.schema import quantities
from tests.each import each, named
from tests.findings import samples
from tests.findings.build import air_limit, axial, part_limit, solved, things
from tests.findings.test_findings_conditions import EVERY, FILLED
from tests.findings.test_findings_values import CASES


# The names that the page of the case format gives to rules, as far as one solution shows them.
def test_errors_are_broken_limits_and_void_numbers():
    """Elsewhere than where limits must hold they are warnings, but for data of another supply."""
    errors = {n for n, made in RULES.items() if made.texts["severity"] == "error"}
    assert errors == {
        "limit-part", "limit-air", "limit-touch", "limit-dew", "limit-flow", "limit-noise",
        "limit-life", "fan-stall",
        "fan-backflow", "fans-opposed", "supply-mismatch", "unstable-state"}  # fmt: skip
    elsewhere = {n for n, made in RULES.items() if made.texts.get("elsewhere") == "warning"}
    assert elsewhere == errors - {"supply-mismatch"}


def test_units_follow_the_reader():
    (finding,) = solved(limits=(air_limit("upper", 52.0, 50.0),)).findings
    assert "2.0 K over 50.0 degC" in finding.message("metric")
    assert "3.6 degF over 122.0 degF" in finding.message("us")


def test_a_sound_case_has_no_findings():
    assert find(solved()) == ()


def test_nothing_is_said_where_nothing_is_known():
    """Missing numbers, a second outside, elements on other branches: no error, no finding."""
    assert samples.vacuum().findings == ()
    assert samples.two_surroundings().findings == ()


def test_an_empty_enclosure_has_no_findings():
    alone = {name: thing for name, thing in things().items() if name in ("outside", "lower")}
    assert solved(alone, flows={}, warm={}, scenarios={}).findings == ()


@each(named(("stopped", "blanked")))
def test_a_fan_that_does_not_run_is_not_judged_as_one(state):
    found = solved(things(roof=samples.roof(state=state)), fans={"fan.roof": {"rise": math.nan}})
    assert [finding.rule for finding in found.findings] == []


def test_worst_first_then_in_the_order_of_the_rules_then_by_subject():
    made = solved(
        things(type=axial(curve={"flow": "0 160 m3/h", "rise": "70 9 Pa"})),
        limits=(
            air_limit("upper", 52.0, 50.0), part_limit("drive", 92.0, 90.0),
        ),
    )  # fmt: skip
    found = [(finding.severity, finding.rule) for finding in made.findings]
    assert found == [
        ("error", "limit-part"), ("error", "limit-air"), ("warning", "curve-two-points"),
        ("note", "curve-ends-above-zero"),
    ]  # fmt: skip
    severities = [SEVERITIES.index(severity) for severity, _ in found]
    assert severities == sorted(severities)


def test_findings_can_be_sent_to_another_process():
    made = solved(limits=OVER).findings
    assert pickle.loads(pickle.dumps(made)) == made


# --- severity -----------------------------------------------------------------------------------

OVER = (part_limit("drive", 92.0, 90.0),)


@each({f"{named} {scenario}": (named, scenario, expected) for named, scenario, expected in (
    ([], "base", "error"), ([], "hot", "error"), (["hot+dirty"], "hot+dirty", "error"),
    (["hot + dirty"], "hot+dirty", "error"), (["hot+dirty"], "hot", "warning"),
    (["hot+dirty"], "base", "warning"), (["hot+dirty"], "dirty+hot", "warning"),
    (["dirty+each-fan-out"], "dirty+fan.roof-out", "error"),
    (["dirty+each-fan-out"], "dirty+fan.second-out", "error"),
    (["dirty+each-fan-out"], "fan.second-out", "warning"),
    (["dirty+each-fan-out"], "dirty", "warning"),
    (["each-supply-out"], "supply.mains-out", "error"),
    (["each-supply-out"], "fan.roof-out", "warning"),
    (["dirty", "fan.roof-out"], "fan.roof-out", "error"),
)})  # fmt: skip
def test_a_broken_limit_is_an_error_where_limits_must_hold(named, scenario, expected):
    made = things(limits=samples.limits(scenarios=named), second=samples.roof(name="second"))
    scenarios = {**samples.DIRTY, "hot": {"outside.temperature": "40 degC"}}
    found = solved(made, limits=OVER, scenario=scenario, scenarios=scenarios).findings
    assert [each.severity for each in found if each.rule == "limit-part"] == [expected]


def test_stall_and_backflow_are_warnings_elsewhere():
    base = things(limits=samples.limits(scenarios=["dirty"]))
    for region in ("stall", "backflow"):
        found = solved(base, fans={"fan.roof": {"region": region, "rise": 60.0}}).findings
        assert [finding.severity for finding in found] == ["warning"]


# --- the decorator ------------------------------------------------------------------------------


OWN = {"severity": "note", "title": "own", "cause": "c", "try": "Try {more}.", "thresholds": "t",
       "source": "s", "says": "{subject} of {what}", "several": "; {fans:*each}",
       "each": "{name} at {flow:volume_flow}", "numbers": {"more": "more"}}  # fmt: skip


def test_a_rule_of_ones_own_is_a_function_of_a_solution(monkeypatch):
    monkeypatch.setitem(texts(), "of-ones-own", OWN)

    @rule
    def of_ones_own(solution: Solution):
        fans = [{"name": "a", "flow": 1 / 3600}, {"name": "b", "flow": 2 / 3600}, "1 more"]
        yield say("limits", "says", False, "several", what=solution.case.title, fans=fans)

    (finding,) = of_ones_own(solved())
    assert isinstance(of_ones_own, Rule)
    assert isinstance(finding, Finding)
    assert (finding.rule, finding.severity, finding.subject) == ("of-ones-own", "note", "limits")
    assert finding.message() == "limits of invented; a at 1 m3/h, b at 2 m3/h and 1 more"
    assert finding.advice() == "Try more."


# --- the file of texts --------------------------------------------------------------------------

FIXED = {"severity", "elsewhere", "mild", "title", "cause", "try", "thresholds", "source",
         "numbers"}  # fmt: skip


def test_the_texts_are_those_of_the_rules_each_by_its_name():
    assert texts().keys() == RULES.keys()


@each(named(RULES))
def test_every_text_is_complete_and_used(name):
    """Each piece is told by a sample or named in a function; each gap is a quantity or a word."""
    for key in ("title", "cause", "try", "thresholds", "source"):
        for units in ("metric", "us"):
            text = RULES[name].text(key, units)
            assert text.strip()
            assert not FILLED.search(text), key
    own = RULES[name].texts
    assert FIXED - {"elsewhere", "mild", "numbers"} <= own.keys()
    assert {own["severity"], own.get("elsewhere", "note"), own.get("mild", "note")} <= {*SEVERITIES}
    code = Path(inspect.getfile(RULES[name].looks)).read_text(encoding="utf-8")
    named = code + "".join(text for text in own.values() if isinstance(text, str))
    for key in own.keys() - FIXED - {"says"}:
        assert re.search(rf'["*.]{key}["}}]', named), key
    for key, text in own.items():
        for gap, kind in GAP.findall(str(text)) if key != "numbers" else ():
            assert kind in ("", "%") or kind[1:] in own or hasattr(quantities, kind.upper()), gap
    for key in own.get("numbers", {}):
        assert f'"{key}"' in code or f"{{{key}" in named, key


PLAIN = {  # pieces that stand in every message of a rule, whatever its numbers
    "limit-life": "life short", "bearing-unsuited": "stands type permitted",
    "well-mixed": "hottest", "layer-count": "in hottest", "exhaust-near-intake": "none",
    "outage-not-at-worst": "tried",
    "loaded-filter-not-tried": "subject clean untried", "clearance-tight": "computed",
    "condensation": "below", "noise-free-air": "level",
    "flow-unit-suspect": "slipped", "tiny-flow": "taken", "variant-overridden": "own",
}  # fmt: skip
OTHERWISE = {"well-mixed.unsolved", "layer-count.unsolved", "flow-degree-mix.degrees",
             "flow-degree-mix.watts", "speed-as-mean.unsolved"}  # fmt: skip


def test_each_text_is_told_by_some_samples_and_left_out_by_others():
    """A text that hangs on a condition, and so the lesser severity, is seen with it and without."""
    made = [(name, sample(value)) for name, sample, value, fires, _ in EVERY.values() if fires]
    made += [(name, sample()) for name, sample, _ in CASES]
    told: dict[str, list[set[str]]] = {}
    listed: set[str] = set()
    for name, solution in made:
        for said in RULES[name].looks(solution):
            keys = {key if "." in key else f"{name}.{key}" for key in (*said.pieces, said.hint)}
            listed |= {
                f"{name}.{key[1:]}"
                for piece in said.pieces
                if "." not in piece
                for _, key in GAP.findall(RULES[name].texts[piece])
                if key[:1] == "*"
            }
            mild = {f"{name}.mild"} if said.mild else set()
            told.setdefault(name, []).append(keys | mild)
    texts = {f"{name}.{key}" for name, own in RULES.items() for key in own.texts
             if key not in (FIXED | {"says"}) - {"mild"}} - OTHERWISE  # fmt: skip
    assert texts - listed <= {key for found in told.values() for keys in found for key in keys}
    for name, found in told.items():
        always = set.intersection(*found) - {f"{name}.says", f"{name}.try"}
        assert always == {f"{name}.{key}" for key in PLAIN.get(name, "").split()}, name


def test_of_several_things_three_are_named():
    assert few(list("abc")) == list("abc")
    assert few(list("abcd"), "at least ") == [*"abc", "at least 1 more"]


def test_rules_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        RULES["fan-stall"].given = {}
