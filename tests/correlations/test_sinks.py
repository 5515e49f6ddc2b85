"""Heat transfer between fins against tables, closed forms and the library; whole sinks solved."""

from __future__ import annotations

import dataclasses

import fluids
import ht
import numpy as np
import pytest

from flownet.casefile import load_case, save_case
from flownet.enclosure.branches import Duct, Leak, Opening, Slot
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part, SinkType
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.equations.elements import element
from flownet.physics import air, sinks
from flownet.schema.errors import CaseError
from flownet.solving.solve import solve, solve_many
from flownet.studies.transient import transient
from tests.each import each, every, named
from tests.network.kind_samples import drop, inputs, made
from tests.published import rows

CP = 1006.0
COMB = SinkType(name="comb", base="81 x 100 mm", fins=21, fin="25 x 1 mm",
                conductivity="200 W/(m K)")  # fmt: skip


@pytest.mark.parametrize("row", rows("heat", "L9"), ids=str)
def test_developed_flow(row):
    ratio = np.array(row.given["aspect_ratio"])
    found = sinks.developing_nusselt(row.given["reynolds"], ratio, 1e4, 0.71)
    row.check(**dict(zip(("square", "flat", "plates"), found, strict=True)))


@pytest.mark.parametrize("row", rows("heat", "K13"), ids=str)
def test_entry_of_temperature_alone(row):
    """A thick fluid: its velocity develops at once."""
    prandtl = 1e5
    found = sinks.developing_nusselt(np.array(row.given["graetz"]) / prandtl, 1.0, 1.0, prandtl)
    row.check(nusselt=found)


@pytest.mark.parametrize("row", rows("heat", "K10"), ids=str)
def test_entry_of_velocity_and_temperature(row):
    place, prandtl = np.array(row.given["x_star"]), row.given["prandtl"]
    found = sinks.developing_nusselt(1.0, 1e-3, place * prandtl, prandtl)
    row.check(nusselt=found)
    assert (found < row.expected["nusselt"]).all()


@pytest.mark.parametrize("row", rows("heat", "K1"), ids=str)
def test_fin(row):
    row.check(efficiency=sinks.fin_efficiency(**row.given))


def test_fin_is_a_ring_of_large_radius():
    """`ht`: a ring fin on a tube of 6 m, straight by half its
    height over the radius."""
    for height in (0.01, 0.03):
        ring = ht.fin_efficiency_Kern_Kraus(6.0, 6.0 + 2 * height, 1e-3, 200.0, 40.0)
        straight = sinks.fin_efficiency(40.0, 200.0, 1e-3, height)
        assert straight == pytest.approx(ring, rel=height / 6)


def test_short_channel_is_a_flat_plate():
    """Laminar plate of one temperature, as `ht` has it: 2 % (both laws are fits)."""
    length, diameter = 0.01, 1.0
    for reynolds in (1e3, 3e4):
        plate = ht.Nu_horizontal_plate_laminar_Baehr(reynolds, 0.71)
        found = sinks.developing_nusselt(reynolds * diameter / length, 1.0, length, 0.71)
        assert found * length == pytest.approx(plate, rel=0.02)


def test_carried_on_it_is_below_turbulent_flow():
    """Gnielinski as `ht` has it, with 1 + (D/L)^(2/3) for the entrance (Hausen, from memory)."""
    for reynolds in (4000.0, 8000.0, 23000.0):
        friction = fluids.friction_factor(reynolds, eD=0.0)
        turbulent = ht.conv_internal.turbulent_Gnielinski(Re=reynolds, Pr=0.71, fd=friction)
        for length in (10.0, 20.0, 50.0):
            found = sinks.developing_nusselt(reynolds, np.array([0.03, 0.1, 0.3]), length, 0.71)
            assert (found < turbulent * (1 + length ** (-2 / 3))).all()


def test_log_mean_place():
    """By the definition of the log-mean difference, air from 0 to 1 along a face of one
    temperature."""
    for units in (0.01, 0.6, 5.0):
        face = 1 / (1 - np.exp(-units))
        mean = 1 / np.log(face / (face - 1))
        assert sinks.log_mean_place(units) == pytest.approx(face - mean, rel=1e-9)


# --- whole sinks ---------------------------------------------------------------------------------


def test_a_whole_sink_lies_between_two_solved_limits():
    """20 channels of 3 x 25 mm, 3 m/s, 20 degC. Lower bound: plates, velocity and temperature
    developing; upper: the channel with developed velocity; both marched (derived, not printed),
    and 2 %."""
    fins, warm = COMB.plates, 293.15
    density = float(air.density(warm, 101325.0))
    found = sinks.fin_resistance(fins, 3 * density, warm)
    assert 0.2584 < found < 1.02 * 0.2944


