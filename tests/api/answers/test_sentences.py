"""Every sentence that the engine may say is told to some real job, and reads as prose.

Sentences are read from the engine's code: of each the longest piece between two numbers. The jobs
of `sentences.json` (each a base with other parts), and the examples, have the service say them.
A new finding wants a job there; a new sentence too, or its piece in NO_JOB_SO_FAR.
"""

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import hydraulics
from hydraulics.findings import FINDING_CODES
from tests.api.conftest import shared_app

EXAMPLES: Final = Path(__file__).parents[3] / "openapi" / "examples"
WORDS: Final = 4  # of a piece: fewer are too common to be known again
WORDY: Final = {"causes.py", "ranking.py", "remedies.py", "unlike.py", "valves.py", "ways.py"}
BAD: Final = {
    "a number that is none": re.compile(r"\b(?:nan|inf|True|False)\b|(?<=\w )None\b"),
    "nought with a sign": re.compile(r"(?<![\w.–-])[-−]0(?:\.0*)?(?![\w.])"),
    "digits without end": re.compile(r"\d\.\d{7,}|\d{8,}|\de[+-]?\d"),
    "a JSON pointer": re.compile(r"(?<![\w.])/(?!v1/)[a-z_]+/[a-z0-9_]+"),
    "one of many": re.compile(r"\b1 (?:loops|boreholes|trenches|places|mats)\b(?! were)"),
    "two blanks": re.compile(r"  |\s[,.;:](?!\d)"),
}
PROSE: Final = {"message", "reason", "reasons", "rank_reason", "causes", "remedies", "instruction"}
NO_JOB_SO_FAR: Final = frozenset(
    {
        "no lengths were found whose flow by length is the one that they give; with the nearest",
    }
)  # fmt: skip
"""Pieces that no job here has the service say; another that none says is a fault of the test."""


def jobs() -> Iterator[tuple[str, dict[str, Any]]]:
    """Address and document of every job."""
    kept = json.loads(Path(__file__).with_name("sentences.json").read_text("utf-8"))
    bases = kept["bases"] | {
        each.stem: json.loads(each.read_text("utf-8")) for each in EXAMPLES.glob("*.json")
    }
    for each in kept["jobs"]:
        document = bases[each["base"]] | each["with"]
        yield each["address"], {part: told for part, told in document.items() if told is not None}


def pieces() -> dict[str, str]:
    """The longest piece of words of every sentence in the engine's code, and where it stands."""
    root = Path(hydraulics.__file__).parent
    found: dict[str, str] = {}
    for path in sorted(root.rglob("*.py")):
        code = path.read_text("utf-8")
        lines = code.splitlines()
        for node in ast.walk(ast.parse(code)):
            if not isinstance(node, ast.FunctionDef):
                continue
            own = "\n".join(lines[node.lineno - 1 : node.end_lineno])
            says = re.search(r"\bFinding\(|\brecord\.found\(|\btell\(", own)
            for string in strings(node) if says or path.name in WORDY else ():
                parts = string.values if isinstance(string, ast.JoinedStr) else [string]
                texts = [str(part.value) for part in parts if isinstance(part, ast.Constant)]
                longest = max((text.strip() for text in texts), key=len, default="")
                if len(longest.split()) >= WORDS:
                    found.setdefault(longest, f"{path.relative_to(root)}:{string.lineno}")
    return found


def strings(node: ast.AST) -> Iterator[ast.JoinedStr | ast.Constant]:
    """Strings in code, each as a whole, without docstrings and what is refused."""
    if isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    ):
        yield node
        return
    if isinstance(node, ast.Assert | ast.Raise) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    ):
        return
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Fault":
        return
    for child in ast.iter_child_nodes(node):
        yield from strings(child)


def texts_of(content: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Every text of an answer, with the name that it has there."""
    if isinstance(content, dict):
        for name, each in content.items():
            yield from texts_of(each, name)
    elif isinstance(content, list):
        for each in content:
            yield from texts_of(each, key)
    elif isinstance(content, str):
        yield key, content


def test_every_sentence_is_told_to_a_real_job_and_reads_as_prose() -> None:
    client = shared_app().test_client()
    told = set()
    for address, document in jobs():
        answer = client.post(f"/v1/{address}", json=document)
        assert answer.status_code == 200, (document, answer.get_json(force=True))
        told |= set(texts_of(answer.get_json(force=True)))
    for each in (EXAMPLES / "responses").rglob("*.json"):
        told |= set(texts_of(json.loads(each.read_text("utf-8"))))

    wrong = [
        (why, text)
        for key, text in told
        if key in PROSE
        for why, bad in BAD.items()
        if bad.search(text)
    ]
    assert wrong == []
    assert FINDING_CODES.keys() - {text for key, text in told if key == "code"} == set()
    everything = "\n".join(text for _, text in told)
    unsaid = {piece: at for piece, at in pieces().items() if piece not in everything}
    assert {piece: at for piece, at in unsaid.items() if piece not in NO_JOB_SO_FAR} == {}
    assert unsaid.keys() >= NO_JOB_SO_FAR, "said now: take them out of those that no job says"
