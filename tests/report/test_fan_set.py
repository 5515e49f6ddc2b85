"""The table of levels and the first failure on the long page."""

from __future__ import annotations

import flownet
from flownet.pages import render
from flownet.pages.noise import fan_set
from flownet.pages.page import Page
from tests.test_noise_and_life import box


def lines(**how):
    page, tables = Page("metric", 80, everything=True), fan_set(flownet.solve(box(**how)))
    made = [each("metric") if callable(each) else each for each in tables]
    return [line for each in made for line in render.listing(each, page)]


def test_the_loudest_stands_first_with_what_it_is_worth():
    """50 dBA less 2.29 dB beside 44 dBA: 10 log10(59049 + 25119) = 49.25 dBA."""
    head, first, then, life, note = lines(second={"noise_dBA": 50, "blades": None})
    assert head.split() == [
        "Noise", "at", "1", "m", "level", "share", "blade", "pass", "without", "10", "%", "slower",
    ]  # fmt: skip
    assert first.split() == ["fan.two", "50.0", "dBA", "80", "%", "-", "44.0", "dBA", "49.3", "dBA"]
    assert then.split()[:6] == ["fan.one", "44.0", "dBA", "20", "%", "315"]
    assert life.startswith("Life  of 2 fans the first fails within ")
    assert "Weibull slope 1.1" in note


def test_one_fan_alone_is_silence_without_it_and_has_no_set():
    assert [line for line in lines() if "silent" in line]
    assert not [line for line in lines() if line.startswith("Life")]


def test_nothing_is_said_where_nothing_is_known():
    assert lines(noise_dBA=None, noise=None, life=None) == []
