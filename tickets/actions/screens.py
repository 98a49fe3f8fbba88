"""The acts on screens: register, log a step, cross out, and what a form should be prefilled with."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions import posting
from tickets.actions.posting import numbered, once, write
from tickets.calculator import units
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Level, Verdict
from tickets.domain import names, stages, step_reading, steps, usual
from tickets.domain.code import Code, shown
from tickets.domain.entry import Entry, read_stamp, stamp, standing_lines
from tickets.domain.person import Actor
from tickets.domain.posted import Asks, Form, Worse
from tickets.domain.refusal import Fault, NotAllowed, NotFound, Refused
from tickets.domain.screens import screen_log
from tickets.domain.screens.needs import sentences
from tickets.domain.screens.screen import TEST_STRIP, Life
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.i18n import day_text
from tickets.i18n import gettext as _
from tickets.queries import asked, judging, screen_steps
from tickets.queries import find as find_now
from tickets.queries.asked import asked_for
from tickets.queries.shop_rules import act_time, the_spec, zone
from tickets.store import codes, entries, jobs, places, runs, screens, to_log, writing
from tickets.store.settings import setting

MOST_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Logged:
    """What a post came to: the ids of its entries, the verdict shown, and the screen after it. `again`: sent before."""

    entries: tuple[str, ...]
    verdict: Verdict | None
    again: bool = False
    code: str = ""
    """The code that the screen got, where its tag was replaced."""


@posting.in_one
def add(db: Database, actor: Actor, form: Form, *, post: str, now: datetime, number: int = 1) -> list[str]:
    """Registers `number` screens of one mesh, each with its `stretch` entry; their codes.

    `form` holds the fields of `stretch`; a `mark` goes to a single screen, or is counted up (“A 12”, “A 13”, ...).
    """
    content = {"step": "add", "number": number, **form.sent}
    saved = posting.before(db, actor, post, content)
    if saved is not None:
        return [str(code) for code in saved["codes"]]
    if not 1 <= number <= MOST_AT_ONCE:
        raise Refused(_("Between 1 and {most} screens at once.").format(most=MOST_AT_ONCE), "number")
    values, typed = step_reading.read(steps.SCREEN_STEPS["stretch"], form.sent, ("number",))
    _ask_of_unusual(db, steps.SCREEN_STEPS["stretch"], values, form)
    at = act_time(form.one("at"), zone(db), now)
    mark = str(values.pop("mark", ""))
    for alike in names.spelled_alike(mark):
        if screens.by_mark(db, alike):
            raise Refused(names.taken_alike(mark, alike), "mark")

    def act() -> dict[str, Any]:
        verdict = judging.judged(db, 0, Life(), "stretch", values, at, actor.id)
        made, lines, first = [], [], screens.next_number(db)
        for count, screen in enumerate(range(first, first + number)):
            code = codes.issue(db, "screen", screen, stamp(now))
            screens.add(db, code, screen, stamp(now))
            own = {**values, "mark": _counted(mark, count)} if mark else dict(values)
            lines.append(posting.line(actor, "stretch", at, now, own, typed, screen=screen, verdict=verdict))
            made.append(str(code))
        write(db, numbered(post, lines), new=range(first, first + number))
        return {"codes": made}

    answer = once(db, actor, post, content, now, act)
    return [str(code) for code in answer["codes"]]


def _counted(mark: str, count: int) -> str:
    digits = min(9, len(mark) - len(mark.rstrip("0123456789")))
    if not count:
        return mark
    if not digits:
        return f"{mark} {count + 1}"
    return f"{mark[:-digits]}{counted(mark[-digits:]) + count:0{digits}d}"


def log(
    db: Database,
    actor: Actor,
    screen: screens.Screen,
    step: str,
    form: Form,
    *,
    post: str,
    now: datetime,
    confirmed: bool = False,
) -> Logged:
    """Logs one step of one screen: at most one question (Asks), a verdict beside what was measured, one post once.
    `confirmed`: the actor gave the PIN for this very step."""
    return log_many(db, actor, [screen], step, form, post=post, now=now, confirmed=confirmed)


def log_at(
    db: Database, actor: Actor, code: Code, step: str, form: Form, *, post: str, now: datetime, confirmed: bool = False
) -> Logged:
    """As `log`, of the screen behind a code (a replaced one too), found in the state that it is logged in. `code` of
    what comes back is the screen's own now. Raises NotFound."""
    with writing(db):
        found = to_log.screen(db, code, post)
        if found is None:
            raise NotFound(_("There is no screen {code} here.").format(code=shown(code)), "code")
        logged = log(db, actor, found, step, form, post=post, now=now, confirmed=confirmed)
        return replace(logged, code=logged.code or str(found.code))


