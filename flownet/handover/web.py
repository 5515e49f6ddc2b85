"""A page as one HTML file: templates, its style and script inside it, everything else as text."""

from __future__ import annotations

import json
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from flownet import __version__
from flownet.handover import sentences
from flownet.handover.answers import sections
from flownet.handover.document import numbered, printed
from flownet.handover.review import Review
from flownet.pages.caption import Caption
from flownet.studies.verdicts import short

MARK_OF_PAGES = '<meta name="generator" content="flownet '  # so that only our own are replaced


def environment() -> Environment:
    """Templates of this room; every value is escaped."""
    made = Environment(
        loader=PackageLoader("flownet.handover", "templates"), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.filters |= {"broken": breakable, "css": css_text}
    return made


def breakable(name: str) -> Markup:
    """A name that may go on in the next line after `.` and `+`."""
    return Markup("").join(
        part for sign in str(name)
        for part in ((sign, Markup("<wbr>")) if sign in ".+" else (escape(sign),))
    )  # fmt: skip


def css_text(text: str) -> str:
    """Text as a CSS string; what could end it, or the style, is an escape."""
    safe = (sign if sign.isalnum() or sign in " .,:-" else f"\\{ord(sign):x} " for sign in text)
    return '"' + "".join(safe) + '"'


def script_json(value: Any) -> Markup:
    """JSON that may stand in a script element: nothing in it ends one."""
    text = json.dumps(value, allow_nan=False).replace("<", "\\u003c").replace("&", "\\u0026")
    return Markup(text.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029"))


def rendered(found: Review, units: str) -> str:
    """The review page."""
    caption = Caption.of(found.case)
    made = environment().get_template("review.html")
    day = caption.foot().split("   ")[-1]
    return made.render(
        title=caption.heading or "Enclosure", day=day, version=__version__,
        digest=found.case.digest.removeprefix("sha256:")[:16],
        question=sentences.question(found), answer=printed(sentences.answer(found, units)),
        sections=numbered(sections(found, units)), pairs=found.pairs,
        scenarios=list(dict.fromkeys(pair.scenario for pair in found.pairs)),
        variants=list(dict.fromkeys(pair.variant for pair in found.pairs)),
        left_out=found.left_out, data=script_json(_data(found, units)),
        results=script_json(_results(found)),
    )  # fmt: skip


def _data(found: Review, units: str) -> dict[str, Any]:
    """What the script writes beside the selects, by pair."""
    told = {}
    for pair in found.pairs:
        cell = found.comparison.cell(*pair)
        assert cell is not None  # only pairs that apply are shown
        amount, _, word = printed(short(cell, units)).rpartition(" ")
        told[pair.key] = {"amount": amount, "status": cell.status, "word": word,
                          "subject": cell.subject}  # fmt: skip
    return {"pairs": told, "first": found.decisive.key}


def _results(found: Review) -> dict[str, Any]:
    """All results of the pairs that can be shown, as `solve --json` has them."""
    return {"flownet": __version__, "format": 1,
            "solutions": [_plain(item.to_dict()) for item in found.solutions.values()]}  # fmt: skip


def _plain(value: Any) -> Any:
    """What is no number does not exist: null."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and value - value != 0 else value
