"""How methods agree with a leaf wetness sensor, as plain values, and as text: the answer, the table, what it means."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from forecast.report.lines import wrapped
from forecast.report.words import NBSP, distance_words, percent
from forecast.wetness.published import (
    IN_CANOPY_SOURCE,
    RESOLVED_H_DAY,
    RESOLVED_SOURCE,
    SENSOR_PLACE_SOURCE,
    Published,
)
from forecast.wetness.skill import (
    LEAST_NIGHTS,
    RESAMPLES,
    TARGET_ERROR_H_DAY,
    TARGET_FRACTION_CORRECT,
    Score,
    Skill,
)

# House choice: leaves are dry for part of nearly every day and wet for part of many; a sensor that says otherwise is
# stuck, broken, or read with a wrong threshold.
STUCK_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class MethodAgreement:
    """One method against the sensor.

    Attributes:
        method: its key.
        skill: the figures.
        behind_h_day: by how much the error of its day is larger than the best method's; None for the best itself, and
            where no day is known.
    """

    method: str
    skill: Skill
    behind_h_day: Score | None

    @property
    def is_as_good(self) -> bool:
        """Whether it cannot be told from the best: nearer than a sensor resolves, or by too few nights to say."""
        gap = self.behind_h_day
        return gap is None or gap.value is None or gap.low is None or gap.value < RESOLVED_H_DAY or gap.low <= 0

    @property
    def reaches_target(self) -> bool:
        """Whether hours right and the error of a day reach what this program aims at."""
        right, size = self.skill.fraction_correct.value, self.skill.mean_absolute_error_h_day.value
        return (
            right is not None and size is not None and right >= TARGET_FRACTION_CORRECT and size <= TARGET_ERROR_H_DAY
        )


@dataclass(frozen=True, slots=True)
class SensorReport:
    """A leaf wetness sensor and what it says of the methods.

    Attributes:
        station_id, station_name: where its values are kept.
        distance_km: from the place of the area.
        height_difference_m: how much higher it stands.
        nearness: how far it can speak for the area; ``on_site``, ``good``, ``fair`` or ``poor``.
        hours: that it and every method compared know.
        nights: noon to noon, that hold any of them.
        days: nights with at least 22 of them.
        first_night, last_night: the first and the last night; None without an hour.
        sensor_wet_h_day: its own wet hours on these days.
        sensor_wet_share: share of the hours that it calls wet.
        first_in_draws: share of the draws of nights in which the best method alone is the best; None where unknown.
        agreement: the best method first.
        left_out: keys of methods that tell too few of its hours.
        draws: how many the intervals rest on.
        least_nights: with fewer there is no interval.
        published: what others found.
    """

    station_id: str
    station_name: str
    distance_km: float
    height_difference_m: float
    nearness: Literal["on_site", "good", "fair", "poor"]
    hours: int
    nights: int
    days: int
    first_night: date | None
    last_night: date | None
    sensor_wet_h_day: float | None
    sensor_wet_share: float | None
    first_in_draws: float | None
    agreement: tuple[MethodAgreement, ...]
    left_out: tuple[str, ...]
    draws: int
    least_nights: int
    published: tuple[Published, ...]


def method_words(key: str) -> str:
    """A method's key in words."""
    return key.replace("_", " ")


def sensor_answer(sensor: SensorReport, goes_by: str) -> str:
    """Which method agrees best, by how much, and how sure that is."""
    if not sensor.agreement:
        return f"The sensor of {sensor.station_name} has no hour that any method tells: nothing can be compared."
    best, *others = sensor.agreement
    first = f"Closest to the sensor of {sensor.station_name}: the {method_words(best.method)}"
    size = best.skill.mean_absolute_error_h_day
    if size.value is None:
        right = best.skill.fraction_correct
        return (
            f"{first}, with {_pct(right)} of its hours right{_interval(right, _bare_pct)}. No night has 22 hours of "
            "both, so wet hours a day are not compared."
        )
    parts = [f"{first}, {size.value:.1f}{NBSP}h a day off on average{_interval(size, _bare_h)}."]
    for one in others[:1]:
        gap = one.behind_h_day
        if gap is not None and gap.value is not None:
            parts.append(
                f"Next is the {method_words(one.method)}, {gap.value:.1f}{NBSP}h more{_interval(gap, _bare_h)}."
            )
    parts += [_sureness(sensor), _target(sensor), _advice(sensor, goes_by)]
    return " ".join(part for part in parts if part)


