"""A page of the web printed to PDF by a browser that is on the machine."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from flownet.schema.errors import CannotWrite

BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
PRINT_WITHIN = 120.0  # s
QUIETLY = ("--headless", "--disable-gpu", "--no-sandbox", "--no-pdf-header-footer")


def browser() -> str | None:
    """The Chromium that is found first on the path; None where there is none."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def printed_page(text: str) -> bytes:
    """The PDF of an HTML page; CannotWrite where no browser is there, or it does not print.

    The browser is given a file and no address, a folder of its own, and is ended after two minutes.
    """
    program = browser()
    if program is None:
        raise CannotWrite(
            "--pdf: needs Chromium, which is not found (looked for " + ", ".join(BROWSERS)
            + "); open the page in any browser and print it to PDF there"
        )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        page, paper = Path(folder, "page.html"), Path(folder, "page.pdf")
        page.write_text(text, encoding="utf-8")
        words = [program, *QUIETLY, f"--user-data-dir={folder}/profile",
                 f"--print-to-pdf={paper}", page.as_uri()]  # fmt: skip
        try:
            done = subprocess.run(words, capture_output=True, timeout=PRINT_WITHIN, check=False)
        except subprocess.TimeoutExpired:
            raise CannotWrite(f"--pdf: {program} did not end within {PRINT_WITHIN:.0f} s") from None
        if done.returncode or not paper.exists():
            told = done.stderr.decode(errors="replace").strip().splitlines()[-1:] or ["no reason"]
            raise CannotWrite(f"--pdf: {program} printed nothing: {told[0]:.200}")
        return paper.read_bytes()
