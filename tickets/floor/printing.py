"""Printing: what a ticket says is taken from the shop, drawn, and kept as it was printed."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Any
from urllib.parse import urlsplit

from sqlite_utils import Database

from tickets import store
from tickets.calculator.verdict import say
from tickets.floor import boards, colour, shop, target
from tickets.floor import ink as floor_ink
from tickets.floor.jobs import find as find_job
from tickets.floor.pictures import name_for_job
from tickets.floor.posting import zone
from tickets.floor.repeats import changed_since
from tickets.paper import job as job_paper
from tickets.paper import tags as tag_paper
from tickets.paper.qr import QUIET_ZONE, symbol
from tickets.records import ticket
from tickets.records.code import NoCode, read, shown
from tickets.records.entry import read_stamp, stamp
from tickets.records.job_remarks import CURE, ON_THE_GARMENT
from tickets.records.person import Actor
from tickets.records.refusal import Fault, NotFound, Refused
from tickets.records.screen import STANDING_WORDS
from tickets.records.separation import Key
from tickets.records.steps import BUCKET_KINDS, FRAMES
from tickets.records.ticket import AssignedScreen, BucketTag, JobTicket, PlaceTag, ScreenTag, Tag, Ticket
from tickets.store import buckets, codes, jobs, places, printed, screens
from tickets.store.pictures import folder_of
from tickets.store.settings import setting
from tickets.words import N_
from tickets.words import gettext as _

PLACE_WORDS = {"rack": N_("rack"), "cart": N_("cart"), "cabinet": N_("cabinet"), "press": N_("press")}
LABEL, BUCKET_LABEL = "100x50mm", "100x75mm"
_PATIENCE = 1.5
"""Seconds to wait for the name service when it is asked whether a host name is this machine's."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A PDF, what to say beside it, and the numbers under which what it says is kept."""

    pdf: bytes
    warnings: tuple[str, ...] = ()
    numbers: tuple[int, ...] = ()


# The address --------------------------------------------------------------------------------------------------------


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


def set_address(db: Database, actor: Actor, url: str, *, now: datetime) -> tuple[str, ...]:
    """The address that QR codes carry from now on; warnings. Raises Refused for what no QR code can carry."""
    address = ticket.clean_address(url)
    fault = ticket.address_fault(address, known_addresses(address))
    if fault is not None and fault.refuses and not fault.anyway:
        raise Refused(fault.message, "address")
    shop.set_up(db, actor, "address", address, now=now)
    return (fault.message,) if fault else ()


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


# What tags say ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Shop:
    """What every ticket of one printing carries."""

    db: Database
    address: str
    now: datetime

    @property
    def common(self) -> dict[str, Any]:
        return {
            "address": self.address,
            "shop": str(setting(self.db, "shop")),
            "demo": bool(setting(self.db, "demo")),
            "printed_on": self.day(stamp(self.now)),
        }

    def day(self, at: str) -> str:
        """A date in the shop's zone."""
        return read_stamp(at).astimezone(zone(self.db)).date().isoformat()

    def time(self, at: str) -> str:
        """A date and time in the shop's zone."""
        return read_stamp(at).astimezone(zone(self.db)).strftime("%Y-%m-%d %H:%M") if at else ""


def find_code(db: Database, text: str) -> codes.Issued:
    """A code that was issued, as typed. Raises Refused."""
    try:
        found = codes.find(db, read(text))
    except NoCode as fault:
        raise Refused(str(fault), text[:20]) from None
    if found is None:
        raise NotFound(_("There is no such code here."), text[:20])
    return found


