"""The pages of one screen: what it is, the step that comes next, its log."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from flask import Blueprint, Response, g, redirect, request
from markupsafe import Markup
from sqlite_utils import Database
from werkzeug.wrappers import Response as AnyResponse

from tickets import i18n as words
from tickets.actions import screens as screens_acts
from tickets.calculator import typed, units
from tickets.calculator.colour import of_name
from tickets.calculator.drying import WET
from tickets.calculator.verdict import Level, Reason, Said, Verdict, say
from tickets.domain import stages, steps
from tickets.domain.code import Code, NoCode, read, shown
from tickets.domain.entry import Entry, stamp
from tickets.domain.person import HANGS
from tickets.domain.posted import Asks, Worse, form
from tickets.domain.refusal import Clash, NotAllowed, NotFound, Refused
from tickets.domain.screens import needs, works
from tickets.domain.screens.screen import Life
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import asked as asked_now
from tickets.queries import due as due_now
from tickets.queries import open_runs, print_order, screen_steps
from tickets.queries import said as said_now
from tickets.queries.asked import next_step, work_of
from tickets.store import entries, jobs, pictures, places, screens
from tickets.store.screens import COULD_TAKE
from web import learning, log
from web.steps import (
    ELSEWHERE,
    NOT_REPEATED,
    WHYS,
    StepForm,
    ask_page,
    form_html,
    form_of,
    macro,
    work_in_hand,
    worse_page,
)
from web.support import (
    actor,
    ago,
    confirm_once,
    faults_by_field,
    form_lists,
    fresh_secret,
    held,
    local_date,
    measured,
    named,
    new_entry_id,
    not_by_enter,
    one_of,
    page,
    saved_by_me,
    set_doing,
    units_read,
    zone,
)

bp = Blueprint("screens", __name__)

PAGE_LINES = 15
_CODE = "\x00"  # no page has it in its text
URGENT = frozenset({"torn", "coated-too-long", "tension-under-floor"}) | WET
"""What must be known before the step that comes next."""


@dataclass(frozen=True, slots=True)
class Image:
    """An image on a screen, and the open jobs that want it: (address, text). `named`: its name as it is shown, with a
    swatch where it says a colour; `picture`: of its artwork, by hash."""

    name: str
    named: Markup
    text: str
    jobs: tuple[tuple[str, str], ...]
    picture: str = ""


@dataclass(frozen=True, slots=True)
class JustLogged:
    """What was just logged. `code`: the new code of a retagged screen; `then`: what was taken as it was at the time of
    an act that was dated back; `image`: which screens carry the image as well, what of the print is still to make."""

    line: log.LogLine
    verdict: Verdict | None
    found: bool
    repeats: bool
    code: str = ""
    then: str = ""
    image: tuple[str, ...] = ()


def find_screen(text: str) -> tuple[screens.Screen, str]:
    """The screen of a code, and the code it was reached by when that one was replaced (else nothing)."""
    code = _code(text)
    found = screens.behind(g.db, code)
    if found is None:
        raise NotFound(_("This shop has no screen {code}.").format(code=shown(code)), "code")
    screen, replaced = found
    return screen, code if replaced else ""


def _code(text: str) -> Code:
    """The code in an address."""
    try:
        return read(text)
    except NoCode as fault:
        raise NotFound(str(fault), "code") from None


def images_of(db: Database, life: Life, pictured: bool) -> list[Image]:
    """What is on a screen, with the open jobs that want it; `pictured`: with its artwork."""
    out = []
    numbers = life.stencil.separations if life.stencil else ()
    art = pictures.of_separations(db, numbers) if pictured else {}
    for number in numbers:
        image = jobs.separation(db, number)
        if image is None:
            continue
        wanted = {}
        for one in asked_now.still(db, number)[:3]:
            text = _("{title}, position {station}").format(title=one.title, station=one.station)
            wanted[f"/jobs/{one.code}"] = text
        text = f"{image.art} {image.revision} · {named(image.width_mm, 'width_mm')} · {image.customer}"
        picture = art[number].hash if number in art else ""
        out.append(Image(image.name, _separation(image.name), text, tuple(wanted.items()), picture))
    return out


@lru_cache(maxsize=512)
def _separation(name: str) -> Markup:
    """The name of an image with a swatch of its ink."""
    return macro("_look.html", "separation")(name, of_name(name))


def notes_of(life: Life) -> list[str]:
    """What else must be known: gaps, a decision, a fault."""
    out = []
    missing = list(dict.fromkeys(step for _entry, left in life.gaps for step in left))
    if missing:
        names = ", ".join(_(SCREEN_STEPS[step].title) for step in missing)
        out.append(_("Not logged, though it must have been done: {steps}.").format(steps=names))
    if life.keep_until:
        over = life.keep_until < g.now.astimezone(zone()).date().isoformat()
        said = _("Kept until {day}: time to decide.") if over else _("Kept until {day}.")
        out.append(said.format(day=local_date(life.keep_until)))
    if life.keep_for:
        out.append(_("Kept for: {what}.").format(what=life.keep_for))
    if life.decided == "strip" and life.standing is not Standing.TO_STRIP:
        out.append(_("Decided: to be reclaimed."))
    if life.fault:
        words = dict(steps.FAULTS) | dict(steps.CAUSES)
        out.append(_("Noted on the frame: {fault}.").format(fault=_(words.get(life.fault, life.fault))))
    stencil = life.stencil
    if stencil is not None and stencil.condition and life.standing is not Standing.ON_PRESS:
        words = dict(steps.CONDITIONS)
        said = _("This screen came off the press: {condition}. Look it over; a good check clears that.")
        out.append(said.format(condition=_(words.get(stencil.condition, stencil.condition))))
        if needs.going(life) == "worn":
            out.append(_("Until then it covers no job."))
    if stencil is not None and stencil.failed:
        words = dict(steps.WASHOUT_FAULTS)
        what = _(words.get(stencil.fault, "")) or _("not said what")
        out.append(_("The last washout or check found a fault: {fault}.").format(fault=what))
    if stencil is not None and stencil.by_eye is not None:
        out.append(_("The image was judged by eye; another person’s good check makes it sure."))
    return out


@dataclass(frozen=True, slots=True)
class Timer:
    """A timer that the phone runs: its kind, how long it is (0 s: it counts up), whether it runs already, its words."""

    kind: str
    long_s: int
    runs: bool
    words: dict[str, str]


def _timer(form: StepForm | None, reasons: Sequence[Reason]) -> Timer | None:
    """The timer beside a step: the exposure that is set, the washout, or what is still to dry."""
    step = form.step.name if form is not None else ""
    if form is not None and step == "expose" and (text := one_of(form.values, "exposure_s")):
        try:
            long_s = round(typed.read_field("exposure_s", text))
        except units.NotAQuantity:
            return None
        start = _("Start {time}").format(time=named(long_s, "exposure_s"))
        words = {"start": start, "runs": _("{time} of exposure left"), "over": _("Exposure time is over")}
    elif step == "washout":
        long_s, words = 0, {"start": _("Start the washout clock"), "runs": _("{time} of washout"), "over": ""}
    else:
        left = [float(one.numbers["left_min"]) for one in reasons if one.key in WET and "left_min" in one.numbers]
        words = {"runs": _("Dry in {time}"), "over": _("Should be dry now: feel it")}
        return Timer("drying", round(60 * max(left)), True, words) if left and max(left) > 0 else None
    return Timer(step, long_s, False, {**words, "again": _("Back to 0:00")})


def _at_runs(screen: screens.Screen, logged: bool) -> open_runs.AtRuns | None:
    """What press people are told of the open runs; once something is `logged`, only what leads on."""
    if g.person is None or g.person.role not in HANGS:
        return None
    found = open_runs.of(g.db, screen)
    return found if found is not None and (not logged or found.waiting or found.lacks) else None


def needs_first(screen: screens.Screen) -> list[Said]:
    """What this screen needs, whatever a phone is doing to every screen: what is due, and what nobody logged of it."""
    system = units_read()
    said = [say(reason, system) for reason in due_now.of_screen(g.db, screen.life, g.now, work_in_hand())]
    return [one for one in said if one.level is not Level.OK]


def where_of(db: Database, life: Life) -> tuple[str, str]:
    """Where a screen is, or was last seen: (text, address); empty where nobody said."""
    place = places.get(db, life.place) if life.place else None
    if life.standing is Standing.ON_PRESS:
        name = place.name if place else _("press")
        text = _("{press}, head {head}").format(press=name, head=life.head) if life.head else name
        return text, f"/runs/{life.run}" if life.run else ""
    if place is None:
        gone = places.get(db, life.not_at) if life.not_at else None
        if gone is None:
            return "", ""
        said = _("missing since the stock-take of {place}, {day}")
        return said.format(place=gone.name, day=local_date(life.place_since)), f"/places/{gone.code}"
    return screen_steps.seen_at(life, place.name), f"/places/{place.code}"


def mesh_facts(life: Life) -> list[tuple[str, str, str]]:
    """The mesh in numbers: (what, value, where it comes from); the maker's sheet wins over what is computed."""
    mesh = life.mesh
    if mesh is None or not mesh.count_per_cm:
        return []
    sheet, computed = _("maker’s sheet"), _("computed")
    out = [(_("Mesh"), mesh.said, _("as labelled"))]
    computed_values: dict[str, str] = {}
    try:
        for name, ends in mesh.computed().items():
            low, high = (units.show(one, units_read()) for one in ends)
            computed_values[name] = low if low == high else _("{low} to {high}").format(low=low, high=high)
    except units.CannotBe as fault:
        out.append((_("Opening"), str(fault), computed))
    for name, label in (
        ("opening_um", _("Opening")),
        ("open_area_pct", _("Open area")),
        ("fabric_thickness_um", _("Fabric thickness")),
        ("ink_volume_cm3_m2", _("Ink volume")),
    ):
        own = getattr(mesh, name)
        if own:
            out.append((label, named(own, name), sheet))
        elif name in computed_values:
            out.append((label, computed_values[name], computed))
    return out


