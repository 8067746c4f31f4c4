"""The templates: read and compiled once, with what they all may use."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache

from fastapi.templating import Jinja2Templates
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from webapp.drawings.shapes import Drawing
from webapp.web.settings import Assets
from webapp.web.statics import static_url

# A measuring drawing has about fifty shapes and is the same for every string and every student; a chart of
# years has thousands, and is hardly ever the same twice.
KEPT_DRAWINGS = 64
MOST_SHAPES = 200


@cache
def templates_of(folders: Assets) -> Jinja2Templates:
    """Compiled once for all apps of this process: templates depend on nothing but their files."""
    environment = Environment(
        loader=FileSystemLoader(folders.templates),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        # Or each page looks whether a file was changed.
        auto_reload=False,
    )
    environment.globals["static"] = static_url(folders.static)
    environment.globals["drawing"] = _drawing(environment)
    return Jinja2Templates(env=environment)


def _drawing(environment: Environment) -> Callable[[Drawing], Markup]:
    """The function that templates call as drawing(page.drawing): the SVG, kept by the drawing's value."""

    def ink(drawing: Drawing) -> Markup:
        template = environment.get_template("parts/visit/drawing.html")
        return Markup(template.make_module().drawing(drawing))  # type: ignore[attr-defined]

    inked = lru_cache(maxsize=KEPT_DRAWINGS)(ink)
    return lambda drawing: (inked if len(drawing.shapes) <= MOST_SHAPES else ink)(drawing)
