"""Entering and changing jobs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions.posting import once
from tickets.domain import outside, overtaken
from tickets.domain.code import shown
from tickets.domain.entry import stamp
from tickets.domain.jobs.job import Job, origins_first, repeated
from tickets.domain.person import Actor
from tickets.domain.posted import Doubt
from tickets.domain.refusal import Fault, NotAllowed, NotFound, Refused
from tickets.domain.separation import folded
from tickets.i18n import gettext as _
from tickets.queries import find as find_now
from tickets.queries import heads, shop_rules
from tickets.store import changes, codes, jobs, places, runs, screens
from tickets.store import pictures as store_pictures


def add(
    db: Database,
    actor: Actor,
    sheets: Sequence[Job],
    *,
    post: str,
    now: datetime,
    pictures: Sequence[str | None] = (),
    twice: str | None = "yes",
    bare: str | None = "yes",
) -> list[str]:
    """Enters jobs, all or none; their codes in the order given. `repeats` names a job here or one in the same call.

    `twice`: what somebody answered who was asked whether a job that is here already is entered a second time (empty:
    nothing yet; Doubt is raised where it must be asked); `bare`: likewise, whether a job whose sheet names a picture
    that did not come along is entered without it. `pictures`: the art of each (`actions.pictures`). One that has none
    shows that of the job it repeats, while the art and its revision are the same.
    """

    def act() -> dict[str, Any]:
        made: list[str] = []
        faults: list[Fault] = []
        numbers: list[int] = []
        without: set[int] = set()
        if not twice:
            _asked_twice(db, sheets)
        if not bare:
            for place, sheet in enumerate(sheets):
                if sheet.art.picture and not (pictures[place] if place < len(pictures) else None):
                    raise _asked_bare(sheet)
        for place, sheet in enumerate(sheets):
            number = screens.next_number(db, "jobs")
            code = codes.issue(db, "job", number, stamp(now))
            jobs.add(db, number, code, sheet, None, stamp(now), actor.id)
            picture = pictures[place] if place < len(pictures) else None
            if picture:
                store_pictures.attach(db, number, 1, picture)
            else:
                without.add(number)
            numbers.append(number)
            made.append(str(code))
        for place in origins_first(sheets):  # so that a picture is handed on from job to job
            number, sheet = numbers[place], sheets[place]
            if not sheet.repeats:
                continue
            origin = repeated(place, sheets)
            try:
                repeats = numbers[origin] if origin is not None else _earlier(db, sheet.repeats, number)
            except Refused as refused:
                faults += [Fault("repeats", f"{sheet.title}: {fault.message}") for fault in refused.faults]
                continue
            jobs.set_repeats(db, number, repeats)
            if number in without:
                _same_picture(db, repeats, number, 1, sheet)
        if faults:
            raise Refused(faults)
        return {"codes": made}

    content = {"act": "jobs", "sheets": [sheet.to_dict() for sheet in sheets], "pictures": [*map(str, pictures)]}
    return [str(code) for code in once(db, actor, post, content, now, act)["codes"]]


def _asked_twice(db: Database, sheets: Sequence[Job]) -> None:
    """Raises Doubt where a job is here already, or stands twice among these: the same sheet; the same customer, title
    and press date, or the same customer's number of one customer, in a job that repeats none."""
    found: list[str] = []
    for place, sheet in enumerate(sheets):
        if any(one == sheet or (_named_alike(one, sheet) and not sheet.repeats) for one in sheets[:place]):
            found.append(_("{title} was sent twice.").format(title=sheet.title))
            continue
        there = [job for number in jobs.due_on(db, sheet.due.isoformat()) if (job := jobs.get(db, number))]
        same = next((job for job in there if job.sheet == sheet), None)
        told = _("Job {code}, {title}, press date {due}, says the same.")
        if same is None and not sheet.repeats:
            same = next((job for job in there if _named_alike(job.sheet, sheet)), None)
            told = _("Job {code}, {title}, has the same customer, title and press date, {due}.") if same else told
        if same is None and sheet.reference and not sheet.repeats:
            there = [job for number in jobs.by_reference(db, sheet.reference) if (job := jobs.get(db, number))]
            same = next((job for job in there if folded(job.sheet.customer) == folded(sheet.customer)), None)
            told = _("Job {code}, {title}, press date {due}, has the same customer’s number.")
        if same is not None:
            due = same.sheet.due.isoformat()
            found.append(told.format(code=shown(same.code), title=same.sheet.title, due=due))
    if found:
        raise Doubt(" ".join([*found, _("Enter it a second time?")]), "twice")


