"""`python -m flownet.findings > docs/findings.md` writes the page of all rules."""

from __future__ import annotations

from flownet.findings import document

print(document(), end="")
