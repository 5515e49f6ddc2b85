"""What goes wrong, as types a caller can catch; each is Python's own kind of error as well."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

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


@contextmanager
def placed(where: str = "", joint: str = ": ", faults: list[Fault] | None = None) -> Iterator[None]:
    """What a block refuses gets a place in front; with `faults` it is put there, not raised."""
    try:
        yield
    except CaseError as error:
        made = error.at(where, joint) if where else error
        if faults is None:
            raise made from None
        faults += made.faults


class NoSolution(FlownetError, ArithmeticError):  # noqa: N818 - the public name is fixed
    """The solver did not keep its promise; the message names the worst place."""


class CannotWrite(FlownetError, OSError):  # noqa: N818 - says what is the case
    """A file has no place or no room: *file: cannot be written: why; hint*. `errno` is kept."""


class WorkerLost(FlownetError, RuntimeError):  # noqa: N818 - says what is the case
    """A process that solved side by side with others was ended from outside, or out of memory."""
