"""What is said of the page as a whole and of its areas."""

from __future__ import annotations

from forecast.report.page import AreaReport, DiseaseReport, MorningPage
from forecast.report.words import clock

INVENTED = "Everything on this page is invented: place, weather, products, records."
SHORT = {"treat": "TREAT", "scout": "SCOUT", "hold": "HOLD", "no_model": "UNKNOWN"}


def title(page: MorningPage) -> str:
    """What the page is and when."""
    return f"Morning page, {page.as_of:%A} {page.as_of.day} {page.as_of:%B} {page.as_of.year}"


def as_of_sentence(page: MorningPage) -> str:
    """What moment it speaks for."""
    told = "Replayed: told at" if page.replay else "As of"
    return f"{told} {clock(page.as_of)} from what was known then."


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
