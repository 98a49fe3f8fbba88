"""What is set and measured at the press is noted.

A head is noted by being named (`noted=3`) or set otherwise. What a sheet sent without `noted`, or with `noted=rest`,
leaves untouched is claimed to be as the target, all in one. `noted_by` keeps of each part who said it, when, and
whether it was claimed so (`as_target`); a measurement that came after another one keeps that one, with who took it, in
`before`. Once the first print is approved, what is set otherwise is a `change` with its reason.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions import counting, run_act
from tickets.actions.posting import in_one, line, numbered, once, write
from tickets.actions.run_act import SaidParts, Sent
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Reason
from tickets.domain import names, step_reading, steps
from tickets.domain import setting as setting_rules
from tickets.domain.bucket import Bucket
from tickets.domain.entry import Entry, read_stamp, stamp
from tickets.domain.jobs import colourways
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Clash, Fault, Refused
from tickets.domain.runs import ink_fit, setup
from tickets.domain.runs.as_run import field_word
from tickets.domain.runs.run import Story
from tickets.domain.screens import checks, press_checks
from tickets.i18n import gettext as _
from tickets.queries import at_press, run_plan, target
from tickets.queries.run_plan import Plan
from tickets.queries.shop_rules import act_time, the_spec, zone
from tickets.store import pictures, runs, to_log


@in_one
def save_sheet(db: Database, actor: Actor, number: int, form: Form, *, post: str, now: datetime) -> None:
    """The settings as run: fields `sN.squeegee`, `sN.strokes`, ... per station and `run.platen`, ... (`setup.read`);
    what is not sent is as it was noted, else what is set is as the target. A measurement is nobody's until it is sent;
    who took it and when is kept with it. `panel`: a picture of the press's own panel.

    Once a first print is approved the sheet stands: what is otherwise then becomes `change` entries, with their reason
    (`why`). An ink bucket past its time is a stop that a press lead or manager may go past. Where it is dated back
    (`at`), the bucket is compared with its time then, and the target is what was marked by then.
    """
    form = Form({name: [" ".join(text.split()) for text in sent] for name, sent in form.sent.items()})
    to_log.run(db, number, "sheet", post)
    the_plan = run_plan.plan(db, number)
    run_act.is_open(the_plan)
    at = act_time(form.one("at"), zone(db), now)
    sent = Sent(db, actor, the_plan, "sheet", {}, {}, form, at, now)
    the_plan, _said = run_act.said_garment(sent)
    by = stamp(at) if form.one("at") else ""
    if by:
        run_act.since_opened(db, the_plan, at, now)
    aim, source, marked = target.to_meet(db, the_plan.job, the_plan.run.placement, the_plan.run, by)
    settings, noted, faults = _read_sheet(db, form, the_plan, aim)
    reasons, wrong = _buckets_read(db, the_plan, settings, {**aim, **run_plan.noted_settings(the_plan)}, at)
    faults += wrong
    panel, tests, wrong = _sent_beside(db, form)
    faults += wrong
    if faults:
        raise Refused(faults)
    verdict = press_checks.may_run(reasons, run_plan.held_by(the_plan))
    override = run_act.passed(actor, verdict, form)
    judged = verdict.to_dict() if reasons else None  # of the buckets alone: nothing is good that was not looked at

    def act() -> dict[str, Any]:
        fresh, said = run_act.said_garment(sent._replace(plan=run_plan.plan(db, number)))
        story, by = fresh.story, {"who": actor.name, "person": actor.id, "at": stamp(at)}
        if form.one("sheet_seen") not in {"", run_plan.sheet_mark(story)}:
            raise _noted_meanwhile(fresh, settings)
        if story.frozen:
            told = _change_values(setup.changed(run_plan.own_lots(fresh), settings), by, panel)
            told += [{"what": _("test prints"), "test_prints": tests}] if tests else []
            lines = _change_lines(actor, number, told, form, at, now)
            lines[0] = replace(lines[0], verdict=judged, override=override)
        else:
            kept = panel or str(story.sheet.get("panel") or "")
            sheet: dict[str, Any] = {
                **_sheet_values(settings, noted, story, by, run_plan.idle_now(fresh)),
                **met_lines(aim, source, marked),
                **run_plan.of_garment(fresh),
                **idle_lines(fresh),
                **({"panel": kept} if kept else {}),
                **({"test_prints": tests} if tests else {}),
            }
            lines = [line(actor, "sheet", at, now, sheet, override=override, run=number)]
            lines[0] = replace(lines[0], verdict=judged)
        lines = numbered(post, [*said, *lines, *test_lines(actor, fresh, settings, tests, at, now)])
        write(db, lines)
        return {"entries": [line.entry for line in lines]}

    once(db, actor, post, {"step": "sheet", "run": number, **form.sent}, now, act)


def _buckets_read(
    db: Database,
    plan: Plan,
    settings: dict[str, dict[str, str]],
    before: Mapping[str, Mapping[str, str]],
    at: datetime,
) -> tuple[list[Reason], list[Fault]]:
    """The buckets of a sheet: what speaks against them, and what is wrong. Each is written by its code, and its lot and
    recipe go with it."""
    reasons: list[Reason] = []
    faults: list[Fault] = []
    elsewhere = at_press.buckets_elsewhere(db, plan.run.id)
    for key, values in settings.items():
        if not values.get("bucket"):
            continue
        known = dict(before.get(key, {}))
        try:
            bucket = _bucket(db, values["bucket"])
            was = _bucket(db, known["bucket"]) if known.get("bucket") else None
        except Refused as refused:
            faults += [Fault(f"s{key}.bucket", fault.message) for fault in refused.faults]
            continue
        values["bucket"] = bucket.code
        reasons += checks.ink_in_time(bucket, at, plan.story.state == "printing")
        reasons += at_press.ink_of(plan, counted(key), bucket)
        reasons += elsewhere.get(bucket.code, []) if was is None or was.id != bucket.id else []
        faults += ink_fit.goes_with(values, known, bucket, was, f"s{key}.")
    return reasons, faults


def _read_sheet(
    db: Database, form: Form, plan: Plan, aim: Mapping[str, Mapping[str, str]]
) -> tuple[dict[str, dict[str, str]], SaidParts, list[Fault]]:
    """The settings that were sent, and which parts of the sheet are said with that. Noted is what was
    typed otherwise than it stood, and what the field `noted` names (`-`: nothing besides); with `rest`, or without the
    field, what nobody said is claimed to stand as the target: that is no noting of a head, and is kept as what it is.
    `same`: `3.1` sets print order 3 as 1 but for what was typed there otherwise than the form had it, and notes it;
    `rest.1` does so with all that is open still and does the same."""
    before = run_plan.noted_settings(plan)
    standing = run_plan.standing_settings(plan, aim)
    settings, faults = setup.read(form.sent, plan.placement, aim, standing, the_spec(db))
    setup.lots_of(settings, form.sent, list(colourways.garments_of(plan.job.sheet)), plan.story.on)
    for key in map(str, run_plan.idle_now(plan)):  # nothing is asked of it, so it stands as it was left
        if not any(field.startswith(f"s{key}.") for field in form.sent):
            settings[key] = dict(plan.story.settings.get(key, {}))
    known = set(settings)
    named = {one for one in form.sent.get("noted", ()) if one and one != "-"}
    rest = setup.REST in named or not {"noted", "same"} & set(form.sent)
    wanted = named - {setup.REST}
    copies = _copies(plan, form.one("same"))
    found = [setup.same_as(settings, plan.placement, text, standing) for text in copies]
    if form.one("same"):
        if not found or None in found:
            faults.append(
                Fault(
                    "same",
                    _(
                        "Copy only like from like: a print from a print, a flash from a flash. Such as 3.1: "
                        "head 3 as head 1."
                    ),
                )
            )
        for copied in filter(None, found):
            settings[copied[0]] = copied[1]
            wanted.add(copied[0])
    if wanted - known:
        message = _("The set-up sheet has no such part. Its parts are {parts}.").format(parts=", ".join(settings))
        faults.append(Fault("noted", message))
    typed = {key for key, values in settings.items() if values != _nonempty(standing.get(key, {}))}
    said = SaidParts((wanted & known) | typed, set(), set(before))
    if rest:
        said = said._replace(claimed=known - said.all - set(map(str, run_plan.idle_now(plan))))
    elif not faults and not wanted and settings == {**settings, **before} and not typed:
        faults.append(Fault("sheet", _("Nothing differs from the target: tap the button of the head.")))
    return settings, said, faults


def _copies(plan: Plan, text: str) -> list[str]:
    """What the field `same` names, a pair each (`setup.same_as`)."""
    key, _dot, other = text.partition(".")
    if key != "rest":
        return [text] if text else []
    return [f"{one}.{other}" for one in run_plan.open_like(plan, other)]


def _sent_beside(db: Database, form: Form) -> tuple[str, int, list[Fault]]:
    """What comes with the settings: the picture of the press's panel, the test prints; faults."""
    panel, tests, faults = form.one("panel"), 0, []
    if panel and pictures.get(db, panel) is None:
        faults.append(Fault("panel", _("That picture did not arrive: take it again.")))
    try:
        tests = int(step_reading.read(steps.RUN_STEPS["sheet"], form.sent, tuple(form.sent))[0].get("test_prints", 0))
    except Refused as refused:
        faults += refused.faults
    return panel, tests, faults


