"""How far a value may be off: what tolerances are made of. Values to try: `enclosure.ranges`."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.ranges import alternatives, role_at
from flownet.schema import quantities as q
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError
from flownet.schema.fault import brief
from flownet.schema.fields import Number
from flownet.schema.quantities import Quantity

__all__ = ["SHAPES", "TOLERANCE", "alternatives", "role_at", "tolerance"]

SHAPES = ("normal", "lognormal", "uniform")
TOLERANCE = ("within", "shape", "together")


def tolerance(case: Enclosure, path: str, raw: Any) -> Mapping[str, Any]:
    """How far a value may be off: `6 %` of it, or an amount such as `2 K`.

    Returns
    -------
    mapping
        `within` (share of the value where `relative`, else in SI), `relative`, `shape`,
        `together`.

    Raises
    ------
    CaseError
        Each line after the path.
    """
    role = role_at(case, path)
    if not isinstance(role, Number):
        raise CaseError(f"{path}: is no number and has no tolerance")
    table = raw if isinstance(raw, Mapping) else {"within": raw}
    faults = [
        f"{path}.{key}: unknown key; the keys are {', '.join(TOLERANCE)}"
        for key in table
        if key not in TOLERANCE
    ]
    shape, together = table.get("shape", SHAPES[0]), table.get("together", False)
    if shape not in SHAPES:
        faults.append(f"{path}.shape: must be one of {', '.join(SHAPES)} (got {brief(shape)})")
    if not isinstance(together, bool):
        faults.append(f"{path}.together: must be true or false (got {brief(together)})")
    within, relative = 0.0, True
    try:
        within, relative = _within(role.quantity, table.get("within"))
    except CaseError as error:
        faults += [f"{path}: {fault}" for fault in error.faults]
    if shape == "lognormal" and not relative:
        faults.append(f'{path}.shape: "lognormal" goes with a share, such as within = "20 %"')
    if faults:
        raise CaseError(faults)
    return MappingProxyType(
        {"within": within, "relative": relative, "shape": shape, "together": together}
    )


def _within(quantity: Quantity, raw: Any) -> tuple[float, bool]:
    absolute = q.DIFFERENCE if quantity == q.TEMPERATURE else quantity
    by_share = 'a share of the value is wanted, such as "6 %"'
    if quantity == q.TEMPERATURE:
        by_share = 'a difference is wanted, such as "2 K"'
    elif not quantity.bare:
        by_share += f', or an amount, such as "{quantity.example}"'
    if not isinstance(raw, str):
        raise CaseError(f"{by_share} (got {brief(raw)})")
    share = raw.strip().endswith("%")
    if share and quantity == q.TEMPERATURE:
        raise CaseError(f'"{raw}" of a temperature has no meaning; {by_share}')
    if not share and absolute == q.RATIO:
        raise CaseError(f'"{raw}" has no %; {by_share}')
    value = float(convert(Number(q.RATIO if share else absolute, 0.0), raw, file=True))
    if share and value >= 1:
        raise CaseError(f'must be below 100 % (got "{raw}")')
    return value, share
