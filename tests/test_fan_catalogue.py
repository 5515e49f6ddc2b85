"""The demo catalogue: invented, complete, and believable fan by fan.

Bounds without a source are common practice or from memory, and say so; they are wide.
"""

from __future__ import annotations

import math
import re
from itertools import groupby
from pathlib import Path

import pytest

import flownet
from flownet.cli.demos import catalogues
from tests.cli import box
from tests.each import each, named

FOLDER = Path(__file__).parents[1] / "cases" / "fan-catalogue"
ROWS = flownet.load_fan_types(FOLDER / "fans.toml")
BASES = {name: row for name, row in ROWS.items() if ".rating." not in name}
DENSITY = 1.2
NAME = re.compile(r"(axial|radial)-\d+x\d+-(12|24|48|115|230)v(-(still|plain|strong))?")


def is_axial(row):
    return row.name.startswith("axial")


def wheel(row):
    """Diameter of the wheel [m]."""
    return flownet.si(row.data["wheel"])


def tip_speed(row):
    return math.pi * wheel(row) * row.rated_speed


def best(row):
    """The point with the most air power: flow, rise."""
    return max(row.curve, key=lambda point: point[0] * point[1])


def frames():
    """Fans of one frame: same blades."""

    def key(row):
        return row.name.split("-")[1]

    rows = sorted(ROWS.values(), key=key)
    return {frame: list(group) for frame, group in groupby(rows, key)}


# --- what it holds ------------------------------------------------------------------------------


def test_it_is_invented_and_says_so():
    assert len(BASES) >= 30
    assert {row.origin for row in ROWS.values()} == {"invented"}
    assert (FOLDER / "fans.toml").read_text().startswith("# Invented data")
    assert "Invented data" in (FOLDER / "README.md").read_text()
    assert f"{len(BASES)} fan types" in (FOLDER / "README.md").read_text()


@each(named(BASES))
def test_a_name_is_size_voltage_and_a_word_and_no_part_number(name):
    assert NAME.fullmatch(name)
    size = BASES[name].frame
    assert name.split("-")[1] == f"{1000 * size[0]:.0f}x{1000 * size[1]:.0f}"
    assert f"{BASES[name].supply_text.voltage:.0f}v" in name


def test_it_covers_the_usual_sizes_supplies_bearings_and_curves():
    sizes = {round(1000 * row.frame[0]) for row in BASES.values() if is_axial(row)}
    assert {40, 60, 80, 92, 119, 172, 200} <= sizes
    assert sum(not is_axial(row) for row in BASES.values()) >= 4
    supplies = {row.supply_text for row in ROWS.values()}
    assert supplies == {(v, 0) for v in (12, 24, 48)} | {
        (v, f) for v in (115, 230) for f in (50, 60)
    }
    assert {row.bearing for row in BASES.values()} == {"sleeve", "ball"}
    rising = [any(b[1] > a[1] for a, b in zip(row.curve, row.curve[1:], strict=False))
              for row in BASES.values()]  # fmt: skip
    assert 8 <= sum(rising) <= len(rising) - 8


@each(ROWS)
def test_data_are_complete(row):
    for key in ("reference_density", "rated_speed", "flow_area", "power", "current", "noise_dBA",
                "price", "blades"):  # fmt: skip
        assert getattr(row, key) > 0, key
    for key in ("noise", "life", "air_range", "alarm", "shaft", "frame", "supply"):
        assert getattr(row, key), key
    assert len(row.curve) >= 5
    assert row.curve[-1][1] == 0
    if is_axial(row):
        assert row.frame[0] > row.hole_pitch > 0.7 * row.frame[0]
        assert row.frame[0] >= row.cutout > wheel(row)
        assert row.flow_area < math.pi / 4 * wheel(row) ** 2
    if row.supply_text.frequency == 0:
        assert row.speed_range[0] < row.speed_range[1] == 1.0


def test_every_fan_of_alternating_current_has_both_frequencies():
    for name, row in BASES.items():
        if row.supply_text.frequency:
            others = [ROWS[key] for key in ROWS if key.startswith(f"{name}.rating.")]
            both = {row.supply_text.frequency, *(one.supply_text.frequency for one in others)}
            assert both == {50.0, 60.0}, name


# --- whether it can be --------------------------------------------------------------------------


@each(ROWS)
def test_efficiency_is_possible(row):
    """Air power over electrical power at its best: small motors, static pressure.

    Bounds: common practice, no source.
    """
    flow, rise = best(row)
    efficiency = flow * rise / row.power
    most = 0.35 if is_axial(row) or row.name.startswith("radial-1") else 0.20
    assert 0.03 < efficiency < most


@each(ROWS)
def test_specific_speed_is_that_of_its_kind(row):
    """omega Q^0.5 / (p/rho)^0.75 at the best point: axial above, radial below about 1.8.

    Ranges after charts of turbomachine types in textbooks (0.3 to 1.8 radial, 1.8 to 6 axial):
    from memory, no source read.
    """
    flow, rise = best(row)
    omega = 2 * math.pi * row.rated_speed
    found = omega * math.sqrt(flow) / (rise / DENSITY) ** 0.75
    low, high = (1.8, 6.0) if is_axial(row) else (0.3, 1.8)
    assert low < found < high


