"""How every picture looks: ink on white, three marks for three states, text that stays text.

State is told by shape, hatch and colour together, so that a picture survives a grey printer and
every kind of colour vision. The colours of the states are those of Okabe & Ito.

References
----------
Okabe, M., Ito, K.: Color universal design (2008), the eight-colour set.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import matplotlib as mpl
import numpy as np
from matplotlib import font_manager
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ft2font import FT2Font
from matplotlib.lines import Line2D
from matplotlib.text import Text
from numpy.typing import NDArray

from api.answers.numbers import number

INK: Final = "#2b2620"
SOFT: Final = "#665c4f"
LINE: Final = "#cfc3ae"
BAND: Final = "#ece3d2"
EVEN: Final = "#b9ad98"
BLUE: Final = "#0072b2"  # Okabe & Ito
VERMILLION: Final = "#d55e00"  # Okabe & Ito
GREEN: Final = "#009e73"  # Okabe & Ito
PURPLE: Final = "#cc79a7"  # Okabe & Ito

# Set once, when the first picture is asked for and before any is drawn; never changed after, so
# that threads may draw side by side and a user's own matplotlibrc changes nothing.
mpl.rcdefaults()
mpl.rcParams.update(
    {
        "svg.hashsalt": "evenloop",
        "svg.fonttype": "none",
        "text.parse_math": False,
        "text.usetex": False,
        "font.family": ["sans-serif"],
        "font.sans-serif": ["DejaVu Sans"],
        "font.size": 9.0,
        "text.color": INK,
        "axes.labelcolor": INK,
        "axes.edgecolor": INK,
        "axes.linewidth": 0.8,
        "axes.unicode_minus": True,
        "axes.formatter.use_mathtext": False,
        "axes.formatter.useoffset": False,
        "axes.formatter.limits": (-4, 5),
        "xtick.color": INK,
        "ytick.color": INK,
        "xtick.labelsize": 8.0,
        "ytick.labelsize": 8.0,
        "hatch.linewidth": 0.7,
        "legend.frameon": False,
        "legend.fontsize": 8.0,
        "path.simplify": False,
    }
)


@dataclass(frozen=True, slots=True)
class State:
    """How one state of a loop is drawn.

    Attributes
    ----------
    words
        For the key.
    colour, hatch, marker
        Of bars and marks.
    """

    words: str
    colour: str
    hatch: str
    marker: str


STARVED: Final = State("starved: below tolerance", VERMILLION, "////", "v")
WITHIN: Final = State("within tolerance", EVEN, "", "o")
ABOVE: Final = State("above tolerance", BLUE, "xxx", "^")
STATES: Final = (STARVED, WITHIN, ABOVE)


def states_of(deviation: NDArray[np.float64], tolerance: float) -> NDArray[np.intp]:
    """Index into STATES of each loop by its deviation from target; both as fractions."""
    edge = tolerance * (1.0 + 1e-9)
    return np.where(deviation < -edge, 0, np.where(deviation > edge, 2, 1))


def sheet(width: float, height: float, title: str, subtitle: str = "") -> Figure:
    """Empty figure with a heading.

    Parameters
    ----------
    width, height
        Size [inches].
    title
        First line; shortened to fit.
    subtitle
        Second line.

    Returns
    -------
    Figure
        Drawn on by its own methods only; it belongs to no global state.
    """
    figure = Figure(figsize=(width, height), facecolor="white")
    left = 0.18 / width
    label(
        figure.text(left, 1.0 - 0.14 / height, "", va="top", fontsize=11.5, fontweight="bold"),
        title, int(width * 10.0),
    )  # fmt: skip
    label(
        figure.text(left, 1.0 - 0.40 / height, "", va="top", fontsize=9, color=SOFT),
        subtitle, int(width * 14.5),
    )  # fmt: skip
    return figure


def axes(
    figure: Figure, *, left: float, right: float, top: float = 0.78, bottom: float = 0.6
) -> Axes:
    """Axes with margins in inches, ruled lightly, open above and to the right."""
    width, height = figure.get_size_inches()
    made = figure.add_axes(
        (left / width, bottom / height, 1 - (left + right) / width, 1 - (top + bottom) / height)
    )
    made.spines[["top", "right"]].set_visible(False)
    made.tick_params(length=3, width=0.8)
    made.set_axisbelow(True)
    return made


def key(figure: Figure, handles: Sequence[Artist], *, at: float = 0.07, columns: int = 4) -> None:
    """Key along the foot of a figure, ``at`` inches above its edge."""
    width, height = figure.get_size_inches()
    figure.legend(
        handles=list(handles),
        loc="lower left",
        bbox_to_anchor=(0.1 / width, at / height),
        ncols=columns,
        borderaxespad=0.0,
        columnspacing=1.4,
        handletextpad=0.8,
    )


def mark_of(state: State) -> Line2D:
    """Sample of a state for the key."""
    return Line2D(
        [], [], linestyle="", marker=state.marker, markersize=6, label=state.words,
        markerfacecolor=state.colour, markeredgecolor=INK, markeredgewidth=0.6,
    )  # fmt: skip


# ------------------------------------------------------------------------------ text from users


@lru_cache(maxsize=1)
def _drawn() -> frozenset[int]:
    """Code points that the font has."""
    return frozenset(FT2Font(font_manager.findfont("DejaVu Sans")).get_charmap())


def _fits_xml(character: str) -> bool:
    """Tell whether XML 1.0 takes a character and a reader can see it or its effect."""
    return unicodedata.category(character) not in ("Cc", "Cs", "Cn", "Zl", "Zp")


def shortened(text: str, most: int) -> str:
    """Text that takes the room of so many letters; of a longer one, its head and its tail."""
    kept = "".join(filter(_fits_xml, text))
    if room(kept) <= most:
        return kept
    # A loop's own name stands last, behind those of the circuits around it.
    tail = _begin(kept[::-1], most // 2 - 1)[::-1]
    return _begin(kept, most - 1 - room(tail)).rstrip() + "…" + tail.lstrip()


def room(text: str) -> int:
    """Room that a text takes, in letters; a wide sign of East Asia takes that of two."""
    return sum(1 + (unicodedata.east_asian_width(each) in "WF") for each in text)


def _begin(text: str, most: int) -> str:
    """As much of a text's beginning as fits."""
    kept = 0
    while kept < len(text) and room(text[: kept + 1]) <= most:
        kept += 1
    return text[:kept]


