import pytest

from hydraulics.errors import RangeError
from hydraulics.ground.soil import MOISTURES, SOILS, soil_properties, soil_states, water_content


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


def test_denser_soil_holds_less_water_and_as_much_as_its_pores() -> None:
    # Pores of clay at 1600 kg/m3 with grains of 2700: 1 - 1600/2700 of the volume, by hand.
    full = water_content("clay", "saturated", 1600.0)
    assert full == pytest.approx((1.0 - 1600.0 / 2700.0) * 1000.0 / 1600.0)
    assert full < water_content("clay", "saturated", 1450.0)
    assert soil_properties("clay", full, 1600.0).saturation == pytest.approx(1.0)
    assert water_content("clay", "dry", 1600.0) == 0.0
    assert water_content("clay", "usual", 1600.0) == SOILS["clay"].water_content
