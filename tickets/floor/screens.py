"""The acts on screens: register, log a step, cross out, and what a form should be prefilled with."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

from sqlite_utils import Database

from tickets.calculator import units
from tickets.calculator.drying import Air
from tickets.calculator.exposure import POINT_LAMP
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.floor import asked, learning
from tickets.floor.asked import asked_for, emulsion_of, work_of, works_of
from tickets.floor.posting import (
    Asks,
    Form,
    Worse,
    act_time,
    numbered,
    once,
    shift_begun,
    the_spec,
    write,
    zone,
)
from tickets.records import bucket as buckets_rules
from tickets.records import checks, steps
from tickets.records import screen as rules
from tickets.records.bucket import Bucket
from tickets.records.checks import Asked
from tickets.records.code import NoCode, read, shown
from tickets.records.entry import Entry, read_stamp, stamp, standing_lines, wholes_of
from tickets.records.needs import sentences
from tickets.records.person import Actor
from tickets.records.refusal import Fault, NotAllowed, NotFound, Refused
from tickets.records.room import Room
from tickets.records.screen import STANDING_WORDS, Life, Standing
from tickets.records.spec import Spec
from tickets.store import buckets, codes, entries, jobs, people, places, runs, screens
from tickets.store.settings import setting
from tickets.words import day_text
from tickets.words import gettext as _

MOST_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Logged:
    """What a post came to: the ids of its entries, the verdict shown, and the screen after it. `again`: sent before."""

    entries: tuple[str, ...]
    verdict: Verdict | None
    again: bool = False
    code: str = ""
    """The code that the screen got, where its tag was replaced."""


def find(db: Database, text: str) -> screens.Screen:
    """The screen of a code (a replaced one too). Raises NotFound, or Refused for what is no code."""
    try:
        code = read(text)
    except NoCode as fault:
        raise Refused(str(fault), "code") from None
    issued = codes.find(db, code)
    if issued is None or issued.kind != "screen":
        raise NotFound(_("There is no screen {code} here.").format(code=shown(code)), "code")
    screen = screens.get(db, issued.thing)
    assert screen is not None
    return screen


def add(db: Database, actor: Actor, form: Form, *, post: str, now: datetime, number: int = 1) -> list[str]:
    """Registers `number` screens of one mesh, each with its `stretch` entry; their codes.

    `form` holds the fields of `stretch`; a `mark` goes to a single screen, or is counted up (“A 12”, “A 13”, ...).
    """
    if not 1 <= number <= MOST_AT_ONCE:
        raise Refused(_("Between 1 and {most} screens at once.").format(most=MOST_AT_ONCE), "number")
    values, typed = steps.read(steps.SCREEN_STEPS["stretch"], form.sent, ("number",))
    at = act_time(form.one("at"), zone(db), now)
    mark = str(values.pop("mark", ""))

    def act() -> dict[str, Any]:
        made, lines = [], []
        for count in range(number):
            screen = screens.next_number(db)
            code = codes.issue(db, "screen", screen, stamp(now))
            screens.add(db, code, screen, stamp(now))
            own = {**values, "mark": _counted(mark, count)} if mark else dict(values)
            verdict = judged(db, screen, Life(), "stretch", own, at, actor.id)
            lines.append(line(actor, "stretch", at, now, own, typed, screen=screen, verdict=verdict))
            made.append(str(code))
        write(db, numbered(post, lines))
        return {"codes": made}

    answer = once(db, actor, post, {"step": "add", "number": number, **form.sent}, now, act)
    return [str(code) for code in answer["codes"]]


def _counted(mark: str, count: int) -> str:
    digits = len(mark) - len(mark.rstrip("0123456789"))
    if not count:
        return mark
    if not digits:
        return f"{mark} {count + 1}"
    return f"{mark[:-digits]}{int(mark[-digits:]) + count:0{digits}d}"


def line(
    actor: Actor,
    step: str,
    at: datetime,
    now: datetime,
    values: Mapping[str, Any],
    typed: Mapping[str, Any] | None = None,
    *,
    verdict: Verdict | None = None,
    override: Mapping[str, Any] | None = None,
    screen: int | None = None,
    run: int | None = None,
    job: int | None = None,
    bucket: int | None = None,
) -> Entry:
    """An entry as it goes into a post; `numbered` gives it its id."""
    return Entry(
        entry="",
        step=step,
        at=at,
        saved_at=now,
        person=actor.id,
        signed=actor.signed,
        values=values,
        typed=typed or {},
        verdict=verdict.to_dict() if verdict else None,
        override=override,
        screen=screen,
        run=run,
        job=job,
        bucket=bucket,
    )


def life_at(db: Database, screen: screens.Screen, at: datetime) -> Life:
    """The screen's life just before `at`: for a step that is typed in later, the log up to then."""
    if not screen.life.last_at or stamp(at) >= screen.life.last_at:
        return screen.life
    before = [entry for entry in entries.of(db, "screen", screen.id) if entry.at <= at or entry.step == "cross-out"]
    return rules.replay(before, setting(db, "steps"), places.outside(db))


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
        values, typed = steps.read(known, posted.sent, ("screen", "head", "station", "run", "press"))
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
        lines = asked_first(db, lines, step, form, now, in_hand)
        answer: dict[str, Any] = {"then": then} if then else {}
        if step == "retag":
            answer["code"] = _retag(db, lines, stamp(now))
        lines = numbered(post, lines)
        write(db, lines)
        return {**answer, "entries": [line.entry for line in lines], "verdict": worst.to_dict() if worst else None}

    return _logged(once(db, actor, post, content, now, act))


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
    life = life_at(db, screen, at)
    lines: list[Entry] = []
    outside = places.outside(db)
    probe = line(actor, step, at, now, values, screen=screen.id)
    if rules.after(life, probe, logged, outside).conflicts != life.conflicts or _unsaid(life, step):
        if not form.yes("in_hand"):
            in_hand.append(question(life, step, screen.code, db, now))
        seen: dict[str, Any] = {"standing_seen": str(rules.asked_standing(step))}
        named = list(jobs.separations(db, _numbers(form.sent.get("separations_seen", ()))))
        if named:
            seen["separations_seen"] = named
        # a screen found off its press leaves the run that it hung in
        left = life.run if life.standing is Standing.ON_PRESS else None
        found = line(actor, "found", at, now, seen, screen=screen.id, run=left)
        lines.append(found)
        life = rules.after(life, found, logged, outside)
    values = dict(values)
    if in_hand:
        return [*lines, line(actor, step, at, now, values, typed, screen=screen.id)], None
    if step == "image" and form.one("accept"):
        wishes = dict.fromkeys(one.mesh for one in asked_for(db, values["separations"]))
        values["accept"] = {"who": actor.name, "why": form.one("accept"), "asked": list(wishes), "lead": actor.leads}
    if confirmed and confirms(db, actor, life, step, values):
        values["confirmed"] = rules.ALONE
    verdict = judged(db, screen.id, life, step, values, at, actor.id, form.one("for_work"))
    _shown(form, verdict)
    run = (values.get("run") or life.run) if step in {"pull", "print"} else None
    if step == "hang":
        raise Refused(_("A screen is hung from its run’s page, which checks it first."), "step")
    lines.append(line(actor, step, at, now, values, typed, verdict=verdict, screen=screen.id, run=run))
    return lines, verdict


