"""Surfaces from a GeoJSON file (RFC 7946): polygons with their holes, by geodesic area on the WGS 84 ellipsoid.

A file is somebody else's: it is read within limits, and whatever is no sound polygon is refused with a sentence.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NoReturn

from geographiclib.geodesic import Geodesic
from shapely import STRtree
from shapely.geometry import Polygon
from shapely.validation import explain_validity

from forecast.errors import DataError

MOST_BYTES = 5_000_000
MOST_CORNERS = 100_000
MOST_SURFACES = 1_000
OVERLAP_SHARE = 0.01  # house choice: borders drawn by hand may overlap by so much of the smaller surface
FARTHEST_LATITUDE_DEG = 72.0  # house choice: no turf is kept nearer the poles; longitude and latitude were swapped
LARGEST_M2 = 1e8  # house choice: a hundred square kilometres are no turf, but coordinates gone wrong
_HINT = "save the surface as polygons in WGS 84 longitude and latitude, as RFC 7946 wants"


@dataclass(frozen=True, slots=True)
class DrawnSurface:
    """One polygon.

    Attributes:
        name: of its feature; a number where it has none.
        size_m2: without its holes.
        middle_longitude_deg: of its middle, so that a reader sees where it lies.
        middle_latitude_deg: likewise.
    """

    name: str
    size_m2: float
    middle_longitude_deg: float
    middle_latitude_deg: float


def read_surfaces(text: str) -> tuple[DrawnSurface, ...]:
    """Every polygon of a GeoJSON text.

    Raises:
        DataError: it is no GeoJSON, too large, holds something other than polygons, one whose sides cross, or two that
            lie over each other.
    """
    if len(text.encode()) > MOST_BYTES:
        raise DataError(f"the file is larger than {MOST_BYTES // 1_000_000} MB", hint="leave out what is no turf")
    try:
        data = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise DataError("the file is no JSON", hint=_HINT) from error
    named = [(name, rings) for name, geometry in _geometries(data) for rings in _polygons(geometry)]
    if not named:
        raise DataError("the file holds no polygon", hint=_HINT)
    if len(named) > MOST_SURFACES or sum(len(ring) for _, rings in named for ring in rings) > MOST_CORNERS:
        raise DataError(f"the file holds more than {MOST_SURFACES} surfaces or {MOST_CORNERS:,} corners", hint=_HINT)
    counts: dict[str, int] = {}
    found, shapes = [], []
    for place, (name, rings) in enumerate(named, start=1):
        called = name or f"surface {place}"
        counts[called] = counts.get(called, 0) + 1
        if counts[called] > 1:
            called = f"{called} ({counts[called]})"
        shape = Polygon(rings[0], rings[1:])
        if not shape.is_valid:
            raise DataError(f"{called}: its sides cross ({explain_validity(shape)})", hint="draw it anew")
        size_m2 = _ring_m2(rings[0]) - sum(_ring_m2(hole) for hole in rings[1:])
        if not 0 < size_m2 < LARGEST_M2:
            raise DataError(f"{called} measures {size_m2:,.0f} m²", hint="longitude comes first, then latitude")
        middle = shape.centroid
        found.append(DrawnSurface(called, size_m2, middle.x, middle.y))
        shapes.append(shape)
    _refuse_overlap(found, shapes)
    return tuple(found)


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")


def _geometries(data: Any) -> Iterator[tuple[str, Any]]:
    kind = data.get("type") if isinstance(data, dict) else None
    if kind == "FeatureCollection" and isinstance(data.get("features"), list):
        for feature in data["features"]:
            yield from _geometries(feature)
    elif kind == "Feature":
        properties = data.get("properties")
        name = properties.get("name") if isinstance(properties, dict) else None
        yield (_plain(name) if isinstance(name, str) else "", data.get("geometry"))
    elif kind in ("Polygon", "MultiPolygon"):
        yield "", data
    else:
        raise DataError(f"the file holds {_words(kind)}, and only polygons are read", hint=_HINT)


def _plain(name: str) -> str:
    """A name in one short line, without signs that steer a terminal."""
    return "".join(letter for letter in " ".join(name.split()) if letter.isprintable())[:80]


def _words(kind: object) -> str:
    return f"a {kind[:40]}" if isinstance(kind, str) and kind else "something that is no GeoJSON"


def _polygons(geometry: Any) -> Iterator[list[list[tuple[float, float]]]]:
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if kind not in ("Polygon", "MultiPolygon"):
        raise DataError(f"the file holds {_words(kind)}, and only polygons are read", hint=_HINT)
    coordinates = geometry.get("coordinates")
    for polygon in [coordinates] if kind == "Polygon" else _list(coordinates):
        rings = [[_position(one) for one in _list(ring)] for ring in _list(polygon)]
        if not rings or any(len(ring) < 4 or ring[0] != ring[-1] for ring in rings):
            raise DataError("a ring has four positions at least, the last as the first", hint=_HINT)
        yield rings


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise DataError("coordinates are not nested as RFC 7946 wants", hint=_HINT)
    return value


def _position(value: Any) -> tuple[float, float]:
    pair = _list(value)[:2]
    if len(pair) < 2 or any(isinstance(one, bool) or not isinstance(one, (int, float)) for one in pair):
        raise DataError("a position is a longitude and a latitude", hint=_HINT)
    try:
        longitude, latitude = (float(one) for one in pair)
    except OverflowError:
        longitude = latitude = math.inf
    if not (-180 <= longitude <= 180 and -90 <= latitude <= 90):
        raise DataError(
            f"{longitude:g}, {latitude:g} is no longitude and latitude in degrees",
            hint="save the file in WGS 84 (EPSG:4326); metres of a map grid are not read",
        )
    if abs(latitude) > FARTHEST_LATITUDE_DEG:
        raise DataError(
            f"{longitude:g}, {latitude:g} lies at latitude {latitude:g}, where no turf is",
            hint="longitude comes first, then latitude",
        )
    return longitude, latitude


def _ring_m2(ring: list[tuple[float, float]]) -> float:
    walk = Geodesic.WGS84.Polygon()
    for longitude, latitude in ring[:-1]:
        walk.AddPoint(latitude, longitude)
    return abs(float(walk.Compute(reverse=False, sign=True)[2]))


def _refuse_overlap(found: list[DrawnSurface], shapes: list[Polygon]) -> None:
    for first, second in STRtree(shapes).query(shapes, predicate="intersects").T:
        if first < second:
            shared = shapes[first].intersection(shapes[second]).area
            if shared > OVERLAP_SHARE * min(shapes[first].area, shapes[second].area):
                raise DataError(
                    f"{found[first].name} and {found[second].name} lie over each other, and would count twice",
                    hint="cut one of them back, or give a file each",
                )
