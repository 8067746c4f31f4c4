"""Static files, named with a hash of their content so that browsers may keep them for good."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from urllib.parse import parse_qs

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

FOR_GOOD = "public, max-age=31536000, immutable"
ASK_FIRST = "no-cache"


class StaticFolder(StaticFiles):
    """Files under one folder. Only an address with the hash of the present content may be kept for good."""

    def __init__(self, folder: Path) -> None:
        super().__init__(directory=folder)
        self._folder = folder

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        asked = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("v", [""])[0]
        current = response.status_code in (200, 304) and asked == content_hash(self._folder / path)
        response.headers["Cache-Control"] = FOR_GOOD if current else ASK_FIRST
        return response


def static_url(folder: Path) -> Callable[[str], str]:
    """The function that templates call as static('benchside.css')."""

    # Once for each file: a page names five of them, and whoever changes one starts anew.
    @cache
    def static(name: str) -> str:
        return f"/static/{name}?v={content_hash(folder / name)}"

    return static


def content_hash(file: Path) -> str:
    """The first twelve hex digits of the file's SHA-256; worked out again when the file changes."""
    return _hash(file, file.stat().st_mtime_ns)


@cache
def _hash(file: Path, _changed: int) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()[:12]