def _named_alike(one: Job, other: Job) -> bool:
    """The same customer, title and press date."""
    return (folded(one.customer), folded(one.title), one.due) == (
        folded(other.customer), folded(other.title), other.due
    )  # fmt: skip


def _asked_bare(sheet: Job, was: Job | None = None) -> Doubt:
    """The question about a picture that is not there: one that the sheet names, or the one of another revision, which a
    job (`was`) has now."""
    if sheet.art.picture and (was is None or was.art.picture != sheet.art.picture):
        named = _("The job names its picture, {name}, which was not sent with it.").format(name=sheet.art.picture)
    else:
        assert was is not None
        named = _("The picture is of {art}, revision {revision}, which is not the artwork of this version.").format(
            art=was.art.name, revision=was.art.revision
        )
    return Doubt(" ".join((named, _("Add the picture. Or save it without one?"))), "bare")


def _same_picture(db: Database, earlier: int, number: int, version: int, sheet: Job) -> None:
    """The art goes along while it is the same: another revision must not show the old picture."""
    known = jobs.get(db, earlier)
    if known is None or folded(known.sheet.customer) != folded(sheet.customer):
        return
    if not _same_art(known.sheet, sheet):
        return
    picture = store_pictures.of_job(db, earlier, known.version)
    if picture is not None:
        store_pictures.attach(db, number, version, picture.hash)


def _same_art(was: Job, now: Job) -> bool:
    one, other = was.art, now.art
    return (folded(one.name), folded(one.revision)) == (folded(other.name), folded(other.revision))


def _earlier(db: Database, text: str, number: int) -> int:
    try:
        found = find_now.job(db, text)
    except NotFound:
        raise Refused(
            _("No earlier job “{text}”. Type the job’s code or the customer’s order number.").format(text=text)
        ) from None
    if found.id == number:
        raise Refused(_("A job cannot be the reorder of itself. Choose the earlier job."))
    return found.id


def change(
    db: Database,
    actor: Actor,
    job: jobs.Saved,
    sheet: Job,
    *,
    post: str,
    now: datetime,
    picture: str | None = None,
    seen: int = 0,
    bare: str | None = "yes",
) -> int:
    """A changed job is a new version of it, until a run of it has printed; the number of the version.

    `picture`: its art now (`actions.pictures`); None: the one it has, while the art and its revision are the same.
    `bare`: as of `add`; a new artwork or revision asks for its picture where the job has one of the earlier. `seen`:
    the version that the form showed (0: it does not say); a newer one is not undone without a word (Overtaken).
    """

    def act() -> dict[str, Any]:
        known = jobs.get(db, job.id)
        assert known is not None
        if runs.any_impressions(db, job.id):
            raise Refused(
                _("This job has been printed, so its job sheet stays as it is. Reorder {code} instead.").format(
                    code=shown(known.code)
                )
            )
        shown_now = store_pictures.of_job(db, job.id, known.version)
        if sheet == known.sheet and (picture is None or (shown_now is not None and shown_now.hash == picture)):
            return {"version": known.version}
        if seen and seen != known.version:
            raise overtaken.Overtaken(differences(known.sheet, sheet), jobs.versions(db, job.id)[0]["person"])
        if not bare and not picture:
            named = bool(sheet.art.picture) and sheet.art.picture != known.sheet.art.picture
            if named or (shown_now is not None and not _same_art(known.sheet, sheet)):
                raise _asked_bare(sheet, known.sheet)
        repeats = _earlier(db, sheet.repeats, job.id) if sheet.repeats else None
        version = known.version + 1
        if picture:
            store_pictures.attach(db, job.id, version, picture)
        else:
            _same_picture(db, job.id, job.id, version, sheet)
        jobs.change(db, job.id, version, sheet, repeats, stamp(now), actor.id)
        return {"version": version}

    content = {"act": "change", "job": job.id, "sheet": sheet.to_dict(), "picture": picture}
    return int(once(db, actor, post, content, now, act)["version"])


