"""Imports of the product go down one list of levels, and never in a circle."""

from __future__ import annotations

import ast
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

LEVELS = {
    "hydraulics": (
        ("errors", "findings", "libraries"),
        ("studies",),
        ("checks", "fluid", "pipework"),
        ("ground", "layout"),
        ("boreholes", "plot", "shallow", "split"),
        ("balancing", "commissioning", "groundworks", "pumps", "sizing"),
        ("contradictions",),
        ("job",),
    ),
    "api": (
        ("media_types", "refusals", "settings", "version"),
        ("schemas",),
        ("answers", "drawings", "service"),
        ("requests", "report"),
        ("calculations",),
        ("contract",),
        ("studies",),
        ("resources",),
        ("app",),
        ("command",),
    ),
}
"""Rooms and modules by what the folder list shows, lowest first. Those of one level do not know
each other, but for `WITHIN`."""
WITHIN = {
    ("findings", "errors"),
    ("pipework", "checks"),
    ("fluid", "checks"),
    ("sizing", "groundworks"),
    ("service", "answers"),
    ("drawings", "answers"),
}
"""Imports within a level that are meant: who, of whom."""


@cache
def parsed(file: Path) -> ast.Module:
    return ast.parse(file.read_text("utf-8"))


def modules(package: str) -> dict[str, Path]:
    found = {}
    for file in sorted((ROOT / package).rglob("*.py")):
        parts = file.relative_to(ROOT).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = file
    return found


def imported(file: Path, known: dict[str, Path]) -> set[str]:
    """Modules of the package that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(parsed(file)):
        if isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            for each in node.names:
                whole = f"{node.module}.{each.name}"
                found.add(whole if whole in known else node.module)
        elif isinstance(node, ast.Import):
            found |= {each.name for each in node.names}
    return found & known.keys()


def room(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


@pytest.mark.parametrize("package", LEVELS)
def test_every_room_has_its_level(package: str) -> None:
    listed = {name for level in LEVELS[package] for name in level}
    there = {room(module) for module in modules(package)} - {"", "pages"}
    assert there == listed


@pytest.mark.parametrize("package", LEVELS)
def test_imports_go_down(package: str) -> None:
    level = {name: n for n, names in enumerate(LEVELS[package]) for name in names}
    known = modules(package)
    up = [
        f"{module} imports {other}"
        for module, file in known.items()
        if room(module)
        for other in imported(file, known)
        if room(other) not in ("", room(module))
        and level[room(other)] >= level[room(module)]
        and (room(module), room(other)) not in WITHIN
    ]
    assert not up


@pytest.mark.parametrize("package", LEVELS)
def test_no_import_goes_in_a_circle(package: str) -> None:
    known = modules(package)
    graph = {module: imported(file, known) - {module} for module, file in known.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


def test_the_engine_knows_nothing_of_the_service() -> None:
    foreign = {"api", "flask", "marshmallow", "json"}
    known = [
        f"{module}: {name}"
        for module, file in modules("hydraulics").items()
        for node in ast.walk(parsed(file))
        for name in (
            [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else [each.name for each in node.names]
            if isinstance(node, ast.Import)
            else []
        )
        if name.split(".")[0] in foreign
    ]
    assert not known
