"""Temperatures of a trench array of given length."""

import pytest

from hydraulics.errors import InputError
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.shallow.response import Ground, SlinkyTrench, Trench, pipe_row
from hydraulics.shallow.trench_life import GroundLoad, TrenchHistory, trench_history
from hydraulics.shallow.trench_sizing import size_trench_array

GROUND, SURFACE = Ground(1.5, 2.2e6), SurfaceTemperature(10.0, 8.0)
PIPE = pe_pipe("PE100 SDR11 32")
BRINE = fluid(mixture("propylene_glycol", 0.25, "mass"), -2.0)
# The last month puts heat back, as cooling would.
LOAD = GroundLoad((2700.0,) * 3 + (900.0,) * 8 + (-300.0,), 6000.0, 24.0, 3.5, 10)  # invented
TRENCHES: list[Trench] = [SlinkyTrench(1.0, 1.0, 1.2, 0.032), pipe_row(4, 0.3, 1.2, 0.032)]


def history(trench: Trench, length: float, trenches: int = 6) -> TrenchHistory:
    return trench_history(
        GROUND, SURFACE, trench, LOAD, PIPE, BRINE,
        trenches=trenches, trench_length=length, years=10,
    )  # fmt: skip


@pytest.mark.parametrize("trench", TRENCHES)
def test_the_array_as_sized_has_the_temperatures_that_the_sizing_gave(trench: Trench) -> None:
    sized = size_trench_array(GROUND, SURFACE, trench, LOAD, PIPE, BRINE, trenches=6, years=10)
    found = history(trench, sized.trench_length)
    # Two ways to the same sums: rounding only.
    assert found.returning == pytest.approx(sized.return_temperature, abs=1e-9)
    assert found.going == pytest.approx(sized.going_temperature, abs=1e-9)
    assert found.coldest_return == pytest.approx(sized.coldest_return)
    assert found.coldest_ground == pytest.approx(sized.coldest_ground)
    assert found.limiting == sized.limiting


def test_longer_trenches_return_warmer_brine_in_every_month_of_draw() -> None:
    short, long = history(TRENCHES[0], 40.0), history(TRENCHES[0], 60.0)
    drawing = short.returning > short.going
    assert (long.returning > short.returning)[drawing].all()


def test_a_trench_of_no_length_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        history(TRENCHES[0], 0.0)
    assert caught.value.faults[0].field == "trench_length"
