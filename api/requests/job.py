"""From the document of a job to the engine's job: every fault at once, only the parts needed.

Nothing is computed here. The whole document is checked by its schema; the parts that a
calculation needs become the engine's values. What the engine refuses comes back as refusals at
the place of the request that caused it; a part that was already refused is passed over, so that
one answer lists the faults of all the others too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

from api.refusals import BROKEN, MISSING, Json, Refusal, RefusedError
from api.requests.array import Pipes, Read, Refusals, circuit_from, pipes_from
from api.requests.balancing import balancing_from, target_from
from api.requests.commissioning import commissioning_from
from api.requests.duty import (
    duty_from,
    ground_at_loops_from,
    heights_from,
    limits_from,
    mixture_from,
    plant_from,
    refuse_frozen,
    warm_from,
)
from api.requests.groundworks import groundworks_from
from api.requests.places import within
from api.requests.plot import corners_fault, plot_from, site_from
from api.requests.pumps import pump_choice_from, pump_from
from api.requests.setting_out import setting_out_from
from api.requests.sizing import sizing_from
from api.schemas.job import JobSchema
from api.schemas.objects import Nested, schema_of
from api.schemas.shared import kept_readings, once
from hydraulics.job import Job
from hydraulics.layout.circuit import Circuit, Loop
from hydraulics.layout.walk import loop_count, part_count
from hydraulics.plot.site import MOST_CORNERS

_LONGEST_NAME: Final = 250
_PARTS_A_LOOP: Final = 15
"""Most legs, runs and fittings to a loop, on average: answers write out those of every copy."""
_SPLIT: Final = ("antifreeze", "array", "duty")
_SIZING: Final = ("antifreeze", "heat", "ground", "sizing")
_OPTIONS: Final = ("balancing", "pump_choice", "groundworks", "commissioning")
_RUNNING: Final = ("plant", "heights", "limits", "warm", "pump")

_STAYS: Final = ("groundworks", "split", "pump_choice", "commissioning")  # that set nothing out
_RUNS_DEEP: Final = frozenset({"duty", "sizing"})  # whose answers judge pressures
_ALL: Final = (
    *_RUNNING,
    *("array", "duty", "plot", "ground_at_loops", "sizing", "setting_out"),
    *_OPTIONS,
)

NEEDS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "sizing": _SIZING,
        "setting_out": ("plot", "setting_out"),
        "split": _SPLIT,
        "balancing": _SPLIT,
        "pump_choice": (*_SPLIT, "pump_choice"),
        "groundworks": ("array", "ground", "groundworks"),
        "commissioning": (*_SPLIT, "commissioning"),
        "designs": ("antifreeze",),
        "report": ("antifreeze",),
    }
)
"""Parts of a job that each calculation needs."""

_USES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "sizing": ("limits", "plot", "groundworks"),
        "setting_out": ("array", "limits", "plant"),
        "split": _RUNNING,
        "balancing": ("plant", "limits", "balancing", "ground_at_loops", "sizing"),
        "pump_choice": ("plant", "heights", "limits", "warm"),
        "groundworks": ("plant", "plot", "sizing", "setting_out"),
        "commissioning": _RUNNING,
        "designs": _ALL,
        "report": _ALL,
    }
)
"""Parts that it takes where the job has them."""

_SURVEYED: Final = "plot/levels"
_LENT: Final[Mapping[str, dict[str, str]]] = MappingProxyType(
    {
        "sizing": {"setting_out": "plot"},
        "setting_out": dict.fromkeys(("groundworks", "sizing", *_SIZING), ""),
        "split": {"pump_choice/take": "pump"},
        "balancing": {},
        "pump_choice": {"pump": "pump_choice/take"},
        "groundworks": {"antifreeze": "commissioning", "commissioning/filling": ""},
        "commissioning": {"balancing": "", "sizing": "", "plot": "sizing", "pump_choice/take": ""},
    }
)
"""Places that it takes in some jobs, each with the place that must be told for that."""


def places_read(calculation: str) -> dict[str, str]:
    """Places of a job that may change what a calculation answers.

    Parameters
    ----------
    calculation
        Which: a chapter of `NEEDS`, neither "designs" nor "report", which take all of the job.

    Returns
    -------
    dict of str to str
        Each place as a JSON Pointer without its first slash, with the place that must be told
        for that; "" where it always may.
    """
    always = (*NEEDS[calculation], *_USES[calculation], "pipes", "limits")
    places = {**_LENT[calculation], **dict.fromkeys(always, "")}
    for part, others in (("sizing", _SIZING), ("groundworks", ("ground",))):
        if part in places:
            places = {**dict.fromkeys(others, places[part] or part), **places}
    if "duty" in places:  # how even a flow is, is judged by what was to be reached
        places |= dict.fromkeys(("balancing/target", "balancing/shares"), "")
    if "duty" in places or calculation == "sizing":  # pressures, by how high and deep pipe lies
        places |= dict.fromkeys(("heights", "groundworks/trench", "groundworks/header_trench"), "")
        places |= {each: _SURVEYED for each in ("plot", "setting_out") if each not in places}
    return places


def job_from(
    document: Json, calculation: str, max_loops: int, max_corners: int = MOST_CORNERS
) -> Job:
    """The engine's job of a document, as far as a calculation needs it.

    Parameters
    ----------
    document
        The JSON value.
    calculation
        Which: a key of `NEEDS`.
    max_loops, max_corners
        Most loops of an array, and corners of a plot, that this service takes.

    Returns
    -------
    Job
        Its parts in the engine's values, in SI; None for those that the calculation has no use for.

    Raises
    ------
    RefusedError
        A part is missing or something in the document cannot be; carries every reason.
    """
    refusals: Refusals = []
    read = schema_of(JobSchema).check(document, (), refusals)
    if read is BROKEN:
        raise RefusedError(refusals)
    if calculation == "balancing":
        read.setdefault("balancing", _usual("balancing"))
    if too_many := corners_fault(read.get("plot", {}), max_corners):
        raise RefusedError([too_many])
    wanted = _wanted(read, calculation, refusals)
    job = _made(read, wanted, max_loops, refusals, digs=calculation != "sizing")
    if refusals:
        raise RefusedError(
            each if (at := within(document, each.place)) == each.place else replace(each, place=at)
            for each in refusals
        )
    if calculation == "commissioning" and job.balancing is not None:  # which puts nothing in
        job = replace(job, balancing=replace(job.balancing, take=None))
    if calculation in _STAYS and job.setting_out is not None:
        return replace(job, setting_out=replace(job.setting_out, array_stays=True))
    return job


def _wanted(read: dict[str, Any], calculation: str, refusals: Refusals) -> set[str]:
    """Parts to be made; those that are missing are refused."""
    needs = dict.fromkeys(NEEDS[calculation], calculation)
    used = [part for part in _USES[calculation] if part in read]
    if calculation == "groundworks" and not _tells_the_field(read):
        used = [part for part in used if part != "sizing"]
    used += _lent(read, calculation)
    if calculation == "sizing" and "plot" in read and not list(_told_twice(read)):
        used += ["setting_out"] if "setting_out" in read else []  # whose tails and places it takes
    if "heights" in _USES[calculation] and _is_surveyed(read):  # how high the array lies follows
        placed = {"setting_out", "array"} <= read.keys() and _is_placed(read["plot"])
        used += ("plot", "setting_out") if placed else ("plot",)
    if calculation in ("split", "pump_choice", "commissioning") and _takes_its_own(read):
        used += ("pump", "pump_choice")
    if calculation in ("designs", "report"):
        given = "array" in read or "duty" in read or "sizing" not in read
        needs |= dict.fromkeys(("array", "duty") if given else ("sizing",), calculation)
    if calculation == "setting_out" and "sizing" in read and _is_told_by_sizing(read):
        needs["sizing"] = calculation
    for part, others in (
        ("setting_out", ("plot",)),
        ("sizing", _SIZING),
        ("groundworks", NEEDS["groundworks"][1:]),
    ):
        if part in needs or part in used:
            needs = {**dict.fromkeys(others, part), **needs}
    if "setting_out" in used and "sizing" in needs and "array" not in read:
        refusals += _told_twice(read)
    for part, asking in needs.items():
        if part not in read:
            refusals.append(_missing(part, asking, is_sized="sizing" in read))
    if calculation == "setting_out" and "array" not in read and "sizing" not in read:
        refusals.append(_missing("sizing", calculation))
    return {part for part in (*needs, *used) if part in read}


def _takes_its_own(read: dict[str, Any]) -> bool:
    """Whether a pump is taken by the name that the job's own pump bears; the two are compared."""
    pump, choice = read.get("pump"), read.get("pump_choice")
    if not isinstance(pump, dict) or not isinstance(choice, dict) or "take" not in choice:
        return False
    return bool(choice["take"] == pump.get("name"))


