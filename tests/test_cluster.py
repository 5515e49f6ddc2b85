"""A local cluster of two worker processes solves what one process solves, to the last bit."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from distributed import Client, LocalCluster

import flownet
from flownet.solving.solve import BLOCK
from tests.small_cabinet import CASE

SHELF = Path(__file__).parents[1] / "cases" / "telecom-shelf"
PATHS = ("part.drive.temperature", "fan.left.volume_flow", "total.fan_power")


@pytest.fixture(scope="module")
def cluster() -> Iterator[Executor]:
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as local,
        Client(local) as client,
    ):
        yield client.get_executor()


def test_a_cluster_returns_the_same_bits_as_a_pool_and_as_none(cluster):
    count = 2 * BLOCK + 76
    changes = {
        "fan.left.speed": np.linspace(0.4, 1.0, count),
        "slot.a.type": np.resize(["line", "wide"], count),
        "fan.right.state": np.resize(["running", "stopped", "blanked"], count),
    }
    seen: list[tuple[int, int]] = []
    told = flownet.solve_many(
        CASE, changes, executor=cluster, progress=lambda *counts: seen.append(counts)
    )
    with ProcessPoolExecutor(2) as pool:
        pooled = flownet.solve_many(CASE, changes, executor=pool)
    alone = flownet.solve_many(CASE, changes)
    for path in PATHS:
        assert np.array_equal(told[path], alone[path], equal_nan=True), path
        assert np.array_equal(pooled[path], alone[path], equal_nan=True), path
    assert told.status == pooled.status == alone.status
    assert seen == [(BLOCK, count), (2 * BLOCK, count), (count, count)]


def test_a_comparison_is_the_same_on_a_cluster(cluster):
    case = flownet.load_case(SHELF)
    told = flownet.compare(case, executor=cluster).to_dict()
    assert told == flownet.compare(case).to_dict()


def test_an_error_comes_back_from_a_cluster_as_it_was(cluster):
    with pytest.raises(flownet.CaseError, match=r"fan\.left\.speed: must be from 0 to 2"):
        flownet.solve_many(CASE, {"fan.left.speed": [1.0, 9.0]}, executor=cluster)
    shut = {name: ["running", "blanked"] for name in ("fan.left.state", "fan.right.state")}
    shut |= {"vent.roof.state": ["open", "blanked"], "slot.b.state": ["fitted", "blanked"]}
    found = flownet.solve_many(CASE, shut, executor=cluster)
    assert found.ok.tolist() == [True, False]
    assert "nowhere to go" in found.status[1]
