"""How a user's weather file is to be read: which column is which quantity, in which unit and time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Annotated, Any, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    field_validator,
    model_validator,
)
from pydantic_core import InitErrorDetails, PydanticCustomError

from forecast.ingest.logger.hourly import Way, default_way
from forecast.ingest.logger.wet_columns import RAW, RESISTANCE, WETNESS, Threshold
from forecast.quantities import QUANTITIES, READABLE, WORKED_OUT, Kind
from forecast.toml_file import known_zone, read_toml
from forecast.units import units_of

CANONICAL_TIME = "hour_utc"
EXCEL = "excel"  # days since 1899-12-30, as spreadsheets count them
UNIX = "unix"  # seconds since 1970-01-01T00:00Z
MISSING = ("", "NA", "N/A", "n/a", "NaN", "nan", "NAN", "null", "NULL", "None", "-", "--", "---")

# Nearer the ground the wind hangs on the turf's own roughness; higher than any mast at hand (house choice).
LEAST_HEIGHT_M, MOST_HEIGHT_M = 0.5, 100.0
WITH_HEIGHT = ("air_temperature_c", "dew_point_c", "relative_humidity_pct", "wind_speed_10m_m_s", "wind_gust_10m_m_s")

_WHOLE_STAMP = "must hold year, month, day and hour (%I with %p), and a zone as %z or not at all"
_AN_HOUR = datetime(2051, 7, 23, 13, tzinfo=UTC)  # after noon, so that a 12-hour clock without AM and PM shows


def whole_time_format(form: str) -> str:
    """A form of stamps from which date and hour can be read back, or one of the two counts of time, checked.

    Raises:
        ValueError: it cannot, or it has a zone's short name, of which several zones share one.
    """
    if form in (EXCEL, UNIX):
        return form
    if not any(year in form for year in ("%Y", "%y", "%G", "%c", "%x")):  # else Python 3.13 warns of a day without one
        raise ValueError(_WHOLE_STAMP)
    try:
        read_back = datetime.strptime(_AN_HOUR.strftime(form), form).replace(tzinfo=UTC)
    except ValueError as error:
        raise ValueError(f"cannot be read back: {error}") from error
    if read_back != _AN_HOUR or "%Z" in form:
        raise ValueError(_WHOLE_STAMP)
    return form


def _as_text(word: Any) -> Any:
    """A figure that stands for missing may be written with or without quotes."""
    return repr(word) if isinstance(word, (int, float)) and not isinstance(word, bool) else word


Word = Annotated[str, BeforeValidator(_as_text)]


class Column(BaseModel):
    """One column of the file.

    Attributes:
        column: its name in the header.
        unit: the unit its figures are in.
        reduce: how records shorter than an hour become one: ``mean``, ``instant`` (the reading at the stamp),
            ``sum``, ``max``, or ``cumulative`` (a counter that runs on); left out: sum for rain, max for gusts,
            mean for the rest.
        missing: what stands for no reading in this column, beside the words of the whole file.
        sensor_height_m: height above ground, for wind, temperature and humidity; left out: 10 m and 2 m.
        wet_from: for leaf wetness in ``counts`` or ``mV``: a figure at or above it counts as wet.
        wet_below: in its place, and always for ``kOhm``: a figure below it counts as wet.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    column: Annotated[str, AfterValidator(str.strip)]
    unit: str
    reduce: Way | None = None
    missing: tuple[Word, ...] = ()
    sensor_height_m: Annotated[float, Field(ge=LEAST_HEIGHT_M, le=MOST_HEIGHT_M)] | None = None
    wet_from: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    wet_below: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None

    def threshold(self) -> Threshold | None:
        """What parts wet from dry; None where the unit needs none."""
        if self.wet_below is not None:
            return Threshold(self.wet_below, wet_is_below=True)
        return None if self.wet_from is None else Threshold(self.wet_from, wet_is_below=False)


