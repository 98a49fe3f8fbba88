"""The addresses under which phones reach this shop."""

from __future__ import annotations

import os
import socket
import threading
import time
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlite_utils import Database

from tickets.domain.papers import ticket
from tickets.paper.qr import QUIET_ZONE, symbol
from tickets.store.settings import setting

_PATIENCE = 1.5
"""Seconds to wait for the name service when it is asked whether a host name is this machine's."""


def lan_address() -> str | None:
    """This machine's IPv4 address on the network that leads out; None where it is on none. Nothing is sent."""
    for far in ("192.0.2.1", "10.255.255.255", "192.168.255.255"):  # RFC 5737 and private ranges: no host is asked
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((far, 9))
                found = str(probe.getsockname()[0])
            except OSError:
                continue
        if not found.startswith(("127.", "0.")):
            return found
    return None


def own_addresses() -> set[str]:
    """This machine's IP addresses and host names, as far as it knows them itself; asked for once a minute."""
    return set(_own_addresses(int(time.monotonic() // 60)))


@lru_cache(maxsize=1)
def _own_addresses(_minute: int) -> frozenset[str]:
    name = socket.gethostname().lower()
    found = {name, f"{name.split('.')[0]}.local"}
    if (lan := lan_address()) is not None:
        found.add(lan)
    found |= _addresses_of(name)
    found |= _of_interfaces()
    return frozenset(found)


def _addresses_of(name: str) -> set[str]:
    """The IP addresses of a name, asked for in a thread of its own since a name service may hang."""
    found: set[str] = set()

    def ask() -> None:
        try:
            found.update(str(row[4][0]) for row in socket.getaddrinfo(name, None))
        except (OSError, UnicodeError):
            pass

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    asking.join(_PATIENCE)
    return set(found)


def _of_interfaces() -> set[str]:
    """The IPv4 addresses of the network interfaces, where the system tells (Linux)."""
    try:
        import fcntl
    except ImportError:
        return set()
    found: set[str] = set()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for _number, name in socket.if_nameindex():
            try:
                row = fcntl.ioctl(probe.fileno(), 0x8915, name.encode()[:15].ljust(256, b"\0"))  # SIOCGIFADDR
            except OSError:
                continue
            found.add(socket.inet_ntoa(row[20:24]))
    return found


def known_addresses(address: str) -> set[str]:
    """As `own_addresses`, with the host of `address` too when its name leads to this machine."""
    own = own_addresses()
    host = urlsplit(address).hostname or ""
    if host and host not in own and _addresses_of(host) & own:
        own.add(host)
    return own


def address_for_paper(db: Database, anyway: bool) -> tuple[str, tuple[str, ...]]:
    """The address to print, and warnings. Raises Refused; the demo prints its own, loopback too."""
    address = str(setting(db, "address"))
    if address and ticket.is_loopback(address) and setting(db, "demo"):
        return address, ()
    text, warning = ticket.printable_address(address or None, known_addresses(address) if address else (), anyway)
    return text, (warning,) if warning else ()


def machine_zone() -> str:
    """The time zone that this machine is set to, by its IANA name; empty: it does not say one that we know."""
    named = [os.environ.get("TZ", "").lstrip(":")]
    with suppress(OSError, ValueError):
        named.append(os.path.realpath("/etc/localtime").partition("zoneinfo/")[2])
    with suppress(OSError, UnicodeError):
        named.append(Path("/etc/timezone").read_text("utf-8").strip())
    for name in named:
        with suppress(ZoneInfoNotFoundError, ValueError, OSError):
            if name:
                return ZoneInfo(name).key
    return ""


class QrDrawing(NamedTuple):
    """The QR code of a text to be drawn: the side of the square with its quiet zone, in modules, and the path of what
    is dark (SVG 1.1, 8.3)."""

    side: int
    path: str


def qr_drawing(text: str) -> QrDrawing:
    """The QR code of an address, for a page."""
    made = symbol(text)
    path = "".join(f"M{first + QUIET_ZONE} {row + QUIET_ZONE}h{n}v1h-{n}z" for row, first, n in made.runs)
    return QrDrawing(made.side + 2 * QUIET_ZONE, path)


def terminal_qr(text: str) -> str:
    """The QR code of a text for a terminal: black on white whatever its colours, two modules a character."""
    made = symbol(text)
    side = made.side + 2 * QUIET_ZONE
    dark = {
        (row + QUIET_ZONE, column)
        for row, first, number in made.runs
        for column in range(first + QUIET_ZONE, first + QUIET_ZONE + number)
    }
    marks = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
    lines = []
    for row in range(0, side, 2):
        cells = (marks[((row, column) in dark, (row + 1, column) in dark)] for column in range(side))
        lines.append(f"\x1b[30;107m{''.join(cells)}\x1b[0m")
    return "\n".join(lines)
