"""`tickets run`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import Call, form_of, screen_of, step_fields
from tickets.cli.options import AT, BY, ENTRY, FREE, MOST, Whole, option
from tickets.cli.output import joined, log_lines, shown_code, table, units, verdict_lines
from tickets.cli.refused import beside
from tickets.cli.reply import Reply, command
from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.queries.repeats import SideBySide
    from tickets.queries.run_plan import Plan


run = group_of("run", N_("Runs at the press, for scripts; people set up on a phone."))


def _measured(file: Path) -> str:
    """The text of a measurement file."""
    from tickets.domain import outside
    from tickets.domain.refusal import Refused

    try:
        return outside.content(file, 1_000_000).decode("utf-8-sig", "replace")
    except outside.TooLong:
        raise Refused(_("{file} is too large for a measurement file.").format(file=file), "lab_file") from None


@command(
    run,
    "open",
    N_("Opens a run of a placement on a press."),
    option("--job", required=True, help=N_("The job's code or number.")),
    option("--placement", help=N_("Name or number; needed where the job has several.")),
    option("--press", required=True, help=N_("The press, by name or code.")),
    option("--heads_short", "--heads-short", help=N_("yes: open it on a press with too few free heads.")),
    AT,
    ENTRY,
    BY,
)
def run_open(call: Call, **sent: Any) -> Reply:
    from tickets.actions import runs as runs_acts

    db = call.shop(make=True)
    number = runs_acts.open_run(db, call.actor, form_of(**sent, at=call.at), post=call.post, now=call.now)
    return Reply({"run": number}, [_("Run {number}").format(number=number)])


@command(
    run,
    "log",
    N_("Logs a step of a run: hang, sheet, approve, start, stop, count, pause, finish, ..."),
    option(
        "--anyway", is_flag=True,
        help=N_("Log it although another step is next, and finish although far fewer pieces are counted than ordered."),
    ),
    AT,
    ENTRY,
    BY,
    context_settings=FREE,
)
@click.argument("number", type=Whole(0, MOST))
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def run_log(call: Call, number: int, step: str, fields: tuple[str, ...], anyway: bool) -> Reply:
    from tickets.actions import runs as runs_acts
    from tickets.calculator.verdict import Level, Verdict
    from tickets.domain.person import to_pass
    from tickets.domain.posted import form
    from tickets.domain.runs.run import GOING
    from tickets.queries import as_data, phase, run_plan

    sent, call = step_fields(call, fields, step)
    if files := sent.pop("lab_file", None):  # measured patches, as the page takes them from a file
        sent["lab_patches"] = ["\n".join(_measured(Path(one)) for one in files)]
    db = call.shop(make=True)
    if step == "finish" and not anyway:
        sent.setdefault("ask_few", ["yes"])
    with beside(run=number, entries=[]):
        if not anyway:
            phase.in_turn(db, run_plan.plan(db, number), step)
        if step == "sheet":
            run_plan.say_why(db, run_plan.plan(db, number), form(sent))
        made = runs_acts.log(db, call.actor, number, step, form(sent), post=call.post, now=call.now)
    plan = run_plan.plan(db, number)
    shown = as_data.logged(db, plan, step, made)
    plain = Verdict(Level.OK).to_dict() if step in GOING else None
    verdict = Verdict.from_dict(shown["verdict"]) if shown["verdict"] and step in run_plan.SETS else Verdict(Level.OK)
    leads_to_a_stop = verdict.level is Level.STOP and to_pass(verdict)  # such as an ink that does not cure
    return Reply(
        {**shown, "verdict": shown["verdict"] or plain},
        _logged(plan, step, made, shown),
        findings=verdict_lines(verdict) if leads_to_a_stop else (),
    )


def _logged(plan: Plan, step: str, made: Sequence[str], shown: Mapping[str, Any]) -> Iterator[str]:
    """What was logged, in lines."""
    from tickets.calculator.verdict import Verdict
    from tickets.domain.screens import press_checks

    verdict = Verdict.from_dict(shown["verdict"]) if shown["verdict"] else None
    if verdict and step in {"hang", "swap"}:
        yield _(press_checks.FACES[verdict.level])
    yield from verdict_lines(verdict) if verdict else ()
    if "station" in shown:
        yield _placed(shown)
    yield from _parts_told(plan, made) if step == "sheet" else ()
    yield _("Run {number}: {step} logged. Now: {state}.").format(number=plan.run.id, step=step, state=shown["state"])


def _placed(shown: Mapping[str, Any]) -> str:
    return _("Position {station}, head {head}.").format(station=shown["station"], head=shown["head"] or "–")


def _parts_told(plan: Plan, made: Sequence[str]) -> list[str]:
    """The parts of the set-up that these entries noted or claimed, and those that are open still."""
    from tickets.domain.runs import setup
    from tickets.queries import run_plan

    told = [f"{setup.how_said(one)}." for one in run_plan.just_said(plan, made)]
    left = run_plan.open_parts(plan)
    return [*told, *([_("Not noted: {parts}.").format(parts=setup.parts_said(left))] if left else [])]


@command(
    run,
    "check",
    N_("Checks a screen for a run, as a scan at the press does; writes nothing."),
    option("--head", type=Whole(1, 40), help=N_("The head; left away: the one to offer.")),
    option("--in_hand", "--in-hand", help=N_("yes: you have it in front of you, whatever the log says.")),
    option("--head_taken", "--head-taken", help=N_("yes: the head is free, whatever the log says.")),
)
@click.argument("number", type=Whole(0, MOST))
@click.argument("code")
def run_check(call: Call, number: int, code: str, head: int | None, **answers: str | None) -> Reply:
    from tickets.domain.person import to_pass
    from tickets.queries import as_data, look, run_plan

    db = call.shop()
    plan, screen, form = run_plan.plan(db, number), screen_of(db, code), form_of(**answers)
    said = {name: form.yes(name) for name in ("in_hand", "head_taken")}
    found = look.look(db, plan, screen, call.now, head=head, **said)
    shown, told = as_data.looked(db, plan, screen, found, call.now), verdict_lines(found.found.verdict)
    refused_there = to_pass(found.found.verdict)
    return Reply(shown, _looked(shown, told), findings=told if refused_there else ())


def _looked(shown: Mapping[str, Any], told: Sequence[str]) -> Iterator[str]:
    """A screen compared with a run, in lines."""
    yield _(shown["face"])
    yield from told
    if shown["station"] is not None:
        yield _placed(shown)
    if shown["no_head"]:
        yield shown["no_head"]
    if shown["in_place_of"]:
        yield _("Screen {code} hangs there: swap it.").format(code=shown_code(shown["in_place_of"]))
    for one in shown["runs_short"]:
        told = _("{job}, {placement} (press date {day}) then runs short at position {station}.")
        job = f"{shown_code(one['job'])} {one['title']}"
        yield told.format(job=job, placement=one["placement"], day=one["due"], station=one["station"])
    yield _("Heads free: {heads}").format(heads=", ".join(map(str, shown["heads_free"])) or "–")


@command(
    run,
    "compare",
    N_("Shows a run beside the approved print before it: what differs, what a customer would see first at the top."),
)
@click.argument("number", type=Whole(0, MOST))
def run_compare(call: Call, number: int) -> Reply:
    from tickets.queries import as_data, repeats

    found = repeats.compared(call.shop(), number)
    shown = as_data.compared(found, number)
    return Reply(shown, _compared(found, shown))


def _compared(found: SideBySide | None, shown: Mapping[str, Any]) -> Iterator[str]:
    """A run beside the approved print before it, in lines."""
    from tickets.calculator.verdict import Level, say

    if found is None:
        yield _("No earlier run of this placement was approved: there is nothing to compare with.")
        return
    yield _("Before: run {number}, {day}.").format(number=found.before.run, day=found.before.day)
    for stopped in (one for one in found.differing.large if one.verdict and one.verdict.level is not Level.OK):
        for one in (say(reason, units()) for reason in stopped.verdict.reasons) if stopped.verdict else ():
            yield joined((f"{one.word}: {stopped.placed}.", one.sentence, one.advice), " ")
    for name, title in (("differs", N_("Differs")), ("small", N_("Within what the shop calls the same")),
                        ("beside", N_("Beside")), ("happened", N_("While it printed")),
                        ("not_known", N_("Not known of one or both"))):  # fmt: skip
        if shown[name]:
            yield f"{_(title)}:"
            yield from _side_by_side(shown[name])
    yield from found.apart


def _side_by_side(lines: Sequence[Mapping[str, Any]]) -> list[str]:
    from tickets.domain.runs.as_run import field_word

    return table(
        [[f"  {one['station']} {one['title']}" if one["station"] else "  –", field_word(one["setting"]), one["before"],
          "→", one["now"], one.get("by") or one.get("unknown") or one.get("within") or ""]
         for one in lines]
    )  # fmt: skip


@command(
    run,
    "list",
    N_("Lists the open runs, or those of a job, a press or a day, the last that ended first."),
    option("--job", help=N_("The job's code or number.")),
    option("--press", help=N_("The press, by name or code.")),
    option("--day", help=N_("What was on press on that day: 2026-03-06.")),
    option("--ended", is_flag=True, help=N_("Those that ended alone.")),
    option("--all", "every", is_flag=True, help=N_("Those that ended as well.")),
    option("--limit", type=Whole(1, MOST), default=1000, help=N_("The most that are listed (1000).")),
)
def run_list(call: Call, job: str | None, press: str | None, day: str | None, limit: int, **which: bool) -> Reply:
    from tickets.domain import outside
    from tickets.domain.refusal import Refused
    from tickets.queries import as_data, find
    from tickets.queries.shop_rules import day_span
    from tickets.store import run_lines
    from tickets.store.ordered import PageStart

    db = call.shop()
    on = outside.day(day) if day else None
    if day and on is None:
        raise Refused(_("Type a day as 2026-03-06."), "day")
    narrow = bool(job or press or day or which["every"])
    asked = run_lines.RunsAsked(
        find.place(db, press).id if press else None,
        find.job(db, job).id if job else None,
        True if which["ended"] else None if narrow else False,
        *(day_span(db, on) if on else ("", "")),
    )
    rows = [as_data.run_row(db, one) for one in run_lines.in_order(db, asked, "ended", PageStart(down=True), limit)]
    cells = [
        [row["run"], shown_code(row["job"]), row["title"], row["placement"], row["press"], row["state"], row["good"]]
        for row in rows
    ]
    return Reply(rows, table(cells, _("No runs.")))


@command(run, "show", N_("Shows a run: what hangs where, its settings, its counts, its log."))
@click.argument("number", type=Whole(0, MOST))
def run_show(call: Call, number: int) -> Reply:
    from tickets.queries import as_data

    db = call.shop()
    shown = as_data.run(db, number, call.now)
    return Reply(shown, _lines(db, shown))


# whole: the lines of one answer in their order; parted, that order would stand in two places
def _lines(db: Database, shown: Mapping[str, Any]) -> Iterator[str]:
    """A run in lines: how far it is, what speaks against it, its screens, pieces and settings, its log."""
    from tickets.calculator.verdict import Verdict
    from tickets.domain.runs.as_run import field_word
    from tickets.queries import phase

    over = shown["state"] == "finished"
    parts = (shown["run"], shown_code(shown["job"]), shown["title"], shown["placement"], shown["press"])
    yield " · ".join(map(str, parts))
    pieces = _("{state}; {good} good, {bad} misprinted")
    yield pieces.format(state=shown["state"], good=shown["good"], bad=shown["misprinted"])
    speaks = Verdict.from_dict(said) if (said := shown["colour"] if over else shown["going"]) else None
    yield from verdict_lines(speaks) if speaks and speaks.reasons else ()
    for piece in shown["pieces"]:
        spoiled = _("{n} misprinted").format(n=piece["misprinted"])
        yield f"  {piece['garment']}: {piece['good']}/{piece['ordered'] or '–'}, {spoiled}"
    for one in shown["garments"]:
        states = [_("approved") if one["approved"] else _("no first print approved")]
        states += [_("idle: {stations}").format(stations=", ".join(map(str, one["idle"])))] if one["idle"] else []
        yield f"{'> ' if one['now'] else '  '}{one['number']} {one['garment']}: {'; '.join(states)}"
    for station, hung in shown["hung"].items():
        head = _("head {head}").format(head=hung["head"]) if hung["head"] else ""
        yield f"  {station}  {shown_code(hung['screen'])}  {head}".rstrip()
    for one in shown["missing"]:
        told = _("{station}  no screen yet (image {number}; head free for it: {head})")
        said = told.format(station=one["station"], number=one["separation"], head=one["head"] or "–")
        yield f"  {said}"
    there = {hung["screen"] for hung in shown["hung"].values()}
    for one in shown["used"]:
        if one["screen"] not in there:
            head = _("head {head}").format(head=one["head"]) if one["head"] else ""
            off = (head, _("impressions {n}").format(n=one["impressions"]), one["condition"], one["then"])
            yield f"  {one['station']}  {shown_code(one['screen'])}  {', '.join(filter(None, off))}"
    for one in shown["set_up"]:
        yield from _set_up(db, one)
    if shown["set_apart"]:
        yield shown["set_apart"]
    for one in shown["differences"]:
        told = _("changed from target: {part}: {now} (target: {target})")
        part = f"{one['part']} {field_word(one['setting'])}".removeprefix("run ")
        yield "  " + told.format(part=part, now=one["now"] or "–", target=one["target"] or "–")
    if not over:
        yield _("next: {step}").format(step=_(phase.NEXT[shown["next"]]))
    yield from log_lines(db, shown["log"])


def _set_up(db: Database, shown: Mapping[str, Any]) -> Iterator[str]:
    """What one garment was set up with: each part with who noted it, what is set; what was measured and by whom; what
    was not."""
    from tickets.domain.papers.ticket import with_signs
    from tickets.domain.runs.as_run import with_doubt
    from tickets.queries.noted import when_said

    def by(who: str, at: str, how: str = "{who}, {when}") -> str:
        return f" ({how.format(who=who, when=when_said(db, at))})" if at else ""

    approved = by(shown["approved_by"], shown["approved_at"], _("approved by {who}, {when}"))
    garment = _("Set-up, {garment}").format(garment=shown["garment"]) if shown["garment"] else _("Set-up")
    yield f"{garment}{approved}:"
    for part in shown["parts"]:
        how = (
            _("as the target, not looked at one by one, by {who}, {when}")
            if part["as_target"]
            else _("noted by {who}, {when}")
        )
        told = ", ".join(f"{one['word']} {with_signs(_(one['value']))}" for one in part["set"])
        said = by(part["who"], part["at"], how) or ("" if part["noted"] else f" ({_('not noted')})")
        yield f"  {part['named']}{said}: {told}".rstrip(": ")
        for one in part["measured"]:
            reads = [with_signs(each["value"]) + by(each["who"], each["at"]) for each in one["readings"]]
            read = "; ".join(reads) or _(one["value"])
            yield f"    {_('measured')}: {one['word']} {read if one['proved'] else with_doubt(read)}"
    if left := shown["not_measured"]:
        words = ngettext("{count} reading still to take", "{count} readings still to take", len(left))
        aims = "; ".join(f"{each['word']}: {with_signs(each['target'])}" for each in left)
        yield f"  {words.format(count=len(left))}: {aims}"
