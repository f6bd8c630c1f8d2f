"""A disease's months at a place, turned by half a year in the southern hemisphere."""

from __future__ import annotations

from forecast.turf import Disease


def season_months(disease: Disease, latitude_deg: float) -> tuple[int, int]:
    """First and last month of a disease's season; six months on in the southern hemisphere."""
    south = 6 if latitude_deg < 0 else 0
    return (disease.first_month - 1 + south) % 12 + 1, (disease.last_month - 1 + south) % 12 + 1


def in_season(disease: Disease, latitude_deg: float, month: int) -> bool:
    """Whether a month lies within the season or next to it."""
    first, last = season_months(disease, latitude_deg)
    length = (last - first) % 12
    return (month - (first - 1)) % 12 <= length + 2
