"""Pages of the web as one HTML file: every value is text, and nothing in it ends its place."""

from __future__ import annotations

import json
import re
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from flownet import __version__
from flownet.enclosure.enclosure import Enclosure
from flownet.handover.document import printed, sentence
from flownet.pages.caption import Caption
from flownet.pages.json import strict
from flownet.schema.fault import listed

Words = dict[str, Any]  # of a template, by the names that it has for them
_BREAKS = re.compile(r"(?<=[.+_-])(?=[^\W\d_])")


def environment() -> Environment:
    """Templates of this room; every value is escaped."""
    made = Environment(
        loader=PackageLoader("flownet.handover", "templates"), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.filters |= {"broken": breakable, "css": css_text, "sentence": sentence, "listed": listed,
                     "printed": lambda text: printed(str(text))}  # fmt: skip
    return made


def rendered(template: str, case: Enclosure, **words: Any) -> str:
    """A page about a case, with its title, the day, version and digest."""
    caption = Caption.of(case)
    return environment().get_template(template).render(
        title=case.title or caption.heading, day=caption.foot().rpartition("   ")[2],
        version=__version__, digest=short_digest(case), **words,
    )  # fmt: skip


def short_digest(case: Enclosure) -> str:
    """The first 16 digits, which tell two inputs apart."""
    return case.digest.removeprefix("sha256:")[:16]


def breakable(name: str) -> Markup:
    """A name that may go on in the next line after its signs."""
    return Markup("<wbr>").join(escape(part) for part in _BREAKS.split(str(name)))


def css_text(text: str) -> str:
    """Text as a CSS string; what could end it, or the style, is an escape."""
    safe = (sign if sign.isalnum() or sign in " .,:-" else f"\\{ord(sign):x} " for sign in text)
    return '"' + "".join(safe) + '"'


def script_json(value: Any) -> Markup:
    """JSON that may stand in a script element: nothing in it ends one; NaN is null."""
    text = json.dumps(strict(value), allow_nan=False)
    text = text.replace("<", "\\u003c").replace("&", "\\u0026")
    return Markup(text.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029"))
