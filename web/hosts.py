"""By which names a server answers: a page of somebody else's, whose name was made to lead to this machine (DNS
rebinding), would otherwise be taken for a page of ours by a browser in the shop."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from urllib.parse import urlsplit

from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _
from tickets.queries.addresses import own_addresses


class NotOurName(Refused):
    """A request for a name that is not this server's (RFC 9110: 421, misdirected)."""

    status = 421


class Hosts:
    """The names of one server: numbers, this machine's own names, that of the address in the codes, and those given."""

    def __init__(self, names: Iterable[str]) -> None:
        self._names = frozenset(map(_tidy, names)) | {"localhost"}
        self._known: set[tuple[str, str]] = set()

    def check(self, sent: str, address: str) -> None:
        """Refuses a `Host` that is no name of ours. `address`: the one that the codes carry."""
        if (sent, address) in self._known:
            return
        try:
            host = _tidy(urlsplit(f"//{sent}").hostname or "")
            ours = _tidy(urlsplit(address).hostname or "")
        except ValueError:
            host = ours = ""
        if not host or not (host in self._names or host == ours or _is_number(host) or host in self._own()):
            message = _("This server is not called {name}. At its machine: tickets serve --host-name {name}")
            raise NotOurName(message.format(name=(host or sent)[:60]))
        if len(self._known) < 100:
            self._known.add((sent, address))

    def _own(self) -> set[str]:
        return {_tidy(one) for one in own_addresses()}


def _tidy(host: str) -> str:
    return host.strip().rstrip(".").casefold()


def _is_number(host: str) -> bool:
    """True for an address in numbers: nobody can make that lead elsewhere."""
    try:
        ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return False
    return True