# whole: the values of one template, each by its name
def screen_page(
    screen: screens.Screen,
    *,
    status: int = 200,
    form: StepForm | None = None,
    done: JustLogged | None = None,
    replaced: str = "",
    scanned: bool = False,
    crossing: Entry | None = None,
    faults: Mapping[str, str] | None = None,
    values: Mapping[str, Any] | None = None,
    before: str = "",
    at_runs: open_runs.AtRuns | None = None,
) -> Response:
    """The page of a screen; after a scan (`scanned`) or a step (`done`) the same, kept small: what it is, what comes
    next. `form`: the step asked for, else the next one."""
    mine, life, code = held(), screen.life, screen.code
    db, now = mine.db, mine.now
    following, needed = next_step(db, screen, now)
    reasons = due_now.of_screen(db, life, now, work_in_hand())
    slack = _for_tension(life, reasons) if life.standing in COULD_TAKE else ()
    if slack and slack[0] != "tension":  # a coat on a slack mesh is lost
        following = slack[0]
    if not scanned and form is None and crossing is None:
        at_runs = _at_runs(screen, done is not None)
    if at_runs is not None and at_runs.lacks:
        following = None  # the run comes first: it stands still
    if form is None and following is not None and crossing is None:
        form = form_of(screen, following, values={"then": "keep"} if needed else None)
    warning, note = _exposure_note(screen, form)
    where = where_of(db, life)
    system = units_read()
    chosen = form.step.name if form is not None else ""
    small = scanned or done is not None
    kept = (_for_tension(life, reasons), crossing is None, small, words.language())
    links = _links(life.standing, following, chosen, *kept)
    others, beside, ways, strip = (Markup(html.replace(_CODE, code)) for html in links)
    shared: dict[str, Any] = {
        "code": code,
        "code_shown": shown(code),
        "mark": life.mark,
        "standing": _(STANDING_WORDS[life.standing]),
        "since": ago(life.since) if life.since else "",
        "mesh": life.mesh.said.replace(" µm", "\u00a0µm") if life.mesh else _("mesh not known"),
        "replaced": replaced,
        "where": where[0],
        "where_path": where[1],
        "where_since": ago(life.place_since) if life.place_since else "",
        "images": images_of(db, life, not small),
        "conflict": life.conflict,
        "unnamed": life.standing if needs.nameless(life) else "",
        "urgent": [say(reason, system) for reason in reasons if reason.key in URGENT],
        "due": [say(reason, system) for reason in reasons if reason.key not in URGENT],
        "needed": needs.sentences([needs.WantedScreen(code, life.mark, needed)], now.astimezone(zone()).date()),
        "notes": notes_of(life),
        "facts_line": " · ".join(_said_facts(life)),
        "entry": form.entry if form is not None else new_entry_id(),
        "form": form,
        "form_html": form_html(form) if form is not None else "",
        "warn_html": warning,
        "note_html": note,
        "is_next": chosen == following,
        "timer": _timer(form, reasons),
        "at_runs": at_runs,
        "waits": life.standing in {Standing.READY, Standing.KEPT},
        "strip": strip,
        "others": others,
        "beside": beside,
        "ways": ways,
    }
    if done is not None:
        return page("screens/logged.html", status, last=_last(life), done=done, **shared)
    if scanned:
        return page("screens/scanned.html", status, last=_last(life), **shared)
    found, older = _latest(db, screen.id, PAGE_LINES, before)
    return page(
        "screens/screen.html",
        status,
        **shared,
        facts=mesh_facts(life),
        tension_html=_tension_to_come(db, screen),
        lines_html=_lines(found, f"/screens/{code}?cross="),
        older=older,
        before=before,
        crossing=crossing,
        crossing_html=_lines([crossing]) if crossing else "",
        faults=faults or {},
        values=values or {},
        whys=WHYS,
    )