def log_many(
    db: Database,
    actor: Actor,
    many: Sequence[screens.Screen],
    step: str,
    form: Form,
    *,
    post: str,
    now: datetime,
    confirmed: bool = False,
) -> Logged:
    """The same step of many screens: the values once, one entry each, all or none."""
    if step == "cross-out":
        return cross_out(db, actor, form, post=post, now=now, of=("screen", [screen.id for screen in many]))
    known = steps.SCREEN_STEPS.get(step)
    if known is None:
        names = ", ".join(name for name in steps.SCREEN_STEPS if name not in {"print"})
        raise NotFound(_("There is no step “{step}”; there are: {names}.").format(step=step, names=names), "step")
    if not many:
        raise Refused(_("Tick at least one screen."), "screen")
    if len(many) > MOST_AT_ONCE:
        raise Refused(_("At most {most} screens at once.").format(most=MOST_AT_ONCE), "screen")
    content = {"step": step, "screens": [screen.id for screen in many], **form.sent}

    def act() -> dict[str, Any]:
        posted, then = _as_it_was(db, many[0], step, form, now)
        values, typed = step_reading.read(known, posted.sent, ("screen", "head", "station", "run", "press"))
        values = _look_up(db, known, values)
        at = act_time(form.one("at"), zone(db), now)
        lines: list[Entry] = []
        in_hand: list[str] = []
        worst: Verdict | None = None
        for screen in screens.many(db, [one.id for one in many]):
            more, verdict = _lines_of(db, actor, screen, step, values, typed, form, at, now, in_hand, confirmed)
            lines += more
            if verdict and (worst is None or verdict.worse_than(worst)):
                worst = verdict
        _ask_of_unusual(db, known, values, posted)
        lines = asked_first(db, lines, step, form, now, in_hand)
        answer: dict[str, Any] = {"then": then} if then else {}
        if step == "retag":
            answer["code"] = _retag(db, lines, stamp(now))
        lines = numbered(post, lines)
        write(db, lines)
        return {**answer, "entries": [line.entry for line in lines], "verdict": worst.to_dict() if worst else None}

    return _logged(once(db, actor, post, content, now, act))


def _ask_of_unusual(db: Database, step: steps.Step, values: Mapping[str, Any], form: Form) -> None:
    """Asks at its field for what can be and is seldom meant, before anything is written."""
    label, thread_um = values.get("mesh_count_as_labelled"), values.get("thread_um")
    asked_of = [field for field in step.fields if field.name in usual.OF_STEPS and field.name in values]
    if not asked_of and thread_um is None:
        return
    limits, faults = the_spec(db), list[Fault]()
    for field in asked_of:
        value = values[field.name]
        try:
            usual.ask_of_step(field.name, form.sent[field.name], value, units.unit_of(field.name) or "", limits)
        except ValueError as fault:
            faults.append(Fault.of(field.name, fault))
    if label is not None and thread_um is not None:
        try:
            usual.ask_of_mesh(form.one("thread_um"), step_reading.count_per_cm(label), thread_um, limits)
        except ValueError as fault:
            faults.append(Fault.of("thread_um", fault))
    if faults:
        raise Refused(faults)


