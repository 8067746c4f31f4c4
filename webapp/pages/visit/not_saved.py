"""What is said when the database cannot do its work: nothing typed is lost, and it can be sent again."""

from __future__ import annotations

import logging
from dataclasses import dataclass

from fastapi import HTTPException, Request
from fastapi.responses import Response
from starlette.requests import ClientDisconnect

from webapp.pages.visit.forms import read_form
from webapp.store.trouble import trouble_of
from webapp.web.state import state

LOG = logging.getLogger("benchside")
# Set by whoever made the form; the player never saw them.
HIDDEN = frozenset({"form_id", "seen", "corrects", "version"})


@dataclass(frozen=True)
class NotSavedPage:
    """`pairs` is the whole form, to be sent again; `shown` what the player typed or chose."""

    title: str
    sentence: str
    action: str
    pairs: tuple[tuple[str, str], ...]

    @property
    def shown(self) -> tuple[tuple[str, str], ...]:
        return tuple(
            (name.replace("_", " "), words)
            for name, words in self.pairs
            if name not in HIDDEN and words.strip()
        )


async def on_trouble(request: Request, problem: Exception) -> Response:
    """507 where the disk is full, else 503; whatever is not the database's trouble goes on as a fault."""
    trouble = trouble_of(problem)
    if trouble is None:
        raise problem
    LOG.error("no database", extra={"why": trouble.key}, exc_info=problem)
    status = 507 if trouble.full else 503
    page = NotSavedPage(trouble.title, trouble.sentence, request.url.path, await _typed(request))
    answer = state(request).templates.TemplateResponse(
        request, "pages/visit/not_saved.html", {"page": page}, status_code=status
    )
    answer.headers["Retry-After"] = "5"
    # The address stays that of the form.
    answer.headers["HX-Push-Url"] = "false"
    return answer


async def _typed(request: Request) -> tuple[tuple[str, str], ...]:
    """The form that was sent. It may not have been read yet: whose bench it is, is asked first."""
    if request.method != "POST":
        return ()
    if not hasattr(request.state, "typed"):
        try:
            await read_form(request)
        except (HTTPException, ClientDisconnect):
            return ()
    return tuple(request.state.typed)