FITTING = frozenset({"tension", "rack", "fault"})
"""Steps that fit a screen at any stage; what its stage offers fits too, the rest is rarely needed."""


def _for_tension(life: Life, due: Sequence[Reason]) -> tuple[str, ...]:
    """What helps before the next step: new tension for a slack mesh, a first reading on a bare one."""
    if life.mesh is None or life.standing in {Standing.ON_PRESS, Standing.RETIRED, Standing.AWAY}:
        return ()
    if any(reason.key == "tension-under-floor" for reason in due):
        first = works.made_tight(life.mesh.frame)
        return first, "stretch" if first == "retension" else "retension"
    return ("tension",) if life.tension is None and life.standing in {Standing.BARE, Standing.STRIPPED} else ()


@lru_cache(maxsize=512)
def _links(
    standing: Standing,
    following: str | None,
    chosen: str,
    helping: tuple[str, ...],
    foldable: bool,
    scanned: bool,
    language: str,
) -> tuple[str, str, str, str]:
    """The links on the page: to other steps, folded; to those that stand beside the form (`helping`); to other pages.
    With them the strip of the cycle.

    They hang on few things and are made once for each of these; `_CODE` stands for the code of the screen.
    """
    others = [name for name in stages.steps_beside(standing, following) if name not in ELSEWHERE]
    if chosen and following is not None and chosen != following:
        others = [following, *(name for name in others if name != chosen)]
    beside = [name for name in helping if name in others and name not in {following, chosen}]
    others = [name for name in others if name not in beside]
    rare = {name for name in others if name not in FITTING and name not in stages.OFFERED[standing]}

    def titled(names: Iterable[str]) -> list[tuple[str, str]]:
        return [(name, _(SCREEN_STEPS[name].title)) for name in names]

    folded = macro("screens/_form.html", "other_steps")(
        _CODE,
        titled(name for name in others if name not in rare),
        titled(name for name in others if name in rare),
        not chosen and foldable,
        scanned,
    )
    helpful = macro("screens/_form.html", "step_links")(_CODE, titled(beside))
    strip = macro("_look.html", "cycle")(standing)
    return str(folded), str(helpful), str(macro("screens/_form.html", "ways")(_CODE, scanned)), str(strip)


