"""A rule that holds for each of many, as one test: what breaks it is named, all of it at once."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import pytest

Check = Callable[..., None]
FIRST = [False]  # whether the first case that fails ends a test, where only that it fails counts


def each(cases: Mapping[str, Any], given: str = "") -> Callable[[Check], Callable[..., None]]:
    """A decorator: the check is run for every case (a tuple is its arguments), by name.

    The test fails once, with the name of every case that fails and why; nothing is no test.
    `given` names the arguments of a case, where others are fixtures, which all cases share.
    """

    def decorated(check: Check) -> Callable[..., None]:
        names = given.split()

        def test(**fixtures: Any) -> None:
            assert cases, "nothing is checked"
            failed = {}
            for name, case in cases.items():
                values = case if type(case) is tuple else (case,)
                by_name = dict(zip(names, values, strict=True)) if names else {}
                if error := tried(check, () if names else values, {**fixtures, **by_name}):
                    failed[name] = error
                    if FIRST[0]:
                        break
            told = "\n".join(f"  {name}: {error!s}" for name, error in failed.items())
            if failed:
                first = next(iter(failed.values()))
                raise AssertionError(f"{len(failed)} of {len(cases)} fail:\n{told}") from first

        test.__name__, test.__doc__ = check.__name__, check.__doc__
        wanted = [*inspect.signature(check).parameters] if names else []
        fixtures = [name for name in wanted if name not in names]
        kind = inspect.Parameter.KEYWORD_ONLY
        made = inspect.Signature([inspect.Parameter(name, kind) for name in fixtures])
        test.__signature__ = made  # type: ignore[attr-defined]
        return test

    return decorated


def tried(check: Check, values: tuple[Any, ...], by_name: Mapping[str, Any]) -> Any:
    """How a check of one case fails, if it does."""
    try:
        check(*values, **by_name)
    except (Exception, pytest.fail.Exception) as error:
        return error if str(error) else AssertionError(type(error).__name__)
    return None


def named(cases: Any) -> dict[str, Any]:
    """Each case by its own words."""
    return {str(case): case for case in cases}


def every(
    names: str | tuple[str, ...], cases: Iterable[Any]
) -> Callable[[Check], Callable[[], None]]:
    """As `pytest.mark.parametrize`, but one test: the check of all these cases."""
    one = isinstance(names, str)
    return each({f"{case!r:.80} (case {i})": (case,) if one else tuple(case)
                 for i, case in enumerate(cases)})  # fmt: skip
