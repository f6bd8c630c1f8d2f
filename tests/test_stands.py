"""Stands: which areas share a computation, what a setting does to it, and the water that its soil is reckoned from.

All weather here is invented.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from known_workspace import workspace

from forecast.between import Where
from forecast.clock import day_number
from forecast.config import Settings
from forecast.daily import last_stamp
from forecast.desk import caring
from forecast.desk.caring import DayWater, care_of, day_water
from forecast.desk.season import in_season, season_months
from forecast.desk.stands import areas_of, stands
from forecast.diseases import MODELS
from forecast.panel import Panel, observed
from forecast.physics.evapotranspiration import et0_hargreaves_mm, et0_of_hours_mm
from forecast.stand import Stand, StandHours, place_hours, stand_hours
from forecast.turf import DISEASES, Area, Irrigation, Setting
from forecast.wetness import BEST_KNOWN

NAN = math.nan
ZONE, OFFSET = ZoneInfo("America/New_York"), -300
WHERE = Where(41.0, -80.0, 200.0)
TODAY = day_number(date(2031, 7, 20))
EVERY_DAY = tuple(range(7))


def _panel(days: int = 30, *, wind: bool = True, last_day: int = TODAY) -> Panel:
    """Clear days of a muggy July up to 09:00 UTC of the last day; 1 mm of rain in one hour of every third day."""
    end = last_stamp(last_day - 1, OFFSET, 24) + np.timedelta64(4, "h")
    hours = end - np.arange(24 * days + 4)[::-1].astype("timedelta64[h]")
    wave = np.cos((np.arange(len(hours)) - len(hours) + 10) * 2 * np.pi / 24)
    values = {
        "air_temperature_c": 24 + 6 * wave,
        "dew_point_c": 16 + 0 * wave,
        "rain_mm": np.where(np.arange(len(hours)) % 72 == 5, 1.0, 0.0),
    }
    if wind:
        values |= {"wind_speed_10m_m_s": 2 + 0 * wave, "cloud_cover_fraction": 0.1 + 0 * wave}
    return observed(hours, ("alder",), {name: column[:, None] for name, column in values.items()})


def _stand(setting: Setting = Setting()) -> Stand:  # noqa: B008 - a frozen value
    return Stand("stand-1", "alder", WHERE, ZONE, setting, BEST_KNOWN)


def _hours(panel: Panel, stand: Stand) -> StandHours:
    return stand_hours(place_hours(panel, WHERE), stand)


def _with(panel: Panel, **changed: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Panel:
    values = {name: array[:, 0] for name, array in panel.values.items()} | changed
    return observed(panel.hours, panel.series, {name: column[:, None] for name, column in values.items()})


def _areas(*settings: Setting, places: tuple[str, ...] = ()) -> Settings:
    known = workspace({"alder": (41.0, -80.0), "birch": (41.5, -80.5)})
    first = known.areas[0]
    places = places or ("alder",) * len(settings)
    areas = tuple(
        replace(first, area_id=f"a{n}", setting=setting, place_id=place)
        for n, (setting, place) in enumerate(zip(settings, places, strict=True))
    )
    return replace(known, areas=areas)


def test_areas_of_one_place_and_one_setting_share_a_stand() -> None:
    shady = Setting(light_let_through_fraction=0.4)
    settings = _areas(Setting(), shady, Setting(), Setting(), places=("alder", "alder", "alder", "birch"))
    found = stands(settings)
    assert found["a0"] is found["a2"]
    assert len({stand.stand_id for stand in found.values()}) == 3
    assert [area.area_id for area in areas_of(found, found["a0"].stand_id, settings.areas)] == ["a0", "a2"]
    assert found["a3"].where.latitude_deg == 41.5
    assert found["a1"].setting is shady


def test_a_setting_changes_how_wet_a_stand_is() -> None:
    """Water at 19:00 of clock time keeps a film over the night; the open, dry lawn gains dew late."""
    evening = Setting(irrigation=Irrigation(EVERY_DAY, time(19), 6.0))
    open_lawn, watered = (_hours(_panel(), _stand(setting)) for setting in (Setting(), evening))
    assert open_lawn.wet.method.key == watered.wet.method.key == "energy_balance"
    lately = slice(-24 * 7, None)
    hours = [24 * float(found.wet.fraction[lately].mean()) for found in (open_lawn, watered)]
    assert hours[1] > hours[0] + 2
    # The other methods read the air alone, and have no place for water that is put on.
    for key in ("dew_point_depression", "humidity_threshold"):
        np.testing.assert_array_equal(open_lawn.wet.by_method[key], watered.wet.by_method[key])


def test_water_on_turf_is_rain_and_irrigation_and_unknown_rain_is_not_none() -> None:
    panel = _panel()
    rain = panel.values["rain_mm"][:, 0].copy()
    rain[100:110] = NAN
    stand = _stand(Setting(irrigation=Irrigation(EVERY_DAY, time(5), 6.0)))
    found = _hours(_with(panel, rain_mm=rain), stand)
    water, put_on = found.panel.values["water_on_turf_mm"][:, 0], found.turf.irrigation_mm[:, 0]
    assert put_on.sum() == pytest.approx(6.0 * 30, abs=1e-9)
    known = ~np.isnan(rain)
    np.testing.assert_allclose(water[known], rain[known] + put_on[known], rtol=0, atol=1e-12)
    # Where rain is not known, what was put on is; the rest stays unknown.
    assert np.isnan(water[~known & (put_on == 0)]).all()
    np.testing.assert_array_equal(water[~known & (put_on > 0)], put_on[~known & (put_on > 0)])


def test_the_rule_that_counts_irrigation_as_rain_is_given_both() -> None:
    """Schumann, Clarke, Rowley & Burpee 1994: 2.5 mm of rain or irrigation in 36 hours; here it never rains."""
    panel = _panel()
    muggy = {"dew_point_c": panel.values["air_temperature_c"][:, 0] - 0.3, "rain_mm": np.zeros(len(panel.hours))}
    dry, watered = (
        _hours(_with(panel, **muggy), _stand(Setting(irrigation=irrigation)))
        for irrigation in (None, Irrigation(EVERY_DAY, time(5), 4.0))
    )
    waters = [found.panel.values["water_on_turf_mm"][-36:].sum() for found in (dry, watered)]
    assert waters[0] == 0
    assert waters[1] >= 4.0
    assert MODELS["schumann_1994"].inputs[-1].quantity == "water_on_turf_mm"


def test_without_wind_and_sky_another_method_tells_and_says_so() -> None:
    found = _hours(_panel(wind=False), _stand())
    assert found.wet.method.key == "dew_point_depression"
    named = _hours(_panel(), replace(_stand(), wetness="humidity_threshold"))
    assert named.wet.method.key == "humidity_threshold"


def test_whole_days_up_to_yesterdays_midnight_are_summed() -> None:
    panel = _panel()
    water = day_water(_hours(panel, _stand()), _stand(), TODAY, OFFSET)
    assert isinstance(water, DayWater)
    assert water.days.tolist() == list(range(TODAY - 30, TODAY))
    # The 720 hours before midnight hold rows 0 to 719; rows 5, 77, 149 ... rained 1 mm: every third day, ten in all.
    assert water.rain_mm.tolist() == [1.0 if day % 3 == 0 else 0.0 for day in range(30)]
    assert not water.from_temperature
    hourly = et0_of_hours_mm(
        panel.hours,
        41.0,
        -80.0,
        200.0,
        air_temperature_c=panel.values["air_temperature_c"],
        dew_point_c=panel.values["dew_point_c"],
        wind_speed_10m_m_s=panel.values["wind_speed_10m_m_s"],
        cloud_cover_fraction=panel.values["cloud_cover_fraction"],
        shortwave_down_w_m2=np.full((len(panel.hours), 1), NAN),
    )
    np.testing.assert_allclose(water.et0_mm[-1], hourly[-28:-4, 0].sum(), rtol=0, atol=1e-9)
    assert 3 < water.et0_mm[-1] < 9, "a clear July day at 41° N"


def test_an_unknown_rain_hour_makes_a_days_rain_unknown_and_its_least_known() -> None:
    panel = _panel()
    rain = panel.values["rain_mm"][:, 0].copy()
    rain[6] = NAN  # of the first day, an hour after its rain
    water = day_water(_hours(_with(panel, rain_mm=rain), _stand()), _stand(), TODAY, OFFSET)
    assert isinstance(water, DayWater)
    assert math.isnan(water.rain_mm[0])
    assert water.rain_least_mm[0] == 1.0
    assert not np.isnan(water.rain_mm[1:]).any()


def test_without_wind_and_sky_evapotranspiration_is_told_from_temperature() -> None:
    water = day_water(_hours(_panel(wind=False), _stand()), _stand(), TODAY, OFFSET)
    assert isinstance(water, DayWater)
    assert water.from_temperature
    day_of_year = np.array([float(date(2031, 7, 19).timetuple().tm_yday)])
    # The wave is sampled at whole hours and meets both its ends: 30 and 18 °C.
    by_hand = et0_hargreaves_mm(day_of_year, 41.0, np.array([30.0]), np.array([18.0]))
    np.testing.assert_allclose(water.et0_mm[-1], by_hand[0], rtol=0, atol=1e-9)


@pytest.mark.parametrize(("days", "last_day"), [(6, TODAY), (30, TODAY - 1)])
def test_too_few_days_or_readings_that_stop_short_give_no_water(days: int, last_day: int) -> None:
    panel = _panel(days, last_day=last_day)
    if last_day < TODAY:
        panel = panel.between(panel.hours[0], last_stamp(TODAY - 1, OFFSET, 24) - np.timedelta64(1, "h"))
    why = "late" if last_day < TODAY else "short"
    assert day_water(_hours(panel, _stand()), _stand(), TODAY, OFFSET) == why


def test_evening_water_is_set_beside_the_same_water_at_four() -> None:
    evening = Setting(irrigation=Irrigation(EVERY_DAY, time(19), 6.0))
    stand = _stand(evening)
    water = day_water(_hours(_panel(), stand), stand, TODAY, OFFSET)
    assert isinstance(water, DayWater)
    assert water.wet_hours is not None
    assert water.wet_hours_at_04 is not None
    assert water.wet_hours > water.wet_hours_at_04 + 1
    early = _stand(replace(evening, irrigation=Irrigation(EVERY_DAY, time(4), 6.0)))
    same = day_water(_hours(_panel(), early), early, TODAY, OFFSET)
    assert isinstance(same, DayWater)
    assert same.wet_hours == same.wet_hours_at_04 == water.wet_hours_at_04


@pytest.mark.parametrize("setting", [Setting(), Setting(irrigation=Irrigation(EVERY_DAY, time(19), 6.0))])
def test_where_water_has_no_place_to_act_nothing_is_set_beside(setting: Setting) -> None:
    """No irrigation, or no wind and sky for the one method in which it acts."""
    stand = _stand(setting)
    water = day_water(_hours(_panel(wind=False), stand), stand, TODAY, OFFSET)
    assert isinstance(water, DayWater)
    assert water.wet_hours is None
    assert water.wet_hours_at_04 is None


@pytest.mark.parametrize(("still_day", "told_so"), [(0, False), (29, True)])
def test_evaporation_is_said_to_be_from_temperature_where_yesterdays_was(still_day: int, told_so: bool) -> None:
    panel = _panel()
    wind = panel.values["wind_speed_10m_m_s"][:, 0].copy()
    wind[24 * still_day : 24 * (still_day + 1)] = NAN
    water = day_water(_hours(_with(panel, wind_speed_10m_m_s=wind), _stand()), _stand(), TODAY, OFFSET)
    assert isinstance(water, DayWater)
    assert water.from_temperature is told_so


@pytest.mark.parametrize(("unknown_hours", "known"), [(6, True), (40, False)])
def test_wet_hours_are_compared_only_where_nine_in_ten_are_known(unknown_hours: int, known: bool) -> None:
    """Of 168 hours 16 may be unknown; six unread ones leave the film in doubt until the sun of the next day."""
    stand = _stand(Setting(irrigation=Irrigation(EVERY_DAY, time(4), 6.0)))
    panel = _panel()
    end = len(panel.hours) - 4  # yesterday's midnight
    temperature = panel.values["air_temperature_c"][:, 0].copy()
    temperature[end - 20 - unknown_hours : end - 20] = NAN
    water = day_water(_hours(_with(panel, air_temperature_c=temperature), stand), stand, TODAY, OFFSET)
    assert isinstance(water, DayWater)
    assert (water.wet_hours is not None) is known


def test_shade_from_the_north_keeps_the_ground_moist_in_the_south_only() -> None:
    """The sun stands in the north there; what is missing in the root zone is less by the light it takes."""
    area = _areas(Setting(light_let_through_fraction=0.1, shaded_from=("n", "ne", "nw"))).areas[0]
    stand = _stand(area.setting)
    water = day_water(_hours(_panel(), stand), stand, TODAY, OFFSET)
    now = datetime(2031, 1, 20, 5, 30, tzinfo=ZONE)
    july = now.replace(month=7)
    texts = [
        care_of(area, water, now=when, southern=southern, diseases_up=(), knows_setting=True, us=False)[0].why
        for when, southern in ((july, False), (now, True))
    ]
    assert texts[0] != texts[1]


def _advice(area: Area, panel: Panel, month: int = 7) -> list[str]:
    stand = _stand(area.setting)
    water = day_water(_hours(panel, stand), stand, TODAY, OFFSET)
    now = datetime(2031, month, 20, 5, 30, tzinfo=ZONE)
    found = care_of(area, water, now=now, southern=False, diseases_up=(), knows_setting=True, us=False)
    return [f"{one.about}: {one.text} {one.why}" for one in found]


@pytest.mark.parametrize(
    ("days", "start", "given_mm", "due"),
    [
        ((6,), time(5), 6.0, ""),  # 20 July 2031 is a Sunday; it ran half an hour ago
        ((6,), time(5, 30), 6.0, ""),
        ((6,), time(19), 0.0, "today 19:00"),
        ((0,), time(5), 0.0, "tomorrow 05:00"),
        ((0,), time(19), 0.0, ""),  # tomorrow evening is not before tomorrow noon
        ((6, 0), time(5), 6.0, "tomorrow 05:00"),
        ((2,), time(5), 0.0, ""),
    ],
)
def test_what_the_schedule_gave_and_when_it_next_runs(
    days: tuple[int, ...], start: time, given_mm: float, due: str
) -> None:
    now = datetime(2031, 7, 20, 5, 30, tzinfo=ZONE)
    watered = Irrigation(days, start, 6.0)
    assert caring._given_today_mm(watered, now) == given_mm
    assert caring._due(watered, now) == due
    assert (caring._given_today_mm(None, now), caring._due(None, now)) == (0.0, "")


def test_advice_follows_from_the_days_water() -> None:
    area = _areas(Setting()).areas[0]
    dry = _panel()  # 1 mm in three days against some 6 mm a day
    rain = dry.values["rain_mm"][:, 0].copy()
    rain[-20] = 60.0  # before yesterday's midnight
    short, full = _advice(area, dry), _advice(area, _with(dry, rain_mm=rain))
    assert short[0].startswith("watering: Short of water")
    assert full[0].startswith("watering: No water is needed")
    assert _advice(area, dry, month=1) == [], "in January turf does not grow"


def test_a_season_is_turned_by_half_a_year_in_the_south() -> None:
    brown_patch = DISEASES["brown_patch"]  # May to September
    assert season_months(brown_patch, 41.0) == (5, 9)
    assert season_months(brown_patch, -33.0) == (11, 3)
    assert [month for month in range(1, 13) if in_season(brown_patch, 41.0, month)] == [4, 5, 6, 7, 8, 9, 10]
    assert [month for month in range(1, 13) if in_season(brown_patch, -33.0, month)] == [1, 2, 3, 4, 10, 11, 12]
