"""The sentences that text and HTML pages share: each says one thing of one result."""

from __future__ import annotations

import math
from calendar import month_name
from datetime import date

from forecast.clock import day_words
from forecast.report.page import (
    AreaReport,
    BasisReport,
    ChanceReport,
    CoverReport,
    CreditReport,
    DiseaseReport,
    ModelReport,
    MorningPage,
    PlaceReport,
    QuantityReport,
    StandReport,
    WetNight,
)
from forecast.report.words import (
    NBSP,
    age_words,
    area_words,
    clock,
    distance_words,
    in_ten,
    owed_to,
    percent,
    product_words,
    range_words,
    volume_words,
)

INVENTED = "Everything on this page is invented: place, weather, products, records."
MIXING = (
    "Fill the tank half, add the product, shake or stir, top up, shake again; wet the turf, no running off "
    "(common practice, no source)."
)
WAYS_ON = (
    "So far: the hours not yet read are gone on with from the last reading, once for each of the last ten days and of "
    "the days around this date in past years. Ranges hold nine in ten of them."
)
USUAL = "Chances are the usual ones for these dates; this week's weather ahead is not known to them."
ANSWERS = {
    "treat": "Treat",
    "scout": "Scout: go and look",
    "hold": "Hold: nothing to apply",
    "no_model": "No tested model for this grass: look when you pass",
}
SHORT = {"treat": "TREAT", "scout": "SCOUT", "hold": "HOLD", "no_model": "UNKNOWN"}
YEARS_WORTH_COUNTING = 5  # below it "about 6 in 10 past years" would speak of years there are not


def headline(disease: DiseaseReport) -> str:
    """The answer in one line."""
    if disease.answer == "treat" and disease.first_day and disease.last_day:
        if disease.first_day == disease.last_day:
            return f"Treat on {day_words(disease.first_day)}"
        return f"Treat between {day_words(disease.first_day)} and {day_words(disease.last_day)}"
    return ANSWERS[disease.answer]


def need_sentence(disease: DiseaseReport, today: date) -> str:
    """By when cover is needed, whatever the answer; empty where no chance is known."""
    if not disease.days:
        return ""
    if disease.needed_by is None:
        return "No cover is needed in the next two weeks at your line."
    if disease.needed_by <= today:
        return "Cover is needed now."
    text = f"Cover is needed by the night before {day_words(disease.needed_by)}"
    first, last = disease.first_day, disease.last_day
    if disease.answer == "treat" or first is None or last is None or first > last:
        return f"{text}."
    if first == last:
        return f"{text}; the sensible day for it is {day_words(first)}."
    return f"{text}; sensible days for it are {day_words(first)} to {day_words(last)}."


def chance_sentence(page: MorningPage, area: AreaReport, disease: DiseaseReport) -> str:
    """The chance, what it is of, and how it was made."""
    if not disease.event_words:
        return "No chance can be given: there is no tested model for this grass."
    if not disease.days:
        answered = any(model.high is not None for model in models_of(page, area, disease.deciding))
        today = "Only today's index is shown." if answered else "Nor is today's weather known well enough."
        return f"No chance can be given: there are no past years of weather here. {today}"
    if disease.chance is None:
        return _wearing_off(disease)
    told = (
        f"{chance_words(disease.chance)}: at least one day of disease weather from {day_words(disease.open_from)} to "
        f"the next visit on {day_words(disease.next_visit)}."
    )
    if disease.chance.years >= YEARS_WORTH_COUNTING:
        told += f" In past years {in_ten(disease.chance.value)} such spans had one."
    return f"{told} Your line for treating is {percent(disease.treat_from_chance)}."


def _wearing_off(disease: DiseaseReport) -> str:
    """What the cover holds until the next visit, and from when it may not."""
    if disease.cover is not None and disease.cover.sure_until < disease.next_visit:
        return (
            f"Until the next visit on {day_words(disease.next_visit)} the label's most days still cover; past its "
            f"least days, after {day_words(disease.cover.sure_until)}, cover may already be wearing off."
        )
    return f"Covered until the next visit on {day_words(disease.next_visit)}."


