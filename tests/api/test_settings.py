"""Limits come from the environment, and a wrong one stops the start by name."""

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.settings import Settings, SettingsError, settings_from_environment
from tests.api.conftest import Json, errors_of


def test_without_variables_the_defaults_hold() -> None:
    assert settings_from_environment({}) == Settings()
    assert settings_from_environment({"EVENLOOP_MAX_LOOPS": ""}) == Settings()


def test_a_variable_sets_its_limit() -> None:
    assert settings_from_environment({"EVENLOOP_MAX_LOOPS": "50"}).max_loops == 50


@pytest.mark.parametrize("text", ["0", "-1", "1.5", "many", "1e3", "999999999999", "٣", "9" * 5000])
def test_a_wrong_value_is_refused_by_name_with_its_range(text: str) -> None:
    with pytest.raises(SettingsError, match=r"EVENLOOP_MAX_LOOPS.*from 1 to 1,000,000"):
        settings_from_environment({"EVENLOOP_MAX_LOOPS": text})


def test_all_wrong_settings_are_named_at_once() -> None:
    wrong = {"EVENLOOP_MAX_LOOPS": "x", "EVENLOOP_MAX_NESTING": "y", "EVENLOOP_MAX_LOPS": "3"}
    with pytest.raises(SettingsError) as caught:
        settings_from_environment(wrong)
    assert all(name in str(caught.value) for name in wrong)


def test_a_wrong_limit_given_in_code_is_refused_too() -> None:
    with pytest.raises(SettingsError, match="EVENLOOP_MAX_NESTING"):
        Settings(max_nesting=1)


def test_the_application_does_not_start_on_a_wrong_setting(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("EVENLOOP_MAX_BODY_BYTES", "lots")
    with pytest.raises(SettingsError, match="EVENLOOP_MAX_BODY_BYTES"):
        create_app()


def test_the_number_of_loops_is_limited_by_its_setting(job: Json) -> None:
    client: FlaskClient = create_app(Settings(max_loops=3)).test_client()
    job["array"]["branches"][0]["count"] = 2
    assert client.post("/v1/flow-split", json=job).status_code == 200
    job["array"]["branches"][0]["count"] = 3
    answer = client.post("/v1/flow-split", json=job)
    assert answer.status_code == 422
    assert errors_of(answer)["/array"]["allowed"] == "3 loops or fewer"


def test_the_size_of_a_table_of_states_is_limited_by_its_setting() -> None:
    client = create_app(Settings(max_states=5)).test_client()
    body = {"kind": "ethanol", "basis": "mass", "concentrations_percent": [20, 25],
            "temperatures_c": [0, 1, 2]}  # fmt: skip
    answer = client.post("/v1/fluid-properties", json=body)
    assert answer.status_code == 422
    assert "6 states" in errors_of(answer)[""]["detail"]