def _sureness(sensor: SensorReport) -> str:
    if sensor.days < LEAST_NIGHTS:
        return (
            f"That rests on {sensor.days} whole nights, too few to say how sure it is: no interval is told below "
            f"{LEAST_NIGHTS}."
        )
    if sensor.first_in_draws is None:
        return "No other method could be told, so there is nothing to set it against."
    drawn = f"It comes first in {percent(sensor.first_in_draws)} of {RESAMPLES:,} draws of these nights"
    level = [method_words(one.method) for one in sensor.agreement[1:] if one.is_as_good]
    if not level:
        return f"{drawn}, and every other is further off by more than the {RESOLVED_H_DAY:g} h a day a sensor resolves."
    return (
        f"{drawn}; but below about {RESOLVED_H_DAY:g}{NBSP}h a day a sensor resolves nothing, so take as equally good: "
        f"{_listed(level)}."
    )


def _target(sensor: SensorReport) -> str:
    aim = f"{TARGET_FRACTION_CORRECT:.0%} of hours right and {TARGET_ERROR_H_DAY:g} h a day off at most".replace(
        "%", f"{NBSP}%"
    )
    reaching = [method_words(one.method) for one in sensor.agreement if one.reaches_target]
    if not reaching:
        return f"No method reaches the aim of {aim} (house choice)."
    return f"The aim of {aim} (house choice) is reached by: {_listed(reaching)}."


def _advice(sensor: SensorReport, goes_by: str) -> str:
    best = sensor.agreement[0].method
    if goes_by == best:
        return "Pages go by this method."
    own = next((one for one in sensor.agreement if one.method == goes_by), None)
    if own is None:
        return f"Pages go by the {method_words(goes_by)}, which tells too few of the sensor's hours to be compared."
    if own.is_as_good:
        return f"Pages go by the {method_words(goes_by)}; nothing here asks for a change."
    return (
        f"Pages go by the {method_words(goes_by)}, which is clearly further off; to have them go by the first, set "
        f'wetness = "{best}" in grounds.toml.'
    )


# Heads of the table in three lines, and how wide each column is.
_COLUMNS: tuple[tuple[str, str, str, int], ...] = (
    ("hours", "right,", "%", 9),
    ("wet hours", "found,", "%", 11),
    ("called wet,", "but dry,", "%", 12),
    ("mean", "error,", "h a day", 14),
    ("its size,", "day by day,", "h a day", 12),
    ("days", "in 2 h,", "%", 8),
)
_NAME_LETTERS = 22


def sensor_lines(sensor: SensorReport, goes_by: str, *, us: bool) -> Iterator[str]:
    """The table, what it means, and what others found."""
    yield "AGAINST THE SENSOR (best first; * pages go by this one)"
    yield from wrapped(_which(sensor, us=us), 2)
    if sensor.agreement:
        yield ""
        for line in range(3):
            yield " " * _NAME_LETTERS + "".join(f"{head[line]:>{head[3]}}" for head in _COLUMNS)
        for one in sensor.agreement:
            yield from _rows(one, goes_by)
        yield ""
    if sensor.left_out:
        told = _listed([method_words(key) for key in sensor.left_out])
        yield from wrapped(f"Not compared, since they tell too few of the sensor's hours: {told}.", 2, 2)
    for text in _meaning(sensor):
        yield from wrapped(text, 2, 2)
    yield ""
    yield "WHAT OTHERS FOUND"
    for found in sensor.published:
        yield from wrapped(_published(found), 2, 2)


def _which(sensor: SensorReport, *, us: bool) -> str:
    away = distance_words(sensor.distance_km, sensor.height_difference_m, us=us)
    told = f"{sensor.station_name} ({sensor.station_id}), {away}: {sensor.hours:,} hours of {sensor.nights:,} nights"
    if sensor.first_night is not None:
        told += f", {sensor.first_night} to {sensor.last_night}, {sensor.days:,} of them whole"
    if sensor.sensor_wet_h_day is not None:
        told += f"; the sensor was wet {sensor.sensor_wet_h_day:.1f}{NBSP}h a day"
    return f"{told}."


