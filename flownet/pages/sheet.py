"""What a study has to show: a caption, sentences and tables, in SI and without any layout.

A result has a sheet (`flownet.pages.result`); text, CSV, JSON, HTML and DataFrame are renderers of
it (`flownet.pages.render`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from flownet.pages.caption import Caption
from flownet.schema.arrays import Array
from flownet.schema.fields import NONE
from flownet.schema.quantities import Quantity

BRIEF = "brief"  # style of a hanging sentence that is told on one line
Heads = Sequence[tuple[str, Quantity | None]]
Said = str | Callable[[str], str]  # words, or what says them in the reader's units


class Sentence(NamedTuple):
    """A lead, painted by its style, and words that hang beside it; without a lead all is painted.

    A style is "heading", "bad", "doubtful", "good", "quiet" or none.
    """

    lead: str
    words: Said
    style: str = ""

    def plain(self, units: str = "metric") -> str:
        """Lead and words as one, for everything that is no page of text."""
        return (self.lead + said(self.words, units)).strip()


class Column(NamedTuple):
    """Values of one name: SI numbers of a quantity, or of one quantity a row; else words.

    A word may stand among numbers, in place of one (`unsolved`). On a page NaN and None of a
    quantity are `-`; in data both are no value.
    """

    name: str
    values: Sequence[Any] | Array
    quantity: Quantity | Sequence[Quantity] | None = None
    better: str = ""  # "low" or "high": which way is good
    form: str = ""  # "+" marks gains; "bound" is as people write limits
    styles: Sequence[str] = ()  # of each value, as of a Sentence
    right: bool = False  # words that stand as numbers do

    def at(self, row: int) -> Quantity | None:
        """The quantity of one row."""
        if self.quantity is None or isinstance(self.quantity, Quantity):
            return self.quantity
        return self.quantity[row]


@dataclass(frozen=True)
class Listing:
    """Columns of one length, the first of them names; without columns a paragraph of its notes.

    `use` says what it is for: "page" every page, "short" a page that is not asked for all, "all"
    one that is; "json", "rows" (CSV, DataFrame), "data" both; several words may stand together.
    """

    name: str  # key in JSON
    columns: tuple[Column, ...]
    use: str = "page"
    notes: tuple[Sentence, ...] = ()  # below it
    title: Sentence | None = None  # above it
    apart: bool = True  # a blank line before the notes
    whole: bool = False  # every row, however many
    fit: bool = False  # columns that do not fit the page stand below; every row
    hang: bool = False  # the last column is sentences, which wrap beside the others
    first: Sequence[int] = ()  # which rows come first where not all are shown
    alike: Sequence[str] = ()  # a key of each row: those of one key that read the same are one

    def __len__(self) -> int:
        return len(self.columns[0].values) if self.columns else 0

    def used(self, *wanted: str) -> bool:
        """Whether it is for one of these uses."""
        return bool({*self.use.replace("data", "json rows").split()} & {*wanted})


Tabled = Listing | Callable[[str], Listing]  # a table, or what makes it for the reader's units


class Sheet(NamedTuple):
    """All that a study says.

    `verdicts(units)` are its sentences, the most important first: text, of which the first is the
    heading, or Sentences. `facts` are what JSON has beside the tables: numbers in the unit of their
    key, which `Quantity.key` makes; tables follow, or stand where a fact has their name.
    """

    command: str
    caption: Caption
    verdicts: Callable[[str], Iterable[str | Sentence]]
    tables: Sequence[Tabled] = ()
    notes: Sequence[Sentence] = ()  # below all tables
    facts: Mapping[str, Any] = NONE
    close: bool = False  # tables stand without blank lines between them
    names: int = 0  # letters of the first column of all tables, so that they line up
    bare: bool = False  # on a page its sentences stand in the place of its caption
    parts: Iterable[Sheet] = ()  # on a page, one after the other behind it
    gap: int = 1  # blank lines between them

    def __repr__(self) -> str:
        return f'<Sheet of {self.command}, "{self.caption.title}": {len(self.tables)} tables>'

    def of(self, *uses: str, units: str = "metric") -> Iterator[Listing]:
        """The tables for a use."""
        made = (table(units) if callable(table) else table for table in self.tables)
        return (table for table in made if table.used(*uses))

    def captioned(self, **words: Any) -> Sheet:
        """The same with other words in its caption: `captioned(changes=("fan.a.speed = 1",))`."""
        return self._replace(caption=self.caption.but(**words))


def by_rows(
    name: str, heads: Heads, rows: Sequence[Sequence[Any]], use: str = "data", **rest: Any
) -> Listing:
    """A table of rows, each as long as the heads: name and quantity of every column."""
    values = list(zip(*rows, strict=True)) or [()] * len(heads)
    columns = (Column(head, each, quantity)
               for (head, quantity), each in zip(heads, values, strict=True))  # fmt: skip
    return Listing(name, tuple(columns), use, **rest)


def said(words: Said | None, units: str = "metric") -> str:
    """Words as a reader of these units has them."""
    return words(units) if callable(words) else str(words or "")