def usual_sentence(page: MorningPage) -> str:
    """What all chances of the page are; empty where there is none on it."""
    return USUAL if any(disease.days for area in page.areas for disease in area.diseases) else ""


def chance_words(chance: ChanceReport) -> str:
    """A chance as number, word and interval."""
    return f"{percent(chance.value)}, {chance.word} ({percent(chance.low)} to {percent(chance.high)})"


def weeks_sentence(disease: DiseaseReport) -> str:
    """The two weeks ahead, protected or not."""
    if disease.chance_week_1 is None or disease.chance_week_2 is None:
        return ""
    return (
        f"At least one day of disease weather in the next 7 days: {chance_words(disease.chance_week_1)}; "
        f"in the 7 days after: {chance_words(disease.chance_week_2)}. A single day at this time of year: "
        f"{percent(disease.days[0].value)}."
    )


def event_sentence(disease: DiseaseReport) -> str:
    """What an event day is."""
    if not disease.event_words:
        return ""
    return f"A day of disease weather is one on which {disease.event_words}. It is weather, not disease."


def made_sentence(disease: DiseaseReport) -> str:
    """How the chance was made, with its base rate."""
    if disease.chance_week_1 is None:
        return ""
    years = disease.chance_week_1.years
    text = (
        f"Climatology: made of {years} past {'year' if years == 1 else 'years'} here around these dates, "
        "without a weather forecast."
    )
    if disease.season is not None and disease.base_rate is not None:
        season = disease.season
        text += (
            f" Base rate: {percent(disease.base_rate)} of days from {month_name[season.first_month]} to "
            f"{month_name[season.last_month]}, that is {season.mean_days:.0f} of {season.season_days} days a season "
            f"here ({season.least_days} to {season.most_days} over {season.seasons} seasons)."
        )
    return text


def cover_left(cover: CoverReport | None) -> str:
    """Days of cover left, in a few words."""
    if cover is None:
        return "no cover on record"
    if cover.days_left_high == 0:
        return f"cover out since {day_words(cover.gone_after)}"
    return f"{_days_left(cover)} days of cover left"


def _days_left(cover: CoverReport) -> str:
    if cover.days_left_low == cover.days_left_high:
        return f"{cover.days_left_high}"
    return f"{cover.days_left_low} to {cover.days_left_high}"


def cover_sentence(cover: CoverReport | None) -> str:
    """Days of cover left."""
    if cover is None:
        return "No application on record protects this area."
    if cover.days_left_high == 0:
        return (
            f"Cover has run out: {cover.label_name} on {day_words(cover.applied)} reached the label's most days on "
            f"{day_words(cover.gone_after)}."
        )
    span = f"{day_words(cover.sure_until)} to {day_words(cover.gone_after)}"
    return (
        f"{_days_left(cover)} days of cover left: {cover.label_name} on {day_words(cover.applied)}, by its label's "
        f"least and most days ({span}). No rain or growth is counted in yet."
    )


def answer_words(model: ModelReport, value: float) -> str:
    """A model's answer in its own kind: a class in words, a probability in per cent, an index to one decimal."""
    if model.answer == "class":
        return [step.words for step in model.steps if value >= step.at][-1]
    short = 2 if model.answer == "probability" else 1
    if round(value, short) >= model.threshold > value:
        short += 1  # what just misses its threshold must not be printed as reaching it
        value = math.floor(value * 10**short) / 10**short
    return f"{100 * value:.{short - 2}f}{NBSP}%" if model.answer == "probability" else f"{value:.{short}f}"


