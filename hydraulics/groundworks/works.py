"""How much digging, spoil, bedding, land and time does an array take?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import scipy as sp

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import (
    BORE_FOOT_CAUTION,
    COMMON_PRACTICE,
    OPEN_WATER_CAUTIONS,
    Finding,
)
from hydraulics.groundworks.excavation import (
    BULKING,
    BULKING_SOURCE,
    NOTHING_DUG,
    DugTrench,
    Excavation,
    HeaderTrench,
    SpareCoil,
    Trench,
    as_placed,
    bedding_zone,
    excavation,
    loop_tails,
    loop_trenches,
    on_plan,
    spare_coils,
    tail_way,
)
from hydraulics.groundworks.plan import (
    Block,
    Plan,
    field_block,
    header_length,
    point_plan,
    set_out,
    trench_plan,
)
from hydraulics.groundworks.rules import (
    PLACES_NOT_JUDGED,
    bend_rules,
    bore_centres,
    coil_rules,
    depth_rules,
    field_rules,
    floor_rules,
    header_edge_rules,
    header_length_rules,
    header_rules,
    layer_rules,
    longest_way,
    mat_rules,
    overlap_rules,
    some_placed_rules,
    spacing_rules,
    trench_rules,
    undug_rules,
    way_rules,
)
from hydraulics.groundworks.site_works import DugStretch
from hydraulics.groundworks.tops import tops_over
from hydraulics.layout.circuit import Circuit, Loop, Plant
from hydraulics.layout.contents import Contents, array_contents
from hydraulics.layout.heights import BEDDING
from hydraulics.layout.walk import loops_of, standings
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.plot import HEADER_DEPTH, TRENCH_SPACING, Plot
from hydraulics.plot.site_plan import LAYERS_APART, floor_width
from hydraulics.plot.site_plan import Trench as PlacedTrench
from hydraulics.shallow.neighbours import Line, nearest_two

METRES_PER_HOUR: Final = 40.0 / 6.0  # dug, emptied, backfilled; common practice, no source
RATE_DEPTH: Final = 1.5  # m; the rate is that of trenches so deep; common practice, no source
RATE_SECTION: Final = 2.0  # m³ a metre; from there on volume counts; common practice, no source
ANYWHERE: Final = Plot()
BEDDING_BULKING: Final = sum(BULKING["sand"]) / 2.0  # lorries bring it loose
DRAWN_AT_MOST: Final = 5000  # places on one plan

_DIGGING: Final = (
    "Trenches collapse without warning and a cubic metre of soil weighs more than a tonne: nobody"
    " enters an unsupported or unsloped trench that a competent person has not declared safe, at"
    " any depth. Lay slinkies from the surface. In the UK the law sets no safe depth: support or"
    " batter by risk assessment (CDM 2015; HSE guidance HSG185); in the US OSHA Subpart P rules;"
    " elsewhere follow local codes.",
    "Keep spoil and machines back from the edge (OSHA: 2 ft, 0.6 m at least), fence the trench,"
    " inspect it every shift and after rain, keep a ladder within reach. Trees, foundations, drains"
    " and watercourses need their own distance.",
)
_SERVICES: Final = (
    "Find buried services before digging: plans from every owner, a cable and pipe locator, trial"
    " holes by hand. Look up for overhead lines.",
    "Boreholes and deep trenches can meet groundwater, contaminated ground or gas: licensed"
    " drillers, permits and the groundwater authority's grouting rules apply.",
)


@dataclass(frozen=True, slots=True)
class Works:
    """How the work is done.

    Attributes
    ----------
    bulking
        Gain of volume when dug [-]; the middle of the soil class where None.
    soil
        A key of :data:`BULKING`; needed to dig where no bulking is given.
    bedding_imported
        True where the fine material is brought in; False where it is sieved from the spoil.
    lorry
        Capacity of a lorry, loose [m³].
    metres_per_hour
        Trench dug, emptied and backfilled [m/h]; the usual rate is one of trenches of
        `RATE_SECTION` at the most, and larger ones take as long as their volume does in those.
    laying_temperature
        Of the pipe when it is bent [degC], for the bend limit.
    wet
        Whether the soil is full of water.
    """

    bulking: float | None = None
    soil: str | None = None
    bedding_imported: bool = True
    lorry: float = 10.0
    metres_per_hour: float = METRES_PER_HOUR
    laying_temperature: float = 20.0
    wet: bool = False

    def __post_init__(self) -> None:
        refuse(
            None
            if self.bulking is None
            else number_fault("bulking", 100.0 * self.bulking, "%", at_least=0.0),
            None
            if self.soil is None or self.soil in BULKING
            else Fault("soil", f"{self.soil!r} is not known", self.soil, ", ".join(BULKING)),
            number_fault("lorry", self.lorry, "m³", above=0.0),
            number_fault("metres_per_hour", self.metres_per_hour, "m/h", above=0.0),
            number_fault("laying_temperature", self.laying_temperature, "°C", at_least=-20.0),
        )

    @property
    def gain(self) -> float:
        """Bulking that is used [-]; raises InputError where nothing tells it."""
        if self.soil is None and self.bulking is None:
            text = "nothing tells how the ground bulks; give the soil or its bulking"
            raise InputError(Fault("soil", text, None, ", ".join(BULKING)))
        return sum(BULKING[self.soil or ""]) / 2.0 if self.bulking is None else self.bulking

    def hours(self, dug: Excavation, depth: float) -> float:
        """Hours that a digger takes for a depth [h]; a rate given is one of the trench at hand."""
        metres = dug.length
        if self.metres_per_hour == METRES_PER_HOUR:
            metres = max(metres, dug.dug / RATE_SECTION) * max(depth / RATE_DEPTH, 1.0)
        return metres / self.metres_per_hour


@dataclass(frozen=True, slots=True)
class Prices:
    """The caller's own prices: by item as the bill calls it, in a currency, valid until a day."""

    currency: str
    of: Mapping[str, float]
    valid_until: str = ""