def _nonempty(values: Mapping[str, str]) -> dict[str, str]:
    return {name: value for name, value in values.items() if value and name != "order"}


def idle_lines(plan: Plan) -> dict[str, list[str]]:
    idle = sorted(run_plan.idle_now(plan))
    return {"idle": list(map(str, idle))} if idle else {}


def _sheet_values(
    settings: Mapping[str, dict[str, str]],
    said: SaidParts,
    story: Story,
    by: Mapping[str, Any],
    idle: Collection[int] = (),
) -> dict[str, Any]:
    """What a set-up entry keeps of the settings: of each part of which somebody said something, who did so, when and
    how, and who measured what; which parts those are, while some are open (`idle`: print orders that do nothing here,
    and never are)."""
    still = set(settings) - said.all - set(map(str, idle))
    left = {key for key in map(str, idle) if settings.get(key, {}) == story.settings.get(key, {})}
    kept = {key: values for key, values in settings.items() if key in said.all - left}
    known = story.sheet.get("noted_by") or {}
    new = {key: {**by, **({setup.AS_TARGET: True} if key in said.claimed else {})} for key in said.noted | said.claimed}
    noted_by = {key: one for key in kept if (one := new.get(key) or known.get(key))}
    return {
        "stations": {key: values for key, values in kept.items() if key != setup.RUN},
        setup.RUN: kept.get(setup.RUN, {}),
        "numbers": setup.numbers_of(kept),
        "measured": setup.taken(kept, story.settings, story.measured, by),
        "noted_by": noted_by,
        **({"noted": sorted(said.all)} if still else {}),
    }


