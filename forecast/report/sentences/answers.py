"""What is said of one disease on one area: the answer, the chance, the cover, the quantity, and why."""

from __future__ import annotations

from calendar import month_name
from datetime import date

from forecast.clock import day_words
from forecast.report.page import (
    AreaReport,
    ChanceReport,
    CoverReport,
    DiseaseReport,
    ModelReport,
    MorningPage,
    QuantityReport,
)
from forecast.report.sentences.models import drivers_words, model_sentence, models_of
from forecast.report.words import area_words, capital, in_ten, percent, product_words, volume_words

MIXING = (
    "Fill the tank half, add the product, shake or stir, top up, shake again; wet the turf, no running off "
    "(common practice, no source)."
)
# What the chances of a page are, by what the best informed of them is made of.
CHANCES_ARE = {
    "past_years": "Chances are the usual ones for these dates; this week's weather ahead is not known to them.",
    "readings": (
        "Chances follow the last readings for a few days, and are the usual ones for the date beyond; no weather "
        "forecast enters them."
    ),
    "forecast": "Chances follow the weather forecast as far as it is worth following, and what is usual here beyond.",
}
ANSWERS = {
    "treat": "Treat",
    "scout": "Scout: go and look",
    "hold": "Hold: nothing to apply",
    "no_model": "No tested model for this grass: look when you pass",
}
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
        more = "more " if disease.cover is not None and disease.cover.days_left_high > 0 else ""
        return f"No {more}cover is needed in the next two weeks at your line."
    return _cover_is_needed(disease, disease.needed_by, today)


def _cover_is_needed(disease: DiseaseReport, by: date, today: date) -> str:
    if not disease.diagnosed:
        return f"Should it be found here, cover would be wanted by {day_words(by)}."
    if by <= today:
        return "Cover is needed now."
    text = f"Cover is needed by the night before {day_words(by)}"
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
        told += f" In past years {in_ten(disease.chance.usual)} such spans had one."
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
    made = {day.made for area in page.areas for disease in area.diseases for day in disease.days}
    return next((CHANCES_ARE[one] for one in ("forecast", "readings", "past_years") if one in made), "")


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
        f"{percent(disease.days[0].usual)}."
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
    past = f"{years} past {'year' if years == 1 else 'years'} here around these dates"
    made = {day.made for day in disease.days}
    if made == {"past_years"}:
        text = f"Climatology: made of {past}, without a weather forecast."
    else:
        follow = "the weather forecast and the last readings" if "forecast" in made else "the last readings"
        text = (
            f"Made of {past} and of {follow}: many ways the next days can go, each through all models. "
            f"{_usual_from(disease)}"
        )
    if disease.season is not None and disease.base_rate is not None:
        season = disease.season
        text += (
            f" Base rate: {percent(disease.base_rate)} of days from {month_name[season.first_month]} to "
            f"{month_name[season.last_month]}, that is {season.mean_days:.0f} of {season.season_days} days a season "
            f"here ({season.least_days} to {season.most_days} over {season.seasons} seasons)."
        )
    return text


def _usual_from(disease: DiseaseReport) -> str:
    """From which day on the usual chance is told."""
    told = max(number for number, day in enumerate(disease.days) if day.made != "past_years")
    if told + 1 == len(disease.days):
        return "What is usual for the date takes over little by little."
    usual = day_words(disease.days[told + 1].day)
    return f"From {usual} on the usual chance for the date is told: nothing surer has been shown."


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
    return [*lines, *quantity.cautions, f"Gear: {quantity.gear}", f"Keep off: {quantity.keep_off}"]


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