@dataclass(frozen=True, slots=True)
class GroundworksPlan:
    """How the array is dug in.

    Attributes
    ----------
    trench
        Section of the loops' trenches; needed where loops lie in trenches.
    header
        The header trench; None where there is none.
    coil_lengths
        Coil lengths on offer [m] by pipe name.
    prices
        The caller's own, for the bill of quantities; None where none are given.
    """

    works: Works
    trench: Trench | None = None
    header: HeaderTrench | None = None
    coil_lengths: Mapping[str, Sequence[float]] = field(default_factory=dict)
    prices: Prices | None = None


@dataclass(frozen=True, slots=True)
class Drilling:
    """Boreholes.

    Attributes
    ----------
    holes
        Number.
    metres
        Drilled [m].
    grout
        To fill the holes round the pipes [m³], no loss into the ground counted.
    spoil, spoil_loose
        Cuttings as they lay, and loose [m³]; drilled wet they come as slurry of several times
        the volume.
    """

    holes: int
    metres: float
    grout: float
    spoil: float
    spoil_loose: float


@dataclass(frozen=True, slots=True)
class Mats:
    """Pond mats: number, area that they cover when touching in a square grid [m²]."""

    number: int
    area: float


@dataclass(frozen=True, slots=True)
class Groundworks:
    """What an array takes of ground, digging and time.

    Attributes
    ----------
    loops, header, total
        Volumes of the loops' trenches, of the header trench and the pits of spare coils beside it,
        and of all digging.
    bulking
        Used [-].
    lorries
        Loads of spoil taken off site.
    bedding_loads
        Loads of bedding brought, loose as sand.
    digger_hours
        Dug, emptied and backfilled [h]; drilling not counted.
    block
        How the trenches, bores or mats are set out; None where there is nothing to set out.
    available
        Area of the plot [m²]; None where not known.
    plan
        Drawing; None beyond :data:`DRAWN_AT_MOST` places.
    findings
        Rules checked that were not met, and notes.
    cautions
        What can hurt someone, of the kinds of work that there are.
    """

    trenches: tuple[DugTrench, ...]
    loops: Excavation
    header: Excavation
    total: Excavation
    drilling: Drilling | None
    mats: Mats | None
    bulking: float
    lorries: int
    bedding_loads: int
    digger_hours: float
    block: Block | None
    available: float | None
    plan: Plan | None
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]


