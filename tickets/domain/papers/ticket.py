"""What a ticket says, as it is kept and as it is drawn: every value is text already said to the reader.

What was printed is stored as `to_dict`, so that a reprint of an old ticket says the same. Nothing here draws.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias
from urllib.parse import urlsplit

from tickets.calculator import typed as typed_units
from tickets.calculator.kinds import MIXED_INKS
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import say
from tickets.domain import cautions, setting
from tickets.domain.code import LENGTH
from tickets.domain.jobs import colourways
from tickets.domain.jobs.job import Job, Placement, Station, ink_for
from tickets.domain.papers.kept import LAYOUT, as_data, build
from tickets.domain.refusal import Fault, Refused
from tickets.domain.runs import job_remarks, setup
from tickets.domain.runs.as_run import fibre_said, note_told, target_word
from tickets.domain.separation import Key, folded
from tickets.i18n import gettext as _
from tickets.i18n import ngettext

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
    layout: int = LAYOUT


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
    layout: int = LAYOUT


@dataclass(frozen=True, slots=True, kw_only=True)
class BucketTag:
    """The label on a mixed lot: what it is, when it was mixed, until when it is good, and its cautions. `discarded`:
    when it was, which then stands in the place of what it was good for."""

    code: str
    address: str
    kind: str
    product: str = ""
    lot: str = ""
    mixed_at: str = ""
    good_until: str = ""
    discarded: str = ""
    cautions: tuple[str, ...] = ()
    shop: str = ""
    demo: bool = False
    printed_on: str = ""
    layout: int = LAYOUT


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
    """A screen that serves the separation when the ticket is printed; `stage`: how far it was then, in words."""

    code: str
    mark: str = ""
    stage: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """One line of the print order. `separation` is empty where nothing is printed (flash, cool). `head`, `revolution`
    and `choke` are of the job sheet, whatever a run noted. `changed`: what was set otherwise after an approval;
    `to_meet`: the colour as it was read on the print that this one is compared with; `ways`: what is otherwise on some
    garments; `need`: what its screen is loaded with, and what goes on the garments."""

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
    head: str = ""
    revolution: str = ""
    choke: str = ""
    note: str = ""
    changed: str = ""
    to_meet: str = ""
    need: str = ""
    ways: tuple[str, ...] = ()
    screens: tuple[AssignedScreen, ...] = ()

    @property
    def prints(self) -> bool:
        """True when a screen hangs at this station."""
        return bool(self.separation)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementSheet:
    """One printing position with its print order and its dryer. `more`: what an approved run set beside these;
    `where_from`: where its settings come from (empty: as the ticket says of all); `changed`: what was set otherwise
    after an approval."""

    name: str
    size: str = ""
    measured_from: str = ""
    platen: str = ""
    art: str = ""
    dryer: str = ""
    more: str = ""
    where_from: str = ""
    changed: str = ""
    stations: tuple[StationRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourwayRow:
    """What differs on one garment: pairs of a separation and the ink it takes there."""

    garment: str
    inks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTicket:
    """The paper that travels with an order.

    `where_from` says where the settings come from (`job sheet`, `approved run 12, 3 Mar`), unless each placement says
    it of its own; `picture` is the file of the art, absolute or beside the shop's other pictures. `pages`: how many it
    is to take, where closer type makes it so (0: as many as it takes).
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
    first: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    where_from: str = ""
    shop: str = ""
    demo: bool = False
    printed_on: str = ""
    pages: int = 0
    layout: int = LAYOUT


Tag: TypeAlias = ScreenTag | PlaceTag | BucketTag
Ticket: TypeAlias = Tag | JobTicket

_KINDS: dict[str, type[Any]] = {"screen": ScreenTag, "place": PlaceTag, "bucket": BucketTag, "job": JobTicket}


def to_dict(ticket: Ticket) -> dict[str, Any]:
    """`ticket` for JSON; the key `ticket` says which kind it is (screen, place, bucket, job)."""
    kind = next(name for name, cls in _KINDS.items() if type(ticket) is cls)
    return {"ticket": kind, **as_data(ticket)}


def from_dict(data: Mapping[str, Any]) -> Ticket:
    """The ticket that `to_dict` wrote. Keys that this version doesn't know are left aside: old paper stays readable."""
    ticket: Ticket = build(_KINDS[data["ticket"]], data)
    return ticket


# -- cautions -------------------------------------------------------------------------------------------------------


def job_cautions(job: Job) -> tuple[str, ...]:
    """The cautions of a job in full, as its ticket has them, and whose word counts more."""
    return cautions.texts(caution_keys(job))


