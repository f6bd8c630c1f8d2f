"""The words of season openers: the answer first, then why, then how sure; what is common to all stands at the end."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from forecast.clock import day_words
from forecast.report.lines import wrapped
from forecast.report.opening import DiseaseSeason, SeasonPage, Spread, Start
from forecast.report.words import NAMED_BY_ITS_END, NBSP, capital, clock, listed, percent
from forecast.units import f_from_c

INVENTED = "Everything on this page is invented: place, weather, records."
LEAST_CHANCE = 0.01  # house choice: that a season has opened unseen is not told for less
FEW_SEASONS = 5  # as many as an answer to treat needs
PRACTICE = "common practice, no source"
COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
BEYOND = (
    "What is usual stands beside the ways on like two more years. Beyond a fortnight little is known but the time "
    "of year and how warm the ground is."
)
# Told again on past seasons, one morning in seven; tests/benchmark_airports.py prints it.
TRIED = (
    "Tried on past seasons of five US airports, each left out whole, with emulated forecasts: such ranges held the day "
    "that came on 78 to 88 of a hundred mornings (94 for Pythium blight), and were an eighth to a third narrower than "
    "the usual ones. For brown patch, dollar spot, anthracnose, large patch and spring dead spot the chance within 14 "
    "days took away 12 to 40 % of the error of the usual one; for Pythium blight, which opened in half of the seasons, "
    "none."
)


def season_text(page: SeasonPage) -> str:
    """The page for a terminal."""
    return "\n".join(_lines(page)) + "\n"


def _lines(page: SeasonPage) -> Iterator[str]:
    today = page.as_of.date()
    yield f"Season openers on {page.as_of:%A} {today.day} {today:%B} {today.year} · {page.grounds}"
    yield f"{'Replayed: told' if page.replay else 'Told'} at {clock(page.as_of)} from what was known then."
    if page.invented:
        yield INVENTED
    for area in page.areas:
        yield ""
        yield f"{area.property_name} · {area.area_name} · {area.grass}"
        for one in area.diseases:
            yield ""
            for sentence in answer(one, area.area_name, today):
                yield from wrapped(sentence, 2, 2)
            for sentence in (*why(one, today, us=page.units == "us"), *how_sure(one, today)):
                yield from wrapped(sentence, 4, 2)
        if area.without:
            yield ""
            yield from wrapped(f"No tested model for {area.grass}: {', '.join(area.without)}.", 2, 2)
    yield ""
    for sentence in common(page):
        yield from wrapped(sentence)
    for caution in page.cautions:
        yield from wrapped(caution)


def answer(one: DiseaseSeason, area_name: str, today: date) -> list[str]:
    """When it usually opens, when this year, and by when prevention begins."""
    name = f"{capital(one.name)} on {area_name}"
    if one.opened is not None:
        told = f"{name}: the season opened on {_weekday(one.opened, today)}; {_usual(one)}."
        return [told, *([] if one.usual_start is None else _start_of_past(one.usual_start, one))]
    told = f"{name}: {_usual(one)}; {_this_year(one, today)}."
    return [told, *([] if one.start is None else _start(one.start, one, today))]


def _usual(one: DiseaseSeason) -> str:
    seasons, opened = len(one.past), sum(each.opened is not None for each in one.past)
    if not seasons:
        return "no past season is known here, so that nothing is usual"
    over = f"{_number(seasons)} past season{'s' if seasons > 1 else ''}"
    if one.usual is None:
        return f"it opened in none of {over}" if seasons > 1 else "it did not open in the one past season known"
    if seasons == 1:
        return f"by the one past season known it opens {_dates(one.usual, one.first_day, None)}"
    how = "it usually opens" if one.opened is not None else "the season usually opens"
    dates = _dates(one.usual, one.first_day, None)
    if opened < seasons:
        return f"it opened in {_number(opened)} of {over}, then {dates}"
    return f"{how} {dates.removesuffix(')')} over {over})"


def _this_year(one: DiseaseSeason, today: date) -> str:
    year = "this year" if one.first_day <= today or one.first_day.year == today.year else "next season"
    if one.this_year is None or one.opens is None:
        return f"{year} cannot be told"
    if one.made == "past_years" and today < one.first_day:
        return f"nothing is known yet of {year} that would move it"
    if one.this_year.middle is None:
        return f"{year} it opens by {_date(one.told_until, today)} in {percent(one.opens)} of the ways"
    dates = f"{year} {_dates(one.this_year, one.first_day, today)}"
    if one.may_have_opened >= LEAST_CHANCE:
        return f"{dates}; it may have opened on days that are not known ({percent(one.may_have_opened)})"
    return dates


def _start(start: Start, one: DiseaseSeason, today: date) -> list[str]:
    middle = start.spread.middle
    if middle is None:
        told = ["No day to start is named, since the season stays shut in most ways."]
    elif middle < today:
        passed = f"The usual start has passed: two weeks before ({PRACTICE}) was about {_weekday(middle, today)}."
        told = [f"{passed} Prevention that is not down yet is late for the middle of these dates."]
    else:
        by = f"Have prevention down by about {_weekday(middle, today)}, two weeks before ({PRACTICE});"
        told = [f"{by} {_range(start.spread, today)} in eight of ten ways."]
    earlier = ", ".join(
        f"in {words} ways by {_date(day, today)}{' (passed)' if day < today else ''}"
        for words, day in (("three of four", start.three_in_four), ("nine of ten", start.nine_in_ten))
        if day is not None
    )
    if earlier:
        told.append(f"To be early enough: {earlier}.")
    if one.within_14_days is not None and one.first_day <= today:
        told.append(f"The chance that it opens within 14 days is {percent(one.within_14_days)}.")
    return told


def _start_of_past(start: Start, one: DiseaseSeason) -> list[str]:
    middle, early = start.spread.middle, start.three_in_four
    passed = f"The preventive start, two weeks before ({PRACTICE}), has passed for this season"
    if middle is None:
        return [f"{passed}."]
    if sum(each.opened is not None for each in one.past) == 1:
        return [f"{passed}; in the one past season that opened it was {_date(middle)}."]
    by = "" if early is None else f", early enough in three of four past seasons by {_date(early)}"
    return [f"{passed}; the usual one, for the next season, is about {_date(middle)}{by}."]


def why(one: DiseaseSeason, today: date, *, us: bool) -> list[str]:
    """How the season stands, and what past seasons did."""
    standing, told = one.standing, []
    usual_days = standing.usual_event_days
    if one.opened is None and usual_days is not None and (standing.event_days or usual_days >= 0.05):
        days = f"{_number(standing.event_days)} day{'' if standing.event_days == 1 else 's'} of disease weather"
        told.append(f"Since {_date(one.first_day, today)} {days}; by this date {usual_days:.1f} are usual.")
    if standing.warmer_by_c is not None and standing.damper_by_c is not None:
        told.append(
            f"Since {_date(standing.weather_since, today)} the air has been "
            f"{_apart(standing.warmer_by_c, 'warmer', 'colder', us=us)} than usual for the dates, and its dew point "
            f"{_apart(standing.damper_by_c, 'higher', 'lower', us=us)}."
        )
    if one.past:
        seasons = (f"{each.year}:{NBSP}{_opened(each.opened, each.year)}" for each in one.past)
        told.append(f"Openings by the year in which the season begins: {', '.join(seasons)}.")
    return told


def how_sure(one: DiseaseSeason, today: date) -> list[str]:
    """What the dates rest on."""
    told = []
    if one.opened is None and one.this_year is not None and one.made != "past_years":
        leads = "the last readings"
        if one.forecast_until is not None:
            leads = f"the last readings and the weather forecast to {_date(one.forecast_until, today)}"
        told.append(f"Told by the weather of {_years(one.member_years)} going on from {leads}.")
    elif one.this_year is not None and one.first_day <= today:
        told.append("Told by what is usual alone: there is no fresh reading, or no past year of weather to go on with.")
    opened = sum(each.opened is not None for each in one.past)
    if 0 < opened < FEW_SEASONS:
        few = f"{_number(opened)} past opening{'s are' if opened > 1 else ' is'} known"
        told.append(f"Only {few}: the usual spread is drawn towards that of other places, and wide.")
    if one.past_unknown:
        some = f"{_number(one.past_unknown)} past season{'s have' if one.past_unknown > 1 else ' has'}"
        told.append(f"{capital(some)} holes that hide the opening, and do not count.")
    days = one.standing.unknown_days
    if days:
        known = f"{_number(days)} day{'s' if days > 1 else ''} of this season {'are' if days > 1 else 'is'} not known"
        what = "it may have opened earlier" if one.opened is not None else "past years stand in for them"
        told.append(f"{capital(known)}: {what}.")
    return told


def common(page: SeasonPage) -> list[str]:
    """What holds for all: the rule, what a day of disease weather is for each disease, and how such dates have done."""
    seasons = [(one, area.grass) for area in page.areas for one in area.diseases]
    if not seasons:
        return []
    first, _ = seasons[0]
    rule = f"{COUNTS[first.rule_event_days]} days of disease weather within {COUNTS[first.rule_within_days]} days"
    looked_for = "it is looked for from a month before the disease's own months on (house choice)"
    told = [
        f"A season opens with {rule}, the last of them its opening; {looked_for}.",
        "Ranges hold in eight of ten ways or years.",
    ]
    events: dict[tuple[str, str], dict[str, None]] = {}
    for one, grass in seasons:
        events.setdefault((one.name, one.event_words), {})[grass] = None
    for (name, words), grasses in events.items():
        told.append(f"{capital(name)} on {listed(tuple(grasses))}: a day of disease weather is one on which {words}.")
    told.append(f"{NAMED_BY_ITS_END} It is weather, not disease.")
    if any(one.made != "past_years" for one, _ in seasons):
        told += [BEYOND, TRIED]
    return told


def _dates(spread: Spread, first_day: date, today: date | None) -> str:
    """A middle date and its range in brackets; without a year where it is the dates of any year that are meant."""
    if spread.middle is None:
        return f"not at all in most ways, at the earliest about {_range(spread, today)}"
    at_once = spread.middle == first_day  # the rule may have been met before an opening is looked for
    return f"{'by' if at_once else 'about'} {_date(spread.middle, today)} ({_range(spread, today)})"


def _range(spread: Spread, today: date | None) -> str:
    if spread.early is None:
        return "late or not at all"
    if spread.late is None:
        return f"{_date(spread.early, today)} to late or not at all"
    if spread.early == spread.late:
        return _date(spread.early, today)
    return f"{_date(spread.early, today)} to {_date(spread.late, today)}"


def _apart(by_c: float, more: str, less: str, *, us: bool) -> str:
    amount = abs(f_from_c(by_c) - f_from_c(0.0)) if us else abs(by_c)
    return f"{amount:.1f}{NBSP}{'°F' if us else '°C'} {more if by_c > 0 else less}"


def _opened(day: date | None, year: int) -> str:
    return "not" if day is None else _date(day, date(year, 1, 1))


def _years(count: int) -> str:
    return f"{_number(count)} past year{'s' if count != 1 else ''}"


def _date(day: date, today: date | None = None) -> str:
    """A date, with its year where that is not the present one; without today there is none."""
    year = "" if today is None or day.year == today.year else f"{NBSP}{day.year}"
    return f"{day.day}{NBSP}{day:%b}{year}"


def _weekday(day: date, today: date) -> str:
    return day_words(day) + ("" if day.year == today.year else f"{NBSP}{day.year}")


def _number(count: int) -> str:
    return COUNTS[count] if count < len(COUNTS) else str(count)
