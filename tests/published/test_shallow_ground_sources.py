"""The ground side of shallow arrays against what others have published. Source beside each."""

from __future__ import annotations

import math

import ht
import numpy as np
import pytest
from iapws import IAPWS97

from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.ground.load_history import BrineLimits, GroundLoad
from hydraulics.ground.pipe_heat import (
    gnielinski_1976,
    gnielinski_coil_turbulent,
    nusselt,
    schmidt_critical_reynolds,
    wall_resistance,
)
from hydraulics.ground.soil import (
    SOILS,
    Ground,
    cote_konrad_2005,
    de_vries_1963,
    johansen_solids,
    soil_properties,
)
from hydraulics.ground.temperature import SurfaceTemperature, damping_depth, kusuda_achenbach
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.shallow.pond import churchill_chu_1975, water_around_pipe
from hydraulics.shallow.response import pipe_row, step_response
from hydraulics.shallow.trenches import life_of_trenches


@pytest.mark.parametrize(("depth", "diameter"), [(1.2, 0.04), (0.8, 0.032), (2.0, 0.05)])
def test_one_pipe_settles_at_the_isothermal_shape_factor(depth: float, diameter: float) -> None:
    # Incropera & DeWitt, conduction shape factors: R = acosh(2z/D)/(2 pi k) (from memory).
    steady = math.acosh(2 * depth / diameter) / (2 * math.pi * 1.5)
    late = step_response(Ground(1.5, 2.2e6), pipe_row(1, 0.0, depth, diameter), longest=3e10)(3e10)
    # 0.05 %: what is left of the transient after a thousand years.
    assert float(late) == pytest.approx(steady, rel=5e-4)


def test_a_row_of_pipes_settles_at_the_shape_factor_of_a_row() -> None:
    # Incropera, row of equal pipes at spacing w in a half space (Eckert & Drake; from memory):
    # R = ln[(w/(pi r)) sinh(2 pi z/w)]/(2 pi k) per metre of pipe, w > D, endless row.
    k, z, w, d = 1.5, 1.2, 0.6, 0.032
    endless = math.log(2 * w / (math.pi * d) * math.sinh(2 * math.pi * z / w)) / (2 * math.pi * k)
    trench, ground = pipe_row(1, 0.0, z, d), Ground(k, 2.2e6)
    few, many = (
        float(step_response(ground, trench, n, w, longest=3e13)(3e13)) for n in (2000, 4000)
    )
    # Both rows have the same two ends: what the second half adds is an endless row's.
    # 0.1 %: the formula takes the pipe as thin against its spacing, and the transient's tail.
    assert 2 * many - few == pytest.approx(endless, rel=1e-3)


@pytest.mark.parametrize(
    ("depth", "day_35", "coldest", "lag"),
    # Worked from the equation as printed in public model documentation of Kusuda & Achenbach
    # (1965): Tm 10, A 8, t0 35, a 1e-6 m2/s, period 365 d.
    [
        (1.0, 4.4536, 4.1653, 18.34),
        (1.2, 4.9105, 4.5223, 22.00),
        (2.0, 6.5646, 5.7446, 36.67),
        (5.0, 10.0121, 8.3491, 91.68),
    ],
)
def test_undisturbed_ground_by_kusuda_and_achenbach(
    depth: float, day_35: float, coldest: float, lag: float
) -> None:
    surface = SurfaceTemperature(10.0, 8.0, 35.0)
    # 0.002 K and 0.04 d: the year is 365.25 d here and 365 d there.
    assert float(kusuda_achenbach(surface, 1e-6, depth, 35.0)) == pytest.approx(day_35, abs=2e-3)
    days = 35.0 + np.arange(0.0, 120.0, 0.01)
    year = kusuda_achenbach(surface, 1e-6, depth, days)
    assert float(year.min()) == pytest.approx(coldest, abs=2e-3)
    assert days[year.argmin()] - 35.0 == pytest.approx(lag, abs=0.04)


def test_damping_depth_of_common_soil() -> None:
    # sqrt(a P/pi), soil physics text books after Hillel (1982): 3.17 m at 1e-6 m2/s.
    assert damping_depth(1e-6) == pytest.approx(3.17, abs=0.005)


