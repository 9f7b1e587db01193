"""Load, ground and kind of array in; metres, equal loops, temperatures and a circuit out.

The models are elsewhere (trenches: :mod:`hydraulics.trench_sizing`; boreholes:
:mod:`hydraulics.borefield_sizing`; ponds: :mod:`hydraulics.pond_mat`). Here they meet the flow: the
number of loops sets the flow in each, that sets the film, the film sets the length, and the length
sets how many loops are practical, until nothing changes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from hydraulics.antifreeze import KINDS, Fluid, Mixture, fluid
from hydraulics.array_choice import (
    ArrayChoice,
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    PondArray,
    Site,
    SlinkyArray,
)
from hydraulics.array_findings import CAUTIONS, Findable, array_findings
from hydraulics.bore_design import BoreDesign, bore_design
from hydraulics.borefield_sizing import FluidHistory, simulate_borefield, size_borefield
from hydraulics.duty import HeatDuty
from hydraulics.errors import Fault, InputError, NoSolutionError
from hydraulics.findings import RETURN_LIMIT, Finding
from hydraulics.ground_checks import number_fault, refuse
from hydraulics.heat_load import GroundDraw, HeatLoad, ground_draw
from hydraulics.layout import Circuit, Loop
from hydraulics.pond_mat import size_pond_mat
from hydraulics.proposed_array import (
    LoopHydraulics,
    circuit_of,
    loop_hydraulics,
    loop_of,
    practical_loops,
    rounded_up,
)
from hydraulics.shallow_ground import Ground, SlinkyTrench, Trench, pipe_row
from hydraulics.site_use import SiteUse, site_use
from hydraulics.trench_history import trench_history
from hydraulics.trench_sizing import GroundLoad, LimitingLoad, TrenchArray, size_trench_array

Floats = NDArray[np.float64]
Metre = Literal["trench", "bore", "pipe"]

YEARS: Final = 20
METHODS: Final[Mapping[Metre, str]] = MappingProxyType(
    {
        "trench": (
            "Line sources (straight pipe) or rings (slinkies) and their mirror images above the "
            "surface, superposed between pipes and trenches and over every month of the life and a "
            "peak; undisturbed ground by Kusuda & Achenbach (1965); film and wall of the pipe at "
            "the peak's flow."
        ),
        "bore": (
            "Finite line sources, superposed between boreholes and over every month of the life "
            "and a peak; borehole resistance by the first-order multipole; film and wall of the "
            "pipe at the peak's flow."
        ),
        "pipe": (
            "Coldest water, film outside the pipe by Churchill & Chu (1975), film inside and wall "
            "at the peak's flow, integrated along the pipe."
        ),
    }
)
"""How an array is sized, by the metre of its lengths."""
# First guess of the draw per metre [W/m]; it decides where the search begins, not where it ends.
_GUESS: Final = {"trench": 20.0, "bore": 40.0, "pipe": 15.0}
_TRIES: Final = 40


@dataclass(frozen=True, slots=True)
class GroundResistance:
    """From brine to the pipe's outside, or to the borehole's wall.

    Attributes
    ----------
    film, wall
        Per metre of one pipe [m K/W].
    borehole_local, borehole_effective
        Brine to wall at one depth, and over the whole depth with heat passing from leg to leg
        [m K/W]; None for other kinds.
    water_film
        Outside a pond mat's pipe [m K/W]; None for other kinds.
    """

    film: float
    wall: float
    borehole_local: float | None = None
    borehole_effective: float | None = None
    water_film: float | None = None


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What the uncertain input does to the length.

    Attributes
    ----------
    of
        ``"ground_conductivity"`` (20 % less and more), or ``"water_film"`` (30 % weaker) for a
        pond.
    length_if_worse, length_if_better
        Needed length then [m]; infinite where the limit could not be kept, None where not known.
    """

    of: Literal["ground_conductivity", "water_film"]
    length_if_worse: float
    length_if_better: float | None


