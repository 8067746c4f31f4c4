"""Reads a page's form the quick way: the load maker shares its two cores with the server that it measures.

It knows forms as our templates write them; `test_fields.py` holds it against a real parser, on each page that
a setup leads through.
"""

from __future__ import annotations

import re
from html import unescape

_TAG = re.compile(r"<(input|select|option|textarea|/select)\b([^>]*)>([^<]*)")
_ATTRIBUTE = re.compile(r'([\w-]+)(?:="([^"]*)")?')


def form_fields(html: str, action: str) -> dict[str, str] | None:
    """The fields of the form that posts to `action`, as a browser would send them back; None without one."""
    found = re.search(rf'<form\b[^>]*\baction="{re.escape(action)}"[^>]*>(.*?)</form>', html, re.DOTALL)
    if found is None:
        return None
    fields: dict[str, str] = {}
    select = ""
    for tag, inside, text in _TAG.findall(found[1]):
        has = {name: unescape(value) for name, value in _ATTRIBUTE.findall(inside)}
        name = has.get("name", "")
        if tag == "input" and name and _is_sent(has):
            fields[name] = has.get("value", "")
        elif tag == "textarea":
            fields[name] = unescape(text)
        elif tag in ("select", "/select"):
            select = name
        elif tag == "option" and select and ("selected" in has or select not in fields):
            fields[select] = has.get("value", "")
    return fields


def _is_sent(has: dict[str, str]) -> bool:
    return has.get("type") not in ("checkbox", "radio") or "checked" in has


def statics(html: str) -> list[str]:
    """The style and the script that a browser fetches once, for its first page."""
    return list(dict.fromkeys(unescape(path) for path in re.findall(r'(?:href|src)="(/static/[^"]+)"', html)))


def words(html: str, most: int = 160) -> str:
    """What a page says, for the example of an error."""
    found = re.search(r"<main\b[^>]*>(.*)", html, re.DOTALL)
    body = found[1] if found else html
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", body))).strip()[:most]
