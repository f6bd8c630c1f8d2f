"""Surfaces from GeoJSON: geodesic size, holes, and files that are somebody else's."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from forecast.cli import cli
from forecast.errors import DataError
from forecast.ingest.geojson import read_surfaces

# WGS 84 (NGA standard): a = 6,378,137 m, 1/f = 298.257223563. Length of a degree at 45° north by the radii of curvature
# of the meridian, a(1 − e²)/(1 − e² sin²φ)^1.5, and of the prime vertical, a/(1 − e² sin²φ)^0.5, with e² = f(2 − f).
A_M, F = 6_378_137.0, 1 / 298.257223563
E2 = F * (2 - F)
DEGREE_LATITUDE_M = math.radians(1) * A_M * (1 - E2) / (1 - E2 * 0.5) ** 1.5
DEGREE_LONGITUDE_M = math.radians(1) * A_M / (1 - E2 * 0.5) ** 0.5 * math.cos(math.radians(45))
Ring = list[list[float]]


def _square(west: float, south: float, side_deg: float) -> Ring:
    east, north = west + side_deg, south + side_deg
    return [[west, south], [east, south], [east, north], [west, north], [west, south]]


def _polygon(*rings: Ring) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings)}


def _feature(geometry: Any, name: Any = None) -> dict[str, Any]:
    return {"type": "Feature", "properties": None if name is None else {"name": name}, "geometry": geometry}


def _collection(*features: dict[str, Any]) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features)}


def _sizes(data: Any) -> list[float]:
    return [one.size_m2 for one in read_surfaces(json.dumps(data))]


def _refused(text: str) -> str:
    with pytest.raises(DataError) as caught:
        read_surfaces(text)
    return str(caught.value)


CELL = _square(-80.0, 44.9995, 0.001)
CELL_M2 = DEGREE_LATITUDE_M * DEGREE_LONGITUDE_M * 1e-6


def test_a_small_cell_has_the_size_of_its_degrees() -> None:
    assert _sizes(_polygon(CELL)) == [pytest.approx(CELL_M2, rel=1e-7)]


def test_the_way_round_and_a_third_coordinate_change_nothing() -> None:
    there, back = _sizes(_polygon(CELL)), _sizes(_polygon(CELL[::-1]))
    assert there == pytest.approx(back, rel=1e-12)
    assert _sizes(_polygon([[*point, 120.0] for point in CELL])) == there


def test_a_hole_is_no_turf() -> None:
    """A hole half as wide is a quarter of the cell."""
    hole = _square(-79.99975, 44.99975, 0.0005)
    assert _sizes(_polygon(CELL, hole)) == [pytest.approx(0.75 * CELL_M2, rel=1e-7)]


def test_features_keep_their_names_and_several_polygons_count_each() -> None:
    far = _square(-79.9, 45.0, 0.001)
    both = {"type": "MultiPolygon", "coordinates": [[CELL], [far]]}
    unnamed = _feature(_polygon(_square(-79.8, 45.0, 0.001)))
    found = read_surfaces(json.dumps(_collection(_feature(both, "Front\n lawn"), unnamed)))
    assert [one.name for one in found] == ["Front lawn", "Front lawn (2)", "surface 3"]
    assert found[0].middle_longitude_deg == pytest.approx(-79.9995, abs=1e-9)
    assert found[0].middle_latitude_deg == pytest.approx(45.0, abs=1e-9)


def test_neighbours_share_a_border_and_nothing_more() -> None:
    beside = _square(-79.999, 44.9995, 0.001)
    assert len(_sizes(_collection(_feature(_polygon(CELL)), _feature(_polygon(beside))))) == 2
    over = _square(-79.9995, 44.9995, 0.001)
    told = _refused(json.dumps(_collection(_feature(_polygon(CELL), "A"), _feature(_polygon(over), "B"))))
    assert "A and B lie over each other" in told


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (_polygon([[0, 0], [0.001, 0.001], [0.001, 0], [0, 0.001], [0, 0]]), "sides cross"),
        (_polygon(CELL, _square(-70.0, 45.0, 0.001)), "sides cross"),  # a hole outside
        (_polygon(CELL[:-1]), "the last as the first"),
        (_polygon([[0, 0], [1, 1], [0, 0]]), "four positions at least"),
        (
            _polygon([[500_000, 4_000_000], [500_010, 4_000_000], [500_010, 4_000_010], [500_000, 4_000_000]]),
            "no longitude",
        ),
        ({"type": "Polygon", "coordinates": [[[0, 0], ["1", 0], [1, 1], [0, 0]]]}, "a position is"),
        (_polygon([[0, 0], [True, 0], [1, 1], [0, 0]]), "a position is"),
        (_polygon([[0, 0], [10**400, 0], [1, 1], [0, 0]]), "no longitude"),
        (_polygon([[0], [1, 0], [1, 1], [0]]), "a position is"),
        (_polygon(_square(-80.0, 45.0, 1.0)), "measures"),
        (_polygon([[y, x] for x, y in CELL]), "at latitude -80, where no turf is"),
        ({"type": "Polygon", "coordinates": 5}, "not nested"),
        ({"type": "Polygon"}, "not nested"),
        ({"type": "Polygon", "coordinates": []}, "four positions at least"),
        ({"type": "Point", "coordinates": [0, 0]}, "a Point, and only polygons are read"),
        (_feature({"type": "LineString", "coordinates": CELL}), "a LineString, and only polygons are read"),
        (_feature(None), "something that is no GeoJSON"),
        ({"type": "FeatureCollection", "features": []}, "holds no polygon"),
        ({"type": "FeatureCollection", "features": [5]}, "something that is no GeoJSON"),
        ([], "something that is no GeoJSON"),
        ("Polygon", "something that is no GeoJSON"),
    ],
)
def test_what_is_no_surface_is_refused(data: Any, told: str) -> None:
    assert told in _refused(json.dumps(data))


@pytest.mark.parametrize("text", ["", "{", "NaN", "[" * 100_000, '{"type": "Polygon", "coordinates": [[[NaN, 0]]]}'])
def test_what_is_no_json_is_refused(text: str) -> None:
    assert "no JSON" in _refused(text)


def test_a_file_has_limits() -> None:
    assert "larger than 5 MB" in _refused(" " * 5_000_001)
    many = _collection(*(_feature(_polygon(_square(i / 100, 45.0, 0.001))) for i in range(1001)))
    assert "more than 1000 surfaces" in _refused(json.dumps(many))


def test_a_name_cannot_steer_a_terminal(tmp_path: Path) -> None:
    path = tmp_path / "lawn.geojson"
    path.write_text(json.dumps(_feature(_polygon(CELL), "\x1b[2Jlawn\x07")))
    rest = ("--rate", "1 fl oz/1000 sq ft", "--carrier", "1 gal/1000 sq ft", "--tank", "1 gal", "--size", "5 sq ft")
    done = CliRunner().invoke(cli, ["mix", "--geojson", str(path), *rest])
    assert done.exit_code == 0, done.output
    assert "[2Jlawn about 45.0000°, -79.9995° in lawn.geojson" in " ".join(done.stdout.split())
    assert "\x1b" not in done.stdout
    assert "\x07" not in done.stdout


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "lawn.geojson"
    path.write_bytes(b"\xff\xfe\x00")
    rest = ("--rate", "1 oz/acre", "--carrier", "1 gal/acre", "--tank", "1 gal")
    done = CliRunner().invoke(cli, ["mix", "--geojson", str(path), *rest])
    assert isinstance(done.exception, DataError)
    assert "no text in UTF-8" in str(done.exception)


_WORDS = st.sampled_from(["Polygon", "Feature", "MultiPolygon", "FeatureCollection"])
_KEYS = st.sampled_from(["type", "coordinates", "features", "geometry", "properties", "name"])
_JSON: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | _WORDS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_KEYS, inner, max_size=4),
    max_leaves=20,
)


@given(_JSON)
def test_any_json_is_surfaces_or_a_sentence(data: Any) -> None:
    try:
        found = read_surfaces(json.dumps(data))
    except DataError:
        return
    assert all(one.size_m2 > 0 for one in found)
