"""How a user's weather file is to be read: which column is which quantity, in which unit and time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError

from forecast.quantities import QUANTITIES, unit_suffix
from forecast.toml_file import known_zone, read_toml
from forecast.units import IMPORT_UNITS

CANONICAL_TIME = "hour_utc"
_WHOLE_STAMP = "must hold year, month, day and hour (%I with %p), and a zone as %z or not at all"
_AN_HOUR = datetime(2051, 7, 23, 13, tzinfo=UTC)  # after noon, so that a 12-hour clock without AM and PM shows


def whole_time_format(form: str) -> str:
    """A form of stamps from which date and hour can be read back, checked.

    Raises:
        ValueError: it cannot, or it has a zone's short name, of which several zones share one.
    """
    if not any(year in form for year in ("%Y", "%y", "%G", "%c", "%x")):  # else Python 3.13 warns of a day without one
        raise ValueError(_WHOLE_STAMP)
    try:
        read_back = datetime.strptime(_AN_HOUR.strftime(form), form).replace(tzinfo=UTC)
    except ValueError as error:
        raise ValueError(f"cannot be read back: {error}") from error
    if read_back != _AN_HOUR or "%Z" in form:
        raise ValueError(_WHOLE_STAMP)
    return form


class Column(BaseModel):
    """One column of the file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    column: str
    unit: str


class Mapping(BaseModel):
    """A mapping file.

    The stamps are read with ``time_format`` (``strptime`` letters; ISO 8601 when left out), in ``time_zone`` or
    at the fixed ``utc_offset_hours``; a stamp that names its own offset is taken at its word. ``label`` says which
    end of the hour a stamp names.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    schema_: Literal[1] = Field(alias="schema")
    time_column: str
    time_format: Annotated[str, AfterValidator(whole_time_format)] | None = None
    time_zone: Annotated[str, AfterValidator(known_zone)] | None = None
    utc_offset_hours: Annotated[float, Field(ge=-14, le=14)] | None = None
    label: Literal["start", "end"] = "end"
    delimiter: Literal[",", ";", "\t", "|"] = ","
    missing: tuple[str, ...] = ("", "NA", "NaN", "nan", "null")
    columns: dict[str, Column]

    @field_validator("columns")
    @classmethod
    def _known(cls, columns: dict[str, Column]) -> dict[str, Column]:
        mistakes = []
        for name, column in columns.items():
            if name not in QUANTITIES:
                mistakes.append(_mistake((name,), name, f"no such quantity; known are {', '.join(QUANTITIES)}"))
            elif column.unit not in (units := IMPORT_UNITS[unit_suffix(name)]):
                mistakes.append(_mistake((name, "unit"), column.unit, f"is not one of {', '.join(units)}"))
        if mistakes:
            raise ValidationError.from_exception_data(cls.__name__, mistakes)
        return columns

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.time_zone is None) == (self.utc_offset_hours is None):
            raise ValueError("give either time_zone or utc_offset_hours")
        return self

    def zone(self) -> tzinfo:
        """The zone that the stamps are in."""
        if self.time_zone is not None:
            return ZoneInfo(self.time_zone)
        return timezone(timedelta(hours=self.utc_offset_hours or 0.0))


def _mistake(place: tuple[str, ...], found: str, text: str) -> InitErrorDetails:
    """A mistake that keeps its place in the file; a plain ValueError would stand for all columns at once."""
    return InitErrorDetails(type=PydanticCustomError("column", "{text}", {"text": text}), loc=place, input=found)


def read_mapping(path: Path) -> Mapping:
    """A mapping from its TOML file.

    Raises:
        SettingsError: every mistake of the file, by line and key.
        MissingInputError: there is no such file.
    """
    return read_toml(path, Mapping)


def canonical_mapping(header: list[str]) -> Mapping:
    """The mapping of a file whose columns carry the vocabulary's own names."""
    columns = {
        name: Column(column=name, unit=next(iter(IMPORT_UNITS[unit_suffix(name)])))
        for name in header
        if name in QUANTITIES
    }
    return Mapping(schema=1, time_column=CANONICAL_TIME, utc_offset_hours=0, columns=columns)
