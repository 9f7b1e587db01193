"""The command line does on files what the service does on jobs."""

from __future__ import annotations

import copy
import json
import os
import subprocess
import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from flask.testing import FlaskClient
from rich.console import Console

from api.command.cli import CALCULATIONS, main
from api.command.terminal import deviation_bar, show_split
from api.contract.examples import Example, examples_in_repository
from api.contract.operations import OPERATIONS
from tests.api.conftest import SMALLEST, Json

FOLDER = Path(__file__).parents[3] / "openapi" / "examples"
SOLVED = [each for each in examples_in_repository() if "array" in each.job]
SHORT_TAIL = FOLDER / "quince-barn-short-tail.json"


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


@pytest.mark.parametrize("example", SOLVED, ids=lambda example: example.name)
def test_solve_prints_what_the_service_answers_to_the_job(
    client: FlaskClient, example: Example
) -> None:
    printed = run("solve", str(FOLDER / f"{example.name}.json"), "--json")
    assert printed.exit_code == 0
    assert json.loads(printed.output) == client.post("/v1/split", json=example.job).get_json()


@pytest.mark.parametrize("example", SOLVED, ids=lambda example: example.name)
def test_solve_shows_every_loop_the_duty_and_the_cautions_as_a_table(example: Example) -> None:
    text = " ".join(run("solve", str(FOLDER / f"{example.name}.json")).output.split())
    answer = example.answer("split")
    assert answer is not None
    assert example.title in text
    for loop in answer["loops"]:
        assert f"{loop['loop']} {loop['length_m']:.0f} {loop['flow_l_s']:.3f}" in text
    pump = answer["pump"]
    assert f"{pump['flow_l_s']:.3f} L/s at {pump['head_kpa']:.1f} kPa" in text
    for caution in answer["cautions"]:
        assert caution in text


def test_an_impossible_split_is_not_shown_as_a_good_one(tmp_path: Path) -> None:
    job = {
        **copy.deepcopy(SMALLEST),
        "duty": {"heat_kw": 8400, "to_ground_c": -1, "from_ground_c": 2},
    }
    job["array"]["branches"][1]["loop"]["legs"] = job["array"]["branches"][0]["loop"]["legs"]
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job), "utf-8")
    text = " ".join(run("solve", str(file)).output.split())
    assert "As computed, with the errors below: within ±10 %" in text


def test_trial_starts_the_service_posts_the_job_and_shows_the_same() -> None:
    tried = run("trial", str(SHORT_TAIL), "--json")
    assert tried.exit_code == 0
    assert "/v1/split: 200" in tried.output
    assert json.loads(tried.stdout) == json.loads(run("solve", str(SHORT_TAIL), "--json").output)


def test_a_job_that_is_refused_ends_with_3_and_names_the_place(tmp_path: Path) -> None:
    job = json.loads(SHORT_TAIL.read_text("utf-8"))
    job["array"]["branches"][1]["loop"]["legs"][0]["straight"]["length_m"] = -5
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job), "utf-8")
    shown = run("solve", str(file))
    assert shown.exit_code == 3
    assert shown.stdout == ""
    assert "/array/branches/1/loop/legs/0/straight/length_m" in shown.output
    assert "given: -5" in shown.output
    listed = run("solve", str(file), "--json")
    assert listed.exit_code == 3
    assert json.loads(listed.output)["status"] == 422


def test_of_many_loops_a_part_is_shown_and_it_is_said(client: FlaskClient, job: Json) -> None:
    job["array"]["branches"][0]["count"] = 100
    job["duty"]["flow_l_s"] = 10
    answer = client.post("/v1/split", json=job).get_json()
    console = Console(record=True, width=120)
    show_split(console, answer)
    text = console.export_text()
    assert "A-60" in text
    assert "A-61 " not in text
    assert "and 41 more loops" in text


def test_a_bar_reaches_from_the_middle_as_far_as_the_deviation() -> None:
    # Twelve cells a side for the widest deviation, by hand.
    assert deviation_bar(-10.0, 5.0, 20.0) == "      ██████│  ¦         "
    assert deviation_bar(0.0, 5.0, 20.0) == "         ¦  │  ¦         "


def test_every_calculation_is_a_command_of_its_own() -> None:
    posts = {each.path for each in OPERATIONS if each.method == "post" and not each.of_studies}
    alone = {path.removeprefix("/v1/") for path in posts if not set("{.") & set(path)}
    assert set(CALCULATIONS) == alone
    for name in CALCULATIONS:
        file = "plan.dxf" if name == "plot-file" else "job.json"
        assert f"Example: evenloop {name} {file}" in run(name, "--help").output


