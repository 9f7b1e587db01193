"""From the array in a request to the engine's circuit: pipes, fittings, legs, loops, branches."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from difflib import get_close_matches
from functools import lru_cache
from typing import Any, Final

from api.refusals import BROKEN, MISSING, Json, Place, Refusal
from api.requests.places import attempt, broken
from api.schemas.fields import MOST_HINTS
from api.schemas.shared import kept_readings, once
from hydraulics.errors import HydraulicsError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.fittings import NO_LOSS, Fitting, Loss, loss_of
from hydraulics.pipework.pipe import PE_ROUGHNESS, Pipe, nearest_name, pe_pipe, pipe_names

Refusals = list[Refusal]
Read = Mapping[str, Any]  # an object as StrictSchema.check gives it
Pipes = dict[str, Any]
"""Pipes of a job by name; BROKEN for one that was refused."""

# Nothing is BROKEN before something is refused; where an array has thousands of loops, asking first
# whether anything is saves a tenth of the time.

SHORTEST_LOOP: Final = 0.001
"""Least pipe in a loop [m]; far below it numbers grow too small to divide by."""
_STANDARD: Final = frozenset(pipe_names())


# ---------------------------------------------------------------------------- pipes and fittings


def pipes_from(read: Json, refusals: Refusals) -> Pipes:
    """Pipes that the job declares, by name; `read` is its `pipes`, or BROKEN."""
    if (kept := kept_readings()) is None:
        return _pipes_made(read, refusals)
    made: Pipes = once(kept, _pipes_made, (read,), refusals, lambda: _pipes_made(read, refusals))
    return made


def _pipes_made(read: Json, refusals: Refusals) -> Pipes:
    found: Pipes = {}
    for index, each in enumerate(() if read is BROKEN else read):
        at: Place = ("pipes", index)
        if each is BROKEN or each["name"] is BROKEN:
            continue
        name = each["name"]
        if name in found:
            detail = f"{name} stands in pipes twice; give it once, with all its coils."
            refusals.append(Refusal((*at, "name"), detail, allowed="each name once"))
        found[name] = _own_pipe(each, name, at, refusals)
    return found


def coils_on_offer(read: Json) -> dict[str, list[float]]:
    """Coil lengths that the job offers of a pipe [m], by the pipe's name; none where refused."""
    if broken(read):
        return {}
    return {each["name"]: each["coils_m"] for each in read if "coils_m" in each}


def _own_pipe(read: Read, name: str, place: Place, refusals: Refusals) -> Json:
    if broken(read):
        return BROKEN
    if "bore_mm" not in read:
        if name in _STANDARD:
            return pe_pipe(name)
        hint = _near(name, {}, refusals)
        detail = f"No standard pipe is called '{name}'{hint} For a pipe of your own give bore_mm "
        detail += "and outside_diameter_mm."
        refusals.append(Refusal((*place, "bore_mm"), detail, MISSING, "both diameters"))
        return BROKEN
    roughness = read["roughness_mm"] / 1e3 if "roughness_mm" in read else PE_ROUGHNESS
    made = attempt(
        lambda: Pipe(name, read["bore_mm"] / 1e3, read["outside_diameter_mm"] / 1e3, roughness),
        read,
        place,
        refusals,
    )
    if made is BROKEN or name not in _STANDARD:
        return made
    standard = pe_pipe(name)
    same = (made.bore, made.outside_diameter, made.roughness) == (
        standard.bore,
        standard.outside_diameter,
        standard.roughness,
    )
    if same:
        return standard
    detail = (
        f"{name} is a standard pipe of {standard.bore * 1e3:g} mm bore; leave its sizes out, or "
        "give a pipe of your own another name."
    )
    refusals.append(Refusal((*place, "name"), detail, allowed="a name of its own"))
    return BROKEN


