"""Does an array in the ground keep the rules of the trade and of trench safety?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from hydraulics.findings import COMMON_PRACTICE, Finding, beyond, listed, up_to_centimetre
from hydraulics.groundworks.excavation import (
    DugTrench,
    HeaderTrench,
    SpareCoil,
    Trench,
    bedding_zone,
    in_water,
    loop_tails,
    spare_coils,
    tail_way,
)
from hydraulics.groundworks.plan import Block
from hydraulics.layout.circuit import Circuit, Loop, Plant
from hydraulics.layout.contents import Contents
from hydraulics.layout.heights import BEDDING
from hydraulics.layout.legs import Leg
from hydraulics.layout.walk import Standing, circuits_of, headers_of, standings
from hydraulics.pipework.pipe import (
    PE_BEND_SOURCE,
    bend_temperature,
    pe_bend_radius,
    tight_bend,
    told_bend,
)
from hydraulics.plot.plot import BORDER, HEADER_DEPTH, TRENCH_SPACING, Plot
from hydraulics.plot.site_plan import LAYERS_APART

DEPTH_SLACK: Final = 0.15  # m between depths that are taken as one; common practice, no source
SEPARATION: Final = 0.3  # m between flow and return in one trench; common practice, no source
LEAST_COVER: Final = 0.75  # m above pipe; usual for water services (UK)
LADDER_DEPTH: Final = 4 * 0.3048  # m; OSHA 1926.651(c)(2)
SUPPORT_DEPTH: Final = 5 * 0.3048  # m; OSHA 1926.652(a)(1)
BENCH_FACE: Final = 4 * 0.3048  # m, of each face; OSHA, figures of Appendix B (from memory)
ENGINEER_DEPTH: Final = 20 * 0.3048  # m; OSHA 1926.652(b)

OSHA_SOURCE: Final = (
    "US OSHA 29 CFR 1926 Subpart P (numbers read in a contractors' summary): protection from 5 ft"
    " (1.52 m) unless stable rock, and below it unless a competent person finds no sign of cave-in;"
    " way out within 25 ft from 4 ft; spoil 2 ft back"
)
OSHA_SLOPES: Final[Mapping[str, float]] = MappingProxyType({"A": 0.75, "B": 1.0, "C": 1.5})
"""Steepest slope of a trench side by OSHA soil type, horizontal to vertical, up to 20 ft deep (29
CFR 1926 Subpart P, Appendix B; read in a reproduction)."""
OSHA_TYPES: Final[Mapping[str, str]] = MappingProxyType(
    {"gravel": "C", "sand": "C", "silt": "B", "clay": "A", "peat": "C", "weak_rock": "B"}
)
"""The best OSHA soil type that a class of soil may be, all being C when full of water (29 CFR 1926
Subpart P, Appendix A, read in a reproduction: clay is A where it is stiff, silt and dry rock that
is not stable B, gravel and sand C, as what is submerged or seeps). Peat is no class there, and is
taken as soft, on the safe side; so is angular gravel, which may be B."""
COHESIVE: Final = "clay"  # the class that may stand in benches: "in cohesive soil only" (App. B)
BENCH_SOURCE: Final = (
    "US OSHA 29 CFR 1926 Subpart P, Appendix B: benches with faces of 4 ft (1.22 m) and sides no"
    " steeper overall than a slope may be, in cohesive soil alone and none in soil type C (figures"
    " from memory, slopes read)"
)


_SAME: Final = 1e-3
"""Places are told to the millimetre, and classes of distance of a large field are 0.2 % wide."""


def bore_centres(depth: float) -> float:
    """Least centres of boreholes: 5 m to 50 m deep, 6 m beyond (VDI 4640-2:2001, read)."""
    return 5.0 if depth <= 50.0 else 6.0


def bores_close(depth: float, centres: float | None) -> Iterator[Finding]:
    """Whether boreholes so deep stand so near to one another [m]; None: not told, or only one."""
    if centres is None or centres >= bore_centres(depth) * (1.0 - _SAME):
        return
    yield Finding(
        "bore_centres_close", "warning",
        f"Boreholes {depth:g} m deep at {centres:.3g} m centres are closer than"
        f" {bore_centres(depth):g} m and draw on the same ground, which a sizing of their field"
        " counts; mind that bores drift.",
        "VDI 4640-2:2001: 5 m to 50 m deep, 6 m to 100 m (read in a reproduction)",
    )  # fmt: skip


def spacing_rules(
    loops: Sequence[tuple[str, Loop, int]],
    block: Block | None,
    plot: Plot,
    *,
    apart: float | None,
    trench: float,
) -> Iterator[Finding]:
    """Centres, borders and room on the plot; metres of loops' trenches, 0 where there are none.

    `apart`: centres of trenches or boreholes [m], None for the usual.
    """
    border, available = plot.border, plot.square_metres
    if trench > 0.0 and apart is not None and apart < TRENCH_SPACING * (1.0 - _SAME):
        yield Finding(
            "trench_centres_close", "warning",
            f"Trenches at {apart:.5g} m centres are closer than {TRENCH_SPACING:g} m:"
            " they draw on the same ground. A sizing at the plot's spacing counts that; a"
            " published rate does not.",
            COMMON_PRACTICE,
        )  # fmt: skip
    deepest = max(
        (hole.depth for _, loop, _ in loops for leg in loop.legs if (hole := leg.borehole)),
        default=0.0,
    )
    if deepest:
        # In the field that was sized they stand as that has them, whatever spacing is told.
        yield from bores_close(deepest, block.pitch_across if block and block.centres else apart)
    # Straight pipe is a loop of its own where it has a trench, and the tail of mats where not.
    in_ground = trench > 0.0 or any(
        leg.water is None and not leg.is_tail for _, loop, _ in loops for leg in loop.legs
    )
    if block is not None and border < BORDER and in_ground:
        yield Finding(
            "border_small", "warning",
            f"{border:g} m to the boundary is less than {BORDER:g} m: the array draws"
            " heat from the neighbour's ground and digging may undermine it.",
            COMMON_PRACTICE,
        )  # fmt: skip
    if block is not None and block.fits is False:
        yield Finding(
            "does_not_fit_site", "error",
            f"{_counted(block.places, 'place')} {'takes' if block.places == 1 else 'take'}"
            f" {block.width:.1f} m by {block.length:.1f} m with"
            " borders, which does not lie within the plot either way round.",
            "setting out in equal rows",
        )  # fmt: skip
    elif block is not None and available is not None and block.area > available:
        yield Finding(
            "site_too_small", "error",
            f"The array takes {block.area:.0f} m² with borders;"
            f" {available:.0f} m² are available.",
            "setting out in equal rows",
        )  # fmt: skip
    if short := plot.trench_shortage(trench):
        yield Finding("site_too_small", "error", f"{short}.", "trench that can be dug, as given")
    if block is not None and block.left_out:
        yield Finding(
            "places_left_out", "error",
            f"Ground taken and plan hold {_counted(block.places, 'place')} of one kind and leave"
            f" out {block.left_out}, so that nothing tells whether the whole array fits the plot."
            " Ask about each kind as a job of its own, on its own part of the plot.",
            "one kind of place is set out at a time",
        )  # fmt: skip


PLACES_NOT_JUDGED: Final = Finding(
    "places_not_judged", "warning",
    "The places that the plot gives are held against one another only. Boundary, border, keep-outs "
    "and water, and whether each place is large enough for its loop, are judged where the array is "
    "set out on the plot: have that done before anyone digs.",
    "the job's own parts",
)  # fmt: skip


def some_placed_rules(have: int, wanted: int) -> Iterator[Finding]:
    """Tell of places on the plot for fewer than there are, which no row keeps."""
    if 0 < have < wanted:
        yield Finding(
            "places_not_judged", "warning",
            f"The plot has places for {have:,} of {wanted:,}, and they are not kept here: land, "
            "drawing and whether it fits are of equal rows of all. Give each of the others its "
            "place, too, and have the array set out on the plot.",
            "the job's own parts",
        )  # fmt: skip


def bend_rules(
    loops: Sequence[tuple[str, Loop, int]], laying_temperature: float
) -> Iterator[Finding]:
    """Tightest bend of each pipe against the coil it came in, and against cold bending."""
    tightest: dict[tuple[str, float, str], tuple[float, str]] = {}
    for name, loop, _ in loops:
        for leg in loop.legs:
            pipe = leg.pipe or loop.pipe
            bend = leg.bend
            if bend is not None:
                floor = 2.0 * pe_bend_radius(pipe.outside_diameter, laying_temperature)
                advice = _bend_advice(leg, floor + pipe.outside_diameter)
                key = (pipe.name, pipe.outside_diameter, advice)
                held = tightest.get(key)
                if held is None or bend < held[0]:
                    tightest[key] = (bend, name)
    covered = bend_temperature(laying_temperature)
    at = f"{covered:g} °C" + " and warmer" * (laying_temperature > covered)
    if laying_temperature < covered:
        at += ", the coldest that the limit is published for (this pipe is at"
        at += f" {laying_temperature:g} °C: do not bend it there without its maker's word)"
    for (pipe_name, outside, advice), (bend, name) in tightest.items():
        limit = pe_bend_radius(outside, laying_temperature)
        if (tight := tight_bend(pipe_name, outside, bend, name)) is not None:
            yield tight
        elif 0.5 * bend < limit * (1.0 - 1e-9) or laying_temperature < covered:
            yield Finding(
                "bend_below_cold_limit", "warning",
                f"{told_bend(pipe_name, outside, bend, name)}; straight pipe may be bent cold to"
                f" {limit:.2f} m at {at}. {advice}, and do not lay in frost.",
                PE_BEND_SOURCE,
            )  # fmt: skip


def _bend_advice(leg: Leg, floor: float) -> str:
    """What to do where a leg bends its pipe tighter than straight pipe may be.

    Turns between passes that are wide enough take so much of the trench's floor [m].
    """
    if (lies := leg.trench) is None:
        return "Pipe from a coil keeps its set (common practice), but ask the pipe maker"
    if lies.coils:
        return (
            "Coiled pipe keeps its set and slinkies are laid so (common practice), but ask the pipe"
            " maker"
        )
    return (
        "Make the turns between passes wider, and the trench's floor with them"
        f" ({up_to_centimetre(floor):.2f} m at the least), or of fittings, or ask"
        " the pipe maker"
    )


def trench_rules(trenches: Sequence[DugTrench], trench: Trench) -> Iterator[Finding]:
    """Whether coils and passes fit into the trench and lie deep enough."""
    for dug in trenches:
        lies = dug.lies
        if dug.across > trench.width * (1.0 + 1e-9):
            what, less = f"A coil of loop {dug.loop} is", "wind smaller coils"
            if not lies.coils and lies.turn + dug.outside_diameter >= dug.across:
                what = f"A turn between passes of loop {dug.loop} is"
                less = "make the turns of fittings"
            elif not lies.coils:
                how = "side by side" if lies.spacing is None else f"at {lies.spacing:g} m"
                what = f"{lies.pipes} passes of loop {dug.loop} {how} are"
                less = "lay fewer passes"
                less += "" if lies.spacing is None else " or closer ones"
                less += ", and size the array for them"
            elif lies.upright:
                what = f"Upright coils of loop {dug.loop}, whose pipe crosses itself, are"
                less = "take a smaller pipe"
            yield Finding(
                "trench_too_narrow", "error",
                f"{what} {up_to_centimetre(dug.across):.2f} m across; the trench's"
                f" floor is {trench.width:.2f} m wide. Widen it or {less}.",
                "geometry",
            )  # fmt: skip
            break
    for dug in trenches:
        depth, lowest = dug.lies.depth, trench.lies
        if dug.lies.upright:
            lowest -= 0.5 * dug.lies.coil_diameter
        if depth is not None and abs(depth - lowest) > DEPTH_SLACK:
            yield Finding(
                "depth_contradicts_trench", "warning",
                f"Loop {dug.loop} was taken to lie {depth:.2f} m deep; in this trench, which is"
                f" {trench.depth:.2f} m deep with {trench.bedding_below:.2f} m of bedding"
                f" below, it lies {lowest:.2f} m deep. Make the two agree: depth changes what"
                " the ground gives, and what is dug.",
                "the job's own numbers: depth of the leg, depth of the trench",
            )  # fmt: skip
            break
    highest = max(bedding_zone(trench, dug) - trench.bedding_above for dug in trenches)
    yield from cover_rules("the pipe", trench.depth - highest, "a deeper array runs warmer")


def cover_rules(what: str, cover: float, why: str) -> Iterator[Finding]:
    """Whether ground enough covers pipe [m]; what it is and what more there is to say of it."""
    if cover < LEAST_COVER - 1e-9:
        yield Finding(
            "cover_shallow", "warning",
            f"Only {beyond(cover, LEAST_COVER, 2)} m of ground cover {what};"
            f" {LEAST_COVER:g} m are usual against"
            f" frost, ploughs and spades, and {why}.",
            "UK Water Supply (Water Fittings) Regulations 1999, for water services: 0.75 m (read in"
            " a guide)",
        )  # fmt: skip


def layer_rules(covers: Sequence[float], above: float) -> Iterator[Finding]:
    """Whether ground enough covers pipe in header trenches [m], flow so far above return [m].

    `above`: 0 where all lies side by side.
    """
    least = min(covers, default=LEAST_COVER)
    deeper = up_to_centimetre(LEAST_COVER - least)
    yield from cover_rules(
        f"the {'flow ' if above else ''}pipes of the header trench", least,
        (f"they lie {above:g} m above the return: " if above else "")
        + f"dig it {deeper:.2f} m deeper",
    )  # fmt: skip


def undug_rules(
    header: HeaderTrench | None,
    loops: Sequence[tuple[str, Loop, int]],
    contents: Contents,
    *,
    header_dug: bool,
) -> Iterator[Finding]:
    """Whatever would lie in the header trench where none is dug."""
    if header_dug:
        return
    how = "Describe the header trench" if header is None else "Give the header trench's length"
    source = "the job's own numbers: legs of the loops, header trench"
    dry, wet, coils = list[str](), list[str](), list[str]()
    all_sunk = True
    for name, loop, count in loops:
        sunk = in_water(loop)
        all_sunk = all_sunk and sunk
        if loop_tails(loop):
            (wet if sunk else dry).append(f"loop {name}")
        if header is None and spare_coils(name, loop, count):
            coils.append(f"loop {name}")
    lost = [f"the straight tails of {listed(dry)}"] if dry else []
    lost += [f"the coiled pipe of {listed(coils)}"] if coils else []
    sunk_too = [f"the straight tails of {listed(wet)}"] if wet else []
    if contents.length_of("headers") > 0.0:
        (sunk_too if all_sunk else lost).append("the array's headers")
    if lost:
        yield Finding(
            "pipe_not_dug", "error",
            f"In no trench that is counted lie {listed(lost)}: the digging, its hours and its"
            f" spoil are too small. {how}.",
            source,
        )  # fmt: skip
    if sunk_too:
        yield Finding(
            "pipe_not_dug", "warning",
            f"Taken to lie in the water with the mats are {listed(sunk_too)}; a trench through"
            f" the bank is not counted. {how} where there is one.",
            source,
        )  # fmt: skip


def coil_rules(
    coils: Sequence[SpareCoil], widest: Trench | None, cover: float, *, on_plan: bool = False
) -> Iterator[Finding]:
    """Say where spare coils lie; the section of the widest pit, the least cover of a coil [m]."""
    if widest is None:
        return
    yield from cover_rules(
        "pipe that is left in a coil, tied in a bundle", cover,
        "its pit is as deep as the header trench: dig that deeper, or wind larger coils",
    )  # fmt: skip
    names = [f"loop {name}" for name in dict.fromkeys(each.loop for each in coils)]
    number = sum(each.count for each in coils)
    pits = "a pit" if number == 1 else f"{number} pits"
    size, counted = f"{widest.width:.2f} m square", ""
    if widest.side_slope > 0.0:
        size += f" at the floor and {widest.top_width:.2f} m square at the surface"
        counted = (
            " All four sides are counted at the header trench's slope, and what a pit that opens"
            " into that trench shares with it is counted twice: less may be dug."
        )
    yield Finding(
        "spare_coils_room", "info",
        f"Pipe that is left in coils ({listed(names)}) lies in {pits} up to {size}"
        " beside the header trench and as deep: counted with it, "
        + ("and drawn on the plan of the setting out where each has room." if on_plan else
           "but neither drawn on the plan nor part of the ground taken. Find the room.")
        + counted,
        "geometry; turns in a bundle as high as wide (common practice, no source)",
    )  # fmt: skip


def header_rules(header: HeaderTrench, *, on_plan: bool = False) -> Iterator[Finding]:
    """Depth of the header trench, and flow and return kept apart in it: on a plan in two layers."""
    if header.depth < HEADER_DEPTH:
        yield Finding(
            "header_shallow", "warning",
            f"The header trench is {header.depth:g} m deep; {HEADER_DEPTH:g} m and more are"
            " usual.",
            COMMON_PRACTICE,
        )  # fmt: skip
    if on_plan:
        if (header.separation or 0.0) > LAYERS_APART * (1.0 + 1e-9):
            yield Finding(
                "separation_small", "warning",
                f"The plan lays flow {LAYERS_APART:g} m above return, not {header.separation:g} m"
                f" as is asked for. Insulate one of them, or ask for {LAYERS_APART:g} m.",
                COMMON_PRACTICE,
            )  # fmt: skip
        return
    if header.separation is None:
        yield Finding(
            "separation_not_given", "info",
            f"Keep flow and return {SEPARATION:g} m apart in the header trench, or insulate"
            " one of them: side by side they pass heat to one another.",
            COMMON_PRACTICE,
        )  # fmt: skip
    elif header.separation < SEPARATION:
        yield Finding(
            "separation_small", "warning",
            f"Flow and return lie {header.separation:g} m apart in the header trench, less than"
            f" {SEPARATION:g} m; set them apart or insulate one.",
            COMMON_PRACTICE,
        )  # fmt: skip


def floor_rules(
    header: HeaderTrench, pairs: int, layered: float, beside: float
) -> Iterator[Finding]:
    """Whether the floor of a header trench without a plan has room for its pairs of pipes.

    `layered`, `beside`: what they take of it in two layers and in one [m].
    """
    holds = f"The header trench holds {_counted(pairs, 'pair')} of pipes on the average"
    if header.width < layered * (1.0 - 1e-9):
        yield Finding(
            "header_too_narrow", "warning",
            f"{holds}: flow over return, with 50 mm between the pipes of a layer and"
            f" {1e3 * BEDDING:g} mm beside them, they take {up_to_centimetre(layered):.2f} m of"
            f" floor, and more near a manifold. It is counted {header.width:g} m wide; give it that"
            " width, or more.",
            COMMON_PRACTICE,
        )  # fmt: skip
    elif (header.separation or 0.0) > LAYERS_APART and header.width < beside * (1.0 - 1e-9):
        yield Finding(
            "separation_exceeds_trench", "info",
            f"{holds}, which side by side, flow {header.separation:g} m from return, take"
            f" {up_to_centimetre(beside):.2f} m of floor. It is {header.width:g} m"
            " wide: they are counted in two layers, flow so far above return.",
            "geometry",
        )  # fmt: skip


def _slope_needed(trench: Trench, soil: str | None, *, wet: bool) -> tuple[float, str]:
    """Steepest slope of the sides that the ground may bear at the best, and in words how wide."""

    def wide(flat: float) -> str:
        return f"{trench.width + 2.0 * flat * trench.depth:.2f} m"

    floor = f"wide at the surface over a floor of {trench.width:g} m"
    if soil is None:
        kinds = ", ".join(f"{flat:g} to 1 in {kind}" for kind, flat in OSHA_SLOPES.items())
        tops = ", ".join(map(wide, OSHA_SLOPES.values()))
        return (
            OSHA_SLOPES["A"],
            f"By OSHA soil type sides are {kinds} (sand, gravel, wet or soft), or flatter: {tops}"
            f" {floor}.",
        )
    kind = "C" if wet else OSHA_TYPES[soil]
    flat = OSHA_SLOPES[kind]
    name = soil.replace("_", " ") + " full of water" * wet
    return (
        flat,
        f"In {name}, OSHA soil type {kind}{' at the best' * (kind != 'C')}, sides are {flat:g} to 1"
        f" ({math.degrees(math.atan(1.0 / flat)):.0f} degrees) or flatter: {wide(flat)} {floor}.",
    )


def depth_rules(
    what: str, trench: Trench, soil: str | None = None, *, wet: bool = False
) -> Iterator[Finding]:
    """What a trench's depth and its sides ask of those who work in it.

    `soil`: a key of :data:`OSHA_TYPES`, None where not told; `wet`: full of water.
    """
    depth, slope, bench = trench.depth, trench.overall_slope, trench.bench_height
    soils = [kind for kind, flat in OSHA_SLOPES.items() if slope >= flat - 1e-9]
    flat, needed = _slope_needed(trench, soil, wet=wet)
    nobody = f"from {SUPPORT_DEPTH:.2f} m on nobody may enter it without shoring or a trench box"
    if depth > ENGINEER_DEPTH:
        yield Finding(
            "trench_needs_engineer", "error",
            f"The {what} is {depth:.2f} m deep; beyond {ENGINEER_DEPTH:.1f} m its sides must be"
            " designed by a registered engineer.",
            OSHA_SOURCE,
        )  # fmt: skip
    elif depth < SUPPORT_DEPTH:
        pass
    elif bench > 0.0 and soil is not None and (wet or soil != COHESIVE):
        yield Finding(
            "trench_needs_protection", "warning",
            f"The {what} is {depth:.2f} m deep and benched, and benches stand in cohesive ground"
            f" alone, which {soil.replace('_', ' ')}{' full of water' * wet} is not taken for:"
            f" {nobody}. {needed} Lay the pipe from the surface, or slope the sides in place of"
            " benches.",
            BENCH_SOURCE,
        )  # fmt: skip
    elif bench > BENCH_FACE * (1.0 + 1e-9) or (bench > 0.0 and not soils):
        yield Finding(
            "trench_needs_protection", "warning",
            f"The {what} is {depth:.2f} m deep, in vertical faces of {bench:.2f} m, its sides"
            f" {slope:.2f} to 1 overall: {nobody}. Benches stand for them with faces of"
            f" {BENCH_FACE:.2f} m at the most and sides of {OSHA_SLOPES['A']:g} to 1 overall or"
            " flatter. Lay the pipe from the surface, or dig lower and wider benches.",
            BENCH_SOURCE,
        )  # fmt: skip
    elif bench > 0.0:
        cohesive = f"OSHA soil type {', '.join(each for each in soils if each != 'C')}"
        yield Finding(
            "trench_slope", "info",
            f"Benches of the {what}, {slope:.2f} to 1 overall, are flat enough for {cohesive}; a"
            " competent person classes the soil. Soil of type C (sand, gravel, wet or soft) stands"
            " in no benches.",
            BENCH_SOURCE,
        )  # fmt: skip
    elif slope < flat - 1e-9:
        sides = f"its sides at {slope:g} to 1" if slope > 0.0 else "with vertical sides"
        yield Finding(
            "trench_needs_protection", "warning",
            f"The {what} is {depth:.2f} m deep, {sides}: {nobody}. {needed} Lay the pipe from the"
            " surface, or slope the sides so (the volumes change with side_slope), and more where"
            " local codes ask for more.",
            OSHA_SOURCE,
        )  # fmt: skip
    else:
        soft = OSHA_SLOPES["C"]
        advice = (
            ""
            if "C" in soils
            else f" Soil of type C (sand, gravel, wet or soft) takes {soft:g} to 1:"
            f" {trench.width + 2.0 * soft * depth:.2f} m wide at the surface."
        )
        yield Finding(
            "trench_slope", "info",
            f"Sides of the {what} at {slope:g} to 1 are flat enough for OSHA soil type"
            f" {', '.join(soils)}; a competent person classes the soil.{advice}",
            OSHA_SOURCE,
        )  # fmt: skip
    if depth >= LADDER_DEPTH:
        yield Finding(
            "trench_way_out", "info",
            f"The {what} is {depth:.2f} m deep: anyone who may be in it needs a ladder or ramp"
            " within 7.6 m, and the air is tested where gas is possible.",
            OSHA_SOURCE,
        )  # fmt: skip


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}{'s' * (number != 1)}"


def overlap_rules(block: Block | None, trench: Trench | None) -> Iterator[Finding]:
    """Whether neighbouring trenches run into one another at the surface."""
    if block is None or trench is None or block.across == 1:
        return
    if block.pitch_across >= trench.top_width * (1.0 - 1e-9):
        return
    yield Finding(
        "trench_tops_overlap", "error",
        f"Trenches {trench.top_width:.2f} m wide at the surface lie at"
        f" {block.pitch_across:g} m centres: they run into one another, and the soil between"
        " them is counted twice. Set them further apart, dig steeper supported sides, or dig"
        " one wide pit and count its volume by hand.",
        "geometry",
    )  # fmt: skip


def header_edge_rules(block: Block | None, header: Trench) -> Iterator[Finding]:
    """Whether the header trench, as wide as it is at the surface, crosses border or neighbours."""
    if block is None:
        return
    half, beside = 0.5 * header.top_width, 0.5 * min(block.border, block.pitch_across)
    room = block.border + 0.5 * block.ends
    between = math.inf
    if block.span > 0.0 and block.rows > 1:
        room = min(room, block.border - beside)
        behind = block.pitch_along - block.span - 0.5 * block.ends
        between = min(beside, behind)
    over = [
        f"{half - side:.2f} m {where}"
        for side, where in ((room, "over the boundary"), (between, "into trenches of the loops"))
        if half > side + 1e-9
    ]
    if over:
        yield Finding(
            "header_edge_crosses", "error",
            f"The header trench is {header.top_width:.2f} m wide at the surface; as it is drawn it"
            f" reaches {' and '.join(over)}. Dig steeper supported sides, or give a wider border"
            " and more room between trenches.",
            "geometry",
        )  # fmt: skip


def mat_rules(loops: Sequence[tuple[str, Loop, int]], centres: float | None) -> Iterator[Finding]:
    """Whether mats at the centres that are asked for would lie over one another."""
    widest = max(
        (water.diameter for _, loop, _ in loops for leg in loop.legs if (water := leg.water)),
        default=0.0,
    )
    if centres is None or centres >= widest * (1.0 - 1e-9):
        return
    yield Finding(
        "mats_overlap", "warning",
        f"Mats {widest:g} m across at {centres:g} m centres would lie over one another; they"
        f" are set out edge to edge, at {widest:g} m centres. Give centres of that or more.",
        "geometry",
    )  # fmt: skip


def field_rules(
    block: Block | None, centres: Sequence[tuple[float, float]], bores: int, plot: Plot
) -> Iterator[Finding]:
    """Whether the boreholes stand as they were sized, or as nobody told."""
    if block is None or not bores:
        return
    if not centres and plot.spacing is None and bores > 1:
        yield Finding(
            "bore_centres_usual", "warning",
            f"How the {bores} boreholes stand is not told: they are set out at"
            f" {block.pitch_across:g} m centres, the usual for their depth. Give the plot's"
            " spacing, or the whole sizing of the field, the heat load included.",
            COMMON_PRACTICE,
        )  # fmt: skip
    if centres and len(centres) != bores:
        yield Finding(
            "field_not_as_sized", "error",
            f"The sizing has places for {_counted(len(centres), 'borehole')}; the array has"
            f" {bores}, which are set out in {block.rows} x {block.across} instead and draw on"
            " other ground. Size the field for as many boreholes, or drill"
            f" {len(centres)}.",
            "the job's own numbers: places of the field that is sized, boreholes of the array",
        )  # fmt: skip


def header_length_rules(
    header: HeaderTrench | None,
    counted: float,
    along_rows: float,
    circuit: Circuit,
    *,
    in_ground: bool,
) -> Iterator[Finding]:
    """Whether the header trench that is counted is the one that is drawn, and holds the headers."""
    if header is None:
        return
    text = ""
    routes = sum(
        times * length
        for here, times in circuits_of(circuit)
        for _, length in headers_of(here).flow[1:]
    )
    longer = counted > along_rows * (1.0 + 1e-9)
    if header.length is None and not in_ground:
        text = "Nothing lies in the ground along which a header trench could be drawn, so that none"
        text += " is counted: give its length."
    elif header.length is None and routes > counted * (1.0 + 1e-9):
        text = f"The array's headers are {routes:g} m long from their first branch on; the header"
        text += f" trench is counted {counted:g} m long, "
        text += "as the longest tail is" if longer else "as drawn along the rows"
        text += ". Give the header trench's length, or the plot's spacing that the headers were"
        text += " given for."
    elif longer:
        how = "as given" if header.length is not None else "as the longest tail is"
        text = f"The header trench is counted {counted:g} m long, {how}; the plan draws "
        text += (
            f"the {along_rows:g} m of it that lie along the rows, since nothing tells where the"
            " rest lies."
            if along_rows > 0.0
            else "none of it, since nothing tells where it lies."
        )
    elif counted < along_rows * (1.0 - 1e-9):
        text = f"The header trench is counted {counted:g} m long, as given, but the plan"
        text += f" needs {along_rows:g} m along the rows. Leave its length out, or give more."
    if text:
        source = "the job's own numbers: header trench, headers of the array, setting out"
        info = longer and (header.length is not None or routes <= counted)
        yield Finding("header_trench_differs", "info" if info else "warning", text, source)


@dataclass(frozen=True, slots=True)
class Way:
    """Trench from the heat pump to where pipe leads furthest, one way.

    Attributes
    ----------
    runs
        As far as runs lead [m].
    whole
        Runs, headers and the loop's tails [m].
    loop
        That the whole way leads to.
    """

    runs: float
    whole: float
    loop: str


def longest_way(circuit: Circuit, plant: Plant | None) -> Way:
    """Longest way from the heat pump to a loop along runs, headers and tails."""

    def runs(each: Standing | None) -> float:
        if each is None:
            return sum(run.length for run in plant.runs) if plant is not None else 0.0
        return sum(run.length for run in each.branch.runs) + runs(each.above)

    def headers(each: Standing | None) -> float:
        if each is None:
            return 0.0
        before = each.circuit.branches[: each.place[-1] + 1]
        piped = each.circuit.arrangement != "manifold"
        own = sum(branch.count * branch.header_length for branch in before) if piped else 0.0
        return own + headers(each.above)

    ends = [each for each in standings(circuit) if each.loop is not None]
    ways = [
        (runs(each) + (0.0 if in_water(loop) else headers(each) + tail_way(loop)), each.name)
        for each in ends
        if (loop := each.loop) is not None
    ]
    whole, name = max(ways, key=lambda way: way[0], default=(runs(None), ""))
    return Way(max(map(runs, ends), default=runs(None)), whole, name)


def way_rules(
    header: HeaderTrench | None, contents: Contents, way: Way, along_rows: float
) -> Iterator[Finding]:
    """Say what of runs, headers and tails is not in the header trench that is given or drawn."""
    source = "the job's own numbers: lengths of runs, headers and tails"
    # Of no given length the trench is along the rows, and nothing tells that the runs lie there.
    given = header is not None and header.length is not None
    whole = max(way.whole, along_rows + (0.0 if given else way.runs))
    ask = (
        f"Give the header trench's whole length, {whole:g} m or more, less what of it is not buried"
        " or lies twice in one trench."
    )
    # Two pipes lie side by side in every run.
    length = 0.5 * (contents.length_of("plant_runs") + contents.length_of("runs"))
    if header is not None and header.length is not None:
        if header.length >= way.whole * (1.0 - 1e-9):
            return
        counted = f"The header trench is counted {header.length:g} m long, as given, and"
        short = f"{way.whole - header.length:g} m of trench or more are not counted. {ask}"
        if header.length < way.runs * (1.0 - 1e-9):
            yield Finding(
                "run_not_dug", "warning",
                f"{counted} the runs in it lead {way.runs:g} m from the heat pump, out and back"
                f" side by side: {short}",
                source,
            )  # fmt: skip
        else:
            yield Finding(
                "tail_not_dug", "warning",
                f"{counted} runs, headers and tails in it lead {way.whole:g} m to loop {way.loop},"
                f" out and back side by side: {short}",
                source,
            )  # fmt: skip
    elif length > 0.0:
        yield Finding(
            "run_not_dug", "warning",
            f"The runs to the array are {length:g} m long; the trench that they lie in is not"
            f" counted, at most that along the rows or the tails is. {ask}",
            source,
        )  # fmt: skip
