"""From what a file draws to the plot of a job, with everything that it could not be used for.

A file's own reader (GeoJSON, DXF, CSV) tells what is drawn where; here it becomes the part of a
job, is checked as that is, and what is refused is named by its place in the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Final, Literal

from api.answers.parts import Object, position
from api.refusals import (
    MISSING,
    Json,
    Place,
    Refusal,
    RefusedError,
    nearest,
    pointer,
    told_place,
    value_at,
)
from api.requests.array import Refusals
from api.requests.plot import corners_fault, site_from
from api.schemas.objects import schema_of
from api.schemas.plot import PlotSchema
from hydraulics.plot.site import LARGEST_COORDINATE, Point
from hydraulics.plot.site_plan import TOLD_TO

Form = Literal["area", "line", "point"]

_FORMS: Final[dict[Form, str]] = {
    "area": "a closed outline", "line": "an open line", "point": "a point",
}  # fmt: skip
KINDS: Final[dict[str, tuple[Form, ...]]] = {
    "boundary": ("area",),
    "water": ("area",),
    "keep_out": ("area", "line", "point"),
    "plant_room": ("point",),
    "level": ("point",),
    "chamber": ("point",),
    "trench": ("line",),
    "borehole": ("point",),
    "mat": ("point",),
}
"""What a file may draw of a plot, and in which forms."""
DERIVED: Final = {
    "spare_pit": "pits of spare pipe are worked out by setting out",
    "header_trench": "header trenches are worked out by setting out",
    "in_water": "ways through water are worked out by setting out",
}
"""What our own files draw and no plot holds."""
_RULES: Final = ("spacing_m", "border_m", "max_trench_m")
"""What a plot holds and nothing draws."""
_ONCE: Final = ("boundary", "water", "plant_room")
_LISTS: Final = {
    "keep_out": "keep_outs", "level": "levels", "chamber": "chambers", "trench": "trenches",
    "borehole": "boreholes", "mat": "mats",
}  # fmt: skip
_TOLD: Final = {
    "keep_out": ("name", "clearance_m", "radius_m", "blocks"),
    "level": ("level_m",),
    "chamber": ("name", "max_loops"),
    "trench": ("loop", "tails_from"),
    "borehole": ("loop",),
    "mat": ("loop",),
}
"""Fields that a thing of each kind may tell besides its place."""
_NAMED: Final = {
    "keep_out": ("name", "keep-out "), "chamber": ("name", "C"), "trench": ("loop", "T"),
    "borehole": ("loop", "B"), "mat": ("loop", "M"),
}  # fmt: skip
_WIDEST: Final = 1_000.0  # m of clearance, while none is told: the most that a job may tell
MOST_POINTS: Final = 50_000
"""Most points of a file's things: a plot holds 500 corners, as many trenches, 2,000 levels."""
_MOST_LISTED: Final = 100
_MOST_PLACES: Final = 10


@dataclass(frozen=True, slots=True)
class Drawn:
    """One thing that a file draws.

    Attributes
    ----------
    kind
        What it is, one of `KINDS` or `DERIVED` or any other word.
    form, points
        How it is drawn, and its corners, bends or place [m]; an area's first is not repeated.
    at, words
        Where it stands in the file, as a pointer and in words.
    corners
        Where each point stands, where that is told.
    told
        Fields of the job's object that the file tells, and where.
    """

    kind: str
    form: Form
    points: tuple[Point, ...]
    at: Place
    words: str
    corners: tuple[Place, ...] = ()
    told: dict[str, tuple[Json, Place]] = field(default_factory=dict)


