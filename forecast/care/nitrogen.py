"""Nitrogen advice, by what trials found on the grass with the disease whose pressure is up; never a rate to put on."""

from __future__ import annotations

from dataclasses import dataclass

from forecast.care.facts import Advice
from forecast.turf import DISEASES, Area
from forecast.units import G_PER_LB, M2_PER_1000_SQ_FT

TALL_FESCUE_WORSE_KG_HA = 294.0  # a year: worse in one of two years (Butler, Galle & Kerns 2019; Powlen et al. 2024)


@dataclass(frozen=True, slots=True)
class Finding:
    """What trials found of nitrogen on some grasses with one disease.

    Attributes:
        disease: its key.
        grasses: where it was found.
        more_is_worse: True where nitrogen raised it, False where it lowered it.
        found: in words.
        source: where it was read.
    """

    disease: str
    grasses: tuple[str, ...]
    more_is_worse: bool
    found: str
    source: str


_POWLEN = "Powlen et al. 2024, Crop Sci. (abstract)"

# The bentgrass of the trial is not named more closely in the abstract's notes; both bentgrasses are taken.
FINDINGS = (
    Finding(
        "brown_patch",
        ("creeping_bentgrass", "colonial_bentgrass"),
        more_is_worse=True,
        found="a quarter of the nitrogen had 17\u00a0% less brown patch on bentgrass",
        source=_POWLEN,
    ),
    Finding(
        "brown_patch",
        ("perennial_ryegrass",),
        more_is_worse=True,
        found=(
            "a quarter of the nitrogen had 33\u00a0% less brown patch on ryegrass; in the field twice the nitrogen had "
            "more of it in one year"
        ),
        source=f"{_POWLEN}; Fidanza & Dernoeden 1996, Crop Sci. 36:1620-1630 (abstract)",
    ),
    Finding(
        "gray_leaf_spot",
        ("perennial_ryegrass",),
        more_is_worse=True,
        found="fed ryegrass had more gray leaf spot than unfed",
        source="Williams, Burrus & Vincelli 2001, Crop Sci. 41:1207-1211 (abstract)",
    ),
    Finding(
        "dollar_spot",
        DISEASES["dollar_spot"].grasses,
        more_is_worse=False,
        found="dollar spot on greens fell only under generous nitrogen every two weeks",
        source="Koch, trade summary, read second-hand",
    ),
    Finding(
        "anthracnose",
        ("annual_bluegrass", "creeping_bentgrass"),
        more_is_worse=False,
        found="twice the nitrogen was what lowered anthracnose most",
        source="Rutgers abstracts, read second-hand",
    ),
)


def nitrogen(area: Area, diseases_up: frozenset[str], *, us: bool) -> Advice | None:
    """Nitrogen advice; None where no disease with a finding is up, or the area is fed as it should be.

    Args:
        area: the area; its nitrogen may be unknown.
        diseases_up: diseases in their season whose pressure passes now.
        us: pounds a 1,000 sq ft, else kg a hectare.
    """
    found = [one for one in FINDINGS if one.disease in diseases_up and area.grass in one.grasses]
    against = [one for one in found if one.more_is_worse]
    asking = [one for one in found if not one.more_is_worse]
    if against and asking:
        return _told("Leave nitrogen as it is: what is up here pulls both ways.", found)
    if against:
        return None if area.ground.nitrogen == "low" else _told("Hold nitrogen back while this weather lasts.", against)
    tall_fescue = _tall_fescue(area, diseases_up, us=us)
    if asking and area.ground.nitrogen == "low":
        return _told("Do not let it starve: it is set as low in nitrogen.", asking)
    return tall_fescue


def _told(text: str, found: list[Finding]) -> Advice:
    why = "; ".join(one.found for one in found)
    return Advice("nitrogen", text, f"In trials {why}.", "; ".join(dict.fromkeys(one.source for one in found)))


def _tall_fescue(area: Area, diseases_up: frozenset[str], *, us: bool) -> Advice | None:
    """Only where it is fed much: that the usual rates make no difference is no advice, and would be said every day."""
    if area.grass != "tall_fescue" or "brown_patch" not in diseases_up or area.ground.nitrogen != "high":
        return None
    most = f"{TALL_FESCUE_WORSE_KG_HA:.0f}\u00a0kg/ha"
    if us:
        pounds = TALL_FESCUE_WORSE_KG_HA / 10_000 * 1000 / G_PER_LB * M2_PER_1000_SQ_FT
        most = f"{pounds:.0f}\u00a0lb a 1,000 sq ft"
    text = f"Feed less if it gets {most} a year or more."
    why = (
        "On tall fescue in the field the usual rates made no difference to brown patch; only the highest tried, "
        f"{most} a year, had more, in one year of two. An older trial found fed plots worse on some dates."
    )
    source = (
        "Powlen et al. 2024; Butler, Galle & Kerns 2019, doi 10.2134/cftm2019.03.0018; Burpee 1995, Plant Dis. 79:721 "
        "(abstracts)"
    )
    return Advice("nitrogen", text, why, source)