def caution_keys(job: Job) -> list[str]:
    """Which cautions a job's risks call for."""
    stations = [station for placement in job.placements for station in placement.stations]
    inks = {station.ink for station in stations if station.prints}
    for way in job.colourways:
        inks |= {change.ink for change in way.inks.values() if change and change.ink}
    keys = cautions.of_inks(inks)
    if "discharge" in inks and any(garment.infant for garment in job.garments):
        keys.append("infants")
    if inks.intersection(MIXED_INKS):
        keys.append("mix")
    return [*keys, "solvent"]


def bucket_cautions(kind: str) -> tuple[str, ...]:
    """The cautions of a mixed lot; `kind` holds the word emulsion, discharge or another ink's."""
    kind = kind.casefold()
    keys = [key for word, key in (("discharge", "discharge"), ("emulsion", "sensitiser")) if word in kind]
    return cautions.texts([*keys, "drain"] if "sensitiser" in keys else [*keys, "mix"])


# -- a job's ticket -------------------------------------------------------------------------------------------------


# whole: each field of the paper once, in its order; nothing is worked out twice
def job_ticket(
    job: Job,
    code: str,
    address: str,
    *,
    shop: str = "",
    demo: bool = False,
    version: str = "",
    due: str = "",
    repeats: str = "",
    printed_on: str = "",
    picture: str | None = None,
    screens: Mapping[Key, Sequence[AssignedScreen]] | None = None,
    remarks: Sequence[str] | None = None,
    first: Sequence[str] = (),
    system: str = "metric",
    where_from: Mapping[str, str] | str = "",
    targets: Mapping[str, Mapping[str, Mapping[str, str]]] | None = None,
    changed: Mapping[tuple[str, int], str] | None = None,
    colours: Mapping[tuple[str, int], str] | None = None,
    notes: Mapping[str, int] | None = None,
    needs: Mapping[tuple[str, int], str] | None = None,
) -> JobTicket:
    """What the ticket of `job` says, sizes and settings as they were typed.

    `screens`: by separation. `due`, `repeats`: as said to people; else the date as ISO text and what the job says.
    `targets`: by placement what its run is to meet, in the fields of the set-up sheet (`setup.onto`); what it says
    otherwise than the job sheet stands in place of what it replaces. `where_from` says where they come from, all of
    them or by placement. `changed`: what was set otherwise after an approval, by placement and print order (0: the
    whole placement). `colours`: the readings to meet, so too. `notes`: in which run each note of a target was noted.
    `needs`: the ink of a print order, in words, by placement and print order.
    `first`: what decides about the garment, which stands on the first page. `remarks`: None for
    those of `job_remarks`, said in the units of `system`.
    """
    data = job.to_dict()
    targets, screens, changed = targets or {}, screens or {}, changed or {}
    sources = where_from if isinstance(where_from, Mapping) else {}
    common = "" if sources else str(where_from) or _("job sheet")
    sheets = []
    for placement, said in zip(job.placements, data["placement"], strict=True):
        rows, ways = [], colourways.at_rows(job, placement)
        otherwise = _otherwise(placement, targets.get(placement.name, {}))
        for station, words in zip(placement.stations, said["station"], strict=True):
            key = job.separation(placement, station).key if station.prints else None
            there = tuple(screens.get(key, ())) if key else ()
            row = _station_row(station, words, there, otherwise[str(station.number)], notes or {})
            place = placement.name, station.number
            row = replace(row, ways=tuple(map(with_signs, ways.get(station.number, ()))))
            row = replace(row, changed=changed.get(place, ""), to_meet=(colours or {}).get(place, ""))
            rows.append(replace(row, need=(needs or {}).get(place, "")))
        height = said.get("height", "")
        art = "" if placement.art == job.art else f"{placement.art.name} {placement.art.revision}"
        whole = otherwise[setup.RUN]
        sheet = PlacementSheet(
            name=placement.name,
            size=with_signs(f"{said['width']} × {height}" if height else _("{width} wide").format(width=said["width"])),
            measured_from=_from_what(whole.get("placement", placement.from_where)),
            platen=whole.get("platen", placement.platen),
            art=art,
            dryer=_dryer({**said.get("dryer", {}), **whole}),
            more=_beside(whole, {"placement", "platen", *_DRYER}),
            where_from=sources.get(placement.name, ""),
            changed=changed.get((placement.name, 0), ""),
            stations=tuple(rows),
        )
        sheets.append(sheet)
    if remarks is None:  # a discharge job's remark on dye lots is one of them
        spoken = [say(remark.reason, system) for remark in job_remarks.remarks(job)]
        remarks = [" ".join(filter(None, (one.sentence, one.advice))) for one in spoken]
    return JobTicket(
        code=code,
        address=address,
        title=job.title,
        customer=job.customer,
        reference=job.reference,
        due=due or job.due.isoformat(),
        version=version,
        repeats=repeats or job.repeats,
        art=job.art.name,
        revision=_("revision {revision}").format(revision=job.art.revision),
        picture=picture,
        garments=tuple(
            GarmentRow(
                style=garment.style,
                colour=garment.colour,
                pieces=str(garment.pieces),
                fibre=fibre_said(garment),
                lot=garment.lot,
                note=_("infants' wear") if garment.infant else "",
            )
            for garment in job.garments
        ),
        placements=tuple(sheets),
        colourways=_colourways(job),
        cautions=job_cautions(job),
        first=tuple(dict.fromkeys(first)),
        remarks=tuple(dict.fromkeys(remarks)),
        where_from=common,
        shop=shop,
        demo=demo,
        printed_on=printed_on,
    )


