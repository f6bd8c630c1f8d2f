"""Names that people type can hold anything: the page shows them and runs nothing of them."""

from __future__ import annotations

import html.parser
import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forecast.cli import cli
from forecast.report.as_html import morning_html
from forecast.report.as_json import json_text
from forecast.report.as_text import morning_text
from forecast.report.page import MorningPage

HOSTILE = "<script>alert(1)</script> & \"Sons\" 'n' <img src=x onerror=alert(2)> {{ 7*7 }} ünïcode"


class _Tags(html.parser.HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs


def _parsed(text: str) -> _Tags:
    parser = _Tags()
    parser.feed(text)
    return parser


@pytest.fixture(scope="module")
def demo_page(tmp_path_factory: pytest.TempPathFactory) -> MorningPage:
    from forecast.cli.common import open_workspace
    from forecast.desk.morning import morning

    demo = demo_copy(tmp_path_factory.mktemp("safety") / "w")
    settings_, database = open_workspace(demo)
    assert settings_.grounds.as_of is not None
    page = morning(settings_, database, settings_.grounds.as_of.replace(tzinfo=settings_.grounds.zone), replay=True)
    database.close()
    return page


def _renamed(page: MorningPage, name: str) -> MorningPage:
    from dataclasses import replace

    area = replace(page.areas[0], area_name=name, property_name=name)
    return replace(page, grounds=name, areas=(area, *page.areas[1:]), notices=(name,))


def test_a_hostile_name_is_shown_and_not_run(tmp_path: Path) -> None:
    demo = demo_copy(tmp_path / "w")
    path = demo / "properties.csv"
    quoted = HOSTILE.replace('"', '""')
    path.write_text(path.read_text().replace("North field", f'"{quoted}"'))
    done = CliRunner().invoke(cli, ["morning", "-w", str(demo), "--html", str(tmp_path / "page.html")])
    assert done.exit_code == 0, done.output
    text = (tmp_path / "page.html").read_text()
    parsed = _parsed(text)
    assert "script" not in parsed.tags
    assert "img" not in parsed.tags
    assert "&lt;script&gt;alert(1)" in text
    assert "{{ 7*7 }}" in text, "a name is no template"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.text(max_size=80).filter(lambda text: "\r" not in text and "\0" not in text))
def test_no_name_adds_a_tag_or_breaks_a_form(demo_page: MorningPage, name: str) -> None:
    plain = _parsed(morning_html(_renamed(demo_page, "plain")))
    strange = _parsed(morning_html(_renamed(demo_page, name)))
    assert strange.tags == plain.tags
    assert json.loads(json_text(_renamed(demo_page, name)))["grounds"] == name
    assert morning_text(_renamed(demo_page, name)).endswith("\n")


def test_the_page_is_one_file_that_asks_for_nothing(demo_page: MorningPage) -> None:
    text = morning_html(demo_page)
    parsed = _parsed(text)
    assert not set(parsed.tags) & {"script", "link", "img", "iframe", "object", "embed", "form", "base"}
    addresses = [value for name, value in parsed.attributes if name in {"src", "href", "action", "srcset"}]
    assert addresses
    assert all(value is not None and value.startswith("#") for value in addresses)
    assert "url(" not in text
    assert "@import" not in text
    assert not [name for name, _ in parsed.attributes if name.startswith("on")]
    assert "default-src 'none'" in text


def test_every_link_leads_somewhere_on_the_page(demo_page: MorningPage) -> None:
    parsed = _parsed(morning_html(demo_page))
    ids = [value for name, value in parsed.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    for name, value in parsed.attributes:
        if name == "href":
            assert value is not None
            assert value.removeprefix("#") in ids


def test_the_page_is_small(demo_page: MorningPage) -> None:
    """A weak signal at 05:30: five areas with four or five diseases each in under 60 kB, as text."""
    assert len(morning_html(demo_page).encode()) < 60_000
