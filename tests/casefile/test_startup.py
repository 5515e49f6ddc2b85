"""Reading a case must not cost the start-up time of libraries it does not need."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
HEAVY = ("scipy", "matplotlib", "networkx", "fluids", "ht", "pandas", "click", "rich", "jinja2")
READ = f"""
import sys
from flownet.casefile import load_case, save_case, resolved
case = load_case({str(Path(__file__).with_name("most_kinds.toml"))!r})
assert len(list(resolved(case, "hot+dirty", "no-shelf"))) > 100
print([name for name in {HEAVY!r} if name in sys.modules])
"""


def test_reading_a_case_loads_no_heavy_library():
    done = subprocess.run(
        [sys.executable, "-c", READ], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
