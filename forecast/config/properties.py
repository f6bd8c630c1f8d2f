"""``properties.csv``: a row an area, grouped by property."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, ValidationError, field_validator, model_validator

from forecast.between import Where
from forecast.config.forms import Form, PlainId, known_disease, known_grass
from forecast.errors import Fault, MissingInputError, SettingsError
from forecast.turf import Area, Irrigation
from forecast.units import M2_PER_SQ_FT

_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class Place:
    """Where weather is reckoned: a station, or a property's own ground."""

    name: str
    where: Where


class AreaRow(Form):
    """One row of ``properties.csv``; an empty cell is a value left out."""

    property_id: PlainId
    property_name: str
    area_id: PlainId
    area_name: str
    station_id: PlainId | None = None
    latitude_deg: Annotated[float, Field(ge=-90, le=90)] | None = None
    longitude_deg: Annotated[float, Field(ge=-180, le=180)] | None = None
    elevation_m: Annotated[float, Field(ge=-500, le=9000)] | None = None
    grass: Annotated[str, AfterValidator(known_grass)]
    size_sq_ft: Annotated[float, Field(gt=0)] | None = None
    size_m2: Annotated[float, Field(gt=0)] | None = None
    light_let_through_fraction: Annotated[float, Field(ge=0, le=1)] = 1.0
    sky_seen_fraction: Annotated[float, Field(ge=0, le=1)] = 1.0
    wind_let_through_fraction: Annotated[float, Field(ge=0, le=1)] = 1.0
    mowing_height_mm: Annotated[float, Field(gt=0, le=300)] | None = None
    irrigation_days: str = ""
    irrigation_start: time | None = None
    irrigation_depth_mm: Annotated[float, Field(gt=0, le=100)] | None = None
    diseases_had: str = ""
    label: str = ""

    @field_validator("irrigation_days")
    @classmethod
    def _weekdays(cls, text: str) -> str:
        for day in text.split():
            if day not in _DAYS:
                raise ValueError(f"{day!r} is no weekday; write {' '.join(_DAYS)}")
        return text

    @field_validator("diseases_had")
    @classmethod
    def _diseases(cls, text: str) -> str:
        for key in text.split():
            known_disease(key)
        return text

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.size_sq_ft is None) == (self.size_m2 is None):
            raise ValueError("give either size_sq_ft or size_m2")
        own_place = [self.latitude_deg is not None, self.longitude_deg is not None, self.elevation_m is not None]
        if any(own_place) and not all(own_place):
            raise ValueError("a place of its own needs latitude_deg, longitude_deg and elevation_m together")
        if self.station_id is None and not all(own_place):
            raise ValueError("give a station_id, or latitude_deg, longitude_deg and elevation_m")
        watered = [
            bool(self.irrigation_days),
            self.irrigation_start is not None,
            self.irrigation_depth_mm is not None,
        ]
        if any(watered) and not all(watered):
            raise ValueError("irrigation needs days, start and depth together")
        return self

    @property
    def place_id(self) -> str:
        """Where its weather is reckoned: its own place where it has one, else its station."""
        if self.latitude_deg is None or self.longitude_deg is None:
            return self.station_id or ""
        return f"{self.latitude_deg:.4f},{self.longitude_deg:.4f},{self.elevation_m or 0.0:.0f}"

    @property
    def own_place(self) -> Place | None:
        """The place of its own, if it has one."""
        if self.latitude_deg is None or self.longitude_deg is None or self.elevation_m is None:
            return None
        return Place(self.property_name, Where(self.latitude_deg, self.longitude_deg, self.elevation_m))

    def frozen(self) -> Area:
        """The area as the middle reads it."""
        irrigation = None
        if self.irrigation_start is not None and self.irrigation_depth_mm is not None:
            days = tuple(_DAYS.index(day) for day in self.irrigation_days.split())
            irrigation = Irrigation(days, self.irrigation_start, self.irrigation_depth_mm)
        size = self.size_m2 if self.size_m2 is not None else (self.size_sq_ft or 0.0) * M2_PER_SQ_FT
        return Area(
            self.area_id,
            self.area_name,
            self.property_id,
            self.property_name,
            self.place_id,
            self.grass,
            size,
            self.light_let_through_fraction,
            self.sky_seen_fraction,
            self.wind_let_through_fraction,
            self.mowing_height_mm,
            irrigation,
            tuple(self.diseases_had.split()),
            self.label,
        )


def read_areas(path: Path, stations: set[str], labels: set[str]) -> tuple[tuple[Area, ...], dict[str, Place]]:
    """The areas of a workspace, and the places of their own that some have, by place id.

    Args:
        path: ``properties.csv``.
        stations: ids that ``grounds.toml`` knows.
        labels: keys that ``labels.toml`` knows.

    Raises:
        MissingInputError: there is no such file.
        SettingsError: it cannot be read; or every mistake of the file, by line and column.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise MissingInputError(f"{path} is not there", hint="a row an area; see the README") from None
    except OSError as error:
        raise SettingsError(f"{path} cannot be read: {error.strerror}", hint="check the file's rights") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path} is not UTF-8 text", hint="save it as CSV UTF-8") from error
    reader = csv.DictReader(io.StringIO(text))
    header = reader.fieldnames or []
    faults = [
        Fault(f"no such column{_near(name, AreaRow.model_fields)}", 1, name)
        for name in header
        if name not in AreaRow.model_fields
    ]
    needed = [name for name, field in AreaRow.model_fields.items() if field.is_required()]
    faults += [Fault("missing", 1, name) for name in needed if name not in header]
    areas: list[Area] = []
    places: dict[str, Place] = {}
    for row in reader if not faults else ():
        found, form = _row_of(row, reader.line_num, stations, labels, {area.area_id for area in areas})
        faults += found
        if form is not None:
            areas.append(form.frozen())
            if form.own_place is not None:
                places.setdefault(form.place_id, form.own_place)
    if faults or not areas:
        what = f"{path} has {len(faults)} mistake(s)" if faults else f"{path} has no area"
        raise SettingsError(what, faults=faults, hint="mend the lines named; the README explains every column")
    return tuple(areas), places


def _row_of(
    row: Mapping[str | None, str | list[str] | None],
    line: int,
    stations: set[str],
    labels: set[str],
    seen: set[str],
) -> tuple[list[Fault], AreaRow | None]:
    if None in row:
        return [Fault("more cells than the header has", line)], None
    given = {name: value for name, value in row.items() if value not in ("", None)}
    try:
        form = AreaRow.model_validate(given)
    except ValidationError as error:
        return [_fault(detail, line) for detail in error.errors()], None
    faults = []
    if form.station_id is not None and form.station_id not in stations:
        faults.append(Fault(f"no station {form.station_id!r} in grounds.toml", line, "station_id"))
    if form.label and form.label not in labels:
        faults.append(Fault(f"no label {form.label!r} in labels.toml", line, "label"))
    if form.area_id in seen:
        faults.append(Fault(f"area {form.area_id!r} stands in an earlier line", line, "area_id"))
    return faults, None if faults else form


def _fault(detail: Any, line: int) -> Fault:
    message = detail["msg"].removeprefix("Value error, ")
    if detail["loc"] and detail["type"] != "missing":
        message = f"{message} (found {detail['input']!r})"
    return Fault(message, line, ".".join(map(str, detail["loc"])))


def _near(name: str, known: Mapping[str, object]) -> str:
    near = difflib.get_close_matches(name, known, n=1)
    return f"; did you mean {near[0]!r}?" if near else ""
