"""The ground's models against measurements of others.

Soil: NOAA U.S. Climate Reference Network, station 53974 Manhattan 6 SSW, Kansas (public domain),
daily values from August 2009 on, as kept in soilwater/pynotes-agriscience; monthly means of the air
and at 5, 50 and 100 cm here.

Bore in a sand box: Beier, Smith and Spitler, Reference data sets for vertical borehole ground heat
exchanger models and thermal response test analysis, Geothermics 40 (2011) 79-85, as kept in
lbl-srg/modelica-buildings.

Small bore: Cimmino and Bernier, Experimental determination of the g-functions of a small-scale
geothermal borehole, Geothermics 56 (2015) 60-71, kept there too.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.boreholes.field import distance_classes, prepare_field_response
from hydraulics.boreholes.resistance import (
    CrossSection,
    effective_resistance,
    internal_resistance,
    local_resistance,
)
from hydraulics.ground.line_source import cylindrical_source_correction
from hydraulics.ground.load_history import wall_temperature_history
from hydraulics.ground.pipe_heat import film_resistance, nusselt, wall_resistance
from hydraulics.ground.temperature import SurfaceTemperature, kusuda_achenbach, wave_of_air

HERE = Path(__file__).parent / "measured"
Floats = NDArray[np.float64]


def table(name: str) -> Floats:
    """Columns of a record; its source stands in the first line, its columns in the second."""
    with (HERE / name).open(encoding="utf-8") as file:
        rows = [row for row in csv.reader(file) if row and not row[0].startswith(("#", "month"))]
    return np.array([[float(each) if each else math.nan for each in row] for row in rows]).T


# ---------------------------------------------------------------------------- undisturbed ground


def soil() -> dict[str, Floats]:
    """By calendar: middle of each month [d of the year], air, and soil at depths [degC]."""
    month, air, at_5, _, _, at_50, at_100 = table("uscrn_manhattan_ks_soil_monthly.csv")
    day = (month % 100 - 0.5) * 365.25 / 12.0 + 1.0
    return {"day": day, "air": air, "5": at_5, "50": at_50, "100": at_100}


def fitted(day: Floats, temperature: Floats, depth: float) -> SurfaceTemperature:
    """The wave that fits best: mean, swing and coldest day (one harmonic, by least squares)."""
    known = np.isfinite(temperature)
    angle = 2.0 * math.pi * day[known] / 365.25
    columns = np.column_stack([np.ones_like(angle), np.cos(angle), np.sin(angle)])
    mean, c, s = np.linalg.lstsq(columns, temperature[known], rcond=None)[0]
    coldest = (math.atan2(s, c) + math.pi) % math.tau / math.tau * 365.25
    return SurfaceTemperature(float(mean), float(math.hypot(c, s)), coldest, depth)


@pytest.mark.parametrize(("depth", "rms", "diffusivity"), [("100", 1.3, 4.8e-7), ("100", 1.7, 1e-6),
                                                           ("50", 1.9, 4.8e-7)])  # fmt: skip
def test_soil_is_within_2_k_of_the_wave_measured_at_5_cm(
    depth: str, rms: float, diffusivity: float
) -> None:
    """The stated 2 K; by its own swing and phase that soil has 4.8 to 5.1e-7 m2/s."""
    measured = soil()
    wave = fitted(measured["day"], measured["5"], 0.05)
    ours = kusuda_achenbach(wave, diffusivity, float(depth) / 100.0, measured["day"])
    away = ours - measured[depth]
    assert math.sqrt(np.nanmean(away**2)) < rms < 2.0


def test_a_cold_winter_lies_a_kelvin_below_the_wave() -> None:
    measured = soil()
    wave = fitted(measured["day"], measured["5"], 0.05)
    coldest = float(kusuda_achenbach(wave, 4.8e-7, 1.0, np.arange(366.0)).min())
    assert 0.5 < coldest - np.nanmin(measured["100"]) < 1.6


def test_taking_the_air_for_the_surface_is_a_kelvin_on_the_safe_side() -> None:
    measured = soil()
    months = [float(np.nanmean(measured["air"][measured["day"] == day]))
              for day in np.unique(measured["day"])]  # fmt: skip
    wave, ground = wave_of_air(months), fitted(measured["day"], measured["5"], 0.05)
    assert 0.8 < ground.mean - wave.mean < 1.4
    assert 0.0 < wave.swing - ground.swing < 1.5


# ---------------------------------------------------------------------------- bore in a sand box

SAND, SAND_HEAT = 2.88, 2.55e6  # W/m K as probes have it; J/m3 K, one of two values in use
LENGTH, BORE, FLOW = 18.3, 0.063, 0.197e-3  # m, m (radius), m3/s of water


def sand_box() -> tuple[Floats, Floats, Floats]:
    """Time [s], mean of brine in and out [degC], heat [W]."""
    time, going, back, heat = table("beier2011_sandbox_trt.csv")
    return time, 0.5 * (going + back), heat


def ground_rise(time: Floats, heat: Floats) -> Floats:
    """Rise of the bore's wall by the finite line source and the cylinder's correction [K]."""
    steps = time[1:]
    response = prepare_field_response(
        distance_classes([[0.0, 0.0]], BORE), BORE, SAND, SAND / SAND_HEAT, steps
    ).at_depth(LENGTH, 0.0)
    response += cylindrical_source_correction(steps, BORE, SAND, SAND / SAND_HEAT)
    return wall_temperature_history(heat[1:] / LENGTH, response)


def computed_resistance(
    half_spacing: float = 0.0265, grout: float = 0.73, around: float = SAND
) -> float:
    """Of that bore, water at 36 degC (IAPWS at that temperature, from memory) [m K/W]."""
    viscosity, conductivity, prandtl = 0.705e-3, 0.625, 4.72
    reynolds = 4.0 * FLOW * 994.0 / (math.pi * 0.0273 * viscosity)
    film = float(film_resistance(nusselt(reynolds, prandtl), conductivity))
    section: CrossSection = {
        "borehole_radius": BORE, "pipe_outer_radius": 0.0167, "half_shank_spacing": half_spacing,
        "ground_conductivity": around, "grout_conductivity": grout,
        "pipe_resistance": film + wall_resistance(0.0334, 0.0273, 0.39),
    }  # fmt: skip
    return effective_resistance(
        local_resistance(1, **section), internal_resistance(1, **section), LENGTH, FLOW * 994 * 4178
    )


def test_brine_in_the_sand_box_is_as_measured_with_the_resistance_reported() -> None:
    """Reported effective resistance 0.165 m K/W; after 10 h, when the bore itself is warm."""
    time, brine, _ = sand_box()
    heat = np.full_like(
        time, 1056.0
    )  # as reported; the record's heat swings from reading to reading
    ours = brine[0] + ground_rise(time, heat) + 0.165 * heat[1:] / LENGTH
    more = (ours - brine[1:]) / (brine[1:] - brine[0])
    # 2.5 to 6 % too warm, heating: the safe side. The sand's conductivity alone is 2.78 or 2.88.
    late = more[time[1:] >= 36_000.0]
    assert 0.02 < late.min() < late.max() < 0.07
    assert more[time[1:] > 72_000.0].max() < 0.04
    # Before, the heat that water and grout hold, left out, makes it too warm: the safe side too.
    early = (ours - brine[1:])[time[1:] < 7200.0]
    assert (early > 0.0).all()


def test_slope_of_the_sand_box_gives_the_conductivity_of_its_sand() -> None:
    """The line source's slope after 10 h: q/(4 pi k L), as response tests are read."""
    time, brine, heat = sand_box()
    late = time > 36_000.0
    slope = np.polyfit(np.log(time[late]), brine[late], 1)[0]
    assert heat[late].mean() / (4.0 * math.pi * LENGTH * slope) == pytest.approx(SAND, rel=0.05)


