"""What the shared options of a command ask for, as one thing; what is read from it is read once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, fields
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from flownet.cli import options
from flownet.cli.screen import Screen
from flownet.cli.settings import KeyValue

if TYPE_CHECKING:
    from flownet.cli.answer import Files
    from flownet.cli.solving import Work
    from flownet.enclosure.enclosure import Enclosure
    from flownet.pages.page import Page
    from flownet.pages.sheet import Sheet


@dataclass(frozen=True, kw_only=True)
class Request:
    """Options by their keyword; those that a command does not have keep their default."""

    case: str | None = None
    scenarios: tuple[str, ...] = ()
    scenario: str | None = "base"
    variants: tuple[str, ...] = ()
    variant: str | None = None
    settings: tuple[KeyValue, ...] = ()
    catalogue: tuple[Path, ...] = ()
    out: Path | None = None
    json_file: Path | None = None
    force: bool = False
    units: str | None = None
    everything: bool = False
    strict: bool = False
    jobs: int = 1
    quiet: bool = False
    color: str = "auto"

    @cached_property
    def screen(self) -> Screen:
        return Screen.of(self.color, self.quiet)

    @property
    def files(self) -> Files:
        from flownet.cli.answer import Files  # noqa: PLC0415 - not every command answers in files

        return Files(self.out, self.json_file, self.force)

    @cached_property
    def enclosure(self) -> Enclosure:
        """The case as it was read; CaseError with every fault."""
        from flownet.cli import reading  # noqa: PLC0415 - not every command has a case

        assert self.case is not None  # else the command looks before it asks
        return reading.load(self.case, self.catalogue)

    @cached_property
    def changes(self) -> dict[str, Any]:
        """Values of `--set`."""
        from flownet.cli import reading  # noqa: PLC0415 - as above

        return reading.changes(self.enclosure, self.settings)

    @cached_property
    def names(self) -> list[str]:
        """The scenarios one by one, each-fan-out worked out."""
        from flownet.cli import reading  # noqa: PLC0415 - as above

        return reading.scenarios(self.enclosure, self.scenarios, self.variant)

    @property
    def told(self) -> list[str]:
        """The changes as they were written."""
        return [setting.text for setting in self.settings]

    @property
    def design(self) -> str:
        return self.variant or "base"

    @property
    def name(self) -> str:
        """What files of this case are called after: the file, or the folder of a `case.toml`."""
        from flownet.cli.demos import CASE_FILE  # noqa: PLC0415 - not every command has a case

        assert self.case is not None  # as above
        path = Path(self.case).resolve()
        path = path.parent if path.name == CASE_FILE else path
        return path.stem if path.suffix == ".toml" else path.name

    def made(self, scenario: str | None = None) -> Enclosure:
        """The case in a scenario and the variant, with `--set` on top."""
        changes = self.changes
        case = self.enclosure.under(scenario or self.scenario or "base", self.design)
        return case.with_changes(changes) if changes else case

    def page(self, units: str | None = None) -> Page:
        """How the answer is printed; `units` where the command line names none."""
        return self.screen.page(
            self.units or units or self.enclosure.units, everything=self.everything
        )

    def working(self, doing: str) -> AbstractContextManager[Work]:
        """Processes and a bar for a study; `doing` names what is counted."""
        from flownet.cli import solving  # noqa: PLC0415 - loads the solver

        return solving.working(doing, self.jobs, self.screen)

    def deliver(self, sheet: Sheet, more: Callable[[], Mapping[str, Any]] = dict) -> None:
        """Print a sheet about the case, and write the files that are asked for; `more` is what
        JSON has beside it."""
        from flownet.cli.answer import deliver  # noqa: PLC0415 - as above

        deliver(sheet, self.files, self.page(), self.screen, told=self.told, more=more)


SHARED = tuple(each.name for each in fields(Request))
Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


def command_of(
    name: str, sentence: str, *examples: str, takes: Sequence[Decorator]
) -> Callable[[Callable[..., int | None]], click.Command]:
    """A command that is given its Request, and its own options by keyword.

    `sentence` and `examples`, which run as they stand, are its help; `takes` its arguments and
    options in the order in which --help shows them.
    """

    def made(function: Callable[..., int | None]) -> click.Command:
        def run(**given: Any) -> int | None:
            shared = {key: given.pop(key) for key in SHARED if key in given}
            return function(Request(**shared), **given)

        for decorator in reversed((*takes, *options.SCREEN)):
            run = decorator(run)
        lines = "\n".join(f"  {example}" for example in examples)
        text = f"{sentence}\n\n\b\nExample{'s' * (len(examples) > 1)}:\n{lines}"
        return click.command(name, help=text)(run)

    return made
