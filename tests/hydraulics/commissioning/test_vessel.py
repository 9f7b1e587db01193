import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.commissioning.vessel import (
    AMBIENT_PRESSURE,
    ExpansionVessel,
    en12828_vessel_volume,
    expansion_vessel,
    filling_pressure,
    vessel_findings,
)
from hydraulics.errors import InputError
from hydraulics.fluid.mixture import fluid, mixture

MIX = mixture("propylene_glycol", 0.25, "mass")


def vessel(volume: float = 0.5, **changes: float) -> ExpansionVessel:
    given_numbers = {
        "filling": 12.0,
        "coldest": -5.0,
        "warmest": 25.0,
        "precharge": 0.5e5,
        "final_pressure": 2.5e5,
    }
    return expansion_vessel(MIX, volume, **(given_numbers | changes))


def test_expansion_and_contraction_follow_the_mixtures_density() -> None:
    found = vessel()
    at = {t: fluid(MIX, t).density for t in (-5.0, 12.0, 25.0)}
    assert found.expansion == pytest.approx(0.5 * (at[12.0] / at[25.0] - 1.0))
    assert found.contraction == pytest.approx(0.5 * (1.0 - at[12.0] / at[-5.0]))


def test_the_swing_closes_the_gas_law() -> None:
    # Boyle between the coldest state (reserve held) and the warmest (everything held).
    found = vessel()
    held_cold = found.reserve
    held_warm = found.reserve + found.expansion + found.contraction
    warm = (found.precharge + AMBIENT_PRESSURE) * found.volume / (found.volume - held_warm)
    assert warm - AMBIENT_PRESSURE == pytest.approx(found.final_pressure)
    assert filling_pressure(found.volume, held_cold, found.precharge) > found.precharge
    assert found.precharge < found.filling_pressure < found.final_pressure


@given(st.floats(0.05, 50.0), st.floats(1.01, 3.0))
def test_a_larger_system_never_takes_a_smaller_vessel(volume: float, factor: float) -> None:
    assert vessel(volume * factor).volume > vessel(volume).volume


@given(st.floats(13.0, 30.0), st.floats(0.1, 15.0))
def test_a_warmer_standstill_never_takes_a_smaller_vessel(warmest: float, more: float) -> None:
    assert vessel(warmest=warmest + more).volume > vessel(warmest=warmest).volume


def test_the_density_maximum_of_water_is_not_missed() -> None:
    # Water from 0.5 to 8 degC is densest near 4: both ends are larger than the middle.
    found = expansion_vessel(
        mixture("water", 0.0, "mass"), 10.0, filling=8.0, coldest=0.5, warmest=8.0,
        precharge=0.5e5, final_pressure=2.5e5,
    )  # fmt: skip
    water = {t: fluid(mixture("water", 0.0, "mass"), t).density for t in (0.5, 4.0, 8.0)}
    assert found.contraction == pytest.approx(10.0 * (1.0 - water[8.0] / water[4.0]), rel=0.01)
    assert found.expansion == pytest.approx(
        max(0.0, 10.0 * (water[8.0] / water[0.5] - 1.0)), abs=1e-9
    )


def test_free_pipe_never_makes_the_bound_smaller() -> None:
    assert vessel(pipe_volume=0.45).volume_free_pipe >= vessel(pipe_volume=0.45).volume
    assert vessel(pipe_volume=0.0).volume_free_pipe == pytest.approx(vessel().volume)
    assert vessel_findings(vessel(pipe_volume=0.0)) == ()


def test_free_pipe_that_cools_from_a_warm_fill_drives_the_vessel_over_its_limit() -> None:
    # By hand: 0.41 m3 of pipe shrinks by 3 · 1.8e-4 /K · 25 K (coefficient from memory), the
    # mixture by its densities; the gas is what the fluid leaves, and pressure times gas is kept.
    found = vessel(0.43, filling=20.0, pipe_volume=0.41)
    shrunk = 0.43 * (1.0 - fluid(MIX, 20.0).density / fluid(MIX, -5.0).density)
    squeezed = 0.41 * 3 * 1.8e-4 * 25.0 - shrunk
    gas = found.volume - found.reserve - shrunk
    highest = (found.filling_pressure + 1e5) * gas / (gas - squeezed) - 1e5
    assert found.highest_free_pipe == pytest.approx(highest, rel=1e-3)  # 81 temperatures
    (told,) = vessel_findings(found)
    assert f"{highest / 1e3:.0f} kPa" in told.message
    # A vessel for both rigid and free pipe takes the swing between them.
    assert found.volume_free_pipe > 1.2 * found.volume


@pytest.mark.parametrize("bad", [math.nan, math.inf, 0.0, -1.0])
def test_a_system_volume_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="volume"):
        vessel(bad)


def test_filling_outside_the_range_of_temperatures_is_refused() -> None:
    with pytest.raises(InputError, match="filling"):
        vessel(filling=30.0)
    # What is at fault is named, not the filling between the two.
    with pytest.raises(InputError, match="colder than the coldest") as error:
        vessel(warmest=-6.0)
    assert [fault.field for fault in error.value.faults] == ["warmest"]


def test_a_final_pressure_at_the_precharge_is_refused() -> None:
    with pytest.raises(InputError, match="final_pressure"):
        en12828_vessel_volume(1e-3, 3e-3, 1e5, 1e5)


def test_a_vessel_that_cannot_hold_the_filling_is_refused() -> None:
    with pytest.raises(InputError, match="vessel") as error:
        filling_pressure(5e-3, 999.6e-3, 0.5e5)
    (fault,) = error.value.faults
    assert (fault.value, fault.allowed) == (5.0, "more than 999.6 L")
    with pytest.raises(InputError, match=r"must hold 5\.0 L"):
        filling_pressure(5e-3, 5e-3, 0.5e5)


@pytest.mark.parametrize("free", [0.0, 0.5, 1.0])
def test_one_filling_pressure_of_the_larger_vessel_serves_rigid_and_free_pipe(free: float) -> None:
    # Boyle on the gas at every temperature of the range; pipe that is free in part shrinks in part
    # (3 · 1.8e-4 /K, from memory). The reserve stays, and the highest pressure is not passed.
    found = vessel(0.43, filling=20.0, pipe_volume=0.41)
    (told,) = vessel_findings(found)
    assert f"take a vessel of {found.volume_free_pipe * 1e3:.1f} L" in told.message
    assert f"fill that one to {found.filling_pressure_free_pipe / 1e3:.0f} kPa" in told.message
    size, at_rest = found.volume_free_pipe, found.filling_pressure_free_pipe + 1e5
    filled = size - (found.precharge + 1e5) * size / at_rest
    for step in range(31):
        temperature = -5.0 + step
        swing = 0.43 * (fluid(MIX, 20.0).density / fluid(MIX, temperature).density - 1.0)
        held = filled + swing - free * 0.41 * 3 * 1.8e-4 * (temperature - 20.0)
        assert held >= found.reserve * (1 - 1e-9)
        pressure = (found.precharge + 1e5) * size / (size - held) - 1e5
        assert pressure <= found.final_pressure * (1 + 1e-9)
