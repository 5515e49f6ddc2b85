"""What has a sheet, and by it every form in which a result is shown."""

from __future__ import annotations

from typing import Any

from flownet.pages import render
from flownet.pages.sheet import Sheet


class Result:
    """A result of a study: it says itself what it shows, `sheet`; the forms follow from that."""

    @property
    def sheet(self) -> Sheet:
        """All that it says, in SI and without layout."""
        raise NotImplementedError

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What it says, in sentences, the most important first."""
        raise NotImplementedError

    @property
    def verdict(self) -> str:
        """The first of them."""
        return self.verdicts()[0]

    def to_dict(self) -> dict[str, Any]:
        """As in JSON: keys carry their unit, None where there is no value."""
        return render.content(self.sheet)

    def rows(self) -> list[dict[str, Any]]:
        """The rows of its table, what is nested in words."""
        return render.rows(self.sheet)

    def to_frame(self) -> Any:
        """The rows as a pandas DataFrame; ImportError without pandas, an extra."""
        return render.frame(self.sheet)

    def _repr_html_(self) -> str:
        """Verdict and tables, for notebooks."""
        return render.html(self.sheet)
