"""Set out what is asked on a plot: place it, put chambers, lead tails and runs, dig once."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial, reduce
from itertools import islice, pairwise
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

from hydraulics.checks import refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, counted, listed, up_to_centimetre
from hydraulics.plot import chambers as chamber_places
from hydraulics.plot.asked import (
    LEAST_GROUND,
    MOST_LOOPS,
    AsDrawn,
    BoreField,
    ChamberRule,
    HeaderRules,
    Lay,
    ParallelTrenches,
    PondMats,
    Prices,
    name_of,
)
from hydraulics.plot.bores import Field, compact, spread
from hydraulics.plot.by_hand import drawn_faults, told
from hydraulics.plot.findings import OF_SEARCH, idle_chambers, of_plan
from hydraulics.plot.led import kept_led
from hydraulics.plot.levels import contour_of
from hydraulics.plot.network import Network, all_led, free_at, network
from hydraulics.plot.parallel import (
    FAN,
    MOST_SIDES,
    NO_SIDE,
    Asked,
    Direction,
    Family,
    Frame,
    Ground,
    Layout,
    directions,
    ground_along,
    longest_equal,
    most_on_spines,
    most_packed,
    sides_tried,
    so_many,
    spine_layouts,
    staggered_layouts,
)
from hydraulics.plot.profile import height_findings
from hydraulics.plot.routes import STARTS, Pair, routed
from hydraulics.plot.site import Point, SitePlot, spot
from hydraulics.plot.site_plan import (
    TOLD_TO,
    Bore,
    Capacity,
    Chamber,
    Mat,
    Place,
    PlacedBy,
    Route,
    SitePlan,
    Trench,
    loops_of,
    places,
)
from hydraulics.plot.stance import lay_on, plan_back, plot_on, stance_of
from hydraulics.plot.stretches import stretches
from hydraulics.plot.usable import (
    CORNERS,
    array_ground,
    grown,
    header_and_outs,
    mat_ground,
    polygons,
    reached_part,
    within_reach,
)

SPINES_PREFERRED: Final = 0.8  # of the length that staggered trenches would have
CENTRES_STEP: Final = 0.25  # m
SPINES_ROUTED: Final = 4  # of the likely cheapest layouts
STAGGERED_ROUTED: Final = 2
ALIKE: Final = 1.0  # m that two layouts may differ by, of which one is routed
SAME_PLACE: Final = 0.01  # m; chambers nearer to one another are one
ROUND_THE_WAY_OUT: Final = (1.0, 2.5, 5.0)  # times what a header needs beside it
ROOM: Final = 1e-4  # m, so that a chamber is not on the edge of what blocks it
WORTH_TRYING: Final = 1.25  # times the least estimate, up to which a layout is routed
PLACES: Final[tuple[Place, ...]] = ("most_even", "least_pipe", "least_digging")
ALIKE_APART: Final = 0.005  # of their distance that bores may differ by and lie as near
TURNED: Final = 0.01  # rad that directions may differ by and be one
SPUR: Final = 1e-3  # m off itself that a way comes back by
NO_WAY: Final = 1e5  # price of a loop or chamber that no way leads to
LED_TRIED: Final = 6  # directions and families in which a layout is to be led
EACH: Final = 2  # layouts of each
EACH_WAY: Final = 12  # layouts of all of them
SHORTER_BY: Final = 0.01  # m, of what is told instead of a length that does not fit
SHORTER: Final = (0.95, 0.85, 0.7, 0.5)  # of the longest that there are places for
HALVED: Final = 2  # times between the longest of these that is led to and the next
ONE_BY_ONE: Final = 40  # numbers of loops that are tried, before steps grow
DETOUR: Final = 1.42  # times the straight way, beyond which shorter ways are looked for
SPREAD_TRIED: Final = 12  # boreholes up to which one more is looked for off the grid
MORE: Final = 5  # loops beyond the fewest of a total length, where those are not led
MOST_NAMED: Final = 5  # keep-outs that a sentence names one by one
MOST_TOLD: Final = 20  # faults of a drawing in one refusal
Given = tuple[Chamber, ...]
Cut = list[tuple[Direction, Ground]]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Array:
    """What gathers heat with its place, and which loops stand on one header."""

    trenches: tuple[Trench, ...] = ()
    bores: tuple[Bore, ...] = ()
    mats: tuple[Mat, ...] = ()
    angle: float = 0.0
    rows: tuple[tuple[int, ...], ...] = ()

    @property
    def loops(self) -> tuple[str, ...]:
        """Names in order."""
        return loops_of(self.trenches, self.bores, self.mats)


def set_out(
    plot: SitePlot,
    lay: Lay,
    rules: HeaderRules = HeaderRules(),  # noqa: B008
    chambers: ChamberRule | Given = ChamberRule(),  # noqa: B008
    prices: Prices = Prices(),  # noqa: B008
) -> SitePlan:
    """Set out an array on a plot.

    Parameters
    ----------
    plot
        The ground.
    lay
        What is laid: parallel trenches, boreholes, mats in water, or what somebody drew.
    rules
        How header trenches lie.
    chambers
        Chambers with their places, or by what rule to place them.
    prices
        By what layouts and ways are compared.

    Returns
    -------
    SitePlan
        The cheapest plan found. Where not all fits, what does is set out, with the finding
        `does_not_fit` and the capacity.

    Raises
    ------
    InputError
        When a chamber stands where nothing may be dug, what is drawn lies where it may not, or the
        stub of a trench is too short.
    """
    if isinstance(lay, ParallelTrenches) or (isinstance(lay, AsDrawn) and lay.trenches):
        refuse(*rules.stub_faults())
    if isinstance(lay, AsDrawn):
        refuse(*_drawn_wrong(plot, lay))
    if not isinstance(chambers, ChamberRule):
        refuse(*_same_chambers(chambers))
    plan = _in_use(plot, lay, rules, chambers, prices)
    if not plan.loops:
        return plan
    idle: list[str] = []
    if not isinstance(chambers, ChamberRule):
        used = {each.name for each in plan.chambers}
        idle = [each.name for each in chambers if each.name not in used]
    if not isinstance(lay, AsDrawn) or isinstance(chambers, ChamberRule):
        by = chambers.place if isinstance(chambers, ChamberRule) else None
        plan = _as_told(plan, rules, prices, by)
    told = (
        *_bounded(plot, lay),
        *of_plan(plan, rules),
        *idle_chambers(idle),
        *height_findings(plan, rules),
    )
    return replace(plan, findings=(*plan.findings, *told))


def _bounded(plot: SitePlot, lay: Lay) -> Iterator[Finding]:
    """What is said where a plot has so many corners that less is tried."""
    if isinstance(lay, AsDrawn) or (tried := sides_tried(plot)) == MOST_SIDES:
        return
    yield Finding(
        "search_bounded",
        "info",
        "The plot with its keep-outs has so many corners that what is laid was tried along and "
        f"across {tried} directions of its sides at most, those of most length, and that fewer "
        "layouts were routed. A plot drawn with fewer corners is searched more closely.",
        OF_SEARCH,
    )


def _in_use(
    plot: SitePlot,
    lay: Lay,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """The plan, without chambers given that all loops are nearer to others than to."""
    plan = _on_own_axes(plot, lay, rules, chambers, prices)
    used = set(plan.loop_chamber.values())
    reached = len(plan.loop_chamber) == len(plan.loops) > 0
    if isinstance(chambers, ChamberRule) or not reached or len(used) == len(chambers):
        return plan
    return _in_use(plot, lay, rules, tuple(c for c in chambers if c.name in used), prices)


def _same_chambers(given: Given) -> Iterator[Fault]:
    """Chambers of one name, or in one place."""
    for number, each in enumerate(given):
        for other in given[:number]:
            if each.name == other.name:
                text = f"'{each.name}' is the name of another chamber too"
                yield Fault(f"chambers.{number}.name", text, each.name, "a name of its own")
            elif math.dist(each.at, other.at) < SAME_PLACE:
                text = f"{each.name} stands where {other.name} does; loops of one place are one"
                allowed = f"{SAME_PLACE:g} m or more from any other"
                yield Fault(f"chambers.{number}", f"{text} chamber", each.at, allowed)


def _as_told(found: SitePlan, rules: HeaderRules, prices: Prices, by: Place | None) -> SitePlan:
    """The plan with the places of one found, as they are told: who draws them has this very plan.

    Of chambers placed, every choice is led so, and each objective has the best of them: whoever
    asks for it has what is told of it. Where no place as it is told is one, the plan stays as it
    was found.
    """
    choices = dict.fromkeys([found.chambers, *(each.chambers for each in found.placed_by)])
    led = [plan for at in choices if (plan := _led_as_told(found, at, rules, prices))]
    if not led:
        return found
    best = _best(led, prices) if found.placed_by else {}
    return replace(
        led[0] if by is None else best.get(by, led[0]),
        capacity=found.capacity,
        placed_by=_takes(best),
        findings=found.findings,
    )


def _led_as_told(
    found: SitePlan, at: tuple[Chamber, ...], rules: HeaderRules, prices: Prices
) -> SitePlan | None:
    """The plan found with chambers at some places, all of it as it is told; None if it is none."""

    def told(point: Point) -> Point:
        return round(point[0], TOLD_TO) + 0.0, round(point[1], TOLD_TO) + 0.0

    lay = AsDrawn(
        tuple(replace(t, line=tuple(map(told, t.line))) for t in found.trenches),
        tuple(replace(b, at=told(b.at)) for b in found.bores),
        tuple(replace(m, at=told(m.at)) for m in found.mats),
    )
    chambers = tuple(replace(c, at=told(c.at)) for c in at)
    try:
        plan = _in_use(found.plot, lay, rules, chambers, prices)
        if len(plan.chambers) < len(chambers):
            left = tuple(replace(c, name=f"C{n}") for n, c in enumerate(plan.chambers, 1))
            plan = _on_own_axes(found.plot, lay, rules, left, prices)
    except InputError:
        return None
    runs = min(len(found.runs), len(plan.chambers))
    held = len(plan.loop_chamber) >= len(found.loop_chamber) and len(plan.runs) >= runs
    return plan if held else None


def _best(plans: Sequence[SitePlan], prices: Prices) -> dict[Place, SitePlan]:
    """The best of all by what each objective is for: none is beaten at its own by another.

    Of two that are as good, to a millimetre, that of less pipe.
    """

    def worth(plan: SitePlan, place: Place) -> tuple[float, ...]:
        return tuple(
            round(chamber_places.worth(plan, each, prices), 3) for each in (place, "least_pipe")
        )

    return {place: min(plans, key=lambda plan: worth(plan, place)) for place in PLACES}


def _takes(best: Mapping[Place, SitePlan]) -> tuple[PlacedBy, ...]:
    """What the plan of each objective takes."""
    return tuple(
        PlacedBy(
            place,
            plan.header_dug,
            sum(plan.tails.values()),
            sum(plan.runs.values()),
            min(plan.tails.values(), default=0.0),
            max(plan.tails.values(), default=0.0),
            plan.chambers,
        )
        for place, plan in best.items()
    )


def _on_own_axes(
    plot: SitePlot,
    lay: Lay,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """The plan, found where turning and mirroring the plot change nothing."""
    given = () if isinstance(chambers, ChamberRule) else chambers
    stance = stance_of(plot, lay, given)
    own = chambers
    if not isinstance(chambers, ChamberRule):
        own = tuple(replace(c, at=stance.own(c.at)) for c in given)
    try:
        found = _set_out(plot_on(stance, plot), lay_on(stance, lay), rules, own, prices)
    except InputError as error:
        as_given = {
            f"chambers.{n}": _chamber_fault(plot, rules, n, each) for n, each in enumerate(given)
        }
        raise InputError(*(as_given.get(f.field, f) for f in error.faults)) from None
    return plan_back(stance, found, plot, lay, given)


def _set_out(
    plot: SitePlot,
    lay: Lay,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """The plan on the plot's own axes."""
    if isinstance(lay, ParallelTrenches):
        return _parallel(plot, lay, rules, chambers, prices)
    if isinstance(lay, BoreField):
        return _bores(plot, lay, rules, chambers, prices)
    if isinstance(lay, PondMats):
        return _mats(plot, lay, rules, chambers, prices)
    return _best_placed(plot, drawn(lay), rules, chambers, prices)


