"""The turbulent coil's constant against the form that a handbook prints."""

import pytest

from hydraulics.pipework.friction import mishra_gupta_excess


@pytest.mark.parametrize("curvature", [0.01, 0.026, 0.1])
def test_turbulent_excess_of_a_coil_is_that_of_the_vdi_heat_atlas(curvature: float) -> None:
    # VDI Heat Atlas, L1.3, after Mishra and Gupta (from memory): for Re up to 1e5 the Darcy factor
    # is 0.3164 / Re^0.25 (1 + 0.095 (d/D)^0.5 Re^0.25), of which the second term is the coil's.
    # Its two constants are rounded to three digits, hence 0.5 %.
    assert mishra_gupta_excess(curvature) == pytest.approx(
        0.3164 * 0.095 * curvature**0.5, rel=5e-3
    )
