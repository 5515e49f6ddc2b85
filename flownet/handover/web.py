"""Pages of the web as one HTML file: every value is text, and nothing in it ends its place."""

from __future__ import annotations

import json
import re
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

_BREAKS = re.compile(r"(?<=[.+_-])(?=[^\W\d_])")


def environment() -> Environment:
    """Templates of this room; every value is escaped."""
    made = Environment(
        loader=PackageLoader("flownet.handover", "templates"), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.filters |= {"broken": breakable, "css": css_text}
    return made


def breakable(name: str) -> Markup:
    """A name that may go on in the next line after its signs."""
    return Markup("<wbr>").join(escape(part) for part in _BREAKS.split(str(name)))


def css_text(text: str) -> str:
    """Text as a CSS string; what could end it, or the style, is an escape."""
    safe = (sign if sign.isalnum() or sign in " .,:-" else f"\\{ord(sign):x} " for sign in text)
    return '"' + "".join(safe) + '"'


def script_json(value: Any) -> Markup:
    """JSON that may stand in a script element: nothing in it ends one."""
    text = json.dumps(value, allow_nan=False).replace("<", "\\u003c").replace("&", "\\u0026")
    return Markup(text.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029"))