@pytest.mark.parametrize(
    ("soil", "saturated", "low", "high"),
    # VDI 4640 Part 1, table 1, typical conductivity of water-saturated ground (read in a
    # reproduction: gravel 1.8, sand 2.4, clay/silt 1.7) and range of heat capacity, MJ/m3 K
    # (0.67; 0.61 to 0.81; 0.44 to 0.94 kWh/m3 K).
    [
        ("gravel", 1.8, 2.2, 2.7),
        ("sand", 2.4, 2.2, 2.92),
        ("silt", 1.7, 1.6, 3.4),
        ("clay", 1.7, 1.6, 3.4),
    ],
)
def test_saturated_soils_agree_with_the_guideline_s_typical_values(
    soil: str, saturated: float, low: float, high: float
) -> None:
    dry = soil_properties(soil, 0.0)
    density = dry.heat_capacity / 1.92e6 * (2700.0 if soil == "clay" else 2650.0)
    full = soil_properties(soil, dry.porosity * 1000.0 / density * 0.999999)
    # 25 %: the scatter that both Kersten and the guideline's own ranges show.
    assert full.conductivity == pytest.approx(saturated, rel=0.25)
    assert low * 1e6 <= full.heat_capacity <= high * 1e6


@pytest.mark.parametrize(
    ("density", "water", "sandy", "kappa", "quartz"),
    [
        (1600.0, 0.05, True, 3.55, 0.65),
        (1600.0, 0.12, True, 3.55, 0.65),
        (1700.0, 0.10, True, 3.55, 0.65),
        (1400.0, 0.15, False, 1.90, 0.4),
        (1500.0, 0.20, False, 1.90, 0.4),
        (1600.0, 0.22, False, 1.90, 0.4),
    ],
)
def test_two_conductivity_models_agree_within_their_scatter(
    density: float, water: float, sandy: bool, kappa: float, quartz: float
) -> None:
    # Kersten M. S., Thermal properties of soils, Univ. of Minnesota Bulletin 28, 1949 (from
    # memory): w in %, rho in g/cm3, from 1 % water in sand, 7 % in silt and clay; within 25 % of
    # his own measurements.
    n = 1 - density / 2650.0
    s = water * density / 1000.0 / n
    ours = cote_konrad_2005(s, n, johansen_solids(quartz), kappa, 0.75, 1.2)
    lg_w = math.log10(100.0 * water)
    shape = 0.7 * lg_w + 0.4 if sandy else 0.9 * lg_w - 0.2
    assert ours == pytest.approx(0.1442 * shape * 10.0 ** (0.6243 * density / 1e3), rel=0.25)


@pytest.mark.parametrize("density", [1300.0, 1500.0, 1700.0])
def test_dry_soil_agrees_with_johansen(density: float) -> None:
    # Johansen (1975; read in public reproductions), natural mineral soil, +-20 %.
    ours = cote_konrad_2005(0.0, 1 - density / 2650.0, 3.0, 1.9, 0.75, 1.2)
    theirs = (0.135 * density + 64.7) / (2700.0 - 0.947 * density)
    assert ours == pytest.approx(theirs, rel=0.2)


@pytest.mark.parametrize("reynolds", [4e3, 1e4, 5e4, 1e6])
@pytest.mark.parametrize("prandtl", [7.0, 40.0])
def test_straight_turbulent_film_agrees_with_a_reference_library(
    reynolds: float, prandtl: float
) -> None:
    # ht (Bell): the same correlation; friction factor from its sister library.
    friction = (1.82 * math.log10(reynolds) - 1.64) ** -2
    theirs = ht.turbulent_Gnielinski(Re=reynolds, Pr=prandtl, fd=friction)
    assert float(gnielinski_1976(reynolds, prandtl)) == pytest.approx(theirs, rel=1e-9)
    # and another author's: Petukhov-Kirillov-Popov differs by 10 % from Re 1e4.
    if reynolds >= 1e4:
        other = ht.conv_internal.turbulent_Petukhov_Kirillov_Popov(reynolds, prandtl, friction)
        assert float(gnielinski_1976(reynolds, prandtl)) == pytest.approx(other, rel=0.12)


