"""Where the boxes and bands of the shares of air stand, in mm of a page."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from flownet.pictures import style
from flownet.pictures.air_shares import AirBand, AirShares
from flownet.results.solution import Solution
from flownet.results.streams import is_outside
from flownet.schema.shown import Shown

ACROSS, END = 164.0, 4.0  # of a strip, of it free at the right for arrow heads
IN_STRIP, BOX = 3, 21.0  # places side by side; how wide one is
BODY_TALL = 52.0  # all bands one above the other
BAND_LINE, ABOVE_WORDS = 2.8, 0.8  # of words, and free above them
BETWEEN_BANDS = 0.9
NAMED_STATES = "filler", "empty", "removed", "stopped", "freewheeling"
BETWEEN_STRIPS = 7.0  # between strips
BAND_LETTERS = 6.5  # points, of words at bands


class FlowScale(NamedTuple):
    """How flows are shown, and what is a millimetre of them."""

    shown: Shown
    mm: float  # [kg/s]

    @property
    def per(self) -> float:
        """In the unit shown, of a millimetre."""
        return self.shown.factor * self.mm


class Laid(NamedTuple):
    """A band in its strip; columns -1 and the last are the sides. Lengths in mm."""

    band: AirBand
    left: int
    right: int
    onward: bool  # to the right
    words: Sequence[str]  # its name in lines, the amount
    beside: bool  # the amount, in the line of the name
    y: float = 0.0


class Strip(NamedTuple):
    """Places side by side with their bands, its upper edge at `top` [mm]."""

    places: Sequence[str]
    bands: Sequence[Laid]
    boxes: Sequence[float]  # lower end of each box below `top`
    ends: Sequence[float]  # of the last band in each gap
    top: float

    @property
    def tall(self) -> float:
        """Of all of it."""
        return max((*self.boxes, *self.ends))


def _chunks(found: AirShares) -> Iterator[tuple[str, ...]]:
    """Places of each strip: of one zone, about as many in each."""
    for zone in found.zones:
        size = math.ceil(len(zone) / math.ceil(len(zone) / IN_STRIP))
        yield from (zone[i : i + size] for i in range(0, len(zone), size))


def millimetre(found: AirShares) -> float:
    """So that the bands of the fullest strip are BODY_TALL high together [kg/s in a mm]."""
    most = 0.0
    for places in _chunks(found):
        into = math.fsum(b.flow for b in found.bands if b.target in places)
        out = math.fsum(b.flow for b in found.bands if b.source in places)
        most = max(most, into, out)
    return most / BODY_TALL


def strips_of(solution: Solution, found: AirShares, scale: FlowScale) -> list[Strip]:
    made: list[Strip] = []
    order = {place: i for i, place in enumerate(p for zone in found.zones for p in zone)}
    decimals = scale.shown.decimals([max(band.flow for band in found.bands)])
    for places in _chunks(found):
        top = made[-1].top + made[-1].tall + BETWEEN_STRIPS if made else 0.0
        bands = [_ends(solution, band, places, order, scale.shown, decimals) for band in found.bands
                 if band.source in places or band.target in places]  # fmt: skip
        made.append(_stacked(places, bands, scale.mm, top, 22.0 if found.filtered() else 16.0))
    return made


def gap_of(count: int) -> float:
    return (ACROSS - END - BOX * count) / (count + 1)


def _ends(
    solution: Solution, band: AirBand, places: Sequence[str], order: dict[str, int], shown: Shown,
    decimals: int,
) -> Laid:  # fmt: skip
    """Between which columns a band goes, and its words.

    What comes from outside comes from the left, what leaves goes to the right; a fan that is driven
    backwards has its air on the side to which it blows.
    """
    here = {place: i for i, place in enumerate(places)}

    def column(place: str, entering: bool) -> int:
        if place in here:
            return here[place]
        if is_outside(place):
            return -1 if entering != band.back else len(places)
        return -1 if order[place] < order[places[0]] else len(places)

    start, end = column(band.source, True), column(band.target, False)
    row, gap = solution.branches[band.path], gap_of(len(places))
    name = band.path.removeprefix("slot.")
    name += f" {row.state}" if row.state in NAMED_STATES else ""
    for word, place in (("from", band.source), ("to", band.target)):
        name += f" {word} {place}" if place not in here and place != "outside" else ""
    amount = f"{shown.text(band.flow, '', decimals)}  {band.percent} %"
    room = (abs(end - start) * gap + (abs(end - start) - 1) * BOX - 3.5) / style.POINT
    beside = style.width(name, BAND_LETTERS, True) + style.width(amount, BAND_LETTERS) + 5.0 < room
    names = style.two_lines(name, BAND_LETTERS, True, room * style.POINT)
    return Laid(band, min(start, end), max(start, end), start < end, (*names, amount), beside)


def _stacked(
    places: Sequence[str], bands: Sequence[Laid], mm: float, top: float, least: float
) -> Strip:
    """Bands one below the other in every gap they pass, short ones first."""
    count = len(places)
    ends, boxes, laid = [0.0] * (count + 1), [least] * count, []
    for each in sorted(bands, key=lambda b: (b.right - b.left, b.band.back)):
        gaps, passed = range(each.left + 1, each.right + 1), range(each.left + 1, each.right)
        y = max(*(ends[k] for k in gaps), *(boxes[k] + 1.5 for k in passed), 0.0)
        y += ABOVE_WORDS + BAND_LINE * (len(each.words) - each.beside)
        laid.append(each._replace(y=y))
        for k in gaps:
            ends[k] = y + each.band.flow / mm + BETWEEN_BANDS
        for k in {each.left, each.right} & set(range(count)):
            boxes[k] = max(boxes[k], y + each.band.flow / mm + 2 * BETWEEN_BANDS)
    return Strip(places, laid, boxes, ends, top)


def scale_bar(strip: Strip, per: float) -> tuple[tuple[float, float, float], float]:
    """A length of the scale in the unit shown, where it stands [mm], and the height of it all."""
    length = 10.0 ** math.floor(math.log10(per * 12.0))
    length *= max(k for k in (1, 2, 5) if k * length <= per * 12.0)
    foot = strip.top + strip.tall
    room = length / per + 3.0
    for x, end in ((1.5, strip.ends[0]), (ACROSS - END - 16.0, strip.ends[-1])):
        if strip.tall - end >= room:
            return (x, foot - length / per, length), foot + 1.0
    return (ACROSS - END - 16.0, foot + 3.0, length), foot + room + 1.0


def sides_of(strip: Strip, laid: Laid) -> tuple[float, float]:
    """Where a band begins and ends, from the left [mm]."""
    count = len(strip.places)
    gap = gap_of(count)
    left = 0.0 if laid.left < 0 else (laid.left + 1) * (gap + BOX)
    right = ACROSS - END if laid.right == count else gap + laid.right * (gap + BOX)
    return left, right
