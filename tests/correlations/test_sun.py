"""Sun and sky against worked examples, other clear skies, and the geometry of the sphere."""

from __future__ import annotations

import numpy as np
import pytest

from flownet.physics import films, sun
from tests.published import rows

EDGES = {"east": 90.0, "south": 180.0, "west": 270.0, "north": 0.0}
LAST = (21, 52, 80, 111, 141, 172, 202, 233, 264, 294, 325, 355)


@pytest.mark.parametrize("row", rows("sun", "Y1"), ids=str)
def test_angle_of_incidence(row):
    g = row.given
    toward = sun.sun_direction(g["latitude"], g["day"], g["hour"])
    found = sun.facing_sun(toward, g["azimuth"], g["tilt"])
    row.check(incidence=np.degrees(np.arccos(found)))
    assert sum(part**2 for part in toward) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("row", rows("sun", "Y6"), ids=str)
def test_beam(row):
    beam, _ = sun.clear_sky(np.sin(np.radians(row.given["altitude"])), row.given["day"])
    row.check(beam=row.given["clearness"] * beam)


@pytest.mark.parametrize("row", rows("sun", "Y7"), ids=str)
def test_sky_and_beam_on_the_ground(row):
    beam, diffuse = sun.clear_sky(row.given["sine"], row.given["day"])
    beam = beam * row.given["sine"]
    hourly = {"beam": beam, "diffuse": diffuse, "global": beam + diffuse}
    row.check(**{key: 3.6 * value for key, value in hourly.items()})


@pytest.mark.parametrize("row", rows("sun", "Y8"), ids=str)
def test_faces_of_a_box(row):
    g = row.given

    def found(azimuth: float, tilt: float = 90.0) -> list[float]:
        return [float(sun.sun_on_face(g["latitude"], g["day"], hour, azimuth, tilt, 0.2))
                for hour in g["hour"]]  # fmt: skip

    row.check(horizontal=found(0.0, 0.0), **{name: found(way) for name, way in EDGES.items()})
    ground = 0.2 * np.array(found(0.0, 0.0))  # what looks down sees lit ground alone
    np.testing.assert_allclose(found(0.0, 180.0), ground, rtol=1e-12)


def test_every_month_is_near_another_clear_sky():
    """Global light of high and low sun within 10 % of Haurwitz 1945 by distance (as in pvlib):
    winter air is clearer than its mean. It holds the constants that are from memory, coarsely."""
    for day in LAST:
        far = 1 + 0.033 * np.cos(2 * np.pi * day / 365)
        for cosine in (0.5, 0.8, 1.0):
            beam, diffuse = sun.clear_sky(cosine, day)
            other = far * 1098 * cosine * np.exp(-0.059 / cosine)
            assert beam * cosine + diffuse == pytest.approx(other, rel=0.1), (day, cosine)


BIRD = {  # beam and global light [W/m2] at 30 and at 60 deg on each of these days
    30: ((839, 511), (831, 506), (818, 498), (804, 489), (792, 482), (786, 478), (786, 479),
         (793, 483), (805, 490), (820, 499), (833, 507), (840, 511)),
    60: ((970, 952), (960, 942), (946, 928), (929, 912), (916, 899), (908, 891), (908, 891),
         (917, 900), (931, 914), (947, 930), (962, 944), (971, 953)),
}  # fmt: skip
STOOD = {  # day -> altitude and azimuth at 9, 12 and 15:30 h of solar time at 50 N
    21: ((9.7, 137.6), (20.2, 180.0), (6.3, 228.7)),
    80: ((27.4, 127.2), (40.4, 180.0), (23.4, 239.9)),
    141: ((43.8, 113.3), (60.3, 180.0), (39.3, 253.9)),
    172: ((46.2, 110.4), (63.4, 180.0), (41.6, 256.7)),
    264: ((27.5, 127.1), (40.5, 180.0), (23.4, 239.8)),
    325: ((9.5, 137.7), (20.0, 180.0), (6.0, 228.5)),
}


def test_every_month_is_near_the_clear_sky_of_a_library():
    """pvlib 0.16.1, clearsky.bird with aerosols of 0.1 at 380 and 500 nm and 15 mm of water: beam
    within 9 %, global light at most 1 % below and 8 % above."""
    for altitude, wanted in BIRD.items():
        sine = np.sin(np.radians(altitude))
        for day, (beam, whole) in zip(LAST, wanted, strict=True):
            found, diffuse = sun.clear_sky(sine, day)
            assert found == pytest.approx(beam, rel=0.09), (day, altitude)
            assert 0.99 < (found * sine + diffuse) / whole < 1.08, (day, altitude)


def test_the_sun_stands_where_a_library_has_it():
    """pvlib 0.16.1, solarposition.spa_python: within 1.1 deg, as Cooper's declination is."""
    for day, wanted in STOOD.items():
        east, north, up = sun.sun_direction(50.0, float(day), np.array([9.0, 12.0, 15.5]))
        altitude, azimuth = np.degrees([np.arcsin(up), np.arctan2(east, north) % (2 * np.pi)])
        np.testing.assert_allclose(altitude, [each[0] for each in wanted], atol=1.1)
        np.testing.assert_allclose(azimuth, [each[1] for each in wanted], atol=1.1)


def test_the_sun_rises_in_the_east_and_is_gone_at_night():
    """At the equator at an equinox it goes through the zenith; nothing arrives at midnight; at
    10 S it stands in the south at noon in December only; the year has no gap at its end."""
    east, north, up = sun.sun_direction(0.0, 81.0, 9.0)
    assert (east, north, up) == pytest.approx((np.sqrt(0.5), 0.0, np.sqrt(0.5)), abs=1e-12)
    assert sun.sun_on_face(50.0, 172.0, np.array([0.0, 24.0]), 180.0, 90.0, 0.2).tolist() == [0, 0]
    assert sun.sun_direction(-10.0, 355.0, 12.0)[1] < 0 < sun.sun_direction(-10.0, 172.0, 12.0)[1]
    ends = np.array([sun.clear_sky(0.7, day) for day in (366.0, 1.0)])
    np.testing.assert_allclose(ends[0], ends[1], rtol=1e-6)


@pytest.mark.parametrize("row", rows("sun", "Y13"), ids=str)
def test_sky_temperature(row):
    row.check(sky=films.clear_sky_temperature(np.array(row.given["air"])))


def test_seven_mounting_cases():
    """By the formulas of three makers, which agree; the free-standing one to the printed area."""
    h, w, d = 2.0, 0.8, 0.6
    printed = {
        "free-standing": 1.8 * h * (w + d) + 1.4 * w * d,
        "against-wall": 1.4 * w * (h + d) + 1.8 * d * h,
        "row-end": 1.4 * d * (h + w) + 1.8 * w * h,
        "row-end-against-wall": 1.4 * h * (w + d) + 1.4 * w * d,
        "row-middle": 1.8 * w * h + 1.4 * w * d + d * h,
        "row-middle-against-wall": 1.4 * w * (h + d) + d * h,
        "row-middle-against-wall-covered": 1.4 * w * h + 0.7 * w * d + d * h,
    }
    found = {name: films.effective_area(w, h, d, *how) for name, how in films.MOUNTINGS.items()}
    assert found == pytest.approx(printed, rel=1e-12)
    (row,) = rows("sun", "C11")
    row.check(area=found["free-standing"])
