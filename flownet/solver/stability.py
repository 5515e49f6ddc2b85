"""Whether a steady state is stable, and if not, the mode in which a disturbance grows.

Flow follows at once: its own stability is told by the signs of pivots. What is left is heat with
the flow following; a mode grows where an eigenvalue of its Jacobian (W/K, equal heat capacities)
has a positive real part. Small networks: all eigenvalues. Large ones: a growing mode is looked for
around a ladder of growth rates. No eigenvalue of a stable state is nearer to a rate s > 0 than s
itself; a growing one within sqrt(3) of it is at most 0.73 s away, so that in Arnoldi's method on
the inverse around s it stands out by a third at least, and a few dozen steps show it (Y. Saad,
Numerical Methods for Large Eigenvalue Problems, 2nd edition, SIAM, 2011, chapter 8.1, from memory).
A mode that swings far more than it grows can be missed there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from flownet.equations.state import Model, State
from flownet.schema.arrays import Array, Booleans
from flownet.solver import tolerances as tol
from flownet.solver.jacobian import Pattern, System
from flownet.solver.network import flow_stable

if TYPE_CHECKING:
    import scipy.sparse as sp


class Stability(NamedTuple):
    """Of every variant."""

    stable: Booleans  # (variants,) disturbances die away
    mode: Array  # (compartments, variants) that grows; NaN where the flow itself is unstable
    longest: Array  # (variants,) implicit step in which it still grows, over the capacity [K/W]


def stability(model: Model, pattern: Pattern, state: State) -> Stability:
    """Whether states are stable, and how they are not."""
    width = state.mass_flow.shape[1]
    system = System(model, pattern, state)
    calm = flow_calm(system)
    found, longest = np.full((pattern.nodes, width), np.nan), np.full(width, np.nan)
    dense = pattern.nodes <= tol.DENSE_MODES
    thermal = system.thermal() if dense else None
    for variant in np.flatnonzero(calm):
        if thermal is not None:
            value, mode = _fastest(np.nan_to_num(thermal[variant]))
        else:
            full = pattern.sparse(system.values[:, variant])
            value, mode = growing(full, pattern.temperatures)
        if value.real > 0:
            calm[variant] = False
            found[:, variant] = mode / np.max(abs(mode))
            longest[variant] = value.real / abs(value) ** 2
    return Stability(calm, found, longest)


def flow_calm(system: System) -> Booleans:
    """(variants,) whether the flow itself is stable, also against the columns that it turns."""
    network = system.model.structure.network
    return flow_stable(network, -system.slopes.gap[0], system.open)


def _fastest(thermal: Array) -> tuple[complex, Array]:
    """The eigenvalue with the largest growth and its mode; 0 where none grows."""
    values, vectors = np.linalg.eig(thermal)
    worst = np.argmax(values.real)
    grows = values[worst].real > tol.GROWTH * np.max(abs(thermal))
    return (complex(values[worst]) if grows else 0j), vectors[:, worst].real


def growing(full: sp.csc_matrix, warm: slice) -> tuple[complex, Array]:
    """An eigenvalue that grows, and its mode; 0 where none stands out around any rate.

    Parameters
    ----------
    full : (size, size) derivatives of all balances.
    warm : which of them are heat and temperatures; the others follow at once.
    """
    import scipy.sparse as sp  # noqa: PLC0415 - only for large networks
    from scipy.sparse import linalg  # noqa: PLC0415

    size, places = full.shape[0], np.arange(warm.start, warm.stop)
    n = len(places)
    capacity = sp.csc_matrix((np.ones(n), (places, places)), full.shape)
    largest = float(abs(full[warm, warm]).sum(axis=1).max())
    start = np.cos(np.arange(n, dtype=float))  # of every shape, and the same every time
    for rate in largest / tol.RUNG ** np.arange(tol.RUNGS):
        factor = linalg.splu(full - rate * capacity)

        def answer(x: Array, factor=factor) -> Array:  # type: ignore[no-untyped-def]
            right = np.zeros(size)
            right[warm] = x.ravel()
            found: Array = factor.solve(right)[warm]
            return found

        try:
            values, vectors = linalg.eigs(
                linalg.LinearOperator((n, n), matvec=answer, dtype=float), k=1, which="LM",
                v0=start, ncv=tol.ARNOLDI, maxiter=tol.RESTARTS, tol=tol.CLOSE,
            )  # fmt: skip
        except linalg.ArpackNoConvergence:  # none stands out: none grows near this rate
            continue
        value = complex(rate + 1 / values[0])
        if value.real > tol.GROWING * rate:
            return value, vectors[:, 0].real
    return 0j, np.zeros(n)
