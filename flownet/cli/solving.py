"""Several scenarios one after the other; what is not solved keeps its place."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

import flownet
from flownet.cli import faults
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError, NoSolution
from flownet.report.text import Unsolved
from flownet.solution import Solution

if TYPE_CHECKING:
    from flownet.operating_points import OperatingPoint

Found = TypeVar("Found")


def outcomes(
    case: Enclosure, names: Sequence[str], variant: str, changes: dict[str, Any]
) -> Iterator[Solution | Unsolved]:
    """Solutions in order; of several, one that fails keeps its place. One alone raises."""
    return _each(case, names, variant, lambda name: flownet.solve(
        case, scenario=name, variant=variant, changes=changes or None))  # fmt: skip


def every_point(
    case: Enclosure, names: Sequence[str], variant: str, changes: dict[str, Any]
) -> Iterator[tuple[OperatingPoint, ...] | Unsolved]:
    """The same with all operating points of each scenario."""
    return _each(case, names, variant, lambda name: flownet.operating_points(
        case, scenario=name, variant=variant, changes=changes or None))  # fmt: skip


def _each(
    case: Enclosure, names: Sequence[str], variant: str, solve: Callable[[str], Found]
) -> Iterator[Found | Unsolved]:
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


@contextmanager
def workers(jobs: int) -> Iterator[Executor | None]:
    """Processes that solve side by side; None for one, which needs no other."""
    if jobs == 1:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - only with --jobs

    with ProcessPoolExecutor(jobs) as executor:
        yield executor


def exit_code(made: Sequence[Solution | Unsolved], strict: bool = False) -> int:
    """The code for a list of outcomes; which of several failed is said on stderr."""
    failed = [item for item in made if isinstance(item, Unsolved)]
    if failed:
        names = ", ".join(item.scenario for item in failed)
        click.echo(f"{len(failed)} of {len(made)} scenarios not solved: {names}", err=True)
        unsolved = any(item.kind == "no-solution" for item in failed)
        return faults.UNSOLVED if unsolved else faults.INPUT
    solved = [item for item in made if isinstance(item, Solution)]
    if strict and any(found.severity == "error" for item in solved for found in item.findings):
        return faults.STRICT
    return faults.DONE
