"""How many connections the server keeps, and which go first when there are too many: those that said nothing longest.

waitress drops what was idle for `channel_timeout`, but takes no new connection once it has as many as it may, and never
ends one whose reader has stopped reading. Both would let a few hundred sockets keep every phone of a shop waiting.
"""

from __future__ import annotations

import time
from typing import Any

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError

LIMITS: dict[str, Any] = {
    "threads": 12,
    "connection_limit": 500,
    "channel_timeout": 30,
    "cleanup_interval": 5,
    "asyncore_use_poll": True,
    "outbuf_high_watermark": 4_000_000_000,
    "max_request_header_size": 65_536,
}
"""Fit for a shop: 30 phones keep 6 to 8 connections each; one that says nothing for 30 s is dropped; an answer that its
reader does not take goes to a file of the system's, and holds no thread (judgement, tried in tests/test_door)."""

SPARE = 50
"""Connections that are kept free for whoever comes next."""
EVERY = 0.25
"""Seconds after which it is looked at again, at the earliest."""


class Head(HTTPRequestParser):  # type: ignore[misc,unused-ignore]
    """The head of a request. What Python cannot read of it (a length of thousands of digits, `http://[`) is answered
    like all else that is none: waitress would end the connection without a word, and log an error of its own."""

    def parse_header(self, header_plus: bytes) -> None:
        """Reads it. Raises what waitress answers with 400 or 501."""
        try:
            super().parse_header(header_plus)
        except ValueError as error:
            raise ParsingError("The request cannot be read") from error


class Channel(HTTPChannel):  # type: ignore[misc,unused-ignore]
    """A connection, each request of which begins with such a head."""

    parser_class = Head


def watch(server: Any) -> None:
    """Has the server (waitress, one socket or several) look after its connections as it goes on, and answer whatever
    comes over them."""
    each = [one for one in _map(server).values() if hasattr(one, "active_channels")]
    for one in each:
        one.readable = _Watched(one)
        one.channel_class = Channel


def _map(server: Any) -> dict[int, Any]:
    found: dict[int, Any] = server.map if hasattr(server, "map") else server._map
    return found


class _Watched:
    """Stands for the server's question whether it takes a new connection, which it asks itself in every round."""

    def __init__(self, server: Any) -> None:
        self._server, self._next = server, 0.0
        self._asked = server.readable
        self._silent: dict[Any, float] = {}

    def __call__(self) -> bool:
        now, one = time.time(), self._server
        crowded = len(one._map) >= one.adj.connection_limit - SPARE
        if now >= self._next and (crowded or now >= self._next + one.adj.cleanup_interval):
            self._next = now + EVERY
            one.trigger.pull_trigger(self._drop)  # between two rounds: in one, the sockets are being asked
        return bool(self._asked())

    def _drop(self) -> None:
        """Ends what was silent too long, and where there are too many, those that were silent longest; never one whose
        request is being answered, or was since it was last looked at."""
        one, now, before = self._server, time.time(), self._silent
        self._silent = {
            channel: channel.last_activity for channel in one.active_channels.values() if not channel.requests
        }
        silent = [channel for channel, at in self._silent.items() if before.get(channel) == at]
        silent.sort(key=lambda channel: self._silent[channel])
        too_many = len(one._map) - (one.adj.connection_limit - 2 * SPARE)
        for number, channel in enumerate(silent):
            if number >= too_many and self._silent[channel] >= now - one.adj.channel_timeout:
                break
            channel.handle_close()
            del self._silent[channel]
