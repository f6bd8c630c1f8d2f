"""How a user's weather file is to be read: which column is which quantity, in which unit and time."""

from __future__ import annotations

from datetime import timedelta, timezone, tzinfo
from pathlib import Path
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from forecast.quantities import QUANTITIES, unit_suffix
from forecast.toml_file import known_zone, read_toml
from forecast.units import IMPORT_UNITS

CANONICAL_TIME = "hour_utc"


class Column(BaseModel):
    """One column of the file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    column: str
    unit: str


class Mapping(BaseModel):
    """A mapping file.

    The stamps are read with ``time_format`` (``strptime`` letters; ISO 8601 when left out), in ``time_zone`` or
    at the fixed ``utc_offset_hours``. ``label`` says which end of the hour a stamp names.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    schema_: Literal[1] = Field(alias="schema")
    time_column: str
    time_format: str | None = None
    time_zone: Annotated[str, AfterValidator(known_zone)] | None = None
    utc_offset_hours: Annotated[float, Field(ge=-14, le=14)] | None = None
    label: Literal["start", "end"] = "end"
    delimiter: Annotated[str, Field(min_length=1, max_length=1)] = ","
    missing: tuple[str, ...] = ("", "NA", "NaN", "nan", "null")
    columns: dict[str, Column]

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.time_zone is None) == (self.utc_offset_hours is None):
            raise ValueError("give either time_zone or utc_offset_hours")
        if not self.columns:
            raise ValueError("columns: at least one quantity is needed")
        for name, column in self.columns.items():
            if name not in QUANTITIES:
                raise ValueError(f"columns.{name}: no such quantity; known are {', '.join(QUANTITIES)}")
            units = IMPORT_UNITS[unit_suffix(name)]
            if column.unit not in units:
                raise ValueError(f"columns.{name}: unit {column.unit!r} is not one of {', '.join(units)}")
        return self

    def zone(self) -> tzinfo:
        """The zone that the stamps are in."""
        if self.time_zone is not None:
            return ZoneInfo(self.time_zone)
        return timezone(timedelta(hours=self.utc_offset_hours or 0.0))


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
