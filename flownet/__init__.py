"""Airflow and temperature of ventilated enclosures.

An attribute or a bare number is SI (kelvin, pascal, m3/s, kg/s); a name with a suffix
(`temperature_degC`) is in that unit; text carries its own ("40 degC").

Nothing is imported before it is used: `import flownet` costs next to nothing.
"""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import flownet.draw as draw  # noqa: PLR0402 - mypy does not find it in its own package
    from flownet.casefile import load_case as load_case
    from flownet.casefile import load_fan_types as load_fan_types
    from flownet.casefile import save_case as save_case
    from flownet.enclosure.branches import Baffle as Baffle
    from flownet.enclosure.branches import Duct as Duct
    from flownet.enclosure.branches import Filter as Filter
    from flownet.enclosure.branches import Leak as Leak
    from flownet.enclosure.branches import Opening as Opening
    from flownet.enclosure.branches import Slot as Slot
    from flownet.enclosure.branches import Vent as Vent
    from flownet.enclosure.enclosure import Enclosure as Enclosure
    from flownet.enclosure.fans import Fan as Fan
    from flownet.enclosure.fans import FanType as FanType
    from flownet.enclosure.heat import Exchange as Exchange
    from flownet.enclosure.heat import Part as Part
    from flownet.enclosure.heat import Recirculation as Recirculation
    from flownet.enclosure.heat import Wall as Wall
    from flownet.enclosure.surroundings import Body as Body
    from flownet.enclosure.surroundings import Compartment as Compartment
    from flownet.enclosure.surroundings import Limits as Limits
    from flownet.enclosure.surroundings import Outside as Outside
    from flownet.enclosure.surroundings import Supply as Supply
    from flownet.findings import find as find
    from flownet.findings.explain import explain as explain
    from flownet.judging.voids import void as void
    from flownet.operating_points import OperatingPoint as OperatingPoint
    from flownet.operating_points import operating_points as operating_points
    from flownet.pages.noise import NoiseBudget as NoiseBudget
    from flownet.pages.noise import noise_budget as noise_budget
    from flownet.results.batch import SolutionBatch as SolutionBatch
    from flownet.results.solution import Solution as Solution
    from flownet.schema.errors import CaseError as CaseError
    from flownet.schema.errors import FlownetError as FlownetError
    from flownet.schema.errors import NoSolution as NoSolution
    from flownet.schema.units import si as si
    from flownet.solve import solve as solve
    from flownet.solve import solve_many as solve_many
    from flownet.studies.choice.fan_result import FanChoice as FanChoice
    from flownet.studies.choice.result import OptionChoice as OptionChoice
    from flownet.studies.choice.study import choose_options as choose_options
    from flownet.studies.choose import choose as choose
    from flownet.studies.fans.curves import combined as combined
    from flownet.studies.fans.curves import fan_curves as fan_curves
    from flownet.studies.fans.results import FanCurves as FanCurves
    from flownet.studies.fans.results import Gain as Gain
    from flownet.studies.headroom import headroom as headroom
    from flownet.studies.headroom_result import Headroom as Headroom
    from flownet.studies.outages import Outages as Outages
    from flownet.studies.outages import outages as outages
    from flownet.studies.rank import Ranking as Ranking
    from flownet.studies.rank import rank as rank
    from flownet.studies.size import Sizing as Sizing
    from flownet.studies.size import size as size
    from flownet.studies.size_case import CaseSizing as CaseSizing
    from flownet.studies.size_case import size_case as size_case
    from flownet.studies.sweep import sweep as sweep
    from flownet.studies.sweep_result import Sweep as Sweep
    from flownet.studies.uncertainty import Uncertainty as Uncertainty
    from flownet.studies.uncertainty import uncertainty as uncertainty

__version__ = "0.1.0"

