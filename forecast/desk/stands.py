"""The stands of a workspace: which areas share a place and a setting, and what every model makes of each."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from forecast.config import Settings
from forecast.desk.caring import DayWater, Unknown, day_water
from forecast.desk.hours import KnownHours
from forecast.desk.looking_ahead import LookingAhead
from forecast.diseases import DiseaseModel
from forecast.outlook.view import View, view
from forecast.panel import Panel
from forecast.report import build
from forecast.report.page import WetnessReport
from forecast.stand import Stand, place_hours, stand_hours
from forecast.turf import DISEASES, Area, Setting


@dataclass(frozen=True, eq=False)
class Seen:
    """What one morning knows of one stand; its hours themselves are let go, since there may be hundreds of stands.

    Attributes:
        view: what the models say.
        wetness: how wet hours were told, and how far the methods lie apart.
        water: what its soil water is reckoned from, or why there is nothing.
    """

    view: View
    wetness: WetnessReport
    water: DayWater | Unknown


def stands(settings: Settings) -> dict[str, Stand]:
    """The stand of each area, by area id; areas of one place and one setting share one."""
    found: dict[tuple[str, Setting], Stand] = {}
    by_area = {}
    for area in settings.areas:
        key = (area.place_id, area.setting)
        if key not in found:
            found[key] = Stand(
                f"stand-{len(found) + 1}",
                area.place_id,
                settings.place(area.place_id).where,
                settings.grounds.zone,
                area.setting,
                settings.grounds.wetness,
            )
        by_area[area.area_id] = found[key]
    return by_area


def seen_stands(
    areas: Sequence[Area],
    by_area: Mapping[str, Stand],
    hours: KnownHours | None,
    today: int,
    now_utc: np.datetime64,
    offset_minutes: int,
    models: Collection[DiseaseModel],
    looking_ahead: LookingAhead | None = None,
) -> dict[str, Seen]:
    """What is known of every stand of some areas, by stand id; none where no temperature is known at all.

    Args:
        areas: which.
        by_area: the stand of each.
        hours: what was known; None for nothing.
        today: day number of the date asked about.
        now_utc: the moment asked about.
        offset_minutes: standard time minus UTC.
        models: those to ask, where a stand's grass can have their disease.
        looking_ahead: what makes members of the days ahead; None where nobody asks for them.
    """
    if hours is None or "air_temperature_c" not in hours.panel.values:  # a source may send a year without it
        return {}
    found = {}
    place: Panel | None = None  # one at a time, shared by its stands: they are large
    outlook = None
    wanted = {by_area[area.area_id].stand_id: by_area[area.area_id] for area in areas}.values()
    for stand in sorted(wanted, key=lambda stand: hours.panel.series.index(stand.place_id)):
        column = hours.panel.series.index(stand.place_id)
        if place is None or place.series != (stand.place_id,):
            place = place_hours(hours.panel.only(column), stand.where)
            outlook = None if looking_ahead is None else looking_ahead.place(stand.place_id, place)
        at_stand = stand_hours(place, stand)
        grasses = {area.grass for area in areas_of(by_area, stand.stand_id, areas)}
        asked = [model for model in models if grasses & set(DISEASES[model.disease].grasses)]
        seen = view(at_stand, stand, today, now_utc, offset_minutes, asked)
        if outlook is not None:
            # By the method that tells the record, whatever the few days ahead would suffice for by themselves.
            told_so = replace(stand, wetness=at_stand.wet.method.key)
            seen = replace(seen, ahead=outlook.stand(told_so, asked, today, offset_minutes))
        found[stand.stand_id] = Seen(
            seen,
            build.wetness_report(at_stand, seen, offset_minutes),
            day_water(at_stand, stand, today, offset_minutes),
        )
    return found


def areas_of(by_area: Mapping[str, Stand], stand_id: str, areas: Sequence[Area]) -> tuple[Area, ...]:
    """The areas of one stand."""
    return tuple(area for area in areas if by_area[area.area_id].stand_id == stand_id)
