"""What a ticket says, as it is kept and as it is drawn: every value is text already said to the reader.

What was printed is stored as `to_dict`, so that a reprint of an old ticket says the same. Nothing here draws.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, TypeAlias
from urllib.parse import urlsplit

from tickets.records.code import LENGTH
from tickets.records.refusal import Fault, Refused
from tickets.words import gettext as _

LONGEST_QR_TEXT = 46
"""Bytes that fit a QR code of version 4 at level Q in byte mode: ISO/IEC 18004, table of data capacities."""


# -- tickets --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenTag:
    """The label on a frame. `mesh` as `230/in · 48 µm`; it leads with the painted mark, which outlives every label."""

    code: str
    address: str
    mark: str = ""
    mesh: str = ""
    frame: str = ""
    shop: str = ""
    demo: bool = False
    printed_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceTag:
    """The label on a rack, cart, cabinet or press; `kind` is that word, said."""

    code: str
    address: str
    name: str
    kind: str = ""
    shop: str = ""
    demo: bool = False
    printed_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BucketTag:
    """The label on a mixed lot: what it is, when it was mixed, until when it is good, and its cautions."""

    code: str
    address: str
    kind: str
    product: str = ""
    lot: str = ""
    mixed_at: str = ""
    good_until: str = ""
    cautions: tuple[str, ...] = ()
    shop: str = ""
    demo: bool = False
    printed_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GarmentRow:
    """One garment of the order."""

    style: str
    colour: str = ""
    pieces: str = ""
    fibre: str = ""
    lot: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AssignedScreen:
    """A screen that carries the separation when the ticket is printed."""

    code: str
    mark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """One line of the print order. `separation` is empty where nothing is printed (flash, cool)."""

    order: str
    does: str
    separation: str = ""
    colour: str = ""
    ink: str = ""
    series: str = ""
    reference: str = ""
    recipe: str = ""
    coverage: str = ""
    mesh: str = ""
    strokes: str = ""
    squeegee: str = ""
    flash: str = ""
    off_contact: str = ""
    halftone: str = ""
    note: str = ""
    screens: tuple[AssignedScreen, ...] = ()

    @property
    def prints(self) -> bool:
        """True when a screen hangs at this station."""
        return bool(self.separation)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementSheet:
    """One printing position with its print order and its dryer."""

    name: str
    size: str = ""
    measured_from: str = ""
    platen: str = ""
    art: str = ""
    dryer: str = ""
    stations: tuple[StationRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourwayRow:
    """What differs on one garment: pairs of a separation and the ink it takes there."""

    garment: str
    inks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTicket:
    """The paper that travels with an order.

    `where_from` says where the settings come from (`job sheet`, `approved run 12, 3 Mar`); `picture` is the file of
    the art, absolute or beside the shop's other pictures.
    """

    code: str
    address: str
    title: str
    customer: str = ""
    reference: str = ""
    due: str = ""
    version: str = ""
    repeats: str = ""
    art: str = ""
    revision: str = ""
    picture: str | None = None
    garments: tuple[GarmentRow, ...] = ()
    placements: tuple[PlacementSheet, ...] = ()
    colourways: tuple[ColourwayRow, ...] = ()
    cautions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    where_from: str = ""
    shop: str = ""
    demo: bool = False
    printed_on: str = ""


Tag: TypeAlias = ScreenTag | PlaceTag | BucketTag
Ticket: TypeAlias = Tag | JobTicket

_KINDS: dict[str, type[Any]] = {"screen": ScreenTag, "place": PlaceTag, "bucket": BucketTag, "job": JobTicket}
_PARTS: dict[tuple[str, str], type[Any]] = {
    ("JobTicket", "garments"): GarmentRow,
    ("JobTicket", "placements"): PlacementSheet,
    ("JobTicket", "colourways"): ColourwayRow,
    ("PlacementSheet", "stations"): StationRow,
    ("StationRow", "screens"): AssignedScreen,
}


def to_dict(ticket: Ticket) -> dict[str, Any]:
    """`ticket` for JSON; the key `ticket` says which kind it is (screen, place, bucket, job)."""
    kind = next(name for name, cls in _KINDS.items() if type(ticket) is cls)
    listed: dict[str, Any] = _lists(asdict(ticket))
    return {"ticket": kind, **listed}


def from_dict(data: Mapping[str, Any]) -> Ticket:
    """The ticket that `to_dict` wrote. Keys that this version doesn't know are left aside: old paper stays readable."""
    ticket: Ticket = _build(_KINDS[data["ticket"]], data)
    return ticket


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(part) for key, part in value.items()}
    return [_lists(part) for part in value] if isinstance(value, tuple) else value


def _tuples(value: Any) -> Any:
    return tuple(_tuples(part) for part in value) if isinstance(value, list | tuple) else value


def _build(cls: type[Any], data: Mapping[str, Any]) -> Any:
    values: dict[str, Any] = {}
    for field in fields(cls):
        if field.name in data:
            part = _PARTS.get((cls.__name__, field.name))
            given = data[field.name]
            values[field.name] = tuple(_build(part, item) for item in given) if part else _tuples(given)
    return cls(**values)


# -- the address in the QR code -------------------------------------------------------------------------------------


def qr_text(address: str, code: str) -> str:
    """All that a QR code holds: `http://192.168.1.20:8600/t/7K32XM`."""
    return f"{address}/t/{code}"


