"""What goes wrong, as types a caller can catch; each is Python's own kind of error as well."""

from __future__ import annotations

from collections.abc import Sequence


class FlownetError(Exception):
    """Anything flownet refuses to do."""


class CaseError(FlownetError, ValueError):
    """The input is wrong: *where: what and rule (got value); hint*.

    `faults` holds every fault found in one go, one line each; `str()` joins them.
    """

    def __init__(self, faults: str | Sequence[str]) -> None:
        self.faults: tuple[str, ...] = (faults,) if isinstance(faults, str) else tuple(faults)
        super().__init__("\n".join(self.faults))

    def __reduce__(self) -> tuple[type[CaseError], tuple[tuple[str, ...]]]:
        return type(self), (self.faults,)

    def at(self, where: str) -> CaseError:
        """The same faults with a place in front: `fan.left.speed: must be ...`."""
        return CaseError([f"{where}: {fault}" for fault in self.faults])


class NoSolution(FlownetError, ArithmeticError):  # noqa: N818 - the public name is fixed
    """The solver did not keep its promise; the message names the worst place."""


class CannotWrite(FlownetError, OSError):  # noqa: N818 - says what is the case
    """A file has no place or no room: *file: cannot be written: why; hint*. `errno` is kept."""


class WorkerLost(FlownetError, RuntimeError):  # noqa: N818 - says what is the case
    """A process that solved side by side with others was ended from outside, or out of memory."""
