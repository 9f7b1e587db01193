"""From the array in a request to the engine's circuit: pipes, fittings, legs, loops, branches."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, Final

from api.refusals import BROKEN, Json, Place, Refusal, refusals_of
from hydraulics.errors import HydraulicsError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.fittings import NO_LOSS, loss_from_coefficient, loss_from_kv, loss_of_kind
from hydraulics.pipework.pipe import PE_ROUGHNESS, Pipe, pe_pipe

Refusals = list[Refusal]
Read = Mapping[str, Any]  # an object as StrictSchema.check gives it

# What the engine calls the diameter of a coil that is too tight, by the field that leads a leg.
_COIL_FIELDS: Final = {
    "trench_m": "turn_diameter_m",
    "mat_inner_diameter_m": "mat_inner_diameter_m",
}

SHORTEST_LOOP: Final = 0.001
"""Least pipe in a loop [m]; far below it numbers grow too small to divide by."""

_loss_of_kind = lru_cache(maxsize=1024)(loss_of_kind)
_loss_from_coefficient = lru_cache(maxsize=1024)(loss_from_coefficient)


def broken(read: Read) -> bool:
    """Tell whether any field right here was refused."""
    return BROKEN in read.values()


def attempt(
    make: Callable[[], Any],
    place: Place,
    refusals: Refusals,
    names: Mapping[str, str] | None = None,
) -> Json:
    """What is made, or BROKEN after its faults were added to the refusals."""
    try:
        return make()
    except HydraulicsError as error:
        refusals += refusals_of(error, place, names)
        return BROKEN


# ---------------------------------------------------------------------------- pipes and fittings


@lru_cache(maxsize=4096)
def _pipe_by_bore(bore_mm: float, outside_mm: float, roughness_mm: float | None, name: str) -> Pipe:
    # Equal pipes become the same object, which lets the engine set them up once.
    roughness = PE_ROUGHNESS if roughness_mm is None else roughness_mm / 1e3
    return Pipe(name or f"{bore_mm:g} mm bore", bore_mm / 1e3, outside_mm / 1e3, roughness)


def pipe_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Pipe by its name or its bore."""
    if read is BROKEN:
        return BROKEN
    try:
        if type(read) is str:
            return pe_pipe(read)
        if broken(read):
            return BROKEN
        return _pipe_by_bore(
            read["bore_mm"],
            read["outside_diameter_mm"],
            read.get("roughness_mm"),
            read.get("name", ""),
        )
    except HydraulicsError as error:
        refusals += refusals_of(error, place, {"pipe": ""})
        return BROKEN


def _own_pipe(read: Read, name: str, place: Place, refusals: Refusals) -> Json:
    """Pipe that an object names, or None where it names none."""
    return pipe_from(read[name], (*place, name), refusals) if name in read else None


def losses_from(read: Json, pipe: Json, place: Place, refusals: Refusals) -> Json:
    """Loss of a list of fittings in series.

    Parameters
    ----------
    read
        The list, or BROKEN.
    pipe
        Pipe whose bore kinds and coefficients refer to; None where there is none, BROKEN where it
        was refused.
    place
        Where the list stands.
    refusals
        Receives what is wrong.

    Returns
    -------
    Loss or BROKEN
        The sum.
    """
    if read is BROKEN:
        return BROKEN
    total: Any = NO_LOSS
    for index, each in enumerate(read):
        loss: Any = BROKEN
        if each is not BROKEN and not broken(each):
            loss = _one_loss(each, pipe, (*place, index), refusals)
        total = BROKEN if loss is BROKEN or total is BROKEN else total + loss
    return total


