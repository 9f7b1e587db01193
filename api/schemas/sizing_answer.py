"""The answer of POST /v1/sizing."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.array import CircuitSchema
from api.schemas.common import (
    cautions_list,
    findings_list,
    friction_law,
    method_of,
    name_as_given,
    properties_source,
    reference_as_given,
    service_version,
)
from api.schemas.duty import MOST_YEARS, DutySchema
from api.schemas.fields import Choice, Flag, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.shallow.pond import LEAST_WATER
from hydraulics.sizing.choice import Metre

KINDS: Final = ("slinky_flat", "slinky_upright", "trench", "pond_mat", "borehole")


class GroundDrawSchema(StrictSchema):
    """What the ground has to give."""

    peak_kw = Number(required=True, metadata=said("Heat drawn at design."))
    peak_h = Number(required=True, metadata=said("How long that lasts without rest."))
    annual_draw_kwh = Number(required=True, metadata=said("Heat drawn in a year."))
    full_h = Number(
        required=True, metadata=said("Hours at the peak that would draw the year's heat.")
    )
    annual_return_kwh = Number(
        metadata=said("Heat put into the ground in a year by cooling and recharge.")
    )
    cooling_peak_kw = Number(metadata=said("Heat put into the ground at the peak of cooling."))
    monthly_draw_kwh = ListOf(
        Number(),
        required=True,
        longest=12,
        metadata=said("Heat drawn in each month, January first, less what is put back."),
    )
    profile = Text(
        required=True, longest=2_000, metadata=said("Where the sharing over months comes from.")
    )


class SizedLoopSchema(StrictSchema):
    """One loop at the peak's flow; all loops are alike."""

    length_m = Number(required=True, metadata=said("Trench, bore or mat pipe of it."))
    pipe_m = Number(
        required=True, metadata=said("Pipe in it, tails included, parallel pipes counted each.")
    )
    coil_m = Number(
        metadata=said(
            "Shortest coil on offer that it is cut from; left out where none is long enough, for "
            "boreholes, and beside laid_m."
        )
    )
    leftover_m = Number(metadata=said("Of that coil."))
    flow_l_s = Number(required=True, metadata=said("Volume flow at the coldest mean."))
    velocity_m_s = Number(required=True, metadata=said("Mean velocity where heat is gathered."))
    reynolds = Number(required=True, metadata=said("Reynolds number there."))
    drop_kpa = Number(
        required=True, metadata=said("Drop of the loop alone, without headers and plant.")
    )


class ExtractionSchema(StrictSchema):
    """What each metre gives, as proposed."""

    peak_w_m = Number(
        required=True, metadata=said("At the peak, per metre of trench, bore or mat pipe.")
    )
    annual_kwh_m = Number(required=True, metadata=said("In a year, per the same metre."))
    peak_pipe_w_m = Number(
        required=True, metadata=said("At the peak, per metre of pipe in trench or bore, both ways.")
    )
    annual_pipe_kwh_m = Number(required=True, metadata=said("In a year, per the same metre."))


class ResistanceSchema(StrictSchema):
    """Between brine at its coldest and ground."""

    film_m_k_w = Number(required=True, metadata=said("Film inside the pipe, per metre of pipe."))
    wall_m_k_w = Number(required=True, metadata=said("Wall of the pipe, per metre of pipe."))
    borehole_local_m_k_w = Number(
        metadata=said("Brine to the borehole's wall at one depth; of boreholes only.")
    )
    borehole_effective_m_k_w = Number(
        metadata=said("The same over the whole depth, with heat passing from leg to leg.")
    )
    water_film_m_k_w = Number(metadata=said("Outside a pond mat's pipe; of mats only."))


class MonthTemperatureSchema(StrictSchema):
    """The coldest brine of a month over the whole life, and the warmest where heat is put back."""

    month = Integer(
        required=True, minimum=1, maximum=12, metadata=said("Month of the calendar, 1 to 12.")
    )
    from_ground_c = Number(required=True, metadata=said("Brine from the ground."))
    to_ground_c = Number(required=True, metadata=said("Brine to the ground."))
    max_from_ground_c = Number(metadata=said("Warmest brine from the ground."))
    max_to_ground_c = Number(metadata=said("Warmest brine to the ground."))


class YearTemperatureSchema(StrictSchema):
    """The coldest brine of a year, and the warmest where heat is put back."""

    year = Integer(
        required=True, minimum=1, maximum=MOST_YEARS, metadata=said("Year of operation, from 1.")
    )
    from_ground_c = Number(required=True, metadata=said("Brine from the ground."))
    to_ground_c = Number(required=True, metadata=said("Brine to the ground."))
    max_from_ground_c = Number(metadata=said("Warmest brine from the ground."))
    max_to_ground_c = Number(metadata=said("Warmest brine to the ground."))


