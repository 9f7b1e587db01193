"""What fills and drives the array, in a request: antifreeze, plant, duty, warm, limits."""

from __future__ import annotations

from typing import Final

from api.refusals import BROKEN, Json, Place, Refusal
from api.schemas.array import fittings_of, runs_of
from api.schemas.common import antifreeze_kind, basis_of_strength
from api.schemas.fields import Integer, Number, Refusals, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.findings import FREEZING_MARGIN, RETURN_LIMIT, TOLERANCE, WARM_LIMIT
from hydraulics.fluid.antifreezes import VOLUME_BASIS
from hydraulics.ground.pipe_heat import PE_CONDUCTIVITY
from hydraulics.layout.circuit import RUN_HOURS
from hydraulics.pumps.on_array import WARM_SHARE
from hydraulics.sizing.array import YEARS

MOST_YEARS: Final = 100
PRACTICE: Final = "common practice, no source"


class AntifreezeSchema(StrictSchema):
    """Water with a strength of one antifreeze; plain water needs neither strength nor basis."""

    kind = antifreeze_kind()
    concentration_percent = Number(
        minimum=0,
        maximum=100,
        engine="fraction",
        metadata=said("Strength of the mixture; left out for water only.", 25),
    )
    basis = basis_of_strength(
        f"What the strength is a share of; left out for water only. By volume: {VOLUME_BASIS}"
    )

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read the object; all but water needs a strength above 0."""
        if type(value) is dict and value.get("kind") == "water":
            value = {"concentration_percent": 0, "basis": "mass", **value}
        read = super().check(value, place, refusals)
        if type(read) is dict and "kind" in value:
            for name in ("concentration_percent", "basis"):
                if name not in read:
                    read[name] = BROKEN
                    refusals.append(self._missing(name, place))
            if read["concentration_percent"] == 0 and value["kind"] != "water":
                at = (*place, "concentration_percent")
                detail = "concentration_percent is 0, which is plain water: give the strength of "
                detail += 'the mixture, or the kind "water".'
                refusals.append(Refusal(at, detail, 0, "more than 0 % of an antifreeze"))
                read["concentration_percent"] = BROKEN
        return read


class DropPointSchema(StrictSchema):
    """A point of a heat exchanger's data sheet."""

    flow_l_s = Number(
        required=True,
        minimum=0.0001,
        maximum=100_000,
        engine="flows",
        metadata=said("Flow.", 0.65),
    )
    drop_kpa = Number(
        required=True,
        minimum=0,
        maximum=10_000,
        engine="drops",
        metadata=said("Drop at that flow.", 14),
    )


class PlantSchema(StrictSchema):
    """What lies between the array and the pump."""

    heat_exchanger = ListOf(
        Nested(lambda: DropPointSchema),
        shortest=1,
        longest=1_000,
        engine=("exchanger", ""),
        metadata=said(
            "The heat pump's brine side, by its data sheet for the fluid in use: one rated point, "
            "through which the drop goes with the square of the flow (or the exponent), or "
            "several, both rising.",
            [{"flow_l_s": 0.65, "drop_kpa": 14}],
        ),
    )
    heat_exchanger_exponent = Number(
        minimum=1,
        maximum=2,
        engine="exponent",
        metadata=said(
            "Power of the flow with which its drop goes beyond the last point; without it the "
            "square is taken as far as 1.5 times that point's flow, beyond which nothing is told.",
            1.8,
        ),
    )
    runs = runs_of("Routes between plant and array.")
    fittings = fittings_of(
        "Other fittings of the plant. Kinds and coefficients refer to the pipe of the first run."
    )
    volume_l = Number(
        minimum=0,
        maximum=1e7,
        load_default=0.0,
        metadata=said("Contents of heat exchanger, buffer and pump group.", 30),
    )
    run_h = Number(
        minimum=0,
        maximum=8_784,
        load_default=RUN_HOURS,
        engine="run_hours",
        metadata=said(
            "Hours in a year that the pump runs (2400: VDI 4640-2 (2001), heating and hot water)."
        ),
    )


def _level(description: str, example: float) -> Number:
    return Number(minimum=-1_000, maximum=10_000, metadata=said(description, example))


class HeightsSchema(StrictSchema):
    """Levels above one reference, any. What is not told is as surveyed, or the lowest ground."""

    min_ground_level_m = _level(
        "Lowest ground that the array lies under, or bed of the water that it lies in; depths of "
        "trenches and boreholes count from it.",
        50.0,
    )
    max_ground_level_m = _level(
        "Highest ground that the array lies under; left out, as surveyed, or level.", 51.5
    )
    plant_level_m = _level("Circulating pump and expansion vessel.", 52.0)
    gauge_level_m = _level(
        "Gauge that a pressure test is read at. Not told: low for what it proves, high for what "
        "pipe bears.",
        51.0,
    )


def to_ground() -> Number:
    """Declare the temperature of the brine on its way to the ground."""
    return Number(
        required=True,
        minimum=-100,
        maximum=150,
        engine="to_ground_temperature",
        metadata=said("Brine on its way out to the ground.", -3.5),
    )