def _tag(shop_: _Shop, text: str) -> Tag:
    """What the tag of a code says; a replaced code gives the tag with the new one."""
    db = shop_.db
    issued = find_code(db, text)
    if issued.kind == "screen":
        screen = screens.get(db, issued.thing)
        assert screen is not None
        mesh = screen.life.mesh
        return ScreenTag(
            code=issued.current,
            mark=screen.life.mark,
            mesh=mesh.said if mesh else "",
            frame=" · ".join(part for part in (_(dict(FRAMES).get(mesh.frame, mesh.frame)), mesh.frame_size_mm) if part)
            if mesh
            else "",
            **shop_.common,
        )
    if issued.kind == "place":
        place = places.get(db, issued.thing)
        assert place is not None
        return PlaceTag(code=issued.current, name=place.name, kind=_(PLACE_WORDS[place.kind]), **shop_.common)
    if issued.kind == "bucket":
        bucket = buckets.get(db, issued.thing)
        assert bucket is not None
        return BucketTag(
            code=issued.current,
            kind=_(dict(BUCKET_KINDS).get(bucket.kind, bucket.kind)),
            product=bucket.product,
            lot=bucket.lot,
            mixed_at=shop_.time(bucket.mixed_at),
            good_until=shop_.time(bucket.good_until),
            cautions=ticket.bucket_cautions(bucket.kind),
            **shop_.common,
        )
    raise Refused(_("That is a job: print its ticket, not a tag."), shown(issued.code))


def print_tags(
    db: Database,
    actor: Actor,
    wanted: Sequence[str],
    *,
    now: datetime,
    label: str = LABEL,
    sheet: str | None = None,
    anyway: bool = False,
) -> Printed:
    """The tags of screens, places and buckets by their codes: one a label, or on sheets (A4, Letter).

    Raises Refused with every code that will not do, for a label too small, for an address that will not do.
    """
    address, warnings = address_for_paper(db, anyway)
    here = _Shop(db, address, now)
    tags: list[Tag] = []
    faults: list[Fault] = []
    for text in wanted:
        try:
            tags.append(_tag(here, text))
        except Refused as refused:
            faults += refused.faults
    if faults:
        raise Refused(faults)
    pdf = tag_paper.tags_pdf(tags, label, sheet, str(setting(db, "language")))
    return Printed(pdf, warnings, _keep(db, actor, tags, now, {"label": label}))


def print_bucket(
    db: Database, actor: Actor, text: str, *, now: datetime, label: str = BUCKET_LABEL, anyway: bool = False
) -> Printed:
    """The label of a bucket."""
    return _print_one(db, actor, text, "bucket", now, label, anyway)


def print_place(
    db: Database, actor: Actor, text: str, *, now: datetime, label: str = LABEL, anyway: bool = False
) -> Printed:
    """The tag of a place, by its code or name."""
    named = places.find(db, text)
    return _print_one(db, actor, named.code if named else text, "place", now, label, anyway)


def _print_one(db: Database, actor: Actor, text: str, kind: str, now: datetime, label: str, anyway: bool) -> Printed:
    issued = find_code(db, text)
    if issued.kind != kind:
        raise Refused(
            _("That is a {kind}, not a {wanted}.").format(kind=_(issued.kind), wanted=_(kind)), shown(issued.code)
        )
    return print_tags(db, actor, [text], now=now, label=label, anyway=anyway)


# What a job's ticket says -------------------------------------------------------------------------------------------


def print_job(
    db: Database, actor: Actor, text: str, *, now: datetime, paper: str = "A4", anyway: bool = False
) -> Printed:
    """The ticket of a job (code, or the customer's number), on A4 or Letter, as the job is now."""
    job = find_job(db, text)
    address, warnings = address_for_paper(db, anyway)
    says = job_ticket(db, job, address, now)
    language, pictures = str(setting(db, "language")), folder_of(db)
    says = replace(says, pages=job_paper.pages_of(ticket.as_first(job.sheet, says), paper, pictures, language))
    pdf = job_paper.job_pdf(says, paper, pictures, language)
    return Printed(pdf, warnings, _keep(db, actor, [says], now, {"paper": paper}, job.version))