def confirms(db: Database, actor: Actor, life: Life, step: str, values: Mapping[str, Any]) -> bool:
    """Whether the PIN of `actor` stands for the second pair of eyes that this check needs: the same person named by eye
    what is on the screen, and nobody else here can sign in."""
    if step != "check" or values.get("result") != "good" or life.stencil is None:
        return False
    return life.stencil.by_eye == actor.id and people.alone(db, actor.id)


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


def _unsaid(life: Life, step: str) -> bool:
    """A log that contradicts itself asks before anything is added that would not clear it."""
    return life.conflict and step not in {
        "found",
        "stretch",
        "strip",
        "note",
        "rack",
        "tension",
        "retire",
        "retag",
        "fault",
    }


def _numbers(sent: Iterable[str]) -> list[int]:
    texts = [text for part in sent for text in part.replace(",", " ").split()]
    return [int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 10]


def _shown(form: Form, verdict: Verdict | None) -> None:
    """Refuses when the verdict got worse than the one the sender saw (`seen`: its level)."""
    seen = form.one("seen")
    if verdict is None or seen not in {str(level) for level in Level}:
        return
    if verdict.level.rank > Level(seen).rank:
        raise Worse(_("This got worse since you saw it: look again."), verdict, "seen")


def question(life: Life, step: str, code: str, db: Database, now: datetime) -> str:
    """The one question that a step against the log asks."""
    if life.conflict:
        return _("The log of {code} contradicts itself. In your hands now?").format(code=shown(code))
    if life.standing is Standing.UNKNOWN:
        return _("The log does not say how far {code} is. In your hands now?").format(code=shown(code))
    shop = zone(db)
    since = day_text(read_stamp(life.since).astimezone(shop).date(), now.astimezone(shop).date()) if life.since else ""
    if life.standing is Standing.ON_PRESS:
        press = places.get(db, life.place) if life.place else None
        where = press.name if press else _("press")
        return _("The log says {code} hangs on {where} since {since}. In your hands now?").format(
            code=shown(code), where=where, since=since
        )
    said = _("The log says {code} is “{standing}” since {since}.").format(
        code=shown(code), standing=_(STANDING_WORDS[life.standing]), since=since
    )
    if life.stencil is not None and life.stencil.separations and step in {"degrease", "coat", "image"}:
        images = jobs.separations(db, list(life.stencil.separations)).values()
        carries = ", ".join(f"{image.name} ({image.art} {image.revision}, {image.customer})" for image in images)
        said += " " + _("It carries {images}. Was that stencil stripped?").format(images=carries)
    return said + " " + _("In your hands now?")


