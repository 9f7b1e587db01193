"""What every call goes through: id, key, rate, kept answer, turn, time limit, headers, metrics."""

import gzip
import hashlib
import json
import logging
import re
import threading
import time
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.contract.operations import OPERATIONS
from api.service.keys import hash_of, make_key
from api.settings import Settings
from api.version import VERSION
from tests.api.conftest import Json
from tests.api.service.test_error_shape import GETS, assert_problem

PATH = "/v1/split"
PAGES = [path for path in GETS if path in {"/", "/studies", "/v1/reference", "/v1/problems"}]


@pytest.fixture
def client() -> FlaskClient:
    """Of an application of its own, which has counted and kept nothing."""
    return create_app(Settings()).test_client()


def metric(client: FlaskClient, name: str) -> float:
    """Sum of a metric over its labels; 0 where nothing was counted."""
    text = client.get("/metrics").get_data(as_text=True)
    lines = re.findall(rf"^{name}(?:{{[^}}]*}})? (\S+)$", text, re.MULTILINE)
    return sum(map(float, lines))


# ------------------------------------------------------------------------------------- ids, log


def test_an_id_that_is_plain_and_short_comes_back(client: FlaskClient) -> None:
    given = "0f8fad5b-d9cb-469f-a165-70867728950e"  # RFC 9562, section 4, form of a UUID
    assert client.get("/v1/pipes", headers={"X-Request-Id": given}).headers["X-Request-Id"] == given


@pytest.mark.parametrize("given", ["", "x" * 65, "a b", "<script>", "a\x7fb", 'a"b', "a;b", "é"])
def test_any_other_id_is_replaced(client: FlaskClient, given: str) -> None:
    sent = client.get("/v1/pipes", headers={"X-Request-Id": given}).headers["X-Request-Id"]
    assert re.fullmatch(r"[0-9a-f]{32}", sent)


def test_problems_have_an_id_too(client: FlaskClient) -> None:
    for answer in (client.get("/nowhere"), client.put("/v1/pipes"), client.post(PATH)):
        assert answer.headers["X-Request-Id"]


def test_a_request_is_logged_with_its_id_and_size_and_without_its_body(
    client: FlaskClient, job: Json, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, "evenloop")
    job["name"] = "Confidential Hall"
    client.post(PATH, json=job, headers={"X-Request-Id": "abc-1"})
    line = caplog.records[-1].__dict__
    assert (line["method"], line["path"], line["status"]) == ("POST", PATH, 200)
    assert (line["loops"], line["bytes_in"] > 100, line["bytes_out"] > 100) == (2, True, True)
    assert line["milliseconds"] > 0
    everything = " ".join(str(record.__dict__) for record in caplog.records)
    assert "Confidential" not in everything
    assert "PE100" not in everything


