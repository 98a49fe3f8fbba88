"""The papers of a run: its set-up sheet, and the comparison with the print before it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from tickets.calculator.verdict import Level, Reason, say
from tickets.domain.code import shown
from tickets.domain.entry import read_stamp
from tickets.domain.jobs.colourways import GARMENT, LOT_OF, garments_of
from tickets.domain.jobs.job import Job
from tickets.domain.papers.customer_sheet import CustomerSheet, customer_sheet, first_sheet
from tickets.domain.papers.kept import build
from tickets.domain.papers.run_sheet import ComparisonSheet, SetupSheet, comparison_sheet, setup_sheet
from tickets.domain.papers.ticket import JobTicket, from_dict, with_signs
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.runs import first_seen, setup
from tickets.domain.runs.as_run import AsRun, Changed, pairs
from tickets.domain.runs.comparison import approval_said, colours_of, garment_lot
from tickets.domain.runs.repeat import changed_said, dye_lot, small_said
from tickets.domain.runs.run import COLOURWAY, Story
from tickets.domain.separation import folded
from tickets.i18n import gettext as _
from tickets.paper import customer as customer_paper
from tickets.paper import job as job_paper
from tickets.paper import sheet as paper_sheet
from tickets.paper import tags as tag_paper
from tickets.paper.qr import DPI
from tickets.queries import at_press, colour, find, garments, noted, repeats, run_plan, shop_rules, target, tickets
from tickets.queries.picture_files import name_for_job
from tickets.queries.shop_rules import the_spec, zone
from tickets.store import jobs, pictures, printed, runs, screens

RunPaper = SetupSheet | ComparisonSheet | CustomerSheet


def pdf_of(says: RunPaper, paper: str, folder: Path | None, language: str) -> bytes:
    if isinstance(says, CustomerSheet):
        return customer_paper.customer_pdf(says, paper, folder, language)
    if isinstance(says, SetupSheet):
        return paper_sheet.setup_pdf(says, paper, language)
    return paper_sheet.comparison_pdf(says, paper, language)


def kept_paper(db: Database, text: str, number: int | None = None) -> dict[str, Any]:
    """What was printed for a code, as it is kept: the newest ticket, or the paper (of a run too) under `number`."""
    issued = find.code(db, text)
    for row in printed.of(db, issued.code, papers=number is not None):
        if number in (None, row["id"]):
            return row
    raise NotFound(_("Nothing was printed for {code} yet.").format(code=shown(issued.code)), "code")


def at_address(kind: str, data: Mapping[str, Any], address: str) -> dict[str, Any]:
    """What a kept paper says, with another address in its QR codes; a paper of a run carries those of its ticket."""
    if kind in printed.OF_RUN:
        return {**data, "job": {**data["job"], "address": address}}
    return {**data, "address": address}


def draw_again(kind: str, data: Mapping[str, Any], folder: Path | None, language: str) -> bytes:
    """A paper as it was kept, drawn as it was drawn then. `folder`: the shop's folder of pictures."""
    if kind not in printed.OF_RUN:
        again = from_dict({"ticket": kind, **data})
        if isinstance(again, JobTicket):
            return job_paper.job_pdf(again, str(data.get("paper", "A4")), folder, language)
        label, dpi = str(data.get("label", tickets.LABEL)), int(data.get("dpi", DPI))
        return tag_paper.tags_pdf([again], label, None, language, dpi)
    kinds: dict[str, type[RunPaper]] = {"set-up": SetupSheet, "comparison": ComparisonSheet, "customer": CustomerSheet}
    if "layout" not in data:  # kept before the customer's sheet was one of its own: a comparison with less on it
        kinds["customer"] = ComparisonSheet
    says = build(kinds[kind], data)
    return pdf_of(says, str(data["paper"]), folder, language)