def model_sentence(model: ModelReport, today: date) -> str:
    """A model's answer for the day in progress."""
    ends = f"{model.ends_at:%a} " if model.ends_at.date() != today else ""
    ends = f"for the 24 h ending {ends}{clock(model.ends_at)}"
    if model.low is None or model.high is None:
        why = "the weather lies outside the model's range" if model.outside else "too little was read"
        return f"no answer {ends}: {why}"
    rung = answer_words(model, model.threshold)
    rung = f"'{rung}'" if model.answer == "class" else f"the threshold of {rung}"
    value = _range(model, model.low, model.high)
    if model.finished:
        return f"{value} {ends}; {rung} is {'' if model.high >= model.threshold else 'not '}reached"
    how = "none" if model.ways_passed == 0 else "all" if model.ways_passed == model.ways else f"{model.ways_passed}"
    return f"so far {value} {ends}; going on as {model.ways} earlier days did, {rung} is reached on {how} of them"


def ways_sentence(page: MorningPage) -> str:
    """What "so far" means; empty where no model of the page says it."""
    return WAYS_ON if any(model.ways and model.high is not None for s in page.stands for model in s.models) else ""


def _range(model: ModelReport, least: float, most: float) -> str:
    low, high = answer_words(model, least), answer_words(model, most)
    if low == high:
        return low
    return f"between '{low}' and '{high}'" if model.answer == "class" else f"{low} to {high}"


def outside_sentence(model: ModelReport) -> str:
    """What to know where a model runs outside its range; empty where it does not."""
    if not model.outside or model.as_printed_high is None:
        return ""
    printed = answer_words(model, model.as_printed_high)
    if model.high is not None and printed == answer_words(model, model.high):
        return ""
    if model.high is None:
        return f"The published formula would give {printed}; it was not made for such weather."
    return f"Warmer than the published curve holds for: held at its peak; as printed it would read {printed}."


def drivers_words(model: ModelReport, *, us: bool) -> str:
    """A model's inputs in local units."""
    return capital("; ".join(f"{d.words} {range_words(d.low, d.high, d.unit, us=us)}" for d in model.drivers))


def past_words(model: ModelReport) -> str:
    """The last days' answers, a star where the threshold was passed."""
    cells = []
    for past in model.past:
        value = "–" if past.answer is None else answer_words(model, past.answer)
        if model.answer == "class" and past.passed is False:
            value = "no"
        cells.append(f"{past.day:%a} {value}{'*' if past.passed else ''}")
    return ", ".join(cells)


def standing_words(model: ModelReport) -> str:
    """The model's name and its standing."""
    return f"{capital(model.name)} ({model.standing})"


def about_models(page: MorningPage) -> list[tuple[str, str]]:
    """Every model of the page once: its name and standing; on which grasses it decides, notes, source."""
    once = {model.key: model for stand in page.stands for model in stand.models}
    return [
        (
            standing_words(model),
            " ".join(
                text
                for text in (
                    f"Decides on {', '.join(model.tested_on)}.",
                    model.notes,
                    model.wetness,
                    f"Source: {model.source}.",
                )
                if text
            ),
        )
        for model in once.values()
    ]


def capital(text: str) -> str:
    """The text with its first letter large and the rest as it is."""
    return text[:1].upper() + text[1:]


def data_sentence(page: MorningPage) -> str:
    """How old and how whole the weather is, in a line for the top of the page; of several places the worst, by name."""
    silent = [place for place in page.places if place.age_minutes is None]
    known = [place for place in page.places if place.age_minutes is not None]
    if not known:
        return "No weather is known yet."
    if not silent and len({_figures(place) for place in known}) == 1:
        return f"{capital(_figures(known[0]))}{' at each place' if len(known) > 1 else ''}."
    oldest = max(known, key=lambda place: (place.age_minutes or 0, place.hours_missing))
    emptiest = max(known, key=lambda place: (place.hours_missing, place.age_minutes or 0))
    worst = ". ".join(f"{place.name}, {_figures(place)}" for place in dict.fromkeys((oldest, emptiest)))
    if silent:
        return f"No reading yet at {', '.join(place.name for place in silent)}. Worst of the others: {worst}."
    return f"Worst of {len(known)} places: {worst}."