def _last(life: Life) -> str:
    """What was done last, and when: a scan needs no more of the log, and does not read it."""
    step = SCREEN_STEPS.get(life.last_step)
    return _("Last: {what}, {when}").format(what=_(step.done), when=ago(life.last_at)) if step else ""


def _lines(found: Sequence[Entry], cross: str = "") -> Markup:
    """Lines of the log; `cross`: the address that their crossing-out hangs on."""
    read = log.lines(g.db, found, crossing=bool(cross))
    return macro("log/_lines.html", "list")(read, cross) if found else Markup()


def _said_facts(life: Life) -> list[str]:
    """The tension, the frame and what it has been through, in a few words."""
    tension = life.tension
    if tension is None:
        out = [_("Tension not measured")]
    else:
        said = _("Tension {mean} (lowest {lowest}), {when}").format(
            mean=measured(tension.mean_n_per_cm, "N/cm"),
            lowest=measured(tension.minimum_n_per_cm, "N/cm"),
            when=ago(tension.at),
        )
        out = [said]
    if life.mesh is not None:
        out += [_(life.mesh.frame)] if life.mesh.frame else []
        out += [said_now.frame_size(life.mesh.frame_size_mm)] if life.mesh.frame_size_mm else []
        if life.mesh.colour:
            out.append(_("{colour} mesh").format(colour=_(life.mesh.colour)))
    if life.uses:
        out.append(ngettext("{n} use", "{n} uses", life.uses).format(n=life.uses))
    if life.impressions:
        out.append(ngettext("{n} impression", "{n} impressions", life.impressions).format(n=life.impressions))
    if life.cycles:
        out.append(ngettext("reclaimed {n} time", "reclaimed {n} times", life.cycles).format(n=life.cycles))
    return out