def _approvals(story: Story) -> str:
    """Who approved the first print; where each garment had its own, of each."""
    each = {name: approval_said({**approved, "how": ""}) for name, approved in story.approvals.items()}
    if len(each) < 2:
        return approval_said({**story.approved, "how": ""} if story.approved else None)
    return "; ".join(f"{name}: {who}" for name, who in each.items())


def setup_of(db: Database, run: int, address: str, now: datetime) -> SetupSheet:
    """What the set-up sheet of a run says now."""
    plan = run_plan.plan(db, run)
    aim, source = target.aim(db, plan.job, plan.run.placement, plan.run)
    ticket = tickets.job_ticket(db, plan.job, address, now, {plan.run.placement: (aim, source)})
    before = target.against(db, plan.job, plan.run.placement, plan.run).run
    system = shop_rules.units_read(db)
    over = plan.story.state == "finished"
    against = (at_press.to_mark(db, plan) if over else at_press.going(db, plan, now)).reasons
    stops = [say(one, system) for one in against if one.level is Level.STOP]
    beside = [one for one in against if one.level not in (Level.OK, Level.STOP) and one.key != "first-print-open"]
    spoken = [say(one, system) for one in beside]
    remarks = [" ".join(part for part in (one.sentence, one.advice) if part) for one in spoken]
    told, changed = (_differed if over else _ahead)(db, plan, aim, now)
    remarks += told
    approved = plan.story.approved or {}
    hung = plan.story.hung or {one.station: one for one in plan.story.was_hung}
    named = {}
    for station, there in hung.items():
        screen = screens.get(db, there.screen)
        if screen is not None:
            named[station] = " · ".join(part for part in (shown(screen.code), screen.life.mark) if part)
    return setup_sheet(
        ticket,
        plan.placement,
        ticket.placements[plan.run.placement - 1],
        run=", ".join(filter(None, (str(run), plan.story.on if run_plan.several_garments(plan) else ""))),
        press=plan.press.name,
        target=aim,
        where_from=source,
        as_run=repeats.named_buckets(db, setup.with_later(plan.story.sheet, plan.story.changes)),
        screens=named,
        heads={station: one.head for station, one in hung.items()},
        approved=_approvals(plan.story),
        remarks=remarks,
        over=over,
        changed=changed,
        how=str(approved.get("how") or ""),
        sample=str(approved.get("sample") or ""),
        changes=[_change_said(db, one) for one in plan.story.changes if not setup.first_measured(one)],
        measured=[*noted.noted_said(db, plan.story.sheet), *noted.measured_said(db, plan)],
        read_again=noted.read_again(plan.story),
        stops=[" ".join(filter(None, (one.sentence, one.advice))) for one in stops],
        colours=colour.said(db, plan.job, plan.run.placement, before, plan.story.on),
        inks={ink for one in plan.asked for ink in one.inks},
        limits=the_spec(db),
        notes=target.notes_of(db, before),
    )


Told = tuple[list[str], Mapping[int, Sequence[str]]]


def _ahead(db: Database, plan: run_plan.Plan, _aim: target.Aim, now: datetime) -> Told:
    """What will differ from the print before, each in words; and what was set otherwise after that was approved, by the
    print order beside whose target it stands."""
    ahead = repeats.differences(db, plan.job, plan.run.placement, now, run=plan.run)
    system = shop_rules.units_read(db)
    remarks: list[str] = []
    changed: dict[int, list[str]] = {}
    for one in ahead.differences:
        if one.key == "repeat-changed-after" and one.station:  # stands beside its target
            changed.setdefault(one.station, []).append(changed_said(one.numbers["run"], [one.numbers["change"]]))
        elif one.level is not Level.OK and (plan.job.repeats or one.key in {"repeat-dye-lot", "repeat-changed-after"}):
            said = say(one.reason, system)
            remarks.append(" ".join(part for part in (said.sentence, said.advice) if part))
    if plan.job.repeats and (small := small_said(ahead.differences)):
        remarks.append(with_signs(small))
    return remarks, changed


