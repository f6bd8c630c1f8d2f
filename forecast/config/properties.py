"""``properties.csv``: a row an area, grouped by property."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, ValidationError, model_validator

from forecast.between import Where
from forecast.canopy.surroundings import surroundings
from forecast.config.cells import (
    DAYS,
    ClockTime,
    Diseases,
    Share,
    Sides,
    Site,
    SoilTexture,
    SurroundingsWords,
    Weekdays,
)
from forecast.config.forms import Form, PlainId, known_grass
from forecast.errors import Fault, MissingInputError, SettingsError
from forecast.turf import DISEASES, SIDES, Area, DewRemoval, Ground, Irrigation, Setting
from forecast.turf.area import Cultivar, Drainage, Nitrogen
from forecast.turf.setting import Density
from forecast.units import M2_PER_SQ_FT, MM_PER_IN


@dataclass(frozen=True, slots=True)
class Place:
    """Where weather is reckoned: a station, or a property's own ground."""

    name: str
    where: Where


SHADE = ("light_let_through_fraction", "sky_seen_fraction", "wind_let_through_fraction", "shaded_from")
EITHER_UNIT = (
    ("size_sq_ft", "size_m2"),
    ("mowing_height_mm", "mowing_height_in"),
    ("irrigation_depth_mm", "irrigation_depth_in"),
    ("rooting_depth_mm", "rooting_depth_in"),
)


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
    site: Site = ""
    size_sq_ft: Annotated[float, Field(gt=0, le=1e8)] | None = None
    size_m2: Annotated[float, Field(gt=0, le=1e7)] | None = None
    surroundings: SurroundingsWords | None = None
    light_let_through_fraction: Share = 1.0
    sky_seen_fraction: Share = 1.0
    wind_let_through_fraction: Share = 1.0
    shaded_from: Sides = ""
    mowing_height_mm: Annotated[float, Field(gt=0, le=300)] | None = None
    mowing_height_in: Annotated[float, Field(gt=0, le=12)] | None = None
    density: Density = "usual"
    irrigation_days: Weekdays = ""
    irrigation_start: ClockTime | None = None
    irrigation_depth_mm: Annotated[float, Field(gt=0, le=100)] | None = None
    irrigation_depth_in: Annotated[float, Field(gt=0, le=4)] | None = None
    dew_removal_days: Weekdays = ""
    dew_removal_at: ClockTime | None = None
    soil_texture: SoilTexture | None = None
    rooting_depth_mm: Annotated[float, Field(gt=0, le=2000)] | None = None
    rooting_depth_in: Annotated[float, Field(gt=0, le=80)] | None = None
    drainage: Drainage | None = None
    compacted: Literal["yes", "no"] | None = None
    thatch_mm: Annotated[float, Field(ge=0, le=100)] | None = None
    nitrogen: Nitrogen | None = None
    cultivar: Cultivar | None = None
    diseases_had: Diseases = ""
    label: str = ""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        for pair in EITHER_UNIT:
            if self._given(*pair) == 2:
                raise ValueError(f"give either {' or '.join(pair)}")
        if not self._given("size_sq_ft", "size_m2"):
            raise ValueError("give either size_sq_ft or size_m2")
        own_place = self._given("latitude_deg", "longitude_deg", "elevation_m")
        if own_place not in (0, 3):
            raise ValueError("a place of its own needs latitude_deg, longitude_deg and elevation_m together")
        if self.station_id is None and not own_place:
            raise ValueError("give a station_id, or latitude_deg, longitude_deg and elevation_m")
        depth = self._given("irrigation_depth_mm", "irrigation_depth_in")
        if self._given("irrigation_days", "irrigation_start") + depth not in (0, 3):
            raise ValueError("irrigation needs days, start and depth together")
        if self._given("dew_removal_days", "dew_removal_at") == 1:
            raise ValueError("the removal of dew needs dew_removal_days and dew_removal_at together")
        return self

    @model_validator(mode="after")
    def _shade_said_once(self) -> Self:
        beside = [name for name in SHADE if name in self.model_fields_set]
        if self.surroundings is not None and beside:
            raise ValueError(f"give either surroundings or numbers of your own: empty it, or {', '.join(beside)}")
        if self.shaded_from and self.light_let_through_fraction == 1:
            raise ValueError("shaded_from needs light_let_through_fraction below 1: what the shade there lets through")
        return self

    @model_validator(mode="after")
    def _diseases_fit_the_grass(self) -> Self:
        for key in self.diseases_had.split():
            if self.grass not in DISEASES[key].grasses:
                known = ", ".join(one.key for one in DISEASES.values() if self.grass in one.grasses)
                raise ValueError(f"{key} is not looked for on {self.grass}; known there are {known}")
        return self

    def _given(self, *names: str) -> int:
        """How many of some fields hold a value."""
        return sum(getattr(self, name) not in (None, "") for name in names)

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

    @property
    def setting(self) -> Setting:
        """What changes the weather at its turf; a height of cut left out is the usual one of :class:`Setting`."""
        shade: dict[str, Any]
        if self.surroundings is not None:
            told = surroundings(self.surroundings)
            shade = {name: getattr(told, name) for name in SHADE}
        else:
            shade = {name: getattr(self, name) for name in SHADE}
            shade["shaded_from"] = tuple(side for side in SIDES if side in self.shaded_from.split())
        height_mm = _mm(self.mowing_height_mm, self.mowing_height_in)
        if height_mm is not None:
            shade["mowing_height_mm"] = height_mm
        return Setting(**shade, density=self.density, irrigation=self._irrigation(), dew_removal=self._dew_removal())

    def _irrigation(self) -> Irrigation | None:
        depth_mm = _mm(self.irrigation_depth_mm, self.irrigation_depth_in)
        if self.irrigation_start is None or depth_mm is None:
            return None
        return Irrigation(_day_numbers(self.irrigation_days), self.irrigation_start, depth_mm)

    def _dew_removal(self) -> DewRemoval | None:
        if self.dew_removal_at is None:
            return None
        return DewRemoval(_day_numbers(self.dew_removal_days), self.dew_removal_at)

    @property
    def ground(self) -> Ground:
        """What lies under it and how it is kept."""
        return Ground(
            self.soil_texture,
            _mm(self.rooting_depth_mm, self.rooting_depth_in),
            self.drainage,
            None if self.compacted is None else self.compacted == "yes",
            self.thatch_mm,
            self.nitrogen,
            self.cultivar,
        )

    def frozen(self) -> Area:
        """The area as the middle reads it."""
        return Area(
            area_id=self.area_id,
            area_name=self.area_name,
            property_id=self.property_id,
            property_name=self.property_name,
            place_id=self.place_id,
            grass=self.grass,
            size_m2=self.size_m2 if self.size_m2 is not None else (self.size_sq_ft or 0.0) * M2_PER_SQ_FT,
            setting=self.setting,
            ground=self.ground,
            diseases_had=tuple(self.diseases_had.split()),
            label=self.label,
            site=self.site,
        )


