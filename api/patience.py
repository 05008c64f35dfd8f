"""Patience with slow clients: how long a connection may wait for its own client, and which one makes room for others.

A client that dribbles its request, says nothing, or never reads its answer costs the service a connection each. Left
alone, some hundred of them use up what one process may open, and nobody else is let in.
"""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol  # noqa: TID253, loaded by uvicorn alone

HEAD_SECONDS = 20.0
"""A browser sends the head of a request at once; 20 seconds allow for a poor line."""
BODY_SECONDS = 300.0
"""Long enough for the largest upload by a telephone's connection."""

UNREAD_SECONDS = 60.0
"""How long an answer may lie unread: a line that stalls for a minute is taken for broken."""
MOST_CONNECTIONS = 256
"""Beyond this the connection that has waited longest for its client makes room; well under what a process may open."""

_LOOK_SECONDS = 5.0
"""Between two looks at a connection; short beside the shortest of the waits above."""


class PatientProtocol(H11Protocol):
    """HTTP/1.1 that lets go of clients who hold a connection and do not get on."""

    since: float
    """Moment from which the client's next move has been waited for."""

    _look_again: asyncio.TimerHandle

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection in, and let one go where there are too many."""
        super().connection_made(transport)
        self._service_is_done()
        self._look_again = self.loop.call_later(_LOOK_SECONDS, self._look)
        if len(self.connections) > MOST_CONNECTIONS:
            waiting = [one for one in self.connections if isinstance(one, PatientProtocol) and one.patience is not None]
            min(waiting, key=lambda one: one.since).let_go()

    def connection_lost(self, exc: Exception | None) -> None:
        """Look after it no longer."""
        self._look_again.cancel()
        super().connection_lost(exc)

    def on_response_complete(self) -> None:
        """From here on the next request is waited for."""
        self._service_is_done()
        super().on_response_complete()

    def pause_writing(self) -> None:
        """From here on it is waited for that the client reads."""
        self._service_is_done()
        super().pause_writing()

    @property
    def patience(self) -> float | None:
        """Seconds that the client may take for its next move; None while the service itself is at work."""
        if self.flow.write_paused:
            return UNREAD_SECONDS
        if self.cycle is None or self.cycle.response_complete:
            return HEAD_SECONDS
        return BODY_SECONDS if self.cycle.more_body else None

    def let_go(self) -> None:
        """Drop the connection with whatever was still to be sent."""
        self.connections.discard(self)  # at once, so that the same one is not chosen again
        self.transport.abort()

    def _service_is_done(self) -> None:
        self.since = self.loop.time()

    def _look(self) -> None:
        patience = self.patience
        if patience is not None and self.loop.time() - self.since > patience:
            self.let_go()
        else:
            self._look_again = self.loop.call_later(_LOOK_SECONDS, self._look)