LIES_STILL = frozenset({"rack", "tension", "decide", "fault", "note", "retag"})
"""Steps that take no screen away from where it lies."""


def moved_on(life: Life) -> bool:
    """True when a screen was worked on after it was last put somewhere: nobody said where it went since."""
    if life.place is None or life.standing in {Standing.ON_PRESS, Standing.AWAY}:
        return False
    return life.place_since < life.since or (life.place_since < life.last_at and life.last_step not in LIES_STILL)


def _look_up(db: Database, step: steps.Step, values: dict[str, Any]) -> dict[str, Any]:
    """Things named in a form become their numbers; unknown ones are refused with what there is."""
    faults: list[Fault] = []
    for field in step.fields:
        if field.name not in values:
            continue
        try:
            if field.kind == "bucket":
                values[field.name] = _thing(db, values[field.name], "bucket")
            elif field.kind == "place":
                place = find_place(db, values[field.name])
                if place.retired_at:
                    gone = _("{place} is out of use: choose another place, or ask the manager to bring it back.")
                    raise Refused(gone.format(place=place.name), field.name)
                values[field.name] = place.id
            elif field.kind == "unit":
                values[field.name] = _unit(db, values[field.name])
            elif field.kind == "separations":
                missing = [number for number in values[field.name] if jobs.separation(db, number) is None]
                if missing:
                    raise Refused(_("There is no separation {numbers}.").format(numbers=", ".join(map(str, missing))))
            elif field.name == "run" and runs.get(db, values["run"]) is None:
                raise Refused(_("There is no run {number} here.").format(number=values["run"]))
            elif field.kind == "choice" and field.name == "standing_seen" and values[field.name] not in list(Standing):
                raise Refused(_("One of: {choices}.").format(choices=", ".join(Standing)))
        except Refused as refused:
            faults += [Fault(field.name, fault.message) for fault in refused.faults]
    if step.name == "washout" and values.get("result") == "good":
        values.pop("fault", None)
    if faults:
        raise Refused(faults)
    return values


def _thing(db: Database, text: str, kind: str) -> int:
    try:
        issued = codes.find(db, read(text))
    except NoCode as fault:
        raise Refused(str(fault)) from None
    if issued is None or issued.kind != kind:
        there = ", ".join(shown(bucket.code) for bucket in buckets.open_ones(db, limit=6)) if kind == "bucket" else ""
        raise Refused(_("There is no such {kind} here. {there}").format(kind=kind, there=there).strip())
    return issued.thing


def find_place(db: Database, text: str) -> places.Place:
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