def _exposure_note(screen: screens.Screen, form: StepForm | None) -> tuple[Markup, Markup]:
    """What warns before an exposure, and what its time rests on, or that a step test is due; empty for other steps."""
    if form is None or form.step.name != "expose":
        return Markup(), Markup()
    note = learning.exposure_note(screen, one_of(form.values, "exposure_unit"))
    if note is None:
        return Markup(), Markup()
    of = "learning/_exposure.html"
    return macro(of, "warning")(note), macro(of, "exposure")(note)


def _tension_to_come(db: Database, screen: screens.Screen) -> Markup:
    """The tension of this mesh against its uses, folded."""
    panel = learning.tension_panel(screen, work_of(db, screen.life))
    return macro("learning/_tension.html", "tension")(panel) if panel else Markup()


def _latest(db: Database, screen: int, most: int, before: str) -> tuple[list[Entry], str]:
    """The newest lines of a screen; where there are more, the time to ask for the older ones with."""
    rows = entries.latest_of(db, "screen", screen, most + 9, before)
    end = most
    while end < len(rows) and rows[end].at == rows[end - 1].at:  # entries of one moment stay together
        end += 1
    return rows[:end], stamp(rows[end - 1].at) if end < len(rows) else ""


def done_of(screen: screens.Screen, post: str) -> JustLogged | None:
    """What a post wrote for this screen, for the page that says so; None where it is not of this screen."""
    answer = entries.answer(g.db, post) if post else None
    if answer is None:
        return None
    mine = [entry for entry in entries.of_post(g.db, post) if entry.screen == screen.id]
    if not mine:
        return None
    last = mine[-1]
    verdict = Verdict.from_dict(last.verdict) if last.verdict else None
    repeats = last.step not in NOT_REPEATED and (verdict is None or verdict.level is not Level.STOP)
    code, then = answer.get("code", ""), then_of(last.step, answer)
    image = print_order.image_made(g.db, screen) if last.step == "image" else ()
    return JustLogged(log.lines(g.db, [last])[0], verdict, len(mine) > 1, repeats, code, then, tuple(image))


def then_of(step: str, answer: Mapping[str, Any]) -> str:
    """The fields that an act dated back took as they were then, by their labels."""
    labels = {one.name: _(one.label) for one in SCREEN_STEPS[step].fields} if step in SCREEN_STEPS else {}
    return ", ".join(labels[name] for name in answer.get("then", ()) if name in labels)