def _ask_of_exposure(db: Database, life: Life, values: Mapping[str, Any], verdict: Verdict | None, form: Form) -> None:
    """Asks for an exposure that is far from the shop's own time for such a screen; where there is none, from what this
    mesh got last on the same unit."""
    if values.get("purpose") == TEST_STRIP:
        return
    told = {name: value for one in (verdict.reasons if verdict else ()) for name, value in one.numbers.items()}
    last: Mapping[str, Any] = {}
    if "wanted_s" not in told and "wanted_units" not in told and life.mesh is not None:
        last = screens.last_values(db, "expose", life.mesh.count_as_labelled)
        if last.get("exposure_unit") != values.get("exposure_unit") or last.get("purpose") == TEST_STRIP:
            last = {}
    for name, wanted, unit in (("exposure_s", "wanted_s", "s"), ("exposure_units", "wanted_units", "units")):
        own = told.get(wanted, last.get(name))
        if values.get(name) is not None and own is not None:
            try:
                usual.ask_of_exposure(form.one(name), values[name], own, unit, the_spec(db))
            except ValueError as fault:
                raise Refused([Fault.of(name, fault)]) from None


def _logged(answer: Mapping[str, Any]) -> Logged:
    verdict = Verdict.from_dict(answer["verdict"]) if answer.get("verdict") else None
    return Logged(tuple(answer["entries"]), verdict, bool(answer.get("again")), answer.get("code", ""))


def _retag(db: Database, lines: list[Entry], at: str) -> str:
    code = ""
    for line in lines:
        if line.step == "retag" and line.screen is not None:
            code = codes.replace(db, "screen", line.screen, at)
            screens.recode(db, line.screen, code)
    return code


def _lines_of(
    db: Database,
    actor: Actor,
    screen: screens.Screen,
    step: str,
    values: Mapping[str, Any],
    typed: Mapping[str, Any],
    form: Form,
    at: datetime,
    now: datetime,
    in_hand: list[str],
    confirmed: bool = False,
) -> tuple[list[Entry], Verdict | None]:
    """The entries of a step of one screen, and its verdict. Where it goes against the log and nobody said yet that the
    screen is in hand, the question goes to `in_hand` and nothing is judged."""
    logged = setting(db, "steps")
    life = judging.life_at(db, screen, at)
    lines: list[Entry] = []
    outside = places.outside(db)
    probe = posting.line(actor, step, at, now, values, screen=screen.id)
    if screen_log.after(life, probe, logged, outside).conflicts != life.conflicts or screen_steps.unsaid(life, step):
        if not form.yes("in_hand"):
            in_hand.append(question(life, step, screen.code, db, now))
        seen: dict[str, Any] = {"standing_seen": str(stages.asked_standing(step))}
        named = list(jobs.separations(db, _numbers(form.sent.get("separations_seen", ()))))
        if named:
            seen["separations_seen"] = named
        # a screen found off its press leaves the run that it hung in
        left = life.run if life.standing is Standing.ON_PRESS else None
        found = posting.line(actor, "found", at, now, seen, screen=screen.id, run=left)
        lines.append(found)
        life = screen_log.after(life, found, logged, outside)
    values = dict(values)
    if in_hand:
        return [*lines, posting.line(actor, step, at, now, values, typed, screen=screen.id)], None
    if step == "image" and form.one("accept"):
        wishes = dict.fromkeys(one.mesh for one in asked_for(db, values["separations"]))
        values["accept"] = {
            "who": actor.name,
            "why": form.words("accept", names.WHY),
            "asked": list(wishes),
            "lead": actor.leads,
        }
    if confirmed and screen_steps.confirms(db, actor, life, step, values):
        values["confirmed"] = screen_log.ALONE
    verdict = judging.judged(db, screen.id, life, step, values, at, actor.id, form.one("for_work"))
    if step == "expose":
        _ask_of_exposure(db, life, values, verdict, form)
    _shown(form, verdict)
    run = (values.get("run") or life.run) if step in {"pull", "print"} else None
    if step == "hang":
        raise Refused(_("A screen is hung from its run’s page, which checks it first."), "step")
    lines.append(posting.line(actor, step, at, now, values, typed, verdict=verdict, screen=screen.id, run=run))
    return lines, verdict