def _differed(db: Database, plan: run_plan.Plan, aim: target.Aim, _now: datetime) -> Told:
    """As `_ahead`, of a run that is over: what did differ, as run. What is today's (screens, limits) is none of it."""
    found = repeats.compared(db, plan.run.id)
    large = [line for line in found.differing.large if line.counts] if found else []
    remarks = [f"{with_signs(first_seen.told(line.placed, line.a or '–', line.b or '–'))}." for line in large]
    if found and found.differing.small:  # each of them stands on the comparison
        remarks.append(f"{found.differing.small_head}.")
    changed = repeats.changed_since(db, plan.job, plan.run.placement, aim, plan.run)
    if whole := changed.pop(0, ""):
        remarks.append(whole)
    for one in dye_lot(plan.job.sheet, plan.placement):
        said = say(one.reason)
        remarks.append(" ".join(filter(None, (said.sentence, said.advice))))
    return remarks, {station: [told] for station, told in changed.items()}


def _change_said(db: Database, change: Mapping[str, Any]) -> str:
    """A change during the run: when, where, what, from, to, why."""
    at = read_stamp(str(change["at"])).astimezone(zone(db))
    name, what = str(change.get("field") or ""), str(change.get("what") or "")
    was, to = (str(change.get(part) or "") for part in ("from", "to"))
    if name == "bucket":
        was, to = repeats.bucket_said(db, was), repeats.bucket_said(db, to)
    if what == COLOURWAY:
        what = _("goes on with {style}, {colour}").format(
            style=change.get("garment_style"), colour=change.get("garment_colour")
        )
    place = _("position {number}").format(number=change["station"]) if change.get("station") else ""
    said = Changed(0, what, name, with_signs(was), with_signs(to), str(change.get("why") or "")).said()
    return f"{', '.join(filter(None, (f'{at:%Y-%m-%d %H:%M}', place)))}: {said}"


def lots(db: Database, plan: run_plan.Plan) -> list[Reason]:
    """What moves the colour though everything is set as it was: another ink lot or garment lot than the print has that
    this run is compared with, and the garment's dye lot where the run is discharge.

    Only a discharge run is told that the garment's lot is not known.
    """
    job, settings = plan.job.sheet, plan.story.settings
    found = [one.reason for one in dye_lot(job, plan.placement)]
    before = target.against(db, plan.job, plan.run.placement, plan.run).run
    if before is None:
        return found
    was, discharge = repeats.as_run(db, before, like=(plan.job, plan.story.on)), bool(found)
    for old, station in pairs(was.placement, plan.placement):
        if old is not None and station is not None and station.prints:
            one = repeats.ink_lot(db, dict(was.settings(old.number)))
            two = repeats.ink_lot(db, settings.get(str(station.number), {}))
            if one and two and folded(one) != folded(two):
                numbers = {"station": station.number, "what": station.separation, "was": one, "now": two}
                numbers |= {"run": before.id}
                found.append(Reason("repeat-ink-lot", Level.CAUTION, numbers))
    one, two = garment_lot(was.sheet.get(setup.RUN, {}), was.job), garment_lot(settings.get(setup.RUN, {}), job)
    named = " / ".join(dict.fromkeys(garment.style for garment in job.garments))
    if run_plan.several_garments(plan):  # like against like
        named = plan.story.on
        one, two = (_lot_of(sheet, of, named) for sheet, of in ((was.sheet, was.job), (settings, job)))
    numbers = {"garment": named, "was": one, "now": two}
    numbers |= {"run": before.id}
    if one and two and folded(one) != folded(two):
        found.append(Reason("repeat-garment-lot", Level.CAUTION, numbers))
    elif discharge and not (one and two):
        numbers |= {"was": one or "–", "now": two or "–"}
        found.append(Reason("repeat-garment-lot-unknown", Level.UNKNOWN, numbers))
    return found


