"""What is asked about one ground array, and which chapters answer it?

A job holds whatever is known of an array, in the engine's own values. Its chapters are computed
once each, when first asked for, and all of one array: the one given or sized, with the way to
balance and the pump that the job takes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from functools import cached_property, partial
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from hydraulics.balancing.heat_cost import (
    ImbalanceHeat,
    imbalance_heat,
    inside_even_loops,
    loop_heat,
    uneven_cost,
)
from hydraulics.balancing.result import Balancing, Way, not_needed
from hydraulics.balancing.valves import name_of
from hydraulics.balancing.ways import BalancingPlan, balance
from hydraulics.commissioning.commissioning import commissioning, fill_of
from hydraulics.commissioning.filling import Filling
from hydraulics.commissioning.plans import Commissioning, CommissioningPlan, Metered, PumpInService
from hydraulics.contradictions import (
    array_against_plan,
    array_against_sizing,
    array_against_trenches,
    duty_against_brine,
    duty_against_sizing,
    plant_against_plan,
    pump_against_choice,
)
from hydraulics.errors import Fault, HydraulicsError, InputError, NoSolutionError
from hydraulics.findings import (
    FREEZING_MARGIN,
    RETURN_LIMIT,
    TOLERANCE,
    WARM_LIMIT,
    Finding,
    figures,
)
from hydraulics.fluid.mixture import Mixture, freezing_margin
from hydraulics.ground.load_history import Limit
from hydraulics.groundworks.bill import Bill, Item, bill
from hydraulics.groundworks.pipe_order import PipeOrder, pipe_order
from hydraulics.groundworks.site_works import UNTOLD_BULKING, SiteWorks, pits_of, site_works
from hydraulics.groundworks.works import (
    Groundworks,
    GroundworksPlan,
    groundworks,
    least_centres,
)
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import array_contents
from hydraulics.layout.edit import place_after
from hydraulics.layout.heights import NOWHERE, Heights, on_ground
from hydraulics.layout.walk import loops_of
from hydraulics.pipework.pipe import STANDARD_COILS, Pipe
from hydraulics.plot.findings import near_boundary
from hydraulics.plot.plot import Plot
from hydraulics.plot.profile import ground_heights, site_heights
from hydraulics.plot.site import SitePlot
from hydraulics.plot.site_plan import length_of
from hydraulics.pumps.checks import worst_inlet
from hydraulics.pumps.findings import pump_pressure, setting_of, why_none
from hydraulics.pumps.installed import as_set, run_alike
from hydraulics.pumps.on_array import PumpChoicePlan, Warm, pumps_on_array
from hydraulics.pumps.result import ArrayCondition, PumpsOnArray
from hydraulics.pumps.selection import Candidate
from hydraulics.sizing.array import YEARS, size_array
from hydraulics.sizing.at_pump import (
    Pumped,
    as_laid,
    findings_at_pump,
    is_sized_for,
    of_other_length,
    return_as_laid,
    warmest_at_pump,
)
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    PondArray,
)
from hydraulics.sizing.ground_met import GroundAtLoops, ground_met
from hydraulics.sizing.heat_load import HeatLoad
from hydraulics.sizing.loops import count_of, laid, loops_of_kind
from hydraulics.sizing.on_plot import (
    SetOut,
    SettingOutPlan,
    Sizer,
    as_it_lies,
    field_not_kept,
    header_pipes,
    is_of_plan,
    names_in_plan,
    one_mat_each,
    set_out_array,
    set_out_kind,
    sized_on_plot,
)
from hydraulics.sizing.result import ArraySizing
from hydraulics.sizing.site import field_of
from hydraulics.sizing.uneven import season_of, uneven_finding
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.brine import BrineRange, BrineState, brine_range
from hydraulics.split.duty import Duty, FlowDuty, duty_fluids
from hydraulics.split.flow_split import flow_split, split_of
from hydraulics.split.hand_check import HandCheck, hand_check
from hydraulics.split.result import FlowSplit, Solved
from hydraulics.split.target import Target
from hydraulics.split.together import Asked, solved_together

Part = TypeVar("Part")
NO_PLANT = Plant()
ANYWHERE = Plot()
TINY = 1e-30  # m3/s; a target of nothing is refused where meters are told


@dataclass(frozen=True, slots=True)
class Limits:
    """What the array must keep.

    Attributes
    ----------
    deviation
        Largest deviation of a loop from its target flow, as a fraction.
    freezing_margin
        How far the coldest brine stays above freezing without a finding [K].
    from_ground
        Coldest brine that may come back from the ground [°C].
    warm_from_ground
        Warmest that may come back in months that put heat back [°C].
    years
        Life through which it may be neither.
    """

    deviation: float = TOLERANCE
    freezing_margin: float = FREEZING_MARGIN
    from_ground: float = RETURN_LIMIT
    warm_from_ground: float = WARM_LIMIT
    years: int = YEARS


@dataclass(frozen=True, slots=True)
class SizingPlan:
    """What an array is to be sized for.

    Attributes
    ----------
    load, temperature_change
        What the heat pump gives, and the brine's rise through the ground at the peak [K].
    ground
        Conductivity, heat capacity and the surface's year.
    choice
        Kind of array, its pipe and measures.
    loops
        What makes a loop practical.
    rate
        Extraction rate to follow instead of conduction; None for conduction.
    coils
        Coil lengths on offer of the loops' pipe [m].
    """

    load: HeatLoad
    temperature_change: float
    ground: GroundConditions
    choice: ArrayChoice
    loops: LoopLimits
    rate: ExtractionRate | None = None
    coils: tuple[float, ...] = STANDARD_COILS


@dataclass(frozen=True, slots=True)
class Job:
    """Whatever is known of one array; None is what is not told or not asked for.

    Attributes
    ----------
    mixture
        What fills it.
    circuit, plant
        The array, and what lies between it and the pump.
    duty, warm
        What sets the flow in the cold, and a warm condition.
    pump
        The pump that runs.
    on_offer
        Pipes that can be had; empty where that is not told.
    limits, plot, ground_at_loops
        What must be kept, where it lies, what the ground does to the loops.
    heights
        How high plant, gauge and ground lie.
    surveyed, plant_placed
        The plot with the levels surveyed on it, and whether it tells where the plant room is.
    target
        What flow each loop should have.
    sizing, setting_out, balancing, pump_choice, groundworks, commissioning
        What each chapter is asked.
    """

    mixture: Mixture | None = None
    circuit: Circuit | None = None
    plant: Plant = NO_PLANT
    duty: Duty | None = None
    warm: Warm | None = None
    pump: Candidate | None = None
    limits: Limits = Limits()
    on_offer: tuple[Pipe, ...] = ()
    target: Target = "even"
    plot: Plot = ANYWHERE
    heights: Heights = NOWHERE
    surveyed: SitePlot | None = None
    plant_placed: bool = True
    ground_at_loops: GroundAtLoops | None = None
    sizing: SizingPlan | None = None
    setting_out: SettingOutPlan | None = None
    balancing: BalancingPlan | None = None
    pump_choice: PumpChoicePlan | None = None
    groundworks: GroundworksPlan | None = None
    commissioning: CommissioningPlan | None = None


_PARTS = frozenset(each.name for each in fields(Job))


@contextmanager
def _of(part: str) -> Iterator[None]:
    """Name what is at fault from the job: a field of a chapter's own stands under its part.

    What stands on the site is the setting out's, whichever chapter sets it out.
    """
    try:
        yield
    except HydraulicsError as error:
        raise type(error)(
            *(
                fault
                if fault.field.split(".")[0] in _PARTS
                else replace(
                    fault,
                    field=f"{'setting_out' if fault.field.startswith('site.') else part}"
                    f".{fault.field}".rstrip("."),
                )
                for fault in error.faults
            )
        ) from None


def _on_plot(error: InputError) -> InputError:
    """The same of boreholes that the plot has: where they stand is told there."""
    moved = (
        replace(fault, field=fault.field.replace("coordinates", "plot.boreholes"))
        for fault in error.faults
    )
    return InputError(*moved)


def _needed(part: Part | None, name: str) -> Part:
    if part is None:
        raise InputError(Fault(name, "this is needed here and is missing"))
    return part


def solve_together(several: Iterable[Chapters], *, around: bool = True) -> None:
    """Solve arrays of several jobs that are joined alike all at once, for their chapters to take.

    At flows around their duties too, where that is asked. A job whose array is yet to be made, or
    with which something is wrong, is left as it is.
    """
    given = [
        (each, Asked(job.circuit, job.plant, job.mixture, job.duty))
        for each in several
        for job in (each.job,)
        if job.circuit is not None and job.setting_out is None
        if job.mixture is not None and job.duty is not None
    ]
    solved = solved_together([asked for _, asked in given], around=around)
    for (each, _), one in zip(given, solved, strict=True):
        each.solved = one


class Chapters:
    """Chapters of a job; what a chapter refuses is named from the job.

    Parameters
    ----------
    job
        The job.
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self.solved: Solved | None = None  # where it was with other jobs' arrays

    @cached_property
    def sizing(self) -> ArraySizing:
        """The array that the load needs."""
        if self.job.setting_out is None or not self.is_sized:
            plan = _needed(self.job.sizing, "sizing")
            limits = self._limits_of(plan)
            size: Sizer = self._size
            if self.job.setting_out is not None and isinstance(plan.choice, PondArray):
                size = one_mat_each(plan.choice, size, asked_for=limits.loops)
            with _of("sizing"):
                try:
                    return size(self._choice, limits)
                except InputError as error:
                    raise _on_plot(error) if self._choice is not plan.choice else error from None
        return self._sized_on_plot[0]

    @cached_property
    def _placed(self) -> tuple[tuple[float, float], ...]:
        """Where boreholes stand by the plan of the array given, or by the plot [m].

        Empty where neither tells, or the plan is yet to be made of the sizing.
        """
        job, plan = self.job, self.job.sizing
        if plan is None or not isinstance(plan.choice, BoreholeArray):
            return ()
        if (asked := job.setting_out) is None:
            return job.plot.bores
        if job.circuit is None:
            return ()
        try:
            return tuple(bore.at for bore in self._set_out.plan.bores)
        except HydraulicsError:
            if not asked.array_stays:
                raise
            return tuple(bore.at for bore in asked.bores)

    @cached_property
    def _choice(self) -> ArrayChoice:
        """The kind that is sized, its boreholes where plan or plot have them.

        As it is told, where an array given has another number of them.
        """
        job, choice = self.job, _needed(self.job.sizing, "sizing").choice
        at = self._placed
        if not at or not isinstance(choice, BoreholeArray):
            return choice
        if job.circuit is not None and count_of(job.circuit, choice)[0] != len(at):
            return choice
        return replace(choice, positions=at, rows=None, perimeter=False)

    def _limits_of(self, plan: SizingPlan) -> LoopLimits:
        """What makes a loop practical; an array that is placed has as many loops as it has."""
        asked, limits = self.job.setting_out, plan.loops
        if self.job.circuit is None:
            return limits
        if self._choice is not plan.choice:
            return replace(limits, loops=None)
        if (
            asked is None
            or not asked.trenches
            or isinstance(plan.choice, BoreholeArray | PondArray)
        ):
            return limits
        # As many trenches as are drawn, and the plan's tails: as the sizing alone has them.
        tail = max(self._set_out.plan.tails.values(), default=limits.tail)
        return replace(limits, loops=len(asked.trenches), tail=tail)

    @cached_property
    def _sized_like_given(self) -> ArraySizing:
        """The sizing with as many loops as the array given has, where it proposes others."""
        plan = _needed(self.job.sizing, "sizing")
        like = self._loops_as_given(plan)
        if like is None or (like.loops, like.in_series) == (self.sizing.loops, 1.0):
            return self.sizing
        try:
            with _of("sizing"):
                return self._size(self._choice, like)
        except NoSolutionError:  # so few have no length that does
            return self.sizing

    def _loops_as_given(self, plan: SizingPlan) -> LoopLimits | None:
        """As many loops as the array given has, and its tails; None where there is no such."""
        circuit, limits = self.job.circuit, plan.loops
        if circuit is None:
            return None
        if isinstance(self._choice, BoreholeArray) and self._choice.positions:
            return None
        count, way = count_of(circuit, plan.choice)
        if not 0 < count <= limits.most_loops:
            return None
        tail = limits.tail or way
        in_series = count / loops_of_kind(circuit, plan.choice)[0]
        if not isinstance(plan.choice, BoreholeArray):
            in_series = 1.0
        return replace(limits, loops=count, tail=tail, in_series=in_series)

    def _size(self, choice: ArrayChoice, loops: LoopLimits) -> ArraySizing:
        job, plan = self.job, _needed(self.job.sizing, "sizing")
        trench = job.groundworks.trench if job.groundworks is not None else None
        plot = job.plot
        if job.setting_out is not None:  # the plan tells what has room
            plot = replace(plot, area=None)
            if not isinstance(choice, BoreholeArray):  # whose rows are of the sides
                plot = replace(plot, length=None, width=None)
        return size_array(
            plan.load,
            plan.ground,
            choice,
            _needed(job.mixture, "mixture"),
            plan.temperature_change,
            plot=plot,
            limits=loops,
            years=job.limits.years,
            least_return=job.limits.from_ground,
            most_return=job.limits.warm_from_ground,
            rate=plan.rate,
            coils=plan.coils,
            dug=trench,
        )

    @cached_property
    def _sized_on_plot(self) -> tuple[ArraySizing, SetOut]:
        """The array that the load needs, with the places and tails that the plot gives it."""
        plan = _needed(self.job.sizing, "sizing")
        with _of("sizing"):
            asked, choice = _needed(self.job.setting_out, "setting_out"), plan.choice
            if not isinstance(choice, BoreholeArray):
                return sized_on_plot(asked, choice, plan.loops, self._size)
            # The plan has the places of boreholes: a line only begins the search for their number.
            told = choice.is_told(self.job.plot)
            begun = choice if told else replace(choice, rows=1)
            sized, found = sized_on_plot(asked, begun, plan.loops, self._size)
            if not told and found.circuit is None:  # none has a place: a block, on the safe side
                rows = math.isqrt(sized.loops)
                block = self._size(replace(choice, rows=rows), plan.loops)
                each = block.length_each + choice.buried
                found = set_out_kind(replace(asked, count=block.loops, length=each), choice)
                return as_it_lies(block, found), found
            moved = () if asked.bores else field_not_kept(choice)
            return sized, replace(found, findings=(*found.findings, *moved))

    @cached_property
    def set_out(self) -> SetOut:
        """Where the array lies on its plot, and what of its runs the plant tells too."""
        found = self._set_out
        twice = plant_against_plan(self.job.plant, found)
        return self._with_pits(replace(found, findings=(*found.findings, *twice)), found.circuit)

    @cached_property
    def laid_out(self) -> SetOut:
        """The same with the spare pipe of the way to balance that the job takes."""
        way = self.way
        if way is None or way.spare_length is None or self.set_out.circuit is None:
            return self.set_out
        bare = replace(self.set_out.plan, pits=())
        findings = (f for f in self.set_out.findings if f.code != "no_room_for_spare")
        found = replace(self.set_out, plan=bare, findings=tuple(findings))
        return self._with_pits(found, way.circuit)

    def _with_pits(self, found: SetOut, circuit: Circuit | None) -> SetOut:
        """The plan with the pits of an array's spare pipe, and what of it has no room."""
        if circuit is None:
            return found
        rules = _needed(self.job.setting_out, "setting_out").rules
        placed = pits_of(found.plan, circuit, rules)
        without = tuple(loop for loop, _ in placed.refused)
        plan = replace(found.plan, pits=placed.pits, without_pit=without)
        return replace(found, plan=plan, findings=(*found.findings, *placed.findings()))

    @cached_property
    def _set_out(self) -> SetOut:
        job, plan = self.job, _needed(self.job.setting_out, "setting_out")
        with _of("setting_out"):
            if job.circuit is not None:
                return set_out_array(plan, job.circuit)
            if job.sizing is not None:
                return self._sized_on_plot[1]
            if plan.choice is None:
                raise InputError(Fault("sizing", "this is needed here and is missing"))
            return set_out_kind(plan, plan.choice)

    @cached_property
    def site_works(self) -> SiteWorks | None:
        """What is dug for the plan's header trenches; None where no loop is placed on it."""
        asked, found = _needed(self.job.setting_out, "setting_out"), self.set_out
        if not found.plan.loops:
            return None
        digging = self.job.groundworks
        bulking = UNTOLD_BULKING if digging is None else digging.works.gain
        pipes = found.pipes
        if found.circuit is not None and self.way is not None:
            pipes = header_pipes(self.circuit, asked.run_pipe)
        with _of("groundworks.header"):
            return site_works(
                found.plan,
                pipes,
                asked.rules,
                bulking,
                bedding_imported=digging is None or digging.works.bedding_imported,
            )

    @cached_property
    def heights(self) -> Heights:
        """How high all lies: as the job tells, and the rest by the surveyed levels of its plot."""
        told, asked = self.job.heights, self.job.setting_out
        plot = self.job.surveyed if asked is None else asked.site
        if plot is None or not plot.levels:
            return told
        if asked is not None and self._has_place(asked):
            own = self.job.circuit
            ground = site_heights(self.set_out.plan, asked.rules)
            placed = self.set_out.circuit is not None and not asked.array_stays
            placed |= own is not None and is_of_plan(own, self.set_out)
            ground = ground if placed else replace(ground, lowest_pipe=None)
            if told.header_depth is None:
                told = replace(told, header_depth=asked.rules.lies)
        else:
            ground = ground_heights(plot)
        with _of("heights"):
            told = on_ground(told, ground)
        if told.plant_level is None and (asked is not None or self.job.plant_placed):
            told = replace(told, plant_level=ground.plant_level)
        return told

    def _has_place(self, asked: SettingOutPlan) -> bool:
        """Whether somebody placed the array on its plot, or a plan that is found."""
        by_hand = bool(asked.trenches or asked.bores or asked.mats)
        return by_hand or self.set_out.circuit is not None

    @property
    def given(self) -> Circuit | None:
        """The array that the job gives, with the tails of its plot where it is set out."""
        asked = self.job.setting_out
        if self.job.circuit is None or asked is None or asked.array_stays:
            return self.job.circuit
        return self.set_out.circuit or self.job.circuit

    @property
    def is_placed(self) -> bool:
        """Whether the array before balancing is not that which was given: sized, or set out."""
        return self.is_sized or self.given is not self.job.circuit

    @property
    def is_made(self) -> bool:
        """Whether the array as decided is not that which was given."""
        return self.is_placed or self.way is not None

    @property
    def is_sized(self) -> bool:
        """Whether the array is the sizing's, not one that was given."""
        return self.job.circuit is None

    @cached_property
    def duty(self) -> Duty:
        """What sets the flow: as given, or as the sizing decides."""
        if self.is_sized:
            duty, mixture = self.sizing.duty, _needed(self.job.mixture, "mixture")
            if (margin := freezing_margin(mixture, duty.to_ground_temperature)) <= 0.0:
                raise InputError(
                    Fault(
                        "mixture",
                        "freezes in the array as it is sized: its coldest brine is "
                        f"{duty.to_ground_temperature:.1f} °C, {-margin:.1f} K below the freezing "
                        "point; take a stronger mixture, a smaller extraction rate or a higher "
                        "limit on the brine from the ground",
                    )
                )
            return duty
        if self.job.duty is None:
            raise InputError(Fault("duty", "this is needed here and is missing"))
        return self.job.duty

    @property
    def _target(self) -> Target:
        """The flow that each loop should have, by what loops are called where they are set out."""
        target = self.job.target
        if self.job.setting_out is None or not isinstance(target, Mapping):
            return target
        called = names_in_plan(self.given or self.sizing.circuit, target)
        return {called[name]: share for name, share in target.items()}

    @property
    def _judged_by(self) -> dict[str, Any]:
        limits = self.job.limits
        return {
            "target": self._target,
            "tolerance": limits.deviation,
            "margin": limits.freezing_margin,
            "least_return": limits.from_ground,
            "heights": self.heights,
            "warmest": self._warmest_at_duty,
            "on_offer": self.job.on_offer,
        }

    @property
    def _warmest_at_duty(self) -> float | None:
        """Warmest brine under the duty's pressure [°C]; None where a pump runs: its own counts."""
        job = self.job
        if job.pump is not None or (job.pump_choice is not None and job.pump_choice.take):
            return None
        found = []
        if job.warm is not None:
            found += [job.warm.to_ground_temperature, job.warm.from_ground_temperature]
        if self.is_sized and (history := self.sizing.history) is not None:
            found += [float(history.warm_going.max()), float(history.warm_returning.max())]
        return max(found, default=None)

    @cached_property
    def before(self) -> FlowSplit:
        """Flow split of the array as given or sized."""
        job = self.job
        with _of("circuit"):
            return flow_split(
                self.given or self.sizing.circuit,
                job.plant,
                _needed(job.mixture, "mixture"),
                self.duty,
                **self._judged_by,
                solved=self.solved,
            )

    @cached_property
    def balancing(self) -> Balancing:
        """Ways to balance that array."""
        job = self.job
        ground, heat_from = self._ground_met
        with _of("balancing"):
            return balance(
                self.before,
                self.given or self.sizing.circuit,
                job.plant,
                self.duty,
                job.balancing or BalancingPlan(),
                heat=None if ground is None else partial(self._heat, ground),
                heat_from=heat_from,
            )

    @property
    def balancing_in_circuit(self) -> Balancing:
        """The same, of which findings and loops have their places in the array as decided."""
        if self.way is None:
            return self.balancing
        before, split = self.given or self.sizing.circuit, self.balancing.split

        def moved(place: tuple[int, ...]) -> tuple[int, ...]:
            return place_after(place, before, self.circuit)

        loops = replace(split.loops, places=tuple(map(moved, split.loops.places)))
        findings = (
            each if each.place is None else replace(each, place=moved(each.place))
            for each in split.findings
        )
        split = replace(split, loops=loops, findings=tuple(findings))
        return replace(self.balancing, split=split)

    @property
    def _ground_met(self) -> tuple[GroundAtLoops | None, str]:
        """The ground as the loops meet it, told or as the sizing has it, and which of the two."""
        job = self.job
        if job.ground_at_loops is not None:
            return job.ground_at_loops, "ground_at_loops as told"
        if job.sizing is None:
            return None, "not told: neither ground_at_loops nor a sizing is in the job"
        try:
            sizing, plan = self.sizing, job.sizing
        except HydraulicsError as error:
            return None, f"not told: the job's sizing finds no array ({error.faults[0].message})"
        if job.circuit is not None and loops_of_kind(job.circuit, plan.choice)[1]:
            return None, "not told: the array has loops of another kind than the sizing is of"
        return ground_met(sizing, plan.choice, plan.ground)

    def _heat(self, ground: GroundAtLoops, network: Network, flow: NDArray[np.float64]) -> float:
        """Heat exchanged at the loops' mass flows [W], either way."""
        found = loop_heat(
            network,
            flow,
            entering_temperature=self.duty.to_ground_temperature,
            ground_temperature=ground.temperature,
            ground_resistance=ground.resistance,
            pipe_conductivity=ground.pipe_conductivity,
        )
        return abs(found.total_heat)

    @property
    def is_uneven(self) -> bool:
        """Whether some loop is further from its target flow than the limit."""
        judged = self.before.imbalance
        return judged is not None and not judged.within_tolerance

    @property
    def wants_balancing(self) -> bool:
        """Whether ways to balance are asked for and there is anything to balance."""
        return self.job.balancing is not None and self.is_uneven

    @cached_property
    def heat_cost(self) -> ImbalanceHeat | None:
        """What the uneven split costs in heat; None where the ground at the loops is not told."""
        ground = self.job.ground_at_loops
        if ground is None:
            return None
        with _of("ground_at_loops"):
            return imbalance_heat(
                self.before,
                entering_temperature=self.duty.to_ground_temperature,
                ground_temperature=ground.temperature,
                ground_resistance=ground.resistance,
                pipe_conductivity=ground.pipe_conductivity,
            )

    @cached_property
    def way(self) -> Way | None:
        """The way to balance that the job takes; None where it takes none or needs none.

        A way that was put in is not put in again, since the array needs none then.
        """
        plan = self.job.balancing
        if plan is None or plan.take is None or not self.is_uneven:
            return None
        way = next(each for each in self.balancing.ways if each.kind == plan.take)
        if way.circuit is None:
            raise InputError(
                Fault("balancing.take", f"this way is not possible: {way.reason}", plan.take)
            )
        return way

    @cached_property
    def circuit(self) -> Circuit:
        """The array as decided: given or sized, with the way that is taken."""
        if self.way is not None and self.way.circuit is not None:
            return self.way.circuit
        return self.sizing.circuit if self.is_sized else _needed(self.given, "circuit")

    @cached_property
    def split(self) -> FlowSplit:
        """Flow split of the array as decided."""
        job, way = self.job, self.way
        if way is None or way.reached is None:
            return self.before
        mixture = _needed(job.mixture, "mixture")
        with _of("circuit"):
            reached = way.reached
            return split_of(
                reached.network,
                reached.solution,
                self.circuit,
                job.plant,
                mixture=mixture,
                duty=self.duty,
                **self._judged_by,
            )

    @cached_property
    def pump_choice(self) -> PumpsOnArray:
        """Pumps judged on the array."""
        plan = _needed(self.job.pump_choice, "pump_choice")
        return self._on_array(plan, "pump_choice", self.job.warm)

    def _on_array(
        self, plan: PumpChoicePlan, part: str, warm: Warm | None, split: FlowSplit | None = None
    ) -> PumpsOnArray:
        job = self.job
        with _of(part):
            return pumps_on_array(
                split or self.split,
                self.circuit,
                job.plant,
                mixture=_needed(job.mixture, "mixture"),
                duty=self.duty,
                plan=plan,
                warm=warm,
                margin=job.limits.freezing_margin,
                heights=self.heights,
            )

    @cached_property
    def pump(self) -> Candidate | None:
        """The pump that runs: the job's own as set where it bears the name taken, or the taken."""
        own = self.job.pump
        if self._taken is None or (own is not None and own.pump.name == self._taken.pump.name):
            return own
        return self._taken

    @cached_property
    def _taken(self) -> Candidate | None:
        """The pump taken from those judged, as it was judged; None where none is taken."""
        plan = self.job.pump_choice
        if plan is None or plan.take is None:
            return None
        taken = next(
            each for each in self.pump_choice.selections if each.candidate.pump.name == plan.take
        )
        return as_set(taken, self.split)

    @cached_property
    def running(self) -> PumpsOnArray | None:
        """That pump on the array, cold and warm; None where no pump is decided."""
        if self.pump is None:
            return None
        plan = PumpChoicePlan((self.pump,), own=1)
        if self.job.pump_choice is not None:
            plan = replace(plan, grade=self.job.pump_choice.grade)
        return self._on_array(plan, "pump", self.job.warm)

    @cached_property
    def brine(self) -> BrineRange:
        """How cold and how warm the brine becomes anywhere in the job, as far as it is told."""
        return brine_range(self.duty, *self._brine_beside_duty())

    def _brine_beside_duty(self) -> Iterator[BrineState]:
        """Brine in the warm condition, at the flow of the pump that runs, and in the sizing."""
        warm = self.job.warm
        if warm is not None:
            yield BrineState(
                warm.to_ground_temperature, warm.from_ground_temperature, "in the warm condition"
            )
        if self.running is not None and self.pump is not None:
            for each, judged in zip(
                self.running.conditions, self.running.selections[0].conditions, strict=True
            ):
                if each.at_pump_temperatures is not None and judged.point is not None:
                    gives = figures(1e3 * judged.point.flow)
                    where = f"at the {gives} L/s of {self.pump.pump.name} in the {judged.name}"
                    yield BrineState(*each.at_pump_temperatures, where)
        if self.job.sizing is None:
            return
        try:
            sized = self.sizing
        except HydraulicsError:  # of an array that is given; it tells nothing of its brine
            return
        where = "in the job's sizing"
        yield BrineState(sized.coldest_going, sized.coldest_return, where)
        if (history := sized.history) is not None:
            out, back = history.warm_going.max(), history.warm_returning.max()
            yield BrineState(float(out), float(back), where)
        if self._laid is not None and self.pump is not None and (flow := self._warm_flow):
            where += f" at the {flow.told} that {self.pump.pump.name} gives of warm brine"
            if (hottest := warmest_at_pump(self._laid, flow)) is not None:
                yield BrineState(*hottest, where)

    @cached_property
    def groundworks(self) -> Groundworks:
        """Digging, drilling, land and time."""
        plan = _needed(self.job.groundworks, "groundworks")
        choice = self.job.sizing.choice if self.job.sizing is not None else None
        field: list[tuple[float, float]] = []
        stretches, placed, apart = None, None, None
        asked = self.job.setting_out
        if (
            asked is not None
            and self.set_out.circuit is not None
            and (not asked.array_stays or is_of_plan(self.circuit, self.set_out))
        ):
            stretches = self.site_works.stretches if self.site_works is not None else ()
            on_plan = self.set_out.plan
            placed = {each.loop: each.length for each in on_plan.trenches}
            lines, bored = [t.line for t in on_plan.trenches], [b.at for b in on_plan.bores]
            apart = least_centres(lines, bored, on_plan.findings)
        if isinstance(choice, BoreholeArray) and stretches is None:
            loops = loops_of(self.circuit)
            bores = sum(count for _, loop, count in loops for leg in loop.legs if leg.borehole)
            if bores:
                places = field_of(choice, self.job.plot, bores)
                field = [(float(x), float(y)) for x, y in places]
        with _of("groundworks"):
            dug = groundworks(
                self.circuit,
                plan.works,
                plan.trench,
                plan.header,
                plot=self.job.plot,
                plant=self.job.plant,
                field_centres=field,
                stretches=stretches,
                placed=placed,
                apart=apart,
            )
        if asked is not None and stretches is not None:
            near = near_boundary(self.set_out.plan)
            return replace(dug, findings=(*dug.findings, *near))
        if asked is None:
            return dug
        return replace(dug, findings=(array_against_plan(), *dug.findings))

    @cached_property
    def pipe_order(self) -> PipeOrder:
        """Pipe to order."""
        plan = _needed(self.job.groundworks, "groundworks")
        with _of("groundworks"):
            return pipe_order(self.circuit, self.job.plant, plan.coil_lengths)

    @cached_property
    def bill(self) -> Bill:
        """Everything that the array takes, priced where the caller gives prices."""
        plan = _needed(self.job.groundworks, "groundworks")
        filled, mix, asked = None, self.job.mixture, self.job.commissioning
        if asked is not None and mix is not None:
            contents = array_contents(self.circuit, self.job.plant)
            with _of("commissioning.filling"):
                filled = antifreeze_items(mix.kind, fill_of(mix, contents, asked.filling))
        return bill(
            self.circuit,
            self.job.plant,
            self.pipe_order,
            self.groundworks,
            antifreeze=filled,
            prices=plan.prices,
        )

    @cached_property
    def commissioning(self) -> Commissioning:
        """Filling, purging, testing and proving; meters at the flow of the pump that runs."""
        job, table = self.job, self.split.loops
        flows, undriven, judged = table.volume_flow, "", self.split.imbalance
        pump = PumpInService(self.split.pump.pressure)
        balanced = judged is not None and judged.within_tolerance
        if self.pump is not None and self.running is not None:
            cold = self.running.conditions[0]
            pump = self._in_service(self.pump, self.running)
            if cold.at_pump is None:
                undriven = self.pump.pump.name
            else:
                flows = cold.at_pump.mass_flow / cold.network.fluids[1].density
                balanced = cold.at_pump.within_tolerance
        targets = table.target_flow * (np.sum(flows) / max(table.target_flow.sum(), TINY))
        meters = [
            Metered(*each)
            for each in zip(
                table.names, table.places, np.asarray(flows).tolist(), targets.tolist(), strict=True
            )
        ]
        asked = _needed(job.commissioning, "commissioning")
        if job.setting_out is not None and (read := asked.flow_meters.readings):
            called = names_in_plan(self.circuit, (loop for loop, _ in read))
            read = tuple((called[loop], flow) for loop, flow in read)
            asked = replace(asked, flow_meters=replace(asked.flow_meters, readings=read))
        with _of("commissioning"):
            return commissioning(
                meters,
                self.circuit,
                job.plant,
                _needed(job.mixture, "mixture"),
                asked,
                balanced=balanced,
                tolerance=job.limits.deviation,
                brine=self.brine,
                margin=job.limits.freezing_margin,
                undriven=undriven,
                heights=self.heights,
                pump=pump,
                open_kvs=self._open_kvs,
            )

    @property
    def _open_kvs(self) -> dict[str, float]:
        """Kv of the valve that balances when it is fully open [m³/h], by its name."""
        table = None if self.job.balancing is None else self.job.balancing.valve
        return {} if table is None else {name_of(table): table.kvs[-1]}

    def _in_service(self, pump: Candidate, running: PumpsOnArray) -> PumpInService:
        """The pump that runs as an expansion vessel meets it."""
        runs, conditions = running.selections[0], running.conditions
        return PumpInService(
            pressure=max(self.split.pump.pressure, pump_pressure(runs, conditions)),
            name=pump.pump.name,
            lacks=why_none(runs),
            inlet_needed=worst_inlet(runs, conditions),
            inlet_told=pump.inlet_pressure,
        )

    @cached_property
    def hand_check(self) -> HandCheck:
        """What it takes to work out the index loop's drop and the pump's head again by hand."""
        judged = self.split.imbalance
        index = judged.index_loop if judged is not None else 0
        return hand_check(self.split.network, self.split.solution, index)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """About the chain of chapters; each has its own."""
        return (
            *self._not_balanced(),
            *self._of_the_way(),
            *self.set_otherwise,
            *self._of_other_length(),
            *self._return_at_pump(),
            *self._return_uneven(),
            *self._against_sizing(),
        )

    def _return_uneven(self) -> Iterator[Finding]:
        """How much colder, or warmer, the brine comes back as loops share its flow unevenly.

        Of the array that is sized, or of one given that is of the kind and make of its sizing, at
        the flow of the pump that runs or of the duty.
        """
        if self._laid is None or self.way is not None or self.before.solution.total <= 0.0:
            return
        cold = self.running.conditions[0].at_pump if self.running is not None else None
        name = f"that {self.pump.pump.name} gives" if cold is not None and self.pump else ""
        own = (self.before.network, self.before.loops.mass_flow)
        at = own if cold is None else (cold.network, cold.mass_flow)
        warm = self._warm_condition
        if warm is not None and warm.at_pump is not None:
            summer = (warm.network, warm.at_pump.mass_flow)
        else:
            summer = self._duty_in_summer or at
        seasons: tuple[tuple[Limit, tuple[Network, NDArray[np.float64]]], ...]
        seasons = (("lower", at), ("upper", summer))
        for limit, (network, flow) in seasons:
            pumped = Pumped(float(np.abs(flow).sum()), network.fluids[IN_LOOP], name)
            if pumped.mass_flow <= 0.0:
                continue
            inside = inside_even_loops(network, flow)
            season = season_of(
                limit, self._sized_like_given, self._laid, self._choice, pumped, inside
            )
            if season is None:
                continue
            further = uneven_cost(
                network,
                flow,
                entering_temperature=season.going,
                ground_temperature=season.far,
                ground_resistance=season.ground_resistance,
            )
            metres = self._metres_laid(" with")
            said = uneven_finding(season, further, pumped, uneven=self.is_uneven, metres=metres)
            if said is not None:
                yield said

    @property
    def _is_as_sized(self) -> bool:
        """Whether an array given is of the kind and make that the sizing beside it is of."""
        return all(
            each.code != "not_as_sized" or each.severity == "info"
            for each in self._against_sizing()
        )

    @cached_property
    def _laid(self) -> ArraySizing | None:
        """The sizing told of the array as it is laid; None where that is of another kind or make.

        The sizing's own is laid otherwise where its trenches are drawn. None, too, with loops that
        the sizing is not of, or that are not known to stand as it has them.
        """
        plan, way = self.job.sizing, self.way
        if plan is None or (way is not None and way.kind == "other_loop_pipe"):
            return None  # which has another film and wall than those sized
        if self.is_sized and self.sizing.laid is None:
            return self.sizing
        choice = plan.choice
        count = count_of(self.circuit, choice)[0]
        others = loops_of_kind(self.circuit, choice)[1]
        at = self._choice.positions if isinstance(self._choice, BoreholeArray) else ()
        unlike = any(places and len(places) != count for places in (at, self._placed))
        if not self._is_as_sized or others or unlike:
            return None
        try:
            return as_laid(self._sized_like_given, count, laid(self.circuit, choice))
        except HydraulicsError:  # colder than the mixture has data of
            return None

    def _metres_laid(self, word: str) -> str:
        """What is laid, in words, where it is another length than the sizing proposes."""
        if self._laid is None or self._laid is self.sizing:
            return ""
        return f"{word} the {self._laid.total_length:.0f} m of {self._laid.metre} that are laid"

    def _of_other_length(self) -> tuple[Finding, ...]:
        """What the sizing finds of its own length, where another is laid."""
        return () if self._laid is None else tuple(of_other_length(self._laid, self.sizing))

    def _return_at_pump(self) -> tuple[Finding, ...]:
        """How the brine comes back at the flow of the pump that runs, or of a duty of another flow.

        Of the array as it is laid, where it is of the kind and make of its sizing.
        """
        if self._laid is None:
            return ()
        if self.running is None:
            total, brine = self.split.solution.total, self.split.network.fluids[IN_LOOP]
            flow = Pumped(total, brine, f"of the duty{self._metres_laid(' and')}")
            if total <= 0.0:
                return ()
            if is_sized_for(self._laid, flow):
                return tuple(return_as_laid(self._laid, self.sizing))
        else:
            cold = self.running.conditions[0]
            name = "" if self.pump is None else self.pump.pump.name
            if cold.at_pump is None:
                return ()
            flow = Pumped(
                cold.at_pump.solution.total,
                cold.network.fluids[IN_LOOP],
                f"that {name} gives{self._metres_laid(' and')}",
            )
        return tuple(
            findings_at_pump(
                self._laid,
                flow,
                self._warm_flow or replace(flow, gives=f"{flow.gives}, with brine at its warmest"),
                mixture=_needed(self.job.mixture, "mixture"),
                margin=self.job.limits.freezing_margin,
                runs=self.running is not None,
            )
        )

    @cached_property
    def _warm_condition(self) -> ArrayCondition | None:
        """The pump that runs in the sizing's warmest brine; None where it is not told.

        Warm brine is thinner, and a pump gives more of it. One that holds the brine's change holds
        that of its setting, or of the duty, with summer's heat.
        """
        if self._laid is None or self.pump is None or (history := self._laid.history) is None:
            return None
        if history.warmest_return is None:
            return None
        brine, pump, split = (
            Warm(float(history.warm_going.max()), history.warmest_return),
            self.pump,
            self.split,
        )
        if pump.control == "constant_temperature_difference":
            pump = replace(pump, set_change=setting_of(pump, split))
            split = replace(split, heat=-float(self._laid.draw.checked_warm.min()))
        try:
            found = self._on_array(PumpChoicePlan((pump,), own=1), "pump", brine, split)
        except HydraulicsError:  # no warmer than the cold, or too hot for the mixture's data
            return None
        return found.conditions[1]

    @property
    def _duty_in_summer(self) -> tuple[Network, NDArray[np.float64]] | None:
        """The duty's flow in the sizing's warmest brine, which loops share otherwise than the cold.

        As much as carries the same heat by a kelvin. None where no heat is put back, or the mixture
        has no data as warm.
        """
        history = self._laid.history if self._laid is not None else None
        if history is None or history.warmest_return is None or self.running is not None:
            return None
        mixture = _needed(self.job.mixture, "mixture")
        still = FlowDuty(0.0, float(history.warm_going.max()), history.warmest_return)
        cold = Pumped(self.before.solution.total, self.before.network.fluids[IN_LOOP], "")
        try:
            warm = duty_fluids(mixture, still)[IN_LOOP]
            duty = replace(still, volume_flow=cold.carries / warm.specific_heat / warm.density)
            split = flow_split(
                self.given or self.sizing.circuit, self.job.plant, mixture, duty, **self._judged_by
            )
        except HydraulicsError:
            return None
        return split.network, split.loops.mass_flow

    @cached_property
    def _warm_flow(self) -> Pumped | None:
        """What that pump gives in the sizing's warmest brine; None where it is not told."""
        warm = self._warm_condition
        if warm is None or warm.at_pump is None or self.pump is None:
            return None
        return Pumped(
            warm.at_pump.solution.total,
            warm.network.fluids[IN_LOOP],
            f"that {self.pump.pump.name} gives of its warmest brine{self._metres_laid(' and')}",
        )

    def _against_sizing(self) -> Iterator[Finding]:
        """What array and duty say otherwise than the sizing beside them."""
        if self.job.sizing is None:
            return
        if not self.is_sized or self.job.setting_out is not None:
            dug = self.job.groundworks
            trench = dug.trench if dug is not None else None
            yield from array_against_sizing(
                self.circuit,
                self._choice,
                self._sized_like_given,
                self.sizing,
                trench.lies if trench is not None else None,
                placed=len(self._placed),
                drawn=bool(self.job.plot.trenches),
                is_given=not self.is_sized,
            )
        if self.job.setting_out is None:
            drawn = [length_of(line) for line in self.job.plot.trenches]
            yield from array_against_trenches(self.circuit, self._choice, drawn)
        if not self.is_sized and self.split.heat:
            yield from duty_against_sizing(abs(self.split.heat), self.sizing)
            yield from duty_against_brine(self.duty, self.sizing)

    @property
    def bores_against_sizing(self) -> tuple[Finding, ...]:
        """What the sizing says of boreholes where the plan puts them, for the plan alone."""
        plan = self.job.sizing
        if plan is None or not isinstance(plan.choice, BoreholeArray):
            return ()
        try:
            if self.is_sized:
                return tuple(each for each in self.sizing.findings if each.severity == "error")
            laid = self.given or self.sizing.circuit
            like, placed = self._sized_like_given, len(self._placed)
            told = array_against_sizing(laid, self._choice, like, self.sizing, None, placed=placed)
            return tuple(each for each in told if each.code == "smaller_than_sized")
        except HydraulicsError:  # the sizing's to tell
            return ()

    @property
    def drawn_against_sizing(self) -> tuple[Finding, ...]:
        """What a sizing that stands alone says of its array in trenches as they are drawn."""
        job = self.job
        if job.sizing is None or job.setting_out is None or not self.is_sized:
            return ()
        return () if self.sizing.laid is None else tuple(self._against_sizing())

    def _of_the_way(self) -> Iterator[Finding]:
        """What is wrong with the way that is put in, where no other chapter tells it."""
        if self.way is None:
            return
        told = {each.code for each in self.split.findings}
        if self.job.groundworks is not None:
            told |= {each.code for each in self.pipe_order.findings}
        for each in self.way.findings:
            if each.severity != "info" and each.code not in told:
                words = f"The way taken, {self.way.kind.replace('_', ' ')}: {each.message}"
                yield replace(each, message=words, place=None)

    def _not_balanced(self) -> tuple[Finding, ...]:
        judged, plan = self.before.imbalance, self.job.balancing
        if plan is None or self.is_uneven or judged is None:
            return ()
        then = "Ways were not compared"
        if plan.take:
            then += (
                f", and {plan.take.replace('_', ' ')}, though taken, is not put in. Allow a "
                "smaller deviation to have it put in all the same"
            )
        return (not_needed(judged, then, warns=bool(plan.take)),)

    @property
    def set_otherwise(self) -> tuple[Finding, ...]:
        """The job's own pump and the one taken bear one name, and are not set alike."""
        own, taken = self.job.pump, self._taken
        if own is None or taken is None or own is not self.pump or run_alike(own, taken):
            return ()
        return (pump_against_choice(own.pump.name),)


def antifreeze_items(kind: str, filled: Filling) -> list[Item]:
    """Antifreeze to buy: in containers, or by weight where none are on offer."""
    what = kind.replace("_", " ")
    if filled.bought_mass_fraction < 1.0:
        what += f" of {100.0 * filled.bought_mass_fraction:.3g} % by mass"
    if not filled.containers:
        litres = filled.antifreeze_volume
        told = f"{1e3 * litres:.0f} L at 20 °C" if litres is not None else ""
        return [Item(what, filled.antifreeze_mass, "kg", told)]
    return [
        Item(f"{what}, container of {1e3 * size:g} L", count) for size, count in filled.containers
    ]
