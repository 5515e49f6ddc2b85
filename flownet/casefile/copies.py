"""Tables whose `copies` could not be read: as many as the file speaks of, so that links hold."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from flownet.casefile.tables import MOST_COPIES, Own


def guess_copies(tables: Iterable[Own], written: Any) -> None:
    """Count the copies that a file names wherever `copies` is faulty.

    Parameters
    ----------
    tables : iterable of Own
        Those that are `uncounted` get copies; a fault of their number is noted already, and what
        names a copy shall not be called wrong because of it.
    written : nested mappings and lists
        Everything in which copies may be named.
    """
    missing = [own for own in tables if own.uncounted]
    words = "\n".join(_texts(written)) if missing else ""
    for own in missing:
        named = re.findall(rf"(?<![\w-]){re.escape(own.section.name)}-([1-9]\d*|\*)", words)
        counts = [1 if number == "*" else int(number) for number in named]
        most = max((count for count in counts if count <= MOST_COPIES), default=0)
        own.copies = most or None
        if not own.several:
            own.pitch = None


def _texts(value: Any) -> Iterable[str]:
    """Every key and text in nested mappings and lists."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield str(key)
            yield from _texts(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from _texts(inner)
