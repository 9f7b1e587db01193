import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError, RangeError
from hydraulics.ground.soil import (
    SOILS,
    Ground,
    cote_konrad_2005,
    johansen_solids,
    most_water,
    soil_properties,
)


@given(soil=st.sampled_from(sorted(SOILS)), less=st.floats(0.0, 1.0), more=st.floats(0.0, 1.0))
def test_wetter_soil_conducts_and_stores_more(soil: str, less: float, more: float) -> None:
    kind = SOILS[soil]
    most = (1 - kind.dry_density / kind.solids_density) * 1000.0 / kind.dry_density
    low, high = sorted((less, more))
    dry, wet = (soil_properties(soil, share * most) for share in (low, high))
    assert wet.conductivity >= dry.conductivity
    assert wet.heat_capacity >= dry.heat_capacity


@pytest.mark.parametrize("soil", sorted(SOILS))
def test_a_class_alone_gives_usable_properties(soil: str) -> None:
    found = soil_properties(soil)
    assert found.warnings == ()
    assert found.conductivity_low < found.conductivity < found.conductivity_high
    assert 0.0 < found.saturation <= 1.0


def test_dry_and_saturated_soil_are_the_model_s_own_ends() -> None:
    ends = [cote_konrad_2005(s, 0.4, 5.0, 3.55, 0.75, 1.2) for s in (0.0, 1.0)]
    assert ends[0] == pytest.approx(0.75 * 10 ** (-0.48))
    assert ends[1] == pytest.approx(5.0**0.6 * 0.57**0.4)


def test_more_water_than_the_pores_hold_is_refused_and_the_most_is_named() -> None:
    with pytest.raises(RangeError) as caught:
        soil_properties("sand", 0.5)
    assert caught.value.faults[0].field == "water_content"
    assert "24.7 %" in caught.value.faults[0].message


def test_an_unusual_density_is_answered_with_a_warning() -> None:
    assert any("usual" in w for w in soil_properties("clay", 0.1, 1900.0).warnings)


def test_nearly_dry_soil_is_warned_of() -> None:
    assert any("dry" in w for w in soil_properties("sand", 0.001).warnings)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: soil_properties("loess"), "soil"),
        (lambda: soil_properties("sand", -0.1), "water_content"),
        (lambda: soil_properties("sand", math.nan), "water_content"),
        (lambda: soil_properties("sand", 0.1, 2650.0), "dry_density"),
        (lambda: soil_properties("sand", 0.1, math.inf), "dry_density"),
        (lambda: johansen_solids(1.2), "quartz"),
        (lambda: Ground(0.0, 2e6), "conductivity"),
        (lambda: Ground(1.5, math.nan), "heat_capacity"),
    ],
)
def test_what_no_soil_can_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.faults[0].field == field


def test_a_soil_at_the_ends_of_what_is_usual_is_not_warned_of() -> None:
    for density, told in ((1100.0, False), (1099.9, True), (1800.0, False), (1800.1, True)):
        found = soil_properties("clay", 0.1, density)
        assert any("outside the usual 1100 to 1800 for clay" in w for w in found.warnings) is told
    # Sand at 1600 kg/m3 in grains of 2650: 0.3962 of pores; a twentieth of them is 0.01238 kg/kg.
    for water, told in ((0.01239, False), (0.01237, True)):
        assert bool(soil_properties("sand", water).warnings) is told


def test_pores_may_be_full_and_grains_may_not_be_denser_than_grains() -> None:
    most = (1.0 - 1600.0 / 2650.0) * 1000.0 / 1600.0
    assert soil_properties("sand", most).saturation == pytest.approx(1.0)
    # Water told in whole per cent may be rounded up past full pores.
    rounded = soil_properties("sand", most * 1.0049)
    assert rounded.saturation == 1.0
    assert rounded.conductivity == soil_properties("sand", most).conductivity
    with pytest.raises(RangeError):
        soil_properties("sand", most * 1.0051)
    soil_properties("sand", 0.0, 2650.0 - 1e-6)
    with pytest.raises(RangeError, match="2650 kg/m³"):
        soil_properties("sand", 0.0, 2650.0)


def test_conductivity_scatters_by_a_quarter() -> None:
    # As measured soils do about Kersten's and Johansen's models.
    found = soil_properties("silt")
    assert found.conductivity_low == pytest.approx(0.75 * found.conductivity)
    assert found.conductivity_high == pytest.approx(1.25 * found.conductivity)
    assert found.porosity == pytest.approx(1.0 - 1500.0 / 2650.0)
    assert found.saturation == pytest.approx(0.2 * 1.5 / found.porosity)


def test_diffusivity_is_conductivity_over_heat_capacity() -> None:
    assert Ground(1.5, 2e6).diffusivity == pytest.approx(7.5e-7)


@pytest.mark.parametrize("soil", sorted(SOILS))
@given(density=st.floats(0.0, 1.0), wet=st.floats(0.0, 1.0))
def test_soil_of_usual_density_may_hold_all_the_water_that_it_has(
    soil: str, density: float, wet: float
) -> None:
    kind = SOILS[soil]
    low, high = kind.dry_density_range
    dry = low + density * (high - low)
    water = wet * (1.0 - dry / kind.solids_density) * 1000.0
    found = soil_properties(soil, water / dry, dry)
    for told in (soil, None):
        most = most_water(found.heat_capacity, found.conductivity, told)
        assert most >= water - 1e-6


# Dry and saturated sand and clay, W/m K, MJ/m3 K (VDI 4640 Part 1, from memory), and water by their
# porosity: none, and 0.3 to 0.5 of the volume (common practice).
@pytest.mark.parametrize(
    ("soil", "conductivity", "capacity", "least", "most"),
    [
        ("sand", 0.4, 1.45, 0.0, 160.0),
        ("sand", 2.4, 2.5, 300.0, 400.0),
        ("clay", 0.5, 1.55, 0.0, 200.0),
        ("clay", 1.8, 2.4, 300.0, 500.0),
    ],
)
def test_water_by_heat_capacity_is_about_that_of_published_soils(
    soil: str, conductivity: float, capacity: float, least: float, most: float
) -> None:
    assert least <= most_water(capacity * 1e6, conductivity, soil) <= most


def test_only_ground_that_conducts_no_better_than_water_may_be_peat() -> None:
    assert most_water(3.5e6, 0.57) > most_water(3.5e6, 0.58)
    assert most_water(3.5e6, 0.58) == most_water(3.5e6, 0.58, "clay")
    assert most_water(0.3e6, 1.5) == 0.0
