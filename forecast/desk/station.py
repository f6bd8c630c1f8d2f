"""A check of one station's record: completeness, verdicts, what it means for wet hours, who stands behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from forecast import gaps, quality
from forecast.between import Where
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.hours import checked_hours, holding
from forecast.errors import MissingInputError
from forecast.ingest.keep.store import providers_of, read_hours
from forecast.ingest.keep.withdrawals import Withdrawn, withdrawals
from forecast.panel import Panel
from forecast.quality import CHECKS, StationFinding, Verdict
from forecast.quantities import QUANTITIES, Flag
from forecast.report.station import (
    STATION_SCHEMA,
    Completeness,
    FindingReport,
    MonthShare,
    ProviderReport,
    StationReport,
    VerdictReport,
    WithdrawalReport,
)

NOTHING_FOUND = "Nothing in this record speaks against its humidity, so wet hours can be told from it."
HUMIDITY_NEEDED = "Wet hours cannot be told from this station: no hour has both temperature and humidity."
SEE_BELOW = "Wet hours told from this station need care:"
LEAST_HOURS = 28 * 24  # house choice: the findings look at whole months
LEAST_KNOWN_SHARE = 0.9  # EPA-454/R-99-005, section 5.3.2: 90 % complete before filling (read second-hand)


def check_station(
    settings: Settings,
    database: Database,
    station_id: str,
    *,
    first: np.datetime64 | None = None,
    last: np.datetime64 | None = None,
) -> tuple[StationReport, Panel]:
    """What a station's record is worth.

    Args:
        settings: the workspace's.
        database: the workspace's.
        station_id: which station; the others of the workspace serve as its neighbours.
        first: the first stamp looked at; the record's when left out.
        last: the last stamp looked at; the record's when left out.

    Returns:
        The report, and the station's checked hours with short holes closed.

    Raises:
        MissingInputError: nothing is stored for it in these hours.
    """
    station = settings.station(station_id)
    others = [other.id for other in settings.grounds.station if other.id != station_id]
    raw = read_hours(database, (station_id, *others))
    if raw is not None and (first is not None or last is not None):
        raw = raw.between(raw.hours[0] if first is None else first, raw.hours[-1] if last is None else last)
    if raw is None or not any((~np.isnan(array[:, 0])).any() for array in raw.values.values()):
        raise MissingInputError(f"nothing is stored for station {station_id!r} in these hours", hint="load some first")
    places = {other.id: other.where for other in settings.grounds.station}
    offset = settings.grounds.standard_offset_minutes(int(str(raw.hours[-1].astype("datetime64[Y]"))))
    records = withdrawals(database, list(places))
    found = checked_hours(raw, holding(records), places, offset)
    alone = _alone(found.panel, raw)
    filled = gaps.fill(alone)
    findings = quality.station_findings(alone, places, standard_offset_minutes=offset)
    since, until = alone.hours[0], alone.hours[-1]
    report = StationReport(
        STATION_SCHEMA,
        station_id,
        station.name,
        _moment(since),
        _moment(until),
        _completeness(filled),
        sum(one.gap_hours for one in gaps.fills(alone, filled)),
        tuple(_verdict(one) for one in found.verdicts if one.series == station_id),
        tuple(_finding(one) for one in findings),
        _wetness(filled, findings, _taken_out(found.verdicts, station_id)),
        tuple(_withdrawal(one) for one in records if one.station_id == station_id),
        tuple(
            ProviderReport(provider.name, count, provider.attribution, provider.licence, provider.link)
            for provider, count in providers_of(database, station_id, since, until).items()
        ),
    )
    return report, filled


@dataclass(frozen=True, slots=True)
class Humidity:
    """Whether a station's humidity can tell wet hours.

    Attributes:
        known_share: of the hours looked at, those with temperature and humidity, short holes closed.
        grave: what speaks against what is known; empty for nothing.
        last_hour: the last with temperature and humidity; None where there is none.
    """

    known_share: float
    grave: tuple[str, ...]
    last_hour: np.datetime64 | None

    @property
    def is_sound(self) -> bool:
        """Whether enough is known and nothing speaks against it."""
        return self.known_share >= LEAST_KNOWN_SHARE and not self.grave

    def __str__(self) -> str:
        """In a line."""
        if self.last_hour is None:
            return "no hour has both temperature and humidity, so that no wet hours can be told from it"
        too_few = () if self.known_share >= LEAST_KNOWN_SHARE else ("wet hours are missing from the rest",)
        said = "; ".join((*too_few, *self.grave)) or "nothing speaks against it"
        return f"humidity known in {int(100 * self.known_share + 1e-9)} % of hours; {said}"


def humidity_verdict(panel: Panel, places: Mapping[str, Where], standard_offset_minutes: int) -> Humidity:
    """What a station's hours say of its humidity, for a choice among stations.

    Args:
        panel: the station's hours, from the first to the last that it should have.
        places: where it stands.
        standard_offset_minutes: standard time minus UTC.
    """
    alone = gaps.fill(quality.check(panel, places, standard_offset_minutes=standard_offset_minutes).panel)
    findings = quality.station_findings(alone, places, standard_offset_minutes=standard_offset_minutes)
    known = alone.hours[_humid(alone)[:, 0]]
    grave = tuple(one.text for one in findings if one.grave)
    return Humidity(_humid_share(alone), grave, known[-1] if known.size else None)


def _alone(panel: Panel, raw: Panel) -> Panel:
    """The first series of a panel, from its first to its last reading, with every quantity that came in."""
    some = np.zeros(len(raw.hours), bool)
    for array in raw.values.values():
        some |= ~np.isnan(array[:, 0])
    rows = np.flatnonzero(some)
    rows = rows if rows.size else np.arange(len(raw.hours))
    keep = slice(int(rows[0]), int(rows[-1]) + 1)
    names = [name for name, array in raw.values.items() if (~np.isnan(array[:, 0])).any()]
    return Panel(
        panel.hours[keep],
        panel.series[:1],
        {name: panel.values[name][keep, :1] for name in names},
        {name: panel.flags[name][keep, :1] for name in names},
        {name: panel.origin[name][keep, :1] for name in names},
    )


def _completeness(panel: Panel) -> tuple[Completeness, ...]:
    months = panel.hours.astype("datetime64[M]")
    distinct, start = np.unique(months, return_index=True)
    ends = np.append(start[1:], len(months))
    found = []
    for name, array in panel.values.items():
        known = ~np.isnan(array[:, 0])
        shares = tuple(
            MonthShare(month.item(), int(100 * known[first:last].sum() // (last - first)))
            for month, first, last in zip(distinct, start, ends, strict=True)
        )
        found.append(Completeness(name, QUANTITIES[name].meaning, shares))
    return tuple(found)


def _humid(panel: Panel) -> NDArray[np.bool_]:
    """Hours with temperature and humidity."""
    nothing = np.full((len(panel.hours), 1), np.nan)
    temperature = panel.values.get("air_temperature_c", nothing)
    relative, dew_point = (panel.values.get(name, nothing) for name in ("relative_humidity_pct", "dew_point_c"))
    return ~np.isnan(temperature) & ~(np.isnan(relative) & np.isnan(dew_point))


def _humid_share(panel: Panel) -> float:
    """Share of hours with temperature and humidity."""
    return float(_humid(panel).mean())


def _taken_out(verdicts: Sequence[Verdict], station_id: str) -> int:
    """Hours whose humidity or temperature a person took out."""
    counted = ("relative_humidity_pct", "dew_point_c", "air_temperature_c")
    hours = [
        one.stamps
        for one in verdicts
        if one.series == station_id and one.check not in CHECKS and one.quantity in counted
    ]
    return len(np.unique(np.concatenate(hours))) if hours else 0


def _wetness(panel: Panel, findings: tuple[StationFinding, ...], taken_out: int) -> str:
    share = _humid_share(panel)
    by_hand = f" Of its hours {taken_out} were taken out by hand, see below." if taken_out else ""
    if share == 0:
        return HUMIDITY_NEEDED + by_hand
    if any(one.grave for one in findings):
        return SEE_BELOW + by_hand
    if len(panel.hours) < LEAST_HOURS:
        return f"Too short to tell: {len(panel.hours)} h were looked at, and a sensor shows itself over a wet month."
    if by_hand:
        return f"{SEE_BELOW}{by_hand}"
    if share < LEAST_KNOWN_SHARE:
        return f"{SEE_BELOW} only {share:.0%} of its hours have temperature and humidity."
    return NOTHING_FOUND


def _verdict(one: Verdict) -> VerdictReport:
    quantity = QUANTITIES[one.quantity]
    check = CHECKS.get(one.check)
    source = "" if check is None else "; ".join(dict.fromkeys(limit.source for limit in check.limits.values()))
    return VerdictReport(
        one.check,
        "taken out by hand" if check is None else check.looks_for,
        one.quantity,
        quantity.meaning,
        quantity.unit,
        "fail" if one.flag == Flag.FAIL else "suspect",
        one.hours,
        _moment(one.first),
        _moment(one.last),
        one.example,
        one.limit,
        source or "a person's word",
    )


def _finding(one: StationFinding) -> FindingReport:
    return FindingReport(one.check, one.quantity, _moment(one.first_hour), _moment(one.last_hour), one.text, one.grave)


def _withdrawal(one: Withdrawn) -> WithdrawalReport:
    return WithdrawalReport(
        one.number,
        one.quantity,
        _moment(one.first_hour),
        None if one.last_hour is None else _moment(one.last_hour),
        one.reason,
        one.by_whom,
        None if one.given_back_utc is None else datetime.fromisoformat(one.given_back_utc),
        one.given_back_reason,
    )


def _moment(stamp: np.datetime64) -> datetime:
    naive: datetime = stamp.astype("datetime64[s]").item()
    return naive.replace(tzinfo=UTC)