def as_first(job: Job, ticket: JobTicket) -> JobTicket:
    """The ticket as that of a first order would be: by the job sheet alone, without what earlier prints left."""
    first = job_ticket(job, ticket.code, ticket.address, first=ticket.first, remarks=ticket.remarks)
    return replace(ticket, placements=first.placements)


_SIGNS = (("degC", "°C"), ("degF", "°F"), ("deg", "°"), ("um", "µm"), ("cm2", "cm²"))


def with_signs(text: str) -> str:
    """Units as they are printed: `48 µm` for `48 um`."""
    for typed, sign in _SIGNS:
        text = re.sub(rf"(?<=\d)(\s*){typed}\b", "°" if sign == "°" else rf"\g<1>{sign}", text)
    return text


def _otherwise(placement: Placement, target: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, str]]:
    """What a target says otherwise than the job sheet, by the print order's number and `run`."""
    return {
        key: {name: value for name, value in target.get(key, {}).items() if value != plain.get(name, "")}
        for key, plain in setup.of_job(placement).items()
    }


def _beside(values: Mapping[str, str], told: Collection[str]) -> str:
    """What has no place of its own on the ticket, each with its name."""
    return with_signs(" · ".join(f"{target_word(name)}: {value}" for name, value in values.items() if name not in told))


_BLADE = ("angle", "angle_mark", "edge", "length", "pressure", "speed", "hardness_measured")
_OWN_PLACE = frozenset(
    {"squeegee", "strokes", "flood", "ink", "recipe", "off_contact", "note", "time", "surface", "surface_feel"}
)
"""What a station's row has a place for, beside the blade."""


def _from_what(text: str) -> str:
    """From where a print is measured, as it is after “from”; a distance alone says nothing of its seam."""
    if typed_units.is_quantity(text, "length"):
        return _("a seam that nobody noted, {distance}").format(distance=with_signs(text))
    return re.sub(r"^from\s+", "", text.strip(), flags=re.IGNORECASE)


def _station_row(
    station: Station,
    said: Mapping[str, Any],
    screens: tuple[AssignedScreen, ...],
    otherwise: Mapping[str, str],
    notes: Mapping[str, int],
) -> StationRow:
    """`said`: the station as typed; `otherwise`: what an approved run set in its place, by the set-up sheet's names.
    The order's own note stands beside the one that a run left."""
    does = {"print": _("Print"), "flash": _("Flash"), "cool": _("Cool")}[station.does]
    revolution = _("revolution {n}").format(n=station.revolution) if station.revolution > 1 else ""
    head = _("head asked for: {n}").format(n=station.head) if station.head else ""
    more = _beside(otherwise, _OWN_PLACE.union(_BLADE) if station.prints else _OWN_PLACE)
    note = " · ".join(filter(None, (station.note, note_told(otherwise.get("note", ""), notes), more)))
    if not station.prints:
        held = {**setting.sorted_out({"surface": said.get("surface", "")}), "time": said.get("time", ""), **otherwise}
        time = ", ".join(filter(None, (held.get(name, "") for name in ("time", "surface", "surface_feel"))))
        return StationRow(
            order=str(station.number),
            does=does,
            flash=with_signs(time),
            head=head,
            revolution=revolution,
            note=note,
        )
    mesh, ruling = said["mesh"], said.get("halftone", {})
    choke = _("choke {value}").format(value=station.choke) if station.choke else ""
    flooded = otherwise.get("flood", station.flood)
    flood = _("flood {value}").format(value=flooded) if flooded else ""
    flake = _("flake {value}").format(value=said["flake"]) if "flake" in said else ""
    grams = _("{part} {grams} g")
    recipe = otherwise.get("recipe") or ", ".join(
        grams.format(part=part, grams=f"{g:g}") for part, g in station.recipe.items()
    )
    ink = otherwise.get("ink", "")  # with its colour, series and reference
    return StationRow(
        order=str(station.number),
        does=does,
        separation=station.separation,
        colour="" if ink else station.colour,
        ink=ink or _(station.ink),
        series="" if ink else station.series,
        reference="" if ink else station.reference,
        recipe=with_signs(", ".join(filter(None, (recipe, flake)))),
        coverage=said.get("coverage", ""),
        mesh=with_signs(" · ".join(filter(None, (mesh["count"], mesh.get("thread", ""))))),
        strokes=", ".join(filter(None, (_strokes(otherwise.get("strokes") or str(station.strokes)), flood))),
        squeegee=_squeegee(said.get("squeegee", {}), otherwise),
        off_contact=with_signs(otherwise.get("off_contact") or said.get("off_contact", "")),
        halftone=with_signs(_(" at ").join(filter(None, (ruling.get("ruling", ""), ruling.get("angle", ""))))),
        head=head,
        revolution=revolution,
        choke=choke,
        note=note,
        screens=screens,
    )


