import pytest

from hydraulics.errors import RangeError
from hydraulics.soil import SOILS, soil_properties
from hydraulics.soil_states import MOISTURES, soil_states


@pytest.mark.parametrize("soil", SOILS)
def test_a_soil_is_told_dry_as_usual_and_full(soil: str) -> None:
    dry, usual, full = soil_states(soil)
    assert (dry.moisture, usual.moisture, full.moisture) == MOISTURES
    assert dry.water_content == 0.0
    assert usual.properties == soil_properties(soil)
    assert full.properties.saturation == pytest.approx(1.0)
    # Full pores: their volume in water (1000 kg/m3) over the dry mass.
    pores = full.properties.porosity * 1000.0 / SOILS[soil].dry_density
    assert full.water_content == pytest.approx(pores)


def test_an_unknown_soil_is_refused() -> None:
    with pytest.raises(RangeError):
        soil_states("mud")
