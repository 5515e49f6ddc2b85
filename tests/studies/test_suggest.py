"""Proposals against brute force, their own file, and cases with one planted fault each."""

from __future__ import annotations

import dataclasses
import itertools
from types import MappingProxyType

import numpy as np
import pytest

import flownet
from flownet.enclosure.toml_text import settable
from flownet.schema.errors import CaseError
from flownet.studies.suggesting.kinds import candidates
from flownet.studies.suggesting.search import ChangeSearch
from flownet.studies.suggesting.steps import EFFORT_OF, EFFORTS
from tests.casefile.small import load
from tests.each import each
from tests.studies.planted import FAULTS, MISPLACED, RACK

TWO = {"slot.card-3.state": "empty", "opening.gap.state": "open"}
SOME = ("filler", "seal", "baffle")
SCENES = ("base", "fan.left-out")
LEFT = [kind for kind in EFFORT_OF if kind not in SOME]


@pytest.fixture(scope="module", name="rack")
def loaded(tmp_path_factory):
    return load(tmp_path_factory.mktemp("rack"), RACK)


@pytest.fixture(scope="module", name="faulty")
def with_two(rack):
    """Two faults: no single change undoes both."""
    return rack.with_changes(TWO)


@pytest.fixture(scope="module", name="found")
def proposed(faulty):
    return flownet.suggest(faulty, scenarios=SCENES, without=LEFT)


@each({fault.name: fault for fault in FAULTS}, "fault")
def test_the_cure_of_a_planted_fault_is_among_the_first_three(fault, rack, tmp_path):
    case = rack.with_changes(fault.fault) if fault.fault else load(tmp_path, MISPLACED)
    found = flownet.suggest(case, scenarios=[fault.scenario], deep=1)
    assert not found.holds
    first = [{*each.changes, *each.edits} for each in found.proposals[:3]]
    assert any(fault.cure in paths for paths in first), found.verdict
    for proposal in found.proposals:
        assert proposal.holds
        assert proposal.status in ("ok", "tight")
    order = [(EFFORT_OF[p.made[0].kind], p.status != "ok") for p in found.proposals]
    order = [(EFFORTS.index(word), tight) for word, tight in order]
    assert order == sorted(order)


def test_a_case_with_its_margin_gets_no_proposal(rack):
    found = flownet.suggest(rack, deep=1)
    assert found.enough
    assert (found.proposals, found.closest, found.tried) == ((), (), ())
    assert len(found.in_layers) == 1  # the case as it is
    assert found.verdict.startswith("holds everywhere")
    tight = rack.with_changes({"limits.margin": "1.6 K"})
    found = flownet.suggest(tight, without=[kind for kind in EFFORT_OF if kind != "filler"])
    assert found.holds
    assert not found.enough
    assert [each.status for each in found.proposals] == ["ok"]
    assert "give" in found.verdict


def test_pairs_are_those_of_brute_force(faulty, found):
    """Every change, and every two that touch different things, as variants of a comparison."""
    some = candidates(faulty, SCENES, without=LEFT)
    sets = [(one,) for one in some]
    sets += [two for two in itertools.combinations(some, 2)
             if not {*two[0].things} & {*two[1].things}]  # fmt: skip
    made = {str(i): MappingProxyType({p: v for one in each for p, v in one.changes.items()})
            for i, each in enumerate(sets)}  # fmt: skip
    case = dataclasses.replace(faulty, variants=MappingProxyType(made))
    table = flownet.compare(case, variants=list(made), scenarios=SCENES)
    holding = {}
    for name, changes in made.items():
        if all(cell.holds for cell in table.column(name)):
            holding[frozenset(changes.items())] = table.worst(name).margin
    alone = [changes for changes in holding if len(changes) == 1]
    assert not alone
    assert len(holding) > 1
    assert len(found.in_layers) == len(found.proposals) == 2  # each looked at in layers too
    assert found.counts.changes == len(some)
    assert 0 < found.counts.sets <= len(sets) - len(some)
    proposed = {frozenset(each.changes.items()): each.margin for each in found.proposals}
    assert proposed == pytest.approx(holding, abs=1e-6)
    one = {frozenset(each.changes.items()): each.margin for each in found.tried}
    for name, changes in made.items():
        if len(changes) == 1:  # each was solved where the case fails, which is where it is worst
            assert one[frozenset(changes.items())] == pytest.approx(
                table.worst(name).margin, abs=1e-6, nan_ok=True)  # fmt: skip