def _is_told_by_sizing(read: dict[str, Any]) -> bool:
    """Whether only the sizing can say how much is to be set out."""
    told = {
        "plot": ("trenches", "mats"),  # boreholes have their places there, not their depth
        "setting_out": ("loop_count", "length_m", "total_m"),
    }
    return "array" not in read and (
        "sizing" not in read
        or not any(
            name in part
            for part_name, names in told.items()
            if isinstance(part := read.get(part_name), dict)
            for name in names
        )
    )


def _told_twice(read: dict[str, Any]) -> Iterator[Refusal]:
    """What setting out is told though the sizing decides it."""
    options = read.get("setting_out")
    for name in ("loop_count", "length_m", "total_m"):
        if isinstance(options, dict) and name in options:
            detail = (
                f"{name} is given, and the sizing decides how much is laid; leave it out, or give "
                "sizing a loop_count."
            )
            yield Refusal(("setting_out", name), detail, allowed="left out beside sizing")


def _tells_the_field(read: dict[str, Any]) -> bool:
    """Whether the sizing can say how boreholes stand, which is all that digging asks of it."""
    sizing = read.get("sizing")
    kind = sizing.get("array_kind") if isinstance(sizing, dict) else None
    return all(part in read for part in _SIZING) and isinstance(kind, dict) and "borehole" in kind


