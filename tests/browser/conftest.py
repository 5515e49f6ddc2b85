"""Pages in a real browser: each made once, opened as a file, by nothing but Debian's Chromium.

Without it these tests are skipped; where `FLOWNET_BROWSER` is "required" they fail.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import flownet

CASES = Path(__file__).parents[2] / "cases"
AUDIT = Path(__file__).with_name("audit.js").read_text(encoding="utf-8")
PAGES = [("review", "drive-cabinet"), ("review", "telecom-shelf"), ("review", "hostile"),
         ("sheet", "drive-cabinet"), ("sheet", "hostile")]  # fmt: skip
FLAGS = ("headless=new", "no-sandbox", "disable-gpu", "disable-quic", "no-first-run",
         "disable-background-networking", "disable-component-update", "disable-sync",
         "hide-scrollbars")  # fmt: skip
KEYS = {"Tab": 9, "Escape": 27, "Home": 36, "ArrowLeft": 37, "ArrowRight": 39}  # by their codes
LONG, ALEF = "x" * 300, "\N{HEBREW LETTER ALEF}"
TITLE = (
    '</script><script>window.hit = 1</script></style></title><img src=x onerror="window.hit = 1">'
    f"<b id='hit'>\"&quot;'\N{RIGHT-TO-LEFT OVERRIDE}{ALEF}\N{LINE SEPARATOR}\\u003c{{{{1}}}}{LONG}"
)


def hostile() -> flownet.Enclosure:
    """A box with a fan and a filter whose texts and names try what they can (invented data)."""
    axial = flownet.FanType(
        name="constructor", curve={"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"},
        flow_area="95 cm2", origin=TITLE, noise_dBA=44, frame="119 38 mm",
    )  # fmt: skip
    return flownet.Enclosure.of(
        flownet.Outside(temperature="40 degC"), axial,
        flownet.Compartment(name="box", outline="0 0 800 900 mm", air_limit="55 degC"),
        flownet.Filter(name="mat", from_="outside", to="box", area="0.045 m2", at="0 200 mm",
                       velocity_drop={"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"}),
        flownet.Part(name=LONG, in_="box", power="80 W", resistance="0.28 K/W", limit="90 degC",
                     at="400 500 mm"),
        flownet.Fan(name="out", from_="box", to="outside", type="constructor", at="400 900 mm"),
        title=TITLE, variants={"__proto__": {"filter.mat.fouling": 2.0}},
        scenarios={f"s-{LONG}": {"outside.temperature": "45 degC"}, "toString": {}},
    )  # fmt: skip


@dataclass(frozen=True)
class Opened:
    """A page in the browser, and what it was made of."""

    driver: Any
    kind: str  # review, sheet
    address: str
    case: flownet.Enclosure
    found: Any

    def js(self, text: str, *values: Any) -> Any:
        return self.driver.execute_script(f"{AUDIT}\n{text}", *values)

    def cdp(self, command: str, **values: Any) -> Any:
        return self.driver.execute_cdp_cmd(command, values)

    def show(self, wide: int = 1280, media: str = "screen", motion: str = "") -> None:
        """At this width, on this medium, for somebody who wants things to move or not."""
        wish = [{"name": "prefers-reduced-motion", "value": motion}]
        self.cdp("Emulation.setEmulatedMedia", media=media, features=wish)
        self.cdp("Emulation.setDeviceMetricsOverride", width=wide, height=1000,
                 deviceScaleFactor=1, mobile=False)  # fmt: skip

    def choose(self, scenario: str, variant: str) -> None:
        from selenium.webdriver.support.select import Select  # noqa: PLC0415 - an extra

        for name, value in (("scenario", scenario), ("variant", variant)):
            Select(self.driver.find_element("id", name)).select_by_visible_text(value)

    def press(self, key: str, shift: bool = False) -> None:
        self.cdp("Input.dispatchKeyEvent", type="keyDown", key=key, code=key,
                 windowsVirtualKeyCode=KEYS[key], modifiers=8 * shift)  # fmt: skip


@pytest.fixture(scope="session")
def driver(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Chromium with a folder of its own; its log of requests is kept."""
    programs = [shutil.which("chromium"), shutil.which("chromedriver")]
    if not all(programs) or importlib.util.find_spec("selenium") is None:
        told = "chromium, chromedriver or selenium is missing: these tests need all three"
        (pytest.fail if os.environ.get("FLOWNET_BROWSER") == "required" else pytest.skip)(told)
    from selenium import webdriver  # noqa: PLC0415 - an extra

    options = webdriver.ChromeOptions()
    options.binary_location = programs[0]
    for flag in (*FLAGS, f"user-data-dir={tmp_path_factory.mktemp('chromium')}"):
        options.add_argument(f"--{flag}")
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    made = webdriver.Chrome(options, webdriver.ChromeService(executable_path=programs[1]))
    yield made
    made.quit()


@pytest.fixture(scope="session", params=PAGES, ids="-".join)
def page(
    request: pytest.FixtureRequest, driver: Any, tmp_path_factory: pytest.TempPathFactory
) -> Opened:
    """One page after the other: made, written, opened."""
    kind, name = request.param
    case = hostile() if name == "hostile" else flownet.load_case(CASES / name)
    some = ["hot"] if name == "telecom-shelf" else None  # its maps are dear
    found = flownet.review(case, scenarios=some, samples=40) if kind == "review" else \
        flownet.commission(case)  # fmt: skip
    path = tmp_path_factory.mktemp(name) / "page.html"
    path.write_text(found.html(), encoding="utf-8")
    for log in ("browser", "performance"):
        driver.get_log(log)
    driver.get(path.as_uri())
    return Opened(driver, kind, path.as_uri(), case, found)
