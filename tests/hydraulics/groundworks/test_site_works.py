"""Digging of a site plan against values by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest
import shapely

from hydraulics.groundworks.site_works import SiteWorks, heap_width, site_works
from hydraulics.groundworks.tops import tops_over
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.plot.asked import AsDrawn, HeaderRules, ParallelTrenches
from hydraulics.plot.findings import header_wide
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, SitePlot, rectangle
from hydraulics.plot.site_plan import Bore, Chamber, HeaderPipes, SitePlan, Stretch, Trench
from tests.hydraulics.plot.test_set_out import FIELD, HOUSE, comb_of_check_1

RULES = HeaderRules()
TAIL, RUN = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 63")


@cache
def bare() -> SitePlan:
    return set_out(rectangle(75.0, 40.0), comb_of_check_1(), RULES, (Chamber("C1", (33.5, 20.0)),))


def held(plan: SitePlan) -> HeaderPipes:
    """One pipe in all tails and another in all runs."""
    led = [each.loops for each in plan.stretches]
    return HeaderPipes({name: (TAIL, TAIL) for loops in led for name in loops}, RUN)


def works(plan: SitePlan) -> SiteWorks:
    return site_works(plan, held(plan), RULES, 0.2)


def test_header_trenches_by_stretch_by_hand() -> None:
    # By hand (setting out on 75 x 40): 33.5 m with the run only, 12 m with 1 pair, then along the
    # spine 2, 4 and 6 pairs below the chamber's line and 2 and 4 above it; floors of
    # max(0.5, k 0.032 + (k - 1) 0.05 + 0.2): 0.5 m up to 4 pairs, 0.642 m with 6, 0.806 m with 8;
    # 1.2 m deep.
    found = works(bare())
    metres: dict[int, float] = {}
    for each in found.stretches:
        metres[each.pairs] = metres.get(each.pairs, 0.0) + each.stretch.length
    assert metres[1] == pytest.approx(33.5 + 12.0)
    assert sum(metres.values()) == pytest.approx(70.5)
    assert {e.pairs: round(e.floor, 3) for e in found.stretches} == {
        1: 0.5, 2: 0.5, 4: 0.5, 6: 0.642, 8: 0.806,
    }  # fmt: skip
    by_hand = 1.2 * sum(m * max(0.5, k * 0.032 + (k - 1) * 0.05 + 0.2) for k, m in metres.items())
    assert sum(e.volumes.dug for e in found.stretches) == pytest.approx(by_hand)
    # Every pipe is in its trench: 2 x 112 m of tails and 2 x 33.5 m of run.
    pipe = math.pi / 4.0 * (0.032**2 * 224.0 + 0.063**2 * 67.0)
    assert sum(e.volumes.pipe for e in found.stretches) == pytest.approx(pipe, rel=1e-6)
    assert not [f for f in found.findings if f.severity == "error"]


def test_a_heap_is_as_wide_as_its_spoil_by_hand() -> None:
    # By hand: 1.2 x 1.2 m dug, a fifth more when loose: 1.728 m2, a triangle of slope 1 : 1.5 is
    # sqrt(4 x 1.5 x 1.728) = 3.220 m wide and 1.073 m high: half of the product is 1.728.
    assert heap_width(1.44, 0.2) == pytest.approx(3.220, abs=1e-3)
    assert 0.5 * heap_width(1.44, 0.2) ** 2 / 3.0 == pytest.approx(1.728, abs=1e-3)
    heap = works(bare()).heaps[0]
    assert shapely.Polygon(heap.corners).area == pytest.approx(30.0 * heap.width, rel=1e-6)


@pytest.mark.parametrize(
    "plan_of",
    [
        bare,
        lambda: set_out(HOUSE, ParallelTrenches(8, 25.0)),
        lambda: set_out(FIELD, ParallelTrenches(61, 27.5)),
    ],
)
def test_heaps_tell_what_they_lie_on(plan_of: Callable[[], SitePlan]) -> None:
    plan = plan_of()
    found = works(plan)
    boundary = plan.plot.ground
    tops = {
        t.loop: shapely.LineString(t.line).buffer(t.half_top, cap_style="flat")
        for t in plan.trenches
    }
    ways = [plan.tails[loop] + plan.runs[plan.loop_chamber[loop]] for loop in found.order]
    assert sorted(found.order) == sorted(tops)
    assert ways == sorted(ways, reverse=True)
    for heap in found.heaps:
        foot = shapely.Polygon(heap.corners)
        # 0.6 m back from the edge (US OSHA 29 CFR 1926.651(j)(2), 2 ft).
        assert foot.distance(tops[heap.loop]) == pytest.approx(0.6, abs=1e-6)
        assert heap.clear == (
            boundary.covers(foot)
            and not any(foot.intersects(k.shape.buffer(k.radius)) for k in plan.plot.keep_outs)
        )
        for loop, top in tops.items():
            on_it = loop != heap.loop and top.intersection(foot).area > 1e-9
            assert on_it == (loop in heap.covers)


def test_a_header_wider_than_its_way_is_told_and_a_way_that_wide_keeps_off() -> None:
    # By hand: eight pairs want 0.806 m (above) on the spine at x = 33.5. A post of 0.1 m with 0.3 m
    # to be kept stands 0.7 m from it: 0.4 + 0.403 - 0.7 = 0.10 m too near.
    post = KeepOut("post", 0.3, centre=(34.2, 19.0), radius=0.1, blocks=frozenset({"header"}))
    plot = replace(rectangle(75.0, 40.0), keep_outs=(post,))
    chamber = (Chamber("C1", (33.5, 20.0)),)

    def told(rules: HeaderRules) -> list[str]:
        plan = set_out(plot, comb_of_check_1(), rules, chamber)
        found = site_works(plan, held(plan), rules, 0.2)
        return [f.message for f in found.findings if f.code == "header_edge_over"]

    (message,) = told(RULES)
    assert "0.10 m into the 0.3 m to be kept from post, 0.81 m wide at the surface" in message
    assert "width as 0.81 m" in message
    assert not told(HeaderRules(width=0.81, clear=0.5))


def test_a_wide_header_is_told_to_come_near_to_the_plant_rooms_own_house_too() -> None:
    # By hand: the header on x = 33.5 lies 2.25 m from the house, at whose wall the plant room is;
    # south of the chamber 5 pairs of 32 mm want 0.56 m of floor: 2 + 0.28 - 2.25 = 0.03 m too near.
    # The run, straight out of the wall, is let through its clearance.
    walls = ((35.75, 1.0), (45.0, 1.0), (45.0, 30.0), (35.75, 30.0))
    house = KeepOut("house", 2.0, walls, blocks=frozenset({"header"}))
    plot = replace(rectangle(75.0, 40.0), plant=(35.75, 24.0), keep_outs=(house,))
    west = AsDrawn(comb_of_check_1().trenches[::2])
    plan = set_out(plot, west, RULES, (Chamber("C1", (33.5, 24.0)),))
    (message,) = [f.message for f in works(plan).findings if f.code == "header_edge_over"]
    assert "0.03 m into the 2 m to be kept from house, 0.56 m wide" in message


def test_a_cable_that_the_way_out_crosses_is_told_with_its_place() -> None:
    # By hand: straight out of the wall along y = 20; the cable is none that may be crossed.
    house = KeepOut("house", 2.0, ((1.0, 15.0), (5.0, 15.0), (5.0, 25.0), (1.0, 25.0)))
    cable = KeepOut("cable", 1.0, line=((5.5, 0.0), (5.5, 40.0)))
    plot = SitePlot(rectangle(75.0, 40.0).boundary, (5.0, 20.0), (house, cable))
    trench = Trench("T1", ((36.0, 20.0), (60.0, 20.0)))
    plan = set_out(plot, AsDrawn((trench,)), RULES, (Chamber("C1", (33.5, 20.0)),))
    (crossing,) = works(plan).crossings
    assert crossing.keep_out == "cable"
    assert crossing.at == pytest.approx((5.5, 20.0))


def test_a_header_told_narrower_than_usual_is_dug_so_where_its_pipes_let_it() -> None:
    # By hand: k 0.032 + (k - 1) 0.05 + 0.2: 0.232 m for one pair, 0.478 m for four.
    rules = HeaderRules(width=0.4)
    plan = set_out(rectangle(75.0, 40.0), comb_of_check_1(), rules, (Chamber("C1", (33.5, 20.0)),))
    found = site_works(plan, held(plan), rules, 0.2)
    floors = {dug.pairs: dug.floor for dug in found.stretches if not dug.stretch.runs}
    assert floors[1] == pytest.approx(0.4)
    assert floors[4] == pytest.approx(0.478)
    # One metre of stub less half of 0.806 m, the widest, leaves more than half a metre.
    assert not [f for f in found.findings if f.code == "header_meets_trench"]


def test_how_far_a_battered_header_reaches_into_a_trench_is_told_from_its_edge() -> None:
    # By hand: eight pairs take 0.806 m of floor, 0.403 m and 1.2 m of slope on either side; the
    # header lies 1 m from the trenches' ends: 1.603 - 1 = 0.60 m.
    # Its way is looked for as if its sides were upright.
    rules = HeaderRules(side_slope=1.0)
    plan = set_out(rectangle(75.0, 40.0), comb_of_check_1(), RULES, (Chamber("C1", (33.5, 20.0)),))
    found = site_works(plan, held(plan), rules, 0.2)
    (finding,) = [f for f in found.findings if f.code == "header_meets_trench"]
    assert "0.81 m wide for its pipes runs 0.60 m into the trench of" in finding.message


def test_a_wide_header_is_as_wide_in_every_sentence_as_it_is_dug() -> None:
    # By hand: 12 tails of 32 mm and a run of 63 mm: 0.384 + 0.063 + 0.6 + 0.2 = 1.247 m in two
    # layers, 2 x 1.247 + 0.3 = 2.79 m in one.
    lies = Stretch(((5.0, 5.0), (15.0, 5.0)), "ground", tuple(f"T{k}" for k in range(12)), ("C1",))
    plan = replace(bare(), stretches=(lies,))
    (finding,) = header_wide(plan, HeaderPipes(dict.fromkeys(lies.loops, (TAIL, TAIL)), RUN), 0.5)
    assert "its floor is 1.25 m wide in two layers, 2.79 m side by side" in finding.message
    assert "They lead to 12 loops and 1 chamber: fewer pairs make it narrower" in finding.message
    (dug,) = works(plan).stretches
    assert dug.floor == pytest.approx(1.247)


@pytest.mark.parametrize(("tail", "run", "floor"), [(32, 110, 0.802), (32, 32, 0.724)])
def test_every_pipe_takes_its_own_width_of_a_header_trench(
    tail: int, run: int, floor: float
) -> None:
    # By hand, 6 loops and 1 run: 6 0.032 + 0.110 + 6 0.05 + 0.2 = 0.802 m; all of 32 mm 0.724 m.
    led = tuple(f"T{k}" for k in range(6))
    lies = Stretch(((5.0, 5.0), (15.0, 5.0)), "ground", led, ("C1",))
    small, large = pe_pipe(f"PE100 SDR11 {tail}"), pe_pipe(f"PE100 SDR11 {run}")
    pipes = HeaderPipes(dict.fromkeys(led, (small, small)), large)
    (dug,) = site_works(replace(bare(), stretches=(lies,)), pipes, RULES, 0.2).stretches
    assert dug.floor == pytest.approx(floor)


def test_a_drain_that_is_crossed_is_told_with_its_place() -> None:
    # By hand: the run along y = 20 from x = 33.5 to 0 crosses the drain at x = 15.
    drain = KeepOut("drain", 1.0, line=((15.0, 0.0), (15.0, 40.0)), blocks=frozenset({"array"}))
    plot = SitePlot(rectangle(75.0, 40.0).boundary, (0.0, 20.0), (drain,))
    trench = Trench("T1", ((36.0, 20.0), (60.0, 20.0)))
    plan = set_out(plot, AsDrawn((trench,)), RULES, (Chamber("C1", (33.5, 20.0)),))
    (crossing,) = works(plan).crossings
    assert (crossing.keep_out, crossing.pairs) == ("drain", 1)
    assert crossing.at == pytest.approx((15.0, 20.0))


def test_a_header_as_wide_as_its_pipes_reaches_a_trench() -> None:
    # By hand: 61 pairs of 32 mm take 5.15 m of floor, half of it 2.58 m; the comb's header lies
    # 1 m from the trenches' ends.
    trenches = tuple(
        Trench(f"T{k + 1}", ((2.5 + 5.0 * k, 0.0), (2.5 + 5.0 * k, 20.0)), tails_from="first")
        for k in range(61)
    )
    plot = SitePlot(((0.0, -6.0), (305.0, -6.0), (305.0, 30.0), (0.0, 30.0)), (1.0, -4.0))
    plan = set_out(plot, AsDrawn(trenches), RULES, (Chamber("C1", (1.5, -1.0), 61),))
    (finding,) = [f for f in works(plan).findings if f.code == "header_meets_trench"]
    assert finding.severity == "error"


def test_a_header_as_wide_as_its_pipes_comes_too_near_to_a_borehole() -> None:
    # By hand: eight pairs take 0.806 m of floor; from its edge to a borehole 0.8 m off its centre
    # line are 0.397 m, and 0.5 m are to be left. To the boreholes that it leads to it must go.
    led = tuple(f"B{k}" for k in range(1, 9))
    lies = Stretch(((10.0, 10.0), (30.0, 10.0)), "ground", led, ())
    bores = (Bore("B1", (10.0, 10.0), 50.0), Bore("B9", (20.0, 10.8), 50.0))
    plan = replace(bare(), trenches=(), bores=bores, routes=(), stretches=(lies,))
    (finding,) = [f for f in works(plan).findings if f.code == "header_meets_trench"]
    assert finding.severity == "warning"
    assert "comes to 0.40 m from the borehole of B9" in finding.message
    assert "in all: B9." in finding.message
    apart = replace(plan, bores=(bores[0], Bore("B9", (20.0, 10.91), 50.0)))
    assert not [f for f in works(apart).findings if f.code == "header_meets_trench"]
    within = replace(plan, bores=(Bore("B9", (20.0, 10.3), 50.0),))
    (finding,) = [f for f in works(within).findings if f.code == "header_meets_trench"]
    assert finding.severity == "error"


def test_tails_of_another_pipe_than_their_loops_are_what_lies_in_the_header_trench() -> None:
    # By hand, 4 loops with a flow tail of 63 mm and a return tail of 40 mm on 10 m: as wide as the
    # layer of flow, 4 0.063 + 3 0.05 + 0.2 = 0.602 m of floor, bedding to 0.1 + 0.3 + 0.063 + 0.1
    # m, and the pipe's own room pi/4 (0.063² + 0.04²) 4 x 10 m.
    lies = Stretch(((5.0, 5.0), (15.0, 5.0)), "ground", ("T1", "T2", "T3", "T4"), ())
    tails = dict.fromkeys(lies.loops, (pe_pipe("PE100 SDR11 63"), pe_pipe("PE100 SDR11 40")))
    plan = replace(bare(), stretches=(lies,))
    (dug,) = site_works(plan, HeaderPipes(tails, TAIL), RULES, 0.2).stretches
    assert dug.floor == pytest.approx(0.602)
    pipe = math.pi / 4.0 * (0.063**2 + 0.04**2) * 40.0
    assert dug.volumes.pipe == pytest.approx(pipe, rel=1e-6)
    assert dug.volumes.bedding == pytest.approx(10.0 * 0.602 * 0.563 - pipe, rel=1e-6)


@pytest.mark.parametrize(("depth", "message"), [(1.0, "Only 0.54 m"), (1.22, None)])
def test_ground_over_the_upper_layer_of_a_header_trench_is_checked(
    depth: float, message: str | None
) -> None:
    # By hand: 1 m less 0.1 m of bedding, 0.3 m between the layers and the run's 0.063 m: 0.537 m
    # of cover, 0.75 m being usual, so 0.22 m deeper at the least.
    rules = HeaderRules(depth=depth)
    plan = set_out(rectangle(75.0, 40.0), comb_of_check_1(), rules, (Chamber("C1", (33.5, 20.0)),))
    found = [
        f.message
        for f in site_works(plan, held(plan), rules, 0.2).findings
        if f.code == "cover_shallow"
    ]
    if message is None:
        assert found == []
        return
    (said,) = found
    assert message in said
    assert said.endswith("dig it 0.22 m deeper.")


@pytest.mark.parametrize(
    ("apart", "floor", "half_top", "told"),
    [
        (6.0, 1.2, 3.6, "run up to 1.20 m into one another:"),  # 2 m deep at 1.5 to 1: 7.2 m wide
        (2.0, 2.5, 1.25, "run up to 0.50 m into one another, their floors too"),  # vertical sides
        (7.2, 1.2, 3.6, ""),  # edge to edge
        (7.7, 1.2, 3.6, ""),
    ],
)
def test_trenches_by_hand_whose_tops_overlap_are_an_error(
    apart: float, floor: float, half_top: float, told: str
) -> None:
    # Their places keep what spacing was told, 1.5 m; what is dug is wider.
    by_hand = AsDrawn(
        tuple(
            Trench(name, ((8.0, y), (38.0, y)), floor, 2.0 * half_top, 2.0)
            for name, y in (("T1", 10.0), ("T2", 10.0 + apart), ("T3", 34.0))
        ),
        centres=1.5,
    )
    found = works(set_out(rectangle(60.0, 40.0, border=0.0), by_hand, RULES)).findings
    said = [each for each in found if each.code == "trench_tops_overlap"]
    assert [each.severity for each in said] == (["error"] if told else [])
    assert not told or ("T1 and T2" in said[0].message and told in said[0].message)


@pytest.mark.parametrize(
    ("other", "told"),
    [
        # Square to T1 (7.2 m wide, to y = 13.6) and ended 3 m beside its line: 0.6 m over its edge.
        (((20.0, 13.0), (20.0, 33.0)), "come to 3.00 m of one another by their centre lines and "
         "run up to 0.60 m into one another:"),
        # Its end 0.9 m beside the line: over the edge by 2.7 m; the floor is 0.6 m to a side.
        (((20.0, 10.9), (20.0, 33.0)), "run up to 2.70 m into one another:"),
        (((20.0, 10.5), (20.0, 33.0)), "run up to 3.10 m into one another, their floors too:"),
        (((20.0, 13.6), (20.0, 33.0)), ""),  # its end at the edge
        (((38.0, 10.0), (55.0, 10.0)), ""),  # in line, end to end
        # Across: 7.2 m by 7.2 m are of both.
        (((20.0, 2.0), (20.0, 32.0)), "cross and run up to 7.20 m into one another, their floors"),
    ],
)  # fmt: skip
def test_how_far_trenches_run_into_one_another_is_measured_where_they_do(
    other: tuple[tuple[float, float], ...], told: str
) -> None:
    lines = {"T1": ((8.0, 10.0), (38.0, 10.0)), "T2": other}
    found = list(tops_over([Trench(name, at, 1.2, 7.2, 2.0) for name, at in lines.items()]))
    assert len(found) == bool(told)
    assert all(told in each.message for each in found)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        # 7.2 m wide at the surface, legs 6 m apart: by hand 1.2 m into itself.
        (((0.0, 0.0), (30.0, 0.0), (30.0, 6.0), (0.0, 6.0)), "runs up to 1.20 m into itself:"),
        (((0.0, 0.0), (30.0, 0.0), (30.0, 7.3), (0.0, 7.3)), ""),
        (((0.0, 0.0), (30.0, 0.0), (30.0, 30.0)), ""),  # what it takes twice at a turn is its own
        (((0.0, 0.0), (30.0, 0.0), (0.0, 30.0)), ""),
        (((0.0, 0.0), (40.0, 0.0), (0.0, 10.0)), "into itself:"),  # 14 degrees between its legs
    ],
)
def test_a_trench_that_comes_back_into_itself_is_told(
    line: tuple[tuple[float, float], ...], told: str
) -> None:
    bent = Trench("T1", line, 1.2, 7.2, 2.0)
    found = list(tops_over([bent]))
    assert len(found) == bool(told)
    assert all(told in each.message for each in found)
    ways = list(tops_over([replace(bent, line=line[::-1])]))
    assert len(ways) == len(found)


def test_a_trench_that_comes_back_runs_into_no_other() -> None:
    hairpin = Trench("T1", ((0.0, 0.0), (30.0, 0.0), (30.0, 2.0), (0.0, 2.0)), 1.2, 7.2, 2.0)
    other = Trench("T2", ((0.0, 9.2), (30.0, 9.2)), 1.2, 7.2, 2.0)
    assert not [each for each in tops_over([hairpin, other]) if "T2" in each.message]


def test_as_many_trenches_as_a_plot_takes_are_told_in_one_finding() -> None:
    # By hand: 500 at 6 m, each 7.2 m wide, 1.2 m over each of 499 neighbours.
    many = [
        Trench(f"T{n + 1}", ((0.0, 6.0 * n), (30.0, 6.0 * n)), 1.2, 7.2, 2.0) for n in range(500)
    ]
    (said,) = tops_over(many)
    assert "run up to 1.20 m into one another; so do 498 other pairs:" in said.message
