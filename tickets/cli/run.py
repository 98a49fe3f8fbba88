"""`tickets run`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tickets.cli import group_of
from tickets.cli.given import form_of, post_id, screen_of, step_fields, the_shop, time_now, who_acts
from tickets.cli.options import AT, BY, ENTRY, FREE, JSON, MOST, Whole, command, option
from tickets.cli.output import log_data, print_json, say_log, say_table, shown_code, units_of, verdict_lines
from tickets.cli.refused import beside, not_sound
from tickets.words import N_, ngettext
from tickets.words import gettext as _

if TYPE_CHECKING:
    from sqlite_utils import Database


run = group_of("run", N_("Runs at the press, for scripts; people set up on a phone."))


@command(
    run,
    "open",
    N_("Opens a run of a placement on a press."),
    option("--job", "job_code", required=True, help=N_("The job's code or number.")),
    option("--placement", help=N_("Name or number; needed where the job has several.")),
    option("--press", required=True, help=N_("The press, by name or code.")),
    option("--heads_short", "--heads-short", help=N_("yes: open it on a press with too few free heads.")),
    AT,
    ENTRY,
    BY,
    JSON,
)
def run_open(
    job_code: str,
    placement: str | None,
    press: str,
    heads_short: str | None,
    at: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import runs as floor

    with the_shop(folder, make=True) as db:
        form = form_of(job=job_code, placement=placement, press=press, heads_short=heads_short, at=at)
        number = floor.open_run(db, who_acts(db, by), form, post=post_id(entry), now=time_now())
    if as_json:
        print_json({"run": number})
    else:
        click.echo(_("Run {number}").format(number=number))


@command(
    run,
    "log",
    N_("Logs a step of a run: hang, sheet, approve, start, stop, count, pause, finish, ..."),
    option("--anyway", is_flag=True, help=N_("Log it although another step is next.")),
    AT,
    ENTRY,
    BY,
    JSON,
    context_settings=FREE,
)
@click.argument("number", type=Whole(0, MOST))
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def run_log(
    number: int,
    step: str,
    fields: tuple[str, ...],
    anyway: bool,
    at: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.calculator.verdict import Level, Verdict
    from tickets.floor import phase
    from tickets.floor import runs as floor
    from tickets.floor.posting import form
    from tickets.records import checks
    from tickets.records.run import GOING
    from tickets.store import entries

    sent, entry = step_fields(fields, step, at, entry)
    if files := sent.pop("lab_file", None):  # measured patches, as the page takes them from a file
        sent["lab_patches"] = ["\n".join(Path(one).read_text("utf-8-sig", "replace") for one in files)]
    with the_shop(folder, make=True) as db:
        with beside(run=number, entries=[]):
            if not anyway:
                phase.in_turn(db, floor.plan(db, number), step)
            if step == "sheet":
                floor.say_why(db, floor.plan(db, number), form(sent))
            made = floor.log(db, who_acts(db, by), number, step, form(sent), post=post_id(entry), now=time_now())
        verdicts = [found.verdict for one in made if (found := entries.find(db, one)) and found.verdict]
        plan = floor.plan(db, number)
        if step in floor.SETS:
            verdicts = [floor.led_to(db, plan, made).to_dict()]
        state, on = plan.story.state, _just_hung(plan, made) if step in {"hang", "swap"} else {}
        if as_json:
            plain = Verdict(Level.OK).to_dict() if step in GOING else None
            verdict = verdicts[0] if verdicts else plain
            said = {} if step != "sheet" else _just_said(plan, made)
            print_json({"run": number, "entries": made, "verdict": verdict, "state": state, **on, **said})
            if step in floor.SETS:
                _stopped(verdicts[0], units_of(db))
            return
        if verdicts and step in {"hang", "swap"}:
            click.echo(_(checks.FACES[Verdict.from_dict(verdicts[0]).level]))
        for line in verdict_lines(Verdict.from_dict(verdicts[0]), units_of(db)) if verdicts else ():
            click.echo(line)
        if on:
            click.echo(_("Print order {station}, head {head}.").format(station=on["station"], head=on["head"] or "–"))
        for line in _parts_told(plan, made) if step == "sheet" else ():
            click.echo(line)
        click.echo(_("Run {number}: {step} logged. Now: {state}.").format(number=number, step=step, state=state))
        if step in floor.SETS:
            _stopped(verdicts[0], units_of(db))


def _stopped(verdict: Mapping[str, Any], system: str) -> None:
    """Exit status 1 where what was logged leads to a stop, such as ink that does not cure."""
    from tickets.calculator.verdict import Level, Verdict

    found = Verdict.from_dict(verdict)
    if found.level is Level.STOP:
        not_sound(found, verdict_lines(found, system))


def _just_hung(plan: Any, made: Sequence[str]) -> dict[str, Any]:
    """Where the screen hangs that one of these entries hung."""
    found = (one for one in plan.story.hung.values() if one.entry in made)
    return next(({"station": one.station, "head": one.head} for one in found), {})


def _just_said(plan: Any, made: Sequence[str]) -> dict[str, list[str]]:
    """The parts of the set-up that these entries noted, those that they claimed to be as the target all in one, and
    those that are open still."""
    from tickets.floor import runs as floor

    found = floor.just_said(plan, made)
    said = {name: [key for one in found if one.as_target is claimed for key in one.parts]
            for name, claimed in (("noted", False), ("as_target", True))}  # fmt: skip
    return {**said, "open": floor.open_parts(plan)}


def _parts_told(plan: Any, made: Sequence[str]) -> list[str]:
    """The same in lines."""
    from tickets.floor import runs as floor
    from tickets.records import setup

    told = [f"{setup.how_said(one)}." for one in floor.just_said(plan, made)]
    left = floor.open_parts(plan)
    return [*told, *([_("Not noted: {parts}.").format(parts=setup.parts_said(left))] if left else [])]


@command(
    run,
    "check",
    N_("Holds a screen against a run, as a scan at the press does; writes nothing."),
    option("--head", type=click.IntRange(1, 40), help=N_("The head; left away: the one to offer.")),
    option("--in_hand", "--in-hand", help=N_("yes: it is in hand, whatever the log says.")),
    option("--head_taken", "--head-taken", help=N_("yes: the head is free, whatever the log says.")),
    JSON,
)
@click.argument("number", type=click.IntRange(0, MOST))
@click.argument("code")
def run_check(
    number: int,
    code: str,
    head: int | None,
    in_hand: str | None,
    head_taken: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import look as floor_look
    from tickets.floor import runs as floor
    from tickets.records import checks
    from tickets.store import screens

    with the_shop(folder) as db:
        plan, screen, form = (
            floor.plan(db, number),
            screen_of(db, code),
            form_of(in_hand=in_hand, head_taken=head_taken),
        )
        said = {"in_hand": form.yes("in_hand"), "head_taken": form.yes("head_taken")}
        looked = floor_look.look(db, plan, screen, time_now(), head=head, **said)
        found, swap = looked.found, looked.swap
        other = screens.get(db, swap.screen) if swap else None
        shown = {
            "run": number,
            "screen": screen.code,
            "face": checks.FACES[found.verdict.level],
            "verdict": found.verdict.to_dict(),
            "station": found.station,
            "head": looked.head if found.station is not None else None,
            "heads_free": list(looked.heads),
            "no_head": floor_look.headless(db, plan, looked),
            "in_place_of": other.code if other else None,
        }
        told = verdict_lines(found.verdict, units_of(db))
        if as_json:
            print_json(shown)
            not_sound(found.verdict, told)
            return
        click.echo(_(checks.FACES[found.verdict.level]))
        for line in told:
            click.echo(line)
        if found.station is not None:
            place = _("Print order {station}, head {head}.")
            click.echo(place.format(station=found.station, head=shown["head"] or "–"))
        if shown["no_head"]:
            click.echo(shown["no_head"])
        if other:
            click.echo(_("Screen {code} hangs there: swap it.").format(code=shown_code(other.code)))
        free = ", ".join(map(str, looked.heads)) or "–"
        click.echo(_("Heads free: {heads}").format(heads=free))
        not_sound(found.verdict, told)


@command(
    run,
    "compare",
    N_("Shows a run beside the approved print before it: what differs, what a customer would see first at the top."),
    JSON,
)
@click.argument("number", type=click.IntRange(0, MOST))
def run_compare(number: int, as_json: bool, folder: Path | None) -> None:
    from tickets.calculator.verdict import Level, say
    from tickets.floor import repeats
    from tickets.records import comparison

    with the_shop(folder) as db:
        found = repeats.compared(db, number)
        data = comparison.as_data(found.lines) if found else {}
        if as_json:
            before = {"run": found.before.run, "day": found.before.day} if found else None
            said = found.against.said() if found else None
            apart = list(found.apart) if found else []
            print_json({"run": number, "before": before, "compared_with": said, "set_apart": apart, **data})
            return
        if found is None:
            click.echo(_("No earlier run of this placement was approved: there is nothing to compare with."))
            return
        click.echo(_("Before: run {number}, {day}.").format(number=found.before.run, day=found.before.day))
        for stopped in (one for one in found.differing.large if one.verdict and one.verdict.level is not Level.OK):
            for one in map(say, stopped.verdict.reasons if stopped.verdict else ()):
                click.echo(" ".join(filter(None, (f"{one.word}: {stopped.placed}.", one.sentence, one.advice))))
        for name, title in (("differs", N_("Differs")), ("small", N_("Within what the shop calls the same")),
                            ("beside", N_("Beside")), ("happened", N_("While it printed")),
                            ("not_known", N_("Not known of one or both"))):  # fmt: skip
            if data[name]:
                click.echo(f"{_(title)}:")
            _table_of_lines(data[name])
        for told in found.apart:
            click.echo(told)


def _table_of_lines(lines: Sequence[Mapping[str, Any]]) -> None:
    from tickets.records.as_run import field_word

    rows = [
        [f"  {one['station']} {one['title']}" if one["station"] else "  –", field_word(one["setting"]), one["before"],
         "→", one["now"], one.get("by") or one.get("unknown") or one.get("within") or ""]
        for one in lines
    ]  # fmt: skip
    if rows:
        say_table(rows, "")


@command(
    run,
    "list",
    N_("Lists the open runs, or those of a job."),
    option("--job", "job_code", help=N_("The job's code or number.")),
    JSON,
)
def run_list(job_code: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import jobs as floor_jobs
    from tickets.store import jobs, places, runs

    with the_shop(folder) as db:
        found = runs.of_job(db, floor_jobs.find(db, job_code).id) if job_code else runs.open_ones(db, limit=1000)
        names = places.names(db)
        rows: list[dict[str, Any]] = []
        for each in found:
            sheet = jobs.get(db, each.job, each.version)
            assert sheet is not None
            rows.append(
                {
                    "run": each.id,
                    "job": sheet.code,
                    "title": sheet.sheet.title,
                    "placement": sheet.sheet.placements[each.placement - 1].name,
                    "press": names[each.press],
                    "state": each.story.state,
                    "opened_at": each.opened_at,
                    "good": each.story.good,
                }
            )
    if as_json:
        print_json(rows)
    else:
        say_table(
            [
                [row["run"], shown_code(row["job"]), row["title"], row["placement"], row["press"], row["state"]]
                for row in rows
            ],
            _("No runs."),
        )


@command(run, "show", N_("Shows a run: what hangs where, its settings, its counts, its log."), JSON)
@click.argument("number", type=Whole(0, MOST))
def run_show(number: int, as_json: bool, folder: Path | None) -> None:
    with the_shop(folder) as db:
        shown = _run_told(db, number)
        if as_json:
            print_json(shown)
        else:
            _say_run(db, shown)


def _run_told(db: Database, number: int) -> dict[str, Any]:
    """A run as data: what its page shows."""
    from dataclasses import asdict

    from tickets.floor import garments, noted, phase
    from tickets.floor import runs as floor
    from tickets.floor.posting import the_spec
    from tickets.records import first_seen
    from tickets.store import screens

    plan = floor.plan(db, number)
    used, over = floor.used(db, plan), plan.story.state == "finished"
    garment = floor.garment_now(plan)

    def code(screen: int) -> str | None:
        found = screens.get(db, screen)
        return found.code if found else None

    story = plan.story.to_dict()
    for hung in (*story["hung"].values(), *story["was_hung"]):
        hung["screen"] = code(hung["screen"])
    return {
        "run": number,
        "job": plan.job.code,
        "title": plan.job.sheet.title,
        "version": plan.run.version,
        "changed_since": plan.changed_since,
        "placement": plan.placement.name,
        "press": plan.press.name,
        "missing": [
            {"station": one.number, "separation": one.separation, "head": floor.free_head(plan, one.number)}
            for one in plan.missing()
            if not over
        ],
        **story,
        "next": phase.phase_of(plan),
        "garment_now": f"{garment.style}, {garment.colour}" if garment else None,
        "pieces": [
            {"garment": one.name, "good": one.good, "misprinted": one.misprinted, "ordered": one.ordered or None}
            for one in phase.pieces_of(db, plan)
        ],
        "garments": [asdict(one) for one in garments.of_run(db, plan)],
        "differences": [
            {"part": part, "setting": name, "group": first_seen.group_of(name), "target": was, "now": now}
            for part, name, was, now in floor.off_target(db, plan, the_spec(db))
        ],
        "small": [
            {"part": part, "setting": name, "target": was, "now": now, "within": within}
            for part, name, was, now, within in floor.near_target(db, plan, the_spec(db), units_of(db))
        ],
        "set_apart": floor.set_apart(db, plan) or None,
        "going": floor.going(db, plan, time_now()).to_dict() if not over else None,
        "colour": floor.to_mark(db, plan).to_dict() if plan.story.approved else None,
        "settings": plan.story.settings,
        "set_up": [asdict(one) for one in noted.by_garment(db, plan)],
        "used": [{**asdict(one), "screen": code(one.screen)} for one in used],
        "log": log_data(db, "run", number),
    }


def _say_run(db: Database, shown: Mapping[str, Any]) -> None:
    """A run in lines: where it stands, what speaks against it, its screens, pieces and settings, its log."""
    from tickets.calculator.verdict import Verdict
    from tickets.floor import phase
    from tickets.records.as_run import field_word

    over = shown["state"] == "finished"
    parts = (shown["run"], shown_code(shown["job"]), shown["title"], shown["placement"], shown["press"])
    click.echo(" · ".join(map(str, parts)))
    pieces = _("{state}; {good} good, {bad} misprinted")
    click.echo(pieces.format(state=shown["state"], good=shown["good"], bad=shown["misprinted"]))
    speaks = Verdict.from_dict(said) if (said := shown["colour"] if over else shown["going"]) else None
    for line in verdict_lines(speaks, units_of(db)) if speaks and speaks.reasons else ():
        click.echo(line)
    for piece in shown["pieces"]:
        spoiled = _("{n} misprinted").format(n=piece["misprinted"])
        click.echo(f"  {piece['garment']}: {piece['good']}/{piece['ordered'] or '–'}, {spoiled}")
    for one in shown["garments"]:
        states = [_("approved") if one["approved"] else _("no first print approved")]
        states += [_("idle: {stations}").format(stations=", ".join(map(str, one["idle"])))] if one["idle"] else []
        click.echo(f"{'> ' if one['now'] else '  '}{one['number']} {one['garment']}: {'; '.join(states)}")
    for station, hung in shown["hung"].items():
        head = _("head {head}").format(head=hung["head"]) if hung["head"] else ""
        click.echo(f"  {station}  {shown_code(hung['screen'])}  {head}".rstrip())
    for one in shown["missing"]:
        told = _("{station}  no screen yet (separation {number}; head free for it: {head})")
        said = told.format(station=one["station"], number=one["separation"], head=one["head"] or "–")
        click.echo(f"  {said}")
    there = {hung["screen"] for hung in shown["hung"].values()}
    for one in shown["used"]:
        if one["screen"] not in there:
            head = _("head {head}").format(head=one["head"]) if one["head"] else ""
            off = (head, _("impressions {n}").format(n=one["impressions"]), one["condition"], one["then"])
            click.echo(f"  {one['station']}  {shown_code(one['screen'])}  {', '.join(filter(None, off))}")
    for one in shown["set_up"]:
        _say_set_up(db, one)
    if shown["set_apart"]:
        click.echo(shown["set_apart"])
    for one in shown["differences"]:
        told = _("not as the target: {part}: {now} (target: {target})")
        part = f"{one['part']} {field_word(one['setting'])}".removeprefix("run ")
        click.echo("  " + told.format(part=part, now=one["now"] or "–", target=one["target"] or "–"))
    if not over:
        click.echo(_("next: {step}").format(step=_(phase.NEXT[shown["next"]])))
    say_log(db, shown["log"])


def _say_set_up(db: Database, shown: Mapping[str, Any]) -> None:
    """What one garment was set up with: each part with who noted it, what is set; what was measured and by whom; what
    was not."""
    from tickets.floor.noted import when_said
    from tickets.records.as_run import with_doubt
    from tickets.records.ticket import with_signs

    def by(who: str, at: str, how: str = "{who}, {when}") -> str:
        return f" ({how.format(who=who, when=when_said(db, at))})" if at else ""

    approved = by(shown["approved_by"], shown["approved_at"], _("approved by {who}, {when}"))
    garment = _("Set-up, {garment}").format(garment=shown["garment"]) if shown["garment"] else _("Set-up")
    click.echo(f"{garment}{approved}:")
    for part in shown["parts"]:
        how = _("as the target, said all in one by {who}, {when}") if part["as_target"] else _("noted by {who}, {when}")
        told = ", ".join(f"{one['word']} {with_signs(_(one['value']))}" for one in part["set"])
        said = by(part["who"], part["at"], how) or ("" if part["noted"] else f" ({_('not noted')})")
        click.echo(f"  {part['named']}{said}: {told}".rstrip(": "))
        for one in part["measured"]:
            reads = [with_signs(each["value"]) + by(each["who"], each["at"]) for each in one["readings"]]
            read = "; ".join(reads) or _(one["value"])
            click.echo(f"    {_('measured')}: {one['word']} {read if one['proved'] else with_doubt(read)}")
    if left := shown["not_measured"]:
        one, many = "{count} measurement not taken in this run", "{count} measurements not taken in this run"
        aims = "; ".join(f"{each['word']}: {with_signs(each['target'])}" for each in left)
        click.echo(f"  {ngettext(one, many, len(left)).format(count=len(left))}: {aims}")
