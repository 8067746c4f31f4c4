"""The connections of one process: how many there may be, and how long one may keep us waiting.

Whoever opens a connection and then says nothing costs a descriptor, and a process has few of them. So there
is room for `most`; whoever comes when it is full takes the place of the one that has kept us waiting longest,
and only where all are being answered is turned away.
"""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import Iterator
from enum import IntEnum
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

# Beside its connections, a process has its database, files on their way in, and what it is just accepting.
RESERVED = 80
MOST = 1_000
WANTED_DESCRIPTORS = 4_096
# Connections that are taken in at once: more of them would pass the limit before anybody could make room.
AT_ONCE = 8
# In the system's hands until we take them.
QUEUED = 512


class Waits(IntEnum):
    """What a connection keeps us waiting for; who is given up first has the smallest number."""

    GREETING = 0
    HEAD = 1
    BODY = 2
    NEXT = 3
    READING = 4
    NOTHING = 5


# For an answer that is not fetched, a phone in another room is given longer.
PATIENCE_S = {Waits.GREETING: 10.0, Waits.HEAD: 10.0, Waits.BODY: 20.0, Waits.NEXT: 90.0, Waits.READING: 60.0}
# A body may take long where it is long, but not for ever: a bad line in a workshop brings ten times that.
SLOWEST_BODY_BYTES_S = 2_000

_LAST_WORDS = {
    408: b"HTTP/1.1 408 Request Timeout\r\n",
    503: b"HTTP/1.1 503 Service Unavailable\r\nRetry-After: 2\r\n",
}
_SAID = {
    408: b"That took too long to arrive. Nothing was changed: send it again.\n",
    503: b"Too many connections just now. Nothing was changed: try again in a moment.\n",
}


