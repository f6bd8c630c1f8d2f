"""Results to the page's own plain values: day numbers to dates, arrays to ranges, keys to words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from forecast.care.words import depth_words
from forecast.clock import date_of, local
from forecast.daily import last_stamp, reduce_days
from forecast.diseases import DiseaseModel
from forecast.diseases.events import Event
from forecast.outlook.climatology import Chance, SeasonCount
from forecast.outlook.view import Today, View
from forecast.panel import Floats
from forecast.report.label_words import label_sentences
from forecast.report.model_words import input_unit, input_words
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
    WetnessReport,
    WetNight,
)
from forecast.report.words import NBSP, chance_word, height_words
from forecast.schedule.cover import Cover, Option
from forecast.schedule.label import Label
from forecast.schedule.need import Answer, Decision, Facts
from forecast.schedule.quantity import quantities
from forecast.stand import StandHours
from forecast.turf import GRASSES, SIDES, Area, Disease
from forecast.wetness import METHODS

PAST_DAYS_SHOWN = 5
LESS_DEW_BELOW_FRACTION = 0.7  # house choice: of the sky; from there on the page says what is not reckoned in
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
RANGE_FROM, RANGE_TO = 0.05, 0.95  # the range printed leaves out the most extreme tenth of the ways on

NIGHT_END_HOUR = 12  # wet hours are counted from noon to noon, so that a night stays whole
WEEK_HOURS = 168


@dataclass(frozen=True, slots=True)
class Season:
    """A season's months and its count of event days."""

    first_month: int
    last_month: int
    count: SeasonCount


def setting_words(area: Area, *, us: bool, counts: bool) -> tuple[str, ...]:
    """An area's setting in sentences, and whether its wet hours are reckoned with it.

    Args:
        area: the area.
        us: inches, else millimetres.
        counts: whether shade, watering and cut act on its wet hours.
    """
    setting = area.setting
    share = [
        f"{round(100 * value)}{NBSP}% of the {what}"
        for value, what in (
            (setting.light_let_through_fraction, "light"),
            (setting.sky_seen_fraction, "sky"),
            (setting.wind_let_through_fraction, "wind"),
        )
        if value < 1
    ]
    where = f" (shade from {', '.join(side.upper() for side in setting.shaded_from)})" if setting.shaded_from else ""
    where = " (shade all round)" if len(setting.shaded_from) == len(SIDES) else where
    told = [f"{', '.join(share)} let through{where}." if share else "Open turf."]
    told.append(f"Cut at {height_words(setting.mowing_height_mm, us=us)}, {setting.density} density.")
    if setting.irrigation is not None:
        days = " ".join(_DAYS[day] for day in setting.irrigation.days)
        depth = depth_words(setting.irrigation.depth_mm, us=us)
        told.append(f"Watered {depth} on {days} at {setting.irrigation.start:%H:%M}.")
    if setting.dew_removal is not None:
        days = " ".join(_DAYS[day] for day in setting.dew_removal.days)
        told.append(f"Dew taken off on {days} at {setting.dew_removal.at:%H:%M}.")
    if not counts:
        told.append(
            "Shade, watering and cut do not act on the wet hours here: for that, wind and cloud or sunlight must be "
            "known."
        )
    elif setting.sky_seen_fraction < LESS_DEW_BELOW_FRACTION:
        told.append(
            "Less dew falls where less sky is seen; the damp, still air that may stand there is not reckoned in."
        )
    return tuple(told)


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
    us: bool,
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
        diagnosed=facts.diagnosed,
        reasons=given.reasons,
        needed_by=None if given.needed_by is None else date_of(given.needed_by),
        first_day=None if given.first_day is None else date_of(given.first_day),
        last_day=None if given.last_day is None else date_of(given.last_day),
        event_words=event.words,
        next_visit=date_of(facts.today + lines.days_between_visits),
        open_from=date_of(facts.start),
        chance=chance_report(given.chance),
        chance_week_1=chance_report(week_1),
        chance_week_2=chance_report(week_2),
        days=tuple(DayChance(date_of(day), chance.value, chance.usual, chance.made) for day, chance in single_days),
        base_rate=None if season is None else season.count.mean_days / season.count.season_days,
        season=_season(season),
        treat_from_chance=lines.treat_from_chance,
        scout_from_chance=lines.scout_from_chance,
        deciding=tuple(model.key for model in event.deciding),
        beside=tuple(model.key for model in event.beside),
        switched_on=tuple(model.key for model in event.switched_on),
        cover=_cover(facts.cover, facts.today, labels),
        quantity=None if given.word != "treat" else _quantity(area, given.option, tank_l, us=us),
        no_option=left_out if given.needed_by is not None and not facts.options else (),
        look_for=disease.look_for,
    )


def chance_report(chance: Chance | None) -> ChanceReport | None:
    """A chance with its word."""
    if chance is None:
        return None
    return ChanceReport(
        chance.value,
        chance_word(chance.value),
        chance.low,
        chance.high,
        chance.years,
        chance.usual,
        chance.made,
    )


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
    """One model's answer on one stand."""
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
        wetness=model.wetness_words,
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
    return tuple(
        Driver(one.name, input_words(one), input_unit(one), *_ends(now.inputs[one.name])) for one in model.inputs
    )


def wetness_report(found: StandHours, seen: View, offset_minutes: int) -> WetnessReport:
    """How wet hours were told on a stand, and how far the methods lie apart."""
    hours = found.panel.hours

    def by_night(fraction: Floats) -> dict[int, float]:
        table = reduce_days(hours, fraction, "sum", standard_offset_minutes=offset_minutes, day_end_hour=NIGHT_END_HOUR)
        return dict(zip(table.days.tolist(), table.values[:, 0].tolist(), strict=True))

    last = len(hours) if seen.last_known is None else int(np.searchsorted(hours, seen.last_known)) + 1
    read = {key: fraction[:last] for key, fraction in {"": found.wet.fraction, **found.wet.by_method}.items()}
    read = {key: np.concatenate([part, np.full((len(hours) - last, 1), np.nan)]) for key, part in read.items()}
    nights = {key: by_night(fraction) for key, fraction in read.items()}
    told = [key for key in found.wet.by_method if not np.isnan(read[key][-WEEK_HOURS:]).all()]
    rows = []
    for day in range(seen.today - PAST_DAYS_SHOWN + 1, seen.today + 1):
        spread = [nights[key].get(day, np.nan) for key in told]
        known = [value for value in spread if not np.isnan(value)]
        own = nights[""].get(day, np.nan)
        rows.append(
            WetNight(
                date_of(day),
                None if np.isnan(own) else own,
                min(known) if known else None,
                max(known) if known else None,
            )
        )
    return WetnessReport(
        found.wet.method.key,
        found.wet.method.name,
        found.wet.method.source,
        tuple(METHODS[key].name for key in told),
        tuple(rows),
        int(found.wet.stood_in[-WEEK_HOURS:].sum()),
    )


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


def _quantity(area: Area, option: Option | None, tank_l: float, *, us: bool) -> QuantityReport | None:
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
        cautions=label_sentences(option, us=us),
    )
