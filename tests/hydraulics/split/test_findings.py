"""Each finding is given where its case arises and nowhere else."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from hydraulics.errors import RangeError
from hydraulics.findings import FINDING_CODES, Finding
from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import Leg, Slinky, Straight
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import NO_LOSS, Loss, loss_from_kv
from hydraulics.pipework.pipe import Pipe
from hydraulics.split import findings as split_findings
from hydraulics.split import head_high
from hydraulics.split.assembly import assemble
from hydraulics.split.duty import FlowDuty, HeatDuty, duty_fluids
from hydraulics.split.findings import place_of_row
from hydraulics.split.flow_split import flow_split
from tests.hydraulics.random_arrays import P32, P40, P50, P63

MEG = mixture("ethylene_glycol", 0.25, "mass")  # freezes at -10.97 degC (CoolProp)


def loop(name: str, length: float = 40.0, pipe: Pipe = P32, *more: Leg) -> Loop:
    return Loop(name, pipe, (Straight(length), *more))


QUIET = Circuit("manifold", (Branch(loop("T1")), Branch(loop("T2"))))
QUIET_DUTY = FlowDuty(1.2e-3, 2.0, 5.0)  # turbulent at 1.1 m/s


def found(
    circuit: Circuit = QUIET, duty: FlowDuty = QUIET_DUTY, plant: Plant | None = None
) -> dict[str, Finding]:
    findings = flow_split(circuit, plant or Plant(), MEG, duty).findings
    codes = [finding.code for finding in findings]
    assert len(codes) == len(set(codes))
    order = [("error", "warning", "info").index(finding.severity) for finding in findings]
    assert order == sorted(order)
    return dict(zip(codes, findings, strict=True))


THIN = Pipe("thin", 0.012, 0.016)
CROSSED = Circuit(
    # Wheatstone's bridge: B ties the far end of a thin flow header to the start of a thin return.
    "reverse_return",
    (
        Branch(loop("A", 1.0, P63)),
        Branch(loop("B", 1.0, P63), 60.0, header_pipe=THIN),
        Branch(loop("C", 1.0, P63), 60.0, header_pipe=P63, return_header_pipe=THIN),
    ),
    P63,
)
SLINKIES = Circuit("manifold", (Branch(loop("T1", 5.0, P32, Slinky(8, 1.0, 1.0))),))


def manifold(*loops: Loop) -> Circuit:
    return Circuit("manifold", tuple(Branch(each) for each in loops))


CASES: dict[str, tuple[Circuit, FlowDuty, Plant]] = {
    "imbalance": (manifold(loop("T1"), loop("T2", 28.0)), QUIET_DUTY, Plant()),
    "unequal_lengths": (manifold(loop("T1"), loop("T2", 37.5)), QUIET_DUTY, Plant()),
    "no_flow": (QUIET, replace(QUIET_DUTY, volume_flow=0.0), Plant()),
    "laminar_loop": (QUIET, replace(QUIET_DUTY, volume_flow=0.1e-3), Plant()),
    "transitional_pipe": (QUIET, replace(QUIET_DUTY, volume_flow=0.35e-3), Plant()),
    "velocity_high": (QUIET, replace(QUIET_DUTY, volume_flow=1.7e-3), Plant()),
    "velocity_impossible": (QUIET, replace(QUIET_DUTY, volume_flow=12e-3), Plant()),
    "pressure_above_class": (QUIET, QUIET_DUTY, Plant(Exchanger((1.2e-3,), (17e5,)))),
    "pumping_above_heat": (QUIET, FlowDuty(1.2e-3, 2.0, 2.001), Plant()),
    "header_length_not_given": (replace(QUIET, arrangement="direct_return"), QUIET_DUTY, Plant()),
    "loops_closed": (
        replace(QUIET, branches=(*QUIET.branches, Branch(loop("T9"), closed=True))),
        QUIET_DUTY,
        Plant(),
    ),
    "head_high": (QUIET, QUIET_DUTY, Plant(Exchanger((1.2e-3,), (90e3,)))),
    "heat_exchanger_far_above": (QUIET, QUIET_DUTY, Plant(Exchanger((72.0e-3,), (9e3,)))),
    "heat_exchanger_beyond_data": (QUIET, QUIET_DUTY, Plant(Exchanger((1e-3,), (9e3,)))),
    "freezing_margin_thin": (QUIET, FlowDuty(1.2e-3, -8.5, 5.0), Plant()),
    "return_below_limit": (QUIET, FlowDuty(1.2e-3, -3.0, -0.1), Plant()),
    "coil_friction_uncertain": (SLINKIES, replace(QUIET_DUTY, volume_flow=0.7e-3), Plant()),
}


def test_a_quiet_array_has_no_findings() -> None:
    assert found() == {}


def test_every_code_that_a_flow_split_gives_has_a_case_and_an_explanation() -> None:
    source = Path(split_findings.__file__).read_text() + Path(head_high.__file__).read_text()
    given = {code for code in FINDING_CODES if f'"{code}"' in source}
    assert given == set(CASES) | {"reversed_flow", "strength_next_to_none", "viscosity_uncertain"}


@pytest.mark.parametrize("code", CASES)
def test_each_case_gives_its_finding(code: str) -> None:
    finding = found(*CASES[code])[code]
    assert finding.source
    assert finding.message.endswith(".")
    assert "nan" not in finding.message


@pytest.mark.parametrize("code", CASES)
def test_each_finding_comes_with_its_case_alone(code: str) -> None:
    # Lengths that differ enough to unbalance are unequal.
    with_it = {
        "imbalance": {"unequal_lengths"},
        "velocity_impossible": {"pressure_above_class", "head_high"},
        "pressure_above_class": {"head_high"},
    }
    assert set(found(*CASES[code])) == {code} | with_it.get(code, set())


def test_flow_that_runs_backwards_is_an_error() -> None:
    told = found(CROSSED, FlowDuty(2e-4, 2.0, 5.0))
    assert told["imbalance"].message.startswith("B runs backwards, and A gets ")
    finding = told["reversed_flow"]
    assert finding.severity == "error"
    assert "backwards in B" in finding.message
    assert finding.place == (1,)


def test_a_loop_starved_to_nothing_is_not_called_reversed() -> None:
    fields = tuple(Branch(loop(f"T{i}", 20.0), 10.0) for i in range(200))
    codes = found(Circuit("direct_return", fields, P32), FlowDuty(1e-2, 2.0, 5.0))
    assert "reversed_flow" not in codes
    assert "imbalance" in codes


def test_the_imbalance_names_the_starved_and_the_favoured_loop() -> None:
    finding = found(*CASES["imbalance"])["imbalance"]
    assert re.search(r"T1 gets [\d.]+ % less than an even share", finding.message)
    assert re.search(r"T2 [\d.]+ % more", finding.message)
    assert finding.place == (0,)


def test_limits_are_met_and_not_passed() -> None:
    assert "return_below_limit" not in found(QUIET, FlowDuty(1.2e-3, -3.0, 0.0))
    # 25 % ethylene glycol by mass freezes at -10.97 degC here, at -10.7 by ASHRAE: 3 K above that
    # is -7.7.
    assert "freezing_margin_thin" not in found(QUIET, FlowDuty(1.2e-3, -7.6, 5.0))
    assert "freezing_margin_thin" in found(QUIET, FlowDuty(1.2e-3, -7.75, 5.0))
    area = P32.bore_area
    assert "velocity_high" not in found(QUIET, replace(QUIET_DUTY, volume_flow=2 * area * 1.49))
    assert "velocity_high" in found(QUIET, replace(QUIET_DUTY, volume_flow=2 * area * 1.51))


def test_a_return_colder_than_the_flow_is_what_counts_for_freezing() -> None:
    assert "freezing_margin_thin" in found(QUIET, FlowDuty(1.2e-3, 5.0, -8.5))


@pytest.mark.parametrize(
    ("circuit", "plant", "where"),
    [
        (QUIET, Plant(runs=(Run(P40, 5.0),)), "the plant's run"),
        (Circuit("direct_return", (Branch(loop("T1"), 9.0), Branch(loop("T2"))), P40), Plant(),
         "a header"),
        (Circuit("manifold", (Branch(QUIET, runs=(Run(P40, 5.0),)),)), Plant(), "a branch's run"),
        (Circuit("manifold", (Branch(loop("T9", 40.0, P40)),)), Plant(), "loop T9"),
    ],
)  # fmt: skip
def test_high_velocity_says_where(circuit: Circuit, plant: Plant, where: str) -> None:
    message = found(circuit, replace(QUIET_DUTY, volume_flow=1.5e-3), plant)["velocity_high"]
    assert f"m/s in {where};" in message.message


def test_findings_of_part_of_the_loops_have_a_place_and_of_all_have_none() -> None:
    some = Circuit(
        "manifold", (Branch(loop("T1")), Branch(loop("T2", 40.0, Pipe("s", 0.014, 0.018))))
    )
    finding = found(some, FlowDuty(0.3e-3, 2.0, 5.0))
    partly = [f for code, f in finding.items() if code == "laminar_loop"]
    assert partly
    assert all(f.place is not None for f in partly)
    assert found(*CASES["laminar_loop"])["laminar_loop"].place is None
    assert (
        "All loops are laminar where heat is gathered"
        in found(*CASES["laminar_loop"])["laminar_loop"].message
    )


def test_the_place_of_every_row_is_that_of_its_branch() -> None:
    inner = Circuit("manifold", (Branch(loop("A")), Branch(loop("B"))), name="I")
    outer = Circuit("direct_return", (Branch(inner, 3.0), Branch(loop("C"), 3.0)), P50)
    network = assemble(
        Circuit("manifold", (Branch(loop("D")), Branch(outer))),
        Plant(),
        duty_fluids(MEG, QUIET_DUTY),
    )
    places = [place_of_row(network, row) for row in range(network.rows)]
    assert places == [(0,), (1,), (1, 0), (1, 1), (1, 0, 0), (1, 0, 1)]


def test_findings_tell_their_numbers() -> None:
    # By hand where no solver is needed: 40 and 37.5 m; 26 mm of bore, half of the flow in each.
    lengths = found(*CASES["unequal_lengths"])["unequal_lengths"]
    assert "from 38 m (T2) to 40 m (T1)" in lengths.message
    assert lengths.place == (1,)
    area = P32.bore_area
    speed = found(QUIET, replace(QUIET_DUTY, volume_flow=2 * area * 1.6))["velocity_high"].message
    assert "Brine reaches 1.60 m/s in loop T1; keep below 1.5 m/s" in speed
    cold = found(*CASES["return_below_limit"])["return_below_limit"].message
    assert "at -0.1 °C" in cold
    assert "below the limit of 0 °C; ground at the pipe may freeze" in cold
    # 25 % of ethylene glycol by mass freezes at -10.97 degC (CoolProp).
    thin = found(*CASES["freezing_margin_thin"])["freezing_margin_thin"].message
    assert "The coldest brine, -8.5 °C, is 2.5 K above" in thin
    assert "3 K is asked for" in thin
    result = flow_split(*CASES["head_high"][:1], CASES["head_high"][2], MEG, CASES["head_high"][1])
    high = found(*CASES["head_high"])["head_high"].message
    assert f"is {result.pump.pressure / 1000:.0f} kPa ({result.pump.head:.1f} m)" in high
    assert "gives about 100 kPa" in high
    assert result.pump.head == pytest.approx(
        result.pump.pressure / (result.fluids[1].density * 9.80665)
    )
    even = found(*CASES["imbalance"])["imbalance"].message
    assert "±10 % is allowed" in even


def test_a_heat_exchanger_is_not_continued_in_silence() -> None:
    # By hand: 20 % beyond the last point 1.44 times its drop.
    result = flow_split(QUIET, CASES["heat_exchanger_beyond_data"][2], MEG, QUIET_DUTY)
    told = found(*CASES["heat_exchanger_beyond_data"])["heat_exchanger_beyond_data"]
    assert told.severity == "warning"
    share = 100 * 9e3 * 1.44 / result.pump.pressure
    assert (
        f"drop of 13.0 kPa, {share:.0f} % of the head, is continued by the square" in told.message
    )
    by_law = Plant(Exchanger((1e-3,), (9e3,), 1.5))
    info = found(QUIET, QUIET_DUTY, by_law)["heat_exchanger_beyond_data"]
    assert info.severity == "info"
    assert f"drop of {9 * 1.2**1.5:.1f} kPa" in info.message
    assert "heat_exchanger_beyond_data" not in found(
        QUIET, QUIET_DUTY, Plant(Exchanger((1.2e-3,), (9e3,)))
    )


# 1.2 L/s are 4.32 m³/h, 72 L/min and 4,320 L/h.
@pytest.mark.parametrize(
    ("number", "unit"), [(4.32, "m³/h"), (72.0, "L/min"), (40.0, "L/min"), (4320.0, "L/h")]
)
def test_a_heat_exchanger_told_in_another_unit_is_found(number: float, unit: str) -> None:
    plant = Plant(Exchanger((number / 1e3,), (9e3,)))
    told = found(QUIET, QUIET_DUTY, plant)["heat_exchanger_far_above"]
    assert told.severity == "warning"
    assert f"{float(f'{number / 1.2:.3g}'):g} times" in told.message.replace(",", "")
    assert f" {unit} would be " in told.message
    table = Plant(Exchanger((number / 1e3, 2 * number / 1e3), (9e3, 30e3)))
    assert "heat_exchanger_far_above" in found(QUIET, QUIET_DUTY, table)


@pytest.mark.parametrize("rated", [1.2, 3.59])
def test_a_heat_exchanger_of_a_larger_flow_is_taken_as_told(rated: float) -> None:
    plant = Plant(Exchanger((rated / 1e3,), (9e3,)))
    assert "heat_exchanger_far_above" not in found(QUIET, QUIET_DUTY, plant)


def test_a_heat_exchanger_far_beyond_its_data_is_refused_unless_its_law_is_given() -> None:
    far = Plant(Exchanger((0.2e-3, 0.79e-3), (3e3, 12e3)))
    with pytest.raises(RangeError, match=r"1\.52 times that; give a point"):
        flow_split(QUIET, far, MEG, QUIET_DUTY)
    flow_split(QUIET, Plant(Exchanger((0.2e-3, 0.81e-3), (3e3, 12e3))), MEG, QUIET_DUTY)
    flow_split(QUIET, Plant(Exchanger((0.2e-3, 0.79e-3), (3e3, 12e3), 1.8)), MEG, QUIET_DUTY)


def test_a_heat_a_thousand_times_too_much_is_told_so_beside_a_heat_exchanger() -> None:
    # 8,400 kW for 8.4 kW: without an exponent, it was only said to be far beyond the data.
    far = Plant(Exchanger((0.6e-3,), (12e3,)))
    with pytest.raises(RangeError, match=r"check the heat or the flow \(kW, L/s\) first, and give"):
        flow_split(QUIET, far, MEG, HeatDuty(8.4e6, 2.0, 5.0))


def test_a_high_head_is_advised_by_its_largest_part() -> None:
    def advice(circuit: Circuit, plant: Plant, duty: FlowDuty = QUIET_DUTY) -> str:
        return found(circuit, duty, plant)["head_high"].message.split("100 kPa. ")[1]

    by_exchanger = advice(QUIET, Plant(Exchanger((1.2e-3,), (90e3,))))
    result = flow_split(QUIET, Plant(Exchanger((1.2e-3,), (90e3,))), MEG, QUIET_DUTY)
    share = 90e3 / result.pump.pressure
    assert by_exchanger.startswith(
        f"The heat exchanger takes 90.0 kPa ({share:.0%}".replace("%", " %")
    )
    assert "; the pipe of loop T1 takes " in by_exchanger
    long = manifold(loop("T1", 600.0), loop("T2", 600.0))
    assert advice(long, Plant()).startswith("The pipe of loop T1 takes ")
    assert "heat exchanger" not in advice(long, Plant())
    runs = advice(QUIET, Plant(runs=(Run(P32, 100.0),)))
    assert runs.startswith("The plant's runs and fittings take ")
    branch = Circuit("manifold", (Branch(loop("T1"), runs=(Run(P32, 200.0),)), Branch(loop("T2"))))
    assert "eaders and runs to loop" in advice(branch, Plant(), FlowDuty(2.4e-3, 2.0, 5.0))


def test_a_valve_before_a_chamber_is_not_called_headers_and_runs_in_a_high_head() -> None:
    # EN 60534-1: 1.2 L/s of brine of 1,038 kg/m3 through Kv 4 drop (4.32/4)^2 * 1.038 bar, 121 kPa.
    chamber = Circuit("manifold", QUIET.branches, name="N")
    run = (Run(P32, 5.0),)

    def high(valve: Loss, header: Pipe = P32) -> Finding | None:
        run = (Run(header, 5.0),)
        array = Circuit("manifold", (Branch(chamber, runs=run, fittings=valve),))
        return found(array, QUIET_DUTY, Plant()).get("head_high")

    valve = loss_from_kv(4.0)
    told = high(valve)
    assert told is not None
    parts = told.message.split("100 kPa. ")[1]
    first = re.match(
        r"Valves and fittings on the way to loop N/T1 take ([\d.]+) kPa \(\d+ %\): open or "
        r"exchange those before N; ",
        parts,
    )
    assert first is not None, parts
    density = duty_fluids(MEG, QUIET_DUTY)[1].density
    assert float(first[1]) == pytest.approx((4.32 / 4.0) ** 2 * density / 1e3 * 1e2, rel=1e-3)
    runs = flow_split(
        Circuit("manifold", (Branch(chamber, runs=run),)), Plant(), MEG, QUIET_DUTY
    ).loops.header_drop[0]
    rest = re.search(r"headers and runs to loop N/T1 take ([\d.]+) kPa", parts)
    assert rest is not None, parts
    assert float(rest[1]) == pytest.approx(runs / 1e3, abs=0.06)
    # Obeyed, it helps: the valve opened, nothing is told any more; wider pipe alone leaves it high.
    assert high(NO_LOSS) is None
    assert high(valve, P63) is not None


def test_a_flow_typed_a_thousand_times_too_large_is_an_error_not_a_split() -> None:
    # 8,400 kW for 8.4 kW at 3.5 K of change, in two even loops of 26 mm bore. By hand: 8.4e6 /
    # (3,850 * 3.5 * 1,035) = 0.60 m3/s, over 2 * 5.31e-4 m2: about 570 m/s.
    result = flow_split(QUIET, Plant(), MEG, HeatDuty(8.4e6, 3.5, 0.0))
    assert result.imbalance is not None
    assert result.imbalance.within_tolerance  # the flows are even, the design is not possible
    errors = {each.code: each.message for each in result.findings if each.severity == "error"}
    assert set(errors) == {"velocity_impossible", "pressure_above_class", "pumping_above_heat"}
    speed = float(re.search(r"reach ([\d,]+) m/s", errors["velocity_impossible"])[1])  # type: ignore[index]
    assert speed == pytest.approx(570, rel=0.03)
    assert result.findings[0].severity == "error"


def test_pressure_that_no_pipe_bears_is_an_error_where_the_class_is_not_known() -> None:
    own = manifold(loop("T1", 40.0, Pipe("own", 0.026, 0.032)))
    duty = replace(QUIET_DUTY, volume_flow=0.6e-3)
    for drop, told in ((24e5, False), (26e5, True)):
        codes = found(own, duty, Plant(Exchanger((0.6e-3,), (drop,))))
        assert ("pressure_above_class" in codes) is told


@pytest.mark.parametrize(("percent", "told"), [(0.25, True), (1.5, False), (25.0, False)])
def test_a_strength_given_as_a_fraction_is_told(percent: float, told: bool) -> None:
    weak = mixture("propylene_glycol", percent / 100.0, "mass")
    result = flow_split(QUIET, Plant(), weak, FlowDuty(1.2e-3, 5.0, 8.0))
    message = [f.message for f in result.findings if f.code == "strength_next_to_none"]
    assert bool(message) is told
    if told:
        # By volume 0.25 % by mass is 0.241 (1036 kg/m3 at 20 degC).
        assert "0.25 % by mass (0.24 % by volume) of antifreeze" in message[0]
    water = flow_split(QUIET, Plant(), mixture("water", 0.0, "mass"), FlowDuty(1.2e-3, 5.0, 8.0))
    assert "strength_next_to_none" not in {each.code for each in water.findings}


def test_a_header_of_which_every_length_but_the_first_is_given_is_no_finding() -> None:
    code = "header_length_not_given"
    given = Circuit("reverse_return", (Branch(loop("A")), Branch(loop("B"), 5.0)), P40)
    assert code not in found(given)
    assert code in found(replace(given, branches=tuple(Branch(b.item) for b in given.branches)))
    assert code not in found(Circuit("direct_return", (Branch(loop("A")),)))
    counted = Circuit("direct_return", (Branch(loop("A"), count=2),))
    assert code in found(Circuit("manifold", (Branch(counted),)))


def test_a_closing_run_without_any_other_header_is_told_to_take_pressure() -> None:
    bare = Circuit("reverse_return", QUIET.branches, P40)
    code = "header_length_not_given"
    assert "its headers take no pressure here" in found(bare)[code].message
    closed = replace(bare, closing_length=20.0)
    result = flow_split(closed, Plant(), MEG, QUIET_DUTY)
    assert result.loops.header_drop.min() > 1e3
    told = found(closed)[code].message
    assert "of its headers the closing run of 20 m alone takes pressure here" in told
    assert "no pressure" not in told


def test_headers_without_any_length_are_not_in_transition() -> None:
    # The header to B carries half the flow, at Re 2530 in 28 mm: in transition if it is there.
    duty = replace(QUIET_DUTY, volume_flow=0.35e-3)
    wide = Pipe("wide", 0.028, 0.032)
    for length, told in ((0.0, False), (5.0, True)):
        array = Circuit("direct_return", (Branch(loop("A")), Branch(loop("B"), length)), wide)
        result = flow_split(array, Plant(), MEG, duty)
        message = next(f.message for f in result.findings if f.code == "transitional_pipe")
        assert ("headers" in message) is told


def test_a_branch_whose_length_of_header_is_left_out_is_named() -> None:
    code = "header_length_not_given"
    branches = (Branch(loop("A"), 5.0), Branch(loop("B")), Branch(loop("C"), 5.0))
    told = found(Circuit("direct_return", branches, P40))[code]
    assert told.severity == "warning"
    assert "from the branch before to B: its length is left out, or 0 m" in told.message
    # Equal branches lie each so far from the one before: of none told, none but the first has 0.
    equal = (Branch(loop("A"), count=2), Branch(QUIET), branches[2])
    assert "to A and branch 2:" in found(Circuit("direct_return", equal, P40))[code].message


@pytest.mark.parametrize(("speed", "shown"), [(1.5002, "1.5002"), (1.51, "1.51")])
def test_a_velocity_is_told_in_digits_that_show_it_is_more(speed: float, shown: str) -> None:
    duty = replace(QUIET_DUTY, volume_flow=2 * P32.bore_area * speed)
    assert f"reaches {shown} m/s" in found(QUIET, duty)["velocity_high"].message


def test_a_return_just_below_nought_is_told_as_such() -> None:
    told = found(QUIET, FlowDuty(1.2e-3, -3.0, -0.04))["return_below_limit"].message
    assert "at -0.04 °C, below the limit of 0 °C" in told


def test_head_and_coils_at_their_limits() -> None:
    # 100 kPa is about what one domestic circulator gives: common practice, no source.
    quiet = flow_split(QUIET, Plant(), MEG, QUIET_DUTY).pump.pressure
    for extra, told in ((99.9e3 - quiet, False), (100.1e3 - quiet, True)):
        plant = Plant(Exchanger((1.2e-3,), (extra,)))
        assert ("head_high" in found(QUIET, QUIET_DUTY, plant)) is told
    # Coils are told from a quarter of the loops' drop.
    for coils, told in ((1, False), (8, True)):
        circuit = manifold(Loop("T1", P32, (Straight(30.0), Slinky(coils, 1.0, 1.0))))
        codes = found(circuit, replace(QUIET_DUTY, volume_flow=0.6e-3))
        assert ("coil_friction_uncertain" in codes) is told


def test_lengths_may_differ_by_a_twentieth() -> None:
    # Common practice, no source: 5 % of the mean.
    for other, told in ((38.1, False), (37.9, True)):
        codes = found(manifold(loop("T1"), loop("T2", other)))
        assert ("unequal_lengths" in codes) is told


def test_regimes_tell_their_reynolds_numbers() -> None:
    # Re = 4 Q/(pi d nu); half of the flow in each of two equal loops.
    result = flow_split(QUIET, Plant(), MEG, CASES["laminar_loop"][1])
    brine = result.fluids[1]
    reynolds = 4 * 0.05e-3 / (3.14159265 * 0.026) * brine.density / brine.viscosity
    told = found(*CASES["laminar_loop"])["laminar_loop"]
    assert f"(Re {reynolds:.0f})" in told.message
    assert told.severity == "warning"
    unlike = manifold(loop("T1"), loop("T2", 41.0), loop("T3", 42.0))
    some = found(unlike, replace(QUIET_DUTY, volume_flow=0.15e-3))["laminar_loop"]
    assert re.search(r"\(Re \d+ to \d+\)", some.message)
    assert "All loops are laminar where heat is gathered" in some.message
    assert (
        "T1 is laminar"
        in found(manifold(loop("T1")), CASES["laminar_loop"][1])["laminar_loop"].message
    )


@pytest.mark.parametrize(
    ("limit", "told"), [(-5.0, False), (-4.6, False), (-4.4, True), (0.0, True)]
)
def test_the_return_is_held_against_the_limit_of_the_job(limit: float, told: bool) -> None:
    circuit = Circuit("manifold", (Branch(loop("A", 100.0)), Branch(loop("B", 100.0))))
    duty = FlowDuty(4e-4, -6.5, -4.5)
    result = flow_split(circuit, Plant(), MEG, duty, least_return=limit)
    found = [each.message for each in result.findings if each.code == "return_below_limit"]
    assert bool(found) is told
    if told:
        assert f"-4.5 °C, below the limit of {limit:g} °C" in found[0]


def test_every_loop_beyond_the_tolerance_is_named() -> None:
    # Of three loops one is short and takes more, so that both of the others are starved alike.
    uneven = manifold(loop("A", 90.0), loop("B", 20.0), loop("C", 90.0))
    table = flow_split(uneven, Plant(), MEG, QUIET_DUTY).loops
    assert (table.deviation[[0, 2]] < -0.1).all()
    message = found(uneven)["imbalance"].message
    assert message.startswith("A gets ")
    assert message.endswith("±10 % is allowed, which C is beyond too.")
    assert "beyond" not in found(*CASES["imbalance"])["imbalance"].message
