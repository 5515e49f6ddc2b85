"""`explain`: a word of the case file or of a page, a result, or a rule of the findings, in full."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Any, NoReturn

from flownet.enclosure.contents import Branch
from flownet.findings import RULES
from flownet.findings.keys import parts_of, rows_of, summary
from flownet.findings.rule import texts
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.fields import keys, roles
from flownet.schema.quantities import QUANTITIES, UNITS
from flownet.schema.units import measuring

__all__ = ["document", "explain"]

WIDTH = 80
BASES = {"rpm": "1/s", "deg": "rad"}  # SI units that a case file does not take


def explain(word: str, units: str = "metric") -> str:
    """What a finding, a kind, a key, a unit or a word of flownet's own pages means.

    Parameters
    ----------
    word : str
        A rule (`fan-backflow`), a kind (`filter`), a key with its kind, with or without the name of
        a thing (`filter.fouling`, `filter.intake.fouling`, `fan.guard.loss`), or a key alone
        (`fouling`: in every kind that has it), a unit (`CFM`), a result (`filter.drop`), or a word
        of a page (`tight`).
    units : str
        "metric" or "us": what numbers are shown in.

    Raises
    ------
    CaseError
        No such finding, kind, key, unit or result; the nearest is named.
    TypeError
        Not a word.
    """
    if not isinstance(word, str):
        raise TypeError(f'explain takes a word, such as "fan-stall" (got {word!r:.60})')
    word = word.strip()
    found = _of_name(word, units) or "\n\n".join(_of_parts(word, units))
    return found or _of_name(word.lower(), units, rules=False) or _refuse(word)


def _of_name(word: str, units: str, rules: bool = True) -> str:
    """A rule, a kind, or a word of a case file; empty where it is none of these."""
    if rules and word in RULES:
        rule = RULES[word]
        own = ((heading.lower(), text) for heading, text in rule.pages(units).items())
        return _page(f"{word}: {rule.texts['title']}", own)
    if word in KINDS:
        width = max(len(name) for name, _ in rows_of(word, units))
        return _page(summary(word), rows_of(word, units), width + 1)
    if rules and word in words("kept"):
        more = words(word).items() if word == "timeline" else ()
        return _page(word, [("meaning", words("kept")[word]), *more])
    kind, _, key = word.partition(".")
    if kind == "timeline" and (key := key.rpartition(".")[2]) in words(kind):
        return _page(f"timeline.{key}", [("meaning", words(kind)[key])])
    return ""


def _of_parts(word: str, units: str) -> list[str]:
    """All that it can be of keys, units and words of pages: `in` and `fouling` are several."""
    alike: dict[tuple[tuple[str, str], ...], list[str]] = {}
    known = word in UNITS or _known(word)
    for path, kind, key in _meant(word) or ([] if known else _within(word)):
        alike.setdefault(tuple(parts_of(kind, key, units)), []).append(path)
    pages = [_page(", ".join(paths), parts) for parts, paths in alike.items()]
    if word in UNITS:
        pages.append(_page(word, _of_unit(word)))
    if not pages or "." not in word:
        pages += _of_results(word)
    if meant := _known(word) or (not pages and _known_part(word)):
        pages.append(_page(meant, [("meaning", words()[meant])]))
    return pages


def _of_results(word: str) -> list[str]:
    """Pages of the results of this name, of one kind of thing or of all."""
    alike: dict[str, list[str]] = {}
    kind, name = word.partition(".")[0], word.rpartition(".")[2]
    for place, told in words("results").items():
        own = place.partition(".")[0]
        branch = own == "KIND" and kind in KINDS and issubclass(KINDS[kind], Branch)
        if name in told and (branch or kind in (name, own)):
            path = f"{place.replace('KIND', kind) if branch else place}.{name}"
            alike.setdefault(told[name].replace("`", ""), []).append(path)
    return [_page(f"{', '.join(paths)}: a result", [("meaning", told)])
            for told, paths in alike.items()]  # fmt: skip


def document() -> str:
    """Markdown: the page of all rules (`docs/findings.md`), a heading and one paragraph a rule."""
    page = [textwrap.fill(" ".join(text.split()), 100) for text in texts("words.toml")["page"]]
    paragraphs = ["\n\n".join(["# Findings", *page]) + "\n"]
    for rule in RULES.values():
        title = rule.texts["title"]
        own = {head: text.rstrip(".").replace("*", r"\*") for head, text in rule.pages().items()}
        cause = f"**{title[0].upper()}{title[1:]}.** {own.pop('Cause')}."
        rest = " ".join(f"*{heading}:* {text}." for heading, text in own.items())
        paragraphs.append(f"## {rule.name}\n\n{cause} {rest}\n")
    return "\n".join(paragraphs)


def words(table: str = "words") -> dict[str, Any]:
    """Words that stand on flownet's own pages, with what each means; `kept` are those of a case
    file that are no keys or kinds, `results` those of each place, `synonyms` name a kind."""
    found: dict[str, Any] = texts("words.toml")[table]
    return found


def _known(word: str) -> str:
    """The word as the table has it, whatever its case, hyphens and spaces; empty if there is none.

    `Operating-point` is `operating point`, `past free delivery` is `past-free-delivery`.
    """
    return next((whole for whole in words() if _plain(whole) == _plain(word)), "")


def _known_part(word: str) -> str:
    """The word that begins or ends with this one, or has it as an alternative; empty where there
    is none, or several: `useful` is `useful flow`, `P50` is `P5, P50, P95`."""
    found = [whole for whole in words() if _plain(word) in _parts(_plain(whole))]
    return found[0] if len(found) == 1 else ""


def _parts(spelt: str) -> list[str]:
    if "," in spelt:
        return spelt.split(", ")
    steps = spelt.removeprefix("the ").split()
    return [steps[0], steps[-1]]


def _plain(word: str) -> str:
    return " ".join(word.lower().replace("-", " ").replace("_", " ").split())


def _of_unit(name: str) -> Iterator[tuple[str, str]]:
    """What it measures, its size in SI, and the units beside it."""
    unit = UNITS[name]
    alike = measuring(QUANTITIES[unit.dimension])
    base = next((other for other in alike if UNITS[other].is_base), BASES.get(name, ""))
    yield "measures", unit.dimension
    if unit.offset:
        zero = f"0 {name} = {unit.offset * unit.factor:.9g} {base}"
        yield "size", f"{zero}, 1 {name} more = {unit.factor:.9g} {base} more"
    elif name != base:
        yield "size", f"1 {name} = {unit.factor:.9g} {base}".rstrip()
    if len(alike) > 1:
        yield "units", ", ".join(alike)


def _meant(word: str) -> list[tuple[str, str, str]]:
    """Path to show, kind and key of everything a word can be: one with its kind, else each."""
    kind, _, rest = word.partition(".")
    if kind in KINDS and rest:
        steps = rest.split(".")
        for start in range(min(2, len(steps))):  # a key, or a name and then a key
            key = _key(kind, ".".join(steps[start:]))
            if key:
                return [(f"{kind}.{key}", kind, key)]
        return []
    return [(f"{kind}.{key}", kind, key) for kind in KINDS if (key := _key(kind, word))]


def _within(word: str) -> list[tuple[str, str, str]]:
    """The same of keys of sub-tables by themselves: `hysteresis`."""
    return [(f"{kind}.{path}", kind, path) for kind in KINDS for path in known_paths(kind)
            if path.endswith(f".{word}")]  # fmt: skip


def _key(kind: str, path: str) -> str:
    """The declared path within a kind, `at` for `at.0`; empty where there is none."""
    paths = known_paths(kind)
    if path in paths:
        return path
    head, _, tail = path.rpartition(".")
    return head if tail.isdigit() and head in paths else ""


def known_paths(kind: str) -> list[str]:
    """Keys of a kind with those of its sub-tables; a list is one of them, not its numbers."""
    cls = KINDS[kind]
    split = (path.rpartition(".") for path in roles(cls))
    inner = (head if tail.isdigit() else f"{head}{dot}{tail}" for head, dot, tail in split)
    return list(dict.fromkeys([*keys(cls), *inner]))


def _page(head: str, parts: Iterable[tuple[str, str]], first: int = 12) -> str:
    """A headline, then headings with their text beside them, wrapped."""
    lines = textwrap.wrap(head, WIDTH)
    for heading, text in parts:
        lines += textwrap.wrap(
            text, WIDTH, initial_indent=f"  {heading:<{first}}",
            subsequent_indent=" " * (first + 2), break_long_words=False, break_on_hyphens=False,
        )  # fmt: skip
    return "\n".join(lines)


def _refuse(word: str) -> NoReturn:
    kind, _, rest = word.partition(".")
    if rest and kind in KINDS:
        close = nearest(rest.rpartition(".")[2], known_paths(kind))
        meant = f"{kind}.{close}" if close else kind
    else:
        known = [*RULES, *KINDS, *words("kept"), *words(), *chain(*words("results").values())]
        known += [path for kind in KINDS for path in known_paths(kind)]
        if kind == "timeline":
            kind, known = word, [f"timeline.{key}" for key in words("timeline")]
        synonyms = texts("words.toml")["synonyms"]
        meant = synonyms.get(word.lower()) or nearest(kind if rest else word, known)
    takes = "it takes a finding, a kind, a unit, a result, or a key such as filter.fouling"
    hint = did_you_mean(meant, takes)
    raise CaseError(Fault("explain", f'no finding, kind, key, unit or result "{word}"', hint=hint))