def test_resistance_of_that_bore_reads_a_fifth_above_the_reported_and_what_would_close_it() -> None:
    """Computed 0.201 against 0.165 reported, on the inputs as stated: the safe side.

    The formula is within 1 % of tenth order (test_borehole_sources.py) and the metal tube that is
    that bore's wall counts for 1 %. What closes it is where the pipes stand, 9 mm further out each
    (the room between them and the wall is 20 mm), or grout that conducts a third more than its
    probe read: a bore's resistance is no better known than these.
    """
    assert computed_resistance() == pytest.approx(1.2 * 0.165, rel=0.03)
    assert computed_resistance(around=237.0) > 0.98 * computed_resistance()  # aluminium
    assert computed_resistance(half_spacing=0.0265 + 0.009) == pytest.approx(0.165, rel=0.02)
    assert computed_resistance(grout=1.33 * 0.73) == pytest.approx(0.165, rel=0.02)


# ---------------------------------------------------------------------------------- small bore


@pytest.mark.parametrize("hour", [3, 6, 12, 24, 48, 96, 167])
def test_the_wall_of_a_small_bore_warms_as_measured_for_130_years_of_a_large_one(hour: int) -> None:
    """168 h of a bore of 0.4 m: as 130 years of one of 150 m; on the measured drift of the sand.

    Within 1.5 % of the rise from the third hour on; the heat itself is known to some per cent, and
    some of it leaves along the tubes. Before, the bore's own heat counts.
    """
    time, _, heat, wall, undisturbed = table("cimmino_bernier2015_small_scale.csv")
    depth, radius, buried, sand, capacity = 0.400, 6.29e-3, 0.019, 0.262, 745.0 * 1750.0
    response = prepare_field_response(
        distance_classes([[0.0, 0.0]], radius), radius, sand, sand / capacity, time[1:]
    ).at_depth(depth, buried)
    response += cylindrical_source_correction(time[1:], radius, sand, sand / capacity)
    ours = undisturbed[1:] + wall_temperature_history(heat[1:] / depth, response)
    at = int(np.argmin(np.abs(time[1:] - hour * 3600.0)))
    rise = wall[1:][at] - undisturbed[1:][at]
    assert ours[at] == pytest.approx(wall[1:][at], abs=0.015 * rise)
