"""Airflow and temperature of ventilated enclosures.

An attribute or a bare number is SI (kelvin, pascal, m3/s, kg/s); a name with a suffix
(`temperature_degC`) is in that unit; text carries its own ("40 degC").

Nothing is imported before it is used: `import flownet` costs next to nothing. `__init__.pyi` says
where each public name is from.
"""

from __future__ import annotations

import sys
from typing import Any

import lazy_loader

__version__ = "0.1.0"

_fetched, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first asked for."""
    value = _fetched(name)
    globals()[name] = value
    if (home := sys.modules.get("flownet.results.solution")) is not None:
        home.PICTURES["map"] = _map  # what stands above a solution is handed in
    return value


def _map(solution: Any) -> str:
    """The map of a solution as SVG, for notebooks."""
    from flownet.draw import map as drawn  # noqa: PLC0415 - matplotlib, where a map is shown
    from flownet.pictures import save  # noqa: PLC0415 - likewise

    figure = drawn(solution).get_figure(root=True)
    text: str = save.encoded(figure, "svg").decode()
    save.close(figure)
    return text[text.index("<svg") :]
