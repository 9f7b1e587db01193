"""What should the reader of a site plan know besides its places and lengths?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import combinations
from types import MappingProxyType
from typing import Final

import shapely

from hydraulics.findings import COMMON_PRACTICE, Finding, counted, figures, listed
from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.network import footprint
from hydraulics.plot.plot import BORDER
from hydraulics.plot.site import TOUCHING
from hydraulics.plot.site_plan import CHAMBER_SIDE, HAIR, HeaderPipes, Place, SitePlan, floor_of
from hydraulics.plot.usable import own_end

WIDE_HEADER: Final = 1.2  # m of floor; common practice, no source
UNEVEN_TAILS: Final = 0.05  # of the mean loop's pipe, its tails with it
PLACE_WORDS: Final[Mapping[Place, str]] = MappingProxyType(
    {
        "most_even": "for the evenest tails",
        "least_pipe": "for the least pipe",
        "least_digging": "for the least digging",
    }
)
_IN_THE_WAY: Final = (
    "keep-outs, trenches, boreholes or the boundary are in the way. Move them or the chamber, or "
    "let the header's border and the ground left be less."
)
OF_SEARCH: Final = "search of directions, spines and staggered rows; see the theory of setting out"


def of_plan(plan: SitePlan, rules: HeaderRules) -> Iterator[Finding]:
    """Yield what a plan shows by itself."""
    reached = set(plan.loop_chamber)
    if missing := [name for name in plan.loops if name not in reached]:
        yield Finding(
            "no_way",
            "error",
            f"No header trench reaches {listed(missing)} from a chamber: {_IN_THE_WAY}",
            COMMON_PRACTICE,
        )
    if cut_off := [c.name for c in plan.chambers if c.name not in plan.runs]:
        yield Finding(
            "no_way",
            "error",
            f"No header trench leads from {listed(cut_off)} to the plant room: {_IN_THE_WAY}",
            COMMON_PRACTICE,
        )
    yield from _places(plan)
    for chamber in plan.chambers:
        own = len(plan.held_by(chamber.name))
        if own > chamber.largest:
            yield Finding(
                "chamber_full",
                "warning",
                f"{chamber.name} holds {own} loops and is to hold {chamber.largest} at most; put "
                "another chamber, or a larger one.",
                COMMON_PRACTICE,
            )
    yield from _crowded(plan)
    yield from _kept_off(plan, rules)
    yield from _through_water(plan)
    yield from _across(plan)
    yield from near_boundary(plan)


def near_boundary(plan: SitePlan) -> Iterator[Finding]:
    """Yield where trenches or boreholes lie nearer to the boundary than is usual."""
    edge = plan.plot.ground.exterior
    lines = [(t.loop, edge.distance(shapely.LineString(t.line))) for t in plan.trenches]
    lines += [(b.loop, edge.distance(shapely.Point(b.at))) for b in plan.bores]
    near = [each for each in lines if each[1] < BORDER - HAIR]
    if near:
        loop, away = min(near, key=lambda each: each[1])
        others = f" (and {len(near) - 1} more)" if len(near) > 1 else ""
        yield Finding(
            "border_small",
            "warning",
            f"{loop}{others} comes to {away:.2f} m from the boundary, less than {BORDER:g} m: the "
            "array draws heat from the neighbour's ground and digging may undermine it.",
            COMMON_PRACTICE,
        )


def idle_chambers(names: list[str]) -> Iterator[Finding]:
    """Yield what is told of chambers given that no loop goes to."""
    if names:
        yield Finding(
            "chamber_idle",
            "warning",
            f"{len(names)} chamber{'s' * (len(names) > 1)}, {listed(names)}, would hold no loop, "
            "since all are nearer to others that have room: left out, and no run is dug there. "
            "Put it nearer to loops, or let the others hold fewer.",
            COMMON_PRACTICE,
        )


def _crowded(plan: SitePlan) -> Iterator[Finding]:
    """Yield what chambers, as large as they are drawn, stand too near to."""
    half = CHAMBER_SIDE / 2.0
    standing = [c for c in plan.chambers if math.dist(c.at, plan.plot.plant) > TOUCHING]
    told = [
        f"{one.name} and {other.name} stand {math.dist(one.at, other.at):.2f} m apart"
        for one, other in combinations(standing, 2)
        if max(abs(a - b) for a, b in zip(one.at, other.at, strict=True)) < CHAMBER_SIDE - HAIR
    ]
    for chamber in standing:
        x, y = chamber.at
        body = shapely.box(x - half, y - half, x + half, y + half)
        for keep_out in plan.plot.keep_outs:
            away = max(0.0, body.distance(keep_out.shape) - keep_out.radius)
            if away < keep_out.clearance - HAIR:
                told.append(
                    f"{chamber.name} comes to {away:.2f} m from {keep_out.name}, of which "
                    f"{keep_out.clearance:g} m are to be kept"
                )
    if told:
        yield Finding(
            "chamber_crowded",
            "warning",
            f"Each chamber taken as {CHAMBER_SIDE:g} m square, {listed(told)}. Move them apart and "
            "away, or make one of two.",
            COMMON_PRACTICE,
        )


def _through_water(plan: SitePlan) -> Iterator[Finding]:
    """Yield what pipe in the water crosses, and a way out of the plant room that lies in it."""
    wet = [shapely.LineString(each.line) for each in plan.stretches if each.medium == "water"]
    ways = shapely.union_all(wet)
    for each in plan.plot.keep_outs:
        near = ways.intersection(each.shape.buffer(max(each.reach - TOUCHING, TOUCHING))).length
        if "header" not in each.blocks and near > TOUCHING:
            yield Finding(
                "keep_out_crossed",
                "warning",
                f"Pipe in the water crosses {each.name}{_or_near(each.clearance)}: find it first, "
                "and lay pipe there as whoever answers for it says.",
                COMMON_PRACTICE,
            )
    out = shapely.LineString(plan.way_out).intersection(plan.plot.pond).length
    if out > HAIR:
        yield Finding(
            "no_way",
            "warning",
            f"No way out of the plant room keeps off the water: the run lies in it for {out:.1f} m "
            "and is not dug there. Tell the place where pipes leave the building, with ground "
            "before it, or lead them through the water as whoever answers for it says.",
            COMMON_PRACTICE,
        )


def _kept_off(plan: SitePlan, rules: HeaderRules) -> Iterator[Finding]:
    """Yield what header trenches, as wide as their ways are looked for, come too near to."""
    dug = shapely.union_all(
        [shapely.LineString(each.line) for each in plan.stretches if each.medium == "ground"]
    )
    if dug.is_empty:
        return
    wall, own = plan.plot.stands_at, own_end(plan.plot.plant, rules.half_width)
    elsewhere = dug.difference(shapely.LineString(plan.way_out).buffer(TOUCHING))
    for keep_out in plan.plot.keep_outs:
        kept, off = keep_out.clearance, keep_out.radius + rules.half_width
        near, under = (elsewhere, dug.difference(own)) if keep_out in wall else (dug, dug)
        away = near.distance(keep_out.shape) - off
        is_under = under.distance(keep_out.shape) < off - TOUCHING
        if away >= kept - TOUCHING and not is_under:
            continue
        if "header" not in keep_out.blocks or keep_out.line:
            yield Finding(
                "keep_out_crossed",
                "warning",
                f"A header trench crosses {keep_out.name}{_or_near(kept)}: find it first, and dig "
                "there by hand.",
                COMMON_PRACTICE,
            )
            continue
        met = dug.intersection(keep_out.body).length
        met = met or under.intersection(keep_out.shape.buffer(off)).length
        yield Finding(
            "no_way",
            "error",
            f"No way out of the plant room keeps {kept:g} m from {keep_out.name}: the header "
            + (
                f"trench lies under it for {met:.1f} m"
                if is_under
                else f"trench comes to {away:.2f} m"
            )
            + ". Tell the place where pipes leave the building, with ground before it, or dig only "
            "as whoever answers for what stands there says.",
            COMMON_PRACTICE,
        )


def _or_near(kept: float) -> str:
    return f" or comes nearer than {kept:g} m" if kept else ""


def _across(plan: SitePlan) -> Iterator[Finding]:
    """Yield what bars no trench or borehole of the array and still is met by one."""
    for keep_out in plan.plot.keep_outs:
        if "array" in keep_out.blocks:
            continue
        least = keep_out.reach - TOUCHING
        met = [
            f"trench of {t.loop}"
            for t in plan.trenches
            if footprint(t).distance(keep_out.shape) < max(least, TOUCHING)
        ]
        met += [
            f"borehole of {b.loop}"
            for b in plan.bores
            if shapely.Point(b.at).distance(keep_out.shape) < max(least, TOUCHING)
        ]
        if met:
            more = f" (and {len(met) - 1} more)" if len(met) > 1 else ""
            yield Finding(
                "keep_out_crossed",
                "warning",
                f"The {met[0]}{more} crosses {keep_out.name}{_or_near(keep_out.clearance)}: find "
                "it first, and dig there by hand.",
                COMMON_PRACTICE,
            )


def _places(plan: SitePlan) -> Iterator[Finding]:
    unlike = {
        (round(p.header_dug), round(p.tails + p.runs), round(p.longest - p.shortest, 1))
        for p in plan.placed_by
    }
    if len(unlike) < 2:
        return
    told = [
        f"{PLACE_WORDS[p.place]} {p.header_dug:.0f} m are dug, with {p.tails:.0f} m of tails and "
        f"{p.runs:.0f} m of runs one way, tails {p.shortest:.1f} to {p.longest:.1f} m"
        for p in plan.placed_by
    ]
    yield Finding(
        "chamber_place",
        "info",
        f"Where chambers stand is a choice: {'; '.join(told)}.",
        OF_SEARCH,
    )


def tail_spread(plan: SitePlan, pipe: Mapping[str, float]) -> Iterator[Finding]:
    """Yield where tails are so unlike that loops' lengths are.

    Parameters
    ----------
    plan
        The plan.
    pipe
        Of every loop that it reaches, tails with it [m].
    """
    tails = plan.tails
    if len(tails) < 2:
        return
    longest, shortest = max(tails, key=tails.__getitem__), min(tails, key=tails.__getitem__)
    apart = 2.0 * (tails[longest] - tails[shortest])
    mean = sum(pipe[name] for name in tails) / len(tails)
    if apart <= UNEVEN_TAILS * mean:
        return
    yield Finding(
        "tail_spread",
        "info",
        f"Tails are {tails[shortest]:.1f} m ({shortest}) to {tails[longest]:.1f} m ({longest}) "
        f"long, one way: {apart:.1f} m of pipe apart, out and back, {100.0 * apart / mean:.0f} % "
        f"of the {figures(mean)} m in a loop on average. The flow split says what it does to the "
        "flow; valves, spare pipe or a chamber elsewhere even it out.",
        COMMON_PRACTICE,
    )


def header_wide(plan: SitePlan, pipes: HeaderPipes, least: float) -> Iterator[Finding]:
    """Yield where so many pipes lie in one stretch that its floor grows wide.

    Parameters
    ----------
    plan
        The plan.
    pipes
        Of the loops' tails and of the runs.
    least
        Width that is dug for fewer pipes [m].
    """
    dug = (each for each in plan.stretches if each.medium == "ground")
    widest = max(dug, key=lambda each: floor_of(each, pipes, least), default=None)
    if widest is None or widest.pairs < 2:
        return
    floor = floor_of(widest, pipes, least)
    lie = [counted(len(widest.loops), "loop")] if widest.loops else []
    lie += [counted(len(widest.runs), "chamber")] if widest.runs else []
    if floor >= WIDE_HEADER:
        yield Finding(
            "header_wide",
            "warning",
            f"{widest.pairs} pairs lie in one header trench: its floor is {floor:.2f} m wide in "
            f"two layers, {floor_of(widest, pipes, least, 1):.2f} m side by side. They lead to "
            f"{listed(lie)}: fewer pairs make it narrower. A chamber more takes tails out of it "
            "and is a run more, so that the setting out tells whether more or fewer do.",
            COMMON_PRACTICE,
        )
