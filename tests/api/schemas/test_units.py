"""A number in another unit is turned into ours by the factor that the unit is defined by."""

import re

import pytest

from api.schemas.units import conversion, stem_of, unit_of


@pytest.mark.parametrize(
    ("given", "field", "factor"),
    [
        ("drop_bar", "drop_kpa", 100),  # BIPM, SI brochure, table 8: 1 bar is 100 kPa
        ("drop_mbar", "drop_kpa", 0.1),  # of the same
        ("drop_psi", "drop_kpa", 6.894757),  # NIST SP 811, appendix B.8
        ("length_ft", "length_m", 0.3048),  # exact, of the same
        ("width_in", "width_m", 0.0254),  # exact, of the same
        ("bore_in", "bore_mm", 25.4),  # exact, of the same
        ("flow_gpm", "flow_l_s", 0.06309020),  # of the same, US gallon
        ("heat_btu_h", "heat_kw", 2.930711e-4),  # of the same, International Table
        ("output_hp", "output_kw", 0.7456999),  # of the same, 550 ft lbf/s
        ("flow_m3_h", "flow_l_s", 1000 / 3600),  # SI
        ("flow_l_min", "flow_l_s", 1 / 60),  # SI
        ("heat_w", "heat_kw", 1e-3),  # SI
        ("hot_water_mwh", "hot_water_kwh", 1e3),  # SI
        ("swing_f", "swing_k", 5 / 9),  # NIST SP 811: a difference
        ("swing_c", "swing_k", 1),  # BIPM, SI brochure: a difference
    ],
)
def test_the_factor_is_the_one_that_defines_the_unit(given: str, field: str, factor: float) -> None:
    said = re.search(r"is ([\d.e-]+) ", conversion(given, field))
    assert said is not None
    assert float(said[1]) == pytest.approx(factor, rel=5e-4)  # shown with four digits


def test_a_number_that_is_given_is_turned() -> None:
    assert conversion("flow_m3_h", "flow_l_s", 1.8) == " (1.8 · 0.2778 = 0.5)"  # 1800 L in 3600 s
    assert conversion("length_ft", "length_m", 100) == " (100 · 0.3048 = 30.48)"  # NIST SP 811
    assert conversion("to_f", "to_c", 26) == " ((26 - 32) / 1.8 = -3.333)"  # of the same
    assert conversion("to_k", "to_c", 273) == " (273 - 273.15 = -0.15)"  # BIPM, SI brochure
    assert conversion("swing_f", "swing_k", 9) == " (9 · 0.5556 = 5)"  # a difference


def test_a_temperature_is_told_by_its_formula() -> None:
    assert conversion("mean_f", "mean_c") == " (°C = (°F - 32) / 1.8)"  # NIST SP 811
    assert conversion("mean_k", "mean_c") == " (°C = K - 273.15)"  # BIPM, SI brochure


@pytest.mark.parametrize(
    ("given", "field"),
    [("flow_kpa", "flow_l_s"), ("length_m", "length_m"), ("heating_hours", "heating_h"),
     ("name", "length_m")],
)  # fmt: skip
def test_no_conversion_between_quantities_or_of_a_unit_to_itself(given: str, field: str) -> None:
    assert conversion(given, field) == ""


@pytest.mark.parametrize(
    ("name", "stem", "unit"),
    [("heat_kw", "heat", "kW"), ("resistance_m_k_w", "resistance", "m K/W"),
     ("u_tubes", "u_tubes", ""), ("flow_l_min", "flow", "L/min"), ("kv_m3_h", "kv", "m³/h"),
     ("count", "count", ""), ("film_w_m2_k", "film", "W/(m² K)"),
     ("slope_percent_k", "slope", "%/K"), ("share_percent", "share", "%")],
)  # fmt: skip
def test_a_name_is_a_stem_and_a_unit(name: str, stem: str, unit: str) -> None:
    assert (stem_of(name), unit_of(name)) == (stem, unit)
