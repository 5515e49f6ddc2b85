"""Results as strict JSON: never NaN, units in the keys."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from flownet import __version__
from flownet.pages.page import Unsolved

MARK = '"flownet": "'  # every file of ours holds it


def text(content: Mapping[str, Any]) -> str:
    """JSON of a mapping, plain ASCII so that it survives every terminal and encoding."""
    return json.dumps(_strict(content), indent=2, allow_nan=False) + "\n"


def _strict(value: Any) -> Any:
    """What is not a finite number does not exist: null."""
    if isinstance(value, Mapping):
        return {key: _strict(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_strict(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def document(
    command: str, outcomes: Sequence[Any], *, several: bool | None = None
) -> dict[str, Any]:
    """One result as it is; several under `solutions`, an unsolved one with an `error`."""
    if not (len(outcomes) > 1 if several is None else several):
        return _outcome(outcomes[0])
    return {"flownet": __version__, "format": 1, "command": command,
            "solutions": [_outcome(item) for item in outcomes]}  # fmt: skip


def _outcome(item: Any) -> dict[str, Any]:
    if not isinstance(item, Unsolved):
        return dict(item.to_dict())
    return {
        "case": item.title,
        "variant": None if item.variant == "base" else item.variant,
        "scenario": None if item.scenario == "base" else item.scenario,
        "error": {"kind": item.kind, "message": "\n".join(item.faults)},
    }
