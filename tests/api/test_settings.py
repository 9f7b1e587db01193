"""Limits come from the environment, and a wrong one stops the start by name."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.settings import (
    Settings,
    SettingsError,
    settings_from_environment,
    settings_of_a_command,
    settings_table,
)
from tests.api.conftest import Json, errors_of


def test_without_variables_the_defaults_hold() -> None:
    assert settings_from_environment({}) == Settings()
    assert settings_from_environment({"EVENLOOP_MAX_LOOPS": ""}) == Settings()


def test_a_variable_sets_its_limit() -> None:
    assert settings_from_environment({"EVENLOOP_MAX_LOOPS": "50"}).max_loops == 50


def test_a_command_has_an_hour_and_neither_keys_nor_rates() -> None:
    told = {"EVENLOOP_API_KEYS": f"office={'0' * 64}", "EVENLOOP_RATE_PER_MINUTE": "9",
            "EVENLOOP_MAX_LOOPS": "50"}  # fmt: skip
    assert settings_of_a_command(told) == Settings(max_loops=50, max_seconds=3_600)
    assert settings_of_a_command({"EVENLOOP_MAX_SECONDS": "7"}) == Settings(max_seconds=7)


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
    assert client.post("/v1/split", json=job).status_code == 200
    job["array"]["branches"][0]["count"] = 3
    answer = client.post("/v1/split", json=job)
    assert answer.status_code == 422
    assert errors_of(answer)["/array"]["allowed"] == "3 loops or fewer"


def test_the_size_of_a_table_of_states_is_limited_by_its_setting() -> None:
    client = create_app(Settings(max_states=5)).test_client()
    body = {"kind": "ethanol", "basis": "mass", "concentrations_percent": [20, 25],
            "temperatures_c": [0, 1, 2]}  # fmt: skip
    answer = client.post("/v1/fluid-properties", json=body)
    assert answer.status_code == 422
    assert "6 states" in errors_of(answer)[""]["detail"]


def test_the_table_in_the_docs_is_that_of_the_code() -> None:
    page = Path(__file__).parents[2] / "docs" / "configuration.md"
    text = page.read_text("utf-8")
    table = text.split("<!-- settings -->\n")[1].split("\n<!-- end -->")[0]
    assert table == settings_table(), "print(api.settings.settings_table()) gives the new one"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("API_KEYS", "office"),
        ("API_KEYS", "office=abc"),
        ("API_KEYS", f"a={'0' * 64},a={'1' * 64}"),
        ("API_KEYS", f"a b={'0' * 64}"),
        ("CORS_ORIGINS", "office.example"),
        ("CORS_ORIGINS", "https://office.example/path"),
        ("CORS_ORIGINS", "https://*.example"),
        ("CORS_ORIGINS", "https://a.example, *"),
        ("LOG_LEVEL", "loud"),
        ("TRUSTED_PROXIES", "6"),
    ],
)
def test_a_wrong_text_is_refused_by_name(name: str, text: str) -> None:
    with pytest.raises(SettingsError, match=f"EVENLOOP_{name} is .*; it must be"):
        settings_from_environment({f"EVENLOOP_{name}": text})


def test_what_was_given_as_a_key_is_not_repeated() -> None:
    with pytest.raises(SettingsError) as caught:
        settings_from_environment({"EVENLOOP_API_KEYS": "office=a-key-in-place-of-its-hash"})
    assert "a-key-in-place" not in str(caught.value)


def test_right_texts_are_taken() -> None:
    kept = settings_from_environment(
        {
            "EVENLOOP_API_KEYS": f"office={'0' * 64}, site={'1' * 64}",
            "EVENLOOP_CORS_ORIGINS": "https://office.example:8443,http://[::1]:80",
            "EVENLOOP_LOG_LEVEL": "warning",
        }
    )
    assert kept.log_level == "warning"
    assert settings_from_environment({"EVENLOOP_CORS_ORIGINS": "*"}).cors_origins == "*"