def _buried(contents: Contents, loops: Sequence[tuple[str, Loop, int]]) -> list[tuple[Pipe, float]]:
    """Pipe in the header trench: headers, runs and the loops' tails, with lengths [m]."""
    laid = [(each.pipe, each.length) for each in contents.pipes if each.part != "loops"]
    for _, loop, count in loops:
        laid += ((pipe, count * length) for pipe, length in loop_tails(loop))
    return laid


def _dug(
    part: str,
    section: Trench,
    works: Works,
    *,
    length: float,
    zone: float,
    pipe: float,
    ended: int = 0,
) -> Excavation:
    """Volumes of a trench; what is at fault is named from the plan."""
    try:
        return excavation(
            section, length, zone, pipe, works.gain,
            bedding_imported=works.bedding_imported,
            ended=ended,
        )  # fmt: skip
    except InputError as error:
        raise InputError(
            *(replace(fault, field=f"{part}.{fault.field}") for fault in error.faults)
        ) from None


@dataclass(frozen=True, slots=True)
class _Array:
    """What there is to lay, dig and drill."""

    circuit: Circuit
    plant: Plant | None
    loops: list[tuple[str, Loop, int]]
    contents: Contents
    trenches: tuple[DugTrench, ...]
    names: list[list[str]]  # of the loops, equal ones each
    dug_for: list[list[str]]  # of the trenches: the loops that equal ones belong to
    loops_dug: Excavation
    drilling: Drilling | None
    mats: Mats | None


@dataclass(frozen=True, slots=True)
class _Laid:
    """Where an array lies, what is dug for its headers, and which rules that breaks."""

    header: Excavation
    block: Block | None = None
    plan: Plan | None = None
    findings: tuple[Finding, ...] = ()