@pytest.mark.parametrize("reynolds", [3e4, 1e5])
@pytest.mark.parametrize("prandtl", [7.0, 15.0])
def test_coiled_turbulent_film_agrees_with_other_authors(reynolds: float, prandtl: float) -> None:
    # Mori & Nakayama (1967) as in the ht library; coil correlations scatter by 15 to 20 %.
    theirs = ht.helical_turbulent_Nu_Mori_Nakayama(reynolds, prandtl, 0.026, 1.0)
    assert float(gnielinski_coil_turbulent(reynolds, prandtl, 0.026)) == pytest.approx(
        theirs, rel=0.2
    )


def test_critical_reynolds_number_of_a_one_metre_coil() -> None:
    # fluids (Bell), Schmidt (1967) for 26 mm bore: 6128.
    assert float(schmidt_critical_reynolds(0.026)) == pytest.approx(6128, abs=1)


def test_still_and_slow_flow_has_the_textbook_nusselt_number() -> None:
    # Incropera table 8.1, round pipe, uniform flux: 4.36.
    assert float(nusselt(500.0, 30.0)) == pytest.approx(4.36, abs=0.005)


def test_wall_resistance_of_a_published_pipe() -> None:
    # Geothermal Energy 3 (2015) 9, table 1 (read): 42 mm HDPE pipe, DR 11, k 0.389 W/m K,
    # pipe resistance 0.089 m K/W. That is pipe and film together (not said, but the wall alone by
    # the closed form is 0.082), so the wall must come out a little below it.
    wall = wall_resistance(0.042, 0.042 * (1 - 2 / 11), 0.389)
    assert 0.90 * 0.089 < wall < 0.089


@pytest.mark.parametrize("rayleigh", [1e3, 1e5, 1e7])
def test_free_convection_agrees_with_a_reference_library(rayleigh: float) -> None:
    theirs = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=11.0, Gr=rayleigh / 11.0)
    assert churchill_chu_1975(rayleigh, 11.0) == pytest.approx(theirs, rel=1e-9)
    if rayleigh <= 1e5:  # pipes in ponds; at 1e7 the two authors stand 34 % apart
        # Morgan (1975), another author: within 20 %.
        other = ht.Nu_horizontal_cylinder_Morgan(Pr=11.0, Gr=rayleigh / 11.0)
        assert churchill_chu_1975(rayleigh, 11.0) == pytest.approx(other, rel=0.2)


def test_buoyancy_of_warm_water_is_that_of_its_expansion_coefficient() -> None:
    # Far above 4 degC the density form must give the textbook Rayleigh number; water by IAPWS-97.
    rayleigh, _, _ = water_around_pipe(0.032, 22.0, 20.0)
    w = IAPWS97(T=294.15, P=0.12)
    textbook = 9.80665 * w.alfav * 2.0 * 0.032**3 * w.rho**2 * w.cp * 1e3 / (w.mu * w.k)
    assert rayleigh == pytest.approx(textbook, rel=0.02)


PUBLISHED_W_M2 = {
    # VDI 4640 Part 2 (2001), horizontal collector, pipes 0.8 m apart (read in a reproduction):
    # W/m2 at 1800 and 2400 h a year.
    "dry sand": (10.0, 8.0),
    "damp clay": (25.0, 20.0),
    "saturated sand": (40.0, 32.0),
}


def extraction_rates(hours: float) -> dict[str, float]:
    surface = SurfaceTemperature(9.5, 9.0, 30.0)
    shares = np.array([18, 16, 13, 9, 4, 0, 0, 0, 3, 8, 13, 16]) / 100.0
    monthly = tuple(float(x) for x in 10000.0 * hours * shares / 730.5)
    load = GroundLoad(monthly, 10000.0, 24.0, 9)
    brine = fluid(mixture("ethylene_glycol", 0.25, "mass"), -5.0)
    rates = {}
    for name, (soil, water) in {
        "dry sand": ("sand", 0.03),
        "damp clay": ("clay", 0.22),
        "saturated sand": ("sand", 0.245),
    }.items():
        found = soil_properties(soil, water)
        life = life_of_trenches(
            Ground(found.conductivity, found.heat_capacity),
            surface,
            pipe_row(1, 0.0, 1.4, 0.025),
            load,
            pe_pipe("PE100 SDR11 25"),
            brine,
            temperature_change=3.0,
            trenches=25,
            centres=0.8,
            years=20,
        )
        rates[name] = load.peak / life.needed_length(BrineLimits(-5.0)) / 0.8
    return rates