@pytest.mark.parametrize("name", sorted(main.commands))
def test_the_help_of_every_command_has_an_example_that_the_command_line_takes(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, _, example = " ".join(run(name, "--help").output.split()).partition("Example: evenloop ")
    first, *words = example.split()
    assert first == name
    monkeypatch.chdir(tmp_path)
    for file in ("job.json", "plan.dxf", "study.json"):
        (tmp_path / file).touch()
    main.commands[name].make_context(name, words).close()  # raises where the example is wrong


def test_a_plot_is_read_from_a_file_by_what_its_name_ends_in(
    client: FlaskClient, tmp_path: Path
) -> None:
    text = "kind,x_m,y_m\nboundary,0,0\nboundary,20,0\nboundary,20,15\nplant_room,0,0\n"
    (tmp_path / "corners.CSV").write_text(text, "utf-8")
    done = CliRunner().invoke(main, ["plot-file", str(tmp_path / "corners.CSV")])
    assert done.exit_code == 0, done.output
    answer = client.post("/v1/plot-file", data=text, content_type="text/csv")
    assert json.loads(done.stdout) == answer.get_json()
    other = CliRunner().invoke(main, ["plot-file", "-"], input=text)
    assert other.exit_code == 2
    assert ".geojson, .json, .dxf, .csv" in other.stderr


def test_a_calculation_reads_standard_input_and_writes_what_the_service_answers(
    client: FlaskClient, job: Json
) -> None:
    text = json.dumps(job)
    done = CliRunner().invoke(main, ["split", "-"], input=text)
    assert done.exit_code == 0
    assert json.loads(done.stdout) == client.post("/v1/split", json=job).get_json()
    table = CliRunner().invoke(main, ["split", "-", "--as", ".csv"], input=text)
    assert table.stdout_bytes == client.post("/v1/split.csv", json=job).data
    table = CliRunner().invoke(main, ["split", "-", "--as", ".csv?decimal=comma"], input=text)
    assert table.stdout_bytes == client.post("/v1/split.csv?decimal=comma", json=job).data


def test_a_picture_goes_to_a_file(tmp_path: Path) -> None:
    file = tmp_path / "flows.png"
    done = run("split", str(SHORT_TAIL), "--as", "flows.png", "--output", str(file))
    assert (done.exit_code, done.output) == (0, "")
    assert file.read_bytes().startswith(b"\x89PNG")  # RFC 2083, 3.1


def test_a_form_is_named_with_or_without_its_point_or_told_by_the_output(
    client: FlaskClient, tmp_path: Path
) -> None:
    job = json.loads(SHORT_TAIL.read_text("utf-8"))

    def given(*words: str) -> bytes:
        done = CliRunner().invoke(main, [words[0], "-", *words[1:]], input=json.dumps(job))
        assert (done.exit_code, done.stderr) == (0, ""), done.stderr
        return done.stdout_bytes

    def kept(name: str, command: str) -> bytes:
        assert given(command, "--output", str(tmp_path / name)) == b""
        return (tmp_path / name).read_bytes()

    table = client.post("/v1/split.csv", json=job).data
    assert given("split", "--as", "csv") == given("split", "--as", ".csv") == table
    assert kept("LOOPS.CSV", "split") == table
    assert given("report", "--as", "pdf").startswith(b"%PDF")  # ISO 32000, 7.5.2
    assert kept("report.pdf", "report").startswith(b"%PDF")
    usual = given("split")
    assert kept("flows.json", "split") == given("split", "--as", "json") == usual
    assert kept("job.2026", "split") == usual
    order = client.post("/v1/groundworks/pipe-order.csv", json=job).data
    assert given("groundworks", "--as", "csv") == kept("order.csv", "groundworks") == order


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("report", "--as", "odt"), "html, json, pdf"),
        (("sizing", "--as", "csv"), "json"),
        (("sizing", "--output", "sized.pdf"), "json"),
        (("split", "--as", "svg"), "flows.svg, pressure_profile.svg, schematic.svg"),
        (("split", "--output", "split.png"), "flows.png, pressure_profile.png"),
        (("split", "--as", "s.csv"), "csv, flows.png"),
        (("setting-out", "--as", "../split"), "csv, dxf, geojson, json, pdf, png, svg"),
    ],
)
def test_a_form_that_there_is_not_is_a_wrong_command_line_that_names_those_there_are(
    words: tuple[str, ...], told: str
) -> None:
    shown = CliRunner().invoke(main, [words[0], str(SHORT_TAIL), *words[1:]])
    assert shown.exit_code == 2
    assert shown.stdout == ""
    assert told in shown.stderr


