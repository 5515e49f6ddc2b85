"""Results handed to other programs: tables, which are written as files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flownet.enclosure.enclosure import Enclosure
from flownet.exports import cfd, files, network, results
from flownet.pages import render
from flownet.pages.caption import Caption
from flownet.pages.page import Unsolved, counted
from flownet.pages.result import Result
from flownet.pages.sheet import Sheet, Tabled
from flownet.results.solution import Solution
from flownet.results.tables import extra
from flownet.schema import argument_checks, atomic
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault
from flownet.studies.compare import Comparison
from flownet.studies.sweep_files import needed

if TYPE_CHECKING:
    import networkx

FORMS = {"cfd": ".csv", "network": ".graphml", "results": ".csv"}  # subject -> its usual suffix
LIBRARIES = {".csv": "", ".parquet": "pyarrow", ".xlsx": "openpyxl", ".json": ""}
GRAPHS = {".graphml": "", ".dot": ""}


@dataclass(frozen=True, repr=False, eq=False)
class Export(Result):
    """Tables for other programs."""

    subject: str  # cfd, network or results
    caption: Caption
    tables: tuple[Tabled, ...]

    def __repr__(self) -> str:
        return f"<Export {self.verdict}>"

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What it holds."""
        told = ", ".join(f"{t.name} {counted(len(t), 'row')}" for t in self.sheet.of("rows") if t)
        return (f"{self.subject}: {told}",)

    @property
    def sheet(self) -> Sheet:
        """All its tables."""
        facts = {"subject": self.subject}
        return Sheet("export", self.caption, self.verdicts, self.tables, facts=facts)

    def to_frame(self, table: str = "") -> Any:
        """A table, the first unless named, as a pandas DataFrame; CaseError where there is none."""
        made = {each.name: each for each in self.sheet.of("rows")}
        if table and table not in made:
            raise CaseError(f'to_frame: no table "{table}"; there are {", ".join(made)}')
        wanted = made[table or next(iter(made))]
        heads = [field.key for field in files.fields(wanted)]
        return extra("pandas").DataFrame(render.flat_records(wanted), columns=heads)

    @property
    def graph(self) -> networkx.MultiDiGraph:
        """Of a network: places as nodes, what joins them as edges, results as attributes."""
        if self.subject != "network":
            raise CaseError(Fault("graph", "only of a network", self.subject))
        return network.graph_of(self.sheet.of("json"), self.caption)

    def contents(self, path: Path, units: str = "metric") -> dict[Path, bytes]:
        """Every file by its path, as `save` writes it; tables without a row are left out."""
        suffix, folder = path.suffix.lower(), folder_of(path)
        filled = [table for table in self.sheet.of("rows", units=units) if len(table)]
        if folder is not None:
            made = files.csv if suffix == ".csv" else files.frame
            return {folder / f"{table.name}{suffix}": made(table) for table in filled}
        if suffix in GRAPHS:
            dot = suffix == ".dot"
            text = network.dot(self.graph, units) if dot else network.graphml(self.graph)
            return {path: text.encode()}
        book = suffix == ".xlsx"
        return {path: files.book(filled, units) if book else render.json(self.sheet, {}).encode()}

    def save(
        self, path: str | Path, *, units: str = "metric", force: bool = False
    ) -> tuple[Path, ...]:
        """Write it by the suffix of `path`, and say which files that made.

        Parameters
        ----------
        path : str or Path
            `.json`, `.xlsx`; `.csv` or `.parquet`: a folder of that name (without the suffix) with
            a file for each table; of a network `.graphml` or `.dot` too.
        units : "metric" or "us"
            Of workbooks, labels and sentences; all else has the units of JSON.
        force : bool
            Replace files that flownet did not write, but for `.csv`.

        Raises
        ------
        CaseError, CannotWrite
            A suffix that is not known; a file that is not ours; what the system does not take.
        ImportError
            `.parquet` without pyarrow, `.xlsx` without openpyxl: both in the extra `frames`.
        """
        argument_checks.check_file("save", path)
        check(self.subject, Path(path))
        made, folder = self.contents(Path(path), units), folder_of(Path(path))
        for name in made:
            files.check(name, force)
        if folder is not None:
            with atomic.refusing(folder):
                folder.mkdir(exist_ok=True)
        for name, content in made.items():
            atomic.write(name, content)
        return tuple(made)


def folder_of(path: Path) -> Path | None:
    """The folder of tables that a path stands for; None where it is one file."""
    return path.with_suffix("") if path.suffix.lower() in (".csv", ".parquet") else None


def check(subject: str, path: Path) -> None:
    """What is wrong with a path before any work: CaseError for a suffix that a subject is not
    written with, ImportError where a library is missing that it takes."""
    libraries = LIBRARIES | (GRAPHS if subject == "network" else {})
    if path.suffix.lower() not in libraries:
        raise CaseError(f"{subject} is written as {', '.join(libraries)} (got {path})")
    needed(path, libraries)


def export(
    found: Any, subject: str = "results", *, comparison: Comparison | None = None
) -> Export:  # fmt: skip
    """What other programs need, as tables.

    Parameters
    ----------
    found : Solution, or a sequence of them
        One or several scenarios; of a network one, or an Enclosure, which has no results.
    subject : "cfd", "network" or "results"
        Boundary conditions, fan curves, porous coefficients and heat for a flow simulation; places
        and what joins them; or everything that was found.
    comparison : Comparison, optional
        Of results: what `compare` found, for its matrix.

    Raises
    ------
    CaseError, TypeError
        For a subject that there is not, or a network of several; for what is no solution.
    """
    if subject not in FORMS:
        raise CaseError(Fault("subject", f"is one of {', '.join(FORMS)}", f'"{subject}"'))
    every = list(found) if isinstance(found, (list, tuple)) else [found]
    solved = [each for each in every if not isinstance(each, Unsolved)]
    if subject == "network" and len(solved) > 1:
        raise CaseError(Fault("export", "a network is that of one solution", str(len(solved))))
    for each in solved or [None]:
        if subject != "network" or not isinstance(each, Enclosure):
            argument_checks.check("export", each, Solution)
    first: Any = solved[0]
    if subject == "network":
        return Export(subject, Caption.of(first), tuple(network.tables(first)))
    own = cfd.tables(solved) if subject == "cfd" else results.tables(solved, comparison)
    return Export(subject, Caption.of(first), (partial(results.scenarios_table, every), *own))