def _lent(read: dict[str, Any], calculation: str) -> tuple[str, ...]:
    """Parts that tell a calculation something where they, and what they need, are there."""
    if calculation == "groundworks" and {"antifreeze", "commissioning"} <= read.keys():
        return ("antifreeze", "commissioning")  # what is bought to fill it is on the bill
    if calculation == "commissioning":  # its valves when open, and the brine that it is sized for
        sized = ("sizing", "plot") if set(_SIZING) <= read.keys() else ()
        return ("balancing", *sized)
    ground = read.get("ground")
    tells = isinstance(ground, dict) and ("soil" in ground or "bulking_percent" in ground)
    if calculation != "setting_out":
        return ()
    # What header trenches and heaps of spoil take, and what boreholes must be where they stand.
    digs = ("groundworks",) if tells and "groundworks" in read else ()
    return (*digs, "sizing") if "array" in read and _tells_the_field(read) else digs


def _missing(part: str, asking: str, *, is_sized: bool = False) -> Refusal:
    said = schema_of(JobSchema).checks[part].metadata["description"]
    words = said[0].lower() + said[1:].split("; ")[0].rstrip(".")
    detail = f"The job has no {part} ({words}), which {asking.replace('_', ' ')} needs."
    if asking == "setting_out" and part == "sizing":
        detail = "Nothing tells what is to be set out: give the array, or a kind of it in sizing."
    if asking in ("designs", "report") and part in {"array", "duty"}:
        detail = f"The job has no {part}: {asking} needs array with duty, or sizing."
        if is_sized:
            other = "duty" if part == "array" else "array"
            detail = f"The job has sizing and {other}, and no {part}: leave {other} out, and the"
            detail += f" array is as it is sized, or give {part} too."
    return Refusal((part,), detail, MISSING, f"the part {part}")


def _is_surveyed(read: dict[str, Any]) -> bool:
    """Whether levels of the job's plot are told."""
    plot = read.get("plot")
    return isinstance(plot, dict) and bool(plot.get("levels"))


def _is_placed(plot: Read) -> bool:
    """Whether an array has its place on the plot."""
    return any(plot.get(name) for name in ("trenches", "boreholes", "mats"))