def box(*items, altitude="0 m", speed=1.0, heat=50.0, **host):
    """Air through fins, drawn by a fan; one part on a base that carries two."""
    place = host.pop("place", None) or Slot(name="fins", from_="outside", to="room", sink="comb")
    things = {
        "air": Outside(temperature="20 degC", altitude=altitude), "room": Compartment(name="room"),
        "comb": COMB, "place": place, "base": Part(name="base", in_=place.path, sink="comb"),
        "first": Part(name="first", in_="part.base", power=0.6 * heat,
                      chain=[["junction", "0.4 K/W"], ["case", "0.2 K/W"]]),
        "second": Part(name="second", in_="part.base", power=0.4 * heat, resistance="0.1 K/W"),
        "row": FanType(name="row", curve={"flow": "0 20 40 m3/h", "rise": "40 20 0 Pa"},
                       flow_area="50 cm2", reference_density="1.2 kg/m3"),
        "fan": Fan(name="fan", from_="room", to="outside", type="row", speed=speed),
        **host,
    }  # fmt: skip
    return Enclosure.of(*(each for each in (*things.values(), *items) if each is not None))


HANGING = Part(name="base", in_="room", stream="fan.fan", sink="comb")
PLACES = {
    "slot": {}, "high": {"altitude": "3000 m"}, "slow": {"speed": 0.08, "heat": 5.0},
    "several": {"place": Slot(name="fins", from_="outside", to="room", sink="comb", count=3)},
    "back": {"fan": Fan(name="fan", from_="room", to="outside", type="row", mounted="reversed")},
    "middle": {"base": Part(name="base", in_="slot.fins", sink="comb", position=0.3)},
    "at parts": {"place": Slot(name="fins", from_="outside", to="room", sink="comb",
                               part_heat="at-parts")},
    "duct": {"place": Duct(name="pipe", from_="outside", to="room", section="90 x 30 mm",
                           length="0.2 m", sink="comb")},
    "hanging": {"place": Opening(name="hole", from_="outside", to="room", area="15 cm2"),
                "base": HANGING},
}  # fmt: skip


@each(named(["base", "second", "third"]))
def test_a_sink_that_stores_heat_or_carries_what_does_stays_at_its_steady_state(part):
    """A steady state is one in time too; what stores none follows at once."""
    second = Part(name="second", in_="part.base", power=20.0, chain=[["die", "0.1 K/W"]])
    third = Part(name="third", in_="part.second", power=4.0, resistance=0.3)
    case = box(third, second=second).with_changes({f"part.{part}.heat_capacity": 200.0})
    steady, found = solve(case), transient(case, start="steady", until=5.0)
    for name in ("base", "first.junction", "second.die", "third"):
        path = f"part.{name}.temperature"
        assert found.courses[path] == pytest.approx(steady[path], abs=1e-3), path


def test_the_air_of_a_sink_that_warms_up_is_warmed_by_what_it_gives_off():
    """Of the way from the air that comes to the metal, the air between the fins has the share of
    the steady state, whatever heat is stored; to the change of the air with temperature."""
    host = dict(PLACES["hanging"]) | {"base": dataclasses.replace(HANGING, heat_capacity=200.0)}
    case = box(**host)

    def share(found):
        into, air, metal = (found[f"{path}temperature"] for path in
                            ("compartment.room.", "part.base.air_", "part.base."))  # fmt: skip
        return (air - into) / (metal - into)

    warming = transient(case, start="cold", until=20.0).end
    steady = solve(case)
    assert warming["part.base.temperature"] < 0.7 * steady["part.base.temperature"] + 0.3 * 293.15
    assert 0.01 < share(warming) == pytest.approx(share(steady), rel=0.03)


