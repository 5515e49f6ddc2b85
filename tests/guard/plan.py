"""Every call that is recorded: commands on the demos, spoilt inputs, and the Python face."""

from __future__ import annotations

import itertools
import random
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import flownet
from tests.guard import face

REPO = Path(flownet.__file__).parents[1]
DEMOS = ("bench-supply", "drive-cabinet", "outdoor-cabinet", "telecom-shelf")
SLOW = "outdoor-cabinet"  # seconds a solve
FAST = tuple(demo for demo in DEMOS if demo != SLOW)
COMMANDS = ("new", "check", "show", "explain", "solve", "draw", "size", "choose", "compare",
            "headroom", "rank", "sweep", "uncertainty")  # fmt: skip
MUCH = ["--json", "a.json"]
WORST = {
    "bench-supply": "hot", "drive-cabinet": "hot+dirty", "outdoor-cabinet": "hot-day",
    "telecom-shelf": "hot+dirty",
}  # fmt: skip
HEADROOM = {
    "bench-supply": ("outside.temperature", "fan.rear.speed"),
    "drive-cabinet": ("outside.temperature", "filter.intake.fouling", "fan.*.speed",
                      "part.rectifier.load", "outside.altitude", "vent.side.area"),
    "outdoor-cabinet": ("outside.temperature",),
    "telecom-shelf": ("outside.temperature", "filter.*.fouling", "part.*.power"),
}  # fmt: skip
SWEEPS = {
    "bench-supply": "speed",
    "drive-cabinet": "fouling",
    "telecom-shelf": "speed",
}
SUBJECTS = {
    "headroom": ["outside.temperature"], "rank": ["--of", "total.noise"],
    "uncertainty": ["--seed", "1"], "sweep": ["fouling"],
}  # fmt: skip
VARY = ["--vary", "outside.temperature=30 to 45 degC in 3", "--vary", "outside.altitude=['0 m', "
        "'2000 m']"]  # fmt: skip

Call = dict[str, Any]


def name(call: Call) -> str:
    """The call in one line."""
    spoilt = call.get("what", "")
    return " ".join(f'"{w}"' if " " in w else w for w in call["argv"]) + (spoilt and f" ({spoilt})")


def calls(only: Sequence[str] = ()) -> Iterator[Call]:
    """All of them, or those of the groups named."""
    named = [word for word in only if word in GROUPS] or list(GROUPS)
    for group in named:
        for item in GROUPS[group]():
            words, more = item if isinstance(item, tuple) else (item, {})
            yield {"group": group, "argv": [str(word) for word in words], **more}


def _help() -> Iterator[Any]:
    yield from (["--help"], [], ["--version"], ["--completion", "bash"])
    for command in COMMANDS:
        yield [command, "--help"]
        yield [command]


def _explain() -> Iterator[Any]:
    text = (Path(__file__).parent / "topics.txt").read_text()
    for topic in text.replace("\n", " | ").split(" | "):
        if topic.strip():
            yield ["explain", topic.strip()]
            yield ["explain", topic.strip(), "--units", "us"]


def _check() -> Iterator[Any]:
    for demo in DEMOS:
        yield ["check", demo, *MUCH]
        yield ["check", f"{demo}/case.toml"], {"demos": [demo]}
    yield ["check", "drive-cabinet", "-s", "hot", "-v", "shutters"]
    yield ["check", "most.toml", *MUCH], {"files": _most()}


def _most() -> dict[str, str]:
    folder = Path(__file__).parents[1] / "casefile"
    return {
        "most.toml": (folder / "most_kinds.toml").read_text(),
        "fans.toml": (folder / "fans.toml").read_text(),
    }


def _show() -> Iterator[Any]:
    for demo in DEMOS:
        yield ["show", demo, *MUCH]
        yield ["show", demo, "part.*", "-s", WORST[demo]]
    for variant in flownet.load_case(REPO / "cases/drive-cabinet").variants:
        yield ["show", "drive-cabinet", "fan.*", "-v", variant]
    yield ["show", "telecom-shelf", "filter.*.fouling"]
    yield ["show", "most.toml"], {"files": _most()}


def _solve() -> Iterator[Any]:
    from tests.all_scenarios import pairs  # noqa: PLC0415 - `compare` does without

    for demo in FAST:
        for scenario, variant in pairs(flownet.load_case(REPO / "cases" / demo)):
            yield ["solve", demo, "-s", scenario, "-v", variant, "--all", *MUCH]
        yield ["solve", demo, "-s", WORST[demo], "-s", "each-fan-out", "--strict", "-o", "a.txt"]
        yield ["solve", demo, "-s", WORST[demo], "--units", "us", "--set", "outside.altitude=900 m"]
        yield ["solve", demo, "--json", "-"]
        yield ["solve", demo, "--all-points", *MUCH]
        yield ["solve", demo, "--color", "always"]
    yield ["solve", "most.toml", "--all", *MUCH], {"files": _most()}
    yield ["solve", "most.toml", "-s", "each-fan-out", "--all", *MUCH], {"files": _most()}