def _figures(place: PlaceReport) -> str:
    return (
        f"last reading {age_words(place.age_minutes or 0)} ago; last week {place.hours_filled} h filled, "
        f"{place.hours_missing} h missing"
    )


def treat_line(disease: DiseaseReport, *, us: bool) -> str:
    """The treatment in a line: when, what for, with what."""
    when = headline(disease).removeprefix("Treat ")
    parts = [capital(when)]
    if disease.chance is not None:
        parts.append(f"{percent(disease.chance.value)}, {disease.chance.word}")
    if disease.quantity is not None:
        loads = len(disease.quantity.loads)
        product = product_words(disease.quantity.product, disease.quantity.measure, us=us)
        parts.append(f"{product} {disease.quantity.label_name}, {loads} load{'' if loads == 1 else 's'}")
    return " · ".join([*parts, cover_left(disease.cover)])


def area_label(page: MorningPage, area: AreaReport) -> str:
    """The area's name, with as much of its property as tells it from the page's other areas."""
    alike = [one for one in page.areas if one.area_name == area.area_name]
    if len(alike) == 1:
        return area.area_name
    if sum(one.property_name == area.property_name for one in alike) == 1:
        return f"{area.area_name} ({area.property_name})"
    return f"{area.area_name} ({area.property_name}, {area.area_id})"


def grouped(page: MorningPage) -> list[tuple[str, str, list[tuple[AreaReport, DiseaseReport]]]]:
    """What to look at and what to leave: answer, disease, places; those without a tested model last."""
    rows = [(area, disease) for area in page.areas for disease in area.diseases]
    found = []
    for word, tested in (("scout", True), ("hold", True), ("scout", False), ("hold", False)):
        for name in dict.fromkeys(disease.name for _, disease in rows):
            here = [r for r in rows if r[1].answer == word and r[1].name == name and bool(r[1].deciding) == tested]
            if here:
                found.append((SHORT[word], name if tested else f"{name}, no model tested on the grass", here))
    unknown = [next(((a, d) for d in a.diseases if d.answer == "no_model"), None) for a in page.areas]
    if any(unknown):
        found.append((SHORT["no_model"], "diseases without a tested model", [row for row in unknown if row]))
    return found


def models_of(page: MorningPage, area: AreaReport, keys: tuple[str, ...]) -> list[ModelReport]:
    """The models of an area's stand by key."""
    return [m for stand in page.stands if stand.stand_id == area.stand_id for m in stand.models if m.key in keys]


def why_sentences(page: MorningPage, area: AreaReport, disease: DiseaseReport) -> list[str]:
    """What the models say and what the chance is made of; none where there is nothing of either."""
    told = [_model_and_drivers(page, model) for model in models_of(page, area, disease.deciding)]
    told.append(_switched_on_sentence(models_of(page, area, disease.switched_on), area.grass))
    told.append(_beside_sentence(models_of(page, area, disease.beside), area.grass))
    told += [event_sentence(disease), weeks_sentence(disease), made_sentence(disease)]
    return [text for text in told if text]


def _model_and_drivers(page: MorningPage, model: ModelReport) -> str:
    said = model_sentence(model, page.as_of.date())
    return f"{capital(model.name)}: {said}. {drivers_words(model, us=page.units == 'us')}."


def _switched_on_sentence(models: list[ModelReport], grass: str) -> str:
    if not models:
        return ""
    names = " and ".join(f"{model.name} ({model.standing})" for model in models)
    return f"Decides by your word alone, without a test on {grass} that it could rest on: {names}."


