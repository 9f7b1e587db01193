"""Whatever pipe a job buries lies in something that is dug, or it is said that it does not."""

import itertools
import math

import pytest

from hydraulics.findings import Finding
from hydraulics.groundworks.excavation import HeaderTrench, SpareCoil, Trench
from hydraulics.groundworks.works import Groundworks, Works, groundworks
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.plot.plot import Plot

P32, P40, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 63))
CLAY = Works(soil="clay")
DEEP = Trench(1.5, 2.4, passes=2)

# Sections of pipe from its outside diameter [m²]: pi/4 d² in four digits.
S32, S40, S63 = 8.0425e-4, 1.25664e-3, 3.11725e-3

# Every kind of leg with the outside volume of pipe that it buries [m³], by hand: a coil of 1 m
# takes pi m and its pitch, its return the pitch again. Boreholes are drilled and mats sunk.
KINDS: list[tuple[Leg, float]] = [
    (Straight(10.0), 10.0 * S32),
    (Straight(7.0, P40), 7.0 * S40),
    (Slinky(30, 1.0, 1.0), 30.0 * (math.pi + 2.0) * S32),
    (Slinky(20, 1.0, 0.5, upright=True), 20.0 * (math.pi + 1.0) * S32),
    (Slinky(10, 1.0, 1.0, returns_alongside=False), 10.0 * (math.pi + 1.0) * S32),
    (Coiled(20.0, 1.0), 20.0 * S32),
    (Coiled(9.0, 1.2, P40), 9.0 * S40),
    (TrenchPasses(25.0, 4), 100.0 * S32),
    (TrenchPasses(25.0, 2, 1.0), (50.0 + 0.5 * math.pi) * S32),
    (PondMat(0.6, 2.0, 0.3, 3), 0.0),
    (BoreholeU(80.0, 2, diameter=0.15), 0.0),
]
MIXTURES = [
    *((kind,) for kind in KINDS),
    *itertools.product(KINDS, repeat=2),
    *itertools.combinations(KINDS, 3),
]
HEADERS = (None, HeaderTrench(), HeaderTrench(40.0))


def array(*legs: Leg, count: int = 1) -> Circuit:
    return Circuit("manifold", (Branch(Loop("T", P32, tuple(legs)), count=count),))


def told(found: Groundworks, code: str) -> list[Finding]:
    return [each for each in found.findings if each.code == code]


@pytest.mark.parametrize("header", HEADERS)
@pytest.mark.parametrize("count", [1, 3])
def test_all_pipe_of_every_mixture_of_legs_is_dug_in_or_said_not_to_be(
    header: HeaderTrench | None, count: int
) -> None:
    for mixture in MIXTURES:
        legs = [leg for leg, _ in mixture]
        found = groundworks(array(*legs, count=count), CLAY, DEEP, header)
        buried = count * sum(volume for _, volume in mixture)
        dug = found.total.pipe == pytest.approx(buried, rel=1e-5, abs=1e-9)
        said = told(found, "pipe_not_dug")
        assert dug is not bool(said), (legs, header, found.total.pipe, buried)
        if said:
            assert found.total.pipe < buried
            # Straight pipe beside mats alone may lie in the water.
            sunk = all(isinstance(leg, PondMat | Straight | Coiled) for leg in legs) and any(
                isinstance(leg, PondMat) for leg in legs
            )
            coils = header is None and any(isinstance(leg, Coiled) for leg in legs)
            assert ("error" in {each.severity for each in said}) is (coils or not sunk)
        if header is HEADERS[2]:
            assert dug


def test_headers_without_a_trench_are_said_not_to_be_dug() -> None:
    loop = Loop("T", P32, (Slinky(30, 1.0, 1.0),))
    circuit = Circuit("direct_return", (Branch(loop, header_length=5.0, count=3),), P63)
    (said,) = told(groundworks(circuit, CLAY, DEEP), "pipe_not_dug")
    assert said.severity == "error"
    assert "headers" in said.message
    assert not told(groundworks(circuit, CLAY, DEEP, HeaderTrench()), "pipe_not_dug")


def test_spare_coils_leave_the_straight_pipe_of_a_loop_in_its_trench() -> None:
    plain, spare = (
        groundworks(array(Straight(240.0), *more), CLAY, DEEP, HeaderTrench(60.0))
        for more in ((), (Coiled(20.0, 1.0),))
    )
    assert spare.trenches == plain.trenches
    assert spare.loops == plain.loops
    assert spare.loops.length == pytest.approx(120.0)  # 240 m in two passes
    assert spare.block == plain.block


def test_a_spare_coil_lies_in_a_pit_beside_the_header_trench() -> None:
    # By hand: 20 m in coils of 1 m are 6.4 turns, so 7, tied three high and three wide: 1.096 m
    # across, 96 mm high, in a pit 1.2 m deep as the header trench, 100 mm of bedding around.
    found = groundworks(array(Straight(240.0), Coiled(20.0, 1.0), count=2), CLAY, DEEP,
                        HeaderTrench(60.0))  # fmt: skip
    pit = 1.096**2
    assert found.header.length == pytest.approx(60.0)
    assert found.header.dug == pytest.approx(1.2 * (60.0 * 0.5 + 2 * pit))
    around = 60.0 * 0.5 * 0.2 + 2 * pit * 0.296
    assert found.header.bedding + found.header.pipe == pytest.approx(around)
    assert found.header.pipe == pytest.approx(40.0 * S32, rel=1e-5)
    # The loops' trenches by their volume, and longer by 2.4 m of depth over 1.5 m.
    metres = 240.0 * 1.5 * 2.4 / 2.0 * 1.6 + 60.0 + 2 * 1.096
    assert found.digger_hours == pytest.approx(metres / 40.0 * 6.0)
    (said,) = told(found, "spare_coils_room")
    assert "loop T" in said.message
    assert "2 pits up to 1.10 m square" in said.message
    assert not told(groundworks(array(Straight(240.0)), CLAY, DEEP), "spare_coils_room")


