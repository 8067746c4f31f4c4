"""A page that is kept: its bytes, and the same packed, so that it is packed once and not with each answer."""

from __future__ import annotations

import gzip
from dataclasses import dataclass

from starlette.datastructures import Headers
from starlette.responses import HTMLResponse

# The tightest: it is done once.
LEVEL = 9


@dataclass(frozen=True)
class Packed:
    """The words of a page, plain and as gzip."""

    plain: bytes
    packed: bytes

    @classmethod
    def of(cls, text: str) -> Packed:
        plain = text.encode()
        return cls(plain, gzip.compress(plain, LEVEL, mtime=0))

    def answer(self, headers: Headers) -> HTMLResponse:
        """As the browser that sent these headers takes it."""
        if "gzip" not in headers.get("accept-encoding", ""):
            return HTMLResponse(self.plain, headers={"Vary": "Accept-Encoding"})
        told = {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"}
        return HTMLResponse(self.packed, headers=told)
