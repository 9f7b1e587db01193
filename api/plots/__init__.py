"""Pictures of results: a module for each, functions from the engine's results to a figure.

Only the names stand here, so that a service that is never asked for a picture never loads the
drawing library.
"""

from __future__ import annotations

from typing import Final

PICTURES: Final[dict[str, str]] = {
    "flows": "flow of every loop against its target and tolerance",
    "system_curve": "head that array and plant take against flow, with the operating point",
    "pressure_profile": "pressure along the flow and return headers",
    "schematic": "the array as a diagram, its lines as wide as the flow",
}
"""Pictures of a flow split and what each shows."""

SVG: Final = "image/svg+xml"
PNG: Final = "image/png"
