"""What somebody named by code, mark or name."""

from __future__ import annotations

from sqlite_utils import Database

from tickets.calculator.numerals import counted
from tickets.domain.bucket import Bucket
from tickets.domain.code import NoCode, read, shown
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import gettext as _
from tickets.store import buckets, codes, jobs, places, screens


def code(db: Database, text: str) -> codes.Issued:
    """A code that was issued, as typed. Raises Refused."""
    try:
        found = codes.find(db, read(text))
    except NoCode as fault:
        raise Refused(str(fault), text[:20]) from None
    if found is None:
        raise NotFound(_("This code is not one of this shop’s. Scan again, or type it."), text[:20])
    return found


def job(db: Database, text: str) -> jobs.Saved:
    """The job of a code, or of the customer's number when only one job has it."""
    try:
        issued = codes.find(db, read(text))
    except NoCode:
        issued = None
    if issued is not None and issued.kind == "job":
        jobs.whole_ahead(db, [issued.thing])
        job = jobs.get(db, issued.thing)
        assert job is not None
        return job
    referred = jobs.by_reference(db, text.strip())
    if len(referred) == 1:
        job = jobs.get(db, referred[0])
        assert job is not None
        return job
    if referred:
        known = ", ".join(shown(job.code) for number in referred if (job := jobs.get(db, number)))
        raise Refused(
            _("Several jobs have the number {text}: {codes}. Give the code of one.").format(text=text, codes=known),
            "code",
        )
    raise NotFound(_("This shop has no job {text}.").format(text=text[:40]), "code")


def bucket(db: Database, text: str) -> Bucket:
    """The bucket of a code."""
    try:
        bucket = buckets.behind(db, read(text))
    except NoCode as fault:
        raise Refused(str(fault), "code") from None
    if bucket is None:
        raise NotFound(_("This shop has no bucket {code}.").format(code=text[:20]), "code")
    return bucket


def bucket_named(bucket: Bucket) -> str:
    """How a bucket is called on pages: code, product or kind, lot."""
    return " · ".join(part for part in (shown(bucket.code), bucket.product or bucket.kind, bucket.lot) if part)


def screen(db: Database, text: str) -> screens.Screen:
    """The screen of a code (a replaced one too). Raises NotFound, or Refused for what is no code."""
    try:
        code = read(text)
    except NoCode as fault:
        raise Refused(str(fault), "code") from None
    issued = codes.find(db, code)
    if issued is None or issued.kind != "screen":
        raise NotFound(_("This shop has no screen {code}.").format(code=shown(code)), "code")
    screen = screens.get(db, issued.thing)
    assert screen is not None
    return screen


def marked(db: Database, text: str) -> list[str]:
    """The codes of the screens with a painted mark; those of several where its end counts up: “A 12-15”. Raises
    NotFound, naming those that nobody has."""
    wanted = _marks(text)
    found = {mark: screens.many(db, screens.by_mark(db, mark)) for mark in wanted}
    missing = [mark for mark, there in found.items() if not there]
    if missing:
        told = _("No screen has the mark {marks}.").format(marks=", ".join(missing[:6]))
        raise NotFound(told if len(missing) <= 6 else f"{told} …", "marks")
    return list(dict.fromkeys(one.code for there in found.values() for one in there))


MOST_MARKS = 200
"""Marks that one text may count up to."""


def _marks(text: str) -> list[str]:
    """The marks that a text names: “A 12”, or “A 12-15” (a painted mark that reads so is one mark)."""
    text = " ".join(text.split())
    head, dash, last = text.rpartition("-")
    digits = len(head) - len(head.rstrip("0123456789"))
    if not dash or not digits or not counted(last.strip()):
        return [text]
    stem, first, end = head[:-digits], counted(head[-digits:]), counted(last.strip())
    if not first < end or end - first >= MOST_MARKS:
        return [text]
    return [f"{stem}{number:0{digits}d}" for number in range(first, end + 1)]


def bucket_or_which(db: Database, text: str) -> Bucket:
    """The bucket that a form names. Raises Refused, with those that there are."""
    try:
        found = buckets.behind(db, read(text))
    except NoCode as fault:
        raise Refused(str(fault)) from None
    if found is None:
        there = ", ".join(shown(bucket.code) for bucket in buckets.open_ones(db, limit=6))
        raise Refused(_("This shop has no such {kind}. {there}").format(kind="bucket", there=there).strip())
    return found


def place(db: Database, text: str) -> places.Place:
    """A place by its name or code."""
    place = places.find(db, text)
    if place is None:
        try:
            issued = codes.find(db, read(text))
        except NoCode:
            issued = None
        place = places.get(db, issued.thing) if issued and issued.kind == "place" else None
    if place is None:
        there = ", ".join(place.name for place in places.every(db)[:12]) or _("none yet")
        raise Refused(_("There is no place “{text}”; there are: {there}.").format(text=text[:40], there=there), "place")
    return place


def unit(db: Database, text: str) -> str:
    unit = places.find_unit(db, text)
    if unit is not None:
        return unit.name
    known = places.units(db)
    if known:
        there = ", ".join(unit.name for unit in known)
        raise Refused(_("There is no exposure unit “{text}”; there are: {there}.").format(text=text[:40], there=there))
    return text  # a shop that has not listed its units yet