def _compare() -> Iterator[Any]:
    for demo in FAST:
        yield ["compare", demo, "--all", *MUCH]
        yield ["compare", demo, "-o", "a.csv"]
        yield ["compare", demo, "--outages", "--all", *MUCH]
        yield ["compare", demo, "--outages", "-v", "base", "-o", "a.csv"]
    yield ["compare", "drive-cabinet", "-v", "base", "-v", "three-fans", "--strict", "-o", "a.txt"]
    yield ["compare", "telecom-shelf", "-s", "hot", "--units", "us", "-j", "2"]


def _headroom() -> Iterator[Any]:
    for demo in FAST:
        for key in HEADROOM[demo]:
            yield ["headroom", demo, key, "-s", WORST[demo], *MUCH]
        yield ["headroom", demo, HEADROOM[demo][0], "--all", "-o", "a.csv"]
    yield ["headroom", "drive-cabinet", "fan.*.speed", "-s", "hot", "-s", "each-fan-out"]
    yield ["headroom", "drive-cabinet", "outside.temperature", "--upto", "60 degC", "--units", "us"]
    yield ["headroom", "drive-cabinet", "filter.intake.fouling", "-v", "strong-fans", "--strict"]


def _rank() -> Iterator[Any]:
    for demo in FAST:
        parts = list(flownet.load_case(REPO / "cases" / demo).parts)
        yield ["rank", demo, "--of", f"part.{parts[-1]}.temperature", "-s", WORST[demo], *MUCH]
        yield ["rank", demo, "--of", "total.volume_flow", "--all", "-o", "a.csv"]
        yield ["rank", demo, "--of", "total.noise", "--units", "us"]


def _sweep() -> Iterator[Any]:
    for demo, swept in SWEEPS.items():
        yield ["sweep", demo, swept, "--all", *MUCH]
        for suffix in ("csv", "json", "parquet", "nc"):
            yield ["sweep", demo, swept, "-s", WORST[demo], "-o", f"a.{suffix}"]
        yield ["sweep", demo, *VARY, "--all", "--strict", "-o", "b.csv"]
    drive = ["sweep", "drive-cabinet"]
    yield [*drive, "altitude", "--keep", "part.*.temperature", "--keep", "fan.*.volume_flow", *MUCH]
    yield [*drive, "--vary", "fan.left.type=['axial-119-b', 'axial-119-s']", "--units", "us"]
    for design in ("latin", "sobol"):
        yield [*drive, "--vary", "filter.*.fouling=1 to 4", "--vary", "outside.temperature=20 to 45"
               " degC", "--design", design, "--samples", "8", "--seed", "3", "-o",
               "a.csv"]  # fmt: skip


def _spread() -> Iterator[Any]:
    for demo in FAST:
        yield ["uncertainty", demo, "--seed", "1", "--samples", "200", "-s", WORST[demo], "--all",
               *MUCH]  # fmt: skip
        stated = ["--samples", "64", "--only-stated"]
        yield ["uncertainty", demo, "--seed", "2", *stated, "-o", "a.csv"]
    yield ["uncertainty", "drive-cabinet", "--seed", "3", "--samples", "100", "--of",
           "total.volume_flow", "--units", "us"]  # fmt: skip


def _size() -> Iterator[Any]:
    load = ["size", "--heat", "400 W", "--rise", "10 K", "--inlet", "40 degC"]
    yield [*load, "--margin", "20%", *MUCH]
    yield [*load, "--altitude", "1500 m", "--drop", "20 Pa", "--velocity", "2 m/s", "-o", "a.csv"]
    yield [*load, "--flow", "100 m3/h", "--units", "us", "-o", "a.txt"]
    for demo in FAST:
        yield ["size", demo, "--all", *MUCH]
        yield ["size", demo, "-s", WORST[demo], "--margin", "10%", "--drop", "10 Pa", "-o", "a.csv"]
    yield ["size", "drive-cabinet", "-v", "three-fans", "--flow", "200 m3/h", "--rise", "12 K"]