def groundworks(
    circuit: Circuit,
    works: Works,
    trench: Trench | None = None,
    header: HeaderTrench | None = None,
    *,
    plot: Plot = ANYWHERE,
    plant: Plant | None = None,
    field_centres: Sequence[tuple[float, float]] = (),
    stretches: Sequence[DugStretch] | None = None,
    placed: Mapping[str, float] | None = None,
    apart: float | None = None,
) -> Groundworks:
    """Digging, drilling, land and time of an array, with the rules of the trade checked.

    Parameters
    ----------
    trench
        Section of the loops' trenches; needed where the loops lie in trenches.
    header
        The header trench; None where there is none (nothing is added unasked).
    plant
        Its runs lie in the header trench too.
    field_centres
        Where the boreholes stand in the field that they were sized in [m], from its corner; empty
        where they were not sized, or to set them out in a grid as square as can be.
    stretches
        Header trenches of the plan by which the array was set out: they are what is dug, described
        or not, and nothing is set out here. None where there is no plan.
    placed
        Length of each loop's trench on that plan [m], by its name there: dug and bedded as long as
        it is drawn, however much of it what lies in it takes.
    apart
        Least centres of trenches, else boreholes, on that plan [m], see :func:`least_centres`.

    Returns
    -------
    Groundworks
        Volumes, hours, land, plan and findings. Every trench is one trench of one loop.

    Raises
    ------
    InputError
        A loop that does not fit the trench's kind or section, or something needed and not given.
    """
    array = _array(circuit, works, trench, plant, placed or {})
    if stretches is None:
        laid = _in_rows(array, works, trench, header, plot, field_centres=field_centres)
    else:
        laid = _on_plan(header, stretches)
        header = header or HeaderTrench()
    loops, trenches, loops_dug, header_dug = (
        array.loops,
        array.trenches,
        array.loops_dug,
        laid.header,
    )
    coils = [coil for name, loop, count in loops for coil in spare_coils(name, loop, count)]
    pits, widest_pit, coil_cover = _coil_pits(coils, header, works)
    hours = _hours(works, ((loops_dug, trench), (header_dug, header), (pits, header)))
    deepest = max(
        0.0 if trench is None or not trenches else trench.depth,
        0.0 if header is None or not (header_dug + pits).dug else header.depth,
    )
    largest = max(
        (part.dug / part.length for part in (loops_dug, header_dug) if part.length), default=0.0
    )
    has_header = header_dug.length > 0.0
    header_dug += replace(pits, length=0.0)  # they lie beside it, not along it
    total = loops_dug + header_dug
    bedding = total.bedding * (1.0 + BEDDING_BULKING) if works.bedding_imported else 0.0
    if stretches is None:
        apart = plot.spacing
        if _all_placed(array, plot):
            apart = least_centres(plot.trenches if trenches else (), plot.bores, laid.findings)
    rules = [
        *spacing_rules(loops, laid.block, plot, apart=apart, trench=loops_dug.length),
        *bend_rules(loops, works.laying_temperature),
        *laid.findings,
        *undug_rules(header, loops, array.contents, header_dug=has_header),
        *coil_rules(coils, widest_pit, coil_cover, on_plan=stretches is not None),
    ]
    if trench is not None and trenches:
        rules += trench_rules(trenches, trench)
        rules += depth_rules("trench", trench, works.soil, wet=works.wet)
    if header is not None and header_dug.dug > 0.0:
        rules += header_rules(header, on_plan=stretches is not None)
        rules += depth_rules("header trench", header.section, works.soil, wet=works.wet)
    block = laid.block
    no_room = ("site_too_small", "trench_tops_overlap", "header_edge_crosses")
    if block is not None and any(each.code in no_room for each in rules):
        block = replace(block, fits=False)
    spoil = total.away_loose + (array.drilling.spoil_loose if array.drilling else 0.0)
    return Groundworks(
        trenches=trenches,
        loops=loops_dug,
        header=header_dug,
        total=total,
        drilling=array.drilling,
        mats=array.mats,
        bulking=works.gain,
        lorries=math.ceil(spoil / works.lorry - 1e-9),
        bedding_loads=math.ceil(bedding / works.lorry - 1e-9),
        digger_hours=hours,
        block=block,
        available=plot.square_metres,
        plan=laid.plan,
        findings=(*rules, *_assumptions(works, deepest, largest)),
        cautions=_cautions(rules, total, array.drilling, array.mats),
    )


def least_centres(
    trenches: Sequence[Line], bores: Sequence[tuple[float, float]], told: Sequence[Finding] = ()
) -> float | None:
    """Least centres of trenches, else boreholes, by their places [m], to a thousandth of a mm.

    None where there are none: `told` is that trenches run into one another, and those may cross.
    """
    if not trenches:
        return round(float(sp.spatial.distance.pdist(bores).min()), 6) if len(bores) > 1 else None
    if any(each.code == "trench_tops_overlap" for each in told):
        return None
    return round(nearest_two(tuple(trenches)), 6)