def _beside_sentence(models: list[ModelReport], grass: str) -> str:
    """The tested models of other grasses, which do not decide here."""
    if not models:
        return ""
    names = " and ".join(model.name for model in models)
    return f"Not tested on {grass}, so {'it does' if len(models) == 1 else 'they do'} not decide: {names}."


def quantity_sentences(quantity: QuantityReport, *, us: bool) -> list[str]:
    """Product, water and loads, then gear and keep-off."""
    lines = [
        (
            f"{quantity.label_name}, registration {quantity.registration_number}. Preventive rate on its label: "
            f"{quantity.rate_as_printed}."
        ),
        (
            f"This area takes {product_words(quantity.product, quantity.measure, us=us)} in "
            f"{volume_words(quantity.carrier_l, us=us)} of mix: {_loads(quantity, us=us)}."
        ),
        MIXING,
    ]
    if quantity.left_this_year is not None:
        lines.append(
            f"Label limit {quantity.most_per_year_as_printed} a year; before this application "
            f"{product_words(quantity.left_this_year, quantity.measure, us=us)} are left on this area."
        )
    lines.append(
        f"The next application comes {quantity.least_days} to {quantity.most_days} days later by the label; about two "
        "weeks after this one look at the same spots (common practice, no source)."
    )
    return [*lines, f"Gear: {quantity.gear}", f"Keep off: {quantity.keep_off}"]


def _loads(quantity: QuantityReport, *, us: bool) -> str:
    count = len(quantity.loads)
    first, last = (
        f"{product_words(load.product, quantity.measure, us=us)} in {volume_words(load.mix_l, us=us)} for "
        f"{area_words(load.covers_m2, us=us)}"
        for load in (quantity.loads[0], quantity.loads[-1])
    )
    if count == 1:
        return "one load"
    if first == last:
        return f"{count} equal loads, each {first}"
    full = "one full load of" if count == 2 else f"{count - 1} full loads, each"
    return f"{full} {first}, and a last one of {last}"


def place_sentences(page: MorningPage, place: PlaceReport) -> list[str]:
    """Age of the readings, who stands behind them, what is filled and missing, and the forecast."""
    lines = []
    if place.last_observation is None or place.age_minutes is None:
        lines.append("No reading is known.")
    else:
        lines.append(
            f"Last reading {day_words(place.last_observation)} {clock(place.last_observation)}, "
            f"{age_words(place.age_minutes)} ago."
        )
    lines += [_basis_sentence(basis, us=page.units == "us") for basis in place.basis if not _is_the_place(basis, place)]
    lines.append(
        f"Last {place.hours_wanted} hours: {place.hours_filled} filled, "
        + (f"{place.hours_from_others} from other stations, " if place.hours_from_others else "")
        + f"{place.hours_missing} missing (those not yet in count as missing)."
    )
    lines.append(f"Past years that count here: {place.past_years}.")
    if place.typical_year:
        lines.append(
            f"One of them is a typical year ({place.typical_year}), stitched together from several: it tells the "
            "climate, not a season, and goes once four years of readings are there."
        )
    lines.append(forecast_sentence(place, is_set=page.forecast_is_set))
    lines += [f"Source: {credit_words(credit)}." for credit in place.credits]
    if place.weather_forecast is not None:
        lines.append(f"Weather forecast: {credit_words(place.weather_forecast.credit)}.")
    if place.sunrise:
        lines.append(f"Sunrise {clock(place.sunrise)} ({page.time_zone}): threads show best in the dew just before it.")
    return lines


def stand_title(page: MorningPage, stand: StandReport) -> str:
    """The areas of a stand, by name."""
    return ", ".join(area_label(page, area) for area in page.areas if area.area_id in stand.areas)