@lru_cache(maxsize=8)
def _drawn_wrong(plot: SitePlot, lay: AsDrawn) -> tuple[Fault, ...]:
    """What is wrong with a drawing; kept, since moving a chamber changes nothing here."""
    return tuple(told(lay, fault) for fault in islice(drawn_faults(plot, lay), MOST_TOLD))


def drawn(lay: AsDrawn) -> Array:
    """The array as it is drawn: its direction that of the longest straight piece."""
    pieces = [
        (math.dist(a, b), math.atan2(b[1] - a[1], b[0] - a[0]) % math.pi)
        for trench in lay.trenches
        for a, b in pairwise(trench.line)
    ]
    angle = max(pieces, key=lambda each: each[0])[1] if pieces else _along_nearest(lay)
    array = Array(lay.trenches, lay.bores, lay.mats, 0.0 if angle > math.pi - 1e-9 else angle)
    return replace(array, rows=(_in_order(array),))


def _along_nearest(lay: AsDrawn) -> float:
    """The way in which most bores or mats lie nearest to one another, of several the least [rad].

    Header trenches run along it and across, so that it is turned to 0 to 90 degrees.
    """
    at = np.array([*(bore.at for bore in lay.bores), *(mat.at for mat in lay.mats)])
    if len(at) < 2:
        return 0.0
    first, second = np.triu_indices(len(at), 1)
    x, y = (at[second] - at[first]).T
    near = np.hypot(x, y) <= (1.0 + ALIKE_APART) * np.hypot(x, y).min()
    way = np.arctan2(y[near], x[near]) % (math.pi / 2.0)
    way[way > math.pi / 2.0 - TURNED] = 0.0
    ways, number = np.unique(np.round(way / TURNED), return_counts=True)
    return float(way[np.round(way / TURNED) == ways[np.argmax(number)]].mean())