def _mm(in_mm: float | None, in_inches: float | None) -> float | None:
    return in_inches * MM_PER_IN if in_inches is not None else in_mm


def _day_numbers(text: str) -> tuple[int, ...]:
    """Weekdays by number, each once and in order, so that settings that mean the same are the same."""
    return tuple(number for number, day in enumerate(DAYS) if day in text.split())


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
    faults = _header_faults([name.strip() for name in reader.fieldnames or []])
    reader.fieldnames = [name.strip() for name in reader.fieldnames or []]
    areas: list[Area] = []
    places: dict[str, Place] = {}
    for row in reader if not faults else ():
        if not any(row.values()):
            continue  # a row of commas, as spreadsheets leave behind
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


def _header_faults(header: list[str]) -> list[Fault]:
    if len(header) == 1 and (";" in header[0] or "\t" in header[0]):
        return [Fault("cells are separated by commas in this file; save it as CSV with commas", 1)]
    faults = [
        Fault(f"no such column{_near(name, AreaRow.model_fields)}", 1, name)
        for name in header
        if name not in AreaRow.model_fields
    ]
    faults += [Fault("stands twice", 1, name) for name in sorted({name for name in header if header.count(name) > 1})]
    needed = [name for name, field in AreaRow.model_fields.items() if field.is_required()]
    return faults + [Fault("missing", 1, name) for name in needed if name not in header]


def _row_of(
    row: Mapping[str | None, str | list[str] | None],
    line: int,
    stations: set[str],
    labels: set[str],
    seen: set[str],
) -> tuple[list[Fault], AreaRow | None]:
    if None in row:
        return [Fault("more cells than the header has", line)], None
    cells = {name: value.strip() if isinstance(value, str) else value for name, value in row.items()}
    given = {name: value for name, value in cells.items() if value not in ("", None)}
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
    if detail["type"] == "missing":
        message = "this cell has to be filled"
    elif detail["loc"]:
        message = f"{message} (found {detail['input']!r})"
    return Fault(message, line, ".".join(map(str, detail["loc"])))


def _near(name: str, known: Mapping[str, object]) -> str:
    near = difflib.get_close_matches(name, known, n=1)
    return f"; did you mean {near[0]!r}?" if near else ""
