"""Sun and sky on the outer faces of walls; panels, looks and variants as in `walls`."""

from __future__ import annotations

from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.physics import films, sun
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError


def under_the_sky(inputs: Inputs, c: Any, made: Any, given: Array) -> tuple[Array, Array]:
    """(panels, variants) what outer faces absorb [W/m2], of the sun that is given, or else of that
    of a clear sky; and the same less what computed ones radiate to a sky colder than the air.

    `made` are the panels, `given` the sun on each that is given, `c` the columns of the walls.
    CaseError for sun without `irradiance` where latitude, day, hour or an azimuth is missing.
    """
    wall = made.wall
    named = list(inputs.enclosure.walls.values())
    outside = np.array([[item.to.partition(".")[0] == "outside"] for item in named])
    tilt = np.where(np.isnan(c.tilt[wall]), 90.0 - 90.0 * made.faces_up, c.tilt[wall])
    lit = (outside & np.isnan(c.sun.irradiance) & ~np.isnan(c.sun.absorptance))[wall]
    lit = lit & (made.area.real > 0)
    if lit.any():
        shone = c.sun.absorptance[wall] * _clear_sun(inputs, c.azimuth[wall], tilt)
        if (dark := (lit & np.isnan(shone)).any(axis=1)).any():
            raise CaseError(
                f"{named[wall[dark][0]].path}.sun: give irradiance; or latitude, day and hour of "
                "[outside] and the azimuth of the wall"
            )
        given = np.where(lit, shone, given)
    o, names = inputs.columns["outside"], inputs.names("outside")
    place = np.array([names.index(item.to.partition(".")[2]) if there else 0
                      for item, (there,) in zip(named, outside, strict=True)])  # fmt: skip
    clear = films.clear_sky_temperature(o["temperature"])
    sky = np.where(o["sky"].real >= 0, clear, o["sky_temperature"])[place][wall]
    seen = outside[wall] & ~np.isnan(sky) & np.isnan(c.u_value[wall])
    if not seen.any():
        return given, given
    around, share = o["temperature"][place][wall], sun.sky_share(tilt)
    lost = films.sky_loss(around, sky, c.emissivity[wall], share)
    return given, np.where(seen, given - lost, given)


def _clear_sun(inputs: Inputs, azimuth: Array, tilt: Array) -> Array:
    """(panels, variants) [W/m2]; NaN where something is missing."""
    o = {key: column[:1] for key, column in inputs.columns["outside"].items()}
    for key, usual in (("clearness", 1.0), ("ground_reflectance", 0.2)):
        o[key] = np.where(np.isnan(o[key]), usual, o[key])
    flat = abs(tilt.real - 90) == 90
    shone = o["clearness"] * sun.sun_on_face(
        o["latitude"], o["day"], o["hour"], np.nan_to_num(azimuth), tilt,
        o["ground_reflectance"],
    )  # fmt: skip
    return np.where(np.isnan(azimuth) & ~flat, np.nan, shone)
