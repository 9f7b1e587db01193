"""Request and response of POST /v1/flow-split."""

from __future__ import annotations

from api.schemas.array import CircuitSchema, fittings_of, runs_of, said
from api.schemas.common import (
    MOST_ROWS,
    FluidSchema,
    antifreeze_kind,
    cautions_list,
    findings_list,
    fluid_in_loops,
    friction_law,
    job_name,
    loop_name,
    loop_pointer,
    method_of,
    name_as_given,
    properties_source,
    service_version,
    spread_over_mean,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text
from api.schemas.objects import Alternatives, ListOf, Nested, StrictSchema
from hydraulics.fluid.antifreezes import VOLUME_BASIS
from hydraulics.split.result import REGIMES


class AntifreezeMixSchema(StrictSchema):
    """Water with a strength of one antifreeze."""

    kind = antifreeze_kind()
    concentration_percent = Number(
        required=True, minimum=0, maximum=100, metadata=said("Strength of the mixture.", 25)
    )
    basis = Choice(
        ("mass", "volume"),
        required=True,
        metadata=said(f"What the strength is a share of. By volume: {VOLUME_BASIS}"),
    )


def to_ground_temperature() -> Number:
    """Declare the temperature of the fluid going out to the ground."""
    return Number(
        required=True,
        minimum=-100,
        maximum=150,
        metadata=said("Temperature of the fluid going out to the ground.", -3.5),
    )


def from_ground_temperature() -> Number:
    """Declare the temperature of the fluid coming back from the ground."""
    return Number(
        required=True,
        minimum=-100,
        maximum=150,
        metadata=said("Temperature of the fluid coming back from the ground.", 0.0),
    )


class HeatDutySchema(StrictSchema):
    """The heat to be taken from the ground and the temperature change that sets the flow."""

    heat_from_ground_kw = Number(
        required=True,
        minimum=0.001,
        maximum=100_000,
        metadata=said("Heat that the fluid takes up.", 8.4),
    )
    temperature_change_k = Number(
        required=True,
        minimum=0.001,
        maximum=50,
        metadata=said("Rise of the fluid's temperature on its way through the ground.", 3.5),
    )
    to_ground_temperature_c = to_ground_temperature()


class FlowDutySchema(StrictSchema):
    """The flow outright."""

    flow_l_s = Number(
        required=True,
        minimum=0,
        maximum=100_000,
        metadata=said("Flow of the whole array, at the mean temperature.", 0.65),
    )
    to_ground_temperature_c = to_ground_temperature()
    from_ground_temperature_c = from_ground_temperature()


class PumpPointSchema(StrictSchema):
    """A point of a pump's curve."""

    flow_l_s = Number(required=True, minimum=0, maximum=100_000, metadata=said("Flow.", 0.5))
    head_m = Number(
        required=True,
        minimum=0,
        maximum=10_000,
        metadata=said("Head, as a column of the fluid pumped.", 5.2),
    )


class PumpSchema(StrictSchema):
    """A pump by its curve."""

    points = ListOf(
        Nested(lambda: PumpPointSchema),
        required=True,
        shortest=2,
        longest=1_000,
        metadata=said("Points of the curve, flow rising and head falling."),
    )


class PumpDutySchema(StrictSchema):
    """A pump that drives what flow it can."""

    pump = Nested(lambda: PumpSchema, required=True, metadata=said("The pump."))
    to_ground_temperature_c = to_ground_temperature()
    from_ground_temperature_c = from_ground_temperature()


class ExchangerPointSchema(StrictSchema):
    """A heat exchanger by one rated point; its drop goes with the square of the flow."""

    flow_l_s = Number(
        required=True, minimum=0.0001, maximum=100_000, metadata=said("Rated flow.", 0.65)
    )
    pressure_drop_kpa = Number(
        required=True, minimum=0, maximum=10_000, metadata=said("Drop at that flow.", 14)
    )


class ExchangerTableSchema(StrictSchema):
    """A heat exchanger by several points, both flow and drop rising."""

    points = ListOf(
        Nested(lambda: ExchangerPointSchema),
        required=True,
        shortest=1,
        longest=1_000,
        metadata=said("Points from its data sheet, for the fluid in use."),
    )


class PlantSchema(StrictSchema):
    """What lies between the array and the pump."""

    heat_exchanger = Alternatives(
        {"flow_l_s": ExchangerPointSchema, "points": ExchangerTableSchema},
        what="a heat exchanger",
        why="Its drop is given once: by one rated point or by a table.",
        metadata=said("The heat pump's brine side, by its data sheet for the fluid in use."),
    )
    runs = runs_of("Routes between plant and array.")
    fittings = fittings_of(
        "Other fittings of the plant. Kinds and coefficients refer to the pipe of the first run."
    )


def duty_of(description: str, *, required: bool = False) -> Alternatives:
    """Declare a duty, in one of the ways that it can be given."""
    return Alternatives(
        {"heat_from_ground_kw": HeatDutySchema, "flow_l_s": FlowDutySchema, "pump": PumpDutySchema},
        what="the duty",
        why=(
            "The flow follows from one of: heat with temperature_change_k and "
            "to_ground_temperature_c; flow_l_s with both temperatures; pump with both "
            "temperatures. Anything more would contradict it."
        ),
        required=required,
        metadata=said(description),
    )


class FlowSplitRequestSchema(StrictSchema):
    """An array, what fills it and what is asked of it."""

    name = job_name()
    antifreeze = Nested(
        lambda: AntifreezeMixSchema, required=True, metadata=said("What fills the array.")
    )
    duty = duty_of("What sets the flow.", required=True)
    plant = Nested(
        lambda: PlantSchema,
        metadata=said("What lies between array and pump; left out, nothing is counted there."),
    )
    array = Nested(lambda: CircuitSchema, required=True, metadata=said("What is buried."))
    tolerance_percent = Number(
        minimum=0.001,
        maximum=100,
        load_default=10.0,
        metadata=said(
            "Largest deviation of a loop's flow from the mean that still counts as even (10 %: "
            "common practice, no source)."
        ),
    )
    freezing_margin_k = Number(
        minimum=0,
        maximum=50,
        load_default=3.0,
        metadata=said(
            "Warn where the coldest fluid is less than this above its freezing point (3 K: common "
            "practice, no source)."
        ),
    )


# ------------------------------------------------------------------------------------- the response


class LoopBreakdownSchema(StrictSchema):
    """Where a loop's pressure drop arises [kPa].

    The first three add up to `pressure_drop_kpa`, all four to `path_drop_kpa`.
    """

    straight = Number(required=True, metadata=said("Straight pipe of the loop.", 1.2))
    coil = Number(required=True, metadata=said("Coiled pipe of the loop.", 5.1))
    fittings = Number(required=True, metadata=said("Fittings of the loop and its branch.", 0.4))
    headers = Number(
        required=True,
        metadata=said("Headers and runs between the array's connection and the loop.", 0.9),
    )


class LoopResultSchema(StrictSchema):
    """One loop's flow and pressure drop."""

    loop = loop_name()
    where = loop_pointer()
    length_m = Number(required=True, metadata=said("Length of pipe that the fluid passes."))
    coiled_length_m = Number(required=True, metadata=said("Coiled part of it."))
    flow_l_s = Number(required=True, metadata=said("Volume flow at the loops' temperature."))
    mass_flow_kg_s = Number(required=True, metadata=said("Mass flow."))
    share_percent = Number(required=True, metadata=said("Share of the array's flow."))
    deviation_percent = Number(required=True, metadata=said("Deviation from even flow."))
    deviation_by_length_percent = Number(
        required=True, metadata=said("Deviation from flow in proportion to buried length.")
    )
    velocity_m_s = Number(required=True, metadata=said("Mean velocity in the loop's pipe."))
    reynolds = Number(required=True, metadata=said("Reynolds number in the loop's pipe."))
    regime = Choice(REGIMES, required=True, metadata=said("Flow regime."))
    pressure_drop_kpa = Number(
        required=True, metadata=said("Drop of the loop with its fittings and port.")
    )
    path_drop_kpa = Number(
        required=True,
        metadata=said(
            "Drop with headers and runs, from the array's flow connection to its return."
        ),
    )
    breakdown_kpa = Nested(
        lambda: LoopBreakdownSchema, required=True, metadata=said("Where that drop arises.")
    )


class ImbalanceSchema(StrictSchema):
    """How unevenly the loops flow, why, and what would mend it."""

    within_tolerance = Flag(required=True, metadata=said("Whether every loop is."))
    tolerance_percent = Number(required=True, metadata=said("Tolerance that was asked for."))
    spread_percent = spread_over_mean()
    most_starved_loop = Text(
        required=True, longest=1_000, metadata=said("Loop with the least of its even share.")
    )
    index_loop = Text(
        required=True, longest=1_000, metadata=said("Loop that would need the most head.")
    )
    causes = ListOf(
        Text(longest=2_000), required=True, longest=1_000, metadata=said("Why, in words.")
    )
    remedies = ListOf(
        Text(longest=2_000), required=True, longest=1_000, metadata=said("What would help.")
    )


class PumpBreakdownSchema(StrictSchema):
    """Where the pump's head goes [kPa]."""

    array = Number(required=True, metadata=said("The array.", 12))
    runs = Number(required=True, metadata=said("Runs and fittings of the plant.", 6))
    heat_exchanger = Number(required=True, metadata=said("Heat exchanger.", 14))


class PumpDutyResultSchema(StrictSchema):
    """What the circulating pump has to do."""

    flow_l_s = Number(required=True, metadata=said("Volume flow at the pump."))
    mass_flow_kg_s = Number(required=True, metadata=said("Mass flow."))
    head_kpa = Number(required=True, metadata=said("Pressure rise."))
    head_m = Number(required=True, metadata=said("Head, as a column of the mixture."))
    heat_from_ground_kw = Number(
        required=True, metadata=said("Heat that this flow carries at the temperatures given.")
    )
    hydraulic_power_w = Number(
        required=True, metadata=said("Flow times pressure; the motor takes more.")
    )
    breakdown_kpa = Nested(
        lambda: PumpBreakdownSchema, required=True, metadata=said("Where the head goes.")
    )


class CurvePointSchema(StrictSchema):
    """A point of the system curve."""

    flow_l_s = Number(required=True, metadata=said("Volume flow."))
    head_kpa = Number(required=True, metadata=said("Pressure that it takes."))
    head_m = Number(required=True, metadata=said("The same as a column of the mixture."))


class ResidualsSchema(StrictSchema):
    """How exactly the equations are met."""

    mass_relative = Number(
        required=True, metadata=said("Worst mass balance, over the total flow.", 1e-15)
    )
    energy_relative = Number(
        required=True, metadata=said("Worst pressure balance, over the pump's head.", 1e-11)
    )
    worst_where = Text(
        required=True,
        longest=1_000,
        metadata=said("JSON Pointer to the branch with the worst pressure balance."),
    )
    iterations = Integer(
        required=True, minimum=0, metadata=said("Steps that the solution took.", 4)
    )


class MethodSchema(StrictSchema):
    """How it was computed."""

    friction = friction_law()
    properties = properties_source()
    version = service_version()


class FlowSplitResponseSchema(StrictSchema):
    """Flow and drop of every loop, the imbalance, and the pump's duty."""

    name = name_as_given()
    fluid = fluid_in_loops()
    fluid_to_ground = Nested(
        lambda: FluidSchema, required=True, metadata=said("The fluid on its way out.")
    )
    fluid_from_ground = Nested(
        lambda: FluidSchema, required=True, metadata=said("The fluid on its way back.")
    )
    loops = ListOf(
        Nested(lambda: LoopResultSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Every loop, equal ones each."),
    )
    imbalance = Nested(
        lambda: ImbalanceSchema, metadata=said("How uneven; absent where nothing flows.")
    )
    pump_duty = Nested(lambda: PumpDutyResultSchema, required=True, metadata=said("The pump."))
    system_curve = ListOf(
        Nested(lambda: CurvePointSchema),
        required=True,
        longest=1_000,
        metadata=said("What head other flows would take, at the same temperatures."),
    )
    findings = findings_list()
    cautions = cautions_list()
    residuals = Nested(
        lambda: ResidualsSchema, required=True, metadata=said("How exactly it was solved.")
    )
    method = method_of(MethodSchema)