def _unit(db: Database, text: str) -> str:
    unit = places.find_unit(db, text)
    if unit is not None:
        return unit.name
    known = places.units(db)
    if known:
        there = ", ".join(unit.name for unit in known)
        raise Refused(_("There is no exposure unit “{text}”; there are: {there}.").format(text=text[:40], there=there))
    return text  # a shop that has not listed its units yet


# Verdicts --------------------------------------------------------------------------------------------------


def air_of(db: Database, life: Life, now: datetime) -> Air | None:
    """The air that what is wet of a screen dries in: the room as it was read last since the shift in which that was
    wetted; None where nothing is wet or nobody read it."""
    _step, at = rules.wet_since(life)
    longest = the_spec(db).find("hours-to-dry-longest")
    if not at or (longest and (now - read_stamp(at)).total_seconds() > 3600 * longest.value):
        return None
    read = room_of_the_shift(db, read_stamp(at), until=now)
    return Air(read.room_c, read.room_rh_pct) if read else None


def is_wet(db: Database, life: Life, now: datetime) -> bool:
    """True while something of a screen is not dry yet, as far as anybody knows."""
    return bool(checks.dry(life, the_spec(db), now, air_of(db, life, now)))


def judged(
    db: Database,
    screen: int,
    life: Life,
    step: str,
    values: Mapping[str, Any],
    at: datetime,
    person: int,
    in_hand: str = "",
) -> Verdict | None:
    """The verdict beside a step; None for a step that is not judged. `life` is that before the step; `in_hand`: the
    work that somebody picks a frame for."""
    spec = the_spec(db)
    if values.get("dry"):  # whoever has it in hand knows more than any reckoning
        life = replace(life, dry_at=stamp(at))
    match step:
        case "stretch":
            odd = checks.sheet(values, steps.count_per_cm(str(values["mesh_count_as_labelled"])), spec)
            return judge(odd) if odd else None
        case "tension":
            warp, weft = values["readings_n_per_cm"], values.get("readings_weft_n_per_cm", ())
            life = replace(life, tension=rules.Tension("", stamp(at), tuple(warp), tuple(weft)))
            return judge(checks.readings(life, warp, weft, work_of(db, life, in_hand), spec))
        case "coat":
            bucket = buckets.get(db, values["bucket"]) if values.get("bucket") else None
            lately, air = room_of_the_shift(db, at, then=True), air_of(db, life, at)
            slack = [] if life.tension is None else checks.tension(life, work_of(db, life, in_hand), spec, at)
            slack = [one for one in slack if one.key == "tension-under-floor"]
            found = checks.coat(life, bucket, values, spec, at, lately, air)
            return judge([*found.reasons, *slack]) if slack else found
        case "image":
            if values.get("accept"):
                stencil = life.stencil or rules.Stencil()
                life = replace(life, stencil=replace(stencil, accepted=values["accept"]))
            air = air_of(db, life, at)
            return checks.image(life, asked_for(db, values["separations"]), emulsion_of(db, life), spec, at, air)
        case "expose":
            return _judged_exposure(db, life, values, spec, at)
        case "washout":
            exposure_s = life.stencil.exposure_s if life.stencil else None
            emulsion = emulsion_of(db, life)
            return checks.washout(values, exposure_s, spec, emulsion=emulsion.sort if emulsion else None)
        case "check":
            verdict = checks.check(values, life, person)
            return judge([*verdict.reasons, *checks.dry(life, spec, at, air_of(db, life, at))])
    return None


def _judged_exposure(db: Database, life: Life, values: Mapping[str, Any], spec: Spec, at: datetime) -> Verdict:
    """An exposure against what the shop set, or learned from this very combination, in seconds or in units."""
    wanted = learning.wanted(
        db,
        life,
        str(values.get("exposure_unit", "")),
        at,
        irradiance_mw_cm2=values.get("irradiance_mw_cm2"),
        distance_mm=values.get("distance_mm"),
    )
    verdict = checks.expose(
        life,
        values,
        wanted.seconds.wanted,
        works_of(db, life),
        emulsion_of(db, life),
        spec,
        at,
        wanted_units=wanted.units.wanted,
        air=air_of(db, life, at),
    )
    if values.get("purpose") == checks.TEST_STRIP:
        return verdict
    near: list[Reason] = []
    if wanted.lamp == POINT_LAMP:  # as noted with this very exposure: an older note would say it again each time
        images = wholes_of(values, "separations") or (life.stencil.separations if life.stencil else ())
        near = checks.lamp_distance(values.get("distance_mm"), asked.diagonal_mm(db, images), spec)
    in_units = values.get("exposure_units") is not None and (values.get("exposure_s") is None or wanted.counts)
    doubts = wanted.doubts(in_units)
    nearest = any(reason.level is Level.UNKNOWN for reason in doubts)  # it says more than that no time is known
    told = [one for one in verdict.reasons if not (nearest and one.key == "exposure-time-unknown")]
    return judge([*told, *doubts, *near])