class TemperatureHistorySchema(StrictSchema):
    """Every month of the life, in order of operation, at its peak."""

    first_month = Integer(
        required=True, minimum=1, maximum=12, metadata=said("Month of the calendar that is first.")
    )
    from_ground_c = ListOf(
        Number(), required=True, longest=12 * MOST_YEARS, metadata=said("Brine from the ground.")
    )
    to_ground_c = ListOf(
        Number(), required=True, longest=12 * MOST_YEARS, metadata=said("Brine to the ground.")
    )
    max_from_ground_c = ListOf(
        Number(), longest=12 * MOST_YEARS, metadata=said("Warmest brine from the ground.")
    )
    max_to_ground_c = ListOf(
        Number(), longest=12 * MOST_YEARS, metadata=said("Warmest brine to the ground.")
    )


class GroundDriftSchema(StrictSchema):
    """How the ground's yearly mean changes at the pipe, or at the wall of the borehole."""

    over_life_k = Number(required=True, metadata=said("Last year of the life less the first."))
    last_year_k = Number(required=True, metadata=said("The last year less the one before."))


class LimitingLoadSchema(StrictSchema):
    """The month that sets the length: its return temperature, taken apart.

    Undisturbed ground, less the three falls, plus the rise of the brine; where the upper limit
    governs these are negative.
    """

    limit = Choice(
        ("lower", "upper"),
        component="GoverningLimit",
        required=True,
        metadata=said("The limit that governs: min_from_ground_c or max_from_ground_c."),
    )
    year = Integer(
        required=True, minimum=1, maximum=MOST_YEARS, metadata=said("Year of operation, from 1.")
    )
    month = Integer(required=True, minimum=1, maximum=12, metadata=said("Month of the calendar."))
    undisturbed_c = Number(required=True, metadata=said("Ground without the array."))
    fall_from_months_k = Number(
        required=True, metadata=said("Fall owing to all monthly draws so far.")
    )
    fall_from_peak_k = Number(required=True, metadata=said("Further fall owing to the peak."))
    fall_through_pipe_k = Number(required=True, metadata=said("Drop through film, wall and grout."))
    rise_of_brine_k = Number(
        required=True,
        metadata=said(
            "By how much brine from the ground is warmer than the mean that the falls leave. "
            "Boreholes: half its change. Trenches: less, as it nears the ground on its way."
        ),
    )
    governs = Choice(
        ("monthly_draw", "peak", "pipe"),
        component="LargestFall",
        required=True,
        metadata=said("Largest of the falls."),
    )


class HeatOriginSchema(StrictSchema):
    """Where the heat of the last year comes from."""

    through_surface_kwh = Number(required=True, metadata=said("Through the surface above."))
    from_store_kwh = Number(required=True, metadata=said("Out of the ground's own heat."))


class LandNeededSchema(StrictSchema):
    """Land needed, borders included, against land available."""

    length_m = Number(required=True, metadata=said("One side of the rectangle needed."))
    width_m = Number(required=True, metadata=said("The other side."))
    area_m2 = Number(required=True, metadata=said("Its area, of a plan as far as on the plot."))
    plot_m2 = Number(metadata=said("Absent where the site is not given."))
    trench_m = Number(metadata=said("Absent where there are no trenches."))
    max_trench_m = Number(metadata=said("Absent where not given."))
    fits = Flag(metadata=said("Absent where nothing tells; an area alone can only refute."))


class SensitivitySchema(StrictSchema):
    """What an uncertain input does to the needed length of the same loops."""

    input = Choice(
        ("ground_conductivity", "water_film", "ground_temperature", "load", "together"),
        component="UncertainInput",
        required=True,
        metadata=said(
            "ground_conductivity: 20 % less and more. water_film: 30 % weaker, around mats. "
            "ground_temperature: 1 K to the worse side of each limit, water no colder than "
            f"{LEAST_WATER:g} °C. load: 10 % more or less, recharge kept. together: the worst of "
            "all."
        ),
    )
    max_length_m = Number(
        metadata=said("The longer of the lengths then; absent where no length keeps the limit.")
    )
    min_length_m = Number(
        metadata=said("The shorter, of ground_conductivity; absent where none keeps the limit.")
    )
    less_load = Flag(metadata=said("That load is 10 % less; absent: more."))


class ReturnLimitSchema(StrictSchema):
    """What another limit on the coldest brine from the ground would mean."""

    from_ground_c = Number(required=True, metadata=said("The limit."))
    length_m = Number(metadata=said("Needed then; absent where nothing keeps it."))
    loop_count = Integer(minimum=1, metadata=said("Loops then."))
    reynolds = Number(
        metadata=said("In them; where stronger brine flows laminar, a colder limit may need more.")
    )
    concentration_percent = Number(
        metadata=said(
            "By mass, weakest of the antifreeze that keeps its margin; absent: none does."
        )
    )
    performance_percent = Number(
        metadata=said("Change of the heat pump's performance, of heat.performance_slope_percent_k.")
    )


class PublishedRuleSchema(StrictSchema):
    """What a published rule or hand method would take; none is called right."""

    rule = Text(required=True, longest=500, metadata=said("The rule."))
    length_m = Number(metadata=said("Of borehole."))
    area_m2 = Number(metadata=said("Of land."))
    source = Text(required=True, longest=500, metadata=said("Where it stands."))
    differs = Text(required=True, longest=1_000, metadata=said("Why the sizing differs."))