def test_lines(
    actor: Actor,
    plan: Plan,
    settings: Mapping[str, Mapping[str, str]],
    tests: int,
    at: datetime,
    now: datetime,
) -> list[Entry]:
    """Test prints on the screens that hang: strokes that wear them, and no pieces."""
    lines = []
    for station, hung in sorted(plan.story.hung.items()) if tests else ():
        text = settings.get(str(station), {}).get("strokes", "")
        strokes = counted(text) or counting.strokes_of(plan, station)
        values = {"run": plan.run.id, "impressions": tests * strokes, "test_prints": tests}
        when = max(at, read_stamp(hung.at))
        lines.append(line(actor, "print", when, now, values, screen=hung.screen, run=plan.run.id))
    return lines


def _noted_meanwhile(plan: Plan, settings: Mapping[str, Mapping[str, str]]) -> Clash:
    """The refusal of a sheet that was filled in on an older one: where the two differ, both are said."""
    told = _("Another phone noted the set-up since you opened this page. Look at it, then send yours.")
    told_of = _("{field}: {noted} noted, {yours} here")
    both = []
    for key, name, was, yours in setup.changed(run_plan.own_lots(plan), settings):
        field = field_word(name) if key == setup.RUN else f"{key}. {field_word(name)}"
        both.append(told_of.format(field=field, noted=was or "–", yours=yours or "–"))
    return Clash(" ".join([told, "; ".join(both)]).strip())


