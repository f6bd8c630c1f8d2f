"""The calendar of windows by RFC 5545: lines, times, names that stay, and texts that cannot break out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from forecast.cli import cli
from forecast.cli.common import open_workspace
from forecast.desk.windows import windows
from forecast.report.calendar import windows_calendar
from forecast.report.windows import WindowsPage

ZONE = ZoneInfo("America/New_York")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("calendar") / "w")


def _page(demo: Path, moment: datetime) -> WindowsPage:
    settings, database = open_workspace(demo)
    found = windows(settings, database, moment, replay=True)
    database.close()
    return found


@pytest.fixture(scope="module")
def page(demo: Path) -> WindowsPage:
    return _page(demo, datetime(2050, 7, 18, 5, 30, tzinfo=ZONE))


def _events(page: WindowsPage) -> dict[str, Any]:
    return {str(event["uid"]): event for event in Calendar.from_ical(windows_calendar(page)).walk("VEVENT")}


def test_each_window_with_a_stretch_is_an_event_at_its_time(page: WindowsPage) -> None:
    events = _events(page)
    wanted = {
        f"{area.area_id}-{one.disease}-2050-{one.applications_this_year + 1}@turf-disease-forecast": (area, one)
        for area in page.areas
        for one in area.diseases
        if one.best is not None
    }
    assert set(events) == set(wanted)
    assert len(events) >= 2
    for uid, (area, one) in wanted.items():
        event = events[uid]
        assert one.best is not None
        assert event["dtstart"].dt == one.best.start.astimezone(UTC)
        assert event["dtend"].dt == one.best.end.astimezone(UTC)
        assert event["dtstamp"].dt == datetime(2050, 7, 18, 9, 30, tzinfo=UTC)
        assert str(event["status"]) == "TENTATIVE"
        assert area.area_name in str(event["summary"])
        text = str(event["description"])
        assert "The label on the container is the law" in text
        assert one.gear in text
        assert one.keep_off in text
        assert [str(alarm["action"]) for alarm in event.walk("VALARM")] == ["DISPLAY"]
        assert "INVENTED" in str(event["summary"])


def test_the_file_keeps_the_rules_of_lines(page: WindowsPage) -> None:
    """RFC 5545, 3.1: lines end with CR LF and have at most 75 octets; a letter of several octets stays whole."""
    raw = windows_calendar(page)
    lines = raw.split(b"\r\n")
    assert lines[-1] == b""
    assert all(b"\n" not in line and b"\r" not in line for line in lines)
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode("utf-8")
    text = raw.decode("utf-8")
    assert text.startswith("BEGIN:VCALENDAR\r\n")
    assert "METHOD:PUBLISH" in text
    assert "VTIMEZONE" not in text, "times are in UTC"
    assert "DTSTART:20500722T" in text
    assert "ATTENDEE" not in text
    assert "ORGANIZER" not in text


def test_a_window_keeps_its_name_and_its_sequence_rises(demo: Path, page: WindowsPage) -> None:
    later = _page(demo, datetime(2050, 7, 19, 5, 30, tzinfo=ZONE))
    before, after = _events(page), _events(later)
    same = set(before) & set(after)
    assert any(uid.startswith("north-field-brown_patch-2050-3@") for uid in same), "two are on record this year"
    for uid in same:
        assert int(after[uid]["sequence"]) == int(before[uid]["sequence"]) + 24
        assert int(after[uid]["sequence"]) < 2**31


def test_the_same_morning_gives_the_same_bytes(demo: Path, page: WindowsPage) -> None:
    assert windows_calendar(_page(demo, datetime(2050, 7, 18, 5, 30, tzinfo=ZONE))) == windows_calendar(page)


@given(st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), min_size=1, max_size=60))
def test_no_name_breaks_out_of_its_line(page: WindowsPage, name: str) -> None:
    area = replace(page.areas[0], area_name=name, property_name=f"{name};,\\{name}")
    raw = windows_calendar(replace(page, areas=(area,)))
    (event,) = Calendar.from_ical(raw).walk("VEVENT")
    assert str(event["status"]) == "TENTATIVE"
    lines = raw.replace(b"\r\n ", b"").split(b"\r\n")
    assert sum(line.startswith(b"BEGIN:VEVENT") for line in lines) == 1
    assert sum(line.startswith(b"ATTENDEE") for line in lines) == 0


def test_the_command_writes_it(demo: Path, tmp_path: Path, page: WindowsPage) -> None:
    path = tmp_path / "windows.ics"
    done = CliRunner().invoke(cli, ["windows", "-w", str(demo), "--as-of", "2050-07-18T05:30", "--ics", str(path)])
    assert done.exit_code == 0, done.output
    assert done.stdout == ""
    assert path.read_bytes() == windows_calendar(page)