def _one_loss(read: Read, pipe: Json, place: Place, refusals: Refusals) -> Json:
    if "kv_m3_h" in read:
        loss = attempt(lambda: loss_from_kv(read["kv_m3_h"]), place, refusals)
    elif pipe is BROKEN:
        return BROKEN
    elif pipe is None:
        given = "kind" if "kind" in read else "loss_coefficient"
        detail = (
            "There is no pipe here whose bore this fitting's velocity could be taken in; give its "
            "kv_m3_h, or give a run whose pipe it sits in."
        )
        refusals.append(Refusal((*place, given), detail, allowed="kv_m3_h"))
        return BROKEN
    elif "kind" in read:
        loss = attempt(lambda: _loss_of_kind(read["kind"], pipe.bore), place, refusals)
    else:
        coefficient = float(read["loss_coefficient"])
        loss = attempt(lambda: _loss_from_coefficient(coefficient, pipe.bore), place, refusals)
    return loss if loss is BROKEN or read["count"] == 1 else loss.times(read["count"])


# -------------------------------------------------------------------------------- legs and loops


def _straight(leg: Read, pipe: Pipe | None) -> Leg:
    return Straight(leg["straight_m"], pipe)


def _slinky(leg: Read, pipe: Pipe | None) -> Leg:
    return Slinky(
        leg["coils"], leg["coil_diameter_m"], leg["pitch_m"], leg["returns_alongside"], pipe
    )


def _coiled(leg: Read, pipe: Pipe | None) -> Leg:
    return Coiled(leg["coiled_m"], leg["coil_diameter_m"], pipe)


def _trench(leg: Read, pipe: Pipe | None) -> Leg:
    return TrenchPasses(leg["trench_m"], leg["passes"], leg.get("turn_diameter_m"), pipe)


def _mat(leg: Read, pipe: Pipe | None) -> Leg:
    return PondMat(
        leg["mat_inner_diameter_m"],
        leg["mat_outer_diameter_m"],
        leg["mat_spacing_m"],
        leg["mats"],
        pipe,
    )


def _borehole(leg: Read, pipe: Pipe | None) -> Leg:
    return BoreholeU(leg["borehole_depth_m"], leg["u_tubes"], pipe)


_LEGS: Final[dict[str, Callable[[Read, Pipe | None], Leg]]] = {
    "straight_m": _straight,
    "coils": _slinky,
    "coiled_m": _coiled,
    "trench_m": _trench,
    "mat_inner_diameter_m": _mat,
    "borehole_depth_m": _borehole,
}


def _lead(leg: Read) -> str:
    return next(lead for lead in _LEGS if lead in leg)


def _leg_from(leg: Read, place: Place, refusals: Refusals) -> Json:
    pipe = _own_pipe(leg, "pipe", place, refusals) if "pipe" in leg else None
    if pipe is BROKEN or BROKEN in leg.values():
        return BROKEN
    try:
        for lead, make in _LEGS.items():
            if lead in leg:
                return make(leg, pipe)
    except HydraulicsError as error:
        refusals += refusals_of(error, place)
    return BROKEN


def _loop_from(read: Read, place: Place, refusals: Refusals) -> Json:
    """Make the loop on a branch, or BROKEN; and the pipe that the branch's fittings refer to."""
    pipe = pipe_from(read["pipe"], (*place, "pipe"), refusals)
    legs: list[Leg] = []
    losses: Any = NO_LOSS
    whole = pipe is not BROKEN and read["loop"] is not BROKEN and read["legs"] is not BROKEN
    for index, leg in enumerate(read["legs"] if read["legs"] is not BROKEN else ()):
        at = (*place, "legs", index)
        made = BROKEN if leg is BROKEN else _leg_from(leg, at, refusals)
        if leg is not BROKEN and "fittings" in leg:
            own = pipe if made is BROKEN else made.pipe or pipe
            loss = losses_from(leg["fittings"], own, (*at, "fittings"), refusals)
            losses = BROKEN if loss is BROKEN or losses is BROKEN else losses + loss
        if made is BROKEN:
            whole = False
        else:
            legs.append(made)
    if not whole or losses is BROKEN:
        return BROKEN, pipe
    try:
        loop = Loop(read["loop"], pipe, tuple(legs), losses)
        if loop.length < SHORTEST_LOOP:
            detail = f"A loop needs {SHORTEST_LOOP:g} m of pipe at least, all legs together."
            allowed = f"{SHORTEST_LOOP:g} m or more"
            refusals.append(Refusal((*place, "legs"), detail, allowed=allowed))
            return BROKEN, pipe
        return loop, pipe
    except HydraulicsError as error:
        refusals += _refused_legs(read, pipe, legs, place) or refusals_of(error, place)
        return BROKEN, pipe


