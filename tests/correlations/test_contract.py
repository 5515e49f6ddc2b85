"""What every registered correlation promises: a source, a range, arrays, complex steps."""

from __future__ import annotations

import inspect

import numpy as np
import pytest

from flownet.physics import REGISTRY, correlation, find, friction, outside_range
from tests.each import each, every, named

STEP = 1e-30
# over an axis, not element by element; tested on their own
REDUCTIONS = {"sound.add_levels", "sound.shares", "life.first_failure"}
ELEMENTWISE = sorted(REGISTRY.keys() - REDUCTIONS)

# Where a source names no range: what the argument can be in an enclosure.
USUAL = {
    "air_temperature": (250.0, 350.0),
    "azimuth": (-360.0, 360.0),
    "backs": (0.0, 1.0),
    "blades": (3.0, 13.0),
    "depth": (0.1, 2.0),
    "distance": (0.1, 100.0),
    "distance_ratio": (0.1, 100.0),
    "emissivity": (0.0, 1.0),
    "factor_per_10K": (1.1, 2.0),
    "faces_up": (-1.0, 1.0),
    "field_loss": (8.0, 11.0),
    "friction_factor": (0.005, 0.1),
    "ground_reflectance": (0.0, 1.0),
    "height": (0.01, 10.0),
    "hour": (0.0, 24.0),
    "laminar": (50.0, 100.0),
    "latitude": (-90.0, 90.0),
    "length": (0.005, 2.0),
    "length_ratio": (0.1, 1000.0),
    "position": (1e-6, 10.0),
    "power_level": (0.0, 120.0),
    "prandtl": (0.6, 10.0),
    "pressure": (2e4, 1.1e5),
    "pressure_level": (0.0, 120.0),
    "rated_life": (1e3, 1e5),
    "rated_temperature": (290.0, 350.0),
    "room_constant": (1.0, 1e4),
    "roughness": (0.0, 0.05),
    "sides": (0.0, 2.0),
    "speed": (0.0, 200.0),
    "speed_ratio": (0.01, 2.0),
    "surface_temperature": (255.0, 420.0),
    "surroundings_temperature": (250.0, 350.0),
    "tilt": (0.0, 180.0),
    "tops": (0.0, 1.0),
    "width": (0.1, 2.0),
}


def limits(name):
    """Range of every argument of a correlation: its source's, else the usual one."""
    record = REGISTRY[name]
    parameters = inspect.signature(record.function).parameters
    return {p: record.valid[p] if p in record.valid else USUAL[p] for p in parameters}


def samples(low, high, count=41):
    """Both ends and points between, by decades where the range spans many."""
    high = min(high, 1e6) if np.isinf(high) else high
    if low > 0 and high / low > 100:
        return np.geomspace(low, high, count)
    if low == 0 and high > 100:
        return np.concatenate(([0.0], np.geomspace(1e-3, high, count - 1)))
    return np.linspace(low, high, count)


def scattered(name, seed, count=400):
    """Random points of the whole range, all arguments together."""
    random = np.random.default_rng(seed)
    return {
        key: random.permutation(np.resize(samples(*ends, 97), count))
        for key, ends in limits(name).items()
    }


@each(named(REGISTRY))
def test_source_and_documentation(name):
    record = REGISTRY[name]
    assert len(record.source) > 10
    assert find(record.function) is record
    text = inspect.getdoc(record.function)
    parameters = inspect.signature(record.function).parameters
    assert "Returns" in text
    assert not [p for p in parameters if p not in text]
    assert all(low < high for low, high in record.valid.values())


@each(named(ELEMENTWISE))
def test_finite_over_the_whole_valid_range(name):
    """Each argument from end to end, the others anywhere; no warning either."""
    values = REGISTRY[name].function(**scattered(name, seed=1))
    assert values.shape == (400,)
    assert np.isfinite(values).all()
    for key, ends in limits(name).items():
        point = {k: v[:1] for k, v in scattered(name, seed=2).items()} | {key: np.array(ends)}
        point[key] = point[key][np.isfinite(point[key])]
        assert np.isfinite(REGISTRY[name].function(**point)).all()


@each(named(ELEMENTWISE))
def test_arrays_broadcast_and_equal_single_numbers(name):
    arguments = scattered(name, seed=3, count=3)
    arguments = {
        key: value[:, None] if k % 2 else value for k, (key, value) in enumerate(arguments.items())
    }
    function = REGISTRY[name].function
    whole = function(**arguments)
    assert whole.shape == np.broadcast_shapes(*(v.shape for v in arguments.values()))
    full = [np.broadcast_to(v, whole.shape) for v in arguments.values()]
    for index in np.ndindex(whole.shape):
        single = function(*(float(v[index]) for v in full))
        assert np.ndim(single) == 0
        assert float(single) == pytest.approx(float(whole[index]), rel=1e-13, abs=1e-300)


@each(named(ELEMENTWISE))
def test_a_complex_step_is_the_derivative(name):
    """Against central differences in every argument; the real part is not disturbed."""
    function = REGISTRY[name].function
    point = scattered(name, seed=4)
    for key, (low, high) in limits(name).items():
        inner = point[key].clip(max(1.001 * low, 1e-3 * min(high, 1.0)), 0.999 * high)
        step = 1e-6 * inner
        below, above = (function(**point | {key: inner + s * step}) for s in (-1.0, 1.0))
        stepped = function(**point | {key: inner + 1j * STEP})
        real = function(**point | {key: inner})
        np.testing.assert_allclose(stepped.real, real, rtol=1e-12, atol=1e-30)
        slope = stepped.imag / STEP * inner
        central = (above - below) / 2e-6
        smooth = np.isclose(slope, central, rtol=1e-4, atol=1e-7 * np.abs(real) + 1e-9)
        # the wire screen is a table of straight lines: at its corners both sides are right
        assert smooth.all() or (name == "losses.round_edge_screen" and smooth.mean() > 0.95)


def test_outside_range_names_argument_limits_and_places():
    reynolds = np.array([[0.0, 1e4], [2e8, 1e8]])
    found = outside_range(friction.churchill_product, reynolds=reynolds, roughness=0.1, laminar=1.0)
    by_name = {item.argument: item for item in found}
    assert by_name.keys() == {"reynolds", "roughness"}
    assert (by_name["reynolds"].low, by_name["reynolds"].high) == (0.0, 1e8)
    np.testing.assert_array_equal(by_name["reynolds"].mask, [[False, False], [True, False]])
    assert by_name["roughness"].mask.all()


def test_inside_the_range_nothing_is_reported():
    assert outside_range(friction.churchill_product, reynolds=1e4 + 1e9j, roughness=0.0) == []


def test_a_function_without_record_is_refused():
    def churchill_1977(reynolds):
        return reynolds

    churchill_1977.__module__ = friction.__name__
    with pytest.raises(KeyError):
        outside_range(churchill_1977, reynolds=1.0)
    with pytest.raises(KeyError):
        find(friction.root_area_ratio)


@every(("source", "valid"), [(" ", {}), ("a book", {"y": (0, 1)}), ("a book", {"x": (1, 0)})])
def test_a_correlation_without_source_or_with_a_wrong_range_is_refused(source, valid):
    before = dict(REGISTRY)
    with pytest.raises(TypeError, match="needs a source"):

        @correlation(source, valid)
        def unsourced(x):
            return x

    assert before == REGISTRY
