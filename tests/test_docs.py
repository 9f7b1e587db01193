"""The docs are held to the code: every name is in them, every command and answer shown is true."""

from __future__ import annotations

import io
import json
import re
import shlex
import shutil
import subprocess
import urllib.parse
import urllib.request
from collections.abc import Iterator
from dataclasses import fields
from importlib.metadata import requires
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.command.write_reference import FOLDER, field_names, reference_pages
from api.contract.document import build_openapi
from api.contract.operations import OPERATIONS
from api.service.problem_types import PROBLEM_TYPES
from api.settings import Settings, variable
from hydraulics.findings import FINDING_CODES

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
PAGES = sorted(DOCS.rglob("*.md"))
READ_FIRST = [ROOT / "README.md", ROOT / "DEVELOPERS.md"]


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app(Settings()).test_client()


def named(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


# -------------------------------------------------------------------------------- names in the docs


def test_the_reference_pages_are_what_the_code_makes_of_its_declarations() -> None:
    for name, text in reference_pages().items():
        kept = (FOLDER / name).read_text("utf-8")
        assert kept == text, f"{name}: call python -m api.command.write_reference"


def test_every_route_is_in_the_docs() -> None:
    page = (FOLDER / "resources.md").read_text("utf-8")
    for each in OPERATIONS:
        assert f"`{each.method.upper()} {each.path}`" in page
    app = create_app(Settings())
    ours = {re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule) for rule in app.url_map.iter_rules()}
    ours -= {"/v1/split/{picture}.{form}"}  # one route for two addresses
    assert ours - {each.path for each in OPERATIONS} <= {"/assets/{filename}"}


def test_every_setting_is_in_the_docs() -> None:
    page = (DOCS / "configuration.md").read_text("utf-8")
    for each in fields(Settings):
        assert f"`{variable(each.name)}`" in page


def test_every_problem_type_is_a_heading_of_the_docs() -> None:
    page = (FOLDER / "problems.md").read_text("utf-8")
    for slug, kind in PROBLEM_TYPES.items():
        assert f"\n## {slug}\n" in page
        assert kind.uri in page


def test_every_finding_code_is_in_the_docs() -> None:
    page = (FOLDER / "findings.md").read_text("utf-8")
    for code in FINDING_CODES:
        assert f"`{code}`" in page


def test_every_field_name_is_in_the_docs() -> None:
    page = (FOLDER / "nomenclature.md").read_text("utf-8")
    for name in field_names(build_openapi()["components"]["schemas"]):
        assert f"| `{name}`" in page


def test_every_unit_that_a_field_has_is_listed_with_the_ending_that_carries_it() -> None:
    page = (FOLDER / "nomenclature.md").read_text("utf-8")
    listed = dict(re.findall(r"^\| `(_\w+)` +\| (.+) \|$", page, re.MULTILINE))
    for schema in build_openapi()["components"]["schemas"].values():
        for name, said in schema.get("properties", {}).items():
            if unit := said.get("x-unit"):
                longest = max((e for e in listed if name.endswith(e)), key=len, default="")
                assert listed.get(longest) == unit, name


# -------------------------------------------------------------------------------------------- links


