"""Text files that a user names, read with every doubt about their bytes said in words."""

from __future__ import annotations

import codecs
from pathlib import Path

from flownet.schema.errors import CaseError

LARGEST_FILE = 4_000_000  # bytes: thousands of tables


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
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CaseError(f"{label}: {_encoding(content, error)}") from None
    if not text.strip():
        raise CaseError(f"{label}: is empty{hint}")
    return text


def _encoding(content: bytes, error: UnicodeDecodeError) -> str:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "is saved as UTF-16; save it as UTF-8"
    line = content.count(b"\n", 0, error.start) + 1
    return f"line {line}: byte 0x{content[error.start]:02x} is not UTF-8; save the file as UTF-8"


def reason(error: Exception) -> str:
    """Why the system does not give a file, in words."""
    return (getattr(error, "strerror", None) or str(error)).lower()