def _array(
    circuit: Circuit,
    works: Works,
    trench: Trench | None,
    plant: Plant | None,
    placed: Mapping[str, float],
) -> _Array:
    loops = list(loops_of(circuit))
    names = [each.names for each in standings(circuit) if each.loop is not None]
    trenches: list[DugTrench] = []
    dug_for: list[list[str]] = []
    loops_dug = NOTHING_DUG
    for (name, loop, count), called in zip(loops, names, strict=True):
        passes = 1 if trench is None else trench.passes
        one = on_plan(name, placed) is not None  # all its legs in line in one trench
        legs = as_placed(loop_trenches(name, loop, count, passes), loop, placed)
        for place, dug in enumerate(legs):
            if trench is None:
                text = f"loop {name} lies in a trench; describe it"
                raise InputError(Fault("trench", text, None, "width and depth"))
            trenches.append(dug)
            dug_for.append(called)
            loops_dug += _dug(
                "trench", trench, works,
                length=dug.length * count,
                ended=0 if one and place else count,
                zone=bedding_zone(trench, dug),
                pipe=dug.pipe_volume * count,
            )  # fmt: skip
    return _Array(
        circuit,
        plant,
        loops,
        array_contents(circuit, plant),
        tuple(trenches),
        names,
        dug_for,
        loops_dug,
        _drilling(loops, works.gain),
        _mats(loops),
    )


def _in_rows(
    array: _Array,
    works: Works,
    trench: Trench | None,
    header: HeaderTrench | None,
    plot: Plot,
    *,
    field_centres: Sequence[tuple[float, float]],
) -> _Laid:
    """Set the array out in rows of its own; the header trench lies along them."""
    loops, trenches, drilling, mats = array.loops, array.trenches, array.drilling, array.mats
    block, plan = _set_out(array, trench, plot, field_centres)
    if block is not None and (left_out := _left_out(trenches, drilling, mats)):
        block = replace(block, left_out=left_out, fits=None if block.fits else block.fits)
    if plan is not None and header is None:
        plan = replace(plan, lines=tuple(x for x in plan.lines if x.kind != "header_trench"))
    in_ground = block is not None and bool(trenches or drilling)
    along_rows = header_length(block) if block is not None and in_ground else 0.0
    way, counted, header_dug = longest_way(array.circuit, array.plant), 0.0, NOTHING_DUG
    lies: list[Finding] = []
    if header is not None:
        counted = header.length or 0.0
        if header.length is None and in_ground:
            counted = max((along_rows, *(tail_way(loop) for _, loop, _ in loops)))
        if counted > 0.0:
            buried = _buried(array.contents, loops)
            pipe = sum(each.outside_area * length for each, length in buried)
            laid = _lies(header, counted, buried, max(way.whole, along_rows))
            header_dug = _dug(
                "header", header.section, works, length=counted, zone=laid.zone, pipe=pipe
            )
            if buried:
                lies += layer_rules([header.depth - (laid.zone - BEDDING)], laid.above)
                lies += floor_rules(header, laid.pairs, laid.layered, laid.beside)
    drawn = _drawn(plot, trench) if trenches and trench is not None else ()
    placed = _all_placed(array, plot)
    findings = [
        *tops_over(drawn),
        *((PLACES_NOT_JUDGED,) if placed else overlap_rules(block, trench if trenches else None)),
        *(() if placed else some_placed_rules(*_places(array, plot))),
        *(() if in_ground or placed else mat_rules(loops, plot.spacing)),
        *way_rules(header, array.contents, way, along_rows),
        *header_length_rules(header, counted, along_rows, array.circuit, in_ground=in_ground),
        *lies,
    ]
    if drilling is not None and not trenches and not placed:
        findings += field_rules(block, field_centres, drilling.holes, plot)
    if header is not None and header_dug.dug > 0.0:
        findings += header_edge_rules(block if in_ground and not placed else None, header.section)
    if placed:  # rows of its own are not where it lies
        block = plan = None
    return _Laid(header_dug, block, plan, tuple(findings))


def _drawn(plot: Plot, trench: Trench) -> tuple[PlacedTrench, ...]:
    """The trenches that have their places on a plot, as wide and deep as they are dug."""
    names = plot.trench_loops or tuple(str(n + 1) for n in range(len(plot.trenches)))
    return tuple(
        PlacedTrench(name, line, trench.width, trench.top_width, trench.depth)
        for name, line in zip(names, plot.trenches, strict=True)
    )