def test_the_written_file_gives_the_same_margins(found, tmp_path):
    flownet.save_case(found.with_variants, tmp_path / "new.toml")
    again = flownet.load_case(tmp_path / "new.toml")
    assert list(again.variants) == [*found.variants] == ["suggested-1", "suggested-2"]
    table = flownet.compare(again, variants=list(found.variants), scenarios=SCENES)
    margins = [table.worst(name).margin for name in found.variants]
    assert margins == pytest.approx([each.margin for each in found.proposals], abs=1e-6)
    blocks = "\n".join("\n".join([head, *lines]) for head, lines in found.blocks())
    pasted = load(tmp_path, RACK + "\n" + blocks)
    for name, changes in found.variants.items():
        assert pasted.variants[name] == changes


def test_data_say_what_set_takes(found, faulty):
    told = found.to_dict()
    assert [each["holds"] for each in told["proposals"]] == [True, True]
    for row, proposal in zip(told["proposals"], found.proposals, strict=True):
        assert faulty.with_changes(row["changes"]) == faulty.with_changes(proposal.changes)
        assert row["margin"] == pytest.approx(proposal.margin)
        assert (row["decides"], row["scenario"]) == ("part.chip", proposal.scenario)
        assert proposal.scenario in SCENES
        assert {*row["effort"].split(" and ")} <= {*EFFORTS}
    tables = {each.name: each for each in found.sheet.of("page")}
    assert tables["words"].columns[0].values == ["1", "2"]


RPM = {"fan_type.good.rated_speed": "2800 rpm", "fan_type.good.speed_range": "0.5 1.0",
       "fan.left.speed": "1800 rpm", "filter.mat.fouling": 3.0, "fan.*.shutter": None,
       "recirculation.round.fraction": 0.2, "fan.right.clearance.clutter": 0.2}  # fmt: skip


def test_every_change_can_be_written(rack):
    """The case with the change as text is that with the change itself."""
    case = rack.with_changes(RPM)
    case = case.with_changes({"fan.right.supply": "control"})
    some = candidates(case, SCENES)
    assert {each.kind for each in some} >= {*EFFORT_OF} - {"fan_move", "fan_add", "part_place"}
    for one in some:
        made = case.with_changes(one.changes)
        assert made != case or one.edits, one
        assert case.with_changes(settable(case, one.changes)) == made
        assert case.with_changes(settable(case, one.changes, joined=True)) == made
        assert one.words
        assert "{" not in one.words


def test_what_is_tried_in_a_rack_is_what_its_file_allows(rack):
    """By hand, kind by kind in the order of effort: sizes x 1.25, 1.5 and 2 up to 80 % open, a
    baffle down to a half, mats of 0.7 and 0.5 times the drop, a speed to half the way and the top
    of its range, what two fans have alike also at once."""
    case = rack.with_changes({**RPM, "fan.right.supply": "control"})
    shutter = {"open_loss": 0.5, "closed_leak": 0.02}
    fans, mat = ("fan.left", "fan.right"), "filter.mat.velocity_drop"
    wanted = [
        ("speed", {"fan.left.speed": "2298.8 rpm"}), ("speed", {"fan.left.speed": "2800 rpm"}),
        ("fan_off", {"fan.left.state": "blanked"}), ("fan_off", {"fan.right.state": "blanked"}),
        ("turn", {"fan.left.mounted": "reversed"}), ("turn", {"fan.right.mounted": "reversed"}),
        ("turn", {f"{fan}.mounted": "reversed" for fan in fans}),
        ("supply", {"fan.right.supply": "mains"}),
        ("filler", {"slot.card-3.state": "blanked"}), ("seal", {"vent.front.state": "blanked"}),
        ("service", {"filter.mat.fouling": 1.0}),
        ("mat", {mat: ((0.5, 5.6), (1.0, 13.3), (2.0, 35.0))}),
        ("mat", {mat: ((0.5, 4.0), (1.0, 9.5), (2.0, 25.0))}),
        *(("area", {f"{path}.area": size * factor}) for factor in (1.25, 1.5, 2.0)
          for path, size in (("filter.mat", 0.03), ("vent.front", 0.015))),
        ("open_ratio", {"vent.front.open_ratio": 0.75}),
        ("open_ratio", {"vent.front.open_ratio": 0.8}),
        ("unseal", {"opening.gap.state": "open"}), ("baffle", {"baffle.shelf.present": True}),
        *(("baffle", {"baffle.shelf.open_area": 0.0025 * factor})
          for factor in (1.25, 1.5, 2.0, 0.8, 0.667, 0.5)),
        *(("clearance", {f"{fan}.clearance.inlet": 0.06 * factor for fan in some})
          for factor in (1.25, 1.5, 2.0) for some in (fans[:1], fans[1:], fans)),
        ("clearance", {"fan.right.clearance.clutter": 0.0}),
        ("recirculation", {"recirculation.round.fraction": 0.1}),
        ("recirculation", {"recirculation.round.fraction": 0.0}),
        *(("shutter", {f"{fan}.shutter": shutter for fan in some})
          for some in (fans[:1], fans[1:], fans)),
        ("fan_type", {"fan.right.type": "weak", "fan.right.supply": "mains"}),
    ]  # fmt: skip
    some = candidates(case, SCENES)
    found = [(each.kind, each.changes) for each in some if not each.edits]

    def told(every):
        def plain(value):
            return round(value, 9) if isinstance(value, float) else value

        return sorted(repr((kind, {path: plain(value) for path, value in changes.items()}))
                      for kind, changes in every)  # fmt: skip

    assert told(found) == told(wanted)
    assert [dict(each.edits) for each in some if each.edits] == [
        {"part.heater.in": "low"}, {"part.heater.in": "middle"}]  # fmt: skip
    efforts = [EFFORTS.index(EFFORT_OF[each.kind]) for each in some]
    assert efforts == sorted(efforts)


