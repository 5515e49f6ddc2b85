"""Dew on what is cold, the heater that keeps it dry, and walls that are too hot to touch."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import flownet
from flownet.enclosure import enclosure as w
from flownet.physics import air, films
from flownet.schema.errors import CaseError
from tests.each import each
from tests.published import rows

STEEL = {"thickness": 0.0015, "material": "steel", "from_": "box", "to": "outside"}
BOX = w.Compartment(name="box", outline=(0.0, 0.0, 0.4, 0.5), depth=0.25)
DAMP = {"temperature": 278.15, "relative_humidity": 0.9}


def box(*items: Any, outside: dict[str, Any] = DAMP, **limits: Any) -> w.Enclosure:
    """A sealed box with a heater that is off."""
    heater = w.Part(name="heater", in_="box", power=0.0)
    return w.Enclosure.of(w.Outside(**outside), BOX, heater, w.Limits(**limits), *items)


@pytest.fixture(scope="module")
def night() -> Any:
    """Under a clear sky, with a wall of given U and a duct with a wall of its own."""
    made = box(
        w.Wall(name="roof", faces=["top"], **STEEL), w.Wall(name="sides", faces=["left"], **STEEL),
        w.Wall(name="floor", area=0.1, u_value=0.5, from_="box", to="outside"),
        outside=DAMP | {"sky": "clear"}, dew_margin=2.0, touch_limit=333.15,
    )  # fmt: skip
    return SimpleNamespace(
        case=made,
        base=flownet.solve(made),
        warm=flownet.solve(made, changes={"part.heater.power": 30.0}),
    )


@pytest.mark.parametrize("row", rows("sun", "M2", "M3"), ids=str)
def test_dew_point(row):
    warm = np.array(row.given["temperature"]) + 273.15
    found = air.dew_point(warm, np.array(row.given["relative_humidity"]))
    row.check("correlation", dew_point=found - 273.15)


def test_heater_that_keeps_a_wall_dry(monkeypatch):
    """M8, closed form: films fixed at 8 inside, where the air is warmer, and 23 outside."""
    (row,) = rows("sun", "M8")
    g = row.given
    outside = g["outside"] + 273.15

    def film(surface: Any, still: Any, *_: Any) -> Any:
        inside = np.real(still) > outside + 1e-6
        return np.where(inside, g["film_inside"], g["film_outside"]) + 0 * surface

    monkeypatch.setattr(films, "natural_film", film)
    side = w.Wall(name="side", area=g["area"], emissivity=0.0, inside_emissivity=0.0, **STEEL)
    made = box(side, dew_margin=2.0)
    found = flownet.headroom(made, "part.heater.power", upto=100.0)
    row.check(power=found.value, dew_point=flownet.solve(made)["site.dew_point"] - 273.15)
    assert (found.limit.limit, found.limit.subject) == ("dew", "total.dew_margin")
    assert "a heater of 17.1 W keeps" in found.verdict


def test_dew_is_judged_by_the_coldest_place(night):
    """The roof that sees the sky, below the air on both sides of it; the dew point by M3's formula;
    a heater lifts it."""
    base, dew = night.base, float(air.dew_point(278.15, 0.9))
    roof = base["wall.roof.inside_temperature"]
    assert base["site.dew_point"] == dew
    assert base["total.dew_margin"] == pytest.approx(roof - dew)
    assert roof < min(base["compartment.box.temperature"], 278.15) - 1
    (limit,) = (item for item in base.limits if item.limit == "dew")
    assert limit.broken
    assert limit.margin == pytest.approx(roof - dew - 2.0)
    assert night.warm["total.dew_margin"] > base["total.dew_margin"] + 2
    assert {"wall.roof", "wall.sides"} <= {
        f.subject for f in base.findings if f.rule == "condensation"}  # fmt: skip
    document = base.to_dict()
    assert document["walls"]["floor"]["inside_temperature_degC"] is None
    assert document["walls"]["roof"]["inside_temperature_degC"] == pytest.approx(roof - 273.15)
    assert document["totals"]["dew_margin_K"] == pytest.approx(roof - dew)


def test_no_heater_is_advised_where_none_can_help():
    """Of a given U what lies beyond counts, whatever the heater: the advice is another one."""
    floor = w.Wall(name="floor", area=0.1, u_value=0.5, from_="box", to="outside")
    cold = [flownet.solve(box(floor, dew_margin=3.0), changes={"part.heater.power": power})
            for power in (0.2, 1.0)]  # fmt: skip
    assert cold[0]["total.dew_margin"] == cold[1]["total.dew_margin"] < 3.0
    (advice,) = [f for f in cold[1].findings if f.rule == "limit-dew"]
    assert advice.advice().startswith("The face of a wall with u_value")
    assert "less have" not in advice.message()


def test_touch_limits(night):
    """The common one holds outer faces of all walls to the outside, one's own goes before it; of a
    given U it is unknown whether it holds."""
    touched = {item.subject: item for item in night.warm.limits if item.limit == "touch"}
    assert sorted(touched) == ["wall.floor", "wall.roof", "wall.sides"]
    assert np.isnan(touched["wall.floor"].margin)
    for name in ("roof", "sides"):
        face = night.warm[f"wall.{name}.outside_temperature"]
        assert touched[f"wall.{name}"].margin == pytest.approx(333.15 - face)
    shelf = w.Wall(name="shelf", area=0.1, u_value=0.5, from_="box", to="next")
    skin = w.Wall(name="skin", area=0.1, u_value=0.5, from_="box", to="outside")
    inner = flownet.solve(box(w.Compartment(name="next"), shelf, skin, touch_limit=333.15))
    assert [item.subject for item in inner.limits] == ["wall.skin"]  # nobody touches a shelf
    own = night.case.with_changes({"wall.roof.touch_limit": 250.0})
    found = flownet.solve(own)
    assert found.worst.subject == "wall.roof"
    assert "limit-touch" in [f.rule for f in found.findings]


def test_nothing_is_judged_without_humidity(night):
    """The limit stays, and nobody knows whether it holds."""
    dry = flownet.solve(night.case.with_changes({"outside.relative_humidity": None}))
    assert np.isnan(dry["total.dew_margin"])
    assert np.isnan(next(item for item in dry.limits if item.limit == "dew").margin)
    assert not [f for f in dry.findings if f.rule in ("condensation", "limit-dew")]


SUN = {"absorptance": 0.5}
SIDE = {"name": "a", "faces": ["front"], **STEEL}
BAD = {  # things -> where the fault stands
    "no place": (lambda: box(w.Wall(**SIDE, azimuth=180.0, sun=SUN)), "wall.a.sun"),
    "no azimuth": (lambda: box(w.Wall(**SIDE, sun=SUN), outside={
        "latitude": 50.0, "day": 141, "hour": 12}), "wall.a.azimuth"),
    "no hour": (lambda: w.Outside(latitude=50.0, day=141), "outside.latitude"),
    "elsewhere": (lambda: w.Outside(name="x", clearness=0.5), "outside.x.clearness"),
    "several ways": (lambda: w.Wall(**SIDE | {"faces": ["front", "left"]}, azimuth=180.0),
                     "wall.a.azimuth"),
    "no face": (lambda: w.Wall(name="a", from_="box", to="outside", area=1.0, u_value=5.0,
                               touch_limit=330.0), "wall.a.touch_limit"),
    "films twice": (lambda: w.Wall(name="a", mounting="row-end", **STEEL), "wall.a.mounting"),
    "wetter than wet": (lambda: box(outside={"temperature": 300.0, "dew_point": 301.0}),
                        "outside.dew_point"),
    "face twice": (lambda: w.Wall(**SIDE | {"faces": ["left", "left"]}), "wall.a.faces"),
    "looks up and down": (lambda: w.Wall(name="a", area=1.0, facing="up", tilt=120.0, **STEEL),
                          "wall.a.tilt"),
    "face of two walls": (lambda: box(
        w.Wall(name="a", faces=["top", "left"], **STEEL), w.Wall(name="b", faces=["left"], **STEEL)
    ), "wall.b.faces"),
    "all and a part": (lambda: box(*(
        w.Wall(name=name, from_="box", to="outside", u_value=5.0, **own) for name, own in
        {"a": {"faces": ["left"]}, "b": {"mounting": "row-end"}}.items()
    )), "wall.a.faces"),
    "two skies": (lambda: w.Outside(sky="clear", sky_temperature=260.0), "outside.sky"),
}  # fmt: skip


@each(BAD)
def test_faults(make, where):
    with pytest.raises(CaseError) as error:
        make()
    assert any(fault.startswith(where) for fault in map(str, error.value.faults))