def _places(array: _Array, plot: Plot) -> tuple[int, int]:
    """Trenches, else boreholes, else mats that have their places on the plot, and how many are."""
    if array.trenches:
        loops = {each.loop: each.count for each in array.trenches}
        return len(plot.trenches), sum(loops.values())
    if array.drilling is not None:
        return len(plot.bores), array.drilling.holes
    return len(plot.mats), array.mats.number if array.mats is not None else 0


def _all_placed(array: _Array, plot: Plot) -> bool:
    """Whether every trench, else borehole, else mat of the array has its place on the plot."""
    have, wanted = _places(array, plot)
    return 0 < wanted <= have


def _on_plan(header: HeaderTrench | None, stretches: Sequence[DugStretch]) -> _Laid:
    """What the plan has set out: its header trenches, each piece once."""
    dug = sum((each.volumes for each in stretches), NOTHING_DUG)
    findings: tuple[Finding, ...] = ()
    if header is not None and header.length is not None:
        text = (
            f"The header trench is given as {header.length:g} m long; the plan that the array is"
            f" set out on has {dug.length:.1f} m of it, which are counted. Leave the length out."
        )
        source = "the job's own numbers: header trench, plan"
        findings = (Finding("header_trench_differs", "warning", text, source),)
    layers = layer_rules([each.cover for each in stretches], LAYERS_APART)
    return _Laid(dug, findings=(*findings, *layers))


def _cautions(
    rules: Sequence[Finding], total: Excavation, drilling: Drilling | None, mats: Mats | None
) -> tuple[str, ...]:
    """Cautions of the work that there is, trenches that are not counted included."""
    undug = any(each.code in ("pipe_not_dug", "run_not_dug") for each in rules)
    digs = total.dug > 0.0 or undug
    return (
        *(_DIGGING if digs else ()),
        *(_SERVICES if digs or drilling is not None else ()),
        *((BORE_FOOT_CAUTION,) if drilling is not None else ()),
        *(OPEN_WATER_CAUTIONS if mats is not None else ()),
    )


@dataclass(frozen=True, slots=True)
class _Lies:
    """How pipe lies in a header trench: pairs on the average, and lengths [m].

    `zone`, its height with its bedding; `above`, of flow over return, 0 beside it; `layered`,
    `beside`, the floor that the pairs take in two layers and in one.
    """

    zone: float
    above: float
    pairs: int
    layered: float
    beside: float


def _lies(
    header: HeaderTrench, length: float, laid: Sequence[tuple[Pipe, float]], way: float
) -> _Lies:
    """How pipe lies in a header trench.

    Return on the floor, and flow above it as far as the two are to be apart, as on a plan; in one
    layer where the floor has room for all of it side by side, so far apart. More where a layer does
    not hold its pipe: bedding round all, half of the layer pipe (common practice, no source).

    Parameters
    ----------
    length
        That is dug [m].
    laid
        Pipe in it, with lengths [m].
    way
        Longest way of what lies in it [m].

    Raises
    ------
    InputError
        The trench is too short: not even one of the usual depth would hold so much pipe.
    """
    pipe = sum(each.outside_area * metres for each, metres in laid)
    floor, deep = 2.0 * pipe / header.width, max(header.depth, HEADER_DEPTH)
    if 2.0 * BEDDING + floor / length > deep:
        least = max(math.ceil(100.0 * floor / (deep - 2.0 * BEDDING)) / 100.0, way)
        text = (
            f"headers, runs and tails are {pipe:.3g} m³ of pipe, which with its bedding does not"
            f" fit into a header trench {length:.6g} m long, even {deep:g} m deep; give the"
            f" trench's whole length, {least:.6g} m or more"
        )
        raise InputError(Fault("header.length", text, header.length, f"{least:.6g} m or more"))
    highest = max((each.outside_diameter for each, _ in laid), default=0.0)
    pairs = math.ceil(0.5 * sum(metres for _, metres in laid) / length - 1e-9)
    if not pairs:
        return _Lies(2.0 * BEDDING, 0.0, 0, 0.0, 0.0)
    apart = LAYERS_APART if header.separation is None else header.separation
    across = 0.5 * sum(each.outside_diameter * metres for each, metres in laid) / length
    layered = floor_width(pairs, across / pairs, 0.0)
    beside = floor_width(pairs, highest, 0.0, layers=1, apart=apart)
    if header.width >= beside * (1.0 - 1e-9):
        return _Lies(2.0 * BEDDING + max(highest, floor / length), 0.0, pairs, layered, beside)
    above = max(apart, highest)  # pipe lies on pipe where nothing is to be between
    height = max(above + max(highest, 0.5 * floor / length), floor / length)
    return _Lies(2.0 * BEDDING + height, above, pairs, layered, beside)


