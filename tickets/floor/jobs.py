"""Entering and changing jobs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.floor.posting import once
from tickets.records.code import NoCode, read, shown
from tickets.records.entry import stamp
from tickets.records.job import Job
from tickets.records.person import Actor
from tickets.records.refusal import Fault, NotFound, Refused
from tickets.store import codes, jobs, runs, screens
from tickets.words import gettext as _


def find(db: Database, text: str) -> jobs.Saved:
    """The job of a code, or of the customer's number when only one job has it."""
    try:
        issued = codes.find(db, read(text))
    except NoCode:
        issued = None
    if issued is not None and issued.kind == "job":
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
            _("Several jobs have the number {text}: {codes}. Name one by its code.").format(text=text, codes=known),
            "code",
        )
    raise NotFound(_("There is no job {text} here.").format(text=text[:40]), "code")


def add(db: Database, actor: Actor, sheets: Sequence[Job], *, post: str, now: datetime) -> list[str]:
    """Enters jobs, all or none; their codes in the order given. `repeats` names a job here or one in the same call."""

    def act() -> dict[str, Any]:
        made: list[str] = []
        faults: list[Fault] = []
        by_reference: dict[str, int] = {}
        waiting: list[tuple[int, Job]] = []
        for sheet in sheets:
            number = screens.next_number(db, "jobs")
            code = codes.issue(db, "job", number, stamp(now))
            jobs.add(db, number, code, sheet, None, stamp(now), actor.id)
            if sheet.reference:
                by_reference.setdefault(sheet.reference, number)
            waiting.append((number, sheet))
            made.append(str(code))
        for number, sheet in waiting:
            if not sheet.repeats:
                continue
            earlier = by_reference.get(sheet.repeats)
            try:
                repeats = earlier if earlier and earlier != number else _earlier(db, sheet.repeats, number)
            except Refused as refused:
                faults += [Fault("repeats", f"{sheet.title}: {fault.message}") for fault in refused.faults]
                continue
            jobs.set_repeats(db, number, repeats)
        if faults:
            raise Refused(faults)
        return {"codes": made}

    content = {"act": "jobs", "sheets": [sheet.to_dict() for sheet in sheets]}
    return [str(code) for code in once(db, actor, post, content, now, act)["codes"]]


def _earlier(db: Database, text: str, number: int) -> int:
    try:
        found = find(db, text)
    except NotFound:
        raise Refused(
            _("There is no earlier job “{text}”: give its code or the customer’s number.").format(text=text)
        ) from None
    if found.id == number:
        raise Refused(_("A job cannot repeat itself."))
    return found.id


def change(db: Database, actor: Actor, job: jobs.Saved, sheet: Job, *, post: str, now: datetime) -> int:
    """A changed job is a new version of it, until a run of it has printed; the number of the version."""

    def act() -> dict[str, Any]:
        known = jobs.get(db, job.id)
        assert known is not None
        if runs.any_impressions(db, job.id):
            raise Refused(
                _(
                    "This job has been printed, so its sheet stays as it is. Enter a new job that repeats {code}."
                ).format(code=shown(known.code))
            )
        if sheet == known.sheet:
            return {"version": known.version}
        repeats = _earlier(db, sheet.repeats, job.id) if sheet.repeats else None
        jobs.change(db, job.id, known.version + 1, sheet, repeats, stamp(now), actor.id)
        return {"version": known.version + 1}

    content = {"act": "change", "job": job.id, "sheet": sheet.to_dict()}
    return int(once(db, actor, post, content, now, act)["version"])


def close(db: Database, actor: Actor, job: jobs.Saved, closed: bool, *, post: str, now: datetime) -> None:
    """Takes a job off the boards, or puts it back."""

    def act() -> dict[str, Any]:
        jobs.close(db, job.id, stamp(now) if closed else None)
        return {}

    once(db, actor, post, {"act": "close", "job": job.id, "closed": closed}, now, act)


def repeat_of(job: jobs.Saved, due: Any, reference: str = "") -> Job:
    """The sheet of a new job that prints this one again."""
    from dataclasses import replace

    return replace(job.sheet, due=due, reference=reference, repeats=job.code)
