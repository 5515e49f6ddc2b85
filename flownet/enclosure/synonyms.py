"""Other words of the trade for what a case file calls its kinds and keys."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from flownet.schema.fault import Fault, did_you_mean, nearest

MOST_LISTED = 8  # names; more are a list to read, not a hint


def _words(text: str) -> Mapping[str, tuple[str, ...]]:
    """`vent: grille louvre` -> grille: (vent,), louvre: (vent,)."""
    found: dict[str, tuple[str, ...]] = {}
    for line in text.strip().splitlines():
        meant, _, words = line.partition(":")
        for word in words.split():
            found[word] = (*found.get(word, ()), meant.strip())
    return found


KINDS = _words("""
vent: grille grill grilles louvre louver louvres louvers screen slats perforation mesh honeycomb
compartment: plenum node zone room chamber volume space bay section cell void
slot: card board blade cards boards pcb module passage
filter: mat mats filters filtermat filter_mat filter-mat media
fan: blower blowers fans ventilator impeller mover
opening: hole aperture orifice cutout port gland openings
duct: pipe hose tube channel chimney ducts
leak: crack seam leakage infiltration seal leaks
baffle: plate partition divider baffles
part: component device source heat heater load chip sink heatsink heat_sink resistor parts
wall: panel surface skin walls
outside: ambient environment surroundings site atmosphere external
enclosure: cabinet case housing chassis rack box
supply: mains voltage power_supply power-supply psu
limits: limit requirement requirements bounds criteria
exchange: mixing interchange
recirculation: recirculate short_circuit short-circuit backdraught
sink_type: sinktype heatsink_type heat_sink_type sinks heatsinks
fan_type: fantype fan-type fan_types fan_catalogue fan_data
scenario: scenarios condition conditions operating
variant: variants option options design
sweep: sweeps study parametric
tolerance: tolerances uncertainty spread
choice: choices selection optimise optimize
timeline: transient events timelines
""")
KEYS = _words("""
loss: k zeta xi k_factor K_factor loss_coefficient resistance_coefficient
discharge_coefficient: cd c_d discharge
from: start inlet upstream source_node origin
to: end outlet downstream target destination
area: free_area face_area gross_area size surface
open_ratio: porosity free_ratio free_area_ratio perforation
temperature: temp t ambient ambient_temperature
altitude: elevation height_above_sea
relative_humidity: humidity rh
outline: box rect rectangle position geometry
at: position location pos place
air_limit: max_temperature limit max temperature_limit
limit: max_temperature max tmax t_max temperature_limit
power: heat dissipation loss_power watts q
in: inside location compartment host
resistance: rth r_th theta thermal_resistance
u_value: u k_value heat_transfer_coefficient
speed: rpm
sink: heatsink heat_sink
rated_speed: speed rpm nominal_speed
curve: pq pq_curve performance data_points
noise_dBA: sound noise_level level spl
flow_area: area annulus
velocity_drop: pressure_drop drop drop_curve
fouling: loading clogging dirt
hole_pitch: pitch
emissivity: epsilon eps
faces: sides
mounted: orientation
size: dimensions dims
copies: count number repeat quantity
type: model kind
""")


def meant_kind(word: str, known: Collection[str]) -> str:
    """The known kind that a word of the trade, or a slip of the finger, stands for."""
    return _meant(word, KINDS, known)


def meant_key(word: str, known: Collection[str]) -> str:
    """The known key that a word of the trade, or a slip of the finger, stands for."""
    return _meant(word, KEYS, known)


def hint(word: str, known: Collection[str]) -> str:
    """`did you mean "front"?`, else the known names where they are few, else nothing."""
    few = 0 < len(known) <= MOST_LISTED
    all_of_them = f"known: {', '.join(filter(None, known))}" if few else ""
    return did_you_mean(meant_kind(word, known), all_of_them)


def unknown(place: str, what: str, name: Any, known: Iterable[str]) -> str:
    """The fault of a name that nothing has."""
    return Fault(place, f'no {what} "{name}"', hint=hint(str(name), list(known)))


def _meant(word: str, table: Mapping[str, tuple[str, ...]], known: Collection[str]) -> str:
    same = [meant for meant in table.get(word.lower(), ()) if meant in known]
    return same[0] if same else nearest(word, known)