def _rows(one: MethodAgreement, goes_by: str) -> Iterator[str]:
    skill = one.skill
    cells: Sequence[tuple[Score, Callable[[float], str], str]] = (
        (skill.fraction_correct, _bare_pct, "-"),
        (skill.hit_rate, _bare_pct, "-"),
        (skill.false_alarm_ratio, _bare_pct, "-"),
        (skill.mean_error_h_day, _signed_h, " to "),
        (skill.mean_absolute_error_h_day, _bare_h, "-"),
        (skill.days_within_2h, _bare_pct, "-"),
    )
    widths = [width for *_, width in _COLUMNS]
    star = "* " if one.method == goes_by else "  "
    values = ["none" if score.value is None else words(score.value) for score, words, _ in cells]
    yield f"{star + method_words(one.method):<{_NAME_LETTERS}}" + _right(values, widths)
    ends = [
        "" if score.low is None or score.high is None else f"{words(score.low)}{join}{words(score.high)}"
        for score, words, join in cells
    ]
    if any(ends):
        yield " " * _NAME_LETTERS + _right(ends, widths)


def _right(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "".join(f"{cell:>{width}}" for cell, width in zip(cells, widths, strict=True)).rstrip()


def _meaning(sensor: SensorReport) -> Iterator[str]:
    if sensor.agreement:
        yield (
            "An hour is wet from half of it on. Hours right count dry afternoons too, so look at the wet hours found "
            "and at those called wet that were dry. An error above 0 means that the method is wetter than the sensor. "
            "Wet hours a day are those of the hours that the sensor and all methods know, where these are 22 or more "
            "from noon to noon; 22 and 23 are taken for the whole day."
        )
        yield (
            f"Under each figure its 90{NBSP}% interval, from {RESAMPLES:,} draws of whole nights with a fixed seed, so "
            f"that the same record tells the same; with fewer than {LEAST_NIGHTS} nights to count on there is none. "
            "Nights are drawn as if each stood for itself; a spell of alike nights makes the interval too narrow."
        )
    share = sensor.sensor_wet_share
    if share is not None and sensor.nights >= LEAST_NIGHTS and not STUCK_SHARE <= share <= 1 - STUCK_SHARE:
        never = "dry" if share > STUCK_SHARE else "wet"
        yield (
            f"The sensor was {'never' if share in {0.0, 1.0} else 'hardly ever'} {never} in all these hours: look at "
            "it, and at the threshold it is read with."
        )
    if sensor.nearness != "on_site":
        yield "The sensor does not stand on this ground: it tells of other turf, under other dew and watering."
    yield (
        "The methods are reckoned with this area's shade, cut and watering: set the sensor beside the area that it "
        "stands on."
    )
    yield (
        "Sensors lie about 0.8 h from the eye, and the choice of their threshold can move them by up to 3.8 h a day: "
        f"below about {RESOLVED_H_DAY:g}{NBSP}h a day nothing is resolved ({RESOLVED_SOURCE}). A sensor at 30 cm, "
        f"tilted 15 to 45 degrees, was closest to the eye on turf ({SENSOR_PLACE_SOURCE}); in a dense stand of tall "
        f"fescue a sensor saw the leaves dry an hour later, which a model did not ({IN_CANOPY_SOURCE}). One by a path, "
        "under a roof's edge or under a sprinkler tells of its own spot."
    )


def _published(found: Published) -> str:
    told = []
    if found.mean_absolute_error_h_day is not None:
        mean = "" if found.mean_error_h_day is None else f" (mean error {found.mean_error_h_day:+.2f})"
        told.append(f"{found.mean_absolute_error_h_day:.2f} h a day off{mean}")
    if found.fraction_correct is not None:
        told.append(f"{100 * found.fraction_correct:.1f} % of hours right")
    if found.days_within_2h is not None:
        told.append(f"{100 * found.days_within_2h:.1f} % of nights within 2 h")
    return f"{found.words}: {'; '.join([', '.join(told), found.where] if told else [found.where])} ({found.source})."


def _interval(score: Score, words: Callable[[float], str]) -> str:
    return "" if score.low is None or score.high is None else f" ({words(score.low)} to {words(score.high)})"


def _pct(score: Score) -> str:
    return "none" if score.value is None else percent(score.value)


def _bare_pct(value: float) -> str:
    return f"{100 * value:.0f}"


def _bare_h(value: float) -> str:
    return f"{value:.1f}"


def _signed_h(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f}"  # adding nought turns a minus nought into nought


def _listed(words: Sequence[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last
