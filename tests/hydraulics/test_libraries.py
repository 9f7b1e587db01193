"""Nothing of SciPy is left to be loaded while a calculation runs against its time limit."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import hydraulics

PART = re.compile(r"\bsp((?:\.[a-z]+)+)\.\w|^from scipy(\.[a-z.]+) import", re.MULTILINE)


def test_all_that_the_engine_names_is_loaded_at_once() -> None:
    texts = [file.read_text("utf-8") for file in Path(hydraulics.__path__[0]).rglob("*.py")]
    wanted = {f"scipy{late or early}" for text in texts for late, early in PART.findall(text)}
    assert {"scipy.optimize", "scipy.sparse.csgraph", "scipy.linalg", "scipy.constants"} <= wanted
    code = (
        "import sys, hydraulics.job; from hydraulics.libraries import load_libraries; "
        f"load_libraries(); print({wanted!r} - set(sys.modules))"
    )
    shown = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout
    assert shown.strip() == b"set()"
