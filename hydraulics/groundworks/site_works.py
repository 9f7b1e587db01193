"""What is dug for a site plan: header stretches, crossings, spoil beside trenches, the order?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import shapely

from hydraulics.findings import COMMON_PRACTICE, Finding, listed, up_to_centimetre
from hydraulics.groundworks.excavation import (
    BULKING,
    Excavation,
    Trench,
    excavation,
    on_plan,
    spare_coils,
)
from hydraulics.groundworks.rules import layer_rules
from hydraulics.groundworks.tops import tops_over
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.heights import BEDDING
from hydraulics.layout.walk import loops_of
from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.network import footprint
from hydraulics.plot.site import Point
from hydraulics.plot.site_plan import HAIR, LAYERS_APART, HeaderPipes, SitePlan, Stretch, floor_of
from hydraulics.plot.spare import PitsPlaced, place_pits
from hydraulics.plot.usable import dug_surface

SPOIL_BACK: Final = 0.6  # m from edge to spoil; OSHA 1926.651(j)(2): 2 ft at least
HEAP_SLOPE: Final = 1.5  # horizontal to vertical of a heap; common practice, no source
UNTOLD_BULKING: Final = max(BULKING["clay"])  # where no soil is told: the larger heap
DIGGER: Final = 3.0  # m beside a trench for a digger that stands there; common practice, no source
TOUCHING: Final = 1e-3  # m
Tops = dict[str, shapely.Geometry]
"""What each loop's trench takes at the surface."""