def pipe_of(name: Json, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    """Pipe of a name, the job's own before the standard ones; BROKEN where there is none."""
    if name is BROKEN:
        return BROKEN
    found = pipes.get(name)
    if found is None and name in _STANDARD:
        found = pipes[name] = pe_pipe(name)
    if found is not None:
        return found
    detail = f"There is no pipe called '{name}'{_near(name, pipes, refusals)}"
    allowed = "a standard pipe, as GET /v1/pipes lists them, or the name of one of the job's pipes"
    refusals.append(Refusal(place, detail, allowed=allowed))
    return BROKEN


def _near(name: str, pipes: Pipes, refusals: Refusals) -> str:
    """End of a sentence about a name that no pipe has: the pipe that was probably meant."""
    if len(refusals) >= MOST_HINTS:
        return "."
    standard = nearest_name(name)
    near = get_close_matches(name, {standard, *pipes} - (_STANDARD - {standard}), 1, 0.6)
    meant = near[0] if near else standard
    return f"; did you mean '{meant}'?" if meant else "."


def _pipe_in(read: Read, field: str, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    """Pipe that an object names, or None where it names none."""
    if field not in read:
        return None
    return pipes.get(read[field]) or pipe_of(read[field], pipes, (*place, field), refusals)


def _fitting(given: tuple[tuple[str, Any], ...]) -> Fitting:
    read = dict(given)
    return Fitting(
        read.get("kind"),
        read.get("loss_coefficient"),
        read.get("kv_m3_h"),
        read["count"],
        read.get("valve", ""),
        read.get("position"),
    )


@lru_cache(maxsize=4096)
def _loss(given: tuple[tuple[tuple[str, Any], ...], ...], bore: float | None) -> Loss:
    # Equal fittings become the same object, which saves most of the work of a large array.
    return loss_of(tuple(map(_fitting, given)), bore)


def loss_from(read: Json, pipe: Json, place: Place, refusals: Refusals) -> Json:
    """Loss of a list of fittings in series, or BROKEN.

    Kinds and coefficients refer to the bore of `pipe`: None where there is none, BROKEN where it
    was refused.
    """
    if refusals and (pipe is BROKEN or broken(read)):
        return BROKEN
    bore = None if pipe is None else pipe.bore
    given = tuple([tuple(each.items()) for each in read])
    try:
        return _loss(given, bore)
    except HydraulicsError:
        for index, each in enumerate(given):
            make = lambda each=each: _fitting(each).loss(bore)  # noqa: E731
            attempt(make, read[index], (*place, index), refusals)
        return BROKEN


# -------------------------------------------------------------------------------- legs and loops


def _straight(leg: Read, pipe: Pipe | None, loss: Loss) -> Leg:
    return Straight(leg["length_m"], pipe, loss)


def _slinky(leg: Read, pipe: Pipe | None, loss: Loss) -> Leg:
    return Slinky(
        leg["coils"],
        leg["coil_diameter_m"],
        leg["pitch_m"],
        leg["returns_alongside"],
        pipe,
        loss,
        leg["upright"],
        leg.get("depth_m"),
    )


def _coiled(leg: Read, pipe: Pipe | None, loss: Loss) -> Leg:
    return Coiled(leg["length_m"], leg["coil_diameter_m"], pipe, loss)


def _trench(leg: Read, pipe: Pipe | None, loss: Loss) -> Leg:
    return TrenchPasses(
        leg["length_m"],
        leg["passes"],
        leg.get("turn_diameter_m"),
        pipe,
        loss,
        leg.get("spacing_m"),
        leg.get("depth_m"),
    )


def _pond_mat(leg: Read, pipe: Pipe | None, loss: Loss) -> Leg:
    return PondMat(
        leg["inner_diameter_m"], leg["outer_diameter_m"], leg["spacing_m"], leg["count"], pipe, loss
    )


def _borehole(leg: Read, pipe: Pipe | None, loss: Loss) -> Leg:
    diameter = leg["diameter_mm"] / 1e3 if "diameter_mm" in leg else None
    return BoreholeU(leg["depth_m"], leg["u_tubes"], pipe, loss, diameter)


_LEGS: Final[dict[str, Callable[[Read, Pipe | None, Loss], Leg]]] = {
    "straight": _straight,
    "slinky": _slinky,
    "coiled": _coiled,
    "trench": _trench,
    "pond_mat": _pond_mat,
    "borehole": _borehole,
}


def _leg_from(read: Json, of_loop: Json, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    if read is BROKEN:
        return BROKEN
    own = _pipe_in(read, "pipe", pipes, place, refusals) if "pipe" in read else None
    loss: Any = NO_LOSS
    if "fittings" in read:
        in_pipe = of_loop if own is None else own
        loss = loss_from(read["fittings"], in_pipe, (*place, "fittings"), refusals)
    kind = next(filter(_LEGS.__contains__, read))
    measures = read[kind]
    if refusals and (BROKEN in (own, loss, measures) or BROKEN in measures.values()):
        return BROKEN
    try:
        return _LEGS[kind](measures, own, loss)
    except HydraulicsError:
        return attempt(lambda: _LEGS[kind](measures, own, loss), read, place, refusals)


def _loop_from(read: Json, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    """Make a loop, or BROKEN; and the pipe that its branch's fittings refer to."""
    if read is BROKEN:
        return BROKEN, BROKEN
    pipe = _pipe_in(read, "pipe", pipes, place, refusals)
    legs: list[Any] = []
    whole = pipe is not BROKEN and read["name"] is not BROKEN and read["legs"] is not BROKEN
    for index, leg in enumerate(() if read["legs"] is BROKEN else read["legs"]):
        legs.append(_leg_from(leg, pipe, pipes, (*place, "legs", index), refusals))
        whole = whole and legs[-1] is not BROKEN
    if not whole:
        return BROKEN, pipe
    make = lambda: Loop(read["name"], pipe, tuple(legs))  # noqa: E731
    loop = attempt(make, read, place, refusals)
    if loop is not BROKEN and loop.length < SHORTEST_LOOP:
        detail = f"A loop needs {SHORTEST_LOOP:g} m of pipe at least, all legs together."
        allowed = f"{SHORTEST_LOOP:g} m or more"
        refusals.append(Refusal((*place, "legs"), detail, allowed=allowed))
        return BROKEN, pipe
    return loop, pipe


# --------------------------------------------------------------------------- runs and circuits


def runs_from(read: Json, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    """Runs, or BROKEN; and the pipe of the first, None where there is no run."""
    if read is BROKEN:
        return BROKEN, BROKEN
    made: list[Any] = []
    first: Any = None
    for index, run in enumerate(read):
        at = (*place, index)
        pipe, loss = BROKEN, BROKEN
        if run is not BROKEN:
            pipe = pipe_of(run["pipe"], pipes, (*at, "pipe"), refusals)
            loss = loss_from(run.get("fittings", []), pipe, (*at, "fittings"), refusals)
        whole = BROKEN not in (pipe, loss, run) and run["length_m"] is not BROKEN
        make = lambda run=run, pipe=pipe, loss=loss: Run(pipe, run["length_m"], loss)  # noqa: E731
        made.append(attempt(make, run, at, refusals) if whole else BROKEN)
        if index == 0:
            first = pipe
    return (BROKEN if any(run is BROKEN for run in made) else tuple(made)), first


def _branch_from(read: Json, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    if read is BROKEN:
        return BROKEN
    if (kept := kept_readings()) is None:
        return _branch_made(read, pipes, place, refusals)
    make = lambda: _branch_made(read, pipes, place, refusals)  # noqa: E731
    return once(kept, _branch_made, (read, pipes), refusals, make)


def _branch_made(read: Read, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    runs, port = (), None
    if "runs" in read:
        runs, port = runs_from(read["runs"], pipes, (*place, "runs"), refusals)
    if "loop" in read:
        item, port = _loop_from(read["loop"], pipes, (*place, "loop"), refusals)
    else:
        item = circuit_from(read["circuit"], pipes, (*place, "circuit"), refusals)
    loss: Any = NO_LOSS
    if "fittings" in read:
        loss = loss_from(read["fittings"], port, (*place, "fittings"), refusals)
    header = _pipe_in(read, "header_pipe", pipes, place, refusals)
    back = _pipe_in(read, "return_header_pipe", pipes, place, refusals)
    length, count, closed = read["header_m"], read["count"], read["closed"]
    if refusals and BROKEN in (item, runs, loss, header, back, length, count, closed):
        return BROKEN
    return attempt(
        lambda: Branch(item, length, header, back, runs, loss, count, closed),
        read,
        place,
        refusals,
    )


def circuit_from(read: Json, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    """Circuit with everything in it, or BROKEN."""
    if read is BROKEN:
        return BROKEN
    header = _pipe_in(read, "header_pipe", pipes, place, refusals)
    branches: Any = read["branches"]
    if branches is not BROKEN:
        branches = [
            _branch_from(branch, pipes, (*place, "branches", index), refusals)
            for index, branch in enumerate(branches)
        ]
    if header is BROKEN or BROKEN in read.values() or any(branch is BROKEN for branch in branches):
        return BROKEN
    return attempt(
        lambda: Circuit(
            read["arrangement"],
            tuple(branches),
            header,
            read.get("closing_m"),
            read.get("name", ""),
        ),
        read,
        place,
        refusals,
    )