def differences(now: Job, wanted: Job) -> list[overtaken.BothSay]:
    """What two sheets of a job say otherwise, by its place in a job file."""
    one, other = dict(_leaves(now.to_dict())), dict(_leaves(wanted.to_dict()))
    places = [*one, *(place for place in other if place not in one)]
    return [
        overtaken.BothSay(place, one.get(place, ""), other.get(place, ""))
        for place in places
        if one.get(place) != other.get(place)
    ]


def _leaves(value: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Every value of a job file, with its place: `placement[1].station[2].ink`."""
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _leaves(inner, f"{place}.{name}" if place else str(name))
    elif isinstance(value, (list, tuple)):
        for number, inner in enumerate(value, 1):
            yield from _leaves(inner, f"{place}[{number}]")
    elif value is not None:
        yield place, str(value)


def plan(
    db: Database,
    actor: Actor,
    job: jobs.Saved,
    press: str,
    day: str,
    *,
    post: str,
    now: datetime,
    seen: str | None = None,
) -> jobs.Planned:
    """Plans a job on a press (its code or name; empty: none yet) and a day (ISO; empty: its press date); both empty:
    it is planned no more. Who planned it and when is noted. `seen`: the plan that the form showed (`plan_said`)."""
    if not actor.leads:
        raise NotAllowed(_("A press lead or the manager plans the presses."))

    def act() -> dict[str, Any]:
        then = _planned(db, job, press, day, now)
        known, now_it_is = jobs.planned(db, job.id), jobs.get(db, job.id)
        if now_it_is is None or now_it_is.closed_at:
            raise Refused(_("This job is closed. Open it again before you plan it."))
        if then == known:
            return then._asdict()
        was, becomes = plan_said(db, known), plan_said(db, then)
        if seen is not None and seen != was:
            who = next((one.person for one in changes.of(db, "job", job.id) if one.what == "planned"), "")
            raise overtaken.Overtaken([overtaken.BothSay(_("Press and day"), was or "–", becomes or "–")], who)
        jobs.plan(db, job.id, then)
        changes.note(db, "job", job.id, "planned", stamp(now), actor.id, was=was, becomes=becomes)
        return then._asdict()

    content = {"act": "plan", "job": job.id, "press": press, "day": day}
    kept = once(db, actor, post, content, now, act)
    return jobs.Planned(kept["press"], kept["day"])


def _planned(db: Database, job: jobs.Saved, press: str, day: str, now: datetime) -> jobs.Planned:
    """A plan as it is kept. Raises Refused where it cannot be."""
    faults: list[Fault] = []
    there = None
    if press:
        there = find_now.place(db, press)
        if there.kind != "press" or there.retired_at:
            faults.append(Fault("press", _("{place} is not a press in use.").format(place=there.name)))
        else:
            faults += [Fault("press", text) for text in heads.never_fits(db, job, there)]
    on = outside.day(day) if day else None
    if day and on is None:
        faults.append(Fault("day", _("Write the day like 2027-03-01.")))
    elif on is not None and on < now.astimezone(shop_rules.zone(db)).date():
        faults.append(Fault("day", _("That day is past. Choose today or a day to come.")))
    if faults:
        raise Refused(faults)
    return jobs.Planned(there.id if there else None, on.isoformat() if on else "")


def plan_said(db: Database, plan: jobs.Planned) -> str:
    """A plan as its history has it: `Press 1, 2027-03-01`; empty: none."""
    return ", ".join(one for one in (places.names(db).get(plan.press or 0, ""), plan.day) if one)


def close(db: Database, actor: Actor, job: jobs.Saved, closed: bool, *, post: str, now: datetime) -> None:
    """Closes a job, which takes it off the boards, or opens it again; who did it and when is noted."""

    def act() -> dict[str, Any]:
        known = jobs.get(db, job.id)
        if known is not None and bool(known.closed_at) is not closed:
            jobs.close(db, job.id, stamp(now) if closed else None)
            changes.note(db, "job", job.id, "closed" if closed else "reopened", stamp(now), actor.id)
        return {}

    once(db, actor, post, {"act": "close", "job": job.id, "closed": closed}, now, act)
