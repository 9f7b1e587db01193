"""Media types and pictures that answers come in, for whoever must not load what draws them."""

from __future__ import annotations

from typing import Final

BYTES: Final = "application/octet-stream"
JSON: Final = "application/json"
GEOJSON: Final = "application/geo+json"
DXF: Final = "image/vnd.dxf"
CSV: Final = "text/csv"
HTML: Final = "text/html"
PDF: Final = "application/pdf"
SVG: Final = "image/svg+xml"
PNG: Final = "image/png"
PARQUET: Final = "application/vnd.apache.parquet"

PLOT_FILES: Final = (GEOJSON, DXF, CSV, BYTES)
"""What a file of a plot may be posted as."""

PICTURES: Final[dict[str, str]] = {
    "flows": "flow of every loop at the duty, against its target and tolerance",
    "system_curve": "head that array and plant take against flow, with the operating point",
    "pressure_profile": "pressure along the flow and return headers at the duty",
    "schematic": "the array as a diagram, its lines as wide as the flow at the duty",
}
"""Pictures of a split and what each shows."""
REPORT_PICTURES: Final = (*PICTURES, "pumps", "plan", "life")
"""Pictures that a report may hold: those of the split, and those of its chapters."""
