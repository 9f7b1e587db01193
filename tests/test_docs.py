"""The docs are held to the code: every name is in them, every command and answer shown is true."""

from __future__ import annotations

import io
import json
import re
import shlex
import subprocess
import urllib.parse
import urllib.request
from collections.abc import Iterator
from dataclasses import fields
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


def run(command: str, client: FlaskClient) -> TestResponse:
    """Run curl commands joined by ``jq`` as a shell would, against the service in this process."""
    answer: TestResponse | None = None
    piped = b""
    for words in _commands(command):
        if words[0] == "jq":
            assert len(words) == 2
            assert answer is not None
            content = answer.get_json()
            for key in words[1].strip(".").split("."):
                content = content[key]
            piped = json.dumps(content).encode()
            continue
        assert words[0] == "curl", words
        headers, data, address = {}, b"", ""
        rest = iter(words[1:])
        for word in rest:
            if word == "-H":
                name, _, value = next(rest).partition(": ")
                headers[name] = value
            elif word == "-d":
                body = next(rest)
                if body == "@-":
                    data = piped
                elif body.startswith("@"):
                    data = (ROOT / body[1:]).read_bytes()
                else:
                    data = body.encode()
            elif word == "-o":
                next(rest)
            elif word != "-s":
                address = word.removeprefix("$SERVICE")
        method = client.post if data else client.get
        answer = method(address, data=data or None, headers=headers)
        assert answer.status_code in (200, 207), (command, answer.get_data(as_text=True)[:500])
    assert answer is not None
    return answer


def _commands(text: str) -> Iterator[list[str]]:
    """Words of each command of a pipeline."""
    words: list[str] = []
    lexer = shlex.shlex(text.replace("\\\n", " "), posix=True, punctuation_chars="|")
    lexer.whitespace_split = True
    lexer.commenters = ""
    for word in lexer:
        if word == "|":
            yield words
            words = []
        else:
            words.append(word)
    yield words


SHOWING = [page for page in PAGES if any(language == "sh" for language, *_ in blocks(page))]


@pytest.mark.parametrize("page", SHOWING, ids=named)
def test_every_command_shown_works_and_its_answer_is_true(page: Path, client: FlaskClient) -> None:
    answer: TestResponse | None = None
    for language, said, content in blocks(page):
        if language == "sh" and content.startswith("curl"):
            answer = run(content.strip(), client)
        elif language == "json" and not said:
            assert answer is not None
            assert same(json.loads(content), answer.get_json(force=True)), content
        elif language == "csv":
            assert answer is not None
            lines = answer.get_data(as_text=True).splitlines()
            assert all(line in lines for line in content.splitlines()), content


@pytest.mark.parametrize("page", PAGES, ids=named)
def test_every_request_shown_is_part_of_the_file_that_it_names(page: Path) -> None:
    for language, said, content in blocks(page):
        if language == "json" and said.startswith("file="):
            whole = json.loads((ROOT / said.removeprefix("file=")).read_text("utf-8"))
            assert same(json.loads(content), whole), content


SMALLEST: dict[str, Any] = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
    "duty": {"flow_l_s": 0.5, "to_ground_temperature_c": -3, "from_ground_temperature_c": 0},
    "array": {
        "arrangement": "manifold",
        "branches": [
            {"loop": "A", "pipe": "PE100 SDR11 32", "count": 2, "legs": [{"straight_m": 150}]}
        ],
    },
}


@pytest.mark.parametrize("page", PAGES, ids=named)
def test_every_request_shown_is_answered(page: Path, client: FlaskClient) -> None:
    # ```json post=/v1/flow-split, with what is not shown taken from the smallest array.
    for language, said, content in blocks(page):
        if language == "json" and said.startswith("post="):
            body = SMALLEST | json.loads(content)
            answer = client.post(said.removeprefix("post="), json=body)
            assert answer.status_code == 200, (content, answer.get_data(as_text=True)[:800])


def test_the_script_shown_compares_its_variants(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    page = DOCS / "how-to" / "script-many-variants.md"
    script = next(content for language, _, content in blocks(page) if language == "python")

    def opened(request: urllib.request.Request) -> io.BytesIO:
        path = urllib.parse.urlsplit(request.full_url).path
        assert isinstance(request.data, bytes)
        answer = client.post(path, data=request.data, headers=dict(request.header_items()))
        assert answer.status_code == 207
        return io.BytesIO(answer.data)

    monkeypatch.setattr(urllib.request, "urlopen", opened)
    monkeypatch.chdir(ROOT)
    exec(compile(script, str(page), "exec"), {})
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 9
    # Spread in per cent, then head in kPa: the tail evens out as it grows to the others' 45 m.
    spreads = [float(line.split()[-2]) for line in lines]
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[-1] == pytest.approx(0.0, abs=1e-6)  # the loops are then equal


def test_every_benchmark_is_in_the_docs_with_how_to_run_it() -> None:
    text = (DOCS / "benchmarks.md").read_text("utf-8")
    scripts = {file.stem for file in (ROOT / "tests" / "benchmarks").glob("*.py")} - {"__init__"}
    assert scripts == set(re.findall(r"python -m tests\.benchmarks\.(\w+)", text))


def test_the_changelog_names_every_address() -> None:
    text = (DOCS / "CHANGELOG.md").read_text("utf-8")
    for each in OPERATIONS:
        assert f"{each.path.split('/{')[0]}`" in text, each.path


def test_the_tutorials_files_describe_one_project() -> None:
    files = [json.loads(f.read_text("utf-8")) for f in sorted((DOCS / "tutorial").glob("*.json"))]
    assert len(files) >= 7
    assert {file["name"] for file in files} == {"Tansy Cottage (invented)"}
    drawn, balanced = files[1:3], files[3:7]
    assert all(file["array"] == drawn[0]["array"] for file in drawn)
    assert all(file["array"] == balanced[0]["array"] for file in balanced)
    assert all(file["plant"] == drawn[0]["plant"] for file in files[1:])


def test_a_wrong_number_or_order_would_be_noticed() -> None:
    true = {"a": [1.0, 2.0, 3.0], "b": {"c": "x"}}
    assert same({"a": [1.0, 3.0], "b": {"c": "x"}}, true)
    assert not same({"a": [3.0, 1.0]}, true)
    assert not same({"a": [1.1]}, true)
    assert not same({"b": {"d": "x"}}, true)
