"""Case files: read with every fault said at once, shown with its origins, written back."""

from flownet.casefile.catalogue import load_fan_types
from flownet.casefile.read import load_case
from flownet.casefile.resolved import Resolved, resolved
from flownet.casefile.write import case_text, save_case, starter

__all__ = [
    "Resolved", "case_text", "load_case", "load_fan_types", "resolved", "save_case", "starter",
]  # fmt: skip