def links_of(page: Path) -> Iterator[tuple[Path, str]]:
    text = re.sub(r"```.*?```", "", page.read_text("utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if "://" not in target:
            path, _, anchor = target.partition("#")
            yield ((page.parent / path).resolve() if path else page), anchor


def anchors_of(page: Path) -> set[str]:
    heads = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("page", [*READ_FIRST, *PAGES], ids=named)
def test_links_of_a_page_lead_somewhere(page: Path) -> None:
    for target, anchor in links_of(page):
        assert target.exists(), target
        if anchor:
            assert anchor in anchors_of(target), f"{target}#{anchor}"


@pytest.mark.parametrize("page", PAGES + READ_FIRST, ids=named)
def test_every_file_of_the_code_that_a_page_names_exists(page: Path) -> None:
    told = re.findall(r"`((?:hydraulics|api|tests)/[\w/]*(?:\.\w+)?)`", page.read_text("utf-8"))
    assert [path for path in told if not (ROOT / path).exists()] == []


def test_every_page_is_reached_from_the_index() -> None:
    found = {DOCS / "index.md"}
    todo = [DOCS / "index.md"]
    while todo:
        for target, _ in links_of(todo.pop()):
            if target.suffix == ".md" and target not in found and target.is_relative_to(DOCS):
                found.add(target)
                todo.append(target)
    assert set(PAGES) <= found


# ------------------------------------------------------------------------------------- banned words

# Put together here, so that this file does not hold them.
MACHINE_PATHS = [f"/{name}/" for name in ("work", "root", "tmp")]
REGISTRY_HOSTS = [
    f"{name}.{top}"
    for name, top in (("pypi", "org"), ("pythonhosted", "org"), ("npmjs", "org"), ("npmjs", "com"))
]


def tracked_files() -> list[Path]:
    git = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if git.returncode:
        pytest.skip("not a git checkout: which files are tracked is not known")
    return [ROOT / name for name in git.stdout.split("\0") if name and (ROOT / name).is_file()]


def test_no_tracked_file_names_a_machines_path_or_a_registrys_host() -> None:
    banned = re.compile("|".join(map(re.escape, [*MACHINE_PATHS, *REGISTRY_HOSTS])))
    files = tracked_files()
    assert len(files) > 100
    for file in files:
        try:
            text = file.read_text("utf-8")
        except UnicodeDecodeError:
            continue  # a picture
        assert not (found := banned.search(text)), f"{named(file)}: {found and found[0]}"


# -------------------------------------------------------------- commands and answers that are shown


def same(shown: Any, true: Any) -> bool:
    """Whether what is shown is part of the truth; items of a list in their order."""
    if isinstance(shown, dict):
        return isinstance(true, dict) and all(
            key in true and same(item, true[key]) for key, item in shown.items()
        )
    if isinstance(shown, list):
        rest = iter(true)
        return all(any(same(item, each) for each in rest) for item in shown)
    if isinstance(shown, float) and not isinstance(true, bool | str):
        # Six digits are answered; the last may differ between processors.
        return bool(shown == pytest.approx(true, rel=1e-5, abs=1e-9))
    return bool(shown == true)


def blocks(page: Path) -> list[tuple[str, str, str]]:
    """Fenced blocks of a page: language, what is said after it, content."""
    text = page.read_text("utf-8")
    return re.findall(r"^```(\w*) ?([^\n]*)\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)


class Shell:
    """Runs the commands of a page, one after the other, against the service in this process.

    Files that a command writes are kept here, and read by those after it.
    """

    def __init__(self, client: FlaskClient) -> None:
        self.client = client
        self.files: dict[str, bytes] = {}
        self.answer: TestResponse | None = None

    def run(self, block: str) -> None:
        for line in block.replace("\\\n", " ").strip().splitlines():
            words = shlex.split(line.replace("$SERVICE", "").replace("$JSON", JSON_HEADER))
            program, *rest = words
            (self._curl if program == "curl" else self._jq)(rest)

    def _read(self, name: str) -> bytes:
        return self.files[name] if name in self.files else (ROOT / name).read_bytes()

    def _curl(self, words: list[str]) -> None:
        headers, data, address, kept = {}, b"", "", ""
        rest = iter(words)
        for word in rest:
            if word == "-H":
                name, _, value = next(rest).partition(": ")
                headers[name] = value
            elif word == "-d":
                body = next(rest)
                data = self._read(body[1:]) if body.startswith("@") else body.encode()
            elif word == "-o":
                kept = next(rest)
            elif word != "-s":
                address = word
        method = self.client.post if data else self.client.get
        self.answer = method(address, data=data or None, headers=headers)
        said = self.answer.get_data(as_text=True)[:500] if self.answer.status_code > 207 else ""
        assert self.answer.status_code in (200, 202, 207), (words, said)
        if kept:
            self.files[kept] = self.answer.data

    def _jq(self, words: list[str]) -> None:
        slurp, program, *names, arrow, kept = words
        assert (slurp, arrow) == ("-s", ">"), words
        first, second = (json.loads(self._read(name)) for name in names)
        self.files[kept] = json.dumps(first | TAKEN[program](second)).encode()


JSON_HEADER = "Content-Type: application/json"
TAKEN: dict[str, Any] = {
    "add": lambda part: part,
    ".[0] + .[1].decides": lambda answer: answer["decides"],
    ".[0] + .[1].pumps[0].decides": lambda answer: answer["pumps"][0]["decides"],
    '.[0] + (.[1].ways[] | select(.way == "spare_pipe").decides)': lambda answer: next(
        way["decides"] for way in answer["ways"] if way["way"] == "spare_pipe"
    ),
}
"""What the programs of jq that the pages show take from the second file, to put into the first."""


SHOWING = [page for page in PAGES if any(language == "sh" for language, *_ in blocks(page))]


@pytest.mark.parametrize("page", SHOWING, ids=named)
def test_every_command_shown_works_and_its_answer_is_true(page: Path, client: FlaskClient) -> None:
    shell = Shell(client)
    for language, said, content in blocks(page):
        if language == "sh":
            shell.run(content)
        elif language == "json" and not said:
            assert shell.answer is not None
            assert same(json.loads(content), shell.answer.get_json(force=True)), content


@pytest.mark.parametrize("page", PAGES, ids=named)
def test_every_request_shown_is_part_of_the_file_that_it_names(page: Path) -> None:
    for language, said, content in blocks(page):
        if language == "json" and said.startswith("file="):
            whole = json.loads((ROOT / said.removeprefix("file=")).read_text("utf-8"))
            assert same(json.loads(content), whole), content


SMALLEST: dict[str, Any] = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
    "duty": {"flow_l_s": 0.5, "to_ground_c": -3, "from_ground_c": 0},
    "array": {
        "arrangement": "manifold",
        "branches": [
            {
                "count": 2,
                "loop": {
                    "name": "A",
                    "pipe": "PE100 SDR11 32",
                    "legs": [{"straight": {"length_m": 150}}],
                },
            }
        ],
    },
}


@pytest.mark.parametrize("page", PAGES, ids=named)
def test_every_request_shown_is_answered(page: Path, client: FlaskClient) -> None:
    # ```json post=/v1/split, with what is not shown taken from the smallest array.
    for language, said, content in blocks(page):
        if language == "json" and said.startswith("post="):
            body = SMALLEST | json.loads(content)
            answer = client.post(said.removeprefix("post="), json=body)
            assert answer.status_code == 200, (content, answer.get_data(as_text=True)[:800])


@pytest.fixture
def at_the_service(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have scripts reach the service in this process."""

    def opened(request: urllib.request.Request) -> io.BytesIO:
        path = urllib.parse.urlsplit(request.full_url).path
        assert isinstance(request.data, bytes)
        answer = client.post(path, data=request.data, headers=dict(request.header_items()))
        assert answer.status_code in (200, 207), answer.get_data(as_text=True)[:500]
        return io.BytesIO(answer.data)

    monkeypatch.setattr(urllib.request, "urlopen", opened)


def run_script(page: Path) -> None:
    script = next(content for language, _, content in blocks(page) if language == "python")
    exec(compile(script, str(page), "exec"), {})


@pytest.mark.usefixtures("at_the_service")
def test_the_script_shown_compares_its_variants(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    run_script(DOCS / "how-to" / "script-many-variants.md")
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 9
    # Spread in per cent, then head in kPa: the tail evens out as it grows to the others' 45 m.
    spreads = [float(line.split()[-2]) for line in lines]
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[-1] == pytest.approx(0.0, abs=1e-6)  # the loops are then equal


@pytest.mark.usefixtures("at_the_service")
def test_the_script_shown_goes_on_from_answers_to_a_report(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "openapi").symlink_to(ROOT / "openapi")
    monkeypatch.chdir(tmp_path)
    run_script(DOCS / "how-to" / "go-on-from-an-answer.md")
    # The spread was 16.23 %, as the README shows; the nearest positions of the valves leave little.
    assert abs(float(capsys.readouterr().out)) < 16.23 / 5
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF-")


def test_the_programs_of_generated_clients_are_short() -> None:
    # That they run is for .ci/generated-clients to show.
    shown = {
        language: content.splitlines()
        for language, _, content in blocks(DOCS / "how-to" / "generate-a-client.md")
    }
    for language in ("python", "typescript", "java"):
        assert len(shown[language]) <= 40, language
        assert max(map(len, shown[language])) <= 100, language


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd here")
def test_systemd_finds_no_fault_in_the_unit_shown(tmp_path: Path) -> None:
    shown = (DOCS / "how-to" / "production" / "evenloop.service").read_text("utf-8")
    unit = tmp_path / "evenloop.service"
    # Where it is not installed its program is not there.
    unit.write_text(shown.replace("/opt/evenloop/bin/evenloop", "/bin/true"), "utf-8")
    checked = subprocess.run(
        ["systemd-analyze", "verify", str(unit)], capture_output=True, text=True, check=False
    )
    assert (checked.returncode, checked.stderr) == (0, "")


def test_the_licence_of_everything_that_is_installed_with_it_is_told() -> None:
    def plain(name: str) -> str:
        return re.sub(r"[-_.]+", "-", name).lower()

    needed: set[str] = set()
    todo = ["evenloop"]
    while todo:
        for told in requires(todo.pop()) or []:
            found = re.match(r"([\w.-]+)(.*)", told)
            assert found
            if ";" not in told and plain(found[1]) not in needed:
                needed.add(plain(found[1]))
                todo.append(found[1])
    page = (DOCS / "licences.md").read_text("utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| ")]
    listed = {plain(name) for row in rows for name in re.findall(r"`([^`]+)`", row)}
    assert len(needed) > 30
    assert needed <= listed


def test_every_benchmark_is_in_the_docs_with_how_to_run_it() -> None:
    text = (DOCS / "benchmarks.md").read_text("utf-8")
    scripts = {file.stem for file in (ROOT / "tests" / "benchmarks").glob("*.py")} - {"__init__"}
    assert scripts == set(re.findall(r"python -m tests\.benchmarks\.(\w+)", text))


def test_the_changelog_names_every_address() -> None:
    text = (DOCS / "CHANGELOG.md").read_text("utf-8")
    for each in OPERATIONS:
        assert f"{each.path.split('/{')[0]}`" in text, each.path


def test_the_tutorials_files_are_parts_of_one_job() -> None:
    files = [json.loads(f.read_text("utf-8")) for f in sorted((DOCS / "tutorial").glob("*.json"))]
    whole, drawn, read = files
    assert whole["name"] == "Tansy Cottage (invented)"
    assert "array" not in whole
    assert set(drawn) == {"array", "duty", "ground_at_loops"}
    meters = read["commissioning"].pop("flow_meters")
    assert read["commissioning"] == whole["commissioning"]
    assert {each["loop"] for each in meters["readings"]} == {"T1", "T2", "T3", "T4"}


def test_a_wrong_number_or_order_would_be_noticed() -> None:
    true = {"a": [1.0, 2.0, 3.0], "b": {"c": "x"}}
    assert same({"a": [1.0, 3.0], "b": {"c": "x"}}, true)
    assert not same({"a": [3.0, 1.0]}, true)
    assert not same({"a": [1.1]}, true)
    assert not same({"b": {"d": "x"}}, true)