def _choose() -> Iterator[Any]:
    yield ["choose", "drive-cabinet", "--name", "exhaust", "--all", *MUCH]
    yield ["choose", "drive-cabinet", "--name", "places", *MUCH]
    yield ["choose", "drive-cabinet", "--name", "exhaust", "-o", "a.csv", "--best", "noise"]
    yield ["choose", "bench-supply", "--all", *MUCH]
    yield ["choose", "telecom-shelf", "--all", *MUCH]
    shared = ["--catalogue", "fan-catalogue"]
    yield ["choose", "bench-supply", "fan.rear", *shared, "--frame", "any", "--all", *MUCH]
    yield ["choose", "telecom-shelf", "fan.*", *shared, "--best", "noise", *MUCH]
    yield ["choose", "drive-cabinet", "fan.left", *shared, "-s", "hot", "-o", "a.csv", "--strict"]
    yield ["choose", "drive-cabinet", "fan.*", *shared, "--best", "power", "--units", "us"]


def _new() -> Iterator[Any]:
    yield ["new", "cabinet"]
    yield ["new", "cabinet.toml"]
    yield from (["new", "mine", "--like", demo] for demo in DEMOS)
    yield ["new", "mine", "--like", "drive-cabnet"]
    yield ["new", "drive-cabinet"], {"demos": ["drive-cabinet"]}
    yield ["new", "a/b/c"]


def _usage() -> Iterator[Any]:
    """What people type wrong."""
    yield from (["slove", "drive-cabinet"], ["solve", "drive-cabnet"], ["drive-cabinet"])
    for command in [c for c in COMMANDS if c not in ("new", "explain", "size")]:
        subject = SUBJECTS.get(command, [])
        case = [command, "drive-cabinet", *subject]
        for wrong in (
            ["-s", "hott"], ["-s", "hot+drity"], ["-v", "three-fan"], ["-v", "a", "-v", "b"],
            ["--set", "outside.temprature=50 degC"], ["--set", "outside.temperature=50 Pa"],
            ["--set", "outside.temperature"], ["--set", "fan.*.speed=-1"], ["--units", "imperial"],
            ["-o", "a.docx"], ["-o", "-", "--json", "-"], ["-o", "no/such/folder/a.json"],
            ["--catalogue", "nowhere"], ["--strickt"], ["-j", "-1"], ["-o", "a.csv"],
        ):  # fmt: skip
            yield [*case, *wrong], {"files": {"a.csv": "someone else's\n"}}
        yield [command, *subject, "drive-cabinet"]
    for words in (
        "headroom drive-cabinet", "headroom drive-cabinet outside.temperatur",
        "headroom drive-cabinet outside", "headroom drive-cabinet fan.left.type",
        "headroom drive-cabinet outside.temperature --upto 5m", "rank drive-cabinet --of noise",
        "headroom drive-cabinet outside.temperature --upto 10degC", "sweep drive-cabinet nothing",
        "rank drive-cabinet --of part.controler.temperature", "sweep drive-cabinet",
        "sweep drive-cabinet --vary outside.altitude=0", "uncertainty drive-cabinet --seed x",
        "sweep drive-cabinet fouling --design latin", "uncertainty drive-cabinet --seed 1 --of x",
        "uncertainty drive-cabinet --seed 1 --samples 1", "choose drive-cabinet --name nothing",
        "choose drive-cabinet", "choose drive-cabinet fan.lef", "choose drive-cabinet --best speed",
        "choose drive-cabinet fan.left --frame huge", "size --heat 400W", "size --heat 4furlong",
        "size drive-cabinet --heat 400W", "size --heat 400W --rise -1K --inlet 40degC",
        "size --heat 400W --rise 10K --inlet 900degC", "show drive-cabinet fan.lef",
        "show drive-cabinet fan.left.sped", "explain fan.sped", "explain nonsense", "explain Fan",
        "draw drive-cabinet mapp", "draw drive-cabinet sweep", "draw drive-cabinet rank",
        "draw fan-catalogue curves --of axial", "draw drive-cabinet map -o a.gif",
        "draw drive-cabinet headroom --of nothing", "draw drive-cabinet choose --fan fan.x",
        "solve drive-cabinet --all-points -s hott", "compare drive-cabinet -s hot -s hott",
        "solve fan-catalogue", "check .", "solve -s hot drive-cabinet extra",
    ):  # fmt: skip
        yield words.split()


