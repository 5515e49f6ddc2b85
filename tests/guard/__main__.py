"""`python -m tests.guard record FOLDER` before a step, `compare FOLDER` after it.

The folder holds one compressed file of JSON lines a group. `compare` runs what the folder holds,
so that a change in how inputs are made is no difference. `--only` takes names of groups, and words
that must stand in the command: `--only draw`, `--only solve rank telecom-shelf`. Pictures (group
`draw`) are compared by exit code, lines, kind of file and words; all else sign by sign.
"""

from __future__ import annotations

import argparse
import collections
import gzip
import json
import multiprocessing
import os
import sys
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from tests.guard import plan, run
from tests.guard.differences import told

Entry = dict[str, Any]


def main() -> int:
    """Record or compare; 1 where something differs."""
    parser = argparse.ArgumentParser(
        "python -m tests.guard", description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("what", choices=("record", "compare", "list"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", nargs="+", default=[], help="names of groups, words of a command")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--lines", type=int, default=6, help="lines shown of each difference")
    parser.add_argument("--most", type=int, default=8, help="differences shown of each group")
    given = parser.parse_args()
    start = time.time()
    if given.what == "record":
        count, cpu = _record(given)
        print(f"{count} recorded, {cpu:.0f} s of CPU, {time.time() - start:.0f} s")
        return 0
    kept = [e for e in _read(given.folder) if _meant(e["call"], given.only)]
    if given.what == "list":
        _list(kept)
        return 0
    changed, cpu = _compare(kept, given)
    took = f"{cpu:.0f} s of CPU, {time.time() - start:.0f} s"
    print(f"{len(kept)} compared, {changed} differ, {took}")
    return int(changed > 0 or not kept)


def _meant(call: Entry, only: Iterable[str]) -> bool:
    groups = [word for word in only if word in plan.GROUPS]
    command = plan.name(call)
    rest = (word for word in only if word not in plan.GROUPS)
    return (not groups or call["group"] in groups) and all(word in command for word in rest)


def _record(given: argparse.Namespace) -> tuple[int, float]:
    given.folder.mkdir(parents=True, exist_ok=True)
    calls = [call for call in plan.calls(given.only) if _meant(call, given.only)]
    kept = _read(given.folder) if given.only else ()
    old = {_key(e["call"]): e for e in kept if not _meant(e["call"], given.only)}
    cpu = 0.0
    for entry in _ran(calls, given.jobs):
        old[_key(entry["call"])] = entry
        cpu += entry["seconds"]
    groups = collections.defaultdict(list)
    for entry in old.values():
        groups[entry["call"]["group"]].append(json.dumps(entry, ensure_ascii=False))
    for group, lines in groups.items():
        with gzip.open(given.folder / f"{group}.jsonl.gz", "wt", encoding="utf-8") as stream:
            stream.write("\n".join(lines) + "\n")
    return len(calls), cpu


def _key(call: Entry) -> str:
    return json.dumps(call, sort_keys=True)


def _read(folder: Path) -> Iterator[Entry]:
    for path in sorted(folder.glob("*.jsonl.gz")):
        with gzip.open(path, "rt", encoding="utf-8") as stream:
            yield from map(json.loads, stream)


def _list(kept: list[Entry]) -> None:
    spent: collections.Counter[str] = collections.Counter()
    for entry in kept:
        spent[entry["call"]["group"]] += entry["seconds"]
        print(f"{entry['seconds']:7.2f} s  {entry['call']['group']:8} {plan.name(entry['call'])}")
    for group, seconds in spent.most_common():
        count = sum(e["call"]["group"] == group for e in kept)
        print(f"{seconds:7.1f} s  {group}: {count}")


def _compare(kept: list[Entry], given: argparse.Namespace) -> tuple[int, float]:
    found: dict[str, list[str]] = collections.defaultdict(list)
    cpu = 0.0
    for before, after in zip(kept, _ran([e["call"] for e in kept], given.jobs), strict=True):
        cpu += after["seconds"]
        lines = told(before, after, given.lines)
        if lines:
            found[before["call"]["group"]].append("\n".join(lines))
    for group, texts in found.items():
        count = sum(entry["call"]["group"] == group for entry in kept)
        print(f"=== {group}: {len(texts)} of {count} differ")
        print(*texts[: given.most], sep="\n")
        if len(texts) > given.most:
            print(f"... {len(texts) - given.most} more (--most)")
    return sum(map(len, found.values())), cpu


def _ran(calls: list[Entry], jobs: int) -> Iterator[Entry]:
    """Results in the order of the calls; long ones are not left to the end."""
    if jobs <= 1:
        yield from map(run.entry, calls)
        return
    how = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(jobs, mp_context=how, initializer=run.prepared) as pool:
        yield from pool.map(run.entry, calls)


if __name__ == "__main__":
    os.environ.update(run.ENVIRONMENT)
    run.prepared()
    sys.exit(main())