def test_a_pit_beside_a_sloped_header_trench_slopes_on_all_four_sides() -> None:
    # By hand: a floor of 1.096 m square, 2 m deep at 0.75 to 1, is 4.096 m square at the surface.
    # A frustum of a pyramid (Euclid XII.7, and school books): h/3 (A + a + sqrt(A a)).
    found = groundworks(array(Straight(240.0), Coiled(20.0, 1.0), count=2), CLAY, DEEP,
                        HeaderTrench(60.0, depth=2.0, side_slope=0.75))  # fmt: skip
    pit = 2.0 / 3.0 * (1.096**2 + 4.096**2 + 1.096 * 4.096)
    assert found.header.dug == pytest.approx(60.0 * (0.5 + 3.5) / 2.0 * 2.0 + 2 * pit)
    # Bedding and bundle are 0.296 m high and 1.096 + 2 · 0.75 · 0.296 = 1.54 m wide on top.
    around = 0.296 / 3.0 * (1.096**2 + 1.54**2 + 1.096 * 1.54)
    trench = 60.0 * (0.5 + 0.5 + 2 * 0.75 * 0.2) / 2.0 * 0.2
    assert found.header.bedding + found.header.pipe == pytest.approx(trench + 2 * around)
    (said,) = told(found, "spare_coils_room")
    assert "1.10 m square at the floor and 4.10 m square at the surface" in said.message
    assert "All four sides" in said.message
    (upright,) = told(
        groundworks(array(Straight(240.0), Coiled(20.0, 1.0)), CLAY, DEEP, HeaderTrench(60.0)),
        "spare_coils_room",
    )
    assert "surface" not in upright.message
    assert "sides" not in upright.message


def test_the_widest_of_several_pits_is_told() -> None:
    circuit = array(Straight(240.0), Coiled(20.0, 2.0), Coiled(20.0, 1.0))
    (said,) = told(groundworks(circuit, CLAY, DEEP, HeaderTrench(60.0)), "spare_coils_room")
    assert "2 pits up to 2.06 m square" in said.message  # four turns, two high and two wide


def test_a_bundle_is_wide_where_it_may_not_be_high() -> None:
    coil = SpareCoil("T", 1, 20.0, 1.0, P32)
    assert coil.bundle(0.8) == pytest.approx((1.096, 0.096))
    assert coil.bundle(0.07) == pytest.approx((1.128, 0.064))  # two high, four wide
    assert coil.bundle(0.01) == pytest.approx((1.224, 0.032))


@pytest.mark.parametrize(("depth", "shallow"), [(1.0, True), (1.137, True), (1.139, False)])
def test_a_bundle_lies_under_three_quarters_of_a_metre(depth: float, shallow: bool) -> None:
    # UK rule for water services, 0.75 m. 290 m in coils of 1.2 m are 77 turns, nine
    # high: 0.288 m over 0.1 m of bedding, so 0.612 m of ground in a pit 1 m deep.
    circuit = array(Slinky(30, 1.0, 1.0), Coiled(290.0, 1.2))
    said = told(groundworks(circuit, CLAY, DEEP, HeaderTrench(60.0, depth=depth)), "cover_shallow")
    assert bool(said) is shallow
    if depth == 1.0:
        assert "Only 0.61 m" in said[0].message


MATS, BORES, PASSES = PondMat(0.6, 2.0, 0.3, 3), BoreholeU(80.0, diameter=0.15), Straight(120.0)


@pytest.mark.parametrize(
    ("kinds", "left_out"),
    [
        ((PASSES, BORES), "4 boreholes"),
        ((PASSES, MATS), "12 mats"),
        ((BORES, MATS), "12 mats"),
        ((PASSES, BORES, MATS), "4 boreholes and 12 mats"),
        ((PASSES,), ""), ((BORES,), ""), ((MATS,), ""),
    ],
)  # fmt: skip
def test_what_is_not_set_out_is_said_and_never_said_to_fit(
    kinds: tuple[Leg, ...], left_out: str
) -> None:
    branches = tuple(Branch(Loop(f"L{n}", P32, (leg,)), count=4) for n, leg in enumerate(kinds))
    circuit = Circuit("manifold", branches)
    for side, fits in ((200.0, True), (10.0, False)):
        found = groundworks(circuit, CLAY, DEEP, plot=Plot(side, side))
        assert found.block is not None
        assert found.block.left_out == left_out
        assert found.block.fits is (None if left_out and fits else fits)
        said = told(found, "places_left_out")
        assert bool(said) is bool(left_out)
        if said:
            assert said[0].severity == "error"
            assert left_out in said[0].message