@dataclass(frozen=True, slots=True)
class DugStretch:
    """A stretch of header trench as it is dug.

    Attributes
    ----------
    stretch
        Its line, and what lies in it.
    floor
        Width of its floor [m].
    cover
        Ground above its upper pipes [m].
    volumes
        Dug, bedding, backfill and what goes away.
    """

    stretch: Stretch
    floor: float
    cover: float
    volumes: Excavation

    @property
    def pairs(self) -> int:
        """Pairs of pipes in it."""
        return self.stretch.pairs


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a header trench crosses something: find it first, dig by hand.

    Attributes
    ----------
    keep_out
        Name of what is crossed.
    at
        Where the header trench's centre line meets it [m].
    pairs
        Pairs of pipes in the header trench there.
    """

    keep_out: str
    at: Point
    pairs: int


@dataclass(frozen=True, slots=True)
class Heap:
    """The spoil heap beside a loop's trench.

    Attributes
    ----------
    loop
        Name of the loop.
    corners
        Of the ground that it covers [m].
    width
        Of its foot [m].
    covers
        Loops whose trenches it lies on: not open at the same time as its own.
    clear
        Whether it lies inside the boundary and off every keep-out and water.
    """

    loop: str
    corners: tuple[Point, ...]
    width: float
    covers: tuple[str, ...]
    clear: bool


@dataclass(frozen=True, slots=True)
class SiteWorks:
    """What is dug for a plan's header trenches, and what its trenches' spoil takes.

    Attributes
    ----------
    stretches
        Header stretches in the ground, in the plan's order.
    crossings
        What header trenches cross.
    heaps
        Beside every loop's trench.
    order
        Loops in trenches from far to near, so that nobody drives over what is laid.
    findings
        Overlaps are errors.
    """

    stretches: tuple[DugStretch, ...]
    crossings: tuple[Crossing, ...]
    heaps: tuple[Heap, ...]
    order: tuple[str, ...]
    findings: tuple[Finding, ...]


def heap_width(dug: float, bulking: float) -> float:
    """Width of a heap's foot [m] for what is dug from a metre of trench [m³/m].

    Notes
    -----
    A triangle of slope 1 : `HEAP_SLOPE` holds w²/(4 s) a metre.
    """
    return math.sqrt(4.0 * HEAP_SLOPE * dug * (1.0 + bulking))


def site_works(
    plan: SitePlan,
    pipes: HeaderPipes,
    rules: HeaderRules,
    bulking: float,
    *,
    bedding_imported: bool = True,
) -> SiteWorks:
    """Dig a plan: every stretch of header once, its crossings, and where the spoil may lie.

    Parameters
    ----------
    plan
        The plan.
    pipes
        Of the loops' tails and of the chambers' runs.
    rules
        Depth and width of header trenches, and what ground they leave.
    bulking
        Gain of volume when dug [-].
    bedding_imported
        Whether the fine material is brought in.

    Raises
    ------
    InputError
        When the pipes of a stretch do not fit into it with their bedding.

    Notes
    -----
    Return pipes lie on the floor, flow pipes 0.3 m above it, with bedding around both (common
    practice, no source). Junctions are counted once by centre line; their widths' overlap, under
    0.2 m³ each, is left in, on the side of more digging.
    """
    dug = tuple(_dug(plan, pipes, rules, bulking, bedding_imported))
    tops = {trench.loop: footprint(trench) for trench in plan.trenches}
    heaps = tuple(_heaps(plan, tops, bulking))
    order = _order(plan)
    crossings = tuple(_crossings(plan))
    findings = (
        *tops_over(plan.trenches),
        *_overlaps(plan, tops, dug, rules),
        *_edges(plan, dug, rules),
        *layer_rules([each.cover for each in dug], LAYERS_APART),
        *_spoil(plan, tops, heaps),
    )
    return SiteWorks(dug, crossings, heaps, order, findings)


def pits_of(plan: SitePlan, circuit: Circuit, rules: HeaderRules) -> PitsPlaced:
    """Where the spare pipe of an array's loops has room on its plan.

    Parameters
    ----------
    plan
        The plan.
    circuit
        The array that it makes; pipe left in coils is spare.
    rules
        Depth and slope of header trenches, which pits are as deep and as steep as.
    """
    tails = plan.tails
    sides = [
        (loop, coil.pit(rules.depth, rules.side_slope)[0].top_width)
        for name, held, count in loops_of(circuit)
        for coil in spare_coils(name, held, count)
        if (loop := on_plan(name, tails)) is not None
    ]
    return place_pits(plan, sides, rules) if sides else PitsPlaced((), ())


def _dug(
    plan: SitePlan,
    pipes: HeaderPipes,
    rules: HeaderRules,
    bulking: float,
    bedding_imported: bool,
) -> Iterator[DugStretch]:
    for stretch in plan.stretches:
        if stretch.medium == "ground":
            floor = floor_of(stretch, pipes, rules.width)
            height = LAYERS_APART + pipes.thickest(stretch)
            area = math.fsum(pipe.outside_area for pipe in pipes.within(stretch))
            volumes = excavation(
                Trench(floor, rules.depth, rules.side_slope),
                stretch.length,
                2.0 * BEDDING + height,
                area * stretch.length,
                bulking,
                bedding_imported=bedding_imported,
            )
            yield DugStretch(stretch, floor, rules.depth - BEDDING - height, volumes)


def _crossings(plan: SitePlan) -> Iterator[Crossing]:
    for keep_out in plan.plot.keep_outs:
        if "header" in keep_out.blocks and not keep_out.line:
            continue
        for stretch in plan.stretches:
            met = shapely.LineString(stretch.line).intersection(keep_out.body)
            if stretch.medium == "ground" and not met.is_empty:
                x, y = shapely.get_coordinates(shapely.point_on_surface(met))[0]
                yield Crossing(keep_out.name, (float(x), float(y)), stretch.pairs)


def _heaps(plan: SitePlan, tops: Tops, bulking: float) -> Iterator[Heap]:
    """A heap on that side of every trench where it covers least and lies clear."""
    ground = plan.plot.ground
    barred = [*(each.body for each in plan.plot.keep_outs), plan.plot.pond]
    tree = shapely.STRtree(list(tops.values()))
    names = list(tops)
    for trench in plan.trenches:
        section = (trench.width / 2.0 + trench.half_top) * trench.depth
        width = heap_width(section, bulking)
        line = shapely.LineString(trench.line)
        tried = []
        for side in (1.0, -1.0):
            near = side * (trench.half_top + SPOIL_BACK)
            if len(trench.line) > 2:
                foot = line.buffer(near + side * width, single_sided=True, join_style="mitre")
                foot = foot.difference(line.buffer(abs(near), cap_style="flat"))
            else:
                inner = line.offset_curve(near)
                outer = line.offset_curve(near + side * width)
                foot = shapely.MultiLineString([inner, outer]).convex_hull
            room = not foot.is_empty  # within a bend there may be none
            if not room:
                foot = line.buffer(abs(near) + width)
            clear = room and ground.covers(foot)
            clear = clear and not any(foot.intersects(each) for each in barred)
            met = [names[n] for n in tree.query(foot, predicate="intersects")]
            covers = tuple(
                sorted(n for n in met if n != trench.loop and tops[n].intersection(foot).area > 0.0)
            )
            tried.append((not clear, len(covers), foot, covers))
        lost, _, foot, covers = min(tried, key=lambda each: each[:2])
        whole = not lost and foot.geom_type == "Polygon"
        outline = shapely.get_coordinates(foot if whole else foot.convex_hull)[:-1]
        corners = tuple((float(x), float(y)) for x, y in outline)
        yield Heap(trench.loop, corners, width, covers, not lost)


def _order(plan: SitePlan) -> tuple[str, ...]:
    """Loops in trenches by the length of their ways out, farthest first."""
    runs, tails = plan.runs, plan.tails
    way = {
        trench.loop: tails.get(trench.loop, math.inf)
        + runs.get(plan.loop_chamber.get(trench.loop, ""), 0.0)
        for trench in plan.trenches
    }
    return tuple(sorted(way, key=lambda loop: -way[loop]))


def _overlaps(
    plan: SitePlan, tops: Tops, dug: tuple[DugStretch, ...], rules: HeaderRules
) -> Iterator[Finding]:
    """Header trenches that are so wide for their pipes that they reach what they keep off."""
    bores: Tops = {bore.loop: shapely.Point(bore.at) for bore in plan.bores}
    kept = tops | bores
    names, tree = list(kept), shapely.STRtree(list(kept.values()))
    near: dict[str, tuple[float, float]] = {}
    batter = rules.batter
    stubs = {
        loop: shapely.LineString([line[0], _along(line[0], line[1], rules.straight_on)]).buffer(
            TOUCHING
        )
        for loop, line in plan.tail_lines.items()
        if line[0] != line[1]
    }
    for each in dug:
        half = each.floor / 2.0 + batter
        if half <= rules.half_width + TOUCHING:
            continue
        whole = shapely.LineString(each.stretch.line)
        for number in tree.query(dug_surface(whole, half), "dwithin", rules.clear).tolist():
            loop = names[number]
            if loop in bores and loop in each.stretch.loops:
                continue
            line = whole.difference(stubs[loop]) if loop in stubs else whole
            away = _between(line, half, kept[loop])
            if away < rules.clear - HAIR:
                near[loop] = min(near.get(loop, (math.inf, 0.0)), (away, each.floor))
    if near:
        loop = min(near, key=lambda name: near[name])
        away, floor = near[loop]
        widest = up_to_centimetre(max(wide for _, wide in near.values()))
        met = away < 0.0
        yield Finding(
            "header_meets_trench",
            "error" if met else "warning",
            f"A header trench whose floor is {floor:.2f} m wide for its pipes "
            + (f"runs {-away:.2f} m into" if met else f"comes to {away:.2f} m from")
            + f" the {'borehole' if loop in bores else 'trench'} of {loop}, and nearer than the "
            f"{rules.clear:g} m of ground to be left to {len(near)} in all: "
            f"{listed(sorted(near))}. "
            + f"Tell the header trench's width as {widest:g} m, so that its way is looked for "
            "that wide.",
            COMMON_PRACTICE,
        )


def _along(start: Point, to: Point, by: float) -> Point:
    """The point so far from one towards another [m]."""
    share = by / math.dist(start, to)
    return (start[0] + share * (to[0] - start[0]), start[1] + share * (to[1] - start[1]))


def _between(line: shapely.Geometry, half: float, top: shapely.Geometry) -> float:
    """Ground between a header trench and another [m]; below 0 as deep as one reaches into it."""
    if line.is_empty:
        return math.inf
    if away := dug_surface(line, half).distance(top):
        return float(away)
    within = shapely.get_coordinates(line.intersection(top).segmentize(0.1))
    inside = 0.0
    if top.geom_type == "Polygon":
        inside = shapely.distance(shapely.points(within), top.exterior).max(initial=0.0)
    return float(line.distance(top) - half - inside)


def _edges(plan: SitePlan, dug: tuple[DugStretch, ...], rules: HeaderRules) -> Iterator[Finding]:
    """Header trenches that are wider at the surface than the ground their way was looked for in.

    The last straight to the plant room is let through the boundary that it stands at, and through
    the clearance of its own building.
    """
    plot, batter = plan.plot, rules.batter
    barred = [each for each in plot.keep_outs if "header" in each.blocks]
    wall, edge = plot.stands_at, plot.ground.exterior
    own = shapely.LineString(plan.way_out).buffer(TOUCHING)
    crossed: dict[str, tuple[float, float]] = {}
    for each in dug:
        half = each.floor / 2.0 + batter
        if half <= rules.half_width + TOUCHING:
            continue
        whole = shapely.LineString(each.stretch.line)
        led = whole.difference(own)
        top, led_top = (dug_surface(line, half) for line in (whole, led))
        beyond = {}
        if not plot.ground.covers(led_top):
            beyond["the boundary"] = half - led.distance(edge)
        for kept in barred:
            away = (led_top if kept in wall else top).distance(kept.shape)
            what = f"the {kept.clearance:g} m to be kept from {kept.name}"
            beyond[what] = kept.reach - away
        for what, by in beyond.items():
            if by >= HAIR:
                crossed[what] = max(crossed.get(what, (0.0, 0.0)), (by, 2.0 * half))
    if crossed:
        told = [
            f"{by:.2f} m into {what}, {top:.2f} m wide at the surface"
            for what, (by, top) in sorted(crossed.items())
        ]
        floor = max(top for _, top in crossed.values()) - 2.0 * batter
        width = up_to_centimetre(floor)
        yield Finding(
            "header_edge_over",
            "warning",
            f"A header trench comes {listed(told)}: its way was looked for "
            f"{2.0 * rules.half_width:g} m wide there. Tell the header trench's width as {width:g} "
            "m, so that its way is looked for that wide, or take more chambers.",
            COMMON_PRACTICE,
        )


def _spoil(plan: SitePlan, tops: Tops, heaps: tuple[Heap, ...]) -> Iterator[Finding]:
    if lost := [heap.loop for heap in heaps if not heap.clear]:
        yield Finding(
            "spoil_has_no_room",
            "warning",
            f"On neither side of {listed(lost)} is there room for the heap between boundary, "
            "keep-outs and water: cart the spoil to where there is, or dig and fill in pieces. "
            f"It stays {SPOIL_BACK:g} m back from the edge.",
            COMMON_PRACTICE,
        )
    if covering := [heap.loop for heap in heaps if heap.covers]:
        widest = max(heap.width for heap in heaps)
        yield Finding(
            "spoil_over_trenches",
            "info",
            f"Heaps up to {widest:.1f} m wide at the foot, {SPOIL_BACK:g} m back from the edge, "
            f"lie on a neighbour's trench for {len(covering)} of {len(heaps)} loops: dig, lay and "
            "fill one before the other is opened, from far to near.",
            COMMON_PRACTICE,
        )
    close = _nearest_tops(plan, list(tops.values()))
    if close is not None and close < DIGGER:
        yield Finding(
            "digger_has_no_room",
            "warning",
            f"{close:.1f} m lie between two trenches' edges, and a digger beside a trench takes "
            f"{DIGGER:g} m: it stands over the trench and works backwards, and nothing drives "
            "between trenches that are open.",
            COMMON_PRACTICE,
        )


def _nearest_tops(plan: SitePlan, tops: list[shapely.Geometry]) -> float | None:
    """Least distance between the edges of two trenches that lie side by side [m]."""
    if len(tops) < 2:
        return None
    tree = shapely.STRtree(tops)
    least = None
    for trench, top in zip(plan.trenches, tops, strict=True):
        beside = shapely.LineString(trench.line).buffer(DIGGER + trench.half_top, cap_style="flat")
        for other in tree.query(beside, predicate="intersects").tolist():
            away = top.distance(tops[other])
            if away > 0.0 and beside.intersection(tops[other]).area > 0.1:
                least = away if least is None else min(least, away)
    return least
