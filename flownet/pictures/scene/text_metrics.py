"""How wide words are, so that a picture can be laid out before it is drawn.

Advance widths of DejaVu Sans, the typeface of every picture, in thousandths of the letter size.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

FAMILY = "DejaVu Sans"
SLACK = 1.02  # hinting moves letters by fractions of a pixel
UNKNOWN = 1000  # a letter that is in no list is taken as wide as it is high

# characters 32 to 126
_REGULAR = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
)  # fmt: skip
_BOLD = (
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696,
    696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683,
    683, 821, 837, 372, 372, 775, 637, 995, 837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771,
    724, 725, 457, 365, 457, 838, 500, 500, 675, 716, 593, 716, 678, 435, 716, 712, 343, 343, 665,
    343, 1042, 712, 687, 716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712, 365, 712, 838,
)  # fmt: skip
_REGULAR_MORE = {"°": 500, "²": 401, "³": 401, "₂": 401, "µ": 636, "…": 1000, "×": 838, "·": 318}
_BOLD_MORE = {"°": 500, "²": 438, "³": 438, "₂": 438, "µ": 736, "…": 1000, "×": 838, "·": 380}


def width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text in points, a little above what is drawn."""
    known, more = (_BOLD, _BOLD_MORE) if bold else (_REGULAR, _REGULAR_MORE)
    total = sum(known[ord(c) - 32] if " " <= c <= "~" else more.get(c, UNKNOWN) for c in text)
    return total * size * SLACK / 1000


def wrap(text: str, size: float, bold: bool, most: float) -> list[str]:
    """Lines no wider than `most`: broken at spaces, else after - _ . and in need anywhere."""
    lines: list[str] = []
    line = ""
    for piece in _pieces(text, size, bold, most):
        if line and width((line + piece).rstrip(), size, bold) > most:
            lines.append(line.rstrip())
            line = piece.lstrip()
        else:
            line += piece
    return [*lines, line.rstrip()]


def _pieces(text: str, size: float, bold: bool, most: float) -> Iterator[str]:
    """Words with the space after them; parts of those that are wider than a line."""
    for word in re.findall(r"\S+\s*|\s+", text):
        if width(word.rstrip(), size, bold) <= most:
            yield word
            continue
        for part in re.findall(r"[^-_.]*[-_.]|[^-_.]+", word):
            yield from _cut(part, size, bold, most)


def _cut(text: str, size: float, bold: bool, most: float) -> Iterator[str]:
    """Pieces of one unbroken run of letters that each fit a line."""
    piece = ""
    for letter in text:
        if piece and width((piece + letter).rstrip(), size, bold) > most:
            yield piece
            piece = ""
        piece += letter
    yield piece
