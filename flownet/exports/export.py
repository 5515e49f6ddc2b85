"""Results handed to other programs: tables, which are written as files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flownet.enclosure.enclosure import Enclosure
from flownet.exports import cfd, files, network, results
from flownet.pages.caption import Caption
from flownet.pages.page import Unsolved, counted
from flownet.pages.result import Result
from flownet.pages.sheet import Sheet, Tabled
from flownet.results.solution import Solution, extra
from flownet.schema import argument_checks, atomic
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault
from flownet.studies.compare import Comparison

if TYPE_CHECKING:
    import networkx

SUBJECTS = ("cfd", "network", "results")
GRAPHS = (".graphml", ".dot")


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
        known = {each.name: each for each in self.sheet.of("rows")}
        if table and table not in known:
            raise CaseError(f'to_frame: no table "{table}"; there are {", ".join(known)}')
        every = files.columns(known[table or next(iter(known))])
        return extra("pandas").DataFrame({each.heading: each.values for each in every})

    @property
    def graph(self) -> networkx.MultiDiGraph:
        """Of a network: places as nodes, what joins them as edges, results as attributes."""
        if self.subject != "network":
            raise CaseError(Fault("graph", "only of a network", self.subject))
        return network.graph_of(self.sheet)

    def contents(self, path: Path, units: str = "metric") -> dict[Path, bytes]:
        """Every file by its path, as `save` writes it."""
        known, suffix = suffixes(self.subject), path.suffix.lower()
        if suffix not in known:
            raise CaseError(Fault("save", f"takes {', '.join(known)}", str(path)))
        if suffix in GRAPHS:
            dot = suffix == ".dot"
            made = network.dot(self.graph, units) if dot else network.graphml(self.graph)
            return {path: made.encode()}
        return files.contents(self.sheet, path, units)

    def save(
        self, path: str | Path, *, units: str = "metric", overwrite: bool = False
    ) -> tuple[Path, ...]:
        """Write it by the suffix of `path`, and say which files that made.

        Parameters
        ----------
        path : str or Path
            `.json`, `.xlsx`; `.csv` or `.parquet`: a folder of that name (without the suffix) with
            a file for each table; of a network `.graphml` or `.dot` too.
        units : "metric" or "us"
            Of CSV, workbooks and labels; all else has the units of JSON.
        overwrite : bool
            Whether files of these names may be replaced.

        Raises
        ------
        CaseError, FileExistsError, CannotWrite
            A suffix that is not known; a file that is there; what the system does not take.
        ImportError
            `.parquet` without pyarrow, `.xlsx` without openpyxl: both in the extra `frames`.
        """
        argument_checks.check_file("save", path)
        made = self.contents(Path(path), units)
        there = [name for name in made if name.exists()]
        if there and not overwrite:
            raise FileExistsError(f"{there[0]}: exists already; pass overwrite=True to replace it")
        for name, content in made.items():
            if name != Path(path):
                name.parent.mkdir(exist_ok=True)
            atomic.write(name, content)
        return tuple(made)


def suffixes(subject: str) -> tuple[str, ...]:
    """What files of a subject may be called."""
    return (*filter(None, files.LIBRARIES), *(GRAPHS if subject == "network" else ()))


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
    if subject not in SUBJECTS:
        raise CaseError(Fault("subject", f"is one of {', '.join(SUBJECTS)}", f'"{subject}"'))
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