def _made(
    read: dict[str, Any], wanted: set[str], max_loops: int, refusals: Refusals, *, digs: bool
) -> Job:
    """The job, or what of it could be made where something was refused."""
    for part in ("limits", "plot"):
        read.setdefault(part, _usual(part))
    for part in ("heat", "ground", "sizing"):
        read.setdefault(part, BROKEN)  # refused as missing where it is needed
    pipes = pipes_from(read.get("pipes", ()), refusals)
    on_offer = tuple(pipe for pipe in pipes.values() if pipe is not BROKEN)
    mix = BROKEN
    if "antifreeze" in wanted:
        mix = mixture_from(read["antifreeze"], ("antifreeze",), refusals)
    makers: dict[str, Callable[[], Json]] = {
        "plot": lambda: plot_from(read["plot"], refusals),
        "plant": lambda: plant_from(read["plant"], pipes, ("plant",), refusals),
        "heights": lambda: heights_from(
            read.get("heights", {}), read.get("groundworks", {}), refusals
        ),
        "array": lambda: _array(read["array"], pipes, max_loops, refusals),
        "duty": lambda: duty_from(read["duty"], ("duty",), refusals),
        "warm": lambda: warm_from(read["warm"]),
        "pump": lambda: pump_from(read["pump"], ("pump",), refusals),
        "ground_at_loops": lambda: ground_at_loops_from(read["ground_at_loops"]),
        "sizing": lambda: sizing_from(read, mix, pipes, max_loops, refusals),
        "setting_out": lambda: setting_out_from(
            read, pipes, max_loops, refusals, sized="sizing" in wanted, dug="groundworks" in wanted
        ),
        "balancing": lambda: balancing_from(read, refusals),
        "pump_choice": lambda: pump_choice_from(read["pump_choice"], ("pump_choice",), refusals),
        "groundworks": lambda: groundworks_from(read, refusals, digs=digs),
        "commissioning": lambda: commissioning_from(read["commissioning"], refusals),
    }
    if "groundworks" in read and _RUNS_DEEP & wanted:
        wanted = wanted | {"heights"}  # digging tells how deep pipe lies, whoever asks
    made = {part: make() for part, make in makers.items() if part in wanted}
    for part in ("duty", "warm"):
        if part in wanted and mix is not BROKEN:
            refuse_frozen(mix, read[part], (part,), refusals)
    plot = read["plot"]
    if "plot" in wanted and _is_surveyed(read) and made["plot"] is not BROKEN:
        made["surveyed"] = site_from(plot, [])
        made["plant_placed"] = "plant_room" in plot or "boundary" not in plot
    return Job(
        mixture=mix if "antifreeze" in wanted else None,
        circuit=made.pop("array", None),
        limits=limits_from(read["limits"]),
        on_offer=on_offer,
        target=target_from(read["balancing"], refusals) if "balancing" in read else "even",
        **made,
    )


def _usual(part: str) -> dict[str, Any]:
    """A part as it is where the job leaves it out."""
    field = schema_of(JobSchema).checks[part]
    assert isinstance(field, Nested)
    return field.reader.defaults


def _array(read: Json, pipes: Pipes, max_loops: int, refusals: Refusals) -> Json:
    if (kept := kept_readings()) is None:
        return _array_made(read, pipes, max_loops, refusals)
    make = lambda: _array_made(read, pipes, max_loops, refusals)  # noqa: E731
    return once(kept, _array_made, (read, pipes), refusals, make)


def _array_made(read: Json, pipes: Pipes, max_loops: int, refusals: Refusals) -> Json:
    circuit = circuit_from(read, pipes, ("array",), refusals)
    count = 0 if circuit is BROKEN else loop_count(circuit)
    if count > max_loops:
        detail = (
            f"The array has {count:,} loops; this service takes up to {max_loops:,} (its setting "
            "EVENLOOP_MAX_LOOPS)."
        )
        refusals.append(Refusal(("array",), detail, allowed=f"{max_loops:,} loops or fewer"))
    parts = 0 if circuit is BROKEN or count > max_loops else part_count(circuit)
    if parts > (most := _PARTS_A_LOOP * max_loops):
        detail = (
            f"The array has {parts:,} legs, runs and fittings, those of equal branches counted "
            f"each; this service takes up to {most:,} ({_PARTS_A_LOOP} to each loop of its setting "
            "EVENLOOP_MAX_LOOPS). Give legs that are one pipe as one leg, and fittings of one kind "
            "a count."
        )
        refusals.append(
            Refusal(("array",), detail, allowed=f"{most:,} legs, runs and fittings or fewer")
        )
    longest = 0 if circuit is BROKEN else _longest_name(circuit)
    if longest > _LONGEST_NAME:
        detail = (
            f"A loop's name with those of the circuits around it has {longest} characters; every "
            "answer repeats it. Shorten the names of the circuits."
        )
        allowed = f"{_LONGEST_NAME} characters or fewer together"
        refusals.append(Refusal(("array", "branches"), detail, allowed=allowed))
    return circuit


def _longest_name(circuit: Circuit) -> int:
    """Characters of the longest name of a loop with those of the circuits around it."""
    return max(
        len(item.name) if isinstance(item, Loop) else len(item.name) + 1 + _longest_name(item)
        for item in (branch.item for branch in circuit.branches)
    )
