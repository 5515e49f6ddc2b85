"""How far inputs are usually off, for those that a case says nothing about.

All of these are common practice, no source: they stand in for what nobody has measured yet, and
every answer that rests on them says so. Outside temperature, altitude and speed are conditions,
not tolerances: they belong into scenarios.
"""

from __future__ import annotations

from typing import NamedTuple


class Usual(NamedTuple):
    """One row."""

    kind: str
    key: str
    within: float  # share of the value where `relative`, else in SI
    shape: str
    about: tuple[str, ...]  # a tolerance of the case for one of these keys takes its place
    words: str
    relative: bool = True

    @property
    def pattern(self) -> str:
        """The paths that it stands for."""
        return f"{self.kind}.*.{self.key}"


_LOSS = ("loss", "discharge_coefficient", "open_ratio", "area", "velocity_drop", "hole")
_HEAT = ("power", "output", "efficiency", "load")

USUAL = (
    Usual("fan", "pressure_factor", 0.10, "normal",
          ("pressure_factor", "flow_factor", "speed", "rotation"),
          "rise of a fan of the series against its curve"),
    Usual("vent", "loss", 0.20, "lognormal", _LOSS, "loss coefficient of a grille"),
    Usual("vent", "area", 0.10, "normal", _LOSS,
          "where no loss is given: a drop goes with 1/area^2, so this is 20 % of it"),
    Usual("opening", "loss", 0.20, "lognormal", _LOSS, "loss coefficient of a hole"),
    Usual("opening", "area", 0.10, "normal", _LOSS, "where no loss is given, as above"),
    Usual("baffle", "open_area", 0.10, "normal", ("open_area", "cross_section"),
          "what cables and brackets leave open"),
    Usual("duct", "loss", 0.20, "lognormal", ("loss",), "bends, inlet and outlet of a duct"),
    Usual("slot", "gap", 0.05, "normal", ("gap",), "between cards and what stands on them"),
    Usual("slot", "loss", 0.20, "lognormal", ("area", "loss"), "loss of a measured card"),
    Usual("filter", "fouling", 0.15, "normal", ("fouling", "area", "velocity_drop", "loss"),
          "drop of a mat at its state"),
    Usual("leak", "flow_at.0", 0.50, "lognormal", ("flow_at", "exponent"), "cracks and seams"),
    Usual("exchange", "flow", 0.30, "lognormal", ("flow",), "air that changes places"),
    Usual("recirculation", "fraction", 0.30, "lognormal", ("fraction",),
          "air that is drawn in again"),
    Usual("part", "load", 0.10, "normal", _HEAT, "heat of a part"),
    Usual("slot", "load", 0.10, "normal", _HEAT, "heat of a card"),
    Usual("part", "resistance_factor", 0.15, "normal",
          ("resistance", "resistance_factor", "resistance_law", "chain"),
          "from a part to its air, joints included"),
    Usual("wall", "u_value", 0.20, "lognormal", ("u_value",), "heat through a wall"),
    Usual("fan_type", "noise_dBA", 3.0, "normal", ("noise_dBA", "noise_condition"),
          "level of a fan; one draw for all fans of its type", relative=False),
)  # fmt: skip