def test_extraction_rates_have_the_order_of_the_german_guideline_s() -> None:
    """Same order and same ranking; alike in dry ground, about half in damp and saturated.

    Brine down to -5 degC here; the guideline lets it fall 18 K below undisturbed ground at peak
    (from memory) and counts on soil freezing round the pipe in winter: 1 m3 of saturated sand gives
    some 35 kWh in freezing, where the table draws 72 kWh from 1 m2 in a season (40 W x 1800 h).
    Latent heat is left out here, so the gap opens with moisture. Explained, not tuned away.
    """
    long, longer = extraction_rates(1800.0), extraction_rates(2400.0)
    for name, (w_1800, w_2400) in PUBLISHED_W_M2.items():
        assert 0.3 < long[name] / w_1800 < 1.1
        assert 0.3 < longer[name] / w_2400 < 1.1
        assert longer[name] < long[name]
    assert long["dry sand"] < long["damp clay"] < long["saturated sand"]
    shortfall = [long[name] / PUBLISHED_W_M2[name][0] for name in PUBLISHED_W_M2]
    assert shortfall == sorted(shortfall, reverse=True)


# Cote & Konrad, Canadian Geotechnical Journal 42 (2005) 443-458: kappa unfrozen, chi and eta of dry
# soil, by class (read in public reproductions; crushed rock's from memory).
@pytest.mark.parametrize(
    ("soil", "kappa", "chi", "eta"),
    [
        ("gravel", 4.60, 1.70, 1.80),
        ("sand", 3.55, 0.75, 1.20),
        ("silt", 1.90, 0.75, 1.20),
        ("clay", 1.90, 0.75, 1.20),
        ("peat", 0.60, 0.30, 0.87),
    ],
)
def test_parameters_of_every_class_are_the_papers(
    soil: str, kappa: float, chi: float, eta: float
) -> None:
    kind = SOILS[soil]
    assert (kind.kappa, kind.chi, kind.eta) == (kappa, chi, eta)


# Common practice, no source: quartz, density of grains and of dry soil and its range, water.
USUAL: dict[str, tuple[float | None, float, float, tuple[float, float], float]] = {
    "gravel": (0.50, 2650, 1800, (1500, 2200), 0.05),
    "sand": (0.65, 2650, 1600, (1300, 1900), 0.10),
    "silt": (0.40, 2650, 1500, (1200, 1800), 0.20),
    "clay": (0.25, 2700, 1450, (1100, 1800), 0.26),
    "peat": (None, 1500, 200, (80, 500), 3.0),
}


@pytest.mark.parametrize("soil", USUAL)
def test_usual_values_of_every_class(soil: str) -> None:
    quartz, grains, dry, span, water = USUAL[soil]
    kind = SOILS[soil]
    assert (kind.solids_density, kind.dry_density, kind.dry_density_range) == (grains, dry, span)
    assert kind.water_content == water
    if quartz is None:
        assert kind.organic
        assert kind.solids_conductivity == 0.25  # Cote & Konrad 2005, peat
    else:
        # Johansen (1975): 7.7^q k^(1-q), k 2.0 where quartz is 0.2 or more.
        assert math.log(kind.solids_conductivity) == pytest.approx(
            quartz * math.log(7.7) + (1 - quartz) * math.log(2.0)
        )


def test_heat_capacities_of_the_parts_are_de_vries() -> None:
    # De Vries (1963, from memory): 1.92, 2.51 and 4.18 MJ/m3 K.
    assert de_vries_1963(0.0, 0.0) == pytest.approx(1.92e6)
    assert de_vries_1963(0.0, 0.0, organic=True) == pytest.approx(2.51e6)
    assert de_vries_1963(1.0, 1.0) == pytest.approx(4.18e6)
    assert de_vries_1963(0.4, 0.3) == pytest.approx(0.6 * 1.92e6 + 0.3 * 4.18e6)


def test_grains_with_little_quartz_conduct_better_than_the_mixing_rule_would_say() -> None:
    # Johansen (1975): the other minerals conduct 3.0 W/m K where quartz is less than 0.2.
    assert johansen_solids(0.0) == pytest.approx(3.0)
    assert johansen_solids(0.19999) == pytest.approx(7.7**0.2 * 3.0**0.8, rel=1e-4)
    assert johansen_solids(0.2) == pytest.approx(7.7**0.2 * 2.0**0.8)
    assert johansen_solids(1.0) == pytest.approx(7.7)
