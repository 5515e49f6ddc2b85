"""Files a user names: found, read as text, and never outside the folders they belong to."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path, PurePosixPath, PureWindowsPath

from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, brief, did_you_mean, nearest
from flownet.schema.text_file import reason

CASE_NAME = "case.toml"


def case_file(path: str | Path) -> Path:
    """The case file of a path: itself, or `case.toml` in a folder."""
    found = Path(path)
    try:
        if found.is_dir():
            if (found / CASE_NAME).is_file():
                return found / CASE_NAME
            raise CaseError(f"{_folder(found)}: holds no {CASE_NAME}{_others(found)}")
        if not found.exists():
            place = f"{found.name or found}"
            raise CaseError(Fault(place, "no such file", hint=_meant(found)))
        if not found.is_file():
            raise CaseError(f"{found.name}: is not a file")
    except (OSError, ValueError) as error:
        if isinstance(error, CaseError):
            raise
        raise CaseError(f"{found.name or found}: cannot be read: {reason(error)}") from None
    return found


def _others(folder: Path) -> str:
    names = sorted(item.name for item in folder.glob("*.toml"))
    if names:
        return f"; it holds {', '.join(names[:5])}: name the file"
    below = sorted(item.parent.name for item in folder.glob(f"*/{CASE_NAME}"))
    if below:
        return f"; below it are {', '.join(below[:5])}: name the folder"
    return "; name a case file, or `flownet new NAME` writes one to start from"


def _folder(path: Path) -> str:
    """The name of a folder; of the one that `.` and `..` stand for."""
    return path.name if path.name not in ("", "..") else path.resolve().name or str(path)


def _meant(path: Path) -> str:
    if not path.parent.is_dir():
        return "its folder does not exist either"
    return did_you_mean(nearest(path.name, [item.name for item in path.parent.glob("*.toml")]))


def inside(folder: Path, name: str) -> Path | None:
    """The file `name` in a folder, or None where there is none.

    CaseError, without a place, for a name that leads out of the folder, by its steps or by a link.
    """
    steps = PurePosixPath(name).parts
    windows, shown = PureWindowsPath(name), brief(name)
    if ".." in steps:
        raise CaseError(f"{shown} leads out of the folder; copy the file into it")
    odd = name.startswith("~") or not {"\\", "\0"}.isdisjoint(name) or not steps
    if windows.drive or windows.root or odd:
        raise CaseError(f'{shown} is not a name below the folder; write one such as "fans.toml"')
    path = folder / name
    try:
        if not path.is_file():
            return None
        if not path.resolve().is_relative_to(folder.resolve()):
            raise CaseError(f"{shown} is a link that leads out of its folder; copy the file there")
    except (OSError, RuntimeError) as error:
        raise CaseError(f"{shown} cannot be read: {reason(error)}") from None
    return path


def neighbours(folders: Iterable[Path], suffix: str) -> list[str]:
    """Names of files in these folders, for a hint."""
    found = []
    for folder in folders:
        if folder.is_dir():
            found += sorted(item.name for item in folder.glob(f"*{suffix}"))
    return found