def job_ticket(
    db: Database,
    job: jobs.Saved,
    address: str,
    now: datetime,
    known: Mapping[int, tuple[dict[str, dict[str, str]], str]] | None = None,
) -> JobTicket:
    """What the ticket of a job says now: its sheet, the screens that carry its images, the target. `known`: the target
    of a placement (counted from 1) and where it comes from, where that is not what its open run, or its next one, is to
    meet."""
    sheet = job.sheet
    carried: dict[Key, list[AssignedScreen]] = {}
    for number in range(1, len(sheet.placements) + 1):
        there = boards.serving(db, job, number, now)
        for asked in jobs.asked(db, job, number):
            carried[asked.image.key] = [
                AssignedScreen(code=one.code, mark=one.life.mark, stage=_(STANDING_WORDS[one.life.standing]))
                for one, _progress in there[asked.number]
            ]
    aims = _aims(db, job, known or {})
    repeats = jobs.get(db, job.repeats) if job.repeats else None
    system = str(setting(db, "units"))
    found = target.remarked(db, job, aims=aims.targets)
    said = [(one.reason.key in ON_THE_GARMENT | CURE, say(one.reason, system)) for one in found]
    told = [(first, " ".join(filter(None, (one.word + ":", one.sentence, one.advice)))) for first, one in said]
    return ticket.job_ticket(
        sheet,
        job.code,
        version=str(job.version),
        repeats=shown(repeats.code) if repeats else "",
        picture=name_for_job(db, job.id, job.version),
        screens=carried,
        first=[text for first, text in told if first],
        remarks=[text for first, text in told if not first],
        where_from=aims.sources,
        targets=aims.targets,
        changed=aims.changed,
        colours=aims.colours,
        notes=aims.notes,
        needs=floor_ink.at_rows(db, job, system),
        **_Shop(db, address, now).common,
    )


@dataclass(frozen=True, slots=True)
class _Aims:
    """What each placement is to meet, where that comes from, what was set otherwise since, its colours as read, and in
    which run each note of it was noted."""

    targets: dict[str, dict[str, dict[str, str]]]
    sources: dict[str, str]
    changed: dict[tuple[str, int], str]
    colours: dict[tuple[str, int], str]
    notes: dict[str, int]


def _aims(db: Database, job: jobs.Saved, known: Mapping[int, tuple[dict[str, dict[str, str]], str]]) -> _Aims:
    aims = _Aims({}, {}, {}, {}, {})
    for number, placement in enumerate(job.sheet.placements, 1):
        before = target.against(db, job, number, target.under_way(db, job, number)).run
        aims.notes.update(target.notes_of(db, before))
        for station, told in colour.said(db, job, number, before).items():
            aims.colours[placement.name, station] = told
        if number in known:
            aims.targets[placement.name], aims.sources[placement.name] = known[number]
            continue
        run = target.under_way(db, job, number)
        aim, aims.sources[placement.name] = target.aim(db, job, number, run)
        aims.targets[placement.name] = aim
        for station, told in changed_since(db, job, number, aim, run).items():
            aims.changed[placement.name, station] = told
    return aims


# What was printed ---------------------------------------------------------------------------------------------------


def _keep(
    db: Database,
    actor: Actor,
    says: Sequence[Ticket],
    now: datetime,
    how: dict[str, str],
    version: int | None = None,
) -> tuple[int, ...]:
    with store.writing(db):
        return tuple(
            keep(db, actor, ticket.to_dict(one)["ticket"], one, {**ticket.to_dict(one), **how}, version, now)
            for one in says
        )


def keep(
    db: Database,
    actor: Actor,
    kind: str,
    of: Ticket,
    says: dict[str, Any],
    version: int | None,
    now: datetime,
) -> int:
    """Keeps a paper that was drawn under the code and address of a ticket; its number."""
    with store.writing(db):
        return printed.add(db, kind, of.code, of.address, stamp(now), actor.id, says, version)


def reprint(db: Database, text: str, number: int | None = None) -> Printed:
    """What was printed for a code, drawn again and saying the same: the newest, or the one kept under `number`."""
    issued = find_code(db, text)
    kept = [row for row in printed.of(db, issued.code) if number is None or row["id"] == number]
    if not kept:
        raise NotFound(_("Nothing was printed for {code} yet.").format(code=shown(issued.code)), "code")
    says = kept[0]["says"]
    language = str(setting(db, "language"))
    again = ticket.from_dict(says)
    if isinstance(again, JobTicket):
        pdf = job_paper.job_pdf(again, says.get("paper", "A4"), folder_of(db), language)
    else:
        pdf = tag_paper.tags_pdf([again], says.get("label", LABEL), None, language)
    return Printed(pdf, (), (kept[0]["id"],))


def left_behind(db: Database) -> list[dict[str, Any]]:
    """Printed tickets that carry another address than the one set now: kind, code, address, at."""
    address = str(setting(db, "address"))
    return printed.left_behind(db, address) if address else []


def outdated_jobs(db: Database) -> list[dict[str, Any]]:
    """Job tickets whose job was changed since: code, title, version printed, version now, at."""
    return printed.outdated_jobs(db)
