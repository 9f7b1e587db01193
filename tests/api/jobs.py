"""Two invented jobs with every part, for tests of the request."""

import copy
from typing import Any

Json = dict[str, Any]

_LOOP = {
    "name": "T1",
    "pipe": "PE100 SDR11 32",
    "legs": [
        {"straight": {"length_m": 6}},
        {"slinky": {"coils": 43, "coil_diameter_m": 1, "pitch_m": 1, "depth_m": 1.2}},
        {"straight": {"length_m": 6}, "fittings": [{"kind": "elbow_90", "count": 2}]},
    ],
}

_TANSY: Json = {
    "format": 1,
    "name": "Tansy Cottage (invented)",
    "reference": "office-4711/rev-B",
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
    "heat": {
        "output_kw": 6,
        "seasonal_performance": 3.6,
        "design_performance": 3.1,
        "heating_h": 1800,
        "hot_water_kwh": 2400,
        "hot_water_performance": 2.7,
        "peak_h": 24,
        "first_month": 10,
        "temperature_change_k": 3,
    },
    "ground": {
        "soil": "clay",
        "moisture": "usual",
        "surface": {"mean_c": 10.2, "swing_k": 7.5, "coldest_day": 35},
        "gradient_k_m": 0.02,
    },
    "plot": {
        "length_m": 60,
        "width_m": 30,
        "border_m": 2.5,
        "spacing_m": 5,
        "max_trench_m": 400,
    },
    "pipes": [
        {"name": "PE100 SDR11 32", "coils_m": [100, 200, 300, 350]},
        {"name": "own", "bore_mm": 26, "outside_diameter_mm": 32, "roughness_mm": 0.002},
    ],
    "heights": {
        "min_ground_level_m": 50,
        "max_ground_level_m": 50.5,
        "plant_level_m": 51.5,
        "gauge_level_m": 50.5,
    },
    "plant": {
        "heat_exchanger": [{"flow_l_s": 0.2, "drop_kpa": 4}, {"flow_l_s": 0.35, "drop_kpa": 9}],
        "runs": [
            {
                "pipe": "PE100 SDR11 40",
                "length_m": 18,
                "fittings": [{"kind": "elbow_90", "count": 6}],
            }
        ],
        "fittings": [{"loss_coefficient": 3}],
        "volume_l": 30,
        "run_h": 2400,
    },
    "array": {
        "arrangement": "manifold",
        "branches": [
            {
                "count": 3,
                "loop": _LOOP,
                "fittings": [
                    {"kv_m3_h": 6, "count": 2},
                    {"kv_m3_h": 1.54, "valve": "DN 25 (invented)", "position": 2.5},
                ],
            },
            {
                "loop": {
                    "name": "T4",
                    "pipe": "own",
                    "legs": [
                        {"straight": {"length_m": 100}},
                        {"coiled": {"length_m": 20, "coil_diameter_m": 0.8}},
                        {"trench": {"length_m": 30, "passes": 2, "turn_diameter_m": 0.6}},
                    ],
                },
                "runs": [{"pipe": "PE100 SDR11 32", "length_m": 2}],
            },
        ],
    },
    "duty": {"to_ground_c": -2.9, "from_ground_c": 0.1, "heat_kw": 4.06},
    "ground_at_loops": {"ground_c": 1.5, "resistance_m_k_w": 0.4},
    "warm": {"to_ground_c": 5, "from_ground_c": 8, "hours_percent": 50},
    "pump": {
        "name": "Pump B with drive (invented)",
        "control": "constant_differential_pressure",
        "set_head_m": 2.9,
        "min_speed_rpm": 900,
        "tables": [
            {
                "speed_rpm": 2800,
                "points": [
                    {"flow_l_s": 0, "head_m": 6.1, "power_w": 30},
                    {"flow_l_s": 0.35, "head_m": 5.2, "power_w": 44},
                    {"flow_l_s": 0.7, "head_m": 3.4, "power_w": 56},
                ],
            }
        ],
    },
    "limits": {
        "max_deviation_percent": 10,
        "min_freezing_margin_k": 3,
        "min_from_ground_c": 0,
        "years": 25,
        "max_loop_drop_kpa": 30,
        "max_velocity_m_s": 1.5,
        "max_pipe_m": 400,
    },
    "sizing": {
        "array_kind": {"slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2}},
        "tail_m": 20,
        "loop_count": 4,
    },
    "balancing": {
        "target": "shares",
        "shares": [
            {"loop": "T1-1", "share": 1},
            {"loop": "T1-2", "share": 1},
            {"loop": "T1-3", "share": 1},
            {"loop": "T4", "share": 1.1},
        ],
        "valve": {
            "name": "DN 25 (invented)",
            "positions": [{"position": 1, "kv_m3_h": 0.5}, {"position": 4, "kv_m3_h": 5}],
        },
        "spare_step_m": 5,
        "closing_m": 4,
        "take": "regulating_valves",
    },
    "pump_choice": {
        "candidates": [
            {
                "name": "Pump C (invented)",
                "speed_rpm": 2700,
                "tables": [
                    {
                        "speed_rpm": 2800,
                        "points": [
                            {"flow_l_s": 0, "head_m": 6.1, "power_w": 30},
                            {"flow_l_s": 0.35, "head_m": 5.2, "power_w": 44},
                            {"flow_l_s": 0.7, "head_m": 3.4, "power_w": 56},
                        ],
                    }
                ],
            }
        ],
        "use_invented_pumps": True,
    },
    "groundworks": {
        "trench": {"width_m": 1.2, "depth_m": 1.3},
        "header_trench": {},
        "lorry_m3": 8,
    },
    "commissioning": {
        "filling": {"filling_c": 12, "spare_percent": 5},
        "purge": {},
        "pressure_test": {
            "design_pressure_kpa": 300,
            "readings": [{"stage": "relaxation", "time_min": 0, "pressure_kpa": 0}],
        },
        "vessel": {
            "precharge_pressure_kpa": 50,
            "safety_valve_pressure_kpa": 300,
            "min_fluid_c": -5,
            "max_fluid_c": 25,
        },
        "flow_meters": {"readings": [{"loop": "T4", "flow_l_min": 4.4}]},
        "sample": {"density_kg_m3": 1024, "sample_c": 20},
    },
    "report": {
        "prepared_for": "Owner (invented)",
        "prepared_by": "A. Designer (invented)",
        "date": "2026-03-14",
        "notes": ["Tails measured on site."],
    },
}

_SLATE: Json = {
    "name": "Slate Row (invented)",
    "reference": "SR-02",
    "antifreeze": {"kind": "ethanol", "concentration_percent": 25, "basis": "mass"},
    "heat": {
        "output_kw": 40,
        "seasonal_performance": 4,
        "monthly_kwh": [
            14500, 12400, 9900, 6100, 3000, 1300, 1250, 1250, 2500, 6400, 10500, 13900
        ],
        "temperature_change_k": 3.5,
    },
    "ground": {
        "conductivity_w_m_k": 2.4,
        "heat_capacity_mj_m3_k": 2.2,
        "gradient_k_m": 0.02,
        "surface": {"mean_c": 9.8, "swing_k": 8},
        "bulking_percent": 40,
    },
    "plot": {"length_m": 40, "width_m": 30, "border_m": 3, "spacing_m": 7},
    "pipes": [{"name": "probe 40", "bore_mm": 32.6, "outside_diameter_mm": 40}],
    "plant": {
        "heat_exchanger": [{"flow_l_s": 2, "drop_kpa": 18}],
        "runs": [{"pipe": "PE100 SDR11 75", "length_m": 20}],
    },
    "sizing": {
        "array_kind": {
            "borehole": {
                "pipe": "probe 40",
                "diameter_mm": 140,
                "pipe_offset_mm": 35,
                "grout_conductivity_w_m_k": 2,
                "rows": 3,
                "max_depth_m": 130,
            }
        },
        "extraction_rate": {"rate_w_m": 45, "per": "borehole", "full_h": 1800},
    },
    "balancing": {"take": "regulating_valves"},
    "pump_choice": {"use_invented_pumps": True},
    "groundworks": {"header_trench": {}},
    "commissioning": {
        "filling": {"filling_c": 10},
        "pressure_test": {"test_pressure_kpa": 1000, "procedure": "en_805"},
    },
}  # fmt: skip


def tansy() -> Json:
    """A cottage with slinkies: every part, every way to write a leg that a trench takes."""
    return copy.deepcopy(_TANSY)


def slate() -> Json:
    """A row of houses on boreholes yet to be sized."""
    return copy.deepcopy(_SLATE)


def replaced(document: Any, place: tuple[str | int, ...], value: Any) -> Any:
    """The document with another value at a place."""
    found = copy.deepcopy(document)
    at = found
    for part in place[:-1]:
        at = at[part]
    at[place[-1]] = value
    return found


DRAWN: Json = {
    "format": 1,
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 30, "basis": "volume"},
    "heat": {
        "output_kw": 8, "seasonal_performance": 3.6, "design_performance": 3.1,
        "heating_h": 1800, "temperature_change_k": 3.5,
    },
    "ground": {
        "conductivity_w_m_k": 1.4, "heat_capacity_mj_m3_k": 2.3, "soil": "clay",
        "surface": {"mean_c": 10.2, "swing_k": 7.5},
    },
    "plot": {"length_m": 80, "width_m": 50, "spacing_m": 5, "border_m": 2.5},
    "sizing": {
        "array_kind": {
            "slinky": {
                "pipe": "PE100 SDR11 32", "depth_m": 1.2, "coil_diameter_m": 1.0, "pitch_m": 1.0,
            }
        },
        "tail_m": 12,
    },
    "setting_out": {"run_pipe": "PE100 SDR11 50"},
}  # fmt: skip
