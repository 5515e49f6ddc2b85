"""What is worth a word about one solution: text and the numbers that fill it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from flownet.schema.quantities import Quantity

SEVERITIES = ("error", "warning", "note")  # worst first


class Finding(NamedTuple):
    """What is worth a word about one solution.

    `message` and `hint` are templates; `values` fills them, each number with its quantity.
    """

    severity: str  # error, warning, note
    rule: str
    subject: str
    template: str
    hint: str
    values: Mapping[str, tuple[Quantity | None, Any]]

    def __str__(self) -> str:
        return f"{self.severity} {self.rule}: {self.message()}"

    def __repr__(self) -> str:
        return f"<Finding {self}>"

    def message(self, units: str = "metric") -> str:
        """What is wrong and by how much, in the reader's units."""
        return filled(self.template, self.values, units)

    def advice(self, units: str = "metric") -> str:
        """What to try."""
        return filled(self.hint, self.values, units)

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {
            "severity": self.severity, "rule": self.rule, "subject": self.subject,
            "message": self.message(), "try": self.advice(),
        }  # fmt: skip


def filled(template: str, values: Mapping[str, tuple[Quantity | None, Any]], units: str) -> str:
    words = {
        name: str(value) if quantity is None else quantity.shown(units).text(value)
        for name, (quantity, value) in values.items()
    }
    return template.format(**words)