LONGEST_ADDRESS = LONGEST_QR_TEXT - len(qr_text("", "0" * LENGTH))
"""Bytes left for the address."""


@dataclass(frozen=True, slots=True)
class AddressFault:
    """What is wrong with printing an address. `refuses`: not printed; `anyway`: printed when somebody insists."""

    message: str
    refuses: bool
    anyway: bool = False


_LABEL = re.compile(r"[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?")


def clean_address(text: str) -> str:
    """The address as it is kept: scheme and host in lower case, no trailing slash, no port that goes without saying.

    A lower-case scheme, since some phones' cameras do not open `HTTP://` (field reports, 2021 to 2025).
    Raises Refused when it is no `http://` or `https://` address of a host and a port alone.
    """
    text = text.strip()
    example = _("Type it as http://192.168.1.20:8600, with nothing after the port.")
    if not text.isascii() or re.search(r"[\s\\\x00-\x1f\x7f]", text):
        raise Refused(_("An address has plain letters, digits, dots and hyphens only.") + " " + example, "address")
    try:
        parts = urlsplit(text)
        port = parts.port
    except ValueError:
        raise Refused(_("“{text}” is no address.").format(text=text[:60]) + " " + example, "address") from None
    if parts.scheme not in ("http", "https") or "://" not in text:
        raise Refused(_("An address begins with http:// or https://.") + " " + example, "address")
    if "@" in parts.netloc or parts.path not in ("", "/") or "?" in text or "#" in text:
        raise Refused(_("An address is a host and a port, nothing more.") + " " + example, "address")
    host = _clean_host(parts.hostname or "", bracketed="[" in parts.netloc)
    if not host or port == 0 or parts.netloc.endswith(":"):
        raise Refused(_("“{text}” is no address.").format(text=text[:60]) + " " + example, "address")
    shown = "" if port in (None, {"http": 80, "https": 443}[parts.scheme]) else f":{port}"
    return f"{parts.scheme}://{host}{shown}"


def _clean_host(host: str, bracketed: bool) -> str:
    """`host` in lower case, an IPv6 address in brackets; empty when it is none."""
    if bracketed:
        try:
            return f"[{ipaddress.IPv6Address(host).compressed}]" if "%" not in host else ""
        except ValueError:
            return ""
    labels = host.lower().removesuffix(".").split(".")
    if labels[-1].isdigit() or labels[-1].startswith("0x"):  # browsers read these as IPv4 in any shortened form
        try:
            return str(ipaddress.IPv4Address(host))
        except ValueError:
            return ""
    good = all(_LABEL.fullmatch(label) for label in labels) and sum(map(len, labels)) + len(labels) <= 254
    return ".".join(labels) if good else ""


def host_of(address: str) -> str:
    """The host of a clean address, without brackets."""
    return urlsplit(address).hostname or ""


def is_loopback(address: str) -> bool:
    """True when a phone that opens `address` would reach itself, or nothing."""
    host = host_of(address)
    try:
        number = ipaddress.ip_address(host)
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")
    if isinstance(number, ipaddress.IPv6Address) and number.ipv4_mapped:
        number = number.ipv4_mapped
    return number.is_loopback or number.is_unspecified


def address_fault(address: str | None, own_addresses: Collection[str]) -> AddressFault | None:
    """What speaks against printing `address` (clean, or None where none is set) into QR codes; None: nothing.

    `own_addresses`: this machine's IP addresses and host names.
    """
    if not address:
        return AddressFault(
            _("No address is set for the QR codes. Set it with: tickets address http://192.168.1.20:8600"), True, True
        )
    if len(address.encode()) > LONGEST_ADDRESS:
        message = _("The address {address} is too long for a QR code that a phone reads off a wet frame: at most {n} "
                    "characters. An IP address, or a shorter name, would do.")
        return AddressFault(message.format(address=address, n=LONGEST_ADDRESS), True)
    if is_loopback(address):
        message = _("{address} leads every phone to itself. Set this machine's address on the shop's network with: "
                    "tickets address http://192.168.1.20:8600")
        return AddressFault(message.format(address=address), True, True)
    if _folded(host_of(address)) not in {_folded(own) for own in own_addresses}:
        message = _("{address} is not one of this machine's addresses: open it on a phone before you hang the tickets.")
        return AddressFault(message.format(address=address), False)
    if host_of(address).endswith(".local"):
        message = _("Some phones don't find names that end in .local: {address}. A fixed IP address is surer.")
        return AddressFault(message.format(address=address), False)
    return None


def _folded(host: str) -> str:
    host = host.strip("[]").lower().removesuffix(".")
    try:
        return ipaddress.ip_address(host.split("%")[0]).compressed
    except ValueError:
        return host


def printable_address(
    address: str | None, own_addresses: Collection[str], anyway: bool = False, otherwise: str = "http://127.0.0.1:8600"
) -> tuple[str, str]:
    """The address to print, and a warning (empty: none). Raises Refused; `anyway` lets an unset one or loopback pass.

    `otherwise` is printed where none is set and somebody insists.
    """
    fault = address_fault(address, own_addresses)
    if fault and fault.refuses and not (anyway and fault.anyway):
        hint = " " + _("(--anyway prints all the same.)") if fault.anyway else ""
        raise Refused([Fault("address", fault.message + hint)])
    return address or otherwise, fault.message if fault else ""
