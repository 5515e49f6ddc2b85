"""Stability of large networks: what is looked for around a ladder of rates is what is there."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp

from flownet.columns import Inputs
from flownet.solver import stability as modes
from flownet.solver import tolerances
from flownet.solver.jacobian import System
from flownet.solving.attempt import attempted, judged
from tests.benchmarks.grids import neighbours
from tests.random_enclosures import enclosure
from tests.test_random import assert_conserved

RANDOM = (67, 165)


def states_of(case, monkeypatch):
    """Every state whose stability is asked for while a case is solved, and the answer."""
    asked = []

    def noted(model, pattern, state):
        found = stability(model, pattern, state)
        asked.append((model, pattern, state, tuple(part.copy() for part in found)))
        return found

    stability = modes.stability
    with monkeypatch.context() as patched:
        patched.setattr(modes, "stability", noted)
        tried = attempted(Inputs.of(case))
    assert tried.found.status == ("",)
    found = judged(tried.inputs, tried.model, tried.found).select(0)
    if case.title.startswith("random"):
        assert_conserved(case, found)
    return asked


@pytest.mark.parametrize("case", [*map(enclosure, RANDOM), *(neighbours(250, s) for s in range(2))],
                         ids=lambda case: f"{case.title}-{len(case.compartments)}")  # fmt: skip
def test_the_ladder_finds_what_all_eigenvalues_tell(case, monkeypatch):
    """numpy.linalg.eigvals of the whole Jacobian of heat is the general-purpose check."""
    for model, pattern, state, (calm, _, _) in states_of(case, monkeypatch):
        thermal = System(model, pattern, state).thermal()
        with monkeypatch.context() as patched:
            patched.setattr(tolerances, "DENSE_MODES", 0)
            found, mode, pace = modes.stability(model, pattern, state)
        assert found.tolist() == calm.tolist()
        for v in np.flatnonzero(np.isfinite(pace)):
            values = np.linalg.eigvals(thermal[v])
            own = thermal[v] @ mode[:, v]
            rate = values[np.argmin(abs(values - 1 / pace[v]))].real  # of a real growing mode
            assert rate > 0
            assert np.max(abs(own - rate * mode[:, v])) < 0.05 * rate


@pytest.mark.parametrize("rate", [1e-3, 1e-2, 1.0, 30.0])
def test_one_growing_mode_of_any_rate_is_found(rate):
    """Closed form: a symmetric matrix of known eigenvalues, one of them moved to `rate`."""
    size, k = 60, 17
    basis = np.linalg.qr(np.random.default_rng(4).normal(size=(size, size)))[0]
    values = -np.geomspace(1e-4, 50.0, size)
    following = -sp.identity(size)
    for moved in (False, True):
        values[k] = rate if moved else values[k]
        full = sp.block_diag([following, (basis * values) @ basis.T], format="csc")
        value, mode = modes.growing(full, slice(size, 2 * size))
        assert (value.real > 0) == moved
    assert value.real == pytest.approx(rate, rel=0.05)
    assert abs(mode @ basis[:, k]) == pytest.approx(np.linalg.norm(mode), rel=0.01)