_HOMES = {
    "flownet.results.batch": ("SolutionBatch",),
    "flownet.casefile": ("load_case", "load_fan_types", "save_case"),
    "flownet.enclosure.branches": (
        "Baffle", "Duct", "Filter", "Leak", "Opening", "Slot", "Vent",
    ),
    "flownet.enclosure.fans": ("Fan", "FanType"),
    "flownet.enclosure.heat": ("Exchange", "Part", "Recirculation", "Wall"),
    "flownet.enclosure.surroundings": ("Body", "Compartment", "Limits", "Outside", "Supply"),
    "flownet.enclosure.enclosure": ("Enclosure",),
    "flownet.schema.errors": ("CaseError", "FlownetError", "NoSolution"),
    "flownet.findings": ("find",),
    "flownet.findings.explain": ("explain",),
    "flownet.pages.noise": ("NoiseBudget", "noise_budget"),
    "flownet.operating_points": ("OperatingPoint", "operating_points"),
    "flownet.results.solution": ("Solution",),
    "flownet.solve": ("solve", "solve_many"),
    "flownet.studies.compare": ("Comparison", "compare"),
    "flownet.studies.choice.study": ("choose_options",),
    "flownet.studies.choice.result": ("OptionChoice",),
    "flownet.studies.choose": ("choose",),
    "flownet.studies.fans.curves": ("combined", "fan_curves"),
    "flownet.studies.choice.fan_result": ("FanChoice",),
    "flownet.studies.fans.results": ("FanCurves", "Gain"),
    "flownet.studies.headroom": ("headroom",),
    "flownet.studies.headroom_result": ("Headroom",),
    "flownet.studies.outages": ("Outages", "outages"),
    "flownet.studies.rank": ("Ranking", "rank"),
    "flownet.studies.size": ("Sizing", "size"),
    "flownet.studies.size_case": ("CaseSizing", "size_case"),
    "flownet.studies.uncertainty": ("Uncertainty", "uncertainty"),
    "flownet.studies.sweep": ("sweep",),
    "flownet.studies.sweep_result": ("Sweep",),
    "flownet.schema.units": ("si",),
    "flownet.judging.voids": ("void",),
}  # fmt: skip
_HOME = {name: module for module, names in _HOMES.items() for name in names}

__all__ = [
    "Baffle", "Body", "CaseError", "CaseSizing", "Comparison", "Compartment", "Duct", "Enclosure",
    "Exchange", "Fan", "FanChoice", "FanCurves", "FanType", "Filter", "FlownetError", "Gain",
    "Headroom", "Leak", "Limits", "NoSolution", "NoiseBudget", "Opening", "OperatingPoint",
    "OptionChoice", "Outages", "Outside", "Part", "Ranking", "Recirculation", "Sizing", "Slot",
    "Solution", "SolutionBatch", "Supply", "Sweep", "Uncertainty", "Vent", "Wall", "__version__",
    "choose", "choose_options", "combined", "compare", "draw", "explain", "fan_curves", "find",
    "headroom", "load_case", "load_fan_types", "noise_budget", "operating_points", "outages",
    "rank", "save_case", "si", "size", "size_case", "solve", "solve_many", "sweep", "uncertainty",
    "void",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first asked for."""
    if name == "draw":
        return importlib.import_module("flownet.draw")
    if name not in _HOME:
        raise AttributeError(f"module 'flownet' has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOME[name]), name)
    globals()[name] = value
    if (home := sys.modules.get("flownet.results.solution")) is not None:
        home.PICTURES["map"] = _map  # what stands above a solution is handed in
    return value


def _map(solution: Any) -> str:
    """The map of a solution as SVG, for notebooks."""
    save = importlib.import_module("flownet.pictures.save")
    figure = importlib.import_module("flownet.draw").map(solution).get_figure(root=True)
    text: str = save.encoded(figure, "svg").decode()
    save.close(figure)
    return text[text.index("<svg") :]


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """Keeps `flownet.solve` the function: importing a module would put itself in its place."""

    def __setattr__(self, name: str, value: Any) -> None:
        if not (isinstance(value, ModuleType) and name in _HOME):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