@pytest.mark.parametrize("command", ["split", "sizing", "designs", "solve", "trial"])
@pytest.mark.parametrize("text", ["", "{", "[]", "{}", "\x00"])
def test_whatever_is_no_job_is_told_on_standard_error(command: str, text: str) -> None:
    shown = CliRunner().invoke(main, [command, "-"], input=text)
    assert shown.exit_code == 3
    assert shown.stdout == ""
    assert "Traceback" not in shown.stderr
    assert len(shown.stderr) > 40
    assert shown.stderr.count("The body is not JSON") <= 1  # as title and again before what it is


def test_a_file_that_is_not_there_and_a_wrong_setting_have_codes_of_their_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert run("split", "nowhere.json").exit_code == 2
    monkeypatch.setenv("EVENLOOP_MAX_LOOPS", "many")
    for command in ("split", "trial", "solve"):
        shown = run(command, str(SHORT_TAIL))
        assert shown.exit_code == 1
        assert "EVENLOOP_MAX_LOOPS is 'many'" in shown.output


def test_a_terminal_without_the_signs_shows_others() -> None:
    # cp1252, as Windows consoles in western Europe speak it, has no block or broken bar of ours.
    shown = CliRunner(charset="cp1252").invoke(main, ["solve", str(SHORT_TAIL)])
    assert shown.exit_code == 0
    assert "L/s" in shown.stdout


def test_version_and_help_load_neither_engine_nor_service() -> None:
    code = "import sys; from api.command.cli import main; print(sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout
    for heavy in (b"'numpy'", b"'CoolProp'", b"'scipy'", b"'flask'", b"'rich'", b"'marshmallow'"):
        assert heavy not in loaded


def test_words_are_completed_as_the_docs_say() -> None:
    shown = CliRunner().invoke(
        main, [], prog_name="evenloop", env={"_EVENLOOP_COMPLETE": "bash_source"}
    )
    assert "complete -o nosort -F _evenloop_completion evenloop" in shown.stdout
    typed = {"COMP_WORDS": "evenloop spl", "COMP_CWORD": "1"}
    found = CliRunner().invoke(
        main, [], prog_name="evenloop", env={"_EVENLOOP_COMPLETE": "bash_complete", **typed}
    )
    assert found.stdout.split() == ["plain,split", "plain,splits"]


FULL = Path("/dev/full")
"""A disk that is always full, by full(4) of the Linux manual, which is known from memory."""


def ended(*words: str, given: bytes = b"", **streams: Any) -> tuple[int, str]:
    """Code of a command that runs as a process of its own, and what its standard error says."""
    streams = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE, **streams}
    code = "from api.command.cli import main; main(prog_name='evenloop')"
    command = [sys.executable, "-c", code, *words]
    done = subprocess.run(command, input=given, timeout=60, check=False, **streams)
    return done.returncode, (done.stderr or b"").decode()


@pytest.mark.skipif(not FULL.exists(), reason="no device that is always full")
@pytest.mark.parametrize(
    "words",
    ["--version", "--help", "make-key office", "split JOB", "solve JOB",
     "split JOB --output /dev/full", "complete"],
)  # fmt: skip
def test_an_answer_that_a_full_disk_does_not_take_is_told_in_a_line_with_a_code_of_its_own(
    words: str,
) -> None:
    asked = words.replace("JOB", str(SHORT_TAIL)).split()
    more = {}
    if words == "complete":
        asked, more = [], {"_EVENLOOP_COMPLETE": "bash_complete", "COMP_CWORD": "1"}
    with FULL.open("wb") as full:
        environment = {**os.environ, "COMP_WORDS": "evenloop sp", **more}
        code, said = ended(*asked, stdout=full, env=environment)
    place = "/dev/full" if "--output" in words else "to standard output"
    assert (code, said) == (5, f"Error: cannot write {place}: No space left on device\n")


@pytest.mark.skipif(not FULL.exists(), reason="no device that is always full")
def test_a_full_disk_under_standard_error_leaves_the_code_as_it_is() -> None:
    with FULL.open("wb") as full:
        assert ended("split", "nofile", stderr=full)[0] == 2
        assert ended("split", "-", given=b"{}", stderr=full)[0] == 3
        assert ended("split", str(SHORT_TAIL), stdout=full, stderr=full)[0] == 5


@pytest.mark.parametrize("words", ["--help", "solve JOB", "split JOB"])
def test_who_reads_no_further_hears_no_complaint(words: str) -> None:
    # Code 1 on a closed pipe: "Note on SIGPIPE" in the documentation of Python's module signal,
    # from memory.
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "wb") as closed:
        asked = words.replace("JOB", str(SHORT_TAIL)).split()
        assert ended(*asked, stdout=closed) == (1, "")


def test_a_wrong_parameter_of_a_form_is_named() -> None:
    shown = run("split", str(SHORT_TAIL), "--as", "csv?decimal=x")
    assert shown.exit_code == 3
    assert "decimal: It is 'x'; it must be point or comma." in shown.stderr


