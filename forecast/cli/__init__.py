"""The command line: words and exit codes. Each command imports what it needs only when it runs.

Exit codes: 0 done, 2 usage, 3 done in part, 65 data or records, 66 input missing, 69 source down and nothing usable,
70 our bug, 73 and 74 cannot write, 75 in use, 78 settings.
"""

from __future__ import annotations

import os
import sys
import traceback

import click

from forecast import __version__
from forecast.cli.backup import backup, restore
from forecast.cli.daily import daily
from forecast.cli.mix import mix
from forecast.cli.models import models
from forecast.cli.morning import morning
from forecast.cli.outlook import outlook
from forecast.cli.pressure import pressure
from forecast.cli.record import record
from forecast.cli.replay import replay
from forecast.cli.scout import scout
from forecast.cli.season import season
from forecast.cli.sprayer import sprayer
from forecast.cli.start import start
from forecast.cli.verify import verify
from forecast.cli.weather import weather
from forecast.cli.wetness import wetness
from forecast.cli.windows import windows
from forecast.errors import ForecastError, StorageError

BUG = 70


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="A first look: forecast start --demo demo, then forecast morning --workspace demo",
)
@click.version_option(__version__, "-V", "--version", prog_name="forecast")
def cli() -> None:
    """From hourly weather to turf disease pressure, honest chances, and application windows."""


for _command in (
    start,
    weather,
    morning,
    outlook,
    season,
    daily,
    pressure,
    wetness,
    scout,
    windows,
    mix,
    sprayer,
    record,
    backup,
    restore,
    models,
    verify,
    replay,
):
    cli.add_command(_command)


def main() -> None:
    """Run the command line; no traceback reaches a reader unless FORECAST_DEBUG is set."""
    try:
        cli(standalone_mode=True)
    except ForecastError as error:
        click.echo(f"forecast: {error}", err=True)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        _let_go_of_unwritten()  # the reader of our output has gone (a pager was closed): nothing to say, nowhere to
    except OSError as error:
        where = f" {error.filename}" if error.filename else ""
        click.echo(f"forecast: cannot read or write{where}: {error.strerror or error}", err=True)
        click.echo("What to do: check the disk's space and the rights of files and folders", err=True)
        _let_go_of_unwritten()
        sys.exit(StorageError.exit_code)
    except Exception as error:  # noqa: BLE001 - the last door: a person gets a sentence, not a traceback
        if os.environ.get("FORECAST_DEBUG"):
            traceback.print_exc()
        click.echo(
            f"forecast: this is a fault of the program, not yours: {type(error).__name__}: {error}\n"
            "What to do: set FORECAST_DEBUG=1, run it again, and send what it prints with a note of what you did",
            err=True,
        )
        sys.exit(BUG)


def _let_go_of_unwritten() -> None:
    """Drop output that cannot be written: Python would try again on its way out, and end with its own code 120."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