class Mapping(BaseModel):
    """A mapping file.

    Attributes:
        schema_: version of this form.
        encoding: the file's letters; left out: UTF-8, or UTF-16 where a byte order mark says so.
        delimiter: what stands between cells.
        decimal: the decimal mark; marks between thousands are refused.
        header_line: the line with the columns' names, from 1; left out: the first that holds all the names below.
        rows_after_header: lines below the header that hold units or the like, and no record.
        date_column: the column of the date, where it stands apart from the clock time.
        time_column: the column of stamps, or of clock times beside ``date_column``.
        time_format: ``strptime`` letters for the stamp (date and time with a space between them); ``excel`` for a
            spreadsheet's day numbers; ``unix`` for seconds since 1970; left out: ISO 8601.
        time_zone: the zone whose clocks the stamps follow, through summer time and winter time.
        utc_offset_hours: in place of ``time_zone``: a clock that is never changed. A stamp that names its own offset
            is taken at its word; where all do, neither is needed.
        label: which end of its interval a stamp names.
        step_minutes: length of a record; left out: the commonest distance between stamps.
        missing: what stands for no reading, beside :data:`MISSING`; figures are compared as figures.
        must_be_given: keys that may be left out elsewhere, but not from this file; a proposed mapping lists here what
            only a person can know. ``a|b`` is either of two.
        columns: the column of each quantity.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    schema_: Literal[1] = Field(alias="schema")
    encoding: Literal["utf-8", "utf-16-le", "utf-16-be", "latin-1", "cp1252"] | None = None
    delimiter: Literal[",", ";", "\t", "|"] = ","
    decimal: Literal[".", ","] = "."
    header_line: Annotated[int, Field(ge=1, le=10_000)] | None = None
    rows_after_header: Annotated[int, Field(ge=0, le=20)] = 0
    date_column: Annotated[str, AfterValidator(str.strip)] | None = None
    time_column: Annotated[str, AfterValidator(str.strip)]
    time_format: Annotated[str, AfterValidator(whole_time_format)] | None = None
    time_zone: Annotated[str, AfterValidator(known_zone)] | None = None
    utc_offset_hours: Annotated[float, Field(ge=-14, le=14)] | None = None
    label: Literal["start", "end"] = "end"
    step_minutes: Literal[1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60] | None = None
    missing: tuple[Word, ...] = ()
    must_be_given: tuple[str, ...] = ()
    columns: dict[str, Column]

    @field_validator("columns")
    @classmethod
    def _known(cls, columns: dict[str, Column]) -> dict[str, Column]:
        mistakes = [mistake for name, column in columns.items() for mistake in _column_mistakes(name, column)]
        if mistakes:
            raise ValidationError.from_exception_data(cls.__name__, mistakes)
        return columns

    @model_validator(mode="after")
    def _whole(self) -> Self:
        given = [key for key in ("time_zone", "utc_offset_hours") if getattr(self, key) is not None]
        if self.time_format == UNIX and given:
            raise ValueError(f"{UNIX} seconds are UTC by themselves; leave {given[0]} out")
        stamps_may_name_it = self.time_format in (None, UNIX) or "%z" in (self.time_format or "")
        if len(given) > 1 or not (given or stamps_may_name_it):
            raise ValueError("give either time_zone or utc_offset_hours")
        if self.date_column is not None and self.time_format in (EXCEL, UNIX):
            raise ValueError(f"date_column stands beside clock times, and {self.time_format} is one number")
        return self

    @model_validator(mode="after")
    def _answered(self) -> Self:
        open_keys = [keys for keys in self.must_be_given if not any(self._has(key) for key in keys.split("|"))]
        if open_keys:
            text = "not answered yet: fill the key in where the file asks for it"
            raise ValidationError.from_exception_data(
                type(self).__name__, [_mistake((*keys.split("|")[0].split("."),), "", text) for keys in open_keys]
            )
        return self

    def _has(self, key: str) -> bool:
        if not key.startswith("columns."):
            return key in self.model_fields_set
        _, name, field = f"{key}..".split(".")[:3]
        # a table that was taken out has nothing left to answer
        return name not in self.columns or field in self.columns[name].model_fields_set

    def zone(self) -> tzinfo | None:
        """The zone that the stamps are in; None where each has to name its own."""
        if self.time_zone is not None:
            return ZoneInfo(self.time_zone)
        if self.utc_offset_hours is not None:
            return timezone(timedelta(hours=self.utc_offset_hours))
        return None


def _column_mistakes(name: str, column: Column) -> list[InitErrorDetails]:
    if name not in QUANTITIES:
        return [_mistake((name,), name, f"no such quantity; known are {', '.join(READABLE)}")]
    if name not in READABLE:
        return [_mistake((name,), name, f"{WORKED_OUT}; leave it out")]
    mistakes = []
    units = units_of(name)
    if column.unit not in units:
        mistakes.append(_mistake((name, "unit"), column.unit, f"is not one of {', '.join(units)}"))
    is_amount = QUANTITIES[name].kind == Kind.AMOUNT
    if column.reduce is not None and is_amount != (column.reduce in ("sum", "cumulative")):
        fitting = "sum or cumulative" if is_amount else "mean, instant or max"
        mistakes.append(_mistake((name, "reduce"), column.reduce, f"{name} takes {fitting}"))
    if column.sensor_height_m is not None and name not in WITH_HEIGHT:
        text = f"has a meaning for {', '.join(WITH_HEIGHT)} only"
        mistakes.append(_mistake((name, "sensor_height_m"), str(column.sensor_height_m), text))
    return [*mistakes, *_threshold_mistakes(name, column)]


def _threshold_mistakes(name: str, column: Column) -> list[InitErrorDetails]:
    """A bare figure of wetness has one threshold beside it, and nothing else has any."""
    given = {key: getattr(column, key) for key in ("wet_from", "wet_below") if getattr(column, key) is not None}
    if name != WETNESS or column.unit not in RAW:
        text = f"has a meaning for {WETNESS} in {', '.join(RAW)} only"
        return [_mistake((name, key), f"{figure:g}", text) for key, figure in given.items()]
    if "wet_from" in given and column.unit == RESISTANCE:
        text = "a wet leaf has less resistance than a dry one: say wet_below in its place"
        return [_mistake((name, "wet_from"), f"{given['wet_from']:g}", text)]
    if len(given) > 1:
        text = "stands beside wet_from, and one of the two parts wet from dry: leave the other out"
        return [_mistake((name, "wet_below"), f"{given['wet_below']:g}", text)]
    if given:
        return []
    if column.unit == RESISTANCE:
        text = f"needed beside {RESISTANCE}: the figure below which the sensor counts as wet, by its manual"
        return [_mistake((name, "wet_below"), "", text)]
    text = f"needed beside {column.unit}: the figure from which on the sensor counts as wet, by its manual"
    return [_mistake((name, "wet_from"), "", f"{text}; or wet_below, where wet reads lower than dry")]


def _mistake(place: tuple[str, ...], found: str, text: str) -> InitErrorDetails:
    """A mistake that keeps its place in the file; a plain ValueError would stand for all columns at once."""
    kind = PydanticCustomError("column", "{text}", {"text": text})
    # a value that is not there is not quoted as found
    return InitErrorDetails(type=kind, loc=place, input=found or {})


def read_mapping(path: Path) -> Mapping:
    """A mapping from its TOML file.

    Raises:
        SettingsError: every mistake of the file, by line and key.
        MissingInputError: there is no such file.
    """
    return read_toml(path, Mapping)


def canonical_mapping(header: list[str]) -> Mapping:
    """The mapping of a file whose columns carry the vocabulary's own names."""
    columns = {name: Column(column=name, unit=units_of(name)[0]) for name in header if name in READABLE}
    return Mapping(schema=1, header_line=1, time_column=CANONICAL_TIME, utc_offset_hours=0, columns=columns)


def ways_of(mapping: Mapping) -> dict[str, Way]:
    """Per quantity, how its records become an hour's figure."""
    return {name: column.reduce or default_way(name) for name, column in mapping.columns.items()}