def _refused_legs(read: Read, pipe: Pipe, legs: list[Leg], place: Place) -> Refusals:
    """Find which of a loop's legs the engine refuses, by trying each as a loop of its own."""
    found: Refusals = []
    for index, (leg, said) in enumerate(zip(legs, read["legs"], strict=True)):
        try:
            Loop(read["loop"], pipe, (leg,))
        except HydraulicsError as error:
            if error.faults[0].field == "coil_diameter_m":
                lead = _lead(said)
                names = {"coil_diameter_m": _COIL_FIELDS.get(lead, "coil_diameter_m")}
                found += refusals_of(error, (*place, "legs", index), names)
    return found


# --------------------------------------------------------------------------- runs and circuits


def runs_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Runs, or BROKEN; and the pipe of the first."""
    if read is BROKEN:
        return BROKEN, BROKEN
    made: list[Any] = []
    first: Any = None
    for index, run in enumerate(read):
        at = (*place, index)
        pipe: Any = BROKEN
        if run is BROKEN:
            made.append(BROKEN)
        else:
            pipe = pipe_from(run["pipe"], (*at, "pipe"), refusals)
            loss = losses_from(run.get("fittings", ()), pipe, (*at, "fittings"), refusals)
            if pipe is BROKEN or loss is BROKEN or broken(run):
                made.append(BROKEN)
            else:
                length = run["length_m"]
                made.append(
                    attempt(lambda p=pipe, n=length, k=loss: Run(p, n, k), at, refusals)  # type: ignore[misc]
                )
        if index == 0:
            first = pipe
    return (BROKEN if any(run is BROKEN for run in made) else tuple(made)), first


def _branch_from(read: Read, place: Place, refusals: Refusals) -> Json:
    runs: Any = ()
    port: Any = None
    if "runs" in read:
        runs, port = runs_from(read["runs"], (*place, "runs"), refusals)
    if "loop" in read:
        item, port = _loop_from(read, place, refusals)
    else:
        item = circuit_from(read["circuit"], (*place, "circuit"), refusals)
    losses: Any = NO_LOSS
    if "fittings" in read:
        losses = losses_from(read["fittings"], port, (*place, "fittings"), refusals)
    header = back = None
    if "header_pipe" in read:
        header = _own_pipe(read, "header_pipe", place, refusals)
    if "return_header_pipe" in read:
        back = _own_pipe(read, "return_header_pipe", place, refusals)
    parts = (item, runs, losses, header, back, read["header_m"], read["count"])
    if any(part is BROKEN for part in parts):
        return BROKEN
    try:
        return Branch(item, read["header_m"], header, back, runs, losses, read["count"])
    except HydraulicsError as error:
        refusals += refusals_of(error, place)
        return BROKEN


def circuit_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Circuit with everything in it.

    Parameters
    ----------
    read
        The circuit as read, or BROKEN.
    place
        Where it stands.
    refusals
        Receives what is wrong.

    Returns
    -------
    Circuit or BROKEN
        The engine's circuit.
    """
    if read is BROKEN:
        return BROKEN
    header = _own_pipe(read, "header_pipe", place, refusals)
    branches: Any = read["branches"]
    if branches is not BROKEN:
        branches = [
            BROKEN if b is BROKEN else _branch_from(b, (*place, "branches", index), refusals)
            for index, b in enumerate(branches)
        ]
    if (
        header is BROKEN
        or branches is BROKEN
        or broken(read)
        or any(branch is BROKEN for branch in branches)
    ):
        return BROKEN
    return attempt(
        lambda: Circuit(
            read["arrangement"],
            tuple(branches),
            header,
            read["closing_m"],
            read.get("name", ""),
        ),
        place,
        refusals,
    )