def asked_first(
    db: Database,
    lines: Sequence[Entry],
    step: str,
    form: Form,
    now: datetime,
    in_hand: Sequence[str] = (),
    ending: asked.Ending | None = None,
) -> list[Entry]:
    """The entries as they are to be written; raises Asks, once for all, where screens are not where the log has them
    (`in_hand`: the questions), or where a stencil goes that is still needed and nobody said yes to that."""
    # who says that such a screen is in hand, to be degreased, says that its stencil is gone: that is one answer
    answered = form.yes("still_needed") or (step not in ASKED_APART and form.yes("in_hand"))
    lines, wanted = asked.settled(db, lines, answered, now, ending)
    if in_hand or wanted:
        today = now.astimezone(zone(db)).date()
        raise Asks(step, in_hand, sentences(wanted, today))
    return lines


ASKED_APART = frozenset(
    {"strip", "decide", "pull", "coat", "stretch", "retension", "fault", "retire", "finish", "pause", "swap"}
)
"""Steps that take a stencil away: that it is still needed is asked beside whether it is in hand."""


def _numbers(sent: Iterable[str]) -> list[int]:
    texts = [text for part in sent for text in part.replace(",", " ").split()]
    return [number for text in texts if (number := counted(text))]


def _shown(form: Form, verdict: Verdict | None) -> None:
    """Refuses when the verdict got worse than the one the sender saw (`seen`: its level)."""
    seen = form.one("seen")
    if verdict is None or seen not in {str(level) for level in Level}:
        return
    if verdict.level.rank > Level(seen).rank:
        raise Worse(_("Something changed. Check it again."), verdict, "seen")


def question(life: Life, step: str, code: str, db: Database, now: datetime) -> str:
    """The one question that a step against the log asks."""
    if life.conflict:
        return _("The log of {code} doesn’t add up. Do you have it in front of you?").format(code=shown(code))
    if life.standing is Standing.UNKNOWN:
        return _("The log does not say how far {code} is. Do you have it in front of you?").format(code=shown(code))
    shop = zone(db)
    since = day_text(read_stamp(life.since).astimezone(shop).date(), now.astimezone(shop).date()) if life.since else ""
    if life.standing is Standing.ON_PRESS:
        press = places.get(db, life.place) if life.place else None
        where = press.name if press else _("press")
        return _("The log says {code} has been on {where} since {since}. Do you have it in front of you?").format(
            code=shown(code), where=where, since=since
        )
    said = _("The log says {code} has been “{standing}” since {since}.").format(
        code=shown(code), standing=_(STANDING_WORDS[life.standing]), since=since
    )
    if life.stencil is not None and life.stencil.separations and step in {"degrease", "coat", "image"}:
        images = jobs.separations(db, list(life.stencil.separations)).values()
        carries = ", ".join(f"{image.name} ({image.art} {image.revision}, {image.customer})" for image in images)
        said += " " + _("This screen carries {images}. Was that stencil reclaimed?").format(images=carries)
    return said + " " + _("Do you have it in front of you?")


def _stage(text: str) -> str:
    """The stage as it is kept; Refused with those there are."""
    stage = stages.stage_of(text)
    if stage is None:
        raise Refused(_("One of: {choices}.").format(choices=stages.stage_words(Standing)))
    return str(stage)


def _look_up(db: Database, step: steps.Step, values: dict[str, Any]) -> dict[str, Any]:
    """Things named in a form become their numbers; unknown ones are refused with what there is."""
    faults: list[Fault] = []
    for field in step.fields:
        if field.name not in values:
            continue
        try:
            if field.kind == "bucket":
                values[field.name] = find_now.bucket_or_which(db, values[field.name]).id
            elif field.kind == "place":
                place = find_now.place(db, values[field.name])
                if place.retired_at:
                    gone = _("{place} is out of use: choose another place, or ask the manager to bring it back.")
                    raise Refused(gone.format(place=place.name), field.name)
                values[field.name] = place.id
            elif field.kind == "unit":
                values[field.name] = find_now.unit(db, values[field.name])
            elif field.kind == "separations":
                missing = [number for number in values[field.name] if jobs.separation(db, number) is None]
                if missing:
                    raise Refused(_("There is no image {numbers}.").format(numbers=", ".join(map(str, missing))))
            elif field.name == "run" and runs.get(db, values["run"]) is None:
                raise Refused(_("This shop has no run {number}.").format(number=values["run"]))
            elif field.kind == "choice" and field.name == "standing_seen":
                values[field.name] = _stage(values[field.name])
        except Refused as refused:
            faults += [Fault(field.name, fault.message) for fault in refused.faults]
    if step.name == "washout" and values.get("result") == "good":
        values.pop("fault", None)
    if faults:
        raise Refused(faults)
    return values