@each(ROWS)
def test_pressure_and_flow_fit_the_tip_speed(row):
    """Shut-off pressure over rho u^2/2 and axial velocity over u (common practice, no source)."""
    u = tip_speed(row)
    assert 5 < u < 35
    shut_off = row.curve[0][1] / (DENSITY * u * u / 2)
    low, high = (0.3, 0.8) if is_axial(row) else (0.9, 2.4)
    assert low < shut_off < high
    if is_axial(row):
        assert 0.25 < row.curve[-1][0] / row.flow_area / u < 0.55


@each(ROWS)
def test_noise_fits_the_tip_speed_and_size(row):
    """50 log10 u + 20 log10 D, within a band of 10 dB for its kind (common practice, no source)."""
    law = 50 * math.log10(tip_speed(row)) + 20 * math.log10(wheel(row))
    middle = 3.5 if is_axial(row) else 9.0
    assert row.noise_dBA - law == pytest.approx(middle, abs=5.0)


@each(frames())
def test_fans_of_one_frame_follow_the_fan_laws(group):
    """Flow as n, pressure as n^2 (ISO 5801), noise as 50 log10 n (common practice, no source)."""
    first = group[0]
    for row in group[1:]:
        n = row.rated_speed / first.rated_speed
        for (flow, rise), (flow0, rise0) in zip(row.curve, first.curve, strict=True):
            assert flow == pytest.approx(n * flow0, rel=0.02, abs=3e-5)
            assert rise == pytest.approx(n * n * rise0, rel=0.01, abs=0.1)
        change = 50 * math.log10(n)
        assert row.noise_dBA - first.noise_dBA == pytest.approx(change, abs=1.0)  # whole dB


@each(frames())
def test_power_of_one_frame_and_kind_of_motor_goes_with_the_cube(group):
    """Power as n^3 for one motor; two motors of a frame differ by less than a quarter."""
    direct = [row for row in group if row.supply_text.frequency == 0]
    for row in direct[1:]:
        n = row.rated_speed / direct[0].rated_speed
        assert row.power == pytest.approx(n**3 * direct[0].power, rel=0.25)


@each(ROWS)
def test_current_carries_the_power(row):
    """Direct current: P = U I. Alternating: power factor of small motors 0.5 to 0.9."""
    factor = row.power / (row.supply_text.voltage * row.current)
    if row.supply_text.frequency == 0:
        assert factor == pytest.approx(1.0, abs=0.06)  # two digits are given
    else:
        assert 0.5 < factor < 0.9


@each(ROWS)
def test_bearings_have_the_shaft_life_and_heat_that_go_with_them(row):
    """A sleeve lives half as long and lies horizontal (trade notes; common practice, no source)."""
    if row.bearing == "sleeve":
        assert row.shaft == ("horizontal",)
        assert row.life.hours <= 40000
        assert row.air_range[1] <= 273.15 + 60
    else:
        assert row.shaft == ("horizontal", "vertical")
        assert 50000 <= row.life.hours <= 75000
    assert row.life.at == pytest.approx(313.15)
    assert 1.3 <= row.life.factor_per_10K <= 1.5


@each(ROWS)
def test_motor_turns_slower_than_its_field(row):
    """An induction motor with two poles stays below the frequency of its supply."""
    frequency = row.supply_text.frequency
    if frequency:
        assert row.rated_speed < frequency


# --- whether it works ---------------------------------------------------------------------------


def test_every_fan_works_in_a_case(tmp_path):
    """In the box of the tests, with holes in proportion: each moves air the way it blows."""
    case = flownet.load_case(box.written(tmp_path, box.SOUND), catalogue=[FOLDER / "fans.toml"])
    holes = [2.5 * row.flow_area for row in BASES.values()]
    changes = {"fan.*.type": [*BASES], "vent.low.area": holes, "part.board.power": 5.0}
    batch = flownet.solve_many(case, changes)
    for i, (name, row) in enumerate(BASES.items()):
        found = batch.select(i)
        assert found.fans["fan.left"].region in ("normal", "stall"), name
        assert 0.3 * row.curve[-1][0] < found.volume_flow("fan.left") < row.curve[-1][0], name


def test_the_command_line_knows_it_by_its_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert catalogues() == {"fan-catalogue": FOLDER / "fans.toml"}
    result = box.run("solve", box.written(tmp_path, box.SOUND), "--catalogue", "fan-catalogue",
                     "--set", "fan.*.type=axial-80x25-24v")  # fmt: skip
    assert result.exit_code == 0, result.stderr
    assert "fan.*.type = axial-80x25-24v" in result.stdout
    lost = box.run("solve", box.written(tmp_path, box.SOUND), "--catalogue", "fan-catalog")
    assert lost.exit_code == 2
    assert 'catalogue: no folder or file "fan-catalog"' in lost.stderr
