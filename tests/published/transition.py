"""Friction measured in smooth straight pipe about transition, and the picture of it in the docs.

    python -m tests.published.transition

writes docs/theory/transition.svg; a test fails while it differs from the law.
"""

import csv
from pathlib import Path
from typing import NamedTuple

import numpy as np
from fluids.friction import Churchill_1977, oregon_fd_smooth, oregon_Res

from hydraulics.pipework.friction import darcy_friction_factor

POINTS = Path(__file__).with_name("transition_points.csv")
PICTURE = Path(__file__).parents[2] / "docs" / "theory" / "transition.svg"
LOW, HIGH = 1000.0, 10_000.0  # Re, from and to which points are kept


class Point(NamedTuple):
    source: str
    reynolds: float
    factor: float


def points() -> list[Point]:
    """Read the points of Senecal and of Stanton & Pannell here, Oregon's (McKeon) from fluids."""
    with POINTS.open(encoding="utf-8") as file:
        next(file)  # where they are from
        read = [
            Point(row["source"], float(row["reynolds"]), float(row["friction_factor"]))
            for row in csv.DictReader(file)
        ]
    oregon = zip(oregon_Res, oregon_fd_smooth, strict=True)
    return read + [Point("Oregon", re, f) for re, f in oregon if LOW <= re < HIGH]


# ------------------------------------------------------------------------------------- the picture

WIDTH, HEIGHT, LEFT, BOTTOM = 640, 400, 50, 360
COLOURS = {"Senecal": "#b3541e", "Stanton": "#1d6fa5", "Oregon": "#777777"}
NAMES = {
    "Senecal": "Senecal 1951",
    "Stanton": "Stanton &amp; Pannell 1914",
    "Oregon": "McKeon et al. 2004 (Oregon)",
}


def _x(reynolds: float) -> float:
    return LEFT + (WIDTH - LEFT - 10) * float(np.log10(reynolds / LOW))


def _y(factor: float) -> float:
    return BOTTOM - (BOTTOM - 10) * (factor - 0.02) / 0.05


def _line(reynolds: list[float], factors: list[float], look: str) -> str:
    corners = " ".join(f"{_x(re):.1f},{_y(f):.1f}" for re, f in zip(reynolds, factors, strict=True))
    return f'<polyline fill="none" {look} points="{corners}"/>'


def picture() -> str:
    """Draw the points, the law and Churchill's equation as SVG."""
    swept = np.geomspace(LOW, HIGH, 201)
    reynolds = swept.tolist()
    law = darcy_friction_factor(swept, 0.0).tolist()
    churchill = [float(Churchill_1977(re, 0.0)) for re in reynolds]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"'
        ' font-family="sans-serif" font-size="12">',
        "<title>Friction factor of smooth straight pipe about transition</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        f'<path d="M{LEFT} 10V{BOTTOM}H{WIDTH - 10}" fill="none" stroke="#000"/>',
    ]
    parts += [
        f'<text x="{_x(re):.1f}" y="{BOTTOM + 16}" text-anchor="middle">{re}</text>'
        for re in (1000, 1500, 2000, 3000, 4000, 6000, 10_000)
    ]
    parts += [
        f'<text x="{LEFT - 6}" y="{_y(f) + 4:.1f}" text-anchor="end">{f:.2f}</text>'
        for f in (0.02, 0.03, 0.04, 0.05, 0.06, 0.07)
    ]
    parts.append(f'<text x="{WIDTH / 2:.0f}" y="{HEIGHT - 8}">Reynolds number</text>')
    for source, re, f in points():
        colour = COLOURS[source.split()[0]]
        if 0.02 <= f <= 0.07:
            parts.append(f'<circle cx="{_x(re):.1f}" cy="{_y(f):.1f}" r="2" fill="{colour}"/>')
    parts.append(_line(reynolds, churchill, 'stroke="#000" stroke-dasharray="4 3"'))
    parts.append(_line(reynolds, law, 'stroke="#000" stroke-width="2"'))
    legend = [(f'fill="{COLOURS[key]}"', f"• {NAMES[key]}") for key in COLOURS]
    legend += [("", "━ the law"), ("", "┅ Churchill 1977")]
    parts += [
        f'<text x="{WIDTH - 230}" y="{24 + 16 * i}" {look}>{words}</text>'
        for i, (look, words) in enumerate(legend)
    ]
    return "\n".join([*parts, "</svg>"]) + "\n"


if __name__ == "__main__":
    PICTURE.write_text(picture(), "utf-8")