def from_ground() -> Number:
    """Declare the temperature of the brine on its way back from the ground."""
    return Number(
        required=True,
        minimum=-100,
        maximum=150,
        engine="from_ground_temperature",
        metadata=said("Brine on its way back from the ground.", 0.0),
    )


class HeadPointSchema(StrictSchema):
    """A point of a pump's curve on the fluid pumped."""

    flow_l_s = Number(
        required=True, minimum=0, maximum=100_000, engine="flows", metadata=said("Flow.", 0.5)
    )
    head_m = Number(
        required=True,
        minimum=0,
        maximum=10_000,
        engine="heads",
        metadata=said("Head, as a column of the fluid pumped.", 5.2),
    )


class DutySchema(StrictSchema):
    """Brine temperatures, and what sets the flow: exactly one of heat, flow or a pump's curve."""

    one_of = ("heat_kw", "flow_l_s", "pump_curve")
    what = "the duty"
    why = (
        "The flow is set once: by the heat and the two temperatures, by the flow itself, or by "
        "what a pump drives. Anything more would contradict it."
    )

    to_ground_c = to_ground()
    from_ground_c = from_ground()
    heat_kw = Number(
        minimum=0.001,
        maximum=100_000,
        metadata=said(
            "Heat that the fluid takes up, warming from to_ground_c to from_ground_c.", 8.4
        ),
    )
    flow_l_s = Number(
        minimum=0,
        maximum=100_000,
        engine="volume_flow",
        metadata=said("Flow of the whole array, at the mean temperature.", 0.65),
    )
    pump_curve = ListOf(
        Nested(lambda: HeadPointSchema),
        shortest=2,
        longest=1_000,
        engine=("points", ""),
        metadata=said("Points of a pump's curve, flow rising and head falling."),
    )


class WarmSchema(StrictSchema):
    """The array when it is warm: late summer, or heat put into the ground."""

    to_ground_c = to_ground()
    from_ground_c = from_ground()
    hours_percent = Number(
        minimum=0,
        maximum=100,
        load_default=WARM_SHARE * 100.0,
        engine="share",
        metadata=said(
            "Share of the plant's run hours in this condition; the rest is cold (50 %: "
            f"{PRACTICE})."
        ),
    )


class GroundAtLoopsSchema(StrictSchema):
    """The ground as the loops meet it, for what an imbalance costs in heat."""

    ground_c = Number(
        required=True,
        minimum=-50,
        maximum=100,
        engine=("temperature", "ground_temperature_c"),
        metadata=said(
            "Ground far from the pipe, for the time that the resistance stands for.", 8.0
        ),
    )
    resistance_m_k_w = Number(
        required=True,
        minimum=0,
        maximum=100,
        engine="ground_resistance",
        metadata=said("From the outside of the pipe to that ground, per metre of pipe.", 0.25),
    )
    pipe_conductivity_w_m_k = Number(
        minimum=0.001,
        maximum=1_000,
        load_default=PE_CONDUCTIVITY,
        metadata=said("Of the pipes' walls; the default is polyethylene's."),
    )


class LimitsSchema(StrictSchema):
    """What the array must keep. What is left out is the usual, or not limited."""

    max_deviation_percent = Number(
        minimum=0.001,
        maximum=100,
        load_default=TOLERANCE * 100.0,
        engine="deviation",
        metadata=said(
            "Largest deviation of a loop's flow from its target that still counts as even (10 %: "
            f"{PRACTICE})."
        ),
    )
    min_freezing_margin_k = Number(
        minimum=0,
        maximum=50,
        load_default=FREEZING_MARGIN,
        engine="freezing_margin",
        metadata=said(
            "Warn where the coldest fluid is less than this above its freezing point (3 K: "
            f"{PRACTICE})."
        ),
    )
    min_from_ground_c = Number(
        minimum=-20,
        maximum=20,
        load_default=RETURN_LIMIT,
        engine=("from_ground", "least_return"),
        metadata=said(
            "Coldest that the brine may come back from the ground, in sizing "
            f"({RETURN_LIMIT:g} °C: installation standard MIS 3005, from memory)."
        ),
    )
    max_from_ground_c = Number(
        minimum=10,
        maximum=60,
        load_default=WARM_LIMIT,
        engine=("warm_from_ground", "most_return"),
        metadata=said(
            "Warmest that it may come back in months that put heat back, in sizing "
            f"({WARM_LIMIT:g} °C: {PRACTICE})."
        ),
    )
    years = Integer(
        minimum=1,
        maximum=MOST_YEARS,
        load_default=YEARS,
        metadata=said("Life through which the return keeps that limit."),
    )
    max_loop_drop_kpa = Number(
        minimum=0.1,
        maximum=1_000,
        load_default=30.0,
        engine="largest_drop",
        metadata=said(f"Of one loop at the peak's flow, in sizing (30 kPa: {PRACTICE})."),
    )
    max_velocity_m_s = Number(
        minimum=0.05,
        maximum=10,
        load_default=1.5,
        engine="largest_velocity",
        metadata=said(f"In a loop, in sizing (1.5 m/s: {PRACTICE})."),
    )
    max_pipe_m = Number(
        minimum=10,
        maximum=10_000,
        engine="longest_pipe",
        metadata=said("Longest pipe of one loop, in sizing; left out, not limited.", 300),
    )
