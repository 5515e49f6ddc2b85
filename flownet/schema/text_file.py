"""Text files that a user names, read with every doubt about their bytes said in words."""

from __future__ import annotations

import codecs
import csv
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from flownet.schema.errors import CaseError

LARGEST_FILE = 4_000_000  # bytes: thousands of tables
SEPARATORS = {";": '";"', "\t": "tabs", "|": '"|"'}  # in place of commas, and their names


class CsvLine(NamedTuple):
    """One line of a file with commas, by its cells."""

    number: int
    cells: list[str]

    @property
    def remark(self) -> bool:
        """Whether it is for people, `# density: 1.2 kg/m3`: one cell."""
        return self.cells[0].startswith("#")


def read_text(path: Path, label: str, hint: str = "") -> str:
    """The text of a file, whatever its line ends; a byte order mark is passed over.

    CaseError, after `label`, for a file that cannot be read, is too large, is empty (with `hint`)
    or is not UTF-8.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            limit = f"at most {LARGEST_FILE // 1_000_000} MB are read"
            raise CaseError(f"{label}: is too large ({size / 1e6:.1f} MB); {limit}")
        content = path.read_bytes()
    except OSError as error:
        raise CaseError(f"{label}: cannot be read: {reason(error)}") from None
    return decoded(content, label, hint)


def decoded(content: bytes, label: str, hint: str = "") -> str:
    """The text of what was read; errors as of `read_text`."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CaseError(f"{label}: {_encoding(content, error)}") from None
    if not text.strip():
        raise CaseError(f"{label}: is empty{hint}")
    return text


def csv_lines(text: str) -> Iterator[CsvLine]:
    """Lines that hold something, without the empty cells that spreadsheets add at their ends.

    CaseError, after the line, for columns without commas and for a quote that does not end.
    """
    lines = text.splitlines(keepends=True)
    remarks = {i for i, line in enumerate(lines, 1) if line.lstrip(' "').startswith("#")}
    plain = ("\n" if i in remarks else line for i, line in enumerate(lines, 1))
    reader, number = csv.reader(plain, strict=True), 0
    try:
        for raw in reader:
            number, cells = reader.line_num, [cell.strip() for cell in raw]
            if number in remarks and not cells:
                cells = [lines[number - 1].strip(' \t",;\r\n')]
            while cells and not cells[-1].strip(";"):
                cells.pop()
            sign = next((s for s in SEPARATORS if s in cells[0]), "") if len(cells) == 1 else ""
            if sign and not cells[0].startswith("#"):
                what = f"line {number}: columns are separated by {SEPARATORS[sign]}"
                raise CaseError(f"{what}; export with commas between columns and points in numbers")
            if cells:
                yield CsvLine(number, cells)
    except csv.Error as error:
        open_end = reader.line_num > number + 1 or str(error) == "unexpected end of data"
        what = 'a quote (") opens here that does not end' if open_end else str(error)
        raise CaseError(f"line {number + 1}: {what}") from None


def _encoding(content: bytes, error: UnicodeDecodeError) -> str:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "is saved as UTF-16; save it as UTF-8"
    line = content.count(b"\n", 0, error.start) + 1
    return f"line {line}: byte 0x{content[error.start]:02x} is not UTF-8; save the file as UTF-8"


def reason(error: Exception) -> str:
    """Why the system does not give a file, in words."""
    return (getattr(error, "strerror", None) or str(error)).lower()


def written_value(text: str) -> Any:
    """A value as a case file has it; quotes around plain words may be left out."""
    try:
        return tomllib.loads(f"value = {text}")["value"] if "\n" not in text else text
    except tomllib.TOMLDecodeError:
        if text[0] in "[{\"'":
            raise CaseError(
                f"{text}: not a value as a case file has it; check its quotes"
            ) from None
        return text
    except (RecursionError, ValueError) as error:  # nested or numbers beyond all sense
        deep = isinstance(error, RecursionError)
        what = "lists or tables are nested too deep" if deep else "a number has too many digits"
        raise CaseError(f"{what} (got {text:.20}...)") from None
