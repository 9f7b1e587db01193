"""A figure as bytes: SVG or PNG, the same bytes every time, with its text alternative inside."""

from __future__ import annotations

import io
import re
from threading import Lock
from typing import Final
from xml.sax.saxutils import escape

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from PIL import Image
from PIL.PngImagePlugin import PngInfo

PNG_DPI: Final = 150

# The drawing library keeps fonts and glyphs in caches that it does not guard. Drawing holds the
# interpreter anyway, so waiting here costs no time.
_DRAWING: Final = Lock()
_WORDS: Final = re.compile(r'(<g id="words-([0-9a-f]+)">\s*<text [^>]*>)[^<]*(</text>)')


def svg_of(figure: Figure, title: str, text: str) -> bytes:
    """Draw a figure as SVG.

    Parameters
    ----------
    figure
        The figure.
    title
        Short name, for ``<title>``.
    text
        Text alternative, for ``<desc>``.

    Returns
    -------
    bytes
        SVG 1.1 in UTF-8; text is text. No date, host or program stands in it.
    """
    stream = io.StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    with _DRAWING:
        FigureCanvasSVG(figure).print_svg(stream, metadata=nothing)  # type: ignore[no-untyped-call]
    drawn = stream.getvalue()
    # No reader needs the DTD, and some would fetch it.
    start = drawn.index("<svg ")
    end = drawn.index(">", start)
    head = (
        f'<?xml version="1.0" encoding="utf-8"?>\n{drawn[start:end]} role="img" '
        'aria-labelledby="picture-title picture-text">'
        f'\n <title id="picture-title">{escape(title)}</title>'
        f'\n <desc id="picture-text">{escape(text)}</desc>'
    )
    body = _WORDS.sub(_with_words, drawn[end + 1 :])
    return (head + body).encode("utf-8")


def _with_words(found: re.Match[str]) -> str:
    """Give a text back the words that the font has no signs for."""
    words = bytes.fromhex(found[2]).decode("utf-8")
    return f"{found[1]}{escape(words)}{found[3]}"


def png_of(figure: Figure, title: str, text: str, dpi: int = PNG_DPI) -> bytes:
    """Draw a figure as PNG.

    Parameters
    ----------
    figure, title, text
        As for :func:`svg_of`; title and text go into the file's Title and Description.
    dpi
        Dots an inch; 150 is for a screen.

    Returns
    -------
    bytes
        PNG in RGB: our figures stand on white, nothing shines through.
    """
    with _DRAWING:
        figure.set_dpi(dpi)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        dots = canvas.buffer_rgba()  # type: ignore[no-untyped-call]
        drawn = Image.frombuffer("RGBA", dots.shape[1::-1], dots).convert("RGB")
        # The figure's texts hold what drew them, and all lie in circles that nobody looks for yet.
        del dots
        canvas.get_renderer().__dict__.clear()  # type: ignore[no-untyped-call]
    told = PngInfo()
    told.add_text("Title", title)
    told.add_text("Description", text)
    stream = io.BytesIO()
    drawn.save(stream, "PNG", pnginfo=told, dpi=(dpi, dpi))
    return stream.getvalue()
