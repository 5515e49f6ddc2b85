"""Readings of a known truth, with and without noise (invented data)."""

from __future__ import annotations

import numpy as np

import flownet
from flownet.schema import quantities as q
from flownet.studies.sweep_rows import results_of

EXACT = {q.TEMPERATURE: 1.0, q.PRESSURE: 1.0, q.VOLUME_FLOW: 0.001, q.VELOCITY: 0.1, q.POWER: 1.0}
SI = {q.TEMPERATURE: "K", q.PRESSURE: "Pa", q.VOLUME_FLOW: "m3/s", q.VELOCITY: "m/s", q.POWER: "W"}


def read_off(case, points, changes=None, seed=None, **rest):
    """Rows of readings at these points of a case with changes; `seed`: with normal noise, of which
    95 of 100 lie within the uncertainty."""
    batch = flownet.solve_many(case, changes or {}, **rest)
    kinds = dict(results_of(batch))
    noise = np.zeros(len(points))
    if seed is not None:
        noise = np.random.default_rng(seed).standard_normal(len(points)) / 1.959964
    return [
        {"point": path, "reading": float(batch[path][0] + off * EXACT[kinds[path]]),
         "reading_unit": SI[kinds[path]], "uncertainty": EXACT[kinds[path]]}
        for path, off in zip(points, noise, strict=True)
    ]  # fmt: skip


CABINET = (
    "filter.intake.drop", "leak.door-seal.drop", "vent.side.velocity", "fan.left.volume_flow",
    "fan.right.volume_flow", "compartment.lower.temperature", "compartment.upper.temperature",
    "part.choke.temperature", "part.controller.temperature", "part.power-supply.temperature",
)  # fmt: skip


def box(**rest):
    """One compartment with a vent, a fan, a warm part and a wall."""
    line = {"flow": "0 50 100 m3/h", "rise": "60 40 0 Pa"}
    return flownet.Enclosure.of(
        flownet.Outside(temperature="25 degC"), flownet.Compartment(name="box"),
        flownet.FanType(name="small", curve=line, flow_area="50 cm2", origin="invented data"),
        flownet.Fan(name="out", from_="box", to="outside", type="small"),
        flownet.Vent(name="in", from_="outside", to="box", area="60 cm2", loss=3.0),
        flownet.Part(name="p", in_="box", power="150 W", resistance="0.2 K/W"), **rest,
    )  # fmt: skip
