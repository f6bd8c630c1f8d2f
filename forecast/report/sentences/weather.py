"""What is said of the weather: readings, stations behind them, wet hours, the forecast."""

from __future__ import annotations

from forecast.clock import day_words
from forecast.outlook.learned_skill import DAYS_FOR_HALF
from forecast.report.page import (
    BasisReport,
    CreditReport,
    ForecastReport,
    MorningPage,
    PlaceReport,
    StandReport,
    WetNight,
)
from forecast.report.sentences.whole import area_label
from forecast.report.words import NBSP, age_words, capital, clock, distance_words, owed_to


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
    if place.rain_hours_missing > place.hours_missing:
        lines.append(
            f"Rain is not known in {place.rain_hours_missing} of them; wet hours there are told without it, and never "
            "as dry for want of it."
        )
    lines.append(f"Past years that count here: {place.past_years}.")
    if place.typical_year:
        lines.append(
            f"One of them is a typical year ({place.typical_year}), stitched together from several: it tells the "
            "climate, not a season, and goes once four years of readings are there."
        )
    lines += ahead_sentences(place, is_set=page.forecast_is_set)
    if place.sunrise:
        lines.append(f"Sunrise {clock(place.sunrise)} ({page.time_zone}): threads show best in the dew just before it.")
    return lines


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
            f"{none}: past years speak for the days ahead, and the last readings, of which little is left by about "
            "day 3, or more where a model reads the soil."
        )
    ahead = place.weather_forecast
    moment = "issued" if ahead.issued_stated else "fetched"
    return (
        f"Weather forecast {moment} {day_words(ahead.issued)} {clock(ahead.issued)}, reaching to "
        f"{day_words(ahead.reaches_to)}: {_worth(ahead)}."
    )


def ahead_sentences(place: PlaceReport, *, is_set: bool) -> list[str]:
    """What is known of the days ahead, and whose readings and forecast those are."""
    lines = [forecast_sentence(place, is_set=is_set)]
    lines += [f"Source: {credit_words(credit)}." for credit in place.credits]
    if place.weather_forecast is not None:
        lines.append(f"Weather forecast: {credit_words(place.weather_forecast.credit)}.")
    return lines


def _worth(ahead: ForecastReport) -> str:
    """How a weather forecast enters the chances."""
    if not ahead.enters:
        return (
            "it does not enter the chances: it is more than two days old, lacks temperature or humidity, or readings "
            "are too old"
        )
    if not ahead.learned_from:
        return "it enters the chances by an assumed skill, until issued forecasts kept here tell their own"
    count = f"{ahead.learned_from} issued {'day' if ahead.learned_from == 1 else 'days'}"
    more = "" if ahead.learned_from >= DAYS_FOR_HALF else " and, for want of more, an assumed skill"
    return f"it enters the chances by how {count} of it came true here{more}"


def credit_words(credit: CreditReport) -> str:
    """Who it is, with the credit and the licence that go with it."""
    return owed_to(credit.name, credit.attribution, credit.licence, credit.link)


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