def _coil_pits(
    coils: Sequence[SpareCoil], header: HeaderTrench | None, works: Works
) -> tuple[Excavation, Trench | None, float]:
    """Pits of spare coils, as deep as the header trench, the widest section, the least cover."""
    pits, widest, cover = NOTHING_DUG, None, math.inf
    for coil in coils if header is not None else ():
        assert header is not None
        section, height = coil.pit(header.depth, header.side_slope)
        cover = min(cover, header.depth - BEDDING - height)
        # All four sides: one that is open to the header trench is counted as if it were not.
        pits += _dug(
            "header", section, works,
            ended=coil.count,
            length=section.width * coil.count,
            zone=2.0 * BEDDING + height,
            pipe=coil.count * coil.length * coil.pipe.outside_area,
        )  # fmt: skip
        if widest is None or section.width > widest.width:
            widest = section
    return pits, widest, cover


def _left_out(trenches: Sequence[DugTrench], drilling: Drilling | None, mats: Mats | None) -> str:
    """What is not set out, in words, since something else is; empty where nothing is left out."""
    left = []
    if trenches and drilling is not None:
        left.append(f"{drilling.holes} borehole{'s' * (drilling.holes > 1)}")
    if (trenches or drilling) and mats is not None:
        left.append(f"{mats.number} mat{'s' * (mats.number > 1)}")
    return " and ".join(left)


def _assumptions(works: Works, deepest: float, largest: float) -> Iterator[Finding]:
    """What was taken for granted, and how far it may be out.

    Parameters
    ----------
    deepest
        Of what is dug [m], 0 where nothing is.
    largest
        Section that is dug [m³ a metre].
    """
    if works.bulking is None and works.soil is not None:
        low, high = BULKING[works.soil]
        yield Finding(
            "bulking_range", "info",
            f"Bulking of {works.soil.replace('_', ' ')} is {100 * low:.0f} to {100 * high:.0f} %;"
            f" {100 * works.gain:.1f} % was used, so loose volumes are uncertain by"
            f" {100 * (high - low) / (2 + low + high):.0f} %.",
            BULKING_SOURCE,
        )  # fmt: skip
    if deepest > 0.0 and works.metres_per_hour == METRES_PER_HOUR:
        beyond = deepest > RATE_DEPTH or largest > RATE_SECTION
        text = (
            "Digger hours are at 40 m of trench in 6 h, dug, emptied and backfilled, which holds"
            f" to {RATE_DEPTH:g} m deep and {RATE_SECTION:g} m³ a metre; rock, support and wet"
            " ground take longer."
        )
        if beyond:
            text += (
                f" Here it is up to {deepest:.2f} m deep and {largest:.1f} m³ a metre: hours are"
                f" by volume, {RATE_SECTION * METRES_PER_HOUR:.1f} m³ an hour, where that is more,"
                f" and longer in proportion to a depth beyond {RATE_DEPTH:g} m. Give the rate of"
                " the digger at hand."
            )
        yield Finding("digger_rate_assumed", "warning" if beyond else "info", text, COMMON_PRACTICE)


