"""What can go wrong, grouped by who can mend it, and notices: trouble that is data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

FAULTS_SHOWN = 20  # a longer list hides the first mistake; the count of the rest is printed


@dataclass(frozen=True, slots=True)
class Fault:
    """One mistake in a file: where it stands and what is wrong.

    Attributes:
        text: what is wrong and what was allowed.
        line: line in the file, counted from 1; 0 when the file as a whole is meant.
        column: name of the column or key; empty when the line as a whole is meant.
    """

    text: str
    line: int = 0
    column: str = ""

    def __str__(self) -> str:
        """The fault in one line, position first."""
        place = [f"line {self.line}"] if self.line else []
        place += [self.column] if self.column else []
        return f"{', '.join(place)}: {self.text}" if place else self.text


class ForecastError(Exception):
    """Something a person can mend; the subclasses say who, and carry the exit code.

    Attributes:
        what: what happened, in a sentence.
        hint: what to do next.
        faults: every mistake found in the file, in order.
    """

    exit_code = 70

    def __init__(self, what: str, *, hint: str = "", faults: Sequence[Fault] = ()) -> None:
        super().__init__(what)
        self.what = what
        self.hint = hint
        self.faults = tuple(faults)

    def __str__(self) -> str:
        """The whole message: what, every fault (the first twenty), what to do."""
        lines = [self.what]
        lines += [f"  {fault}" for fault in self.faults[:FAULTS_SHOWN]]
        if len(self.faults) > FAULTS_SHOWN:
            lines.append(f"  … and {len(self.faults) - FAULTS_SHOWN} more")
        if self.hint:
            lines.append(f"What to do: {self.hint}")
        return "\n".join(lines)


class SettingsError(ForecastError):
    """The owner's settings are wrong, or the workspace was made by a newer version."""

    exit_code = 78


class OlderWorkspaceError(SettingsError):
    """The workspace was made by an older version; upgrading it is all it needs."""


class DataError(ForecastError):
    """A weather file or a record holds something that cannot be right."""

    exit_code = 65


class MissingInputError(ForecastError):
    """A file, a workspace or a series of hours that is needed is not there."""

    exit_code = 66


class SourceDownError(ForecastError):
    """A weather source cannot be reached and nothing usable is at hand."""

    exit_code = 69


class CannotWriteError(ForecastError):
    """A file cannot be created where it was asked for."""

    exit_code = 73


class StorageError(ForecastError):
    """The disk is full or fails; what stood before still stands."""

    exit_code = 74


class BusyError(ForecastError):
    """Another process holds the workspace; try again."""

    exit_code = 75


@dataclass(frozen=True, slots=True)
class Notice:
    """Trouble that is data: it travels beside the results and is printed at the foot of the page.

    Attributes:
        text: one sentence for the reader.
        series: the weather series it concerns; empty when it concerns all.
        quantity: the quantity it concerns; empty when it concerns all.
        grave: True when it can change an answer.
    """

    text: str
    series: str = ""
    quantity: str = ""
    grave: bool = False
