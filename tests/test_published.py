"""The loader of check values refuses what it cannot vouch for."""

from __future__ import annotations

import copy

import pytest

from tests.each import every
from tests.published import FOLDER, UNPUBLISHED, evaluated_by, parse, recording

GOOD = {
    "title": "double",
    "source": "arithmetic",
    "provenance": "READ",
    "published": True,
    "given": {"x": 2.0},
    "expected": {"y": 4.0, "z": [1.0, 2.0]},
    "tolerance": {"relative": 0.01},
}


def document(**changes):
    entry = copy.deepcopy(GOOD) | changes
    return {"T1": [{key: value for key, value in entry.items() if value is not None}]}


def test_good_row_checks_its_results():
    """A result inside the tolerance passes, one outside, unknown or missing fails."""
    row = parse(document(), "file")["T1"][0]
    row.check(y=4.03, z=[1.0, 2.01])
    for wrong in ({"y": 4.05}, {"z": [1.0, 2.03]}, {"w": 4.0}, {}, {"y": float("nan")}):
        with pytest.raises(AssertionError):
            row.check(**wrong)


@every("label", sorted(UNPUBLISHED))
def test_unpublished_number_is_not_called_published(label):
    """A number that no source prints may be used, never under the word published."""
    assert parse(document(provenance=label, published=False), "file")
    with pytest.raises(ValueError, match="not published"):
        parse(document(provenance=label), "file")


@every(("change", "match"), [
    ({"source": None}, "missing"),
    ({"source": ""}, "filled"),
    ({"expected": {}}, "filled"),
    ({"expected": {"y": "four"}}, "numbers"),
    ({"published": "yes"}, "filled bool"),
    ({"published": None}, "missing"),
    ({"colour": "red"}, "unknown"),
    ({"provenance": "HEARD"}, "must be one of"),
    ({"units": {"w": "cfm"}}, "neither"),
    ({"tolerance": {"y": {"relative": 0.1}}}, "must name"),
    ({"tolerance": {"relative": -0.1}}, ">= 0"),
    ({"tolerance": {"y": {"about": 1.0}, "z": {"relative": 0.1}}}, "relative"),
])  # fmt: skip
def test_faulty_row_stops_the_loader(change, match):
    with pytest.raises(ValueError, match=match):
        parse(document(**change), "file")


@every(
    ("test", "by"),
    [("correlations/test_x.py", "correlation"), ("network/test_x.py", "law"), ("test_x.py", "case"),
     ("network/test_published_networks.py", "solver"), ("studies/test_size.py", "study")],
)  # fmt: skip
def test_what_computed_a_value_follows_from_the_place_of_the_test(test, by):
    assert evaluated_by(FOLDER.parent / test) == by
    row = parse(document(), "file")["T1"][0]
    with recording() as found:
        row.check("law", y=4.0)
        row.check(y=4.0)
    assert [check.by for check in found] == ["law", "case"]
    with pytest.raises(AssertionError, match="evaluated by"):
        row.check("guess", y=4.0)
