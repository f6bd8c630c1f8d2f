"""The page in headless Chromium: narrow, on paper, in black and white, and by the access rules of WCAG 2.2 AA."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from demo_workspace import demo_copy
from playwright.sync_api import Browser, Page, sync_playwright

from forecast.cli import cli

CHROMIUM = next(
    (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

if CHROMIUM is None:
    if os.environ.get("FORECAST_NEEDS_BROWSER"):
        raise RuntimeError("no Chromium found, and this run must have one")
    pytest.skip("no Chromium on this machine; .ci/run installs one", allow_module_level=True)


COMMANDS = {
    "morning": ["morning"],
    "outlook": ["outlook"],
    "windows": ["windows", "--as-of", "2050-07-18T05:30"],
    "verify": ["verify", "--area", "north-field", "--every", "30"],
}


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The address of every page, by its command."""
    folder = tmp_path_factory.mktemp("browser")
    demo = demo_copy(folder / "w")
    found = {}
    for name, words in COMMANDS.items():
        done = CliRunner().invoke(cli, [*words, "-w", str(demo), "--html", str(folder / f"{name}.html")])
        assert done.exit_code == 0, done.output
        found[name] = (folder / f"{name}.html").as_uri()
    return found


@pytest.fixture(scope="module")
def address(pages: dict[str, str]) -> str:
    return pages["morning"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def requests() -> list[str]:
    return []


@pytest.fixture
def page(browser: Browser, address: str, requests: list[str]) -> Iterator[Page]:
    opened = browser.new_page(viewport={"width": 360, "height": 640})
    opened.on("request", lambda request: requests.append(request.url))
    opened.goto(address)
    yield opened
    opened.close()


def test_the_page_loads_nothing_but_itself(page: Page, address: str, requests: list[str]) -> None:
    page.wait_for_load_state("networkidle")
    assert requests == [address]


@pytest.mark.parametrize("width", [320, 360, 800])
def test_nothing_scrolls_sideways(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 640})
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_first_screen_of_a_phone_holds_every_answer_that_a_model_gives_and_the_age_of_the_data(page: Page) -> None:
    for text in ("TREAT", "SCOUT", "HOLD", "ago"):
        lines = page.locator("nav li, header p").filter(has_text=text).filter(has_not_text="no model tested")
        boxes = [found.bounding_box() for found in lines.all()]
        assert boxes
        assert all(box is not None and box["y"] + box["height"] <= 640 for box in boxes), text


def test_the_access_rules_find_nothing(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    found = Axe().run(page).response["violations"]
    assert [rule["id"] for rule in found] == []


def test_the_access_rules_would_find_something(browser: Browser) -> None:
    """A page with faults, to prove that the checker looks."""
    bad = browser.new_page()
    bad.set_content("<html><body><img src='x'><p style='color:#ccc'>pale</p></body></html>")
    assert Axe().run(bad).response["violations"]
    bad.close()


def test_the_answers_can_be_told_apart_without_colour(page: Page) -> None:
    styles = {
        word: page.locator(f"ul.answers > li.{word}").first.evaluate("e => getComputedStyle(e).borderLeftStyle")
        for word in ("treat", "scout", "hold")
    }
    assert len(set(styles.values())) == 3
    for word in styles:
        assert page.locator(f"ul.answers > li.{word} strong").first.inner_text() == word.upper()


def test_everything_can_be_reached_by_keyboard_and_shows_where_one_is(page: Page) -> None:
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.tagName"))
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        if page.evaluate("document.activeElement === document.body"):
            break
        assert outline != "none"
    assert {"A", "SUMMARY"} <= seen


def test_links_are_large_enough_for_a_thumb(page: Page) -> None:
    """At least 24 CSS px high (WCAG 2.2, success criterion 2.5.8)."""
    for link in page.locator("a, summary").all():
        box = link.bounding_box()
        assert box is not None
        assert box["height"] >= 24


def test_on_paper_everything_is_open_and_black(page: Page, tmp_path: Path) -> None:
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    hidden = page.locator("details p").filter(has_text="A day of disease weather is one").first
    box = hidden.bounding_box()
    assert box is not None
    assert box["height"] > 0, "the folded parts are printed"
    page.pdf(path=tmp_path / "page.pdf", format="Letter")
    assert (tmp_path / "page.pdf").stat().st_size > 10_000


@pytest.mark.parametrize("name", ["outlook", "windows", "verify"])
def test_the_other_pages_keep_the_same_rules(browser: Browser, pages: dict[str, str], name: str) -> None:
    asked: list[str] = []
    for width in (320, 360, 1280):
        opened = browser.new_page(viewport={"width": width, "height": 640})
        opened.on("request", lambda request: asked.append(request.url))
        opened.goto(pages[name])
        opened.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        assert opened.evaluate("document.documentElement.scrollWidth") <= width, "nothing scrolls sideways"
        if width == 360:
            found = Axe().run(opened)
            assert found.violations_count == 0, found.generate_report()
        opened.close()
    assert set(asked) == {pages[name]}


def test_the_first_screen_of_the_outlook_holds_its_first_answer(browser: Browser, pages: dict[str, str]) -> None:
    opened = browser.new_page(viewport={"width": 360, "height": 640})
    opened.goto(pages["outlook"])
    box = opened.locator(".verdict").first.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= 640
    opened.close()


def test_a_usual_day_is_told_apart_from_a_forecast_without_colour(browser: Browser, pages: dict[str, str]) -> None:
    opened = browser.new_page(viewport={"width": 360, "height": 640})
    opened.goto(pages["outlook"])
    usual = opened.locator("article svg rect.usual").first
    told = opened.locator("article svg rect.forecast").first
    assert usual.evaluate("one => getComputedStyle(one).fill") == "none"
    assert usual.evaluate("one => getComputedStyle(one).strokeDasharray") != "none"
    assert told.evaluate("one => getComputedStyle(one).fill") != "none"
    opened.close()