def label(text: Text, words: str, most: int = 28) -> Text:
    """Put words that a user gave on a figure: as they are, never read as markup or formula.

    Parameters
    ----------
    text
        Where they go.
    words
        What they are.
    most
        Most characters; a longer text is shortened by an ellipsis.

    Returns
    -------
    Text
        The same text. What the font has no sign for is drawn as an empty box; an SVG gets the
        words back, for its reader's fonts (see :mod:`api.drawings.render`).
    """
    kept = shortened(words, most)
    known = _drawn()
    boxed = "".join(c if ord(c) in known else "□" for c in kept)
    text.set_parse_math(False)
    text.set_text(boxed)
    if boxed != kept:
        text.set_gid("words-" + kept.encode("utf-8").hex())
    return text


# ------------------------------------------------------------------------------------- numbers


def percent(fraction: float) -> str:
    """Signed per cent of a fraction, as drawn."""
    tenths = round(fraction * 100.0, 1)
    text = f"{tenths:+.1f}" if abs(tenths) < 10.0 else f"{tenths:+.0f}"
    return ("±0" if tenths == 0.0 else text.replace("-", "−")) + " %"


def spoken_percent(fraction: float) -> str:
    """Per cent of a fraction in words that can be read out."""
    tenths = round(abs(fraction) * 100.0, 1)
    if tenths == 0.0:
        return "on target"
    size = f"{tenths:.1f}" if tenths < 10.0 else f"{tenths:.0f}"
    return f"{size} per cent {'below' if fraction < 0.0 else 'above'} target"


def shown(value: float) -> str:
    """A number as pictures show it: to three significant digits."""
    return number(float(value), 3)


def spoken(value: float) -> str:
    """The same, with a hyphen for a minus."""
    return shown(value).replace("−", "-")
