"""What is said of wrong input: *where: what and rule (got value); hint*, and the words for it."""

from __future__ import annotations

import difflib
import functools
from collections.abc import Iterable, Mapping
from typing import Any

LONGEST_WORD = 60  # nobody mistypes a longer one
LONGEST_SHOWN = 60  # signs of a value


class Fault(str):
    """One complaint: a line of text that knows its parts.

    `where` is a path or place, empty as long as only the caller knows it; `what` the rule, or
    `= 40 is 40 K`, which goes on after the place; `got` the value as it is shown.
    """

    where: str
    what: str
    got: str
    hint: str

    def __new__(cls, where: str, what: str, got: str = "", hint: str = "") -> Fault:
        place = where and where + (" " if what.startswith("=") else ": ")
        shown = f" (got {got})" if got else ""
        made = super().__new__(cls, f"{place}{what}{shown}" + (hint and f"; {hint}"))
        made.where, made.what, made.got, made.hint = where, what, got, hint
        return made

    def __getnewargs__(self) -> tuple[str, str, str, str]:  # type: ignore[override]
        return self.where, self.what, self.got, self.hint

    def at(self, place: str, joint: str = ": ") -> Fault:
        """The same with a place in front; `joint="."` where its own place is a key of it."""
        where = f"{place}{joint}{self.where}" if self.where else place
        return Fault(where, self.what, self.got, self.hint)


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word most like this one; empty where none is."""
    return "" if len(word) > LONGEST_WORD else _nearest(word.lower(), tuple(known))


@functools.lru_cache(maxsize=256)
def _nearest(word: str, known: tuple[str, ...]) -> str:
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return close[0] if close else ""


def did_you_mean(meant: str, otherwise: str = "", quote: str = '"') -> str:
    """`did you mean "front"?`; what else there is to say where nothing was meant."""
    return f"did you mean {quote}{meant}{quote}?" if meant else otherwise


def listed(names: Iterable[str], most: int = 3, last: str = " and ", more: str = " and ") -> str:
    """`a, b and c`; `a, b, c and 4 more`: `last` stands before the last, `more` before the rest."""
    every = list(names)
    shown, left = every[:most], len(every) - most
    if left > 0:
        return f"{', '.join(shown)}{more}{left} more"
    return last.join(filter(None, (", ".join(shown[:-1]), *shown[-1:])))


def with_article(name: str) -> str:
    """`an area`, `a Solution`."""
    return f"{'an' if name[0] in 'aeiouAEIOU' else 'a'} {name}"


def cut(shown: str) -> str:
    """What is shown of a value: not too much of it."""
    return shown if len(shown) <= LONGEST_SHOWN else shown[: LONGEST_SHOWN - 3] + "..."


def word(value: Any) -> str:
    """A word as a case file writes it: `"open"`, `true`."""
    is_word = isinstance(value, str) or str(value) not in ("True", "False")
    return f'"{value}"' if is_word else str(value).lower()


def brief(raw: Any) -> str:
    """A value as a case file writes it, cut where it is long."""
    return cut(_as_written(raw))


def _as_written(raw: Any) -> str:
    if isinstance(raw, Mapping):
        inner = ", ".join(f"{key} = {_as_written(v)}" for key, v in raw.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(raw, (list, tuple)):
        return f"[{', '.join(map(_as_written, raw))}]"
    return word(raw) if isinstance(raw, str) or str(raw) in ("True", "False") else str(raw)
