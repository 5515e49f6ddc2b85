"""Ranges of inputs, and what comes of every combination, or of a sample of them.

Rows are solved in blocks whose size depends on the case alone. In memory they are arrays; with a
file they go by, and any number of them takes no more room than a block.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from pathlib import Path
from typing import Any

import numpy as np

from flownet import __version__
from flownet.enclosure.changes import converted
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.ranges import alternatives
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError, WorkerLost
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.shown import sheet_line
from flownet.solving.solve import Progress
from flownet.studies import sweep_files, sweep_stream
from flownet.studies.designs import Axis
from flownet.studies.designs import design as designed
from flownet.studies.sweep_result import Sweep
from flownet.studies.sweep_rows import Block, heading, layout, lines, solved
from flownet.studies.sweep_tally import Tally

IN_MEMORY = 200_000  # rows; more go to a file
AHEAD = 8  # blocks that an executor has at a time
Vary = Mapping[str, Any] | str


def sweep(
    case: Enclosure, vary: Vary, *, design: str = "grid", samples: int | None = None,
    seed: int | None = None, scenario: str = "base", variant: str = "base",
    keep: Sequence[str] | None = None, out: str | os.PathLike[str] | None = None,
    executor: Executor | None = None, progress: Progress | None = None, resume: bool = False,
    force: bool = False,
) -> Sweep:  # fmt: skip
    """Every combination of some values, or a sample of them, solved.

    Parameters
    ----------
    vary : mapping or str
        Input path (`*` for several things) -> a range `"0.5 to 1.0 in 11"`, a list or an array, SI
        numbers or text, or `{"low": ..., "high": ...}`; or the name of a `[sweep.NAME]`.
    design : "grid", "latin" or "sobol"
        Every combination, the last path changing fastest; a Latin hypercube; a scrambled Sobol
        sequence, its size rounded up to a power of two.
    samples, seed : int, of latin and sobol: how many, and what decides them, default 1
    scenario, variant, executor, progress : as for `solve` and `solve_many`
    keep : sequence of str, optional
        Result paths, `*` for what stands between two dots. Default the sums of the enclosure, and
        temperature and margin of every part. Status, limit and hottest air are always there.
    out : path to a .csv, .parquet, .nc or .json, optional
        Rows are written to it as they come; the result then has none.
    resume, force : bool
        Go on where it was interrupted, to the same bytes; replace what is there, no foreign .csv.

    Raises
    ------
    CaseError
        What is asked for is wrong. A combination that cannot be made or solved has a row, with why.
    FileExistsError, FileNotFoundError, CannotWrite
        Another file, or another writer of it, is in the way; no such folder; the disk is full.
    WorkerLost, ImportError
        A process of the executor was killed; a library that the suffix takes is not there.
    """
    blank = _unsolved(case, vary, (design, samples, seed), scenario, variant, keep, out)
    if blank.path is None:
        return _in_memory(blank, executor, progress)
    return _to_file(blank, blank.path, executor, progress, resume=resume, force=force)


def _unsolved(
    case: Enclosure, vary: Vary, plan_of: tuple[str, int | None, int | None], scenario: str,
    variant: str, keep: Sequence[str] | None, out: str | os.PathLike[str] | None,
) -> Sweep:  # fmt: skip
    """What is asked for, checked, without any row."""
    argument_checks.check("sweep", case, Enclosure)
    if not isinstance(vary, str):
        argument_checks.check_changes(vary, "sweep: vary")
    argument_checks.check_names("sweep: keep", keep)
    made = case.under(scenario, variant)
    axes = _axes(made, vary)
    _apart(made, axes)
    plan = designed(axes, *plan_of)
    if out is None and plan.size > IN_MEMORY:
        raise CaseError(
            f"sweep: {plan.size} rows are more than {IN_MEMORY}; name a file (out=, --out), "
            "which holds any number"
        )
    target = None if out is None else _target(Path(out))
    return Sweep(made, plan, layout(made, plan.axes, keep), Tally(), {}, target)


def _axes(case: Enclosure, vary: Vary) -> list[Axis]:
    """What is varied; CaseError with every fault."""
    if isinstance(vary, str):
        known = case.studies.get("sweep", {})
        if vary not in known:
            there = f"there are {', '.join(known)}" if known else "the case has none"
            hint = did_you_mean(nearest(vary, known), there)
            raise CaseError(Fault("sweep", f"no [sweep.{vary}] in the case", hint=hint))
        return [Axis.of(path, values) for path, values in known[vary].items()]
    made: list[Axis] = []
    faults: list[str] = []
    for path, raw in vary.items():
        try:
            made.append(_axis(case, path, raw))
        except CaseError as error:
            faults += error.faults
    if faults:
        raise CaseError(faults)
    return made


def _apart(case: Enclosure, axes: Sequence[Axis]) -> None:
    """CaseError where two paths stand for the same value: one would be tried and not said."""
    seen: dict[str, str] = {}
    faults: dict[str, None] = {}
    for axis in axes:
        for place in case.places(axis.path):
            other = seen.setdefault(place.path, axis.path)
            if other != axis.path:
                faults[f"vary: {other} and {axis.path} both stand for {place.path}; vary it by "
                       "one of them"] = None  # fmt: skip
    if faults:
        raise CaseError(list(faults))


def _axis(case: Enclosure, path: str, raw: Any) -> Axis:
    if isinstance(raw, Mapping) and set(raw) == {"low", "high"}:
        low, high = (converted(case, path, raw[end]) for end in ("low", "high"))
        return Axis.of(path, {"low": low, "high": high})
    values = alternatives(case, path, _plain(raw), file=False)
    assert not isinstance(values, str)  # "any" is for choices
    return Axis.of(path, values)


def _plain(raw: Any) -> Any:
    """An array or a range as a list."""
    if hasattr(raw, "tolist"):
        return np.atleast_1d(raw).tolist()
    return list(raw) if isinstance(raw, range) else raw


def _target(path: Path) -> Path:
    if path.suffix.lower() not in sweep_files.NEEDS:
        known = ", ".join(sweep_files.NEEDS)
        raise CaseError(f'out: a sweep is written as {known} (got "{path}")')
    sweep_files.needed(path)
    return path


def _in_memory(blank: Sweep, executor: Executor | None, progress: Progress | None) -> Sweep:
    blocks, tally = [], Tally()
    for block in _blocks(blank, 0, executor, progress):
        blocks.append(block.columns)
        tally = tally.after(blank.case, blank.layout, block)
    table = {path: np.concatenate([each[path] for each in blocks]) for path in blocks[0]}
    return dataclasses.replace(blank, tally=tally, table=table)


def _blocks(
    blank: Sweep, start: int, executor: Executor | None, progress: Progress | None
) -> Iterator[Block]:
    """Blocks in order from a row on; WorkerLost says which was not there, and how to go on."""
    size, rows = blank.design.size, blank.layout.rows
    try:
        for block in _solved(blank, start, executor, progress):
            yield block
            start += len(block)
    except (BrokenExecutor, WorkerLost) as error:
        how = "run it again" if blank.path is None or not start else sweep_stream.resuming(
            blank.path, start)  # fmt: skip
        raise WorkerLost(
            f"sweep: a worker process was killed, or ran out of memory, before the block of rows "
            f"{start + 1} to {min(start + rows, size)} of {size} was there; {how}; with fewer "
            "workers (-j) if memory is short"
        ) from error


def _solved(
    blank: Sweep, start: int, executor: Executor | None, progress: Progress | None
) -> Iterator[Block]:
    """Blocks in order from a row on; an executor has a few whole ones at a time where there are
    many, else the parts of each."""
    case, plan, shape = blank.case, blank.design, blank.layout
    starts = range(start, plan.size, shape.rows)
    if executor is None or len(starts) < AHEAD:
        for begin in starts:
            yield solved(case, plan, shape, begin, executor=executor, progress=progress)
        return
    ahead: deque[Future[Block]] = deque()
    waiting = iter(starts)
    try:
        for begin in starts:
            while len(ahead) < AHEAD and (following := next(waiting, None)) is not None:
                ahead.append(executor.submit(solved, case, plan, shape, following))
            block = ahead.popleft().result()
            if progress is not None:
                progress(begin + len(block), plan.size)
            yield block
    finally:
        for future in ahead:
            future.cancel()


# --- files ----------------------------------------------------------------------------------------


def _to_file(
    blank: Sweep, target: Path, executor: Executor | None, progress: Progress | None, *,
    resume: bool, force: bool,
) -> Sweep:  # fmt: skip
    digest = _digest(blank)
    sheet = target.suffix.lower() == ".csv"  # what a spreadsheet opens; else a step on the way
    about = sheet_line(f"# written by flownet {__version__}: {blank.about}")
    head = f"{about}\n{heading(blank.layout)}"
    with sweep_stream.begun(target, digest, head, resume=resume, force=force) as table:
        tally = Tally(**(table.note.state or {}))
        for block in _blocks(blank, table.note.rows, executor, progress):
            tally = tally.after(blank.case, blank.layout, block)
            text = lines(blank.case, blank.layout, block, sheet=sheet)
            table.append(text, len(block), dataclasses.asdict(tally))
        table.check(blank.design.size)
        found = dataclasses.replace(blank, tally=tally)
        if sheet:
            table.move()
        else:
            columns, rows = blank.layout.columns, tally.rows
            sweep_files.converted(table.part, target, columns, rows, found.head())
            table.drop()
    return found


def _digest(blank: Sweep) -> str:
    """Of everything that decides what the file holds."""
    plan, shape = blank.design, blank.layout
    content = [
        __version__, blank.case.digest, blank.about, plan.sort, plan.size, plan.seed,
        [[axis.path, axis.values, axis.low, axis.high] for axis in plan.axes],
        [column.key for column in shape.columns], shape.rows,
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(content, default=repr).encode()).hexdigest()
