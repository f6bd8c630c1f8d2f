"""``forecast daily``."""

from __future__ import annotations

import re
import shlex
import sys
from datetime import datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import DONE_IN_PART, now, open_workspace, workspace_option, write_all_whole

if TYPE_CHECKING:
    from forecast.config import Settings
    from forecast.database import Database
    from forecast.desk.daily import Step
    from forecast.report.page import MorningPage


@click.command()
@workspace_option
@click.option("--offline", is_flag=True, help="Fetch nothing: pages from what is stored.")
@click.option("--print-timer", is_flag=True, help="Print a systemd timer and a cron line that run this every day.")
@click.option(
    "--at", "clock", type=click.DateTime(["%H:%M"]), default="05:00", show_default=True, help="For --print-timer."
)
def daily(workspace: Path, clock: datetime, *, offline: bool, print_timer: bool) -> None:
    """The whole day's run: fetch hours, archive the weather forecast, write the pages.

    It may run as often as you like: what came in stays, what failed is tried again. A page takes the place of
    yesterday's once it is whole. Exit code 3 when some source failed and the pages were written all the same.

    \b
    forecast daily --workspace grounds
    forecast daily --workspace grounds --print-timer --at 05:00
    """  # noqa: D301
    settings, database = open_workspace(workspace)
    if print_timer:
        click.echo(timer(settings, clock.time()), nl=False)
        return
    fixed = settings.grounds.as_of
    moment = now() if fixed is None else fixed.replace(tzinfo=settings.grounds.zone)
    _, all_done = run(settings, database, moment, offline=offline)
    if not all_done:
        raise SystemExit(DONE_IN_PART)


def run(settings: Settings, database: Database, moment: datetime, *, offline: bool) -> tuple[MorningPage, bool]:
    """Everything of one day, told to standard error; the page, and whether every source did its part."""
    from forecast.desk.daily import beside_paths, bring_up_to_date, page_paths
    from forecast.desk.morning import morning
    from forecast.desk.outlook import outlook
    from forecast.desk.windows import windows
    from forecast.report.as_html import morning_html, outlook_html, windows_html
    from forecast.report.as_json import json_text
    from forecast.report.as_text import morning_text
    from forecast.report.calendar import windows_calendar

    fixed = settings.grounds.as_of is not None
    steps = () if offline or fixed else bring_up_to_date(settings, database, moment, told=_tell)
    notices = [notice for step in steps for notice in step.notices]
    page = morning(settings, database, moment, replay=fixed, notices=notices)
    written = {"html": morning_html(page), "txt": morning_text(page), "json": json_text(page)}
    paths = page_paths(settings, moment)
    contents: dict[Path, str | bytes] = {path: written[kind] for kind, pair in paths.items() for path in pair}
    ahead = outlook_html(outlook(settings, database, moment, replay=fixed, notices=notices))
    when = windows(settings, database, moment, replay=fixed)
    contents |= dict.fromkeys(beside_paths(settings, moment, "outlook"), ahead)
    contents |= dict.fromkeys(beside_paths(settings, moment, "windows"), windows_html(when))
    contents |= dict.fromkeys(beside_paths(settings, moment, "windows", "ics"), windows_calendar(when))
    write_all_whole(contents)
    click.echo(f"wrote {paths['html'][1]}", err=True)
    return page, all(step.is_whole for step in steps)


def _tell(step: Step) -> None:
    click.echo(f"{'done' if step.is_whole else 'FAILED' if step.error else 'from an old copy'}: {step.what}", err=True)
    for notice in step.notices:
        click.echo(f"  note: {notice.text}", err=True)


def timer(settings: Settings, clock: time) -> str:
    """Units for systemd and a line for cron that run the daily command of this workspace at a clock time."""
    folder = settings.folder.resolve()
    words = [sys.executable, "-m", "forecast", "daily", "--workspace", str(folder)]
    start = " ".join(_systemd_word(word) for word in words)
    line = " ".join(shlex.quote(word) for word in words).replace("%", "\\%")
    unit = f"forecast-{re.sub(r'[^A-Za-z0-9_-]+', '-', folder.name) or 'daily'}"
    name = " ".join(settings.grounds.name.split()).replace("%", "%%")
    return f"""\
# systemd: save the two parts under the names above them, then
#   systemctl --user daemon-reload && systemctl --user enable --now {unit}.timer
#   loginctl enable-linger        # so that it runs while nobody is logged in
# A run that was missed while the machine was off is made up for.

# ~/.config/systemd/user/{unit}.service
[Unit]
Description=Turf disease forecast for {name}

[Service]
Type=oneshot
ExecStart={start}
SuccessExitStatus={DONE_IN_PART}

# ~/.config/systemd/user/{unit}.timer
[Unit]
Description=Every morning

[Timer]
OnCalendar=*-*-* {clock:%H:%M}:00 {settings.grounds.time_zone}
Persistent=true

[Install]
WantedBy=timers.target

# or cron: add this line with 'crontab -e'; its clock is the machine's
{clock.minute} {clock.hour} * * * {line}
"""


def _systemd_word(word: str) -> str:
    """A word of a systemd command line: quoted, its own signs doubled."""
    plain = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{plain}"'
