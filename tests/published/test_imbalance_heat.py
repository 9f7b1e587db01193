"""The effectiveness relation and the heat of a loop against textbooks and integration."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hydraulics.balancing.heat_cost import effectiveness_one_isothermal, loop_heat
from hydraulics.fluid.mixture import mixture
from hydraulics.ground.pipe_heat import film_resistance, nusselt, wall_resistance
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import Coiled, Slinky, Straight, TrenchPasses
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.assembly import assemble
from hydraulics.split.duty import FlowDuty, duty_fluids


def test_kays_and_london_table_at_capacity_ratio_zero() -> None:
    # Kays & London, Compact Heat Exchangers, counterflow table, column C = 0; from memory, three
    # printed figures, hence half a unit of the last.
    ntu = np.array([0.25, 0.50, 0.75, 1.00, 1.25, 1.50, 1.75, 2.00, 2.50, 3.00, 4.00, 5.00])
    printed = [0.221, 0.393, 0.528, 0.632, 0.714, 0.777, 0.826, 0.865, 0.918, 0.950, 0.982, 0.993]
    assert effectiveness_one_isothermal(ntu) == pytest.approx(printed, abs=0.0006)


def test_kreith_example_8_4_condenser_effectiveness() -> None:
    # Kreith et al., Principles of Heat Transfer, 7th ed., example 8.4 (read in a public code
    # companion to the book): steam condenses at 125.4 °F, sea water warms from 60 to 110 °F; the
    # authors read NTU 1.4 off figure 8.20, to about 0.05, which moves the effectiveness by 0.012.
    effectiveness = (110.0 - 60.0) / (125.4 - 60.0)
    assert float(effectiveness_one_isothermal(np.array(1.4))) == pytest.approx(
        effectiveness, abs=0.012
    )


def test_incropera_tube_in_condensing_steam() -> None:
    # Incropera et al., example of a tube of 50 mm and 6 m held at 100 °C by steam, 0.25 kg/s of
    # water from 15 to 57 °C (data read in a public question on it); the answer, 755 W/m2K with
    # c 4178 J/kgK, from memory. Printed to 1 °C.
    conductance = 755.0 * np.pi * 0.050 * 6.0
    share = float(effectiveness_one_isothermal(np.array(conductance / (0.25 * 4178.0))))
    assert 15.0 + share * (100.0 - 15.0) == pytest.approx(57.0, abs=0.5)


@pytest.mark.parametrize("mass_flow", [0.08, 0.25, 0.9])
def test_outlet_agrees_with_integration_along_a_loop_of_straight_and_coiled_pipe(
    mass_flow: float,
) -> None:
    # dT/dx = U' (Tg - T) / (m c), stepped along straight pipe, coil and straight pipe by SciPy; the
    # tails lead there and exchange nothing.
    pipe = pe_pipe("PE100 SDR11 32")
    coils = Slinky(30, 1.0, 4.0 - math.pi, returns_alongside=False)  # 120 m
    laid = (TrenchPasses(25.0, 1), coils, TrenchPasses(55.0, 1))
    legs = (Straight(40.0), *laid, Straight(300.0))
    circuit = Circuit("manifold", (Branch(Loop("L", pipe, legs)),))
    fluids = duty_fluids(mixture("ethylene_glycol", 0.25, "mass"), FlowDuty(0.5e-3, -3.0, 0.0))
    network = assemble(circuit, Plant(), fluids)
    brine = fluids[1]
    heat = loop_heat(
        network, np.array([mass_flow]), entering_temperature=-3.0, ground_temperature=7.0,
        ground_resistance=0.3, pipe_conductivity=0.42,
    )  # fmt: skip
    reynolds = 4.0 * mass_flow / (np.pi * pipe.bore * brine.viscosity)

    def slope(x: float, t: np.ndarray) -> np.ndarray:
        curvature = pipe.bore / 1.0 if 25.0 <= x < 145.0 else 0.0
        film = film_resistance(nusselt(reynolds, brine.prandtl, curvature), brine.conductivity)
        each = 1.0 / (0.3 + wall_resistance(0.032, 0.026, 0.42) + float(film))
        return np.asarray(each * (7.0 - t) / (mass_flow * brine.specific_heat))

    temperature = np.array([-3.0])
    for start, end in ((0.0, 25.0), (25.0, 145.0), (145.0, 200.0)):
        span = solve_ivp(slope, (start, end - 1e-9), temperature, rtol=1e-9, atol=1e-9)
        temperature = span.y[:, -1]
    # The integrator's own tolerance, over some hundred steps.
    assert heat.leaving_temperature[0] == pytest.approx(float(temperature[0]), abs=1e-6)


def test_a_heap_of_spare_pipe_gathers_nothing_and_says_nothing_of_the_film() -> None:
    """Its turns share their ground (the safe side); the film is that of its straight pipe."""
    pipe = pe_pipe("PE100 SDR11 32")
    loops = (
        Loop("bare", pipe, (Straight(70.0),)),
        Loop("heap", pipe, (Straight(70.0), Coiled(80.0, 1.0))),
        Loop("all heap", pipe, (Coiled(80.0, 1.0),)),
    )
    fluids = duty_fluids(mixture("ethylene_glycol", 0.25, "mass"), FlowDuty(0.5e-3, 3.0, 6.0))
    network = assemble(Circuit("manifold", tuple(map(Branch, loops))), Plant(), fluids)
    # Between what is turbulent in straight pipe (3,000) and in a coil of 38 bores (5,700).
    flow = 4500.0 * np.pi * pipe.bore * fluids[1].viscosity / 4.0
    heat = loop_heat(
        network, np.full(3, flow), entering_temperature=3.0, ground_temperature=11.0,
        ground_resistance=0.15, pipe_conductivity=0.42,
    )  # fmt: skip
    assert heat.laminar.tolist() == [False, False, True]
    assert heat.heat[1] == heat.heat[0] > 0.0
    assert heat.heat[2] > 0.0


@pytest.mark.parametrize("tails", [30.0, 400.0])
def test_what_lies_where_heat_is_gathered_stands_for_a_loop_however_long_its_tails(
    tails: float,
) -> None:
    legs = (Straight(tails), Slinky(30, 1.0, 1.0), Straight(tails), Coiled(300.0, 1.0))
    loop = Loop("L", pe_pipe("PE100 SDR11 32"), legs)
    assert loop.sections[loop.gathering_section].coil_diameter == 1.0
    assert not loop.sections[loop.gathering_section].heaped
