"""A teacher's notes as HTML. Apart, for what renders them takes a tenth of a start to load. Pure."""

from __future__ import annotations

import re

from markdown_it import MarkdownIt

_SCHEME = re.compile(r"[a-z][a-z0-9+.-]*:", re.IGNORECASE)
_ALLOWED = ("http:", "https:")
# A page has one title, which is not the teacher's.
TOP_HEADING, LOWEST_HEADING = 3, 6


class _Notes(MarkdownIt):
    """CommonMark without HTML of its own, without pictures, and with links to pages only."""

    def validateLink(self, url: str) -> bool:
        plain = "".join(url.split()).replace("\\", "/")
        if plain.startswith("//"):
            return False
        scheme = _SCHEME.match(plain)
        return scheme is None or scheme[0].lower() in _ALLOWED


def _renderer() -> MarkdownIt:
    # A picture would be fetched from elsewhere by everybody who reads the lesson.
    return _Notes("commonmark", {"html": False}).disable("image")


def notes_html(text: str) -> str:
    """Notes as HTML; empty for empty notes."""
    if not text.strip():
        return ""
    markdown = _renderer()
    tokens = markdown.parse(text)
    for token in tokens:
        if token.type in ("heading_open", "heading_close"):
            token.tag = f"h{min(int(token.tag[1:]) + TOP_HEADING - 1, LOWEST_HEADING)}"
        for child in token.children or ():
            if child.type == "link_open":
                child.attrSet("rel", "noopener noreferrer")
    return str(markdown.renderer.render(tokens, markdown.options, {}))