@dataclass(frozen=True, slots=True)
class ArraySizing:
    """A sized array.

    Attributes
    ----------
    kind
        slinky_flat, slinky_upright, straight, pond_mat or borehole.
    basis
        ``"conduction"``, or ``"extraction_rate"`` where the caller's rate set the size.
    draw
        What the ground has to give.
    metre
        Metre of what the lengths below are: trench, bore (active depth) or pipe (of mats).
    needed_length
        That the conduction model needs to just meet the limit, before rounding up [m]; infinite
        where an extraction rate was followed and no length of that many loops would do.
    total_length, loops, length_each
        As proposed: in all, equal loops, and in each loop [m, -, m].
    loop
        Each loop's legs and pipe.
    pipe_total
        Pipe in all loops, tails included [m].
    hydraulics
        One loop at the peak's flow.
    peak_per_metre, annual_per_metre
        Draw per metre of trench, bore or mat pipe: [W/m], [J/m a year].
    peak_per_metre_of_pipe, annual_per_metre_of_pipe
        The same per metre of pipe that gathers heat, tails left out [W/m], [J/m].
    resistance
        Between brine and ground.
    returning, going
        Brine from and to the ground at each month's peak [degC], shape (years, 12), months in
        order of operation from `draw.first_month`; None for a pond, whose year is not modelled.
    coldest_return, coldest_going, limit, margin
        [degC, degC, degC, K]
    limiting
        The month that sets the length, taken apart; None for a pond.
    coldest_ground
        Least temperature of the pipe's outside, or of the borehole's wall [degC].
    surface_energy, store_energy
        Of the last year's draw, what came through the surface and what from the store [J]; None
        where not modelled.
    site
        Land needed against land available.
    sensitivity
        What the uncertain input does to the length.
    circuit, duty
        The array and its duty, for the flow split: brine at its coldest, or with an extraction
        rate at the limit, which the rate is taken to keep.
    findings, cautions, notes
        About this array; for people's safety; and what the model leaves out.
    """

    kind: str
    basis: Literal["conduction", "extraction_rate"]
    draw: GroundDraw
    metre: Metre
    needed_length: float
    total_length: float
    loops: int
    length_each: float
    loop: Loop
    pipe_total: float
    hydraulics: LoopHydraulics
    peak_per_metre: float
    annual_per_metre: float
    peak_per_metre_of_pipe: float
    annual_per_metre_of_pipe: float
    resistance: GroundResistance
    returning: Floats | None
    going: Floats | None
    coldest_return: float
    coldest_going: float
    limit: float
    margin: float
    limiting: LimitingLoad | None
    coldest_ground: float
    surface_energy: float | None
    store_energy: float | None
    site: SiteUse
    sensitivity: Sensitivity
    circuit: Circuit
    duty: HeatDuty
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def coldest_return_by_year(self) -> Floats | None:
        """Least return temperature of each year [degC]."""
        return None if self.returning is None else np.asarray(self.returning.min(axis=1))

    @property
    def coldest_return_by_month(self) -> Floats | None:
        """Least return temperature of each month over the life, January first [degC]."""
        return self._by_month(self.returning)

    @property
    def coldest_going_by_month(self) -> Floats | None:
        """Least going temperature of each month over the life, January first [degC]."""
        return self._by_month(self.going)

    def _by_month(self, history: Floats | None) -> Floats | None:
        if history is None:
            return None
        return np.asarray(np.roll(history.min(axis=0), self.draw.first_month - 1))


@dataclass(frozen=True, slots=True)
class _Sized:
    """What every kind's model says of a number of loops and the length of each."""

    count: int
    needed: float
    each: float
    resistance: GroundResistance
    returning: Floats | None
    going: Floats | None
    coldest_return: float
    limiting: LimitingLoad | None
    coldest_ground: float
    energy: tuple[float, float] | None
    worse: float
    better: float | None
    notes: tuple[str, ...]
    coordinates: Floats | None = None
    # Needed length at a multiple of the conductivity, where it is worth asking only once.
    at_conductivity: Callable[[float], float] | None = None