def _in_order(array: Array) -> tuple[int, ...]:
    """Loops in their order across the trenches, or along the longer side of where they lie."""
    at = np.array([point for _, point in places(_bare(array))])
    if array.trenches:
        along = np.array([-math.sin(array.angle), math.cos(array.angle)])
    else:
        along = np.array([1.0, 0.0] if np.ptp(at[:, 0]) >= np.ptp(at[:, 1]) else [0.0, 1.0])
    return tuple(int(i) for i in np.argsort(at @ along, kind="stable"))


def _bare(array: Array) -> SitePlan:
    plot = SitePlot(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)), (0.0, 0.0))
    return SitePlan(plot, array.trenches, array.bores, array.mats, (), {}, (), (), 0.0)


def _parallel(
    plot: SitePlot,
    lay: ParallelTrenches,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """Equal trenches: search the layouts, route the likely cheapest, take the cheapest."""
    given = () if isinstance(chambers, ChamberRule) else chambers
    grounds, across = _grounds(plot, lay, rules, given)
    asked, longest, longer = _asked(lay, rules, prices, grounds + across)
    spines, packed = _layouts(grounds, asked)
    capacity = _capacity(spines, packed, longest)
    # Trenches lie across what bars headers only where they do not fit beside it.
    if across and capacity.most < asked.count:
        grounds, across = grounds + across, []
        spines, packed = _layouts(grounds, asked)
        capacity = _capacity(spines, packed, longest)
    search = _Search(plot, rules, given)
    fullest = _fullest(grounds, (spines, packed), asked, capacity.most)
    laid = replace(asked, count=min(asked.count, capacity.most))
    if 0 < laid.count < asked.count:
        spines, packed = _layouts(grounds, laid)
    # One order of routing tells the layouts apart; the cheapest is routed with all. By one rule for
    # chambers, so that each objective is of the same trenches.
    alike = replace(chambers, place=PLACES[0]) if isinstance(chambers, ChamberRule) else chambers

    share = 1 if sides_tried(plot) == MOST_SIDES else 2

    def cheapest(spines: Searched, packed: Searched) -> tuple[float, Layout]:
        likely = _likely([each for _, found in spines for each in found], SPINES_ROUTED // share)
        likely += _likely(
            [each for _, found in packed for each in found], STAGGERED_ROUTED // share
        )
        prices_of = [
            _led(plot, _array_of(layout, lay), rules, alike, prices, 0).price
            * (1.0 if layout.direction.side else NO_SIDE)
            for layout in likely
        ]
        best = int(np.argmin(prices_of))
        return prices_of[best], likely[best]

    layout = None
    if laid.count:
        price, layout = cheapest(spines, packed)
        if price >= NO_WAY and across:  # nor are those beside it led to
            spines, packed = _layouts(across, laid)
            if any(found for _, found in spines):
                both = (price, layout), cheapest(spines, packed)
                price, layout = min(both, key=lambda each: each[0])
        if price >= NO_WAY and (led := search.instead(laid, longest)) is not None:
            layout, longer = led[1], None
            if longest is not None:
                capacity = replace(capacity, longest=led[0].length)
            elif len(layout.placed) < laid.count:
                capacity = replace(capacity, most=len(layout.placed))
    findings: list[Finding] = []
    count = len(layout.placed) if layout else 0
    if asked.count == count < capacity.most:
        most = search.told(fullest, replace(asked, count=capacity.most))
        capacity = replace(capacity, most=max(count, most))
    if count < asked.count and (count == 0 or lay.length is None or lay.count is not None):
        capacity = _what_would_fit(search, asked, capacity)
        findings.append(_does_not_fit(asked, capacity, _beyond(plot, rules, lay.half_top)))
    if layout is None:
        return SitePlan(plot, (), (), (), (), {}, (), (), 0.0, capacity, tuple(findings))
    if longer is not None and search.led(replace(asked, length=longer)) is not None:
        capacity = replace(capacity, longest=longer)
        findings.append(_longer(asked, longer))
    plan = _best_placed(plot, _array_of(layout, lay), rules, chambers, prices)
    return replace(plan, capacity=capacity, findings=(*findings, *_staggered(layout)))


def _staggered(layout: Layout) -> Iterator[Finding]:
    if layout.family == "staggered":
        yield Finding(
            "staggered_header",
            "info",
            "The trenches' ends are staggered along the boundary, and the header trench "
            "follows them with bends.",
            COMMON_PRACTICE,
        )


Searched = list[tuple[int, list[Layout]]]


@dataclass(frozen=True, slots=True)
class _Search:
    """Where layouts are looked for that headers lead to, if rows wall the likely ones off."""

    plot: SitePlot
    rules: HeaderRules
    given: Given

    def grounds(self, lay: ParallelTrenches, *, lanes: bool = False) -> Cut:
        """All of the ground in every direction."""
        beside, across = _grounds(self.plot, lay, self.rules, self.given, lanes=lanes)
        return beside + across

    def led(self, asked: Asked) -> Layout | None:
        """A layout of so many trenches that headers lead to; None if none was found."""
        layouts = (
            layout
            for direction, ground in self.grounds(asked.lay)
            for layouts_of in (spine_layouts, staggered_layouts)
            for layout in _cheapest(layouts_of(direction, ground, asked)[1], EACH)
        )
        return self._first(layouts, asked, asked.count) or self.most(asked, asked.count)

    def most(self, asked: Asked, least: int = 1) -> Layout | None:
        """A layout of the most trenches found that are led to, so many at least, at most as asked.

        Also with a lane left for headers around the ground for trenches.
        """
        best: Layout | None = None
        for lanes in (False, True):
            grounds = self.grounds(asked.lay, lanes=lanes)
            searched = _layouts(grounds, replace(asked, count=MOST_LOOPS + 1))
            fullest = _fullest(grounds, searched, asked, least)
            best = self._first(fullest, asked, least) or best
            least = len(best.placed) + 1 if best else least
            if least > asked.count:
                break
        return best

    def told(self, fullest: Iterator[Layout], asked: Asked) -> int:
        """How many are told to fit: as many as asked for if one of those layouts is led to."""
        if any(len(self._kept(layout, asked)) >= asked.count for layout in fullest):
            return asked.count
        most = self.most(asked)
        return len(most.placed) if most else 0

    def _kept(self, layout: Layout, asked: Asked) -> list[int]:
        return kept_led(self.plot, self.rules, _array_of(layout, asked.lay).trenches)

    def _first(self, layouts: Iterable[Layout], asked: Asked, least: int) -> Layout | None:
        """The first layout of as many as are asked for, or that of most, at least so many.

        Each without the trenches that wall others off.
        """
        fewer = []
        for layout in layouts:
            kept = self._kept(layout, asked)
            if len(kept) >= asked.count:
                if (found := self._opened(layout, kept, asked)) is not None:
                    return found
            elif len(kept) >= least:
                fewer.append((layout, kept))
        fewer.sort(key=lambda each: -len(each[1]))
        opened = (self._opened(layout, kept, asked) for layout, kept in fewer)
        return next((found for found in opened if found is not None), None)

    def _opened(self, layout: Layout, kept: list[int], asked: Asked) -> Layout | None:
        """A layout of no other trenches, and no more than are asked for; None if it is not led."""
        _, outs = header_and_outs(self.plot, self.rules.border, self.rules.half_width)
        plant = Frame(layout.direction.angle).turned(np.array(outs[0]))
        placed = so_many([layout.placed[number] for number in kept], asked.count, plant)
        found = replace(layout, placed=tuple(placed))
        array = _array_of(found, asked.lay)
        at = tuple(each.at for each in self.given)
        net = network(self.plot, self.rules, array.trenches, angle=array.angle, chambers=at)
        return found if all(net.ends) and all_led(net) else None

    def longest(self, asked: Asked, longest: float) -> tuple[Asked, Layout] | None:
        """Longest equal trenches found, no longer than so long [m], that are led to, as many."""

        def led(length: float) -> tuple[Asked, Layout] | None:
            told = math.floor(100.0 * length + 1e-6) / 100.0
            looked_for = asked.lay.length is None
            of_length = replace(asked, length=asked.lay.whole(told) if looked_for else told)
            found = self.led(of_length) if of_length.length > 0.0 else None
            return None if found is None else (of_length, found)

        if found := led(longest):
            return found
        beside_lanes = _longest_of(self.grounds(asked.lay, lanes=True), asked)
        tried = {min(longest, beside_lanes), *(share * longest for share in SHORTER)}
        above = longest
        for length in sorted(tried, reverse=True):
            if found := led(length):
                break
            above = length
        if found is None:
            return None
        for _ in range(HALVED):
            middle = (found[0].length + above) / 2.0
            found, above = (better, above) if (better := led(middle)) else (found, middle)
        return found

    def instead(self, asked: Asked, longest: float | None) -> tuple[Asked, Layout] | None:
        """What is laid where the likely cheapest layouts are not led to; None if none is.

        As many; else shorter ones where their length is looked for, more where their total is
        given, or fewer.
        """
        spines, packed = _layouts(self.grounds(asked.lay), asked)
        layouts = _cheapest([each for _, found in spines + packed for each in found], EACH_WAY)
        if found := self._first(layouts, asked, asked.count) or self.led(asked):
            return asked, found
        if longest is not None:
            return self.longest(asked, longest)
        if (total := asked.lay.total_length) is not None:
            for count in range(asked.count + 1, min(asked.count + MORE, MOST_LOOPS) + 1):
                more = replace(asked, count=count, length=asked.lay.each(total, count))
                if (found := self.led(more)) is not None:
                    return more, found
        found = self.most(asked)
        return None if found is None else (asked, found)


def _fullest(
    grounds: Cut, searched: tuple[Searched, Searched], asked: Asked, least: int
) -> Iterator[Layout]:
    """Layouts of the most trenches in the directions where the most fit, those first.

    `searched`: what `_layouts` told of the grounds.
    """
    found = [
        (most, layouts_of, direction, ground)
        for layouts_of, each in zip((spine_layouts, staggered_layouts), searched, strict=True)
        for (most, _), (direction, ground) in zip(each, grounds, strict=True)
        if most >= least
    ]
    found.sort(key=lambda each: -each[0])
    for most, layouts_of, direction, ground in found[:LED_TRIED]:
        likely = layouts_of(direction, ground, replace(asked, count=min(most, MOST_LOOPS)))[1]
        yield from _cheapest(likely, EACH)


def _cheapest(layouts: Iterable[Layout], most: int) -> list[Layout]:
    """So many of the likely cheapest layouts."""
    return sorted(layouts, key=lambda each: each.estimate)[:most]


def _layouts(grounds: Cut, asked: Asked) -> tuple[Searched, Searched]:
    """Most trenches and layouts of either family in every direction."""
    return (
        [spine_layouts(direction, ground, asked) for direction, ground in grounds],
        [staggered_layouts(direction, ground, asked) for direction, ground in grounds],
    )


def _capacity(spines: Searched, packed: Searched, longest: float | None) -> Capacity:
    """The most trenches: on spines if no more fit otherwise."""
    on_spines = max((most for most, _ in spines), default=0)
    most = max((most for most, _ in packed), default=0)
    return Capacity(max(most, on_spines), "spine" if on_spines >= most else "staggered", longest)


def _asked(
    lay: ParallelTrenches,
    rules: HeaderRules,
    prices: Prices,
    grounds: Cut,
) -> tuple[Asked, float | None, float | None]:
    """Number and length that are tried, and the longest equal trench where that was asked for.

    On straight headers, unless those cost too much of it: last, the longest if it is not that.
    """
    if lay.count is not None and lay.length is not None:
        return Asked(lay.count, lay.length, lay, rules, prices), None, None
    if lay.total_length is not None:
        least = max(1, math.ceil(lay.total_length / lay.whole(lay.longest_loop) - 1e-9))
        count = _fewest(grounds, lay, rules, prices, least) or least
        return Asked(count, lay.each(lay.total_length, count), lay, rules, prices), None, None
    if lay.count is None:
        assert lay.length is not None
        any_of_them = Asked(1, lay.length, lay, rules, prices)
        most = [most_on_spines(g, any_of_them) for _, g in grounds]
        most += [most_packed(g, any_of_them) for _, g in grounds]
        return replace(any_of_them, count=max(1, min(MOST_LOOPS, max(most, default=0)))), None, None
    asked = Asked(lay.count, 1.0, lay, rules, prices)
    on_spines, packed = (_longest(grounds, asked, family) for family in ("spine", "staggered"))
    longest = on_spines if on_spines >= SPINES_PREFERRED * packed else packed
    # Nothing fits: a length that is refused as not fitting.
    longer = packed if packed > longest + SHORTER_BY else None
    return replace(asked, length=lay.whole(longest) or lay.width), longest, longer


def _longest(grounds: Cut, asked: Asked, family: Family) -> float:
    return longest_equal(grounds, asked, family)[0]


def _longest_of(grounds: Cut, asked: Asked) -> float:
    return max(_longest(grounds, asked, family) for family in ("spine", "staggered"))


def _fewest(
    grounds: Cut,
    lay: ParallelTrenches,
    rules: HeaderRules,
    prices: Prices,
    least: int,
) -> int | None:
    """Fewest loops, so many at least, whose equal trenches reach the total; None: none found.

    One by one to begin with, since shorter trenches do not always fit where longer ones do.
    """
    assert lay.total_length is not None
    total = lay.total_length

    def fits(count: int) -> bool:
        asked = Asked(count, lay.each(total, count), lay, rules, prices)
        return any(
            most_packed(ground, asked) >= count and most_on_spines(ground, asked) >= count
            for _, ground in grounds
        )

    few, many = least - 1, least
    while not fits(many):
        if many >= MOST_LOOPS or total / many < 2.0 * lay.width:
            return None
        after = many + 1 if many < least + ONE_BY_ONE else 2 * many - least + 1
        few, many = many, min(after, MOST_LOOPS)
    return _halved(fits, few, many)


def _halved(fits: Callable[[int], bool], few: int, many: int) -> int:
    """The least number that fits, between one that does not and one that does."""
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (few, middle) if fits(middle) else (middle, many)
    return many


def _what_would_fit(search: _Search, asked: Asked, capacity: Capacity) -> Capacity:
    """What to change, where so many trenches do not fit: their length, number or centres.

    Whoever does so has trenches that headers lead to.
    """
    total = asked.count * asked.length
    whole = replace(asked.lay, count=None, length=None, total_length=total)
    grounds = search.grounds(asked.lay)

    def reaching(least: int) -> int | None:
        """Fewest loops that are together as long, so many at least, and are led to."""
        if not (count := _fewest(grounds, whole, asked.rules, asked.prices, least)):
            return None
        return (
            count
            if search.led(replace(asked, count=count, length=_as_long(asked, count)))
            else None
        )

    # More loops are shorter, and keep what limits them where fewer may not.
    fewest = reaching(asked.count + 1) or reaching(1)
    longest = search.longest(asked, min(_longest_of(grounds, asked), asked.length - SHORTER_BY))
    centres = _centres_that_fit(search, asked)
    return replace(
        capacity,
        longest=longest[0].length if longest else 0.0,
        fewest=fewest,
        centres=centres if centres and search.led(_at_centres(asked, centres)) else None,
    )


def _at_centres(asked: Asked, centres: float) -> Asked:
    return replace(asked, lay=replace(asked.lay, centres=centres))


def _centres_that_fit(search: _Search, asked: Asked) -> float | None:
    """The widest centres, in steps below those asked for, at which all trenches fit.

    Found by halving, as if closer trenches always fit where wider ones do; what is told was tried.
    """
    least = 2.0 * asked.lay.half_top + LEAST_GROUND
    west, south, east, north = search.plot.ground.bounds
    widest = min(asked.lay.kept_centres - CENTRES_STEP, math.hypot(east - west, north - south))
    widest = math.floor(100.0 * widest + 1e-6) / 100.0  # as it is told

    def fits(steps: int) -> bool:
        closer = _at_centres(asked, widest - steps * CENTRES_STEP)
        return any(
            most_packed(ground, closer) >= asked.count for _, ground in search.grounds(closer.lay)
        )

    most = math.floor((widest - least) / CENTRES_STEP + 1e-9)
    if most < 0 or not fits(most):
        return None
    return widest - _halved(fits, -1, most) * CENTRES_STEP


def _as_long(asked: Asked, count: int) -> float:
    """Length of so many trenches that are as long together as those asked for, as told [m]."""
    return up_to_centimetre(asked.lay.each(asked.count * asked.length, count))


def _does_not_fit(asked: Asked, capacity: Capacity, beyond: str) -> Finding:
    some = f"{capacity.most} of them {'does' if capacity.most == 1 else 'do'}"
    instead = [some if capacity.most else "none of them does"]
    if capacity.longest:
        instead.append(f"{asked.count} would fit at {capacity.longest:.2f} m")
    if capacity.fewest is not None:
        each = _as_long(asked, capacity.fewest)
        instead.append(f"{capacity.fewest} of {each:.2f} m are as long together and fit")
    if capacity.centres is not None:
        instead.append(f"at centres of {capacity.centres:.2f} m they would fit")
    return Finding(
        "does_not_fit",
        "error",
        f"{counted(asked.count, 'trench', 'trenches')} of {asked.length:.2f} m"
        + (f" at {asked.lay.kept_centres:g} m centres do" if asked.count > 1 else " does")
        + f" not fit by the search made, in one direction at a time: {'; '.join(instead)}.{beyond}",
        OF_SEARCH,
    )


def _longer(asked: Asked, longer: float) -> Finding:
    return Finding(
        "longer_would_fit",
        "info",
        f"Trenches of {asked.length:.2f} m are laid, as long as they fit on straight header "
        f"trenches; of {longer:.2f} m as many would fit too, their ends staggered along the "
        "boundary and the header trench in bends. Tell that length to have them so.",
        OF_SEARCH,
    )


@lru_cache(maxsize=4)
def _grounds(
    plot: SitePlot,
    lay: ParallelTrenches,
    rules: HeaderRules,
    given: Given,
    *,
    lanes: bool = False,
) -> tuple[Cut, Cut]:
    """The ground within reach cut into chords in every direction that is tried, then all of it.

    All of it where what bars headers divides the plot: trenches may lie across that. Else none.
    With `lanes`, a header has room between it and all that bars headers.
    """
    header, outs = header_and_outs(plot, rules.border, rules.half_width)
    out = outs[0]
    beside = rules.around + lay.half_top + ROOM
    off = grown(_way(plot, out), beside)
    array = array_ground(plot, lay.half_top, off)
    if lanes:
        array = polygons(array.intersection(header.buffer(-beside, join_style="mitre")))
    own = reached_part(array, header, outs)
    cut = [(within_reach(array, header, own), header if own is None else own)]
    if own is not None:
        cut.append((array, own))
    found: list[Cut] = [[], []]
    for direction in directions(plot, contour_of(plot)):
        kept = [_kept_free(chamber.at, direction.angle, lay, rules) for chamber in given]
        towards = (out, *(chamber.at for chamber in given))
        for number, (area, headers) in enumerate(cut):
            ground = ground_along(
                direction,
                polygons(reduce(shapely.difference, kept, area)),
                headers,
                towards,
                lay.kept_centres,
                gap=lay.end_gap,
                across=number > 0,
            )
            if ground is not None:
                found[number].append((direction, ground))
    return found[0], found[1]


def _way(plot: SitePlot, out: Point) -> shapely.Geometry:
    """The way out of the plant room."""
    return shapely.Point(out) if out == plot.plant else shapely.LineString([plot.plant, out])


def _kept_free(
    at: Point, angle: float, lay: ParallelTrenches, rules: HeaderRules
) -> shapely.Geometry:
    """What centre lines of trenches keep off for a chamber: less before their ends than beside."""
    ahead, beside = rules.around + ROOM, rules.around + lay.half_top + ROOM
    box = shapely.box(-ahead, -beside, ahead, beside)
    return affinity.translate(affinity.rotate(box, angle, origin=(0, 0), use_radians=True), *at)


def _likely(layouts: list[Layout], most: int) -> list[Layout]:
    """The likely cheapest layouts, none all but another one, no more than half of one direction."""
    found: list[Layout] = []
    known: dict[float, list[NDArray[np.float64]]] = {}
    for layout in sorted(layouts, key=lambda each: each.estimate):
        lies = np.array(sorted((p.v, p.u0, p.u1) for p in layout.placed))
        others = known.setdefault(layout.direction.angle, [])
        if len(others) >= max(1, most // 2):
            continue
        if any(np.abs(lies - other).max() < ALIKE for other in others):
            continue
        others.append(lies)
        found.append(layout)
        if len(found) == most:
            break
    return [each for each in found if each.estimate <= WORTH_TRYING * found[0].estimate]


def _array_of(layout: Layout, lay: ParallelTrenches) -> Array:
    trenches = tuple(
        Trench(
            name_of(lay, number),
            line,
            lay.width,
            lay.top_width,
            lay.depth,
            pipe_depth=lay.pipe_depth,
            rise=lay.rise,
        )
        for number, line in enumerate(layout.lines)
    )
    rows = tuple(
        tuple(n for n, p in enumerate(layout.placed) if p.spine == spine)
        for spine in sorted({p.spine for p in layout.placed})
    )
    return Array(trenches, angle=layout.direction.angle, rows=rows)


def _bores(
    plot: SitePlot,
    lay: BoreField,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """Boreholes where header trenches reach them, compact or spread.

    Where they shut the plant room in, they are placed anew, further from its way out.
    """
    first = None
    for further in ROUND_THE_WAY_OUT:
        plan = _bores_off(plot, lay, rules, chambers, prices, further)
        first = first or plan
        led = len(plan.runs) == len(plan.chambers) and len(plan.loop_chamber) == len(plan.loops)
        if led and len(plan.loops) == len(first.loops):
            return plan
    assert first is not None
    return first


def _bores_off(  # noqa: PLR0917 (as above)
    plot: SitePlot,
    lay: BoreField,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
    further: float,
) -> SitePlan:
    """The same, so many times as far from the way out of the plant room as a header needs."""
    given = () if isinstance(chambers, ChamberRule) else chambers
    header, outs = header_and_outs(plot, rules.border, rules.half_width)
    out = outs[0]
    # Headers keep off the corners of what is drawn round a bore, which lie further out than it.
    around = rules.around * CORNERS + ROOM
    off = grown(shapely.MultiPoint([each.at for each in given]), around)
    off = off.union(grown(_way(plot, out), further * around))
    ground = polygons(array_ground(plot, off=off).intersection(header))
    ground = within_reach(ground, header, reached_part(ground, header, outs))
    if ground.is_empty:
        found = Field((), 0, lay.choose, 0.0)
    elif lay.choose == "compact":
        found = compact(ground, lay, out, directions(plot, contour_of(plot)))
    else:
        found = spread(ground, lay)
    bores = tuple(Bore(name_of(lay, n), at, lay.depth) for n, at in enumerate(found.at))
    what = ("borehole", f"at {lay.spacing:g} m")
    more = _spread_out(ground, lay, found)
    findings = tuple(_short(found, lay.count or 1, what, _beyond(plot, rules), more))
    return _of_field(plot, found, Array(bores=bores), findings, rules, chambers, prices)


def _mats(
    plot: SitePlot,
    lay: PondMats,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """Mats on a grid in the water, nearest to the plant room first."""
    if not plot.water:
        text = "mats lie in water, and the plot has none; give the corners of its water"
        raise InputError(Fault("water", text, None, "3 or more corners"))
    _, outs = header_and_outs(plot, rules.border, rules.half_width)
    half = lay.outer_diameter / 2.0
    found = compact(
        mat_ground(plot, half, lay.bank),
        BoreField(lay.count, spacing=lay.spacing, pattern="square"),
        outs[0],
        directions(plot, fan=FAN / 2.0),
    )
    mats = tuple(Mat(name_of(lay, n), at, lay.outer_diameter) for n, at in enumerate(found.at))
    what = ("mat", f"of {lay.outer_diameter:g} m with {lay.gap:g} m between them")
    findings = tuple(_short(found, lay.count, what))
    return _of_field(plot, found, Array(mats=mats), findings, rules, chambers, prices)


def _beyond(plot: SitePlot, rules: HeaderRules, half: float = 0.0) -> str:
    """What is said where some of the ground is out of reach, or none is left.

    `half`: from the centre line of what is laid to its edge at the surface [m].
    """
    parts = shapely.get_num_geometries(header_and_outs(plot, rules.border, rules.half_width)[0])
    if parts > 1:
        return " Ground that no header trench leads to is not counted."

    def none_left(plot: SitePlot) -> bool:
        header, _ = header_and_outs(plot, rules.border, rules.half_width)
        return bool(header.is_empty or array_ground(plot, half).is_empty)

    if not none_left(plot):
        return ""
    if none_left(replace(plot, keep_outs=())):
        return " No ground is left within the boundary: its border takes all of it."
    names = [each.name for each in plot.keep_outs[:MOST_NAMED]]
    more = len(plot.keep_outs) - len(names)
    taken = listed([*names, *([f"{more} more"] if more else [])])
    return f" No ground is left: {taken}, with what is kept clear around, take all of it."


def _short(
    found: Field, count: int, what: tuple[str, str], beyond: str = "", spread_out: int = 0
) -> Iterator[Finding]:
    """Yield that fewer have room, of so many `what` (each, and how they lie)."""
    if (fit := len(found.at)) < count:
        each, lie = what
        text = f"{counted(count, each)} {lie} {'does' if count == 1 else 'do'} not fit by the "
        text += f"search made: {fit or 'none'} {'does' if fit <= 1 else 'do'}"
        if spread_out > fit:
            text += f" on a grid; spread over the plot {counted(spread_out, each)} would"
        yield Finding("does_not_fit", "error", f"{text}.{beyond}", OF_SEARCH)


def _spread_out(ground: shapely.Geometry, lay: BoreField, found: Field) -> int:
    """How many more than on a grid stand spread over the plot; 0 where that is not looked for."""
    more = len(found.at) + 1
    if lay.choose == "spread" or not 1 < more <= min(lay.count or 0, SPREAD_TRIED):
        return 0
    return len(spread(ground, replace(lay, count=more)).at)


def _of_field(  # noqa: PLR0917 (internal)
    plot: SitePlot,
    found: Field,
    array: Array,
    findings: tuple[Finding, ...],
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """The plan of bores or mats found."""
    capacity = Capacity(found.most, found.pattern)
    if not found.at:
        return SitePlan(plot, (), (), (), (), {}, (), (), 0.0, capacity, findings)
    array = replace(array, angle=found.angle)
    array = replace(array, rows=(_in_order(array),))
    plan = _best_placed(plot, array, rules, chambers, prices)
    return replace(plan, capacity=capacity, findings=findings)


def _best_placed(
    plot: SitePlot,
    array: Array,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> SitePlan:
    """The plan by the objective asked for, with what each of the objectives takes."""
    led = partial(_led_shortest, plot, array, rules, prices=prices)
    if not isinstance(chambers, ChamberRule):
        return min(led(chambers), key=lambda each: each[1])[0]
    # Least digging is looked for among all: each is told by what it takes as it is led.
    plans = [
        plan
        for place in ("most_even", "least_pipe")
        for plan, _ in led(replace(chambers, place=place))
    ]
    best = _best(plans, prices)
    return replace(best[chambers.place], placed_by=_takes(best))


def _led_shortest(
    plot: SitePlot,
    array: Array,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
) -> list[tuple[SitePlan, float]]:
    """The plan and its price; that by the corners of trenches, too, where some way is a detour."""
    led = _led(plot, array, rules, chambers, prices)
    found = [(_plan_of(plot, array, led), led.price)]
    if any(map(_is_detour, found[0][0].routes)):
        led = _led(plot, array, rules, chambers, prices, by_corners=True)
        found.append((_plan_of(plot, array, led), led.price))
    return found


def _is_detour(route: Route) -> bool:
    """Whether a way is longer than round a right angle, which is what is led as a rule."""
    return route.length > DETOUR * math.dist(route.line[0], route.line[-1]) + 1e-6


class _Led(NamedTuple):
    """Chambers put and everything led, before it is drawn.

    Attributes
    ----------
    net
        Ways that were looked at.
    put
        Chambers.
    paths
        Of every loop's tail, then of the runs, by nodes; empty where there is no way.
    price
        Of all of it, and of what is not led.
    """

    net: Network
    put: chamber_places.Placed
    paths: tuple[tuple[int, ...], ...]
    price: float


def _led(  # noqa: PLR0917 (internal)
    plot: SitePlot,
    array: Array,
    rules: HeaderRules,
    chambers: ChamberRule | Given,
    prices: Prices,
    starts: int = STARTS,
    *,
    by_corners: bool = False,
) -> _Led:
    """Put chambers and lead everything."""
    given = () if isinstance(chambers, ChamberRule) else chambers
    ground = (plot, rules, array.trenches, array.bores, array.mats, array.angle)
    refuse(
        *(
            _chamber_fault(plot, rules, number, each)
            for number, each in enumerate(given)
            if not free_at(*ground, each.at)
        )
    )
    net = network(*ground, tuple(c.at for c in given), by_corners=by_corners)
    if isinstance(chambers, ChamberRule):
        room = chamber_places.has_room(plot, array.trenches, array.bores, net)
        put = chamber_places.placed(net, chambers, prices, array.rows, room)
    else:
        put = chamber_places.assigned(net, given)
    pairs = [
        Pair(ends, put.nodes[put.of_loop[loop]], prices.loop_pipe)
        for loop, ends in enumerate(net.ends)
    ] + [Pair((node,), net.plant, prices.run_pipe, dry=True) for node in put.nodes]
    found = routed(net, pairs, prices, starts)
    missing = sum(not path for path in found.paths)
    return _Led(net, put, found.paths, found.price + NO_WAY * missing)


def _plan_of(plot: SitePlot, array: Array, led: _Led) -> SitePlan:
    """The plan of what is led."""
    routes = tuple(_routes(led.net, array, led.put, led.paths))
    loops, put = array.loops, led.put
    return SitePlan(
        plot,
        array.trenches,
        array.bores,
        array.mats,
        put.chambers,
        {loops[n]: put.chambers[c].name for n, c in enumerate(put.of_loop) if led.paths[n]},
        routes,
        stretches(routes, plot.pond if plot.water else None),
        math.degrees(array.angle),
    )


def _chamber_fault(plot: SitePlot, rules: HeaderRules, number: int, chamber: Chamber) -> Fault:
    at = shapely.Point(chamber.at)
    near = [
        each.name
        for each in plot.keep_outs
        if "header" in each.blocks and at.distance(each.shape) < each.reach + rules.half_width
    ]
    where = (
        f"in {listed(near)} or what is kept clear around, half a header trench with it"
        if near
        else "within the ground of a trench or borehole, in water, by the boundary or outside it"
    )
    return Fault(
        f"chambers.{number}",
        f"{chamber.name} at {spot(chamber.at)} stands where no header trench may lie: {where}",
        chamber.at,
        "free ground, or the plant room itself",
    )


def _without_spurs(way: Iterable[Point]) -> list[Point]:
    """A way that turns where it would go on and come straight back, as at the end of a stub."""
    found: list[Point] = []
    for point in way:
        found.append(point)
        while len(found) > 2 and _comes_back(*found[-3:]):
            del found[-2]
            if math.dist(found[-2], found[-1]) < SPUR:
                del found[-1]
    return found


def _comes_back(a: Point, b: Point, c: Point) -> bool:
    """Whether a way from a by b to c lies on itself."""
    return _off(a, b, c) < SPUR or _off(b, c, a) < SPUR


def _off(a: Point, b: Point, point: Point) -> float:
    """From a straight between two points to another [m]; plain, since every bend asks."""
    (ax, ay), (bx, by), (x, y) = a, b, point
    u, v = bx - ax, by - ay
    squared = u * u + v * v
    share = min(1.0, max(0.0, ((x - ax) * u + (y - ay) * v) / squared)) if squared else 0.0
    return math.hypot(x - ax - share * u, y - ay - share * v)


def _routes(
    net: Network,
    array: Array,
    put: chamber_places.Placed,
    paths: Sequence[tuple[int, ...]],
) -> Iterator[Route]:
    def line(path: tuple[int, ...]) -> tuple[Point, ...]:
        at = _without_spurs((float(x), float(y)) for x, y in net.points[list(path)])
        return tuple(at if len(at) > 1 else at * 2)

    loops = array.loops
    for loop, chamber in enumerate(put.of_loop):
        if paths[loop]:
            yield Route(loops[loop], loops[loop], put.chambers[chamber].name, line(paths[loop]))
    for number, each in enumerate(put.chambers):
        if path := paths[len(loops) + number]:
            yield Route(each.name, None, each.name, line(path))