class SizingMethodSchema(StrictSchema):
    """How it was computed."""

    sizing = Text(required=True, longest=2_000, metadata=said("Model of the ground."))
    friction = friction_law()
    properties = properties_source()
    version = service_version()


class SizingDecidesSchema(StrictSchema):
    """The parts of a job that a sizing decides."""

    array = Nested(lambda: CircuitSchema, required=True, metadata=said("The array."))
    duty = Nested(lambda: DutySchema, required=True, metadata=said("The flow, at the peak."))


class SizingAnswerSchema(StrictSchema):
    """The sized array: metres, equal loops, temperatures, land, and the next step's request."""

    name = name_as_given()
    reference = reference_as_given()
    kind = Choice(KINDS, component="SizedKind", required=True, metadata=said("Kind of array."))
    sized_by = Choice(
        ("conduction", "extraction_rate"),
        component="SizedBy",
        required=True,
        metadata=said("What set the size."),
    )
    per = Choice(
        get_args(Metre),
        component="Metre",
        required=True,
        metadata=said("Metre of what the lengths are: trench, active borehole, or pipe of mats."),
    )
    ground_draw = Nested(
        lambda: GroundDrawSchema, required=True, metadata=said("What the ground has to give.")
    )
    needed_m = Number(
        metadata=said(
            "That conduction needs to just meet the limit, before rounding up; absent where no "
            "length of so many loops would, as a finding says."
        )
    )
    length_m = Number(required=True, metadata=said("As proposed, all loops."))
    laid_m = Number(
        metadata=said("Trench of the array that is decided, where it is drawn of other length.")
    )
    loop_count = Integer(required=True, minimum=1, metadata=said("Equal loops."))
    each_loop = Nested(lambda: SizedLoopSchema, required=True, metadata=said("One of them."))
    pipe_m = Number(required=True, metadata=said("Pipe in all loops, tails included."))
    extraction = Nested(
        lambda: ExtractionSchema, required=True, metadata=said("What each metre gives.")
    )
    resistance = Nested(
        lambda: ResistanceSchema, required=True, metadata=said("Between brine and ground.")
    )
    min_from_ground_c = Number(required=True, metadata=said("Coldest brine from the ground."))
    min_to_ground_c = Number(required=True, metadata=said("Coldest brine to the ground."))
    from_ground_limit_c = Number(required=True, metadata=said("Limit on the return, as asked for."))
    from_ground_margin_k = Number(required=True, metadata=said("Coldest return above its limit."))
    min_ground_c = Number(
        required=True, metadata=said("Coldest outside of the pipe, or wall of the borehole.")
    )
    max_from_ground_c = Number(
        metadata=said("Warmest brine from the ground in months that put heat back.")
    )
    max_to_ground_c = Number(metadata=said("Warmest brine to the ground."))
    max_from_ground_limit_c = Number(metadata=said("Limit on the warmest return."))
    max_from_ground_margin_k = Number(metadata=said("Warmest return below its limit."))
    by_month = ListOf(
        Nested(lambda: MonthTemperatureSchema),
        longest=12,
        metadata=said("January first; absent for a pond, whose year is not modelled."),
    )
    by_year = ListOf(
        Nested(lambda: YearTemperatureSchema),
        longest=MOST_YEARS,
        metadata=said("Year by year; absent for a pond."),
    )
    history = Nested(
        lambda: TemperatureHistorySchema, metadata=said("Every month; absent for a pond.")
    )
    ground_drift = Nested(
        lambda: GroundDriftSchema, metadata=said("How the ground drifts; absent for a pond.")
    )
    limiting_load = Nested(
        lambda: LimitingLoadSchema,
        metadata=said("The month nearest its limit as laid; absent for a pond."),
    )
    heat_origin = Nested(lambda: HeatOriginSchema, metadata=said("Of trench arrays only."))
    land = Nested(lambda: LandNeededSchema, required=True, metadata=said("Land needed."))
    sensitivity = ListOf(
        Nested(lambda: SensitivitySchema),
        required=True,
        longest=4,
        metadata=said("How sure the length is; the ground's conductivity, or the water, first."),
    )
    return_limits = ListOf(
        Nested(lambda: ReturnLimitSchema),
        required=True,
        longest=4,
        metadata=said("The length at 0, -3 and -5 °C from the ground and at the limit asked for."),
    )
    published = ListOf(
        Nested(lambda: PublishedRuleSchema),
        required=True,
        longest=10,
        metadata=said("What published rules would take, beside this."),
    )
    decides = Nested(
        lambda: SizingDecidesSchema,
        required=True,
        metadata=said("The array and its duty, as the job takes them."),
    )
    findings = findings_list(1_000)
    cautions = cautions_list()
    notes = ListOf(
        Text(longest=2_000),
        required=True,
        longest=1_000,
        metadata=said("What the model leaves out, and which way that errs."),
    )
    method = method_of(SizingMethodSchema)
