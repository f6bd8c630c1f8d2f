"""Which calibration holds for an event on a morning: the workspace's own if fitted by then, else the shipped one."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypedDict

from forecast.config import Settings
from forecast.diseases.events import Event
from forecast.errors import DataError, Notice
from forecast.outlook.calibration import Calibration, Source, untested

OWN_FILE = "calibration.json"
SHIPPED = Path(__file__).with_name("shipped_calibration.json")
FORMAT = 1


class Fit(TypedDict):
    """One fit as the file holds it."""

    fitted_utc: str
    tables: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Calibrations:
    """Calibrations by event and source.

    Attributes:
        tables: by :func:`key`.
    """

    tables: Mapping[str, Calibration]

    def of(self, event: Event, source: Source) -> Calibration:
        """For an event whose members follow a source.

        Where none was fitted for it, that of the most of its models which share one; without that, members at their
        word for a few days.
        """
        wanted = {model.key for model in event.deciding}
        near = [(len(some), name) for some, name in self._models(source) if some <= wanted]
        if not near:
            return untested(source)
        count, name = max(near)
        found = self.tables[name]
        if count == len(wanted):
            return found
        return replace(found, made=f"{found.made}; fitted for {count} of the {len(wanted)} models that decide here")

    def _models(self, source: Source) -> list[tuple[set[str], str]]:
        ending = f" by {source}"
        return [(set(name.removesuffix(ending).split("+")), name) for name in self.tables if name.endswith(ending)]


def key(event: Event, source: Source) -> str:
    """An event is known by the models that decide it, whatever the grass."""
    return f"{'+'.join(model.key for model in event.deciding)} by {source}"


def calibrations(settings: Settings, known_by: str) -> Calibrations:
    """What held at a moment.

    Args:
        settings: the workspace's.
        known_by: UTC, as records write it; a fit made later does not count, so that replays tell what was told.

    Raises:
        DataError: the workspace's file cannot be read.
    """
    tables = _shipped()
    path = own_file(settings)
    if path.exists():
        fits = [fit for fit in read_fits(path) if fit["fitted_utc"] <= known_by]
        for fit in sorted(fits, key=lambda one: one["fitted_utc"]):
            tables |= _tables(fit["tables"])
    return Calibrations(tables)


def calibrations_or_shipped(settings: Settings, known_by: str) -> tuple[Calibrations, list[Notice]]:
    """The same; where the workspace's file is damaged the shipped ones stand, with a notice: pages must not stop."""
    try:
        return calibrations(settings, known_by), []
    except DataError as error:
        return Calibrations(_shipped()), [Notice(f"{error.what}; the shipped weights stand; {error.hint}", grave=True)]


def _shipped() -> dict[str, Calibration]:
    return _tables(json.loads(SHIPPED.read_text(encoding="utf-8"))["tables"])


def own_file(settings: Settings) -> Path:
    """Where a workspace keeps its own."""
    return settings.database_path.parent / OWN_FILE


def read_fits(path: Path) -> list[Fit]:
    """The fits of a workspace, each with its moment and its tables.

    Raises:
        DataError: it is no such file.
    """
    hint = "delete it and fit again with 'forecast verify --keep'"
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        fits: list[Fit] = [
            {"fitted_utc": str(fit["fitted_utc"]), "tables": dict(fit["tables"])} for fit in told["fits"]
        ]
        _ = [_tables(fit["tables"]) for fit in fits]
    except (ValueError, KeyError, TypeError, OSError) as error:
        raise DataError(f"{path} cannot be read: {error}", hint=hint) from error
    if told.get("format") != FORMAT:
        raise DataError(f"{path} was written by another version", hint=hint)
    return fits


def with_fit(fits: list[Fit], fitted_utc: str, tables: Mapping[str, Calibration]) -> str:
    """The file's text with one more fit; earlier ones stay for replays."""
    made: Fit = {"fitted_utc": fitted_utc, "tables": {name: one.plain() for name, one in sorted(tables.items())}}
    return json.dumps({"format": FORMAT, "fits": [*fits, made]}, indent=1, ensure_ascii=False) + "\n"


def _tables(plain: Mapping[str, Any]) -> dict[str, Calibration]:
    return {name: Calibration.of_plain(one) for name, one in plain.items()}
