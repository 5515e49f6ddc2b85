"""What goes wrong, as types a caller can catch; each is Python's own kind of error as well."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from flownet.schema.fault import Fault


class FlownetError(Exception):
    """Anything flownet refuses to do."""


class CaseError(FlownetError, ValueError):
    """The input is wrong: *where: what and rule (got value); hint*.

    `faults` holds every fault found in one go, one line each; `str()` joins them.
    """

    def __init__(self, faults: str | Sequence[str]) -> None:
        lines = (faults,) if isinstance(faults, str) else faults
        self.faults = tuple(f if isinstance(f, Fault) else Fault("", f) for f in lines)
        super().__init__("\n".join(self.faults))

    def __reduce__(self) -> tuple[type[CaseError], tuple[tuple[Fault, ...]]]:
        return type(self), (self.faults,)

    def at(self, where: str, joint: str = ": ") -> CaseError:
        """The same faults with a place in front: `fan.left.speed: must be ...`."""
        return CaseError([fault.at(where, joint) for fault in self.faults])


class placed:  # noqa: N801 - stands in a `with`, as contextlib.suppress does
    """What a block refuses, or has no solution of, gets a place in front; with `faults` what it
    refuses is put there, not raised."""

    def __init__(
        self, where: str = "", joint: str = ": ", faults: list[Fault] | None = None
    ) -> None:
        self.where, self.joint, self.faults = where, joint, faults

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: Any, error: BaseException | None, trace: Any) -> bool | None:
        if isinstance(error, NoSolution) and self.where:
            raise NoSolution(f"{self.where}{self.joint}{error}") from None
        if not isinstance(error, CaseError):
            return False
        made = error.at(self.where, self.joint) if self.where else error
        if self.faults is None:
            raise made from None
        self.faults += made.faults
        return True


class NoSolution(FlownetError, ArithmeticError):  # noqa: N818 - the public name is fixed
    """The solver did not keep its promise; the message names the worst place."""


def unsolved(reasons: Iterable[str], where: str = "") -> CaseError | NoSolution:
    """What to raise where nothing of what was asked for has a solution, with up to three reasons:
    CaseError where all of it was refused before any solve, as a `Fault` says; else NoSolution."""
    each = list(dict.fromkeys(reasons))
    refused = [reason for reason in each if isinstance(reason, Fault)]
    if refused and len(refused) == len(each):
        return CaseError([fault.at(where) if where else fault for fault in refused[:3]])
    lead = f"{where}: " if where else ""
    return NoSolution("\n".join(lead + reason for reason in each[:3]))


class CannotWrite(FlownetError, OSError):  # noqa: N818 - says what is the case
    """A file has no place or no room: *file: cannot be written: why; hint*. `errno` is kept."""


class WorkerLost(FlownetError, RuntimeError):  # noqa: N818 - says what is the case
    """A process that solved side by side with others was ended from outside, or out of memory."""
