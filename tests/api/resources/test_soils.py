"""GET /v1/soils: classes of soil by their heat and by their digging."""

import pytest
from flask.testing import FlaskClient

from tests.api.jobs import tansy


def test_every_class_for_digging_may_be_named(client: FlaskClient) -> None:
    content = client.get("/v1/soils").get_json()
    assert len(content["digging"]) >= 6
    for each in content["digging"]:
        job = {**tansy(), "ground": {"soil": each["soil"]}}
        found = client.post("/v1/groundworks", json=job).get_json()
        middle = (each["min_bulking_percent"] + each["max_bulking_percent"]) / 2
        assert found["bulking_percent"] == pytest.approx(middle)


def test_wet_soil_conducts_and_stores_more_than_dry(client: FlaskClient) -> None:
    for soil in client.get("/v1/soils").get_json()["soils"]:
        states = soil["states"]
        assert [state["moisture"] for state in states] == ["dry", "usual", "saturated"]
        assert states[0]["saturation_percent"] == 0
        assert states[2]["saturation_percent"] == pytest.approx(100)
        for name in ("conductivity_w_m_k", "heat_capacity_mj_m3_k", "water_content_percent"):
            values = [state[name] for state in states]
            assert values == sorted(set(values)), name
        for state in states:
            low, high = state["min_conductivity_w_m_k"], state["max_conductivity_w_m_k"]
            assert low < state["conductivity_w_m_k"] < high


# VDI 4640-1, table of rocks and soils (from memory): conductivity [W/m K] and volumetric heat
# capacity [MJ/m3 K] of water-saturated ground.
VDI_SATURATED = {
    "gravel": ((1.6, 2.5), (2.2, 2.6)),
    "sand": ((2.0, 3.0), (2.2, 2.8)),
    "clay": ((1.1, 3.1), (2.0, 2.8)),
    "peat": ((0.2, 0.7), (0.5, 3.8)),
}


@pytest.mark.parametrize("soil", VDI_SATURATED)
def test_saturated_soil_is_within_the_standards_range(client: FlaskClient, soil: str) -> None:
    soils = {each["soil"]: each for each in client.get("/v1/soils").get_json()["soils"]}
    state = soils[soil]["states"][2]
    (low, high), (least, most) = VDI_SATURATED[soil]
    # The class's scatter must meet the range: neither is a measurement.
    assert state["min_conductivity_w_m_k"] <= high
    assert state["max_conductivity_w_m_k"] >= low
    # Rounded table values, 10 % beyond either end.
    assert 0.9 * least <= state["heat_capacity_mj_m3_k"] <= 1.1 * most


def test_sources_and_cautions_are_told(client: FlaskClient) -> None:
    content = client.get("/v1/soils").get_json()
    assert "Konrad" in content["source"]
    assert content["bulking_source"]
    assert "measure" in content["caution"].lower()