def _faults() -> Iterator[Any]:
    """Case files, catalogues and curves, each spoilt in one place; the texts are kept."""
    from tests.casefile import mutate  # noqa: PLC0415 - `compare` does without
    from tests.casefile.small import BASE  # noqa: PLC0415 - likewise

    sound = {"case.toml": mutate.CASE.read_text(), "fans.toml": mutate.CATALOGUE.read_text()}
    for seed, file, count in ((1, "case.toml", 240), (4, "fans.toml", 60)):
        for mutant in mutate.mutants(sound[file], count, seed):
            files = {**sound, file: mutant.text}
            yield ["check", "case.toml"], {"what": mutant.what, "files": files}
    good = "# density: 1.15 kg/m3\nflow[m3/h],rise[Pa]\n0,60\n50,40\n100,0\n"
    case = BASE + '[fan_type.c]\nflow_area = "80 cm2"\ncurve_csv = "c.csv"\n'
    every = list(itertools.product(range(len(good)), '"\n,;\t#x-é', (0, 1)))
    for at, sign, drop in random.Random(1).sample(every, 60):
        text = good[:at] + sign + good[at + drop :]
        yield ["check", "a.toml"], {"what": "curve", "files": {"a.toml": case, "c.csv": text}}


def _random() -> Iterator[Any]:
    """Random enclosures, written as case files."""
    from tests.every_kind import everything  # noqa: PLC0415 - inputs alone
    from tests.random_enclosures import draught, enclosure, upright  # noqa: PLC0415

    made = {f"{draw.__name__} {seed}": draw(seed) for draw, count in
            ((enclosure, 40), (upright, 8), (draught, 8)) for seed in range(count)}  # fmt: skip
    made["every kind"] = everything()
    with tempfile.TemporaryDirectory() as folder:
        for number, (what, case) in enumerate(made.items()):
            path = Path(folder) / f"{number}.toml"
            flownet.save_case(case, path)
            yield ["solve", "a.toml", "--all", *MUCH], {
                "what": what, "files": {"a.toml": path.read_text()}}  # fmt: skip


def _face() -> Iterator[Any]:
    yield ["@", "names"]
    for demo in FAST:
        for function in face.OF_A_CASE:
            yield ["@", function, demo]
    for number in range(len(face.WRONG)):
        yield ["@", "wrong", number]


def _draw() -> Iterator[Any]:
    for demo in FAST:
        for picture in ("map", "network", "curves", "matrix"):
            scenario = [] if picture == "matrix" else ["-s", WORST[demo]]
            yield ["draw", demo, picture, *scenario, "-o", "a.svg"]
        yield ["draw", demo, "headroom", "--of", HEADROOM[demo][0], "-o", "a.svg"]
        yield ["draw", demo, "rank", "--of", "total.volume_flow", "-o", "a.svg"]
        yield ["draw", demo, "uncertainty", "--seed", "1", "--samples", "64", "-o", "a.svg"]
        yield ["draw", demo, "sweep", "--name", SWEEPS[demo], "-o", "a.svg"]
        yield ["draw", demo, "map", "--units", "us", "-o", "a.pdf"]
    drive = ["draw", "drive-cabinet"]
    yield [*drive, "sweep", *VARY, "--of", "total.volume_flow", "-o", "a.svg"]
    yield [*drive, "choice", "--of", "exhaust", "-o", "a.svg"]
    yield [*drive, "-o", "a.png"]
    yield drive
    yield [*drive, "map", "-v", "blow-in", "-o", "a.svg"]
    yield ["draw", "fan-catalogue", "curves", "--of", "axial-119x38-230v", "-o", "a.svg"]
    yield ["draw", "telecom-shelf", "choose", "--fan", "fan.*", "--catalogue", "fan-catalogue",
           "-o", "a.svg"]  # fmt: skip
    yield ["draw", "telecom-shelf", "choice", "-o", "a.svg"]


def _outdoor() -> Iterator[Any]:
    """The demo whose flow is heat's own: each solve takes seconds."""
    from tests.all_scenarios import pairs  # noqa: PLC0415 - `compare` does without

    case = flownet.load_case(REPO / "cases" / SLOW)
    for scenario, variant in pairs(case):
        if "base" in (scenario, variant):
            yield ["solve", SLOW, "-s", scenario, "-v", variant, "--all", *MUCH]
    yield ["solve", SLOW, "--all-points"]
    yield ["compare", SLOW, "--all", *MUCH]
    yield ["size", SLOW, *MUCH]
    yield ["draw", SLOW, "map", "-o", "a.svg"]


GROUPS: dict[str, Callable[[], Iterator[Any]]] = {
    "help": _help, "explain": _explain, "check": _check, "show": _show, "solve": _solve,
    "compare": _compare, "headroom": _headroom, "rank": _rank, "sweep": _sweep,
    "spread": _spread, "size": _size, "choose": _choose, "new": _new, "usage": _usage,
    "faults": _faults, "random": _random, "face": _face, "draw": _draw, "outdoor": _outdoor,
}  # fmt: skip