def wanted_exposure(db: Database, life: Life, unit: str, at: datetime) -> float | None:
    """The wanted time in s for this exposure unit, emulsion, mesh, colour and coats: set by the shop, or learned from
    this very combination; None where it has none."""
    return learning.wanted(db, life, unit, at).seconds.wanted


# Prefilled forms ---------------------------------------------------------------------------------------------


def habits(
    db: Database, screen: screens.Screen, step: str, now: datetime, *, then: bool = False
) -> dict[str, Any]:
    """What a form of this step should be prefilled with, from the shop's habits: values by field name. `then`: `now` is
    a time gone by, and what counts is the bucket in use then, the preset, the wanted time, the mesh of then.

    Only what people choose: what somebody measures or finds is never filled in.
    """
    life = life_at(db, screen, now) if then else screen.life
    until = stamp(now) if then else ""
    match step:
        case "coat":
            bucket = _usual_bucket(db, now, then)
            last = screens.last_values(db, "coat", until=until)
            presets = setting(db, "presets")
            preset = last.get("preset") or (presets[0]["name"] if presets else "")
            return {"bucket": bucket.code if bucket else "", "preset": preset}
        case "expose":
            unit = str(screens.last_values(db, "expose", until=until).get("exposure_unit", ""))
            there = [one.name for one in places.units(db)]
            if there and unit not in there:  # none yet, or one that is out of use
                unit = there[0]
            wanted = learning.wanted(db, life, unit, now)
            name, known = ("exposure_units", wanted.units) if wanted.counts else ("exposure_s", wanted.seconds)
            typed = known.typed
            if not typed and life.mesh is not None:  # no wanted time yet: what this mesh got last on this unit
                last = screens.last_values(db, "expose", life.mesh.count_as_labelled, until=until)
                same = last.get("exposure_unit", "") == unit and last.get("purpose") != checks.TEST_STRIP
                typed = f"{last['exposure_s']:g}" if same and last.get("exposure_s") else ""
            return {"exposure_unit": unit, **({name: typed} if typed else {})}
        case "image":
            return {
                "separations": [number for number, _text, fits in image_choices(db, screen, now) if fits][:1],
                "means": "film",
            }
        case "pull":
            return {"then": "undecided"}
        case "rack":
            last = screens.last_values(db, "rack", until=until)
            place = places.get(db, int(last["place"])) if last.get("place") else None
            usual = place is not None and not place.outside  # a place outside the shop is never a habit
            return {"place": place.name if place and usual else ""}
        case "stretch" if life.mesh is not None:
            return {
                "mesh_count_as_labelled": life.mesh.count_as_labelled,
                "thread_um": f"{life.mesh.thread_um:g}" if life.mesh.thread_um else "",
                "frame": life.mesh.frame,
                "mesh_colour": life.mesh.colour,
            }
    return {}


def _usual_bucket(db: Database, now: datetime, then: bool) -> Bucket | None:
    """The newest emulsion in use; one past its time or with a failed strip is never a habit, nor is another kind in its
    place, which would want another exposure."""
    there = _emulsions_then(db, now) if then else buckets.open_ones(db, emulsions=True, limit=20)
    good = (one for one in there if one.test != "fault" and (one.test == "good" or not one.past(now)))
    return next((one for one in good if one.kind == there[0].kind), None)


