"""What a case is called at the head of a page or a picture."""

from __future__ import annotations

from flownet.enclosure.enclosure import Enclosure
from flownet.schema.shown import one_line


def titled(case: Enclosure) -> str:
    """The title of a case, else the name of its file, fit for one line."""
    return one_line(case.title or case.origin) or "untitled"
