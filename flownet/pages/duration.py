"""Times as people read them."""

from __future__ import annotations

UNITS = (("d", 86400), ("h", 3600), ("min", 60), ("s", 1))
LEAST_DAYS = 2 * 86400  # s, below which hours are told
TENTHS = 10.0  # s, below which tenths are told


def duration(seconds: float) -> str:
    """`4 min 12 s`, `2 h 5 min`, `0.8 s`: two units at most, the smaller one rounded."""
    if seconds < TENTHS:
        return f"{seconds:.1f}".removesuffix(".0") + " s"
    for place, (unit, size) in enumerate(UNITS):
        if seconds < LEAST_DAYS and unit == "d":
            continue
        small, step = UNITS[place + 1] if place + 1 < len(UNITS) else ("", 1)
        whole = round(seconds / step) * step
        if whole >= size:
            count, rest = divmod(whole, size)
            more = f" {rest // step} {small}" if small and rest else ""
            return f"{count} {unit}{more}"
    return f"{seconds:.0f} s"
