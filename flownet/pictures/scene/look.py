"""How pictures look: colours, sizes of letters and lines. Lengths are points, 1/72 inch."""

from __future__ import annotations

from typing import NamedTuple

INK = "#1F2933"
QUIET = "#5B6670"
GROUND = "#F4F5F2"
PAPER = "#FFFFFF"

# Hot is dark: lightness falls in a straight line, so grey print keeps the order.
RAMP = (
    "#e6f0f4", "#d8d7c3", "#c9bd91", "#c19f63", "#b78230", "#ac6123", "#9e3e17", "#7c2e2b",
    "#5d1e32",
)  # fmt: skip

OK, TIGHT, OVER = "#EEF3F0", "#E9BE6B", "#8C2F39"  # fills of a status; words on OVER are white
CLEAN, LOADED = "#1B6CA8", "#B4531A"  # lines of a system: clean solid, loaded dashed

TITLE = 13.0  # sizes of letters
NUMBER = 15.0  # the temperature of a compartment
HEAD = 10.0
BODY = 8.5
SMALL = 7.0
TINY = 6.0

HAIR = 0.5  # widths of lines
THIN = 0.8
LINE = 1.2
BOLD = 1.8
WALL = 2.4  # outline of a compartment
PLATE = 5.0  # a baffle

LINE_SPACING = 1.28  # baseline to baseline, of the size of the letters
ASCENT, DESCENT = 0.80, 0.25  # above and below the baseline, of the size of the letters


class Temperatures(NamedTuple):
    """The range of temperatures that the ramp spans [K]."""

    low: float
    high: float

    def share(self, temperature: float) -> float:
        """Where a temperature stands in the range, held to 0 ... 1."""
        return min(max((temperature - self.low) / (self.high - self.low), 0.0), 1.0)

    def colour(self, temperature: float) -> str:
        """The fill of air at a temperature; beyond the range the colour of its end."""
        return ramp(self.share(temperature))


def ramp(share: float) -> str:
    """The colour at a share 0 ... 1 of the temperature ramp, straight between its steps."""
    position = min(max(share, 0.0), 1.0) * (len(RAMP) - 1)
    step = min(int(position), len(RAMP) - 2)
    part = position - step
    mixed = (
        round(a + (b - a) * part)
        for a, b in zip(_parts(RAMP[step]), _parts(RAMP[step + 1]), strict=True)
    )
    return "#" + "".join(f"{value:02x}" for value in mixed)


def _parts(colour: str) -> tuple[int, int, int]:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return red, green, blue