def wetness_sentences(stand: StandReport) -> list[str]:
    """How long the leaves were wet, how far the methods lie apart, and by which the page goes."""
    told = stand.wetness
    last = next((night for night in reversed(told.nights) if night.hours is not None), None)
    if last is None:
        return [f"How long the leaves were wet is not known; it is told by: {told.name}."]
    lines = [
        f"Leaves wet from noon to noon: {', '.join(_night(night) for night in told.nights)}. Told by: {told.name}."
    ]
    if len(told.methods) > 1:
        lines.append(
            f"In brackets the least and most over {len(told.methods)} methods; their spread is how sure this is."
        )
    if told.hours_stood_in:
        lines.append(f"{told.hours_stood_in} h of the last week were told by another method, for want of readings.")
    return lines


def _night(night: WetNight) -> str:
    if night.hours is None:
        return f"{night.day:%a} –"
    if night.low is None or night.high is None or round(night.low) == round(night.high):
        return f"{night.day:%a} {night.hours:.0f}{NBSP}h"
    return f"{night.day:%a} {night.hours:.0f}{NBSP}h ({night.low:.0f} to {night.high:.0f})"


def unmodelled_sentence(area: AreaReport) -> str:
    """The diseases in season that no tested model speaks of on this grass, in one breath; empty where there is none."""
    unknown = [disease for disease in area.diseases if disease.answer == "no_model"]
    if not unknown:
        return ""
    passing = [disease.name for disease in unknown if len(disease.reasons) > 1]
    text = f"No tested model for {area.grass}: {', '.join(disease.name for disease in unknown)}."
    if passing:
        text += f" Models for other grasses pass often now: {', '.join(passing)}."
    return f"{text} Look when you pass; 'forecast scout {area.area_id}' says for what."


def modelled(area: AreaReport) -> list[DiseaseReport]:
    """The diseases of an area that have an answer of their own."""
    return [disease for disease in area.diseases if disease.answer != "no_model"]


def season_sentence(area: AreaReport) -> str:
    """The diseases of the grass that are not shown, since this is not their time of year; empty where there is none."""
    return f"Not in season now: {', '.join(area.out_of_season)}." if area.out_of_season else ""


def _is_the_place(basis: BasisReport, place: PlaceReport) -> bool:
    """Whether the station that stands behind it is the place itself, so that there is nothing to say."""
    return basis.distance_km == 0 and basis.station == place.name and not basis.others


def _basis_sentence(basis: BasisReport, *, us: bool) -> str:
    where = distance_words(basis.distance_km, basis.height_difference_m, us=us)
    others = f", with {' and '.join(basis.others)} where it is silent or for a mean" if basis.others else ""
    return f"{capital(', '.join(basis.quantities))}: from {basis.station}, {where} ({basis.confidence}){others}."


def forecast_sentence(place: PlaceReport, *, is_set: bool) -> str:
    """What is known of the days ahead, and what is not."""
    if place.weather_forecast is None:
        none = (
            "A weather forecast is set, and none had been fetched by then" if is_set else "No weather forecast is set"
        )
        if not place.past_years:
            return f"{none}; nor are there past years here: nothing is known of the days ahead."
        return (
            f"{none}: past years alone speak for the days ahead, and what today's readings still tell of them is gone "
            "by about day 3."
        )
    ahead = place.weather_forecast
    moment = "issued" if ahead.issued_stated else "fetched"
    return (
        f"Weather forecast {moment} {day_words(ahead.issued)} {clock(ahead.issued)}, reaching to "
        f"{day_words(ahead.reaches_to)}: it is kept, and does not enter the chances yet."
    )


def credit_words(credit: CreditReport) -> str:
    """Who it is, with the credit and the licence that go with it."""
    return owed_to(credit.name, credit.attribution, credit.licence, credit.link)


def title(page: MorningPage) -> str:
    """What the page is and when."""
    return f"Morning page, {page.as_of:%A} {page.as_of.day} {page.as_of:%B} {page.as_of.year}"


def as_of_sentence(page: MorningPage) -> str:
    """What moment it speaks for."""
    told = "Replayed: told at" if page.replay else "As of"
    return f"{told} {clock(page.as_of)} from what was known then."
