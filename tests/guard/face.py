"""The Python face from outside: functions that answer in text, every number with all its bits."""

from __future__ import annotations

import inspect
import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

import flownet

CASES = Path(flownet.__file__).parents[1] / "cases"
SCENARIO = "hot"
FORMS = ("to_dict", "rows", "to_frame", "verdict", "verdicts", "_repr_html_", "words")
TABLES = ("compartments", "branches", "fans", "parts")


def bits(value: Any) -> Any:
    """Plain data for JSON; each float in hexadecimal, so that no bit is lost."""
    if isinstance(value, Mapping):
        return {str(key): bits(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        kind = value.dtype.kind
        return {"dtype": kind, "shape": list(value.shape), "values": bits(value.tolist())}
    if isinstance(value, np.generic):
        return bits(value.item())
    if isinstance(value, (list, tuple, Iterator)):
        return [bits(item) for item in value]
    if isinstance(value, float):
        return value.hex()
    return value if isinstance(value, (bool, int, str, type(None))) else repr(value)


def text(value: Any) -> str:
    """Lines that can be compared one by one."""
    return json.dumps(bits(value), indent=1, ensure_ascii=False) + "\n"


def told(result: Any) -> dict[str, Any]:
    """All forms of a result of a study."""
    found: dict[str, Any] = {"repr": repr(result)}
    for form in FORMS:
        made = getattr(result, form, None)
        if callable(made) and form != "words":
            wants = [p for p in inspect.signature(made).parameters.values()
                     if p.default is p.empty and p.kind is not p.VAR_KEYWORD]  # fmt: skip
            made = None if wants else made()
        if hasattr(made, "to_csv"):
            made = {"frame": [str(t) for t in made.dtypes], **made.to_dict("list")}
        found[form] = made
    return found


def case_of(demo: str) -> flownet.Enclosure:
    return flownet.load_case(CASES / demo)


def scenario_of(case: flownet.Enclosure) -> str:
    return SCENARIO if SCENARIO in case.scenarios else "base"


def enclosure(demo: str) -> str:
    """What a case holds by its paths, its graph, and under a scenario and a variant."""
    case = case_of(demo)
    sets = {"base": case, "under": case.under(scenario_of(case), [*case.variants, "base"][0])}
    found = {}
    for name, one in sets.items():
        paths = one.keys("*")
        found[name] = {"digest": one.digest, "values": {path: one[path] for path in paths},
                       "edges": sorted(map(str, one.graph.edges(keys=True)))}  # fmt: skip
    found["names"] = [case.title, list(case.scenarios), list(case.variants), list(case.fans),
                      list(case.branches), list(case.parts), list(case.compartments)]  # fmt: skip
    return text(found)


def row_of(row: Any) -> dict[str, Any]:
    """A row of results by every name that it offers."""
    return {name: getattr(row, name) for name in dir(row) if name != "to_dict"}


def solution(demo: str) -> str:
    """Every table of one solution, its limits, findings and sums."""
    case = case_of(demo)
    one = flownet.solve(case, scenario=scenario_of(case))
    found: dict[str, Any] = {"repr": repr(one), "html": one._repr_html_(), "dict": one.to_dict()}
    for table in TABLES:
        rows = getattr(one, table)
        found[table] = {name: row_of(rows[name]) for name in rows.names}
        found[f"{table} frame"] = one.to_frame(table).to_dict("list")
    found |= {"totals": row_of(one.totals), "balance": row_of(one.balance)}
    found |= {"void": one.void, "stable": one.stable, "worst": str(one.worst)}
    found["limits"] = [item.to_dict() for item in one.limits]
    for units in ("metric", "us"):
        found[units] = [[f.rule, f.severity, f.message(units), f.advice(units)]
                        for f in one.findings]  # fmt: skip
    found["flows"] = {b: [one.mass_flow(b), one.volume_flow(b)] for b in one.branches.names}
    return text(found)


def batch(demo: str) -> str:
    """Columns of a batch, and one of its solutions."""
    case = case_of(demo)
    fan = next(iter(case.fans))
    many = flownet.solve_many(case, {
        "outside.temperature": ["20 degC", "30 degC", "40 degC", "45 degC", "50 degC"],
        f"fan.{fan}.state": ["running", "running", "stopped", "running", "blanked"],
        "outside.altitude": np.linspace(0.0, 2000.0, 5),
    })  # fmt: skip
    return text({"ok": many.ok, "status": [str(word) for word in many.status],
                 "columns": dict(many.columns()), "frame": many.to_frame().to_dict("list"),
                 "one": many.select(1).to_dict(), "inputs": many.inputs})  # fmt: skip


def points(demo: str) -> str:
    return text([told(point) for point in flownet.operating_points(case_of(demo))])


def noise(demo: str) -> str:
    return text(told(flownet.noise_budget(flownet.solve(case_of(demo)))))


def compared(demo: str) -> str:
    return text(told(flownet.compare(case_of(demo))))


def outages(demo: str) -> str:
    return text(told(flownet.outages(case_of(demo), variants=["base"])))


def headroom(demo: str) -> str:
    case = case_of(demo)
    return text(told(flownet.headroom(case, "outside.temperature", scenario=scenario_of(case))))


def ranking(demo: str) -> str:
    return text(told(flownet.rank(case_of(demo), "total.volume_flow")))


def swept(demo: str) -> str:
    case = case_of(demo)
    vary = {"outside.temperature": "20 to 45 degC in 4", "outside.altitude": "0 to 2000 m in 2"}
    made = flownet.sweep(case, vary, keep=["part.*.temperature", "total.volume_flow"])
    data = made.to_xarray()
    return text({**told(made), "xarray": {str(k): v.values for k, v in data.variables.items()}})


def spread(demo: str) -> str:
    return text(told(flownet.uncertainty(case_of(demo), samples=64, seed=1)))


def sized(demo: str) -> str:
    load = flownet.size(heat="400 W", rise="10 K", inlet="40 degC", drop="20 Pa")
    return text([told(load), told(flownet.size_case(case_of(demo)))])


def curves(demo: str) -> str:
    one = flownet.solve(case_of(demo))
    return text([told(flownet.fan_curves(one)), told(flownet.combined(one))])


def chosen(demo: str) -> str:
    """A fan for its first place out of the types of the case, and the first choice of the case."""
    case = case_of(demo)
    fan = f"fan.{next(iter(case.fans))}"
    return text(told(flownet.choose(case, fan, frame="any")))


def saved(demo: str) -> str:
    """As it is written again."""
    flownet.save_case(case_of(demo), "again.toml")
    return text({"same": flownet.load_case("again.toml").digest})


OF_A_CASE = ("enclosure", "solution", "batch", "points", "noise", "compared", "outages", "headroom",
             "ranking", "swept", "spread", "sized", "curves", "chosen", "saved")  # fmt: skip


def names() -> str:
    """Public names with their arguments, and the names of their public attributes."""
    found: dict[str, Any] = {}
    for name in sorted(flownet.__all__):
        item = getattr(flownet, name)
        try:
            arguments = str(inspect.signature(item))
        except (TypeError, ValueError):
            arguments = ""
        if inspect.isclass(item) or name == "draw":
            found[name] = [arguments, [a for a in dir(item) if not a.startswith("_")]]
        else:
            found[name] = arguments
    return text(found)


Wrong = Callable[[flownet.Enclosure], Any]
WRONG: tuple[Wrong, ...] = (
    lambda case: flownet.solve(case, changes={"outside.temperature": 40}),
    lambda case: flownet.solve(case, changes={"outside.temprature": 300.0}),
    lambda case: flownet.solve(case, changes=["fan.left.speed"]),  # type: ignore[arg-type]
    lambda case: flownet.solve(case, changes={"fan.*.speed": -1.0, "outside.altitude": "9 bar"}),
    lambda case: flownet.solve(case, scenario="hott"),
    lambda case: flownet.solve(case, scenario=3),  # type: ignore[arg-type]
    lambda case: flownet.solve(case, variant="three-fan"),
    lambda case: flownet.solve("case"),  # type: ignore[arg-type]
    lambda case: flownet.solve_many(case, {"fan.left.speed": [1, 2], "fan.right.speed": [1, 2, 3]}),
    lambda case: flownet.solve_many(case, {"fan.left": [1, 2]}),
    lambda case: flownet.solve(case)["part.controler.temperature"],
    lambda case: flownet.solve(case)["part.controller.temprature"],
    lambda case: flownet.solve(case).parts["controller"].temperature_mm,
    lambda case: flownet.solve(case).mass_flow("filter.none"),
    lambda case: flownet.solve(case).to_frame("people"),
    lambda case: case["fan.lef.speed"],
    lambda case: case.with_changes({"vent.side.area": "6 kg"}),
    lambda case: case.under("hot+hot2"),
    lambda case: flownet.headroom(case, "fan.left.type"),
    lambda case: flownet.headroom(case, "outside.temperature", upto="5 m"),
    lambda case: flownet.rank(case, "part.controller"),
    lambda case: flownet.rank(case, "total.volume_flow", step=2.0),
    lambda case: flownet.sweep(case, {}),
    lambda case: flownet.sweep(case, {"outside.altitude": "0 m to"}),
    lambda case: flownet.sweep(case, "nothing"),
    lambda case: flownet.uncertainty(case, samples=0, seed=1),
    lambda case: flownet.uncertainty(case, seed=-1),
    lambda case: flownet.choose(case, "fan.lef"),
    lambda case: flownet.choose(case, "fan.left", best="speed"),
    lambda case: flownet.choose_options(case, "nothing"),
    lambda case: flownet.compare(case, variants=["three-fan"]),
    lambda case: flownet.outages(case, scenarios=["hott"]),
    lambda case: flownet.size(heat="400 m", rise="10 K", inlet="40 degC"),
    lambda case: flownet.size(heat=400, rise=-1, inlet=40),
    lambda case: flownet.si("12 furlong"),
    lambda case: flownet.si("12 m", "K"),
    lambda case: flownet.explain("fan.sped"),
    lambda case: flownet.explain(3),  # type: ignore[arg-type]
    lambda case: flownet.Vent(name="a b", from_="x", to="y", area=-1),
    lambda case: flownet.Fan(name="f", from_="x", to="y", type="t", speed="fast", state="on"),
    lambda case: flownet.Part(name="p", in_="x", power="5 m", limit=40),
    lambda case: flownet.Enclosure.of(flownet.Part(name="p", in_="x", power=5)),
    lambda case: flownet.load_case("no/such/case.toml"),
    lambda case: flownet.draw.map(case.title),  # type: ignore[arg-type]
    lambda case: flownet.draw.map(flownet.solve(case), units="imperial"),
    lambda case: flownet.nothing,
)


def wrong(number: str) -> str:
    """What a wrong call says; the drive cabinet is its case."""
    case = case_of("drive-cabinet")
    try:
        made = WRONG[int(number)](case)
    except Exception as error:
        return f"{type(error).__name__}: {error}\n"
    return f"no error: {made!r:.200}\n"