def _as_it_was(db: Database, screen: screens.Screen, step: str, form: Form, now: datetime) -> tuple[Form, list[str]]:
    """What was sent, and which fields were changed: in an act that is dated back, what the form had filled in by itself
    (`usual`: NAME=VALUE, and sent as it was) becomes what the form would have had then. What people chose stays."""
    usual = dict(text.split("=", 1) for text in form.sent.get("usual", ()) if "=" in text)
    if not usual or not form.one("at"):
        return form, []
    at = act_time(form.one("at"), zone(db), now)
    untouched = {name for name, text in usual.items() if text and form.one(name) == text and _own_unit(form, name)}
    if at >= now or not untouched:
        return form, []
    was = {name: str(text) for name, text in screen_steps.habits(db, screen, step, at, then=True).items() if text}
    changed = {name for name in untouched if was.get(name, "") != usual[name]}
    if changed - set(was):  # exposed by the integrator then, by the clock now: one stands for the other
        changed |= {name for name in was if name not in usual and not form.one(name)}
    sent = {name: texts for name, texts in form.sent.items() if name.removesuffix(".unit") not in changed}
    return Form(sent | {name: [was[name]] for name in changed if name in was}), sorted(changed)


def _own_unit(form: Form, name: str) -> bool:
    """Whether a number is still in the unit that it was filled in with."""
    return form.one(f"{name}.unit") in {"", units.unit_of(name) or ""}


# Crossing out -------------------------------------------------------------------------------------------------


def cross_out(
    db: Database, actor: Actor, form: Form, *, post: str, now: datetime, of: tuple[str, Sequence[int]] | None = None
) -> Logged:
    """Crosses out an entry (field `crosses`; or `entry` alone), with why.

    Own entries the same day; others' by the manager. `of`: what it must be about (screen, run or bucket, its numbers).
    Pages send the post's own id as `entry` and the wrong one as `crosses`; on the command line `--entry` names the
    wrong one. With an approval goes its mark as the target; a sheet that one rests on is not crossed out alone.
    """
    wrong, post = wrong_one(actor, form, post)
    why = form.one("why")
    content = {"step": "cross-out", "crosses": wrong, "why": why}
    saved = posting.before(db, actor, post, content)
    if saved is not None:
        return _logged(saved)
    entry = entries.find(db, wrong)
    faults = []
    if entry is None:
        faults.append(Fault("entry", _("There is no entry “{entry}”.").format(entry=wrong[:40])))
    elif of is not None and getattr(entry, of[0]) not in of[1]:
        faults.append(Fault("entry", _belongs_to(db, entry)))
    if not why:
        faults.append(Fault("why", _("Say why it is crossed out.")))
    if faults or entry is None:
        raise Refused(faults)
    if entry.step == "cross-out":
        raise Refused(_("What is crossed out stays crossed out."), "entry")
    run = runs.get(db, entry.run) if entry.step == "sheet" and entry.run is not None else None
    if run is not None and run.story.approved and run.story.sheet_entry == entry.entry:
        message = _("The approval rests on this set-up: cross the approval out first, or note what differs.")
        raise Refused(message, "entry")

    def act() -> dict[str, Any]:
        assert entry is not None
        if entries.crossed_by(db, [entry.entry]):
            raise Refused(_("That entry is crossed out already."), "entry")
        shop = zone(db)
        same_day = entry.saved_at.astimezone(shop).date() == now.astimezone(shop).date()
        if not actor.manages and not (entry.person == actor.id and same_day):
            raise NotAllowed(_("You can cross out your own entries of today; the manager crosses out others."), "entry")
        crossings = [
            posting.line(
                actor,
                "cross-out",
                now,
                now,
                {"entry": one.entry, "why": why},
                screen=one.screen,
                run=one.run,
                job=one.job,
                bucket=one.bucket,
            )
            for one in (entry, *_counted_with(db, entry), *_marked_with(db, entry))
        ]
        lines = numbered(post, crossings)
        write(db, lines)
        return {"entries": [one.entry for one in lines], "verdict": None}

    return _logged(once(db, actor, post, content, now, act))