@dataclass(frozen=True, slots=True)
class _Case:
    """The inputs, and what follows from them at once."""

    draw: GroundDraw
    ground: GroundConditions
    choice: ArrayChoice
    brine: Fluid
    change: float
    site: Site
    limits: LoopLimits
    years: int
    limit: float
    rate: ExtractionRate | None

    @property
    def mass_flow(self) -> float:
        return self.draw.peak / (self.brine.specific_heat * self.change)

    @property
    def metre(self) -> Metre:
        if isinstance(self.choice, PondArray):
            return "pipe"
        return "bore" if isinstance(self.choice, BoreholeArray) else "trench"

    @property
    def longest(self) -> float:
        """Longest trench, bore or mat pipe of one loop [m]."""
        if isinstance(self.choice, BoreholeArray):
            return self.choice.deepest
        if isinstance(self.choice, PondArray) or self.site.length is None:
            return math.inf
        return self.site.length - 2.0 * self.site.border

    @property
    def gathering_pipe(self) -> float:
        """Pipe that gathers heat, per metre of trench, bore or mat pipe [m/m]."""
        if isinstance(self.choice, SlinkyArray):
            return math.pi * self.choice.coil_diameter / self.choice.pitch + 2.0
        if isinstance(self.choice, BoreholeArray):
            return 2.0 * self.choice.u_tubes
        return 1.0 if isinstance(self.choice, PondArray) else float(self.choice.passes)

    @property
    def by_rate(self) -> float | None:
        """Total length that the caller's extraction rate asks for [m]."""
        if self.rate is None:
            return None
        metres = self.draw.peak / self.rate.rate
        if self.rate.per == self.metre:
            return metres
        if self.rate.per == "pipe":
            return metres / self.gathering_pipe
        raise InputError(
            Fault(
                "per",
                f"is {self.rate.per}, but a {self.choice.kind} array is counted per metre of "
                f"{self.metre}; give the rate so, or per metre of pipe",
                self.rate.per,
                f"{self.metre} or pipe",
            )
        )


def size_array(
    load: HeatLoad,
    ground: GroundConditions,
    choice: ArrayChoice,
    mixture: Mixture,
    temperature_change: float,
    *,
    site: Site | None = None,
    limits: LoopLimits | None = None,
    years: int = YEARS,
    least_return: float = RETURN_LIMIT,
    rate: ExtractionRate | None = None,
) -> ArraySizing:
    """Size an array of equal loops that keeps the return above its limit through its whole life.

    Parameters
    ----------
    load
        What the heat pump gives.
    ground
        Conductivity, heat capacity and the surface's year.
    choice
        Kind of array, its pipe and measures.
    mixture
        Antifreeze and strength.
    temperature_change
        Rise of the brine through the ground at the peak [K].
    site
        What is available; None: nothing is checked.
    limits
        What makes a loop practical.
    years
        Design life [years], 1 to 100.
    least_return
        Limit on the brine that comes back [degC]; 0 is common practice, no source.
    rate
        Extraction rate to follow instead; the conduction model then only checks it.

    Returns
    -------
    ArraySizing

    Raises
    ------
    InputError, RangeError
        Naming what is not usable.
    NoSolutionError
        Where the ground or the water is too cold for the limit, or loops cannot be practical.

    Notes
    -----
    The brine's properties are taken at its coldest mean, the limit less half its change. Each loop
    carries an equal share of the flow; the peak is at the end of its month, on top of the month's
    mean. The length is that which just meets the limit, rounded up to what can be made;
    the number of loops is the least that keeps `limits`, or up to a tenth (one at least) more.
    """
    refuse(
        number_fault("temperature_change", temperature_change, "K", above=0.0),
        number_fault("least_return", least_return, "degC"),
        Fault("years", f"is {years}; give 1 to 100 whole years", years, "1 to 100")
        if years != int(years) or not 1 <= years <= 100
        else None,
    )
    case = _Case(
        draw=ground_draw(load, ground.surface),
        ground=ground,
        choice=choice,
        brine=fluid(mixture, least_return - temperature_change / 2.0),
        change=temperature_change,
        site=site or Site(),
        limits=limits or LoopLimits(),
        years=int(years),
        limit=least_return,
        rate=rate,
    )
    sized = _equal_loops(case)
    if sized.at_conductivity is not None:
        worse, better = sized.at_conductivity(0.8), sized.at_conductivity(1.2)
        sized = replace(sized, worse=worse, better=better)
    return _result(case, mixture, sized)


# ----------------------------------------------------------------- number of loops and their length


