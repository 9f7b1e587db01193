"""The audit of dependencies, by faked answers of the tool that asks for known faults."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

AUDIT = Path(__file__).parent.parent / ".ci" / "audit"
PYTHON = """#!/bin/sh
mkdir -p "$3/bin" && cp "{0}/pip" "{0}/pip-audit" "$3/bin"
"""
TOOL = """#!/bin/sh
while [ "$1" != --output ]; do shift; done
printf '%s' '{found}' >"$2"
[ -n '{found}' ] || rm "$2"
echo '{said}' >&2
exit {code}
"""


@pytest.mark.skipif(not AUDIT.exists(), reason="only what is tracked holds it")
@pytest.mark.parametrize(
    ("answer", "ends", "tells"),
    [
        (("No known vulnerabilities found", "", 0), 0, "No known vulnerabilities found"),
        (("Found 1 known vulnerability", "flask 3.1 XYZ-1", 1), 1, "flask 3.1 XYZ-1"),
        # Not reached: nothing was checked, which is said and does not fail.
        (("requests.exceptions.ConnectionError: refused", "", 1), 0, "NOT audited"),
        # Anything else is a fault of the audit itself.
        (("unrecognized arguments: --columns", "", 2), 1, "unrecognized arguments"),
    ],
)
def test_each_end_of_an_audit_is_told(
    tmp_path: Path, answer: tuple[str, str, int], ends: int, tells: str
) -> None:
    said, found, code = answer
    scripts = {
        "python3": PYTHON.format(tmp_path),
        "pip": "#!/bin/sh\n",
        "pip-audit": TOOL.format(said=said, found=found, code=code),
    }
    for name, text in scripts.items():
        (tmp_path / name).write_text(text, "utf-8")
        (tmp_path / name).chmod(0o755)
    path = f"{tmp_path}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        ["bash", str(AUDIT)],
        env={**os.environ, "PATH": path},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == ends, done
    assert tells in done.stdout + done.stderr
