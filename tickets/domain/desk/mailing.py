"""What a shop tells of its mail: the server, addresses, a user's name and secret, each read from what was typed."""

from __future__ import annotations

import re
from typing import Any

from tickets.domain import names
from tickets.domain.refusal import Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _

MOST_RECEIVERS = 10
LONGEST = 254
"""Characters of an address or of a host, as RFC 5321 and RFC 1035 bound them."""
SECURED: tuple[tuple[str, str], ...] = (
    ("starttls", N_("STARTTLS (usual, with port 587)")),
    ("tls", N_("TLS from the start (usual with port 465)")),
    ("none", N_("not at all: only for a server in the shop that asks for no password")),
)
_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?|[0-9A-Fa-f:]*:[0-9A-Fa-f:.]+")
_ADDRESS = re.compile(r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*@[A-Za-z0-9.-]+[A-Za-z0-9]")


def host(name: str, given: Any) -> str:
    """The name or number of a server; empty: none. Raises Refused."""
    said = str(given).strip()
    if said and (len(said) > LONGEST or not _HOST.fullmatch(said)):
        raise Refused(_("A server’s name alone, such as mail.example.com: no port, no http://."), name)
    return said


def _address(name: str, said: str) -> str:
    if len(said) > LONGEST or not _ADDRESS.fullmatch(said):
        told = _("“{address}” is not a mail address. Write it without accents, such as office@example.com.")
        raise Refused(told.format(address=names.one_line(said)[:60]), name)
    return said


def sender(name: str, given: Any) -> str:
    """One address; empty: none. Raises Refused."""
    said = str(given).strip()
    return _address(name, said) if said else ""


def receivers(name: str, given: Any) -> str:
    """Addresses, with a comma between; empty: none. Raises Refused."""
    found = [_address(name, one) for one in re.split(r"[\s,;]+", str(given).strip()) if one]
    found = list(dict.fromkeys(found))
    if len(found) > MOST_RECEIVERS:
        raise Refused(_("At most {most} addresses: give one that passes it on.").format(most=MOST_RECEIVERS), name)
    return ", ".join(found)


def user(name: str, given: Any) -> str:
    """The name by which the server knows the shop; empty: it asks for none. Raises Refused."""
    return _plain(name, str(given).strip())


def secret(name: str, given: Any) -> str:
    """The password for the server, as it was typed. Raises Refused."""
    return _plain(name, str(given))


def _plain(name: str, said: str) -> str:
    if len(said) > LONGEST or not (said.isascii() and said.isprintable()):
        told = _("Plain letters, digits and signs without accents, at most {most}: others cannot be sent to a server.")
        raise Refused(told.format(most=LONGEST), name)
    return said