def _change_values(changed: list[tuple[str, str, str, str]], by: Mapping[str, Any], panel: str) -> list[dict[str, Any]]:
    """What was set otherwise or measured after the approval, as the values of an entry each. `by`: who, and when."""
    told: list[dict[str, Any]] = [
        {
            "what": field_word(name),
            "field": name,
            **({} if key == setup.RUN else {"station": counted(key)}),
            "from": was,
            "to": to,
            **({"numbers": found} if (found := setting_rules.numbers({name: to})) else {}),
            **({"measured": dict(by)} if to and name in setting_rules.MEASURED else {}),
        }
        for key, name, was, to in changed
    ]
    return [*told, {"what": _("the press’s panel"), "panel": panel}] if panel else told


def _change_lines(
    actor: Actor, number: int, told: list[dict[str, Any]], form: Form, at: datetime, now: datetime
) -> list[Entry]:
    """What was set otherwise after the approval: an entry each, with the reason."""
    if not told:
        raise Refused(_("Nothing differs from the log. Change what was changed on the press."), "sheet")
    why = {"why": form.words("why", names.WHY)} if form.one("why") else {}
    return [line(actor, "change", at, now, {**values, **why}, run=number) for values in told]


def _bucket(db: Database, text: str) -> Bucket:
    from tickets.queries.find import bucket as find

    return find(db, text)


def rest_as_target(sent: Sent) -> list[Entry]:
    """What nobody noted yet, noted as it is in the target: nothing of it is measured."""
    db, actor, plan, at = sent.db, sent.actor, sent.plan, sent.at
    by = stamp(at) if sent.form.one("at") else ""
    aim, source, marked = target.to_meet(db, plan.job, plan.run.placement, plan.run, by)
    before = run_plan.noted_settings(plan)
    settings, _faults = setup.read({}, plan.placement, aim, before)
    said = SaidParts(set(), set(settings) - set(before) - set(map(str, run_plan.idle_now(plan))), set(before))
    sheet = {
        **{name: value for name, value in plan.story.sheet.items() if name not in ("noted", "idle", "test_prints")},
        **_sheet_values(settings, said, plan.story, {"who": actor.name, "person": actor.id, "at": stamp(at)}),
        **met_lines(aim, source, marked),
        **run_plan.of_garment(plan),
        **idle_lines(plan),
    }
    return [line(actor, "sheet", at, sent.now, sheet, run=plan.run.id)]


def met_lines(aim: Mapping[str, Any], source: str, marked: runs.Run | None) -> dict[str, Any]:
    """What a set-up entry keeps of its target: the settings, whose they are, the run that they are of."""
    return {"target": aim, "target_from": source, **({"target_run": marked.id} if marked else {})}


def sheet_again(db: Database, actor: Actor, plan: Plan, at: datetime, now: datetime) -> list[Entry]:
    """An approval in place of one that was crossed out takes what was changed since into the sheet that it freezes."""
    settings = plan.story.settings
    mine = plan.story.sheet_on == plan.story.on
    if not plan.story.sheet_entry or (mine and settings == setup.parts_of(plan.story.sheet)):
        return []
    stations = {key: values for key, values in settings.items() if key != setup.RUN}
    sheet = {
        **plan.story.sheet,
        "stations": stations,
        setup.RUN: settings.get(setup.RUN, {}),
        **run_plan.of_garment(plan),
    }
    if not mine:  # the first one of its own
        sheet = {name: value for name, value in sheet.items() if name not in {"target_run", "noted", "idle"}}
        sheet |= met_lines(*target.to_meet(db, plan.job, plan.run.placement, plan.run)) | idle_lines(plan)
        sheet |= {"noted": sorted(run_plan.noted_settings(plan))} if run_plan.open_parts(plan) else {}
    elif "noted" in sheet:  # what the approval before left open, as far as it was noted since
        noted = {*sheet["noted"], *(key for key, values in settings.items() if values)}
        left = set(run_plan.open_parts(plan)) - noted
        sheet = {**sheet, "noted": sorted(noted)} if left else {k: v for k, v in sheet.items() if k != "noted"}
    sheet.pop("test_prints", None)
    if "measured" in sheet or plan.story.measured:
        sheet["measured"] = plan.story.measured
    return [line(actor, "sheet", at, now, sheet, run=plan.run.id)]