def test_a_log_line_is_one_json_object_whatever_the_path(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from api.service.request_log import start_logging

    root = logging.getLogger()
    monkeypatch.setattr(root, "handlers", [])
    level, own = root.level, logging.getLogger("evenloop").level
    try:
        start_logging(Settings())
        client = create_app(Settings()).test_client()
        client.get("/v1/%0a%22level%22:%22forged%22" + "x" * 500)
        lines = [json.loads(line) for line in capfd.readouterr().err.splitlines()]
    finally:
        root.setLevel(level)
        logging.getLogger("evenloop").setLevel(own)
    assert len(lines) == 1
    assert lines[0]["level"] == "INFO"
    assert lines[0]["status"] == 404
    assert len(lines[0]["path"]) <= 200
    assert re.fullmatch(r"[0-9a-f]{32}", lines[0]["request_id"])


def test_a_log_that_cannot_be_written_is_counted_and_stops_nothing(
    monkeypatch: pytest.MonkeyPatch, job: Json
) -> None:
    from api.service import request_log

    client = create_app(Settings()).test_client()
    before = metric(client, "evenloop_log_failures_total")
    with open("/dev/full", "w", encoding="utf-8") as full:  # noqa: PTH123 (a device)
        monkeypatch.setattr(logging.getLogger(), "handlers", [])
        monkeypatch.setattr("api.service.request_log.sys.stderr", full)
        own = logging.getLogger("evenloop").level
        try:
            request_log.start_logging(Settings())
            assert client.post(PATH, json=job).status_code == 200
        finally:
            logging.getLogger("evenloop").setLevel(own)
            # What is still in the buffer cannot be written when the file is closed either.
            with pytest.raises(OSError, match="No space"):
                full.close()
    assert metric(client, "evenloop_log_failures_total") > before


# ------------------------------------------------------------------------------------ keys, rate


def with_key(key: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {key}"}


def test_with_keys_set_calculations_and_metrics_need_one(contract: Json, job: Json) -> None:
    key, other = make_key(), make_key()
    keys = f"office={hash_of(key)},site={hash_of(other)}"
    client = create_app(Settings(api_keys=keys)).test_client()
    for headers in ({}, with_key(make_key()), with_key(key[:-1]), with_key(""),
                    {"Authorization": f"Basic {key}"}, {"Authorization": key},
                    with_key(hash_of(key))):  # fmt: skip
        answer = client.post(PATH, json=job, headers=headers)
        assert_problem(answer, contract, 401, "key-required")
        assert answer.headers["WWW-Authenticate"].startswith("Bearer")  # RFC 6750, section 3
    assert_problem(client.get("/metrics"), contract, 401, "key-required")
    for good in (key, other):
        assert client.post(PATH, json=job, headers=with_key(good)).status_code == 200
        assert client.get("/metrics", headers=with_key(good)).status_code == 200


def test_with_keys_set_pages_reference_data_and_health_need_none() -> None:
    client = create_app(Settings(api_keys=f"office={hash_of(make_key())}")).test_client()
    keyed = {"/metrics", *(path for path in GETS if path.startswith("/v1/studies"))}
    for path in GETS:
        assert client.get(path).status_code == (401 if path in keyed else 200), path


def test_a_kept_answer_is_not_for_those_without_a_key(job: Json) -> None:
    key = make_key()
    client = create_app(Settings(api_keys=f"office={hash_of(key)}")).test_client()
    assert client.post(PATH, json=job, headers=with_key(key)).status_code == 200
    assert client.post(PATH, json=job).status_code == 401


def test_the_hash_of_a_key_is_its_sha_256() -> None:
    # FIPS 180-2, appendix B.1: the message "abc".
    assert hash_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.usefixtures("still_minute")
def test_more_than_the_rate_is_refused_with_when_to_come_back(contract: Json, job: Json) -> None:
    client = create_app(Settings(rate_per_minute=3)).test_client()
    left = []
    for _ in range(3):
        answer = client.post(PATH, json=job)
        assert answer.status_code == 200
        found = re.fullmatch(r'"calculations";r=(\d+);t=(\d+)', answer.headers["RateLimit"])
        assert found
        left.append(int(found[1]))
    assert left == [2, 1, 0]
    assert answer.headers["RateLimit-Policy"] == '"calculations";q=3;w=60'
    refused = client.post(PATH, json=job)
    assert_problem(refused, contract, 429, "too-many-requests")
    assert 1 <= int(refused.headers["Retry-After"]) <= 60
    assert client.get("/v1/pipes").status_code == 200


@pytest.mark.usefixtures("still_minute")
def test_each_key_has_its_own_rate(job: Json) -> None:
    first, second = make_key(), make_key()
    keys = f"a={hash_of(first)},b={hash_of(second)}"
    client = create_app(Settings(api_keys=keys, rate_per_minute=1)).test_client()
    assert client.post(PATH, json=job, headers=with_key(first)).status_code == 200
    assert client.post(PATH, json=job, headers=with_key(first)).status_code == 429
    assert client.post(PATH, json=job, headers=with_key(second)).status_code == 200


@pytest.mark.usefixtures("still_minute")
def test_without_a_proxy_nobody_can_claim_another_address(job: Json) -> None:
    client = create_app(Settings(rate_per_minute=1)).test_client()
    answers = [
        client.post(PATH, json=job, headers={"X-Forwarded-For": f"192.0.2.{number}"}).status_code
        for number in range(2)
    ]
    assert answers == [200, 429]
    behind = create_app(Settings(rate_per_minute=1, trusted_proxies=1)).test_client()
    answers = [
        behind.post(PATH, json=job, headers={"X-Forwarded-For": f"192.0.2.{number}"}).status_code
        for number in range(2)
    ]
    assert answers == [200, 200]


# ------------------------------------------------------------------------------- turns, time limit


def slow(monkeypatch: pytest.MonkeyPatch, seconds: float) -> threading.Event:
    """Make the calculation take long, in Python; the event is set when it begins.

    Whoever clears it lets the calculation end.
    """
    begun = threading.Event()

    def dawdle(*_: Any, **__: Any) -> None:
        begun.set()
        end = time.monotonic() + seconds
        while time.monotonic() < end and begun.is_set():
            sum(range(100))
        raise AssertionError("the calculation was not ended")

    monkeypatch.setattr("hydraulics.job.flow_split", dawdle)
    return begun


@pytest.mark.parametrize("path", [PATH, "/v1/splits"])
def test_a_calculation_past_its_time_is_ended_and_the_next_is_served(
    monkeypatch: pytest.MonkeyPatch, contract: Json, job: Json, path: str
) -> None:
    client = create_app(Settings(max_seconds=1)).test_client()
    body = job if path == PATH else {"jobs": [job]}
    with monkeypatch.context() as patch:
        slow(patch, 20.0)
        began = time.monotonic()
        answer = client.post(path, json=body)
        took = time.monotonic() - began
    problem = assert_problem(answer, contract, 503, "time-limit-exceeded")
    assert "1 s" in problem["detail"]
    assert 1.0 <= took < 5.0  # a tick of 0.1 s; the rest is a busy machine
    assert client.post(path, json=body).status_code in {200, 207}


def test_a_handler_of_all_exceptions_does_not_swallow_the_time_limit(
    monkeypatch: pytest.MonkeyPatch, contract: Json, job: Json
) -> None:
    caught: list[Exception] = []

    def stubborn(*_: Any, **__: Any) -> None:
        end = time.monotonic() + 20.0
        while time.monotonic() < end:
            try:
                sum(range(100))
            except Exception as error:
                caught.append(error)

    monkeypatch.setattr("hydraulics.job.flow_split", stubborn)
    client = create_app(Settings(max_seconds=1)).test_client()
    assert_problem(client.post(PATH, json=job), contract, 503, "time-limit-exceeded")
    assert not caught


def test_a_limit_that_passes_at_the_very_end_hits_no_later_work() -> None:
    from api.service.deadline import TimeLimitError, time_limit

    ended = 0
    for step in range(30):
        try:
            with time_limit(0.01):
                end = time.monotonic() + 0.01 + 0.004 * step
                while time.monotonic() < end:
                    pass
        except TimeLimitError:
            ended += 1
        end = time.monotonic() + 0.002
        while time.monotonic() < end:  # would be hit by a limit that arrives late
            pass
    assert 0 < ended <= 30


def test_more_calculations_than_turns_and_waiting_room_are_turned_away(
    monkeypatch: pytest.MonkeyPatch, contract: Json, job: Json
) -> None:
    settings = Settings(max_calculations=1, max_waiting=1, max_seconds=1, max_wait_seconds=10,
                        cache_bytes=0)  # fmt: skip
    app = create_app(settings)
    answers: list[TestResponse] = []
    with monkeypatch.context() as patch:
        begun = slow(patch, 20.0)
        threads = [
            threading.Thread(target=lambda: answers.append(app.test_client().post(PATH, json=job)))
            for _ in range(2)
        ]
        threads[0].start()
        assert begun.wait(10)
        threads[1].start()
        time.sleep(0.3)
        client = app.test_client()
        busy = client.post(PATH, json=job)
        ready, healthy = client.get("/readyz"), client.get("/healthz")
        for thread in threads:
            thread.join()
    assert_problem(busy, contract, 503, "too-busy")
    assert busy.headers["Retry-After"] == "1"
    assert_problem(ready, contract, 503, "too-busy")
    assert healthy.status_code == 200
    assert [each.get_json(force=True)["type"] for each in answers] == [
        "/v1/problems/time-limit-exceeded"
    ] * 2
    assert client.get("/readyz").get_json() == {"ready": True}
    assert client.post(PATH, json=job).status_code == 200


def test_who_waits_too_long_for_a_turn_is_turned_away(
    monkeypatch: pytest.MonkeyPatch, contract: Json, job: Json
) -> None:
    settings = Settings(max_calculations=1, max_waiting=5, max_seconds=3, max_wait_seconds=1)
    app = create_app(settings)
    begun = slow(monkeypatch, 20.0)
    thread = threading.Thread(target=lambda: app.test_client().post(PATH, json=job))
    thread.start()
    assert begun.wait(10)
    answer = app.test_client().post(PATH, json=job)
    begun.clear()
    thread.join()
    assert_problem(answer, contract, 503, "too-busy")


# -------------------------------------------------------------------------------- kept answers


def test_the_same_request_again_is_answered_without_a_calculation(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, job: Json
) -> None:
    first = client.post(PATH, json=job)
    monkeypatch.setattr("hydraulics.job.flow_split", None)  # a call would fail
    again = client.post(PATH, json=job)
    assert again.status_code == 200
    assert again.data == first.data
    assert again.content_type == first.content_type
    assert again.headers["X-Request-Id"] != first.headers["X-Request-Id"]


def test_another_body_path_or_media_type_is_another_request(client: FlaskClient, job: Json) -> None:
    first = client.post(PATH, json=job)
    table = client.post(f"{PATH}.csv", json=job)
    assert table.mimetype == "text/csv"
    drawn = client.post(f"{PATH}/schematic.svg", json=job)
    assert drawn.mimetype == "image/svg+xml"
    job["duty"]["flow_l_s"] = 0.5
    assert client.post(PATH, json=job).data != first.data
    text = json.dumps(job)
    assert client.post(PATH, data=text, content_type="text/plain").status_code == 415


def test_a_problem_is_not_kept(monkeypatch: pytest.MonkeyPatch, client: FlaskClient, job: Json
                               ) -> None:  # fmt: skip
    with monkeypatch.context() as patch:
        patch.setattr("hydraulics.job.flow_split", lambda *_, **__: 1 / 0)
        assert client.post(PATH, json=job).status_code == 500
    assert client.post(PATH, json=job).status_code == 200


def test_kept_answers_take_no_more_than_their_bytes(job: Json) -> None:
    client = create_app(Settings(cache_bytes=60_000)).test_client()
    sizes = []
    for number in range(30):
        job["duty"]["flow_l_s"] = 0.2 + number / 100
        sizes.append(len(client.post(PATH, json=job).data))
        held = metric(client, "evenloop_cache_bytes")
        assert 0 < held <= 60_000
    assert sum(sizes) > 80_000  # so that something had to go
    solved = metric(client, "evenloop_solve_seconds_count")
    client.post(PATH, json=job)  # the last is still there
    assert metric(client, "evenloop_solve_seconds_count") == solved
    job["duty"]["flow_l_s"] = 0.2  # the first is not
    client.post(PATH, json=job)
    assert metric(client, "evenloop_solve_seconds_count") == solved + 1


# ------------------------------------------------------------------- tags, compression, headers


@pytest.mark.parametrize("path", ["/v1/pipes", "/v1/antifreezes", "/v1/openapi.json", "/v1",
                                  "/v1/reference", "/v1/examples"])  # fmt: skip
def test_reference_data_are_not_sent_again_to_who_has_them(client: FlaskClient, path: str) -> None:
    first = client.get(path)
    assert first.headers["Cache-Control"] == "public, max-age=3600"
    for headers in ({}, {"Accept-Encoding": "gzip"}):
        again = client.get(path, headers={"If-None-Match": first.headers["ETag"], **headers})
        assert (again.status_code, again.data) == (304, b"")
        assert again.headers["ETag"]
    packed = client.get(path, headers={"Accept-Encoding": "gzip"})
    again = client.get(path, headers={"If-None-Match": packed.headers["ETag"]})
    assert again.status_code == 304
    assert client.get(path, headers={"If-None-Match": '"other"'}).status_code == 200


def test_a_calculation_is_never_kept_by_others(client: FlaskClient, job: Json) -> None:
    answer = client.post(PATH, json=job)
    assert answer.headers["Cache-Control"] == "no-store"
    assert "ETag" not in answer.headers


def test_a_long_answer_is_compressed_for_who_takes_it(client: FlaskClient, job: Json) -> None:
    plain = client.post(PATH, json=job)
    packed = client.post(PATH, json=job, headers={"Accept-Encoding": "br, gzip;q=0.8"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert int(packed.headers["Content-Length"]) == len(packed.data) < len(plain.data) / 2
    assert gzip.decompress(packed.data) == plain.data
    assert "Accept-Encoding" in packed.vary
    assert "Accept-Encoding" in plain.vary


@pytest.mark.parametrize("accepted", ["", "identity", "br", "gzip;q=0", "*;q=0"])
def test_nobody_gets_gzip_who_does_not_take_it(client: FlaskClient, accepted: str) -> None:
    answer = client.get("/v1/pipes", headers={"Accept-Encoding": accepted})
    assert "Content-Encoding" not in answer.headers


def test_assets_are_compressed_and_tagged(client: FlaskClient) -> None:
    path = "/assets/sheet.css"
    with client.get(path) as plain:
        whole = plain.data
    with client.get(path, headers={"Accept-Encoding": "gzip"}) as packed:
        assert gzip.decompress(packed.data) == whole
    with client.get(path, headers={"If-None-Match": packed.headers["ETag"]}) as again:
        assert again.status_code == 304


@pytest.mark.parametrize("path", [*GETS, "/nowhere", "/assets/sheet.css"])
def test_every_answer_has_safe_headers(client: FlaskClient, path: str) -> None:
    with client.get(path) as answer:
        headers = answer.headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["X-Frame-Options"] == "DENY"
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "Server" not in headers


@pytest.mark.parametrize("path", PAGES)
def test_pages_hold_nothing_that_their_policy_forbids(client: FlaskClient, path: str) -> None:
    text = client.get(path).get_data(as_text=True)
    assert not re.search(r"<script(?![^>]*\bsrc=\"/assets/)[^>]*>", text)
    assert not re.search(r"<style|\sstyle=|\son\w+=|javascript:", text)
    assert not re.findall(r"(?:src|href)=\"(?:https?:)?//", text)


# ------------------------------------------------------------------------------- other origins


def test_without_a_setting_no_other_origin_may_read(client: FlaskClient) -> None:
    answer = client.get("/v1/pipes", headers={"Origin": "https://office.example"})
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_named_origin_may_call_and_another_may_not(job: Json) -> None:
    origins = "https://office.example, https://site.example"
    client = create_app(Settings(cors_origins=origins)).test_client()
    ask = {"Origin": "https://office.example", "Access-Control-Request-Method": "POST",
           "Access-Control-Request-Headers": "content-type"}  # fmt: skip
    before = client.options(PATH, headers=ask)
    assert before.headers["Access-Control-Allow-Origin"] == "https://office.example"
    assert "POST" in before.headers["Access-Control-Allow-Methods"]
    assert "content-type" in before.headers["Access-Control-Allow-Headers"].lower()
    answer = client.post(PATH, json=job, headers={"Origin": "https://office.example"})
    assert answer.headers["Access-Control-Allow-Origin"] == "https://office.example"
    assert "Origin" in ", ".join(answer.headers.getlist("Vary"))
    for other in ("https://office.example.evil.example", "http://office.example", "null",
                  "https://xoffice.example"):  # fmt: skip
        answer = client.post(PATH, json=job, headers={"Origin": other})
        assert "Access-Control-Allow-Origin" not in answer.headers


# -------------------------------------------------------------------------------------- metrics


def test_requests_and_solutions_are_counted(client: FlaskClient, job: Json) -> None:
    names = ("evenloop_requests_total", "evenloop_solve_seconds_count",
             "evenloop_solve_iterations_sum", "evenloop_solve_loops_sum")  # fmt: skip
    before = [metric(client, name) for name in names]
    content = client.post(PATH, json=job).get_json()
    after = [metric(client, name) for name in names]
    steps = content["residuals"]["iterations"]
    # Each reading of the metrics is a request of its own, counted after it was answered.
    assert [b - a for a, b in zip(before[1:], after[1:], strict=True)] == [1, steps, 2]
    assert after[0] - before[0] >= 2


def test_strangers_cannot_make_ever_more_time_series(client: FlaskClient) -> None:
    client.get("/x0")
    client.open("/x", method="MADEUP0")
    before = client.get("/metrics").get_data(as_text=True)
    for number in range(50):
        client.get(f"/stranger-{number}")
        client.get(f"/v1/problems/stranger-{number}")
        client.open("/v1/pipes", method=f"STRANGE{number}")
    after = client.get("/metrics").get_data(as_text=True)
    assert "stranger" not in after.lower()
    assert "STRANGE" not in after
    assert len(after.splitlines()) - len(before.splitlines()) < 50


def test_metrics_are_in_the_text_format_of_prometheus(client: FlaskClient) -> None:
    from prometheus_client.parser import text_string_to_metric_families

    answer = client.get("/metrics")
    assert answer.mimetype == "text/plain"
    families = {each.name for each in text_string_to_metric_families(answer.get_data(as_text=True))}
    assert {"evenloop_requests", "evenloop_request_seconds", "evenloop_solve_seconds",
            "evenloop_solve_iterations", "evenloop_solve_loops", "evenloop_cache",
            "evenloop_log_failures", "evenloop_turned_away"} <= families  # fmt: skip


def test_every_calculation_has_a_turn_and_says_so_in_the_contract(contract: Json) -> None:
    for operation in OPERATIONS:
        if operation.method == "post":
            said = contract["paths"][operation.path]["post"]
            assert {"401", "429", "503"} <= set(said["responses"])
            assert said["security"] == [{}, {"key": []}]


def test_short_calculations_go_one_after_the_other_and_begin_beside_a_long_one() -> None:
    from api.service.turns import Turns

    turns = Turns(2, 10, 10.0)
    under_way, most = 0, [0]
    lock = threading.Lock()

    def short() -> None:
        nonlocal under_way
        with turns.turn():
            with lock:
                under_way += 1
                most[0] = max(most[0], under_way)
            time.sleep(0.01)
            with lock:
                under_way -= 1

    threads = [threading.Thread(target=short) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == [1]  # eight of 10 ms end before anyone has waited for a quarter of a second
    with turns.turn():  # one that takes long
        began = time.monotonic()
        short()
        assert 0.2 < time.monotonic() - began < 5.0


def test_who_is_turned_away_is_told_whether_for_number_or_for_time() -> None:
    from api.service.problems import ProblemError
    from api.service.turns import Turns

    turns = Turns(1, 1, 0.05)
    with turns.turn():
        with pytest.raises(ProblemError, match=r"No turn came within 0.05 s"), turns.turn():
            pass
        with turns._lock:
            turns._present += 1  # one that waits
        two = "2 calculations are under way or waiting"
        with pytest.raises(ProblemError, match=two), turns.turn():
            pass


@pytest.mark.parametrize(
    "accept", ["application/json;charset=utf-8", "application/json; charset=UTF-8; q=0.4", "*/*"]
)
def test_a_charset_in_accept_is_json_all_the_same(
    client: FlaskClient, job: Json, accept: str
) -> None:
    assert client.post("/v1/split", json=job, headers={"Accept": accept}).status_code == 200


def test_a_refused_body_is_told_what_would_be_taken(client: FlaskClient) -> None:
    # RFC 9110, 15.5.16: by Accept for the type and by Accept-Encoding for the coding.
    answer = client.post("/v1/split", data="{}", content_type="text/plain")
    assert (answer.status_code, answer.headers["Accept"]) == (415, "application/json")
    answer = client.post("/v1/split", json={}, headers={"Content-Encoding": "gzip"})
    assert (answer.status_code, answer.headers["Accept-Encoding"]) == (415, "identity")


def test_options_tell_methods_and_what_a_post_takes(client: FlaskClient) -> None:
    answer = client.options("/v1/split")
    assert set(answer.allow) == {"OPTIONS", "POST"}
    # RFC 9110, 15.3.5: 204 has no content, and so no type of it.
    assert (answer.status_code, answer.data) == (204, b"")
    assert not {"Content-Type", "Content-Length"} & set(answer.headers.keys())
    assert answer.headers["Accept-Post"] == "application/json"
    got = client.options("/v1/pipes")
    assert (got.status_code, set(got.allow)) == (204, {"GET", "HEAD", "OPTIONS"})
    assert not {"Accept-Post", "Content-Type"} & set(got.headers.keys())
    assert client.options("/v1/nothing").content_type == "application/problem+json"
    taken = client.options("/v1/plot-file").headers["Accept-Post"].split(", ")
    refused = client.post("/v1/plot-file", data="{}", content_type="text/plain")
    assert refused.status_code == 415
    assert set(taken) == set(refused.headers["Accept"].split(", "))


def test_a_precondition_that_is_not_met_is_a_problem(client: FlaskClient) -> None:
    answer = client.get("/v1/pipes", headers={"If-Match": '"x"'})  # RFC 9110, 13.1.1
    problem = answer.get_json(force=True)
    assert (answer.status_code, problem["status"]) == (412, 412)
    assert answer.mimetype == "application/problem+json"
    assert "If-Match" in problem["detail"]
    met = {"If-Match": client.get("/v1/pipes").headers["ETag"]}
    assert client.get("/v1/pipes", headers=met).status_code == 200


def test_an_answer_can_be_traced_to_its_job_and_version(client: FlaskClient, job: Json) -> None:
    first = client.post("/v1/split", json=job).headers
    turned = client.post("/v1/split", json=dict(reversed(job.items()))).headers
    again = client.post("/v1/split", json=job).headers  # as it was kept
    # By hand: sha256sum of the job as compact JSON with its names in order.
    compact = json.dumps(job, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert first["Evenloop-Body-SHA256"] == hashlib.sha256(compact.encode()).hexdigest()
    assert turned["Evenloop-Body-SHA256"] == first["Evenloop-Body-SHA256"]
    assert again["Evenloop-Body-SHA256"] == first["Evenloop-Body-SHA256"]
    assert first["Evenloop-Version"] == VERSION
    spaced = json.dumps(job, indent=1).replace(": 200\n", ": 2.0e2\n")
    assert "2.0e2" in spaced
    typed = client.post("/v1/split", data=spaced, content_type="application/json").headers
    assert typed["Evenloop-Body-SHA256"] == first["Evenloop-Body-SHA256"]
    picture = client.post("/v1/split/flows.svg", json={**job, "reference": "QB-04"}).headers
    assert picture["Evenloop-Body-SHA256"] != first["Evenloop-Body-SHA256"]
