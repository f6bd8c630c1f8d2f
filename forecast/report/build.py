"""Results to the page's own plain values: day numbers to dates, arrays to ranges, keys to words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from forecast.clock import date_of, local
from forecast.daily import last_stamp
from forecast.diseases import DiseaseModel
from forecast.diseases.events import Event
from forecast.outlook.climatology import Chance, SeasonCount
from forecast.outlook.view import Today, View
from forecast.panel import Floats
from forecast.quantities import QUANTITIES
from forecast.report.page import (
    ChanceReport,
    CoverReport,
    DayChance,
    DiseaseReport,
    Driver,
    LoadReport,
    ModelReport,
    PastAnswer,
    QuantityReport,
    SeasonReport,
    StepReport,
)
from forecast.report.words import chance_word
from forecast.schedule.cover import Cover, Option
from forecast.schedule.label import Label
from forecast.schedule.need import Answer, Decision, Facts
from forecast.schedule.quantity import quantities
from forecast.turf import GRASSES, Area, Disease

PAST_DAYS_SHOWN = 5
RANGE_FROM, RANGE_TO = 0.05, 0.95  # the range printed leaves out the most extreme tenth of the ways on

_REDUCTION_WORDS = {
    "mean": "mean",
    "min": "lowest",
    "max": "highest",
    "wet_hours": "wet hours",
    "longest_wet_run": "longest wet spell",
}


@dataclass(frozen=True, slots=True)
class Season:
    """A season's months and its count of event days."""

    first_month: int
    last_month: int
    count: SeasonCount


def setting_notes(area: Area) -> tuple[str, ...]:
    """What the area's setting says about where and when to look; advice, no number behind it yet."""
    notes = []
    watered = area.irrigation
    if watered is not None and watered.start.hour >= 15:
        notes.append(
            f"watered at {watered.start:%H:%M}: evening water had consistently more brown patch than morning water "
            "in a ryegrass trial (Fidanza & Dernoeden 1996, Crop Sci. 36:1620-1630); before sunrise is better"
        )
    if area.light_let_through_fraction < 0.7 or area.wind_let_through_fraction < 0.7:
        notes.append(
            "shade or still air: look here first; shade had more brown patch on ten tall fescue cultivars "
            "(Zarlengo, Rothrock & King 1994, Plant Dis. 78:126)"
        )
    return tuple(notes)


def disease_report(
    *,
    area: Area,
    disease: Disease,
    event: Event,
    facts: Facts,
    lines: Decision,
    given: Answer,
    left_out: tuple[str, ...],
    tank_l: float,
    single_days: tuple[tuple[int, Chance], ...],
    week_1: Chance | None,
    week_2: Chance | None,
    season: Season | None,
    labels: Sequence[Label],
) -> DiseaseReport:
    """One disease on one area."""
    return DiseaseReport(
        disease=disease.key,
        name=disease.name,
        answer=given.word,
        reasons=given.reasons,
        needed_by=None if given.needed_by is None else date_of(given.needed_by),
        first_day=None if given.first_day is None else date_of(given.first_day),
        last_day=None if given.last_day is None else date_of(given.last_day),
        event_words=event.words,
        next_visit=date_of(facts.today + lines.days_between_visits),
        open_from=date_of(facts.start),
        chance=_chance(given.chance),
        chance_week_1=_chance(week_1),
        chance_week_2=_chance(week_2),
        days=tuple(DayChance(date_of(day), chance.value) for day, chance in single_days),
        base_rate=None if season is None else season.count.mean_days / season.count.season_days,
        season=_season(season),
        treat_from_chance=lines.treat_from_chance,
        scout_from_chance=lines.scout_from_chance,
        deciding=tuple(model.key for model in event.deciding),
        beside=tuple(model.key for model in event.beside),
        cover=_cover(facts.cover, facts.today, labels),
        quantity=None if given.word != "treat" else _quantity(area, given.option, tank_l),
        no_option=left_out if given.needed_by is not None and not facts.options else (),
        look_for=disease.look_for,
    )


def _chance(chance: Chance | None) -> ChanceReport | None:
    if chance is None:
        return None
    return ChanceReport(chance.value, chance_word(chance.value), chance.low, chance.high, chance.years)