@every(("name", "host"), list(PLACES.items()))
def test_heat_exchange_of_a_face_of_one_temperature(name, host):
    """P = m cp (T - T_in)(1 - exp(-N)), exactly, wherever the sink stands and at any `position`;
    then the resistances of the chain. Its resistance is that of the air between its fins."""
    found, heat = solve(box(**host)), host.get("heat", 50.0)
    path = {"hanging": "fan.fan", "duct": "duct.pipe"}.get(name, "slot.fins")
    row, base = found.branches[path], found.parts["base"]
    from_room = name == "hanging" or row.mass_flow < 0
    into = found.compartments["room"].temperature if from_room else 293.15
    through = abs(row.mass_flow) / (3 if name == "several" else 1)
    mass_velocity = through / (20 * 3e-3 * 25e-3)
    assert base.velocity * row.density == pytest.approx(mass_velocity, rel=1e-9)
    warm = found.site["pressure"] / (287.05 * row.density)
    resistance = (base.temperature - base.air_temperature) / heat
    counted = max(mass_velocity, 0.1 * row.density)
    law = sinks.fin_resistance(COMB.plates, counted, warm)
    assert resistance == pytest.approx(law, rel=1e-9)
    assert base.resistance == pytest.approx(law, rel=1e-9)
    assert base.volume_flow == pytest.approx(through / row.density, rel=1e-9)
    assert np.isnan([found.parts["second"].resistance, found.parts["second"].volume_flow]).all()
    assert (counted > mass_velocity) == (name == "slow")
    if name != "slow":
        units = 1 / (resistance * CP * through)
        rise = heat / (CP * through * (1 - np.exp(-units)))
        assert base.temperature - into == pytest.approx(rise, rel=1e-9)
    case = base.temperature + 0.2 * 0.6 * heat
    assert found["part.first.case.temperature"] == pytest.approx(case, abs=1e-9)
    junction = found["part.first.junction.temperature"]
    assert junction == pytest.approx(case + 0.4 * 0.6 * heat, abs=1e-9)
    assert found.balance.energy_residual < 1e-6


def test_drop_of_a_sink_is_that_of_a_slot_of_its_channels():
    """The same channels written as a slot: bit for bit, in a duct beside the duct's own."""
    own = Slot(name="fins", from_="outside", to="room", gap=3e-3, width=25e-3, length=0.1, count=20,
               free_ratio=COMB.plates.free_ratio)  # fmt: skip
    both = [
        solve(box(place=place, base=Part(name="base", in_="slot.fins", resistance=0))).branches[
            "slot.fins"
        ]
        for place in (own, Slot(name="fins", from_="outside", to="room", sink="comb"))
    ]
    assert both[0].mass_flow == pytest.approx(both[1].mass_flow, rel=1e-12)
    assert both[0].velocity == pytest.approx(both[1].velocity, rel=1e-12)


@every(("things", "flow"), [(1, 0.004), (3, 0.01)])
def test_drop_of_a_sink_in_a_duct_is_beside_that_of_the_duct(things, flow):
    """Of the same channels as a slot, to the last bits; the height of the duct is no limit."""
    pipe = {"from_": "outside", "to": "box", "section": (0.082, 0.026), "length": 0.2}
    with_fins, empty, fins = (made(each, COMB) for each in (
        Duct(sink="comb", **pipe), Duct(**pipe),
        Slot(from_="outside", to="box", sink="comb"),
    ))  # fmt: skip
    beside = drop(with_fins, flow).item() - drop(empty, flow).item()
    assert beside == pytest.approx(drop(fins, flow).item(), rel=1e-9)


def test_fins_stand_in_the_slot_that_has_them():
    """Beside one of the same keys as ever, each resists as it does alone."""
    ends = {"from_": "outside", "to": "box"}
    plain = Slot(name="plain", gap=0.01, width=0.1, length=0.1, **ends)
    fins = Slot(name="fins", sink="comb", **ends)
    both = drop(element(inputs(plain, fins, COMB), "slot"), 0.004)
    alone = [drop(made(each, COMB), 0.004).item() for each in (plain, fins)]
    assert both.ravel() == pytest.approx(alone, rel=1e-13)


def test_fins_in_a_duct_aside_are_no_fins_of_a_card():
    """A card of 30 cm2: half of its air passes the sink, with blanked ducts of fins or without."""
    card = Slot(name="fins", from_="outside", to="room", area="30 cm2", loss=3.0)
    aside = dataclasses.replace(PLACES["duct"]["place"], state="blanked")
    second = dataclasses.replace(aside, name="second")
    alone, one, two = (solve(box(*more, place=card)).parts["base"]
                       for more in ((), (aside,), (aside, second)))  # fmt: skip
    for with_ducts in (one, two):
        assert with_ducts.velocity == pytest.approx(alone.velocity, rel=1e-12)
        assert with_ducts.temperature == pytest.approx(alone.temperature, rel=1e-12)