@dataclass(slots=True)
class Reading:
    """What was read of a file so far.

    Attributes
    ----------
    boundary
        How the boundary is drawn in such a file, in words.
    drawn
        Things in the order of the file.
    left
        What is not used, in words, and where.
    notes
        What the caller should know.
    refusals
        What is wrong with it.
    name
        Of the job, as the file tells it.
    origin
        Where the plot lies on the earth, as `plot.origin`.
    points
        How many points were read.
    """

    boundary: str
    drawn: list[Drawn] = field(default_factory=list)
    left: dict[str, list[Place]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    refusals: Refusals = field(default_factory=list)
    name: str = ""
    origin: Object | None = None

    points: int = 0

    def count(self, points: int) -> None:
        """Count what is drawn; stop at more than any plot holds."""
        self.points += points
        if self.points > MOST_POINTS:
            detail = f"The file draws more than {MOST_POINTS:,} points; keep what is of the plot."
            raise RefusedError([Refusal((), detail, allowed=f"up to {MOST_POINTS:,} points")])

    def leave(self, detail: str, place: Place) -> None:
        """Note that something is not used."""
        self.left.setdefault(detail, []).append(place)

    def refuse(
        self, place: Place, words: str, detail: str, allowed: str, value: Json = MISSING
    ) -> None:
        """Note that something is wrong."""
        self.refusals.append(Refusal(place, f"{words}: {detail}", value, allowed))

    def number(
        self, value: Json, place: Place, words: str, what: str, of: str = "coordinate"
    ) -> float | None:
        """A coordinate, or another `of`; None after what is none, or of no grid, was refused."""
        fits = type(value) in (int, float) and abs(value) <= LARGEST_COORDINATE
        if fits:
            return float(value)
        detail = f"{what} is no {of}; give a number."
        allowed = f"a number between -{LARGEST_COORDINATE:g} and {LARGEST_COORDINATE:g}"
        self.refuse(place, words, detail, allowed, value)
        return None


def plot_of(reading: Reading, most_corners: int) -> Object:
    """PlotFileAnswerSchema's object of what was read.

    Parameters
    ----------
    reading
        What a file draws.
    most_corners
        Most corners of boundary, water and keep-outs.

    Raises
    ------
    RefusedError
        It draws no plot, or one that cannot be; every fault with its place in the file.
    """
    plot, places = ({}, {}) if reading.refusals else _document(reading)
    if reading.refusals:
        raise RefusedError(reading.refusals)
    if "boundary" not in plot:
        detail = f"The file draws no boundary: {reading.boundary}."
        raise RefusedError([Refusal((), detail, allowed=reading.boundary)])
    faults = _faults_of(plot, most_corners)
    if faults:
        raise RefusedError(_in_file(each, plot, places) for each in faults)
    if "plant_room" not in plot:
        reading.notes.append(
            "The file does not tell where pipes leave the building: give the plant room."
        )
    lost = "" if "origin" in plot else ", and this one no origin"
    reading.notes.append(
        f"Files hold no {', '.join(_RULES)}{lost}: add those of the job that it comes from, or the "
        "plot has the usual ones" + (" and no place on the earth." if lost else ".")
    )
    return {
        **({"name": reading.name} if reading.name else {}),
        "plot": plot,
        "not_used": _listed(reading.left),
        "notes": reading.notes,
    }


def _document(reading: Reading) -> tuple[Object, dict[Place, tuple[Place, str]]]:
    """The plot as a job tells it, and where in the file each of its parts stands."""
    plot: Object = {} if reading.origin is None else {"origin": reading.origin}
    places: dict[Place, tuple[Place, str]] = {}
    named, bare = 0, []
    for each in reading.drawn:
        if each.kind not in KINDS:
            reading.leave(_why_left(each.kind, len(reading.left) < _MOST_LISTED), each.at)
            continue
        if each.form not in KINDS[each.kind]:
            allowed = " or ".join(_FORMS[form] for form in KINDS[each.kind])
            detail = f"{each.kind} is {_FORMS[each.form]}; draw it as {allowed}."
            reading.refuse(each.at, each.words, detail, allowed)
            continue
        if each.kind in _ONCE:
            if each.kind in plot:
                detail = f"it is a second {each.kind}, and a plot has one; leave one of them out."
                reading.refuse(each.at, each.words, detail, f"one {each.kind}")
                continue
            place: Place = ("plot", each.kind)
            made = plot[each.kind] = (
                position(each.points[0], TOLD_TO)
                if each.form == "point"
                else [position(point, TOLD_TO) for point in each.points]
            )
            corners = place
        else:
            held = plot.setdefault(_LISTS[each.kind], [])
            place = ("plot", _LISTS[each.kind], len(held))
            places.setdefault(place[:-1], (each.at, each.words))
            made, corners = _thing(each, place)
            held.append(made)
            for name, (_, at) in each.told.items():
                places[(*place, name)] = (at, each.words)
            key, start = _NAMED.get(each.kind, ("", ""))
            if key and key not in made:
                made[key] = f"{start}{len(held)}"
                named += 1
            if each.kind == "keep_out" and "clearance_m" not in made:
                bare.append(f"{made['name']!r}")
        places[place] = (each.at, each.words)
        for number, at in enumerate(each.corners):
            places[(*corners, number)] = (at, each.words)
    if named:
        reading.notes.append(
            f"{named} of what is drawn has no name in the file and was given one; loops' names are "
            "those of the array."
        )
    if bare:
        reading.notes.append(
            f"No clearance is told for {', '.join(bare[:5])}{' and others' * (len(bare) > 5)}: "
            "give clearance_m before the plot is used; ask whoever owns it or the local code."
        )
    return plot, places


def _why_left(kind: str, is_listed: bool) -> str:
    if kind in DERIVED:
        return f"{kind}: {DERIVED[kind]}"
    known = f"none of {', '.join(KINDS)}"
    if not kind:
        return f"without a kind: {known}"
    # Looking for a like word takes longer than all the rest.
    return f"{kind[:60]!r} is {known}{nearest(kind, KINDS) if is_listed else ''}"


def _thing(each: Drawn, place: Place) -> tuple[Object, Place]:
    """An object of one of the plot's lists, and the place of its corners."""
    told = {name: each.told[name][0] for name in _TOLD[each.kind] if name in each.told}
    line = [position(point, TOLD_TO) for point in each.points]
    if each.kind == "keep_out":
        shape = {"area": "outline", "line": "line", "point": "centre"}[each.form]
        return told | {shape: line[0] if each.form == "point" else line}, (*place, shape)
    if each.kind == "trench":
        return told | {"points": line}, (*place, "points")
    return told | line[0], place


def _faults_of(plot: Object, most_corners: int) -> Refusals:
    """All that a job with this plot would be refused for."""
    # Where a clearance is still to be told, nothing is refused for being too far away.
    kept = [{"clearance_m": _WIDEST, **each} for each in plot.get("keep_outs", ())]
    whole = plot | {"keep_outs": kept} if kept else plot
    faults: Refusals = []
    read = schema_of(PlotSchema).check(whole, ("plot",), faults)
    if not faults and (fault := corners_fault(read, most_corners)):
        faults.append(fault)
    if not faults:
        site_from(read, faults)
    return faults


def _in_file(fault: Refusal, plot: Object, places: dict[Place, tuple[Place, str]]) -> Refusal:
    """The same, named by its place in the file."""
    place = fault.place
    while place and place not in places:
        place = place[:-1]
    at, words = places.get(place, ((), "The plot"))
    value = fault.value if fault.value is not MISSING else value_at({"plot": plot}, fault.place)
    return Refusal(at, f"{words}: {fault.detail}", value, fault.allowed, fault.out_of_range)


def _listed(left: dict[str, list[Place]]) -> list[Object]:
    """What is not used, by reason: how often, and where first."""
    found: list[Object] = [
        {
            "detail": detail,
            "count": len(places),
            "places": [pointer(told_place(place)) for place in places[:_MOST_PLACES]],
        }
        for detail, places in left.items()
    ]
    if len(found) > _MOST_LISTED:
        rest = sum(each["count"] for each in found[_MOST_LISTED:])
        found = found[:_MOST_LISTED]
        found.append({"detail": "more that is not used", "count": rest, "places": []})
    return found


def told_of(
    kind: str, given: Iterable[tuple[str, Json, Place]], leave: Callable[[str, Place], None]
) -> dict[str, tuple[Json, Place]]:
    """Fields that a thing tells and a plot takes; the others are left.

    Parameters
    ----------
    kind
        What the thing is.
    given
        Names, values and places of what the file tells about it.
    leave
        Receives what is not used.
    """
    known = _TOLD.get(kind, ())
    found = {}
    for name, value, place in given:
        if name in known and value is not None:
            found[name] = (value, place)
        elif value is not None:
            leave(f"{name[:60]!r} of a {kind}: a plot does not hold it", place)
    return found