@bp.get("/screens/<code>")
def screen(code: str) -> AnyResponse:
    """One screen: the step that comes next, or the one asked for with `step`."""
    one, replaced = find_screen(code)
    asked = request.args.get("step", "")
    done = done_of(one, request.args.get("done", ""))
    if done is not None and _in_task(done.line.entry):
        return page(
            "scan/next.html", screen=one, life=one.life, done=done, standing=_(STANDING_WORDS[one.life.standing])
        )
    chosen = None
    if asked in SCREEN_STEPS and asked not in ELSEWHERE:
        names = {field_.name for field_ in SCREEN_STEPS[asked].fields}
        given = {name: request.args.getlist(name) for name in request.args if name in names}
        chosen = form_of(one, asked, given=given, few=request.args.get("all") != "1", pictured=True)
    crossing = entries.find(g.db, request.args.get("cross", "")) if request.args.get("cross") else None
    if crossing is not None and crossing.screen != one.id:
        crossing = None
    return screen_page(
        one, form=chosen, done=done, replaced=replaced, crossing=crossing, before=request.args.get("before", "")
    )


def _in_task(entry: Entry) -> bool:
    task = g.sign_in.doing
    return bool(task.get("task") in {"repeat", "place"} and task.get("step") == entry.step)


@bp.post("/screens/<code>/<step>")
def log_step(code: str, step: str) -> AnyResponse:
    """Logs a step; the answer says what was logged, its verdict, and what comes next."""
    at, sent = _code(code), form_lists()
    post = one_of(sent, "entry")
    try:
        not_by_enter(sent)
        # whoever looks at a stencil alone is asked beforehand; every other step finds its screen as it is logged
        alone = step == "check" and screen_steps.confirms(
            g.db, actor(), find_screen(at)[0].life, step, {"result": one_of(sent, "result")}
        )
        if alone and not one_of(sent, "secret") and not fresh_secret() and not saved_by_me(post):
            message = _(
                "You judged by eye what is on this screen, and you work alone: your PIN counts as a second look."
            )
            raise Refused(message, "secret")
        if alone or step == "cross-out" or one_of(sent, "override"):
            confirm_once(step, sent, post)
        logged = screens_acts.log_at(g.db, actor(), at, step, form(sent), post=post, now=g.now, confirmed=alone)
    except Asks as asks:
        return ask_page(find_screen(at)[0], sent, asks)
    except Worse as worse:
        one = find_screen(at)[0].code
        return worse_page(f"/screens/{one}/{step}", f"/screens/{one}", sent, worse)
    except (NotFound, NotAllowed):
        raise
    except Refused as refused:
        return _sent_back(find_screen(at)[0], step, sent, refused)
    if not logged.again and one_of(sent, "then_to") == "scan":
        _count_up(step)
    if step == "image" and g.sign_in.doing.get("task") == "fit":
        set_doing({})  # the frame that was looked for is found
    return redirect(f"/screens/{logged.code}?done={post}", code=303)


def _sent_back(one: screens.Screen, step: str, sent: Mapping[str, list[str]], refused: Refused) -> Response:
    """The page again with what was typed, the message beside its field; a fresh id where the old one is taken."""
    faults = faults_by_field(refused)
    fresh = isinstance(refused, Clash) or "entry" in faults
    entry = new_entry_id() if fresh else one_of(sent, "entry")
    if step == "cross-out":
        crossing = entries.find(g.db, one_of(sent, "crosses") or one_of(sent, "entry"))
        if crossing is None or crossing.screen != one.id:
            return log.cross_page(f"/screens/{one.code}/cross-out", f"/screens/{one.code}", sent, refused)
        return screen_page(one, status=refused.status, crossing=crossing, faults=faults, values=sent)
    if step not in SCREEN_STEPS or step in ELSEWHERE:
        raise refused
    hidden = _sent_along(sent)
    again_ = form_of(one, step, values=sent, faults=faults, entry=entry, few=False, hidden=hidden, pictured=True)
    return screen_page(one, status=refused.status, form=again_)


def _sent_along(sent: Mapping[str, list[str]]) -> list[tuple[str, str]]:
    return [(name, text) for name in ("then_to", "seen", "usual") for text in sent.get(name, ()) if text]


def _count_up(step: str) -> None:
    """One more screen done in the task that this phone has in hand."""
    from web.doing import counted

    task = g.sign_in.doing
    if task.get("task") in {"repeat", "place"} and task.get("step") == step:
        counted(task)
