"""How pictures look: colours, sizes of letters and lines. Lengths are points, 1/72 inch."""

from __future__ import annotations

from typing import NamedTuple

from matplotlib.colors import LinearSegmentedColormap, to_hex

INK, QUIET, GROUND, WHITE = "#1F2933", "#5B6670", "#F4F5F2", "#FFFFFF"

# Hot is dark: lightness falls in a straight line, so grey print keeps the order.
RAMP = (
    "#e6f0f4", "#d8d7c3", "#c9bd91", "#c19f63", "#b78230", "#ac6123", "#9e3e17", "#7c2e2b",
    "#5d1e32",
)  # fmt: skip
_AIR = LinearSegmentedColormap.from_list("air", RAMP, 1025)  # so many that it looks continuous

OK, TIGHT, OVER = "#EEF3F0", "#E9BE6B", "#8C2F39"  # fills of a status; words on OVER are white
CLEAN_LINE, LOADED_LINE = "#1B6CA8", "#B4531A"  # lines of a system: clean solid, loaded dashed

HEADLINE, HEAD, BODY, SMALL, FINE_PRINT = 13.0, 10.0, 8.5, 7.0, 6.0  # sizes of letters
NUMBER = 15.0  # the temperature of a compartment

HAIR, FINE, LINE, BOLD = 0.5, 0.8, 1.2, 1.8  # widths of lines
WALL, PLATE = 2.4, 5.0  # outline of a compartment; a baffle

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
    """The colour at a share 0 ... 1 of the temperature ramp."""
    return str(to_hex(_AIR(share)))