def _lot_of(sheet: Mapping[str, Any], job: Job, name: str) -> str:
    """The lot of one garment as it was noted from the carton, else the job sheet's."""
    noted = (sheet.get(setup.RUN) or {}).get(LOT_OF + name, "")
    return str(noted or next((one.lot for known, one in garments_of(job).items() if known == name), ""))


def garment_named(db: Database, run: int, number: str) -> str | None:
    """The name of the garment of that number; None: nobody chose one."""
    if not number:
        return None
    printed = {str(one.number): one.garment for one in garments.of_run(db, run_plan.plan(db, run)) if one.approved}
    if number not in printed:
        names = ", ".join(f"{key} {name}" for key, name in printed.items()) or _("none")
        told = _("This run has no approved print of garment {number}. There are: {names}.")
        raise Refused(told.format(number=number[:20], names=names), "garment")
    return printed[number]


def _compared(db: Database, run: int, garment: str | None) -> tuple[repeats.SideBySide, jobs.Saved, list[str]]:
    """A run beside the one that it is compared with, its job, and what is to be said of the whole print."""
    found = repeats.compared(db, run, garment)
    if found is None:
        raise NotFound(_("No earlier approved run is known to compare run {number} with.").format(number=run), "run")
    the_run = runs.get(db, run)
    assert the_run is not None
    job = jobs.get(db, the_run.job, the_run.version)
    assert job is not None
    system = shop_rules.units_read(db)
    return found, job, [say(one.reason, system).sentence for one in dye_lot(job.sheet, found.after.placement)]


def comparison_of(db: Database, run: int, address: str, now: datetime, garment: str | None = None) -> ComparisonSheet:
    """What the comparison on paper says."""
    found, job, remarks = _compared(db, run, garment)
    ticket = tickets.job_ticket(db, job, address, now)
    against = found.against.said()
    remarks += found.apart
    return comparison_sheet(ticket, found.before, found.after, against, found.lines, remarks=remarks)


def customer_of(db: Database, run: int, address: str, now: datetime, garment: str | None = None) -> CustomerSheet:
    """What the customer's sheet says, without the names of the shop's people and what is its own business."""
    if repeats.compared(db, run, garment) is None:
        return _first_of(db, run, address, now, garment)
    found, job, remarks = _compared(db, run, garment)
    told = _("Compared with the print of {day}, whose settings were to be met.")
    told = told if found.against.marked else _("Compared with the print of {day}, the last one before it.")
    return customer_sheet(
        tickets.job_ticket(db, job, address, now),
        found.before,
        found.after,
        told.format(day=found.before.day),
        found.for_customer,
        colours_of(found.before, found.after, the_spec(db)),
        remarks=remarks,
        **_shown(db, run, job, found.after),
    )


def _first_of(db: Database, run: int, address: str, now: datetime, garment: str | None) -> CustomerSheet:
    """What the sheet of an order says of which nothing was printed before. Refused before its first print is approved:
    there is nothing yet to show."""
    plan = run_plan.plan(db, run)
    if not plan.story.approved:
        raise Refused(_("The first print of run {number} is not approved yet.").format(number=run), "what")
    on = str(plan.story.approved.get(GARMENT) or plan.story.on) if garment is None else garment
    then = repeats.as_run(db, plan.run, like=(plan.job, on))
    ticket = tickets.job_ticket(db, plan.job, address, now)
    return first_sheet(ticket, then, **_shown(db, run, plan.job, then))


def _shown(db: Database, run: int, job: jobs.Saved, then: AsRun) -> dict[str, Any]:
    """The pictures and the good pieces on a customer's sheet."""
    photo = str((then.approved or {}).get("photo") or "")
    picture = pictures.get(db, photo) if photo else None
    return {
        "art": name_for_job(db, job.id, job.version),
        "photo": picture.name() if picture else None,
        "good": {name: many for name, many in run_plan.pieces_counted(db, run_plan.plan(db, run)).items() if many},
    }