def _strokes(text: str) -> str:
    return ngettext("{n} stroke", "{n} strokes", counted(text)).format(n=text) if counted(text) else text


def _squeegee(typed: Mapping[str, str], otherwise: Mapping[str, str]) -> str:
    """The blade: one that a run set takes the place of hardness and edge; the rest stays as it was."""
    named = {
        "hardness": _("{value} Shore A"),
        "angle": "{value}",
        "angle_mark": _("angle by the press {value}"),
        "edge": _("{value} edge"),
        "length": _("{value} long"),
        "pressure": _("pressure {value}"),
        "speed": _("speed {value}"),
        "hardness_measured": _("hardness to reach {value}"),
    }
    said = {**typed, **{name: otherwise[name] for name in _BLADE if name in otherwise}}
    blade = otherwise.get("squeegee", "")
    if blade:
        said = {name: value for name, value in said.items() if name not in {"hardness", "edge"}}
    parts = [form.format(value=said[name]) for name, form in named.items() if name in said]
    return with_signs(", ".join([blade, *parts] if blade else parts))


_DRYER = ("belt_speed", "set", "garment_peak", "hold")


def _dryer(said: Mapping[str, str]) -> str:
    forms = (_("belt {value}"), _("set {value}"), _("garment peak {value}"), _("held {value}"))
    return with_signs(
        ", ".join(form.format(value=said[part]) for part, form in zip(_DRYER, forms, strict=True) if part in said)
    )


def _colourways(job: Job) -> tuple[ColourwayRow, ...]:
    """Per garment with a colourway: each printing station that differs, or isn't printed there."""
    rows = []
    for way in job.colourways:
        changed = {folded(name) for name in way.inks}
        inks: dict[str, str] = {}
        for placement in job.placements:
            for station in placement.printing:
                if folded(station.separation) in changed:
                    ink = ink_for(job, way, placement, station)
                    said = (ink.colour, _(ink.kind), ink.series, ink.reference) if ink else (_("not printed"),)
                    inks[station.separation] = ", ".join(filter(None, said))
        rows.append(ColourwayRow(garment=f"{way.garment_style}, {way.garment_colour}", inks=tuple(inks.items())))
    return tuple(rows)


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
        raise Refused(_("“{text}” is not an address.").format(text=text[:60]) + " " + example, "address") from None
    if parts.scheme not in ("http", "https") or "://" not in text:
        raise Refused(_("An address begins with http:// or https://.") + " " + example, "address")
    if "@" in parts.netloc or parts.path not in ("", "/") or "?" in text or "#" in text:
        raise Refused(_("An address is a host and a port, nothing more.") + " " + example, "address")
    host = _clean_host(parts.hostname or "", bracketed="[" in parts.netloc)
    if not host or port == 0 or parts.netloc.endswith(":"):
        raise Refused(_("“{text}” is not an address.").format(text=text[:60]) + " " + example, "address")
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
            _(
                "The QR codes have no address to lead to. On the shop’s computer, type: tickets address "
                "http://192.168.1.20:8600"
            ),
            True,
            True,
        )
    if len(address.encode()) > LONGEST_ADDRESS:
        message = _(
            "The address {address} is too long for a QR code that a phone reads off a wet frame: at most {n} "
            "characters. An IP address, or a shorter name, would do."
        )
        return AddressFault(message.format(address=address, n=LONGEST_ADDRESS), True)
    if is_loopback(address):
        message = _(
            "{address} leads every phone to itself. Set this machine's address on the shop's network with: "
            "tickets address http://192.168.1.20:8600"
        )
        return AddressFault(message.format(address=address), True, True)
    if _folded(host_of(address)) not in {_folded(own) for own in own_addresses}:
        message = _("{address} is not one of this machine's addresses: open it on a phone before you hang anything up.")
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
        hint = " " + _("(--anyway prints it.)") if fault.anyway else ""
        raise Refused([Fault("address", fault.message + hint)])
    return address or otherwise, fault.message if fault else ""