def _hours(works: Works, parts: Sequence[tuple[Excavation, Trench | HeaderTrench | None]]) -> float:
    """Digger hours of what is dug, each part as deep as its trench [h]."""
    return math.fsum(works.hours(dug, at.depth if at is not None else 0.0) for dug, at in parts)


def _drilling(loops: list[tuple[str, Loop, int]], bulking: float) -> Drilling | None:
    holes, metres, pipe_volume, spoil = 0, 0.0, 0.0, 0.0
    for name, loop, count in loops:
        for leg in loop.legs:
            if (hole := leg.borehole) is None:
                continue
            if hole.diameter is None:
                raise InputError(
                    Fault(
                        "circuit",
                        f"loop {name} hangs in a borehole whose diameter is not told; give it in "
                        "the borehole's leg",
                        None,
                        "a diameter more than 0 mm",
                    )
                )
            pipes = 2 * hole.u_tubes * hole.depth * (leg.pipe or loop.pipe).outside_area
            inside = 0.25 * math.pi * hole.diameter**2 * hole.depth
            holes += count
            metres += count * hole.depth
            pipe_volume += count * pipes
            spoil += count * inside
    if not holes:
        return None
    return Drilling(holes, metres, spoil - pipe_volume, spoil, spoil * (1.0 + bulking))


def _mats(loops: list[tuple[str, Loop, int]]) -> Mats | None:
    number, area = 0, 0.0
    for _, loop, count in loops:
        for leg in loop.legs:
            if (water := leg.water) is not None:
                number += count * water.mats
                area += count * water.mats * water.diameter**2
    return Mats(number, area) if number else None


def _set_out(
    array: _Array,
    trench: Trench | None,
    plot: Plot,
    field_centres: Sequence[tuple[float, float]],
) -> tuple[Block | None, Plan | None]:
    """Setting out and drawing of trenches, where there are any, else of bores, else of mats."""
    trenches = array.trenches
    if trenches and trench is not None:
        places = sum(dug.count for dug in trenches)
        longest = max(dug.length for dug in trenches)
        body = max(trench.top_width, *(dug.across for dug in trenches))
        pitch = plot.spacing or TRENCH_SPACING
        block = set_out(places, longest, pitch, plot.border, plot, body=body, ends=trench.ends)
        if places > DRAWN_AT_MOST:
            return block, None
        labels = [name for called in array.dug_for for name in called]
        return block, trench_plan(block, trenches, labels, trench.top_width, plot)
    legs = [
        (called, leg)
        for (_, loop, _), called in zip(array.loops, array.names, strict=True)
        for leg in loop.legs
    ]
    holes = [leg.borehole for _, leg in legs if leg.borehole]
    waters = [leg.water for _, leg in legs if leg.water]
    drawn = [(called, 1) for called, leg in legs if leg.borehole]
    drawn = drawn or [(called, leg.water.mats) for called, leg in legs if leg.water]
    places = sum(len(called) * each for called, each in drawn)
    if not places:
        return None, None
    drilled = bool(holes)
    deepest = max((hole.depth for hole in holes), default=0.0)
    widest = max((water.diameter for water in waters), default=0.0)
    if drilled and len(field_centres) == places > 1:
        block = field_block(field_centres, plot.border, plot)
    elif drilled:
        pitch = plot.spacing or bore_centres(deepest)
        block = set_out(places, 0.0, pitch, plot.border, plot)
    else:
        pitch = max(plot.spacing or 0.0, widest)
        block = set_out(places, 0.0, pitch, plot.border, plot, body=widest)
    if places > DRAWN_AT_MOST:
        return block, None
    labels = [
        name if each == 1 else f"{name}-{mat}"
        for called, each in drawn
        for name in called
        for mat in range(1, each + 1)
    ]
    diameter = max((hole.diameter or 0.0 for hole in holes), default=widest)
    return block, point_plan(block, labels, diameter, "borehole" if drilled else "mat", plot)
