"""From the engine's own description of an array back to a request, as `api.translate` reads it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from hydraulics.errors import Fault, InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight
from hydraulics.pipework.fittings import Loss, kv_from_loss
from hydraulics.pipework.pipe import Pipe, pe_pipe, pipe_names
from hydraulics.split.duty import HeatDuty

Object = dict[str, Any]

_DECIMALS: Final = 9
"""Of a millimetre that was kept as a metre: what is left beyond is the conversion's rounding."""


def pipe_request(pipe: Pipe) -> str | Object:
    """Name of a standard pipe, or the pipe by its bore.

    Parameters
    ----------
    pipe
        The pipe.

    Returns
    -------
    str or dict
        As PipeField reads it. The pressure class of a pipe that is not standard is not kept.
    """
    if pipe.name in pipe_names() and pe_pipe(pipe.name) == pipe:
        return pipe.name
    return {
        "bore_mm": round(pipe.bore * 1e3, _DECIMALS),
        "outside_diameter_mm": round(pipe.outside_diameter * 1e3, _DECIMALS),
        "roughness_mm": round(pipe.roughness * 1e3, _DECIMALS),
        "name": pipe.name,
    }


def leg_request(leg: Leg) -> Object:
    """A leg as an object of the request; its fittings are the loop's."""
    own = {} if leg.pipe is None else {"pipe": pipe_request(leg.pipe)}
    if isinstance(leg, Straight):
        return {"straight_m": leg.length, **own}
    if isinstance(leg, Slinky):
        return {
            "coils": leg.coils,
            "coil_diameter_m": leg.coil_diameter,
            "pitch_m": leg.pitch,
            **({} if leg.returns_alongside else {"returns_alongside": False}),
            **own,
        }
    if isinstance(leg, Coiled):
        return {"coiled_m": leg.length, "coil_diameter_m": leg.coil_diameter, **own}
    if isinstance(leg, PondMat):
        return {
            "mat_inner_diameter_m": leg.inner_diameter,
            "mat_outer_diameter_m": leg.outer_diameter,
            "mat_spacing_m": leg.spacing,
            "mats": leg.mats,
            **own,
        }
    if isinstance(leg, BoreholeU):
        return {"borehole_depth_m": leg.depth, "u_tubes": leg.u_tubes, **own}
    turn = {} if leg.turn_diameter is None else {"turn_diameter_m": leg.turn_diameter}
    return {"trench_m": leg.trench_length, "passes": leg.passes, **turn, **own}


def fittings_request(loss: Loss) -> list[Object]:
    """Fittings of a loss, as one Kv; none where there is no loss.

    Raises
    ------
    InputError
        The loss has a laminar part: fittings given by kind cannot be told from their sum.
    """
    if loss.linear != 0.0:
        raise InputError(
            Fault(
                "fittings",
                "that were given by kind cannot be told from their sum; give them by Kv",
                None,
                "losses by Kv or by loss coefficient",
            )
        )
    return [{"kv_m3_h": kv_from_loss(loss)}] if loss.square > 0.0 else []


def _fittings(loss: Loss) -> Object:
    found = fittings_request(loss)
    return {"fittings": found} if found else {}


def run_request(run: Run) -> Object:
    """A route as an object of the request."""
    return {"pipe": pipe_request(run.pipe), "length_m": run.length, **_fittings(run.fittings)}


def _runs(runs: Iterable[Run]) -> Object:
    found = [run_request(run) for run in runs]
    return {"runs": found} if found else {}


def _item(item: Loop | Circuit) -> Object:
    if isinstance(item, Circuit):
        return {"circuit": circuit_request(item)}
    legs = [leg_request(leg) for leg in item.legs]
    # A request has no place for fittings of the loop but in one of its legs.
    legs[0] |= _fittings(item.fittings)
    return {"loop": item.name, "pipe": pipe_request(item.pipe), "legs": legs}


def branch_request(branch: Branch) -> Object:
    """A branch as an object of the request."""
    header, back = branch.header_pipe, branch.return_header_pipe
    return {
        **({} if branch.header_length == 0.0 else {"header_m": branch.header_length}),
        **({} if header is None else {"header_pipe": pipe_request(header)}),
        **({} if back is None else {"return_header_pipe": pipe_request(back)}),
        **_runs(branch.runs),
        **_item(branch.item),
        **_fittings(branch.fittings),
        **({} if branch.count == 1 else {"count": branch.count}),
    }


def circuit_request(circuit: Circuit) -> Object:
    """A circuit as an object of the request.

    Parameters
    ----------
    circuit
        The circuit. Losses of its fittings have no laminar part.

    Returns
    -------
    dict
        What `circuit_from` makes the same circuit of, to the rounding of losses.

    Raises
    ------
    InputError
        A loss cannot be expressed, see :func:`fittings_request`.
    """
    header = circuit.header_pipe
    return {
        **({"name": circuit.name} if circuit.name else {}),
        "arrangement": circuit.arrangement,
        **({} if header is None else {"header_pipe": pipe_request(header)}),
        **({} if circuit.closing_length == 0.0 else {"closing_m": circuit.closing_length}),
        "branches": [branch_request(branch) for branch in circuit.branches],
    }


def duty_request(duty: HeatDuty) -> Object:
    """Duty of the request by its heat."""
    return {
        "heat_from_ground_kw": duty.heat / 1e3,
        "temperature_change_k": duty.temperature_change,
        "to_ground_temperature_c": duty.to_ground_temperature,
    }