def _season(season: Season | None) -> SeasonReport | None:
    if season is None:
        return None
    count = season.count
    return SeasonReport(
        season.first_month,
        season.last_month,
        count.mean_days,
        count.least_days,
        count.most_days,
        count.season_days,
        count.seasons,
    )


def model_report(model: DiseaseModel, seen: View, zone: ZoneInfo, offset_minutes: int) -> ModelReport:
    """One model's answer at one station."""
    now = seen.now[model.key]
    low, high = _ends(now.answer)
    printed_low, printed_high = _ends(now.as_printed)
    return ModelReport(
        key=model.key,
        disease=model.disease,
        name=model.name,
        standing=model.standing,
        answer=model.answer,
        threshold=model.threshold,
        threshold_words=model.threshold_words,
        tested_on=tuple(GRASSES[grass].name for grass in model.grasses),
        ends_at=local(last_stamp(seen.today, offset_minutes, model.day_end_hour), zone),
        finished=now.finished,
        low=low,
        high=high,
        steps=tuple(StepReport(step.at, step.words) for step in model.steps),
        ways=0 if now.finished else len(now.answer),
        ways_passed=0 if now.finished else int(np.nansum(now.passed)),
        outside=bool(now.outside.any()),
        as_printed_low=printed_low,
        as_printed_high=printed_high,
        drivers=_drivers(model, now),
        past=_past(model, seen),
        notes=model.notes,
        source=model.source,
    )


def _ends(answers: Floats) -> tuple[float | None, float | None]:
    """The range that holds nine ways in ten."""
    known = answers[~np.isnan(answers)]
    if not known.size:
        return None, None
    low, high = np.quantile(known, [RANGE_FROM, RANGE_TO], method="inverted_cdf")
    return float(low), float(high)


def _drivers(model: DiseaseModel, now: Today) -> tuple[Driver, ...]:
    found = []
    for daily in model.inputs:
        low, high = _ends(now.inputs[daily.name])
        wet = daily.quantity == "leaf_wet_fraction"
        days = f" over {daily.trailing_days} days" if daily.trailing_days > 1 else ""
        words = _REDUCTION_WORDS[daily.reduction]
        if not wet:
            words = f"{words} {QUANTITIES[daily.quantity].meaning.split(' near')[0]}{days}"
        found.append(Driver(daily.name, words, "h" if wet else QUANTITIES[daily.quantity].unit, low, high))
    return tuple(found)


def _past(model: DiseaseModel, seen: View) -> tuple[PastAnswer, ...]:
    table = seen.past[model.key]
    found = []
    for day in range(seen.today - PAST_DAYS_SHOWN, seen.today):
        row = table.row(day)
        value = np.nan if row is None else float(table.answer[row, 0])
        known = not np.isnan(value)
        found.append(
            PastAnswer(date_of(day), value if known else None, bool(value >= model.threshold) if known else None)
        )
    return tuple(found)


def _cover(cover: Cover | None, today: int, labels: Sequence[Label]) -> CoverReport | None:
    if cover is None:
        return None
    names = {label.key: label.name for label in labels}
    return CoverReport(
        date_of(cover.applied),
        names.get(cover.label_key, cover.label_key),
        date_of(cover.sure_until),
        date_of(cover.gone_after),
        max(cover.sure_until - today, 0),
        max(cover.gone_after - today, 0),
    )


def _quantity(area: Area, option: Option | None, tank_l: float) -> QuantityReport | None:
    if option is None:
        return None
    label, use = option.label, option.use
    taken = quantities(area.size_m2, use.rate_per_m2, label.carrier_l_per_m2, tank_l)
    left = option.left_this_year_per_m2
    return QuantityReport(
        label_name=label.name,
        registration_number=label.registration_number,
        rate_as_printed=use.rate_as_printed,
        measure=label.measure,
        product=taken.product,
        carrier_l=taken.carrier_l,
        loads=tuple(LoadReport(load.mix_l, load.product, load.covers_m2) for load in taken.loads),
        most_per_year_as_printed=label.most_per_year_as_printed,
        left_this_year=None if left is None else left * area.size_m2,
        keep_off=label.keep_off,
        gear=label.gear,
        least_days=use.least_days,
        most_days=use.most_days,
    )