def _equal_loops(case: _Case) -> _Sized:
    """Iterate heat and flow: loops that the length makes practical, length that the loops need."""
    size = _model(case)
    if case.limits.loops is not None:
        return size(case.limits.loops)
    fixed = case.by_rate

    def practical(total: float) -> int:
        return practical_loops(
            total,
            case.mass_flow,
            case.brine,
            case.choice,
            limits=case.limits,
            longest=case.longest,
        )

    tried: dict[int, _Sized] = {}
    too_few = 0
    count = practical(fixed or case.draw.peak / _GUESS[case.metre])
    for _ in range(_TRIES):
        try:
            found = tried.get(count) or size(count)
        except NoSolutionError:
            # A field of too few boreholes has no depth that does; ever more may have.
            if not isinstance(case.choice, BoreholeArray) or count >= case.limits.most_loops:
                raise
            too_few = max(too_few, count)
            count = min(max(count + 1, count * 3 // 2), case.limits.most_loops)
            continue
        tried[count] = found
        following = max(too_few + 1, practical(fixed or found.needed))
        # A field's shape may ask for more loops than were tried: that many were then sized.
        # A tenth more loops than the least is as good, and saves sizing again.
        spare = max(1, count // 10)
        if following <= count and (count - following <= spare or following in tried):
            return found
        if count < following <= found.count:
            return found
        count = following
    return tried[max(tried)]


def _model(case: _Case) -> Callable[[int], _Sized]:
    choice = case.choice
    if isinstance(choice, BoreholeArray):
        return lambda count: _bores(case, choice, count)
    if isinstance(choice, PondArray):
        return lambda count: _mats(case, choice, count)
    return lambda count: _trenches(case, count)


def _trenches(case: _Case, count: int) -> _Sized:
    soil = Ground(case.ground.conductivity, case.ground.heat_capacity)
    draw, choice = case.draw, case.choice
    diameter = choice.pipe.outside_diameter
    trench: Trench
    if isinstance(choice, SlinkyArray):
        trench = SlinkyTrench(
            choice.coil_diameter, choice.pitch, choice.depth, diameter, choice.upright
        )
    else:
        assert not isinstance(choice, PondArray | BoreholeArray)
        trench = pipe_row(choice.passes, choice.spacing, choice.depth, diameter)
    load = GroundLoad(draw.monthly, draw.peak, draw.peak_hours, case.change, draw.first_month)
    sized = size_trench_array(
        soil,
        case.ground.surface,
        trench,
        load,
        choice.pipe,
        case.brine,
        trenches=count,
        centres=case.site.centres,
        least_return=case.limit,
        years=case.years,
    )
    found = _of_trench_array(sized, count)
    if case.by_rate is None:
        return found
    each = rounded_up(choice, case.by_rate / count)
    history = trench_history(
        soil,
        case.ground.surface,
        trench,
        load,
        choice.pipe,
        case.brine,
        trenches=count,
        trench_length=each,
        centres=case.site.centres,
        years=case.years,
    )
    return replace(
        found,
        each=each,
        returning=history.returning,
        going=history.going,
        coldest_return=history.coldest_return,
        limiting=history.limiting,
        coldest_ground=history.coldest_ground,
    )


def _of_trench_array(sized: TrenchArray, count: int) -> _Sized:
    return _Sized(
        count=count,
        needed=sized.needed_length,
        each=sized.trench_length,
        resistance=GroundResistance(sized.pipe.film, sized.pipe.wall),
        returning=sized.return_temperature,
        going=sized.going_temperature,
        coldest_return=sized.coldest_return,
        limiting=sized.limiting,
        coldest_ground=sized.coldest_ground,
        energy=(sized.surface_energy, sized.store_energy),
        worse=sized.length_if_less_conductive,
        better=sized.length_if_more_conductive,
        notes=sized.notes,
    )


def _bores(case: _Case, choice: BoreholeArray, count: int) -> _Sized:
    coordinates = choice.coordinates(count)
    bores = len(coordinates)
    if case.limits.loops is not None and bores != count:
        raise InputError(
            Fault(
                "loops",
                f"is {count}, but no {choice.shape} field has exactly so many boreholes; the next "
                f"has {bores}",
                count,
                f"{bores}, or another shape",
            )
        )

    def design(conductivity: float) -> BoreDesign:
        return bore_design(
            replace(case.ground, conductivity=conductivity),
            choice,
            case.draw,
            case.brine,
            mass_flow=case.mass_flow,
            bores=bores,
        )

    def needed(conductivity: float) -> float:
        plan = design(conductivity)
        if plan.undisturbed(choice.deepest) + case.change / 2.0 <= case.limit:
            raise NoSolutionError(
                Fault(
                    "least_return",
                    f"of {case.limit:g} degC cannot be kept: undisturbed ground is at "
                    f"{plan.undisturbed(choice.deepest):.2f} degC; lower the limit",
                    case.limit,
                    f"below {plan.undisturbed(choice.deepest) + case.change / 2.0:.2f} degC",
                )
            )
        depth = size_borefield(
            plan.ground,
            coordinates,
            plan.loads,
            borehole_radius=choice.borehole_radius,
            buried=choice.buried,
            borehole_resistance=plan.effective_resistance,
            years=case.years,
            coldest_returning=case.limit,
            depth_range=(5.0, 3.0 * choice.deepest),
        ).depth
        return depth * bores

    def or_infinite(conductivity: float) -> float:
        try:
            return needed(conductivity)
        except NoSolutionError:
            return math.inf

    k = case.ground.conductivity
    total = needed(k) if case.by_rate is None else or_infinite(k)
    each = rounded_up(choice, (case.by_rate or total) / bores)
    plan = design(k)
    history = simulate_borefield(
        plan.ground,
        coordinates,
        plan.loads,
        depth=each,
        borehole_radius=choice.borehole_radius,
        buried=choice.buried,
        borehole_resistance=plan.effective_resistance,
        years=case.years,
    )
    resistance = GroundResistance(
        plan.film, plan.wall, plan.local_resistance, plan.effective_resistance(each)
    )
    return _Sized(
        count=bores,
        needed=total,
        each=each,
        resistance=resistance,
        returning=np.minimum(history.peak_returning, history.month_returning),
        going=np.minimum(history.peak_going, history.month_going),
        coldest_return=history.coldest_returning,
        limiting=_limiting_bore(case, plan, history, each),
        coldest_ground=float(min(history.month_wall.min(), history.peak_wall.min())),
        energy=None,
        worse=math.nan,
        better=math.nan,
        at_conductivity=lambda factor: or_infinite(factor * k),
        notes=plan.notes,
        coordinates=coordinates,
    )


def _limiting_bore(
    case: _Case, plan: BoreDesign, history: FluidHistory, depth: float
) -> LimitingLoad:
    worst = int(history.peak_returning.argmin())
    year, month = divmod(worst, 12)
    peak = float(plan.loads.monthly_peak[month])
    undisturbed = plan.undisturbed(depth)
    month_wall = float(history.month_wall[year, month])
    peak_wall = float(history.peak_wall[year, month])
    return LimitingLoad(
        year=year + 1,
        month=(month + case.draw.first_month - 1) % 12 + 1,
        undisturbed=undisturbed,
        fall_from_months=undisturbed - month_wall,
        fall_from_peak=month_wall - peak_wall,
        fall_through_pipe=peak_wall - float(history.peak_mean[year, month]),
        rise_of_brine=peak / (2.0 * plan.loads.capacity_flow),
    )


def _mats(case: _Case, choice: PondArray, count: int) -> _Sized:
    coil = 0.5 * (choice.inner_diameter + choice.outer_diameter)

    def at(limit: float) -> tuple[float, float, float, float, float, float]:
        mat = size_pond_mat(
            case.draw.peak,
            case.change,
            choice.pipe,
            case.brine,
            choice.coldest_water,
            loops=count,
            coil_diameter=coil,
            least_return=limit,
        )
        return (
            mat.total_length,
            mat.inside_film,
            mat.wall,
            mat.outside_film,
            mat.outside_temperature,
            mat.length_if_film_weaker,
        )

    if case.by_rate is None:
        needed, worse = (values := at(case.limit))[0], values[5]
    else:
        try:
            needed, worse = (values := at(case.limit))[0], values[5]
        except NoSolutionError:
            needed = worse = math.inf
    each = rounded_up(choice, (case.by_rate or needed) / count)
    total = each * count
    # As laid, the return is above the limit, or far enough below it where a rate asks for less.
    # The draw per metre is nearly linear in temperature, so its root is found in a few steps.
    coldest = case.limit if total >= needed else case.limit - 100.0
    warmest = choice.coldest_water - 1e-3
    if total >= at(warmest)[0]:
        returning = warmest
    elif total < at(coldest)[0]:
        raise InputError(
            Fault(
                "rate",
                f"leaves {total:.1f} m of pipe, which would draw the peak only from brine more "
                f"than 100 K below the limit of {case.limit:g} degC; give a smaller rate",
                None,
                "a rate that water can give",
            )
        )
    else:
        returning = float(
            brentq(lambda limit: 1.0 / at(limit)[0] - 1.0 / total, coldest, warmest, xtol=1e-4)
        )
    _, film, wall, water, outside, _ = at(returning)
    return _Sized(
        count=count,
        needed=needed,
        each=each,
        resistance=GroundResistance(film, wall, water_film=water),
        returning=None,
        going=None,
        coldest_return=returning,
        limiting=None,
        coldest_ground=outside,
        energy=None,
        worse=worse,
        better=None,
        notes=(
            "Only the coldest water is looked at; the pond's year is not modelled.",
            "Free convection in still water (Churchill & Chu 1975), uncertain by 30 % near 4 °C.",
        ),
    )


# ------------------------------------------------------------------------------------ the result


def _result(case: _Case, mixture: Mixture, sized: _Sized) -> ArraySizing:
    draw, choice = case.draw, case.choice
    total = sized.count * sized.each
    loop = loop_of(choice, sized.each, case.limits.tail)
    hydraulics = loop_hydraulics(loop, case.mass_flow / sized.count, case.brine)
    coldest_going = sized.coldest_return - case.change
    # A rate too bold for the ground would hand on brine that is frozen: the design limit stands.
    going = coldest_going if case.rate is None else case.limit - case.change
    pond = isinstance(choice, PondArray)
    use = site_use(case.site, choice, sized.count, sized.each, sized.coordinates)
    findings = array_findings(
        Findable(
            choice=choice,
            ground=case.ground,
            draw=draw,
            mixture=mixture,
            loops=sized.count,
            each=sized.each,
            needed=sized.needed,
            limits=case.limits,
            hydraulics=hydraulics,
            coldest_return=sized.coldest_return,
            coldest_going=coldest_going,
            limit=case.limit,
            coldest_ground=sized.coldest_ground,
            site=use,
            rate=case.rate,
            worse=sized.worse,
            better=sized.better,
        )
    )
    return ArraySizing(
        kind=choice.kind,
        basis="conduction" if case.rate is None else "extraction_rate",
        draw=draw,
        metre=case.metre,
        needed_length=sized.needed,
        total_length=total,
        loops=sized.count,
        length_each=sized.each,
        loop=loop,
        pipe_total=sized.count * loop.pipe_length,
        hydraulics=hydraulics,
        peak_per_metre=draw.peak / total,
        annual_per_metre=draw.annual / total,
        peak_per_metre_of_pipe=draw.peak / total / case.gathering_pipe,
        annual_per_metre_of_pipe=draw.annual / total / case.gathering_pipe,
        resistance=sized.resistance,
        returning=sized.returning,
        going=sized.going,
        coldest_return=sized.coldest_return,
        coldest_going=coldest_going,
        limit=case.limit,
        margin=sized.coldest_return - case.limit,
        limiting=sized.limiting,
        coldest_ground=sized.coldest_ground,
        surface_energy=None if sized.energy is None else sized.energy[0],
        store_energy=None if sized.energy is None else sized.energy[1],
        site=use,
        sensitivity=Sensitivity(
            "water_film" if pond else "ground_conductivity", sized.worse, sized.better
        ),
        circuit=circuit_of(loop, sized.count),
        duty=HeatDuty(draw.peak, case.change, going),
        findings=findings,
        cautions=(*CAUTIONS[choice.kind], KINDS[mixture.kind].caution),
        notes=sized.notes,
    )
