"""Pictures to files: only files that carry our mark are replaced."""

from __future__ import annotations

import io
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from flownet import __version__
from flownet.schema import atomic

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARK_WITHIN = 65536  # bytes in which a mark must stand
FORMATS = ("svg", "png", "pdf")
INPUT_SUFFIXES = (".toml", ".csv")  # cases, catalogues and curves: nobody else keeps them
PIXELS = 200  # to the inch, of PNG files
MOST_PIXELS = 65000  # on a side: the canvas takes no more than 2**16, larger pictures are coarser
MARK = f"flownet {__version__}"
_SVG = re.compile(rb"<dc:creator>\s*<cc:Agent>\s*<dc:title>flownet ")
_PDF = re.compile(rb"/Creator \(flownet ")


def save(figure_or_axes: Figure | Axes, path: str | os.PathLike[str], force: bool = False) -> Path:
    """Write a picture; the suffix of the path says the format: .svg, .png or .pdf.

    Parameters
    ----------
    figure_or_axes : Figure or Axes
        What a drawing function gave.
    path : path
        Where to.
    force : bool
        Replace a file that flownet did not write.

    Raises
    ------
    ValueError
        For another suffix.
    FileExistsError
        Where a file stands that does not carry our mark; forced or not, where the path is a link
        to a .toml or .csv file.
    CannotWrite
        Where the system does not take the file.
    """
    form, target = picture_format(path), Path(os.path.realpath(path))
    if not force and Path(path).exists() and not ours(path):
        raise FileExistsError(
            f"{path}: this file was not written by flownet and stays as it is; "
            "give another name, or --force (in Python force=True) to replace it"
        )
    if target.suffix.lower() in INPUT_SUFFIXES:
        raise FileExistsError(
            f"{path}: leads to {target}, named like an input, which no picture replaces; "
            "give another name"
        )
    figure: Any = getattr(figure_or_axes, "figure", figure_or_axes) or figure_or_axes
    atomic.write(path, encoded(figure, form))
    return Path(path)


def picture_format(path: str | os.PathLike[str]) -> str:
    """svg, png or pdf, by the suffix; ValueError for another one."""
    form = Path(path).suffix.lower().removeprefix(".")
    if form not in FORMATS:
        known = ", ".join(f".{name}" for name in FORMATS)
        raise ValueError(f"{path}: pictures are written as {known}; end the name in one of these")
    return form


def ours(path: str | os.PathLike[str]) -> bool:
    """Whether a picture carries the mark that flownet puts into its files."""
    found = Path(path)
    if not found.is_file():
        return False
    with open(found, "rb") as stream:
        head = stream.read(MARK_WITHIN)
        if head.startswith(b"\x89PNG"):
            return b"tEXtSoftware\0flownet " in head.partition(b"IDAT")[0]
        if head.startswith(b"%PDF"):
            return _PDF.search(head + stream.read()) is not None
    return _SVG.search(head) is not None


# --- bytes ---------------------------------------------------------------------------------------


def into_files() -> None:
    """Figures that are made from here on open no window, however many there are."""
    os.environ.pop("MPLBACKEND", None)  # names a window, perhaps one that is not there
    import matplotlib  # noqa: PLC0415 - only where pictures are drawn

    matplotlib.use("agg")
    matplotlib.rcParams["figure.max_open_warning"] = 0


def close(figure: Figure) -> None:
    from matplotlib import pyplot  # noqa: PLC0415 - only where pictures are drawn

    pyplot.close(figure)


def encoded(figure: Figure, form: str) -> bytes:
    """The figure as svg, png or pdf: the same bytes for the same figure, with our mark.

    Words of an SVG are text; its title and description are the label of the figure, line by line.
    """
    import matplotlib  # noqa: PLC0415 - only where pictures are drawn

    title, _, told = str(figure.get_label()).partition("\n")
    metadata: dict[str, dict[str, Any]] = {
        "svg": {"Creator": MARK, "Date": None, **({"Title": title} if title else {})},
        "png": {"Software": MARK},
        "pdf": {"Creator": MARK, "CreationDate": None},
    }
    settings: Any = {"svg.hashsalt": "flownet", "svg.fonttype": "none", "pdf.fonttype": 42,
                     "savefig.bbox": None, "hatch.linewidth": 0.6}  # fmt: skip
    stream = io.BytesIO()
    fine = min(PIXELS, MOST_PIXELS / max(figure.get_size_inches()))
    with matplotlib.rc_context(settings):
        figure.savefig(stream, format=form, dpi=fine, metadata=metadata[form], facecolor="white")
    if form != "svg":
        return stream.getvalue()
    font = "'DejaVu Sans'"  # and what is about as wide, where a reader lacks it
    words = stream.getvalue().decode().replace(font, f"{font}, Verdana, sans-serif")
    words = words.replace("<svg ", '<svg xml:space="preserve" ', 1)  # keeps several spaces
    desc = f"</title>\n <desc>{escape(told)}</desc>" if told else "</title>"
    return words.replace("</title>", desc, 1).encode()
