"""How is what a step decides written as the parts of a job that the next step takes?"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from api.answers.numbers import exact
from api.answers.parts import Object, position
from api.schemas.array import CircuitSchema
from api.schemas.fields import Refusals
from api.schemas.objects import StrictSchema, schema_of
from api.schemas.pumps import PumpSchema
from hydraulics.job import Chapters
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.fittings import NO_LOSS, Fitting, Loss
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.site_plan import TOLD_TO, SitePlan
from hydraulics.pumps.curve import PumpCurve
from hydraulics.pumps.selection import Candidate
from hydraulics.split.duty import HeatDuty

Writer = Callable[[Any], Object]


def _given(**values: float | None) -> Object:
    """Numbers that are told, as decided."""
    return {name: exact(value) for name, value in values.items() if value is not None}


def _fitting_of(fitting: Fitting) -> Object:
    return {
        **({} if fitting.kind is None else {"kind": fitting.kind}),
        **_given(loss_coefficient=fitting.coefficient, kv_m3_h=fitting.kv),
        **({"count": fitting.count} if fitting.count != 1 else {}),
        **({"valve": fitting.valve} if fitting.valve else {}),
        **_given(position=fitting.position),
    }


def fittings_of(loss: Loss) -> Object:
    """The fittings that a loss is the loss of; nothing where there are none.

    Raises
    ------
    ValueError
        The loss does not know its fittings, which no loss of a job lacks.
    """
    if loss == NO_LOSS:
        return {}
    if not loss.fittings:
        raise ValueError("a loss without its fittings cannot be written into a job")
    return {"fittings": [_fitting_of(each) for each in loss.fittings]}


def _straight(leg: Straight) -> Object:
    return _given(length_m=leg.length)


def _slinky(leg: Slinky) -> Object:
    return {
        "coils": leg.coils,
        **_given(coil_diameter_m=leg.coil_diameter, pitch_m=leg.pitch, depth_m=leg.depth),
        **({} if leg.returns_alongside else {"returns_alongside": False}),
        **({"upright": True} if leg.upright else {}),
    }


def _coiled(leg: Coiled) -> Object:
    return _given(length_m=leg.length, coil_diameter_m=leg.coil_diameter)


def _trench(leg: TrenchPasses) -> Object:
    return {
        **_given(length_m=leg.trench_length),
        "passes": leg.passes,
        **_given(turn_diameter_m=leg.turn_diameter, spacing_m=leg.spacing, depth_m=leg.depth),
    }


def _pond_mat(leg: PondMat) -> Object:
    return {
        **_given(
            inner_diameter_m=leg.inner_diameter,
            outer_diameter_m=leg.outer_diameter,
            spacing_m=leg.spacing,
        ),
        **({"count": leg.mats} if leg.mats != 1 else {}),
    }


def _borehole(leg: BoreholeU) -> Object:
    diameter = None if leg.diameter is None else leg.diameter * 1e3
    return {**_given(depth_m=leg.depth), "u_tubes": leg.u_tubes, **_given(diameter_mm=diameter)}


_LEGS: Final[dict[type[Leg], tuple[str, Writer]]] = {
    Straight: ("straight", _straight),
    Slinky: ("slinky", _slinky),
    Coiled: ("coiled", _coiled),
    TrenchPasses: ("trench", _trench),
    PondMat: ("pond_mat", _pond_mat),
    BoreholeU: ("borehole", _borehole),
}


def leg_of(leg: Leg) -> Object:
    """A leg, wrapped in its kind."""
    kind, write = _LEGS[type(leg)]
    return {kind: write(leg), **_pipe("pipe", leg.pipe), **fittings_of(leg.fittings)}


def _pipe(name: str, pipe: Pipe | None) -> Object:
    return {} if pipe is None else {name: pipe.name}


def _run_of(run: Run) -> Object:
    return {"pipe": run.pipe.name, **_given(length_m=run.length), **fittings_of(run.fittings)}


def _item_of(item: Loop | Circuit) -> Object:
    if isinstance(item, Circuit):
        return {"circuit": decided_array(item)}
    legs = [leg_of(leg) for leg in item.legs]
    return {"loop": {"name": item.name, "pipe": item.pipe.name, "legs": legs}}


def _branch_of(branch: Branch) -> Object:
    return {
        **({} if branch.header_length == 0.0 else _given(header_m=branch.header_length)),
        **_pipe("header_pipe", branch.header_pipe),
        **_pipe("return_header_pipe", branch.return_header_pipe),
        **({"runs": [_run_of(run) for run in branch.runs]} if branch.runs else {}),
        **_item_of(branch.item),
        **fittings_of(branch.fittings),
        **({} if branch.count == 1 else {"count": branch.count}),
        **({"closed": True} if branch.closed else {}),
    }


def decided_array(circuit: Circuit) -> Object:
    """A circuit as the part `array` of a job."""
    return {
        **({"name": circuit.name} if circuit.name else {}),
        "arrangement": circuit.arrangement,
        **_pipe("header_pipe", circuit.header_pipe),
        **({} if (closing := circuit.closing_length) is None else _given(closing_m=closing)),
        "branches": [_branch_of(branch) for branch in circuit.branches],
    }


def fault_of_array(array: Object) -> str:
    """Why no job could hold an array that was decided, as long pipe; empty where one could."""
    return _fault_of(array, CircuitSchema)


def fault_of_pump(pump: Object) -> str:
    """Why no job could hold a pump that was decided, as a head beyond reason; empty likewise."""
    return _fault_of(pump, PumpSchema)


def _fault_of(part: Object, schema: type[StrictSchema]) -> str:
    found: Refusals = []
    schema_of(schema).check(part, (), found)
    return found[0].detail if found else ""


def decided_plot(plan: SitePlan, plot: Object) -> Object:
    """The part `plot` of a job, as posted, with the place of everything on a plan."""
    kept = {n: v for n, v in plot.items() if n not in ("trenches", "boreholes", "mats", "chambers")}
    if plan.trenches:
        kept["trenches"] = [
            {
                "loop": each.loop,
                "points": [position(point, TOLD_TO) for point in each.line],
                **({} if each.tails_from == "either" else {"tails_from": each.tails_from}),
            }
            for each in plan.trenches
        ]
    if plan.bores:
        kept["boreholes"] = [
            {"loop": each.loop, **position(each.at, TOLD_TO)} for each in plan.bores
        ]
    if plan.mats:
        kept["mats"] = [{"loop": each.loop, **position(each.at, TOLD_TO)} for each in plan.mats]
    kept["chambers"] = [
        {"name": each.name, **position(each.at, TOLD_TO), "max_loops": each.largest}
        for each in plan.chambers
    ]
    return kept


def decided_duty(duty: HeatDuty) -> Object:
    """A duty by its heat as the part `duty` of a job."""
    return _given(
        to_ground_c=duty.to_ground_temperature,
        from_ground_c=duty.from_ground_temperature,
        heat_kw=duty.heat / 1e3,
    )


def _table_of(curve: PumpCurve) -> Object:
    npsh = [None] * curve.flow.size if curve.npsh is None else curve.npsh.tolist()
    rows = zip(curve.flow.tolist(), curve.head.tolist(), curve.power.tolist(), npsh, strict=True)
    return {
        **_given(speed_rpm=curve.speed),
        **({"label": curve.label} if curve.label else {}),
        "points": [
            _given(flow_l_s=flow * 1e3, head_m=head, power_w=power, npsh_m=required)
            for flow, head, power, required in rows
        ],
    }


def decided_pump(candidate: Candidate) -> Object:
    """A pump as it is installed and set, as the part `pump` of a job."""
    pump = candidate.pump
    return {
        "name": pump.name,
        "control": candidate.control,
        **_given(
            speed_rpm=candidate.speed,
            set_head_m=candidate.set_head,
            set_change_k=candidate.set_change,
        ),
        **_given(
            min_speed_rpm=pump.min_speed,
            min_flow_l_s=None if pump.min_flow is None else pump.min_flow * 1e3,
            rated_power_w=pump.rated_power,
            inlet_kpa=None if candidate.inlet_pressure is None else candidate.inlet_pressure / 1e3,
        ),
        **({} if pump.impellers == 1 else {"impellers": pump.impellers}),
        **({} if candidate.parallel == 1 else {"parallel": candidate.parallel}),
        **({} if candidate.series == 1 else {"series": candidate.series}),
        "tables": [_table_of(curve) for curve in pump.curves],
    }


def without_take(document: Object) -> Object:
    """The part `balancing` of a job whose way is in the array, so that none is put in twice."""
    part = document.get("balancing", {})
    return {"balancing": {n: part[n] for n in part if n != "take"}} if "take" in part else {}


def with_run_pipe(array: Object, document: Object) -> Object:
    """The part `setting_out` of a job whose runs a way to balance makes of other pipe.

    The plan would lay the pipe that it names. Empty where the way leaves the runs as they were.
    """
    part = document.get("setting_out")
    before, now = _run_pipes(document.get("array")), _run_pipes(array)
    if part is None or len(now) != 1 or now in ({part.get("run_pipe")}, before):
        return {}
    return {"setting_out": {**part, "run_pipe": now.pop()}}


def _run_pipes(array: Object | None) -> set[str]:
    """Names of the pipes that lead to an array's chambers."""
    branches = (array or {}).get("branches", ())
    return {run["pipe"] for each in branches if "circuit" in each for run in each.get("runs", ())}


def decided(chapters: Chapters, document: Object) -> Object:
    """Every part of a job, as posted, that its chapters decide."""
    found: Object = {}
    if chapters.is_made:
        found["array"] = decided_array(chapters.circuit)
    if chapters.job.setting_out is not None and chapters.set_out.circuit is not None:
        found["plot"] = decided_plot(chapters.set_out.plan, document["plot"])
    if chapters.way is not None:
        found |= without_take(document) | with_run_pipe(found["array"], document)
    if chapters.is_sized:
        found["duty"] = decided_duty(chapters.sizing.duty)
    if chapters.pump is not None and chapters.pump is not chapters.job.pump:
        found["pump"] = decided_pump(chapters.pump)
    return found
