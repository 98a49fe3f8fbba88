"""Printing: what a ticket says is taken from the shop, drawn, and kept as it was printed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets import store
from tickets.actions import shop
from tickets.calculator.kinds import PLACES
from tickets.domain.code import shown
from tickets.domain.entry import stamp
from tickets.domain.papers import ticket
from tickets.domain.papers.kept import as_data
from tickets.domain.papers.ticket import BucketTag, PlaceTag, ScreenTag, Tag, Ticket
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, Refused
from tickets.domain.steps import BUCKET_KINDS, FRAMES
from tickets.domain.told import Told, each, nobody
from tickets.i18n import gettext as _
from tickets.paper import job as job_paper
from tickets.paper import letters, stock
from tickets.paper import tags as tag_paper
from tickets.paper.stock import ROLLS as ROLLS
from tickets.queries import addresses, find, tickets
from tickets.queries.find import job as find_job
from tickets.queries.shop_rules import in_its_language
from tickets.queries.tickets import LABEL, PrintedPaper
from tickets.store import buckets, places, printed, screens
from tickets.store.pictures import folder_of
from tickets.store.settings import setting

BUCKET_LABEL = "100x75mm"


def set_address(db: Database, actor: Actor, url: str, *, now: datetime, seen: str = "") -> tuple[str, ...]:
    """The address that QR codes carry from now on; warnings. Raises Refused for what no QR code can carry."""
    address = ticket.clean_address(url)
    fault = ticket.address_fault(address, addresses.known_addresses(address))
    if fault is not None and fault.refuses and not fault.anyway:
        raise Refused(fault.message, "address")
    shop.set_up(db, actor, "address", address, now=now, seen=seen)
    return (fault.message,) if fault else ()


# What tags say ------------------------------------------------------------------------------------------------------


def _tag(shop_: tickets.OnEach, text: str) -> Tag:
    """What the tag of a code says; a replaced code gives the tag with the new one."""
    db = shop_.db
    issued = find.code(db, text)
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
        return PlaceTag(code=issued.current, name=place.name, kind=_(PLACES[place.kind]), **shop_.common)
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
            discarded=shop_.time(bucket.discarded_at or ""),
            cautions=ticket.bucket_cautions(bucket.kind),
            **shop_.common,
        )
    raise Refused(_("That is a job: print its ticket, not a tag."), shown(issued.code))


# What is kept of a paper ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KeptPaper:
    """What is kept of a paper: what kind it is, of which code, with which address, what it says, of which version of
    its job."""

    kind: str
    code: str
    address: str
    says: dict[str, Any]
    version: int | None = None


@dataclass(frozen=True, slots=True)
class DrawnPaper:
    """A PDF that nobody has yet: what to say beside it, what is to be kept of each paper in it, and the numbers of
    those in it that are kept already."""

    pdf: bytes
    warnings: tuple[str, ...]
    papers: tuple[KeptPaper, ...]
    kept: tuple[int, ...] = ()


def keep_drawn(db: Database, actor: Actor, drawn: DrawnPaper, now: datetime) -> PrintedPaper:
    """Keeps what was drawn: from here on it counts as printed."""
    with store.writing(db):
        numbers = tuple(
            printed.add(db, one.kind, one.code, one.address, stamp(now), actor.id, one.says, one.version)
            for one in drawn.papers
        )
    return PrintedPaper(drawn.pdf, drawn.warnings, (*drawn.kept, *numbers))


LETTERS, DISCARDED = "letters", "discarded"
QUESTIONS = (LETTERS, DISCARDED)
"""What can be asked before a paper is printed: whether boxes may stand for letters, whether a discarded bucket's label
is wanted at all."""


def settled(says: Sequence[Any], ask: Collection[str]) -> tuple[str, ...]:
    """What is to be said of papers before they are printed. Raises Refused at the field `sure` for what is asked."""
    told = {
        LETTERS: letters.warnings([as_data(one) for one in says]),
        DISCARDED: tuple(
            _("Bucket {code} was discarded on {day}: the tag will say so.").format(
                code=shown(one.code), day=one.discarded
            )
            for one in says
            if isinstance(one, BucketTag) and one.discarded
        ),
    }
    if asked := [text for what in QUESTIONS if what in ask for text in told[what]]:
        raise Refused(" ".join(asked), "sure")
    return tuple(text for what in QUESTIONS for text in told[what])


@in_its_language
def print_tags(
    db: Database,
    actor: Actor,
    wanted: Sequence[str],
    *,
    now: datetime,
    label: str = LABEL,
    sheet: str | None = None,
    grid: str = "",
    edges: str = "",
    gaps: str = "",
    used: int = 0,
    anyway: bool = False,
    ask: Collection[str] = (),
    told: Told = nobody,
) -> PrintedPaper:
    """The tags of screens, places and buckets by their codes: one a label, or on sheets (A4, Letter) to cut; with a
    `grid` on sheets of labels by their measures (`stock.measured_sheet`). `ask`: which of `QUESTIONS` are not answered.

    Raises Refused with every code that will not do, for a label too small, for an address that will not do.
    """
    measured = grid or edges or gaps
    on = stock.measured_sheet(stock.label_size(label), sheet or "A4", grid, edges, gaps, used) if measured else sheet
    address, warnings = addresses.address_for_paper(db, anyway)
    here = tickets.OnEach(db, address, now)
    tags: list[Tag] = []
    faults: list[Fault] = []
    for text in each(wanted, told):
        try:
            tags.append(_tag(here, text))
        except Refused as refused:
            faults += refused.faults
    if faults:
        raise Refused(faults)
    dpi = int(setting(db, "label_dpi"))
    pdf = tag_paper.tags_pdf(tags, label, on, str(setting(db, "language")), dpi, told)
    warnings += settled(tags, ask)
    return PrintedPaper(pdf, warnings, _keep(db, actor, tags, now, {"label": label, "dpi": dpi}))


def print_bucket(
    db: Database, actor: Actor, text: str, *, now: datetime, label: str = BUCKET_LABEL, anyway: bool = False,
    ask: Collection[str] = (),
) -> PrintedPaper:  # fmt: skip
    """The label of a bucket. `ask` as `print_tags` takes it."""
    return _print_one(db, actor, text, "bucket", now, label=label, anyway=anyway, ask=ask)


def print_place(
    db: Database, actor: Actor, text: str, *, now: datetime, label: str = LABEL, anyway: bool = False,
    ask: Collection[str] = (),
) -> PrintedPaper:  # fmt: skip
    """The tag of a place, by its code or name. `ask` as `print_tags` takes it."""
    named = places.find(db, text)
    return _print_one(db, actor, named.code if named else text, "place", now, label=label, anyway=anyway, ask=ask)


def _print_one(db: Database, actor: Actor, text: str, kind: str, now: datetime, **how: Any) -> PrintedPaper:
    issued = find.code(db, text)
    if issued.kind != kind:
        raise Refused(
            _("That is a {kind}, not a {wanted}.").format(kind=_(issued.kind), wanted=_(kind)), shown(issued.code)
        )
    return print_tags(db, actor, [text], now=now, **how)


def print_job(
    db: Database, actor: Actor, text: str, *, now: datetime, paper: str = "A4", anyway: bool = False,
    ask: Collection[str] = (),
) -> PrintedPaper:  # fmt: skip
    """The ticket of a job (code, or the customer's number), on A4 or Letter, as the job is now. `ask` as `print_tags`
    takes it."""
    return print_jobs(db, actor, [text], now=now, paper=paper, anyway=anyway, ask=ask)


MOST_JOBS = 40
"""Job tickets in one PDF."""


@in_its_language
def print_jobs(
    db: Database, actor: Actor, texts: Sequence[str], *, now: datetime, paper: str = "A4", anyway: bool = False,
    ask: Collection[str] = (),
) -> PrintedPaper:  # fmt: skip
    """The tickets of several jobs in one PDF, all or none; each is kept by itself."""
    wanted, faults = list(dict.fromkeys(texts)), list[Fault]()
    if not 0 < len(wanted) <= MOST_JOBS:
        raise Refused(_("From 1 to {most} jobs at once.").format(most=MOST_JOBS), "codes")
    jobs = []
    for text in wanted:
        try:
            jobs.append(find_job(db, text))
        except Refused as refused:
            if len(wanted) == 1:
                raise
            faults += refused.faults
    if faults:
        raise Refused(faults)
    address, warnings = addresses.address_for_paper(db, anyway)
    language, pictures = str(setting(db, "language")), folder_of(db)
    told = []
    for job in jobs:
        says = tickets.job_ticket(db, job, address, now)
        first = ticket.as_first(job.sheet, says)
        told.append(replace(says, pages=job_paper.pages_of(first, paper, pictures, language)))
    pdf = job_paper.jobs_pdf(told, paper, pictures, language)
    warnings += settled(told, ask)
    with store.writing(db):
        kept = [
            _keep(db, actor, [says], now, {"paper": paper}, job.version)[0]
            for says, job in zip(told, jobs, strict=True)
        ]
    return PrintedPaper(pdf, warnings, tuple(kept))


def _keep(
    db: Database,
    actor: Actor,
    says: Sequence[Ticket],
    now: datetime,
    how: dict[str, Any],
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
