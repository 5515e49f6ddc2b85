"""What every rule promises: texts, both unit systems, a case that fires it, a near miss."""

from __future__ import annotations

import dataclasses
import inspect
import math
import pickle
import re
from functools import cache
from pathlib import Path

import pytest

from flownet.findings import RULES, find, rule, say
from flownet.findings.rule import GAP, SEVERITIES, Rule, texts
from flownet.results.solution import Finding, Solution
from flownet.schema import quantities
from flownet.schema.component import KINDS
from tests.each import each, named
from tests.findings import (  # noqa: F401 - they add samples
    samples,
    samples_use,
)
from tests.findings.build import solved, things
from tests.findings.samples import FIRES, SILENT

# The names that the page of the case format gives to rules, as far as one solution shows them.
NAMES = {
    "flow-degree-mix", "flow-unit-suspect", "rise-looks-absolute", "curve-two-points", "fan-stall",
    "fan-past-free-delivery", "fan-backflow", "fans-opposed", "outlet-missing", "no-through-air",
    "filter-missing", "loaded-filter-not-tried", "filter-bypass", "loss-area-suspect",
    "curve-density-assumed", "supply-mismatch", "altitude-counted-twice", "thin-air",
    "exhaust-near-intake", "slot-empty", "failed-fan-sealed", "board-value-resistance",
    "resistance-out-of-range", "draught-against-fan", "condensation", "tiny-flow", "limit-part",
    "unstable-state",
    "limit-air", "limit-flow", "limit-noise", "limit-life", "range-of-validity",
    "clearance-not-used",
    "clearance-tight",
    "key-without-effect", "curve-ends-above-zero", "other-operating-point",
    "bearing-unsuited", "fan-air-range", "speed-below-minimum", "life-kinds-mixed",
    "curve-total-pressure", "loss-counted-twice", "power-not-heat", "shared-supply",
    "outage-not-at-worst", "noise-distance-missing", "noise-free-air",
    "fan-out",
    "outlines-overlap", "beyond-enclosure", "area-unit-suspect", "drop-fit-misses",
    "wall-thickness-suspect",
    "resistance-at-sea-level",
    "variant-overridden",
    "well-mixed", "layer-count",
    "air-returns-inside",
}  # fmt: skip
LIMITS = {"limit-part", "limit-air", "limit-flow", "limit-noise", "limit-life"}
VOID = {"fan-stall", "fan-backflow", "fans-opposed", "supply-mismatch", "unstable-state"}
NOTES = {
    "thin-air", "tiny-flow", "clearance-not-used", "key-without-effect", "curve-ends-above-zero",
    "noise-free-air", "resistance-at-sea-level",
}  # fmt: skip


def of(samples):
    """Rule and sample, by the name of the rule and the place of the sample."""
    return {f"{name} {k}": (name, each) for name, made in samples.items()
            for k, each in enumerate(made)}  # fmt: skip


@cache
def findings(sample):
    return sample().findings


FIRED, QUIET = of(FIRES), of(SILENT)
FILLED = re.compile(r"[{}]|\bnan\b|\binf\b|  |\bNone\b")


def test_the_rules_have_these_names():
    assert set(RULES) == NAMES
    assert FIRES.keys() == SILENT.keys() == RULES.keys()


@each(named(RULES))
def test_every_rule_has_all_texts_and_its_severity(name):
    made = RULES[name]
    expected = "error" if name in LIMITS | VOID else "note" if name in NOTES else "warning"
    assert made.severity == expected
    assert made.elsewhere == ("warning" if name in LIMITS | VOID - {"supply-mismatch"} else "")
    assert made.texts["title"][0].islower() or made.texts["title"][0].isdigit()
    for key in ("title", "cause", "try", "thresholds", "source"):
        for units in ("metric", "us"):
            assert made.text(key, units).strip()
            assert not FILLED.search(made.text(key, units)), key


@each(FIRED)
def test_a_case_fires_its_rule(name, sample):
    found = [finding for finding in findings(sample) if finding.rule == name]
    assert found, name
    for finding in found:
        kind, *_ = finding.subject.split(".")
        assert kind in {*KINDS, "total"}, finding.subject
        assert " " not in finding.subject
        assert finding.severity in (RULES[name].severity, RULES[name].mild)


@each(QUIET)
def test_a_near_miss_does_not(name, sample):
    assert name not in {finding.rule for finding in findings(sample)}


@each({"fires " + name: made for name, (_, made) in FIRED.items()}
      | {"near " + name: made for name, (_, made) in QUIET.items()})  # fmt: skip
def test_every_finding_reads_well_in_both_unit_systems(sample):
    for finding in findings(sample):
        for units in ("metric", "us"):
            for text in (finding.message(units), finding.advice(units)):
                assert text.strip(), finding
                assert not FILLED.search(text), text
        assert finding.advice().endswith("."), finding.advice()
        assert not finding.message().endswith("."), finding.message()
        words = finding.to_dict()
        assert words["message"] == finding.message()
        assert words["try"] == finding.advice()


def test_units_follow_the_reader():
    (finding,) = samples.FIRES["limit-air"][0]().findings
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


@pytest.mark.parametrize("state", ["stopped", "blanked"])
def test_a_fan_that_does_not_run_is_not_judged_as_one(state):
    found = solved(things(roof=samples.roof(state=state)), fans={"fan.roof": {"rise": math.nan}})
    assert [finding.rule for finding in found.findings] == []


def test_worst_first_then_in_the_order_of_the_rules_then_by_subject():
    made = samples.solved(
        things(type=samples.axial(curve={"flow": "0 160 m3/h", "rise": "70 9 Pa"})),
        limits=(
            samples.air_limit("upper", 52.0, 50.0), samples.part_limit("drive", 92.0, 90.0),
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
    made = samples.FIRES["limit-part"][0]().findings
    assert pickle.loads(pickle.dumps(made)) == made


# --- severity -----------------------------------------------------------------------------------

OVER = (samples.part_limit("drive", 92.0, 90.0),)


def severity(named: list[str], scenario: str) -> str:
    """That of a broken limit in a scenario, where these are named."""
    made = things(limits=samples.limits(scenarios=named), second=samples.roof(name="second"))
    scenarios = {**samples.DIRTY, "hot": {"outside.temperature": "40 degC"}}
    found = solved(made, limits=OVER, scenario=scenario, scenarios=scenarios).findings
    (own,) = [finding.severity for finding in found if finding.rule == "limit-part"]
    return own


@pytest.mark.parametrize(
    ("named", "scenario", "expected"),
    [
        ([], "base", "error"),
        ([], "hot", "error"),
        (["hot+dirty"], "hot+dirty", "error"),
        (["hot + dirty"], "hot+dirty", "error"),
        (["hot+dirty"], "hot", "warning"),
        (["hot+dirty"], "base", "warning"),
        (["hot+dirty"], "dirty+hot", "warning"),
        (["dirty+each-fan-out"], "dirty+fan.roof-out", "error"),
        (["dirty+each-fan-out"], "dirty+fan.second-out", "error"),
        (["dirty+each-fan-out"], "fan.second-out", "warning"),
        (["dirty+each-fan-out"], "dirty", "warning"),
        (["each-supply-out"], "supply.mains-out", "error"),
        (["each-supply-out"], "fan.roof-out", "warning"),
        (["dirty", "fan.roof-out"], "fan.roof-out", "error"),
    ],
)
def test_a_broken_limit_is_an_error_where_limits_must_hold(named, scenario, expected):
    assert severity(named, scenario) == expected


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


def test_rules_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        RULES["fan-stall"].severity = "note"
