"""Application windows as a calendar file (RFC 5545): the best stretch of each as a tentative event.

Times are in UTC, so that no time-zone rules have to be carried along. An event keeps its name (UID) while its window
moves, until the application is on record and the next round begins; its SEQUENCE rises with the hour of the telling.
"""

from __future__ import annotations

from datetime import UTC, timedelta

from icalendar import Alarm, Calendar, Event

from forecast.report.windows import DiseaseWindow, Stretch, WindowArea, WindowsPage, headline, stretch_words
from forecast.report.words import capital

PRODUCT_ID = "-//turf-disease-forecast//windows//EN"
WARN_BEFORE = timedelta(hours=12)


def windows_calendar(page: WindowsPage) -> bytes:
    """The calendar of all windows that have a stretch to take."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT_ID)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for area in page.areas:
        for one in area.diseases:
            if one.best is not None:
                calendar.add_component(_event(page, area, one, one.best))
    made: bytes = calendar.to_ical()
    return made


def _event(page: WindowsPage, area: WindowArea, one: DiseaseWindow, best: Stretch) -> Event:
    event = Event()
    season = f"{page.as_of.year}-{one.applications_this_year + 1}"
    event.add("uid", f"{area.area_id}-{one.disease}-{season}@turf-disease-forecast")
    event.add("dtstamp", page.as_of.astimezone(UTC))
    event.add("sequence", int(page.as_of.timestamp() // 3600))
    event.add("dtstart", best.start.astimezone(UTC))
    event.add("dtend", best.end.astimezone(UTC))
    invented = "INVENTED: " if page.invented else ""
    event.add("summary", f"{invented}{capital(one.name)}: {area.area_name}, {area.property_name}")
    event.add("location", f"{area.area_name}, {area.property_name}")
    event.add("status", "TENTATIVE")
    event.add("categories", ["turf", one.name])
    event.add("description", "\n".join(_description(page, one)))
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", f"Look at the windows again before you go: {headline(one)}")
    alarm.add("trigger", -WARN_BEFORE)
    event.add_component(alarm)
    return event


def _description(page: WindowsPage, one: DiseaseWindow) -> list[str]:
    told = [headline(one)]
    if one.last is not None and one.last != one.best:
        told.append(f"The last stretch: {stretch_words(one.last)}.")
    told += [
        f"By {one.label_name}, {one.rate_as_printed}.",
        f"Gear: {one.gear}",
        f"Keep off: {one.keep_off}",
        "A plan and no clearance: look at the morning page again before you go.",
        *page.cautions,
    ]
    return told
