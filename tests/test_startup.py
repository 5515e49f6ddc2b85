"""What nobody asked for must not cost its start-up time: each piece of code in a new process."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CASE = str(ROOT / "tests" / "casefile" / "most_kinds.toml")
NEVER = {  # code, and what it must not load
    "import flownet": "numpy click",
    "import flownet.schema.units as units; units.si('40 degC')": "numpy scipy pint",
    "import numpy, flownet.physics.air, flownet.physics": "fluids ht scipy matplotlib networkx",
    "from flownet.casefile import load_case, save_case, resolved; "
    f"assert len(list(resolved(load_case({CASE!r}), 'hot+dirty', 'no-shelf'))) > 100":
        "scipy matplotlib networkx fluids ht pandas click rich jinja2",
    "import flownet, flownet.draw, flownet.cli.draw, flownet.pictures.save": "matplotlib",
    "import flownet; flownet.solve(flownet.load_case('cases/bench-supply'))":
        "flownet.solving.operating_points flownet.solver.multiple matplotlib pandas",
}  # fmt: skip


@pytest.mark.parametrize("code", NEVER, ids=lambda code: code[:60])
def test_what_is_not_needed_is_not_loaded(code):
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; {code}; print(*sys.modules)"], cwd=ROOT,
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    loaded = done.stdout.split()
    assert "flownet" in loaded
    assert not [n for no in NEVER[code].split() for n in loaded if f"{n}.".startswith(f"{no}.")]
