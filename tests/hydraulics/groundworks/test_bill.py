import pytest

from hydraulics.groundworks.bill import Bill, Item, bill
from hydraulics.groundworks.excavation import HeaderTrench, Trench
from hydraulics.groundworks.pipe_order import pipe_order
from hydraulics.groundworks.works import Prices, Works, groundworks
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Leg, Slinky, Straight
from hydraulics.pipework.fittings import Fitting, loss_of
from hydraulics.pipework.pipe import pe_pipe

P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")
VALVE = Fitting(kv=1.42, valve="Wren 15 (invented)", position=2.5)
ELBOWS = loss_of((Fitting(kind="elbow_90", count=3),), P40.bore)
PLANT = Plant(runs=(Run(P40, 6.0, ELBOWS),))


def of(
    *legs: Leg,
    count: int = 4,
    prices: Prices | None = None,
    antifreeze: list[Item] | None = None,
) -> Bill:
    loop = Loop("T", P32, legs)
    first = Branch(loop, fittings=loss_of((VALVE,), None))
    rest = Branch(loop, count=count - 1)
    circuit = Circuit("manifold", (first, rest))
    dug = groundworks(circuit, Works(soil="clay"), Trench(1.2, 1.2), HeaderTrench(20.0),
                      plant=PLANT)  # fmt: skip
    order = pipe_order(circuit, PLANT, {P32.name: (200.0,), P40.name: (50.0,)})
    return bill(circuit, PLANT, order, dug, antifreeze=antifreeze, prices=prices)


SLINKY = (Straight(10.0), Slinky(30, 1.0, 1.0), Straight(10.0))


def test_everything_is_on_one_list() -> None:
    # By hand: four loops of 20 + 30 (pi + 2) = 174 m from a coil of 200 m each, 12 m of run from
    # one of 50 m; three elbows; one valve; four ports.
    found = of(*SLINKY, antifreeze=[Item("glycol, container of 200 L", 3)])
    told = {each.item: (each.quantity, each.unit) for each in found.items}
    assert told["PE100 SDR11 32, coil of 200 m"] == (4, "each")
    assert told["PE100 SDR11 40, coil of 50 m"] == (1, "each")
    assert told["elbow 90, PE100 SDR11 40"] == (3, "each")
    assert told["Wren 15 (invented)"] == (1, "each")
    assert told["manifold of 4 ports, flow and return"] == (1, "each")
    assert told["glycol, container of 200 L"] == (3, "each")
    # 120 m of trench and 20 m of header trench, 40 m in 6 h (common practice, no source).
    assert told["digger with driver"][0] == pytest.approx(140.0 * 6.0 / 40.0)
    assert told["digger with driver"][1] == "h"
    details = {each.item: each.detail for each in found.items}
    assert details["Wren 15 (invented)"] == "T: at 2.5, Kv 1.42"
    assert details["PE100 SDR11 32, coil of 200 m"] == (
        "T: 174.2 m in one piece each, the rest cut off"
    )
    assert found.total is None
    assert not found.findings
    assert not any("antifreeze" in each for each in found.left_out)


def test_what_the_job_does_not_tell_is_said_to_be_left_out() -> None:
    assert any("antifreeze: the job tells no filling" in each for each in of(*SLINKY).left_out)


def test_a_loop_that_no_coil_is_long_enough_for_is_on_the_list() -> None:
    found = of(Slinky(60, 1.0, 1.0))  # 60 (pi + 2) = 308.5 m
    (line,) = (each for each in found.items if "in one piece" in each.item)
    assert (line.item, line.quantity) == ("PE100 SDR11 32, 308.5 m in one piece", 4)


def test_boreholes_are_drilled_grouted_and_have_their_tubes() -> None:
    found = of(BoreholeU(80.0, diameter=0.14), count=3)
    told = {each.item: each.quantity for each in found.items}
    assert told["U-tube of PE100 SDR11 32, 80 m deep"] == 3
    assert told["drilling"] == pytest.approx(240.0)
    # By hand: 240 m of pi/4 (0.14² - 2 · 0.032²) m².
    assert told["grout"] == pytest.approx(240.0 * 3.14159265 / 4.0 * (0.14**2 - 2 * 0.032**2))


def test_prices_make_it_a_quotation_that_says_what_is_missing() -> None:
    prices = Prices(
        "EUR", {"PE100 SDR11 32, coil of 200 m": 310.5, "digger with driver": 60.0, "sand": 30.0}
    )
    found = of(*SLINKY, prices=prices)
    assert found.total == pytest.approx(4 * 310.5 + 21.0 * 60.0)
    told = {each.code: each.message for each in found.findings}
    assert "'sand'" in told["price_not_used"]
    assert f"for {len(found.items) - 2} of {len(found.items)} items" in told["bill_not_whole"]
    whole = Prices("EUR", {each.item: 1.0 for each in found.items})
    priced = of(*SLINKY, prices=whole)
    assert not priced.findings
    # Each row to the hundredth that is paid, and then their sum.
    assert priced.total == pytest.approx(sum(round(each.quantity, 2) for each in priced.items))