def test_where_nothing_helps_the_closest_is_told(faulty):
    hopeless = faulty.with_changes({"part.chip.limit": "41 degC"})
    found = flownet.suggest(hopeless, scenarios=["base"], without=LEFT)
    assert (found.proposals, found.in_layers) == ((), ())
    assert found.verdict.startswith("none of ")
    assert found.closest
    assert not any(each.holds for each in found.closest)
    assert [each["holds"] for each in found.to_dict()["proposals"]] == [False] * len(found.closest)


def test_of_the_sizes_of_one_change_the_one_that_gives_most_is_told(faulty):
    hopeless = faulty.with_changes({"part.chip.limit": "41 degC"})
    sizes = ("area", "open_ratio")
    found = flownet.suggest(hopeless, scenarios=["base"], deep=1,
                            without=[kind for kind in EFFORT_OF if kind not in sizes])  # fmt: skip
    gains = {}
    for tried in found.tried:
        gains.setdefault(tried.made[0].group, []).append(found.gain(tried))
    assert max(map(len, gains.values())) > 1
    (table,) = [each for each in found.sheet.of("page") if each.name == "alone"]
    assert table.columns[1].values == sorted(map(max, gains.values()), reverse=True)


def test_what_is_known_of_a_change_stays_when_more_are_tried(faulty):
    search = ChangeSearch(faulty, candidates(faulty, SCENES, without=LEFT), SCENES)
    rows = range(1, 1 + len(search.singles()))

    def known():
        return [(search.lacking(search.failing, row), search.tried(row).air) for row in rows]

    alone = known()
    assert len(search.larger()) > 0
    np.testing.assert_array_equal(known(), alone)


def test_what_is_kept_is_not_changed(faulty):
    every = candidates(faulty, SCENES)
    assert {each.kind for each in every} <= {*EFFORT_OF}
    assert {path.split(".")[0] for each in every for path in each.changes} >= {
        "fan",
        "slot",
        "vent",
    }
    kept = candidates(faulty, SCENES, keep=["fan.*", "slot.card-3.state", "part.heater"])
    paths = {path for each in kept for path in (*each.changes, *each.edits)}
    assert not [path for path in paths if path.startswith(("fan.", "slot.card-3", "part."))]
    for keep, without, word in ((["fan.lefft"], [], "left"), ([], ["fan-type"], "fan_type")):
        with pytest.raises(CaseError, match=word):
            candidates(faulty, SCENES, keep, without)
    for deep in (0, True, 1.5):
        with pytest.raises(CaseError, match="deep"):
            flownet.suggest(faulty, deep=deep)
    bare = faulty.with_changes({"part.*.limit": None})
    with pytest.raises(CaseError, match="limits"):
        flownet.suggest(bare, scenarios=["base"])
