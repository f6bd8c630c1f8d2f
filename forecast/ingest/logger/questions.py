"""What a proposed mapping asks a person: the keys of answers, questions, and what has been answered."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType

from forecast.errors import SettingsError
from forecast.ingest.logger.cells import nearest
from forecast.ingest.logger.soil_columns import SOIL
from forecast.ingest.logger.wet_columns import WETNESS
from forecast.quantities import QUANTITIES, READABLE, WORKED_OUT

NONE = "none"  # an answer: no column holds this quantity
# Soil has a key of its own: an answer goes before what the file shows, and would turn a named unit of the air.
UNIT_KEYS = MappingProxyType(
    {
        "air_temperature_c": "temperature_unit",
        "dew_point_c": "temperature_unit",
        "relative_humidity_pct": "humidity_unit",
        "rain_mm": "rain_unit",
        "wind_speed_10m_m_s": "wind_unit",
        "wind_gust_10m_m_s": "wind_unit",
        "shortwave_down_w_m2": "radiation_unit",
        WETNESS: "wetness_unit",
        **dict.fromkeys(SOIL, "soil_unit"),
        "snow_depth_mm": "snow_unit",
    }
)
KEYS = (
    "time_zone",
    "label",
    "date_order",
    "time_column",
    "decimal",
    *dict.fromkeys(UNIT_KEYS.values()),
    "rain_reduce",
    "wind_height_m",
    "wet_from",
    "wet_below",
    *UNIT_KEYS,
)


@dataclass(frozen=True, slots=True)
class Question:
    """What a file cannot show.

    Attributes:
        key: the name its answer goes by.
        text: the question.
        choices: the answers there are; empty where any of a kind will do.
        hint: what the file makes likely; empty where it makes nothing so.
    """

    key: str
    text: str
    choices: tuple[str, ...] = ()
    hint: str = ""

    def __str__(self) -> str:
        """The question in one line, its key first."""
        choices = f" One of: {', '.join(self.choices)}." if self.choices else ""
        hint = f" Hint: {self.hint}." if self.hint else ""
        return f"{self.key}: {self.text}{choices}{hint}"


@dataclass(slots=True)
class Asked:
    """Answers given, and questions still open."""

    answers: dict[str, str]
    open: list[Question] = field(default_factory=list)

    def __post_init__(self) -> None:
        for key in self.answers:
            if key in QUANTITIES and key not in READABLE:
                raise SettingsError(f"{key}: {WORKED_OUT}", hint="leave the answer out")
            if key not in KEYS:
                near = nearest(key, KEYS)
                hint = f"did you mean {near}?" if near else f"known are {', '.join(KEYS)}"
                raise SettingsError(f"nothing is asked by the name {key!r}", hint=hint)

    def answer(self, question: Question, found: str | None = None) -> str | None:
        """The answer given, else what the file shows; None, and the question stays open, where there is neither."""
        given = self.answers.get(question.key)
        if given is not None:
            if question.choices and given not in question.choices:
                hint = f"choices are {', '.join(question.choices)}"
                raise SettingsError(f"{question.key} cannot be {given!r}", hint=hint)
            return given
        if found is None and question.key not in {asked.key for asked in self.open}:
            self.open.append(question)
        return found
