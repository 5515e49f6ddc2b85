"""`flownet draw FILE.csv curves`, and of a fan type in a catalogue: a curve as it is read."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from flownet.casefile.catalogue import load_fan_types
from flownet.casefile.curves import curve_file
from flownet.casefile.document import OWN_TYPES, TYPES
from flownet.cli.reading import named_catalogue
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, listed, nearest

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from flownet.studies.fans.curve import FanCurve

BESIDE_TYPES = ("format", "title", "note")  # what else stands at the top of a catalogue
TYPES_NAMED = 6  # types that an error lists


def wanted(text: str) -> bool:
    """Whether this is a curve file or a catalogue, not a case."""
    path = named_catalogue(Path(text))
    if path.suffix.lower() == ".csv":
        return True
    if path.suffix != ".toml" or not path.is_file():
        return False
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (ValueError, RecursionError, OSError):  # no TOML, no text, or beyond all sense
        return False  # told where cases are read
    kinds = [name for name in content if name not in BESIDE_TYPES]
    return bool(kinds) and all(name in (*OWN_TYPES, *TYPES) for name in kinds)


def figure(text: str, picture: str, of: str | None, units: str) -> tuple[str, Figure]:
    """What files of the picture are called after, and the picture."""
    from flownet.pictures.fan_curve import fan_curve as drawn  # noqa: PLC0415 - loads matplotlib

    if picture != "curves":
        what = "curve file" if text.lower().endswith(".csv") else "catalogue"
        raise click.UsageError(f"a {what} has one picture; write: draw {text} curves")
    curve = _curve(named_catalogue(Path(text)), of)
    figure: Any = drawn(curve, units=units).figure
    return curve.name.removesuffix(".csv"), figure


def _curve(path: Path, of: str | None) -> FanCurve:
    from flownet.studies.fans.curve import curve_of_file, fan_curve  # noqa: PLC0415 - rarely

    if path.suffix.lower() == ".csv":
        if of is not None:
            raise click.UsageError("--of: a curve file holds one curve; leave it out")
        return curve_of_file(curve_file(path), path.name)
    types = load_fan_types(path)
    every = listed(types, TYPES_NAMED, last=", ")
    if of is None and len(types) == 1:
        of = next(iter(types))
    if of is None:
        raise click.UsageError(f"--of: name the fan type; {path.name} has {every}")
    name = of.removeprefix("fan_type.")
    if name not in types:
        hint = did_you_mean(nearest(name, types), f"it has {every}")
        raise CaseError(Fault(path.name, f'no fan type "{name}"', hint=hint))
    return fan_curve(types[name])
