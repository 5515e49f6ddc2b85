"""Results as strict JSON: never NaN, units in the keys."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

JSON_MARK = '"flownet": "'  # every file of ours holds it


def text(content: Mapping[str, Any]) -> str:
    """JSON of a mapping, plain ASCII so that it survives every terminal and encoding."""
    return json.dumps(strict(content), indent=2, allow_nan=False) + "\n"


def strict(value: Any) -> Any:
    """What is not a finite number does not exist: null."""
    if isinstance(value, Mapping):
        return {key: strict(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [strict(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
