"""GET / and /studies: the designer's bench, where an array is edited and its flow split is seen.

And the page where studies of it are begun and what came of them is seen.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from flask import Blueprint, Response, render_template

from api.refusals import Json
from api.requests.job import NEEDS, places_read
from api.resources.examples import example_links
from api.version import VERSION

blueprint: Final = Blueprint("bench", __name__)

# The page fetches from its own service, shows its own drawings and saves files that it made
# itself; it runs no other script and holds no inline style.
_SECURITY: Final = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cache-Control": "no-cache",
}

_ASSETS: Final = Path(__file__).parent.parent / "pages" / "assets"
_READS: Final = {
    name: [(f"/{place}", where and f"/{where}") for place, where in places_read(name).items()]
    for name in NEEDS
    if name not in ("designs", "report")
}
# Named in the page so that the browser fetches them side by side, not one import after another.
_MODULES: Final = tuple(sorted(f"bench/{file.name}" for file in _ASSETS.glob("bench/*.js")))


@blueprint.get("/")
def get_bench() -> Response:
    """Show the bench."""
    return _page("bench.html", modules=_MODULES, reads=_READS)


@blueprint.get("/studies")
def get_studies_page() -> Response:
    """Show the bench's page for studies."""
    return _page("studies.html")


def _page(template: str, **content: Json) -> Response:
    text = render_template(template, version=VERSION, examples=example_links(), **content)
    return Response(text, content_type="text/html; charset=utf-8", headers=_SECURITY)