def test_a_closed_standard_input_is_an_empty_one() -> None:
    command = f"'{sys.executable}' -m api.command.cli split - <&-"
    ended = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False)
    assert ended.returncode == 3
    assert "Traceback" not in ended.stderr
    assert "empty" in ended.stderr


def ended_in_a_shell(words: str, closing: str) -> tuple[int, str, str]:
    """Code, standard output and standard error of a command some of whose streams are closed."""
    command = f"'{sys.executable}' -m api.command.cli {words} {closing}"
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


STUDY = json.dumps(
    {
        "calculation": "split",
        "job": json.loads(SHORT_TAIL.read_text("utf-8")),
        "variations": [{"listed": {"at": "/duty/to_ground_c", "values": [-3, -2]}}],
        "results": ["/pump/head_kpa"],
    }
)


@pytest.mark.parametrize(
    "words",
    ["--version", "--help", "make-key office", "split JOB", "solve JOB", "trial JOB",
     "study STUDY"],
)  # fmt: skip
def test_an_answer_to_a_closed_standard_output_is_told_as_not_written(
    words: str, tmp_path: Path
) -> None:
    (tmp_path / "study.json").write_text(STUDY, "utf-8")
    asked = words.replace("JOB", str(SHORT_TAIL)).replace("STUDY", str(tmp_path / "study.json"))
    code, out, said = ended_in_a_shell(asked, ">&-")
    assert (code, out) == (5, ""), said
    assert said.endswith("Error: cannot write to standard output: it is closed\n")
    assert said.count("\n") == 1 or words.startswith("study")


def test_closed_streams_take_nothing_from_what_needs_none_of_them(tmp_path: Path) -> None:
    file = tmp_path / "answer.json"
    asked = f"split {SHORT_TAIL} --output {file}"
    assert ended_in_a_shell(asked, ">&- <&- 2>&-") == (0, "", "")
    assert json.loads(file.read_text("utf-8"))["loops"]
    assert ended_in_a_shell("split - </dev/null", ">&- 2>&-") == (3, "", "")
    assert ended_in_a_shell(f"split {SHORT_TAIL}", ">&- <&- 2>&-") == (5, "", "")


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="no file that cannot be read")
@pytest.mark.parametrize("command", ["split", "solve", "trial"])
def test_a_file_that_opens_but_cannot_be_read_is_told_in_a_line(command: str) -> None:
    shown = run(command, "/proc/self/mem")  # its first page is never there: proc(5), from memory
    assert shown.exit_code == 1
    assert shown.output == "Error: cannot read /proc/self/mem: Input/output error\n"


def test_a_study_on_a_file_has_a_row_for_each_case(tmp_path: Path) -> None:
    whole = json.loads((FOLDER / "studies" / "sorrel-lodge-tails.json").read_text("utf-8"))
    whole["variations"] = whole["variations"][:1]
    file = tmp_path / "study.json"
    file.write_text(json.dumps(whole), "utf-8")
    done = run("study", str(file))
    assert done.exit_code == 0, done.output
    rows = done.stdout.strip().splitlines()
    assert [row.split(",")[0] for row in rows] == ['"case"', "1", "2"]
    assert "2 cases" in done.stderr
    written = run("study", str(file), "--output", str(tmp_path / "rows.csv"))
    assert written.exit_code == 0
    assert (tmp_path / "rows.csv").read_bytes() == done.stdout_bytes
    assert run("study", str(file), "--output", str(tmp_path / "rows.parquet")).exit_code == 0
    assert (tmp_path / "rows.parquet").read_bytes()[:4] == b"PAR1"


def test_a_case_of_a_study_on_a_file_may_take_an_hour_or_what_is_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    limits: list[float] = []

    def limited(seconds: float) -> AbstractContextManager[None]:
        limits.append(seconds)
        return nullcontext()

    monkeypatch.setattr("api.studies.rows.time_limit", limited)
    whole = json.loads((FOLDER / "studies" / "sorrel-lodge-tails.json").read_text("utf-8"))
    file = tmp_path / "study.json"
    file.write_text(json.dumps(whole | {"variations": whole["variations"][:1]}), "utf-8")
    for told, seconds in (("", 3_600), ("7", 7)):
        monkeypatch.setenv("EVENLOOP_MAX_SECONDS", told)
        assert run("study", str(file)).exit_code == 0
        assert limits == [seconds, seconds]
        limits.clear()


def test_a_study_that_cannot_be_is_refused_as_the_service_does(tmp_path: Path) -> None:
    file = tmp_path / "study.json"
    file.write_text('{"calculation": "split"}', "utf-8")
    refused = run("study", str(file))
    assert refused.exit_code == 3
    assert "variations is missing" in " ".join(refused.stderr.split())
