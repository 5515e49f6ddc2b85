"""Several scenarios one after the other; what is not solved keeps its place."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeVar

from flownet.cli import faults
from flownet.cli.screen import Screen
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.page import Unsolved
from flownet.pages.verdict import ranked
from flownet.results.solution import Solution
from flownet.schema.errors import CaseError, NoSolution
from flownet.solving.operating_points import OperatingPoint, operating_points
from flownet.solving.solve import solve

Found = TypeVar("Found")
BAR_AFTER = 1.0  # seconds of work before a bar is worth looking at


def outcomes(
    case: Enclosure, names: Sequence[str], variant: str, changes: dict[str, Any],
    every_point: bool = False,
) -> Iterator[Solution | tuple[OperatingPoint, ...] | Unsolved]:  # fmt: skip
    """Solutions of some scenarios, or all operating points of each, as `each`."""
    how: Callable[..., Any] = operating_points if every_point else solve
    return each(case, names, variant, lambda name: how(
        case, scenario=name, variant=variant, changes=changes or None))  # fmt: skip


def each(
    case: Enclosure, names: Sequence[str], variant: str, solve: Callable[[str], Found]
) -> Iterator[Found | Unsolved]:
    """What `solve` says of every scenario; of several, one that fails keeps its place. One alone
    raises."""
    for done, name in enumerate(names):
        try:
            yield solve(name)
        except (CaseError, NoSolution) as error:
            if len(names) == 1:
                raise
            kind = "no-solution" if isinstance(error, NoSolution) else "case"
            told = error.faults if isinstance(error, CaseError) else (str(error),)
            yield Unsolved(case.title or case.origin, name, variant, kind, told)
        except KeyboardInterrupt:
            if len(names) == 1:
                raise
            rest = " ".join(f"-s {name}" for name in names[done:])
            raise faults.Interrupted(f"the rest: {rest}") from None


class Work(NamedTuple):
    """What a study is given to work with: `study(..., **work._asdict())`."""

    executor: Executor | None  # processes that solve side by side; None for one
    progress: Callable[[int, int], None]


@contextmanager
def working(doing: str, jobs: int, screen: Screen) -> Iterator[Work]:
    """Processes and a bar for a study; `doing` names it ("comparing").

    The bar stands on stderr, on a terminal only, and not before a second has passed.
    """
    with ExitStack() as opened:
        executor = None
        if (count := _processes(jobs, screen)) > 1:
            from flownet.cli import workers  # noqa: PLC0415 - only with --jobs

            executor = opened.enter_context(workers.pool(count))
        bar = _Bar(doing, opened)
        shown = sys.stderr.isatty() and not screen.quiet
        yield Work(executor, bar.told if shown else lambda done, total: None)


def _processes(jobs: int, screen: Screen) -> int:
    """How many are taken: no more than there are cores for this process; 0 stands for all."""
    if jobs == 1:
        return 1
    from flownet.cli import workers  # noqa: PLC0415 - only with --jobs

    cores = workers.usable()
    if jobs > cores:
        screen.note(f"-j {jobs}: this process may use {_of(cores)}; as many processes solve")
    return min(jobs or cores, cores)


def _of(cores: int) -> str:
    return f"{cores} cores" if cores > 1 else "1 core"


@dataclass
class _Bar:
    """A bar that appears once the work has taken a while."""

    doing: str
    opened: ExitStack
    began: float = field(default_factory=time.monotonic)
    drawn: Any = None
    task: Any = None

    def told(self, done: int, total: int) -> None:
        if self.drawn is None:
            if time.monotonic() - self.began < BAR_AFTER or done >= total:
                return
            from rich import progress  # noqa: PLC0415 - only where a bar is seen
            from rich.console import Console  # noqa: PLC0415 - likewise

            self.drawn = self.opened.enter_context(progress.Progress(
                progress.TextColumn("{task.description}"), progress.BarColumn(),
                progress.MofNCompleteColumn(), progress.TimeRemainingColumn(),
                console=Console(stderr=True), transient=True,
            ))  # fmt: skip
            self.task = self.drawn.add_task(self.doing, total=total)
        self.drawn.update(self.task, completed=done, total=total)


def _fails(solution: Solution) -> bool:
    """Whether an error was found, what makes the numbers void, a limit without a value, or no
    limit at all: what nobody checked has not passed."""
    unknown = not ranked(solution) or any(word == "unknown" for _, word in ranked(solution))
    return bool(solution.void) or unknown or any(f.severity == "error" for f in solution.findings)


def exit_code(made: Sequence[object], strict: bool = False) -> int:
    """The code for a list of outcomes; which of several failed is said on stderr."""
    failed = [item for item in made if isinstance(item, Unsolved)]
    if failed:
        names = ", ".join(item.scenario for item in failed)
        faults.say(f"{len(failed)} of {len(made)} scenarios not solved: {names}")
        unsolved = any(item.kind == "no-solution" for item in failed)
        return faults.UNSOLVED if unsolved else faults.INPUT
    solved = [item for item in made if isinstance(item, Solution)]
    if strict and not all(map(ranked, solved)):
        faults.say("no limit is held against a result: with --strict what is not checked fails")
    if strict and any(map(_fails, solved)):
        return faults.STRICT
    return faults.DONE