def _emulsions_then(db: Database, at: datetime) -> list[Bucket]:
    """The emulsions that were open at a time gone by, as they stood then, the last one taken into use first."""
    found = []
    for bucket in buckets.emulsions_then(db, stamp(at)):
        log = [one for one in entries.of(db, "bucket", bucket.id) if one.at <= at or one.step == "cross-out"]
        found.append(buckets_rules.replay(bucket, log, the_spec(db)))
    return sorted(found, key=lambda one: (one.used_at or "", one.mixed_at), reverse=True)


def room_of_the_shift(
    db: Database, at: datetime, *, then: bool = False, until: datetime | None = None
) -> Room | None:
    """The last reading of the room since the shift of `at` began, never one of a shift before; `then`: taken by `at`;
    `until`: taken by then."""
    return places.room_reading(db, shift_begun(db, at), stamp(until or at) if then or until else "")


def _as_it_was(
    db: Database, screen: screens.Screen, step: str, form: Form, now: datetime
) -> tuple[Form, list[str]]:
    """What was sent, and which fields were changed: in an act that is dated back, what the form had filled in by itself
    (`usual`: NAME=VALUE, and sent as it was) becomes what the form would have had then. What people chose stays."""
    usual = dict(text.split("=", 1) for text in form.sent.get("usual", ()) if "=" in text)
    if not usual or not form.one("at"):
        return form, []
    at = act_time(form.one("at"), zone(db), now)
    untouched = {name for name, text in usual.items() if text and form.one(name) == text and _own_unit(form, name)}
    if at >= now or not untouched:
        return form, []
    was = {name: str(text) for name, text in habits(db, screen, step, at, then=True).items() if text}
    changed = {name for name in untouched if was.get(name, "") != usual[name]}
    if changed - set(was):  # exposed by the integrator then, by the clock now: one stands for the other
        changed |= {name for name in was if name not in usual and not form.one(name)}
    sent = {name: texts for name, texts in form.sent.items() if name.removesuffix(".unit") not in changed}
    return Form(sent | {name: [was[name]] for name in changed if name in was}), sorted(changed)


def _own_unit(form: Form, name: str) -> bool:
    """Whether a number is still in the unit that it was filled in with."""
    return form.one(f"{name}.unit") in {"", units.unit_of(name) or ""}


def image_choices(
    db: Database, screen: screens.Screen, now: datetime, most: int = 120, near: bool = False
) -> list[tuple[int, str, bool]]:
    """The separations that open jobs want, for the form: (number, text, whether it is for this screen: the mesh is
    right and no screen carries it yet).

    Those that this mesh fits and that have no screen yet come first, then by due date; `most` at most. `near`: only
    those of about this screen's mesh.
    """
    spec, today = the_spec(db), now.astimezone(zone(db)).date()
    own = screen.life.mesh.count_per_cm if screen.life.mesh else 0.0
    lines: dict[int, jobs.Wanted] = {}
    for line in jobs.wanted(db, limit=120):
        if not near or abs(line.count_per_cm - own) <= 0.05 * own:
            lines.setdefault(line.separation, line)
    has = screens.carried_anywhere(db, list(lines))
    ordered = sorted(
        lines.values(), key=lambda line: (abs(line.count_per_cm - own) > 0.05 * own, line.separation in has)
    )
    found: list[tuple[int, str, bool]] = []
    for line in ordered[:most]:
        image = jobs.separation(db, line.separation)
        if image is None:
            continue
        asked = Asked(0, line.separation, image, line.mesh, line.count_per_cm, line.thread_um, line.work)
        fits = all(reason.level in {Level.OK, Level.CAUTION} for reason in checks.same_mesh(screen.life, asked, spec))
        due = day_text(date.fromisoformat(line.due), today)
        text = f"{image.name} · {image.art} {image.revision} · {line.mesh} · {line.customer} · {due}"
        if line.separation in has:
            other = screens.carrying(db, line.separation, 1)[0]
            text += " · " + _("already on {screen}").format(screen=other.life.mark or shown(other.code))
        found.append((line.separation, text, fits and line.separation not in has))
    return sorted(found, key=lambda choice: not choice[2])


