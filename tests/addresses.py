"""Addresses that are found by following links, and what makes two of them the same kind of page."""

from __future__ import annotations

import html
import re
from collections import Counter
from collections.abc import Callable, Sequence

MOST_PAGES = 400
_VARIES = (
    (re.compile(r"/[\w-]{12}(?=$|[/?])"), "/*"),
    (re.compile(r"/(read|adjust|check|history|ask|intonation)/[^/?]+"), r"/\1/*"),
    (re.compile(r"=[^&]*"), "="),
)


def shape(path: str) -> str:
    """An address without the names and numbers in it."""
    for varies, kept in _VARIES:
        path = varies.sub(kept, path)
    return path


def links(page: str, like: str = '/[^"#]*') -> list[str]:
    """Where the links of a page lead to, in order, each once."""
    hrefs = dict.fromkeys(html.unescape(href) for href in re.findall(rf'href="({like})"', page))
    return [href for href in hrefs if not href.startswith("/static/") and not href.endswith("/next")]


def follow(start: Sequence[str], fetch: Callable[[str], str | None], of_a_kind: int) -> list[str]:
    """Every kind of page that links lead to from these, at most so many of a kind.

    `fetch` gives a page's HTML, or None for what is no page (a file to keep).
    """
    found = list(start)
    kinds = Counter(map(shape, found))
    for path in found:
        for href in links(fetch(path) or ""):
            if href not in found and kinds[shape(href)] < of_a_kind and fetch(href) is not None:
                kinds[shape(href)] += 1
                found.append(href)
        assert len(found) < MOST_PAGES
    return found
