"""The head of a page: what a case is called, in which state it is, what was changed beside."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.page import Page
from flownet.pages.table import both_sides
from flownet.schema.shown import one_line


def titled(case: Enclosure) -> str:
    """The title of a case, else the name of its file, fit for one line."""
    return one_line(case.title or case.origin) or "untitled"


def head_lines(title: str, beside: str, page: Page) -> Iterator[str]:
    """A title with a word at the right end of its line; several lines where it is long."""
    *before, last = textwrap.wrap(title, page.width, break_on_hyphens=False) or [""]
    first, *rest = both_sides(last, beside, page.width)
    yield from (page.paint(line, "heading") for line in (*before, first))
    yield from rest


def variant_lines(case: Enclosure) -> Iterator[str]:
    """The variant that a choice is made in, where it is not base."""
    if case.applied.variant != "base":
        yield f"variant {case.applied.variant}"


def changed_lines(changed: Sequence[str]) -> Iterator[str]:
    """What was changed beside scenario and variant, one line each."""
    for change in changed:
        yield f"with    {change}"