def against_log(db: Database, screen: screens.Screen, step: str) -> bool:
    """True when this step of the screen would be asked about first ("in your hands now?")."""
    late = datetime.max.replace(tzinfo=UTC)
    probe = Entry(entry="", step=step, at=late, saved_at=late, person=0)
    after = rules.after(screen.life, probe, setting(db, "steps"), places.outside(db))
    return after.conflicts != screen.life.conflicts or _unsaid(screen.life, step)


# Crossing out -------------------------------------------------------------------------------------------------


def cross_out(
    db: Database, actor: Actor, form: Form, *, post: str, now: datetime, of: tuple[str, Sequence[int]] | None = None
) -> Logged:
    """Crosses out an entry (field `crosses`; or `entry` alone), with why.

    Own entries the same day; others' by the manager. `of`: what it must be about (screen, run or bucket, its numbers).
    """
    wrong, post = wrong_one(actor, form, post)
    why = form.one("why")
    entry = entries.find(db, wrong)
    faults = []
    if entry is None:
        faults.append(Fault("entry", _("There is no entry “{entry}”.").format(entry=wrong[:40])))
    elif of is not None and getattr(entry, of[0]) not in of[1]:
        faults.append(Fault("entry", _("That entry is about another thing: cross it out on its own page.")))
    if not why:
        faults.append(Fault("why", _("Say why it is crossed out.")))
    if faults or entry is None:
        raise Refused(faults)
    if entry.step == "cross-out":
        raise Refused(_("A crossing out is final."), "entry")
    run = runs.get(db, entry.run) if entry.step == "sheet" and entry.run is not None else None
    if run is not None and run.story.approved and run.story.sheet_entry == entry.entry:
        message = _("The approval rests on this set-up: cross the approval out first, or note what is otherwise.")
        raise Refused(message, "entry")

    def act() -> dict[str, Any]:
        assert entry is not None
        if entries.crossed_by(db, [entry.entry]):
            raise Refused(_("That entry is crossed out already."), "entry")
        shop = zone(db)
        same_day = entry.saved_at.astimezone(shop).date() == now.astimezone(shop).date()
        if not actor.manages and not (entry.person == actor.id and same_day):
            raise NotAllowed(_("Own entries of today can be crossed out; others by the manager."), "entry")
        crossings = [
            line(
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

    answer = once(db, actor, post, {"step": "cross-out", "crosses": entry.entry, "why": why}, now, act)
    return Logged(tuple(answer["entries"]), None, bool(answer.get("again")))


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
    """That a run is the target goes with its approval: another approval is marked anew, by whoever may."""
    if entry.step != "approve" or entry.run is None:
        return []
    log = entries.of(db, "run", entry.run)
    return [one for one in standing_lines(log) if one.step == "use-next-time"]


def cross_out_all(db: Database, actor: Actor, wrong_post: str, why: str, *, post: str, now: datetime) -> Logged:
    """Crosses out every entry of one post (a whole rack logged by mistake), with why; those crossed out before stay.

    Own entries the same day; others' by the manager. All or none.
    """
    earlier = entries.answer(db, wrong_post)
    wrong = earlier.get("entries", []) if earlier else []
    faults = []
    if not wrong:
        faults.append(Fault("entry", _("There is no entry “{entry}”.").format(entry=wrong_post[:40])))
    elif any(found is None or found.screen is None for found in (entries.find(db, one) for one in wrong)):
        faults.append(Fault("entry", _("That entry is about another thing: cross it out on its own page.")))
    if not why:
        faults.append(Fault("why", _("Say why it is crossed out.")))
    if faults:
        raise Refused(faults)

    def act() -> dict[str, Any]:
        done: list[str] = []
        gone = entries.crossed_by(db, wrong)
        for number, entry in enumerate(wrong, 1):
            if entry not in gone:
                sent = Form({"crosses": [entry], "why": [why]})
                done += cross_out(db, actor, sent, post=f"{post[:27]}-{number}", now=now).entries
        if not done:
            raise Refused(_("These entries are crossed out already."), "entry")
        return {"entries": done, "verdict": None}

    content = {"step": "cross-out", "crosses": wrong_post, "why": why}
    answer = once(db, actor, post, content, now, act)
    return Logged(tuple(answer["entries"]), None, bool(answer.get("again")))


def names_of(db: Database) -> dict[int, str]:
    """People's names by number, for a log on a page."""
    return people.names(db)