def raise_descriptors() -> int:
    """Asks the system for as many descriptors as help, and returns how many there are now."""
    try:
        import resource
    except ImportError:
        # Windows counts in ten thousands, and needs no asking.
        return WANTED_DESCRIPTORS
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = WANTED_DESCRIPTORS if hard == resource.RLIM_INFINITY else min(WANTED_DESCRIPTORS, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        try:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
        except (OSError, ValueError):
            return soft
        return wanted
    return WANTED_DESCRIPTORS if soft == resource.RLIM_INFINITY else soft


def most_of(descriptors: int) -> int:
    """How many connections there is room for."""
    return max(8, min(MOST, descriptors - RESERVED))


class Room:
    """Who is connected, the one that was heard of longest ago first."""

    def __init__(self, most: int, tls: ssl.SSLContext | None) -> None:
        self.most, self.tls = most, tls
        self._callers: dict[Caller, None] = {}

    def enter(self, caller: Caller) -> bool:
        """Whether there is room, or could be made."""
        if len(self._callers) >= self.most:
            longest = self._longest_waiting()
            if longest is None:
                return False
            longest.turn_away(503)
        self._callers[caller] = None
        return True

    def leave(self, caller: Caller) -> None:
        self._callers.pop(caller, None)

    def heard(self, caller: Caller) -> None:
        """The caller did what was waited for: it goes to the end of the row."""
        if caller in self._callers:
            del self._callers[caller]
            self._callers[caller] = None

    def sweep(self, now: float) -> None:
        """Parts with everyone who was given enough time. Called every second or so."""
        for caller in list(self._callers):
            caller.judge(now)

    def close(self) -> None:
        """Before a stop: nobody waits for those who have not even greeted."""
        for caller in [one for one in self._callers if one.waits_for in (Waits.GREETING, Waits.HEAD)]:
            caller.turn_away(0)

    def _longest_waiting(self) -> Caller | None:
        return next(self._by_use(), None)

    def _by_use(self) -> Iterator[Caller]:
        for wait in Waits:
            if wait is not Waits.NOTHING:
                yield from (one for one in self._callers if one.waits_for is wait)


class Caller(H11Protocol):
    """One connection, from before its TLS greeting to its end."""

    def __init__(self, *told: Any, room: Room, **more: Any) -> None:
        super().__init__(*told, **more)
        self._room = room
        self._line: asyncio.Transport | None = None
        self._greeting: asyncio.Task[None] | None = None
        self._early = bytearray()
        self._since = self.loop.time()
        self._waited_for = Waits.GREETING
        self._body_began, self._body_bytes = 0.0, 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        self._line = transport
        if not self._room.enter(self):
            self.turn_away(503)
        elif self._room.tls is None:
            super().connection_made(transport)
            self._note()
        else:
            self._greeting = self.loop.create_task(self._greet(transport, self._room.tls))

    async def _greet(self, line: asyncio.Transport, tls: ssl.SSLContext) -> None:
        try:
            covered = await self.loop.start_tls(
                line, self, tls, server_side=True, ssl_handshake_timeout=PATIENCE_S[Waits.GREETING]
            )
        except (OSError, asyncio.CancelledError):
            # Not TLS, a certificate that the caller does not take, or nothing at all.
            self._gone()
            return
        if covered is None or covered.is_closing():
            self._gone()
            return
        super().connection_made(covered)
        self._note()
        if self._early:
            early, self._early = bytes(self._early), bytearray()
            self.data_received(early)

    def data_received(self, data: bytes) -> None:
        if self.transport is None:
            # What comes with the last word of the greeting is here before we are told that it is over.
            self._early += data
            return
        before = self.cycle
        super().data_received(data)
        if self.cycle is not before:
            self._body_began, self._body_bytes = self.loop.time(), 0
        self._body_bytes += len(data)
        self._note(came=True)

    def on_response_complete(self) -> None:
        answered = self.cycle
        super().on_response_complete()
        # The server keeps it until the next one comes, and with it all that the answer was made from.
        answered.scope = {}  # type: ignore[typeddict-item]
        self._note()

    def pause_writing(self) -> None:
        super().pause_writing()
        self._note()

    def resume_writing(self) -> None:
        super().resume_writing()
        self._note()

    def connection_lost(self, exc: Exception | None) -> None:
        self._gone()
        if self.transport is not None:
            super().connection_lost(exc)

    @property
    def waits_for(self) -> Waits:
        """What we wait for, as it is now."""
        if self.transport is None:
            return Waits.GREETING
        if self.flow.write_paused:
            return Waits.READING
        if self.cycle is None:
            return Waits.HEAD
        if self.conn.their_state is h11.SEND_BODY and not self.flow.read_paused:
            # Also where it was answered before it was all here, with a refusal.
            return Waits.BODY
        if self.cycle.response_complete:
            # Something of the next one is here, but not all of it.
            return Waits.HEAD if self._heard_some_of_the_next else Waits.NEXT
        return Waits.NOTHING

    @property
    def _heard_some_of_the_next(self) -> bool:
        return bool(self.conn.trailing_data[0])

    def judge(self, now: float) -> None:
        """Turns the caller away where it was waited for long enough."""
        waits = self._note()
        if self.transport is not None and self.transport.is_closing():
            # It was told to close, but what is left to say is not fetched.
            if now - self._since > PATIENCE_S[Waits.READING]:
                self._cut()
            return
        late = waits is not Waits.NOTHING and now - self._since > PATIENCE_S[waits]
        if waits is Waits.BODY:
            late = (
                late or now - self._body_began > PATIENCE_S[waits] + self._body_bytes / SLOWEST_BODY_BYTES_S
            )
        if late:
            self.turn_away(408 if waits in (Waits.HEAD, Waits.BODY) and self._began else 0)

    @property
    def _began(self) -> bool:
        """Whether any of a request is here: a browser that only keeps a line open is told nothing."""
        return self.cycle is not None or bool(self.conn.trailing_data[0])

    def turn_away(self, status: int) -> None:
        """A last word where one can be said, and the end of the connection."""
        line = self._line if self._room.tls is None else self.transport
        if status and line is not None and not self._is_answered and not line.is_closing():
            said = _SAID[status]
            head = (
                b"Content-Type: text/plain; charset=utf-8\r\nConnection: close\r\nContent-Length: %d\r\n\r\n"
            )
            line.write(_LAST_WORDS[status] + head % len(said) + said)
        self._cut()

    @property
    def _is_answered(self) -> bool:
        """Whether an answer to what we wait for is on its way, or was given already."""
        if self.cycle is None or not self.cycle.response_started:
            return False
        return not self.cycle.response_complete or self.conn.their_state is h11.SEND_BODY

    def _cut(self) -> None:
        self._gone()
        if self._greeting is not None and not self._greeting.done():
            self._greeting.cancel()
        if self._line is not None:
            self._line.abort()

    def _gone(self) -> None:
        self._room.leave(self)

    def _note(self, came: bool = False) -> Waits:
        """Begins to count anew where we wait for something else now, or where some of a body came."""
        waits = self.waits_for
        if waits is not self._waited_for or (came and waits is Waits.BODY):
            self._waited_for, self._since = waits, self.loop.time()
            if waits is not Waits.HEAD:
                self._room.heard(self)
        return waits