@every(("changes", "said"), [
    ({"sink_type.comb.fins": 90}, "no gap for air"),
    ({"sink_type.comb.fin.1": "4 mm"}, "no gap for air"),
    ({"sink_type.comb.fins": 1}, "must be from 2"),
    ({"part.base.sink": "other"}, 'no sink_type "other"'),
    ({"duct.pipe.section": "90 x 20 mm"}, "does not fit into duct.pipe"),
    ({"duct.pipe.section": "44 x 44 mm"}, "does not fit into duct.pipe"),
    ({"duct.pipe.length": "99 mm"}, "does not fit into duct.pipe"),
])  # fmt: skip
def test_what_is_no_sink(changes, said):
    case = box(place=PLACES["duct"]["place"])
    with pytest.raises(CaseError, match=said):
        case.with_changes(changes)


def test_sizes_of_nothing_are_a_fault_each(tmp_path):
    (tmp_path / "box.toml").write_text(
        '[compartment.room]\n[slot.fins]\nfrom = "outside"\nto = "room"\nsink = "comb"\n'
        '[sink_type.comb]\nfins = 9\nmaterial = "copper"\nbase = "0 x 80 mm"\nfin = "30 x -1 mm"\n'
    )
    with pytest.raises(CaseError) as found:
        load_case(tmp_path / "box.toml")
    said = "\n".join(map(str, found.value.faults))
    assert len(found.value.faults) == 2
    for key in ("base", "fin"):
        assert f"sink_type.comb.{key}: must be above 0" in said


def test_a_batch_finds_what_a_change_finds():
    case = box(place=PLACES["duct"]["place"])
    for path, values, said in (("sink_type.comb.fins", [20, 90], "no gap for air"),
                               ("duct.pipe.section.1", [0.03, 0.02], "its sink fits")):  # fmt: skip
        with pytest.raises(CaseError, match=said):
            solve_many(case, {path: np.array(values)})
    found = solve_many(case, {"sink_type.comb.fin.0": np.array([0.025, 0.02])})
    alone = solve(case.with_changes({"sink_type.comb.fin.0": 0.02}))
    assert found["part.base.temperature"][1] == alone.parts["base"].temperature


def test_a_sink_from_a_catalogue_by_type(tmp_path):
    """`type` on a part names a sink; a change of it is one of `sink`, and it is written back."""
    shape = 'base = "81 x 100 mm"\nfin = "25 x 1 mm"\nmaterial = "copper"\n'
    (tmp_path / "sinks.toml").write_text(
        f"[sink_type.comb]\n{shape}fins = 21\n[sink_type.fine]\n{shape}fins = 31\n"
    )
    (tmp_path / "box.toml").write_text(
        'catalogue = ["sinks.toml"]\n[compartment.room]\n[slot.fins]\nfrom = "outside"\n'
        'to = "room"\nsink = "comb"\n[part.base]\nin = "slot.fins"\ntype = "comb"\n'
    )
    case = load_case(tmp_path / "box.toml")
    assert case["part.base.sink"] == "comb"
    other = case.with_changes({"part.base.type": "fine", "slot.fins.sink": "fine"})
    assert other.parts["base"].sink == "fine"
    save_case(other, tmp_path / "own.toml")
    assert load_case(tmp_path / "own.toml").digest == other.digest


@every(("part", "said"), [
    (Part(name="base", in_="room", sink="comb"), "needs the stream past it"),
    (Part(name="base", in_="slot.fins", sink="none"), 'no sink type "none"'),
    (Part(name="base", in_="part.second", sink="comb"), "circle"),
    (Part(name="base", in_="slot.card", sink="comb"), "does not fit into slot.card"),
    (Part(name="base", in_="slot.tight", sink="comb"), "does not fit into slot.tight"),
    (Part(name="base", in_="room", stream="leak.seam", sink="comb"), "a leak has no velocity"),
    (Part(name="base", in_="slot.fins", sink="fine"), 'passes a "comb"'),
    (Part(name="base", in_="slot.fins", limit="90 degC"), "must be given where it stands"),
    (Part(name="more", in_="slot.fins", sink="comb"), "the fins of slot.fins are those of part."),
])  # fmt: skip
def test_where_no_sink_stands(part, said):
    card = Slot(name="card", from_="outside", to="room", gap="20 mm", width="0.2 m", length="0.2 m")
    tight = Slot(name="tight", from_="outside", to="room", area="14.9 cm2", loss=3.0)
    seam = Leak(name="seam", from_="outside", to="room", flow_at=["2 m3/h", "10 Pa"])
    fine = dataclasses.replace(COMB, name="fine", fins=24)
    with pytest.raises(CaseError, match=said):
        box(card, tight, seam, fine, **{part.name: part})
