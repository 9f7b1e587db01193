"""What a calculation noticed that its reader should know: one finding, one sentence, one source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "warning", "error"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something noticed about the case.

    Attributes
    ----------
    code
        Short name that programs may rely on, in snake_case.
    severity
        ``"error"``: it cannot be built or trusted as given; ``"warning"``: a rule of the trade or
        a standard is not met; ``"note"``: worth knowing.
    where
        What it is about, in words or as a path into the input; empty for the case as a whole.
    message
        One or two sentences with the numbers and what to do.
    source
        Where the rule comes from, and whether it was read there.
    """

    code: str
    severity: Severity
    where: str
    message: str
    source: str = ""
