"""One call, in an empty folder: what it printed, wrote and answered, without what is by chance."""

from __future__ import annotations

import hashlib
import html
import io
import os
import re
import shutil
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path
from typing import Any

from click.testing import CliRunner

import flownet
from tests.guard import face

REPO = Path(flownet.__file__).parents[1]
ENVIRONMENT = {
    "OMP_NUM_THREADS": "1", "PYTHONHASHSEED": "0", "COLUMNS": "80", "LINES": "40", "TZ": "UTC",
    "LC_ALL": "C.UTF-8", "MPLBACKEND": "Agg", "NO_COLOR": "1", "TERM": "dumb",
}  # fmt: skip


def prepared() -> None:
    """Environment of every process of the guard; its noise is not part of an answer."""
    os.environ.update(ENVIRONMENT)
    warnings.simplefilter("ignore")


def entry(call: dict[str, Any]) -> dict[str, Any]:
    """The call with what came of it, and the CPU seconds that it took."""
    start = time.process_time()
    with tempfile.TemporaryDirectory(prefix="guard-") as name:
        folder, here = Path(name).resolve() / "here", Path.cwd()
        folder.mkdir()
        for file, text in call.get("files", {}).items():
            (folder / file).parent.mkdir(parents=True, exist_ok=True)
            (folder / file).write_text(text, encoding="utf-8", newline="")
        for demo in call.get("demos", ()):
            shutil.copytree(REPO / "cases" / demo, folder / demo)
        before = _stamps(folder)
        os.chdir(folder)
        try:
            result = _face(call) if call["argv"][:1] == ["@"] else _command(call)
        finally:
            os.chdir(here)
        result["files"] = {
            str(path.relative_to(folder)): plain(_content(path, call), folder)
            for path, stamp in _stamps(folder).items() if before.get(path) != stamp
        }  # fmt: skip
        for stream in ("stdout", "stderr"):
            result[stream] = plain(result[stream], folder)
    return {"call": call, "result": result, "seconds": round(time.process_time() - start, 3)}


def _stamps(folder: Path) -> dict[Path, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def _command(call: dict[str, Any]) -> dict[str, Any]:
    from flownet.cli.group import commands  # noqa: PLC0415 - where it is, whatever becomes of it

    found = CliRunner().invoke(commands, call["argv"], env=ENVIRONMENT)
    stdout = found.stdout_bytes.decode("utf-8", "replace")
    return {"exit": found.exit_code, "stdout": stdout, "stderr": found.stderr}


def _face(call: dict[str, Any]) -> dict[str, Any]:
    """A function of `face`; its error, if any, with its type."""
    _, name, *words = call["argv"]
    try:
        made = getattr(face, name)(*words)
    except flownet.FlownetError as error:
        return {"exit": 1, "stdout": "", "stderr": f"{type(error).__name__}: {error}\n"}
    except Exception:
        return {"exit": 70, "stdout": "", "stderr": traceback.format_exc(limit=-1)}
    return {"exit": 0, "stdout": made, "stderr": ""}


def plain(text: str, folder: Path) -> str:
    """Without paths of this machine and the version."""
    text = text.replace(str(folder), "HERE").replace(str(REPO), "REPO")
    return re.sub(rf"\b{re.escape(flownet.__version__)}\b", "VERSION", text)


def _content(path: Path, call: dict[str, Any]) -> str:
    """A file as text; a picture as its kind and its words."""
    if call["group"] == "draw" or path.suffix in (".svg", ".pdf", ".png"):
        return _picture(path.read_bytes())
    if path.suffix == ".parquet":
        import pandas as pd  # noqa: PLC0415 - for this alone

        return _frame(pd.read_parquet(path))
    if path.suffix == ".nc":
        import xarray as xr  # noqa: PLC0415 - for this alone

        with xr.open_dataset(path) as data:
            return "\n".join([*map(repr, data.attrs.items()), _frame(data.to_dataframe())])
    return path.read_bytes().decode("utf-8", "replace")


def _frame(frame: Any) -> str:
    stream = io.StringIO()
    frame.to_csv(stream)
    return f"{frame.dtypes.to_string()}\n{stream.getvalue()}"


def _picture(data: bytes) -> str:
    """Kind, size to a power of two, and of an SVG its words in order of the alphabet.

    Words are drawn as outlines; each stands before them as a remark, and in a title.
    """
    kinds = {b"%PDF": "PDF", b"\x89PNG": "PNG", b"<?xm": "SVG", b"<svg": "SVG"}
    kind = kinds.get(data[:4], "unknown")
    words: list[str] = []
    if kind == "SVG":
        text = data.decode("utf-8")
        found = re.findall(r"<!--(.*?)-->|<(?:title|desc|text)\b[^>]*>([^<]*)<", text, re.DOTALL)
        words = [html.unescape(a or b) for a, b in found]
    each = sorted(word for line in words for word in line.split())
    return "\n".join([f"kind {kind}", f"size {len(data)}", *each])


if __name__ == "__main__":
    sys.exit("python -m tests.guard")
