"""How wide words are, so that a picture can be laid out before it is drawn."""

from __future__ import annotations

import functools
import os
import re
from collections.abc import Iterator

from matplotlib import ft2font, get_data_path

FAMILY = "DejaVu Sans"  # the typeface of every picture; matplotlib brings it along
SLACK = 1.02  # hinting moves letters by fractions of a pixel
UNKNOWN = 1000  # a letter that it lacks is taken as wide as it is high


def width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text in points, a little above what is drawn."""
    return sum(_advance(letter, bold) for letter in text) * size * SLACK / 1000


@functools.cache
def _advance(letter: str, bold: bool) -> int:
    font = _font(bold)
    if not font.get_char_index(ord(letter)):
        return UNKNOWN
    glyph = font.load_char(ord(letter), flags=ft2font.LoadFlags.NO_HINTING)
    return round(glyph.linearHoriAdvance / 65536)


@functools.cache
def _font(bold: bool) -> ft2font.FT2Font:
    name = f"{FAMILY.replace(' ', '')}{'-Bold' if bold else ''}.ttf"
    font = ft2font.FT2Font(f"{get_data_path()}/fonts/ttf/{name}")
    font.set_size(1000, 72)
    return font


if hasattr(os, "register_at_fork"):  # a font reads its file as it goes: no two processes from one
    os.register_at_fork(after_in_child=_font.cache_clear)


def wrap(text: str, size: float, bold: bool, most: float) -> list[str]:
    """Lines no wider than `most`: broken at spaces, else after - _ . and in need anywhere."""
    lines, line = [], ""
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
