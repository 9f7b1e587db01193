"""Faults of drawings, each with its place and metres."""

from __future__ import annotations

import pytest

from hydraulics.errors import InputError
from hydraulics.plot.asked import AsDrawn, HeaderRules
from hydraulics.plot.by_hand import crossed, drawn_faults
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, Point, SitePlot
from hydraulics.plot.site_plan import Bore, Chamber, Mat, Route, Trench

SQUARE = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
OAK = KeepOut("oak", 3.0, centre=(30.0, 20.0), radius=0.5)
PLOT = SitePlot(SQUARE, (0.0, 20.0), (OAK,))


def found(*lines: tuple[Point, ...]) -> list[tuple[str, str, float]]:
    lay = AsDrawn(tuple(Trench(f"T{k + 1}", line) for k, line in enumerate(lines)))
    return [(f.code, f.loop, round(f.metres, 3)) for f in drawn_faults(PLOT, lay)]


def test_limbs_of_a_u_by_hand() -> None:
    # Check 8: limbs 4 m apart at centres of 5 m; 5 m apart there is no fault.
    assert found(((5, 5), (5, 35), (9, 35), (9, 5))) == [("limbs_close", "T1", 4.0)]
    assert found(((5, 5), (5, 35), (10, 35), (10, 5))) == []


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        # By hand: 1 m from the boundary where 2.5 m are kept; 10 m beyond it.
        ([((1, 5), (1, 30))], ("outside_border", "T1", 1.0)),
        ([((20, 5), (50, 5))], ("outside_border", "T1", -10.0)),
        # 2 m from the oak's centre, 1.5 m from its trunk.
        ([((28, 5), (28, 35))], ("in_keep_out", "T1", 1.5)),
        ([((5, 5), (25, 5)), ((5, 8), (25, 8))], ("centres_close", "T2", 3.0)),
        # Back at 45 degrees.
        ([((5, 5), (15, 5), (5, 15))], ("bend_sharp", "T1", 45.0)),
    ],
)
def test_each_fault_by_hand(lines: list[tuple[Point, ...]], fault: tuple[str, str, float]) -> None:
    assert found(*lines) == [fault]


def test_trenches_end_to_end_may_share_a_header() -> None:
    assert found(((5, 5), (15, 5)), ((17, 5), (27, 5))) == []


def test_bores_too_near_are_told() -> None:
    lay = AsDrawn(bores=(Bore("B1", (5, 5)), Bore("B2", (9, 5))), spacing=6.0)
    (fault,) = drawn_faults(PLOT, lay)
    assert (fault.code, fault.loop, fault.metres) == ("centres_close", "B2", 4.0)


def test_mats_keep_off_what_lies_in_the_water() -> None:
    # By hand: 1 m kept off a cable, and 1 m of the mat to its edge; 2 m from it is enough.
    cable = KeepOut("cable", 1.0, line=((20.0, 0.0), (20.0, 40.0)))
    water = ((5.0, 5.0), (35.0, 5.0), (35.0, 35.0), (5.0, 35.0))
    lay = AsDrawn(mats=(Mat("M1", (20.5, 20.0)), Mat("M2", (22.0, 10.0)), Mat("M3", (17.9, 30.0))))
    (fault,) = drawn_faults(SitePlot(SQUARE, (0.0, 20.0), (cable,), water), lay)
    assert (fault.code, fault.loop, fault.metres, fault.least) == ("in_keep_out", "M1", 0.5, 2.0)
    with pytest.raises(InputError, match="from cable, counted"):
        set_out(SitePlot(SQUARE, (0.0, 20.0), (cable,), water), lay)


def test_a_header_through_a_trench_is_told() -> None:
    lay = AsDrawn((Trench("T1", ((5.0, 10.0), (25.0, 10.0))),))
    plan = set_out(PLOT, lay, HeaderRules(), (Chamber("C1", (3.0, 20.0)),))
    assert list(crossed(plan, HeaderRules())) == []
    through = Route("C1", None, "C1", ((3.0, 20.0), (15.0, 20.0), (15.0, 5.0)))
    wrong = type(plan)(plan.plot, plan.trenches, (), (), plan.chambers, {}, (through,), (), 0.0)
    # By hand: it runs into the trench, so that half of its own width is missing.
    (fault,) = crossed(wrong, HeaderRules())
    assert (fault.code, fault.other, fault.metres) == ("header_crosses_trench", "T1", -0.25)


def test_a_plan_is_refused_where_what_is_drawn_lies_wrong() -> None:
    # By hand: the trench at x = 19 runs through the house from y = 10 to 20; the bore at (1, 1) is
    # 1 m from the boundary.
    house = KeepOut("house", 2.0, ((15.0, 10.0), (25.0, 10.0), (25.0, 20.0), (15.0, 20.0)))
    plot = SitePlot(((0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0)), (15.0, 15.0), (house,))
    lay = AsDrawn((Trench("T1", ((19.0, 5.0), (19.0, 25.0))),), (Bore("B1", (1.0, 1.0)),))
    with pytest.raises(InputError) as error:
        set_out(plot, lay)
    assert [fault.field for fault in error.value.faults] == ["trenches.0.line", "bores.0.at"]
    first, second = (fault.message for fault in error.value.faults)
    assert "T1 runs through house" in first
    assert "B1 comes to 1.00 m from the boundary" in second