def _belongs_to(db: Database, entry: Entry) -> str:
    """Where an entry is to be crossed out that is not about what was shown."""
    screen = screens.get(db, entry.screen) if entry.screen is not None else None
    if screen is not None:
        said = _("That entry belongs to screen {screen}. Cross it out on that screen’s page.")
        return said.format(screen=f"{shown(screen.code)} {screen.life.mark}".strip())
    if entry.run is not None:
        return _("That entry belongs to run {run}. Cross it out on that run’s page.").format(run=entry.run)
    if entry.bucket is not None:
        code = codes.current(db, "bucket", entry.bucket) or ""
        said = _("That entry belongs to bucket {bucket}. Cross it out on that bucket’s page.")
        return said.format(bucket=shown(code))
    return _("That entry belongs to no screen, run or bucket. It cannot be crossed out here.")


def wrong_one(actor: Actor, form: Form, post: str) -> tuple[str, str]:
    """What a crossing out names as wrong, and the id of its post: where `entry` alone names the wrong one, the post has
    no id of its own, and the same crossing out gets the same one."""
    wrong = form.one("crosses") or form.one("entry")
    if not form.one("crosses") and post == wrong:
        post = "x-" + hashlib.sha256(f"{wrong} {actor.id}".encode()).hexdigest()[:22]
    return wrong, post


def _counted_with(db: Database, entry: Entry) -> list[Entry]:
    """The impressions that a count wrote on the screens, or the test prints of a set-up: they go with it, or the
    screens would have printed more than the run."""
    tests = "test_prints" in entry.values
    if (entry.step != "count" and not tests) or entry.run is None or entry.screen is not None:
        return []
    same = [
        one
        for one in entries.of(db, "run", entry.run)
        if one.post == entry.post and one.step == "print" and ("test_prints" in one.values) is tests
    ]
    crossed = entries.crossed_by(db, [one.entry for one in same])
    return [one for one in same if one.entry not in crossed]


def _marked_with(db: Database, entry: Entry) -> list[Entry]:
    """That a run is the target goes with its approval: another approval is marked again, by whoever may."""
    if entry.step != "approve" or entry.run is None:
        return []
    log = entries.of(db, "run", entry.run)
    return [one for one in standing_lines(log) if one.step == "use-next-time"]


def cross_out_all(
    db: Database, actor: Actor, wrong_post: str, why: str, *, post: str, now: datetime, run: int | None = None
) -> Logged:
    """Crosses out every entry of one post (a whole rack logged by mistake; with `run` the end of that run), with why;
    those crossed out before stay.

    Own entries the same day; others' by the manager. All or none.
    """
    content = {"step": "cross-out", "crosses": wrong_post, "why": why}
    saved = posting.before(db, actor, post, content)
    if saved is not None:
        return _logged(saved)
    earlier = entries.answer(db, wrong_post)
    wrong = earlier.get("entries", []) if earlier else []
    faults = []
    named = [entries.find(db, one) for one in wrong]
    if not named or None in named:
        faults.append(Fault("entry", _("There is no entry “{entry}”.").format(entry=wrong_post[:40])))
    elif others := [one for one in named if one is not None and (one.run != run if run else one.screen is None)]:
        faults.append(Fault("entry", _belongs_to(db, others[0])))
    if not why:
        faults.append(Fault("why", _("Say why it is crossed out.")))
    if faults:
        raise Refused(faults)

    def act() -> dict[str, Any]:
        done: list[str] = []
        for number, entry in enumerate(wrong, 1):
            if not entries.crossed_by(db, [entry]):  # what a count printed goes with it
                sent = Form({"crosses": [entry], "why": [why]})
                done += cross_out(db, actor, sent, post=f"{post[:27]}-{number}", now=now).entries
        if not done:
            raise Refused(_("These entries are crossed out already."), "entry")
        return {"entries": done, "verdict": None}

    return _logged(once(db, actor, post, content, now, act))
