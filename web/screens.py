"""The pages of screens: inventory, one screen with the step that comes next, its log, new ones."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import lru_cache
from typing import Any

from flask import Blueprint, Response, current_app, g, redirect, request
from markupsafe import Markup, escape
from sqlite_utils import Database
from werkzeug.wrappers import Response as AnyResponse

from tickets.calculator import mesh as mesh_rules
from tickets.calculator import units
from tickets.calculator.verdict import Level, Reason, Verdict, judge
from tickets.floor import buckets as floor_buckets
from tickets.floor import screens as floor
from tickets.floor.posting import Asks, Worse, form, the_spec
from tickets.records import checks, steps
from tickets.records import screen as rules
from tickets.records.code import Code, NoCode, read, shown
from tickets.records.entry import Entry, stamp
from tickets.records.refusal import Clash, Fault, NotAllowed, NotFound, Refused
from tickets.records.screen import STANDING_WORDS, Life, Standing
from tickets.records.steps import SCREEN_STEPS, Field, Step
from tickets.store import buckets, codes, entries, jobs, places, screens
from tickets.words import N_, ngettext
from tickets.words import gettext as _
from web import log
from web.support import (
    actor,
    all_of,
    confirm,
    faults_by_field,
    form_lists,
    in_safelight,
    local_date,
    named,
    new_entry_id,
    one_of,
    page,
    row_number,
    set_doing,
    zone,
)

bp = Blueprint("screens", __name__)

SCAN_LINES = 5
PAGE_LINES = 15
LIST = 50
FEW_CHOICES = 8

QUIET: dict[str, frozenset[str]] = {
    "coat": frozenset({"bucket", "preset"}),
    "image": frozenset({"means"}),
    "expose": frozenset({"exposure_s", "exposure_units", "exposure_unit"}),
    "washout": frozenset({"fault"}),
    "harden": frozenset({"agent"}),
    "rack": frozenset({"place"}),
    "stretch": frozenset({"mesh_colour", "frame"}),
    "fault": frozenset({"then"}),
    "discard": frozenset({"why"}),
}
"""Fields that a habit fills in: said in one line, folded away, so that the button stands at the thumb."""

LABELLED = frozenset({"means", "fault", "mesh_colour", "frame", "by"})
URGENT = frozenset({"torn", "still-drying", "coated-too-long"})
"""What must be known before the step that comes next."""

WHYS = tuple((why, why) for why in (N_("wrong screen"), N_("wrong step"), N_("wrong value"), N_("logged twice")))
ACCEPTS = tuple(
    (why, why) for why in (N_("the right mesh is not free"), N_("the customer agreed"), N_("worked before"))
)
IN_PLACE_OF_NOTHING = {"hang", "print", "cross-out"}
NOT_REPEATED = frozenset({"hang", "print", "retag", "retire", "cross-out", "found"})
"""Steps that are about one screen only."""

OWN_VALUES = frozenset({"readings_n_per_cm", "readings_weft_n_per_cm", "mark", "run", "film_mark"})
"""What is measured or read off one screen, and so never repeated on another."""


# A step's form ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StepForm:
    """A step as it is asked: `up` fields stand above the button, `down` ones are folded, `summary` says those."""

    step: Step
    action: str
    entry: str
    values: Mapping[str, Any]
    up: tuple[Field, ...]
    down: tuple[Field, ...]
    summary: tuple[str, ...]
    options: Mapping[str, list[tuple[str, str]]]
    faults: Mapping[str, str] = field(default_factory=dict)
    hidden: tuple[tuple[str, str], ...] = ()
    open: bool = False
    button: str = ""
    accept: bool = False


def step_form(
    db: Database,
    step: Step,
    action: str,
    values: Mapping[str, Any],
    options: Mapping[str, list[tuple[str, str]]],
    *,
    faults: Mapping[str, str] | None = None,
    entry: str = "",
    hidden: Sequence[tuple[str, str]] = (),
    settled: bool = False,
    left_out: Sequence[str] = (),
    button: str = "",
) -> StepForm:
    """The form of a step. `settled`: the values were given before, so all that have one are folded."""
    faults = faults or {}
    up: list[Field] = []
    down: list[Field] = []
    summary: list[str] = []
    quiet = QUIET.get(step.name, frozenset())
    for one in step.fields:
        if one.name in left_out:
            continue
        has = bool(one_of(values, one.name))
        folds = one.folded or (settled and has) or (one.name in quiet and (has or _may_wait(one, options)))
        if folds and not (one.name in faults and not one.folded):
            down.append(one)
            if has:
                summary.append(_summed(one, values, options))
        else:
            up.append(one)
    return StepForm(
        step=step,
        action=action,
        entry=entry or new_entry_id(),
        values=values,
        up=tuple(up),
        down=tuple(down),
        summary=tuple(summary),
        options=options,
        faults=faults,
        hidden=tuple(hidden),
        open=any(one.name in faults for one in down) or "at" in faults,
        button=button or _(step.title),
        accept=step.name == "image",
    )


def _may_wait(one: Field, options: Mapping[str, list[tuple[str, str]]]) -> bool:
    """An empty field that is asked for nonetheless: the exposure time, a bucket where there are some."""
    return not one.required and one.name != "exposure_s" and not (one.kind == "bucket" and options.get(one.name))


def _summed(one: Field, values: Mapping[str, Any], options: Mapping[str, list[tuple[str, str]]]) -> str:
    """What a folded field holds, in a word or two."""
    words = dict(options.get(one.name) or one.choices)
    texts = [_(words.get(text, text)) for text in all_of(values, one.name) if text]
    unit = one_of(values, f"{one.name}.unit") or units.unit_of(one.name)
    said = ", ".join(texts)
    if one.kind in ("number", "numbers") and unit:
        return f"{said} {units.unit_text(unit)}"
    return f"{_(one.label)}: {said}" if one.kind in ("whole", "text") or one.name in LABELLED else said


def options_for(
    db: Database, screen: screens.Screen | None, step: Step, values: Mapping[str, Any], few: bool = True
) -> dict[str, list[tuple[str, str]]]:
    """What a step's form offers to tap: buckets, presets, exposure units, places, separations, stages."""
    out: dict[str, list[tuple[str, str]]] = {}
    for one in step.fields:
        match one.kind:
            case "bucket":
                found = buckets.open_ones(db, emulsions=True, limit=FEW_CHOICES)
                out[one.name] = [(bucket.code, floor_buckets.named(bucket)) for bucket in found]
            case "preset":
                out[one.name] = [(preset["name"], preset["name"]) for preset in g.settings["presets"]]
            case "mesh" if in_safelight():  # nothing can be typed there: the meshes that the shop has
                meshes = dict.fromkeys(mesh for _standing, mesh, _count, _number in screens.counts(db) if mesh)
                out[one.name] = [(mesh, mesh) for mesh in meshes]
            case "unit":
                out[one.name] = [(unit.name, unit.name) for unit in places.units(db)]
            case "place":
                found_places = [place for place in places.every(db) if place.kind != "press"]
                out[one.name] = [(place.name, place.name) for place in found_places[:60]]
            case "separations" if screen is not None and not (one.folded and few):
                out[one.name] = _images(db, screen, all_of(values, one.name), few)
            case "choice" if one.name == "standing_seen":
                left_out = {Standing.UNKNOWN, Standing.RETIRED, Standing.ON_PRESS}
                out[one.name] = [(str(key), word) for key, word in STANDING_WORDS.items() if key not in left_out]
    return out


def _images(db: Database, screen: screens.Screen, chosen: Sequence[str], few: bool) -> list[tuple[str, str]]:
    """Separations to tap: what is on the screen or was chosen, then what the open jobs want; the fitting ones first."""
    texts: dict[str, str] = {}
    stencil = screen.life.stencil
    for number in [*chosen, *map(str, stencil.separations if stencil else ())]:
        image = jobs.separation(db, row_number(number))
        if image is not None:
            texts[number] = f"{image.name} · {image.art} {image.revision} · {image.customer}"
    most = FEW_CHOICES if few else 120
    for key, text, fits in floor.image_choices(db, screen, g.now, most, few):
        if fits or not few:
            texts.setdefault(str(key), text if fits else _("{image} (another mesh)").format(image=text))
    return list(texts.items())


def form_of(
    screen: screens.Screen,
    name: str,
    *,
    values: Mapping[str, Any] | None = None,
    faults: Mapping[str, str] | None = None,
    entry: str = "",
    few: bool = True,
    settled: bool = False,
    hidden: Sequence[tuple[str, str]] = (),
    button: str = "",
) -> StepForm:
    """The form of a step of one screen: prefilled from the shop's habits, or with `values` as they were given."""
    step = SCREEN_STEPS[name]
    if values is None:
        values = floor.habits(g.db, screen, name, g.now) if name != "image" else {"means": "film"}
    options = options_for(g.db, screen, step, values, few)
    for only in ("separations",) if name == "image" else ("place", "bucket", "exposure_unit"):
        if not one_of(values, only) and len(options.get(only, ())) == 1:  # where there is no choice, it is made
            values = {**values, only: [options[only][0][0]]}
    left_out = ["run"] if name == "pull" else []
    if name == "expose" and screen.life.stencil is not None and screen.life.stencil.separations:
        left_out.append("separations")
    if name == "found" and not options.get("separations_seen"):
        left_out.append("separations_seen")
    return step_form(
        g.db,
        step,
        f"/screens/{screen.code}/{name}",
        values,
        options,
        faults=faults,
        entry=entry,
        hidden=hidden,
        settled=settled,
        left_out=left_out,
        button=button,
    )


def macro(template: str, name: str) -> Callable[..., Markup]:
    """A macro of a template, to be called from here: an import on the page takes longer than the macro."""
    found: Callable[..., Markup] = getattr(current_app.jinja_env.get_template(template).module, name)
    return found


_kept_forms: dict[tuple[Any, ...], str] = {}
_ENTRY, _ACTION = "entry-to-come", "action-to-come"


def form_html(asked: StepForm) -> Markup:
    """The form as it stands on a page. Most scans want one of a few forms, which differ in screen and id only: those
    are kept, since making one takes as long as the rest of a scan."""
    quick = macro("screens/_form.html", "quick")
    if asked.faults:
        return Markup(quick(asked, ACCEPTS))
    view = (in_safelight(), g.settings["language"], g.settings["units"])
    names = tuple(one.name for one in asked.up), tuple(one.name for one in asked.down)
    about = (asked.step.name, asked.button, asked.hidden, asked.summary)
    key = (*view, *about, *names, repr(asked.values), repr(asked.options))
    html = _kept_forms.get(key)
    if html is None:
        if len(_kept_forms) > 500:
            _kept_forms.clear()
        html = str(quick(replace(asked, entry=_ENTRY, action=_ACTION), ACCEPTS))
        _kept_forms[key] = html
    return Markup(html.replace(_ENTRY, asked.entry).replace(_ACTION, str(escape(asked.action))))


def again(db: Database, entry: Entry) -> dict[str, list[str]]:
    """The values of an entry as a form sends them, without what belongs to its one screen."""
    step = SCREEN_STEPS[entry.step]
    out: dict[str, list[str]] = {}
    for one in step.fields:
        value = entry.values.get(one.name)
        if value is None or one.name in OWN_VALUES:
            continue
        if one.kind == "bucket":
            bucket = buckets.get(db, value)
            value = bucket.code if bucket else ""
        elif one.kind == "place":
            place = places.get(db, value)
            value = place.name if place else ""
        out[one.name] = all_of({one.name: value}, one.name)
        unit = units.unit_of(one.name)
        if unit is not None and one.kind in ("number", "numbers"):
            out[f"{one.name}.unit"] = [unit]
    return out


# One screen ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Image:
    """An image on a screen, and the open jobs that want it: (address, text)."""

    name: str
    text: str
    jobs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Done:
    """What was just logged. `code`: the new code of a retagged screen."""

    line: log.Line
    verdict: Verdict | None
    found: bool
    repeats: bool
    code: str = ""


def find_screen(text: str) -> tuple[screens.Screen, str]:
    """The screen of a code, and the code it was reached by when that one was replaced (else nothing)."""
    try:
        code = read(text)
    except NoCode as fault:
        raise NotFound(str(fault), "code") from None
    issued = codes.find(g.db, code)
    screen = screens.get(g.db, issued.thing) if issued is not None and issued.kind == "screen" else None
    if issued is None or screen is None:
        raise NotFound(_("There is no screen {code} here.").format(code=shown(code)), "code")
    return screen, code if issued.replaced else ""


def images_of(db: Database, life: Life) -> list[Image]:
    """What is on a screen, with the open jobs that want it."""
    out = []
    for number in life.stencil.separations if life.stencil else ():
        image = jobs.separation(db, number)
        if image is None:
            continue
        wanted = {}
        for job, _place, station in jobs.asking(db, number, limit=3):
            saved = jobs.get(db, job)
            if saved is not None:
                text = _("{title}, print order {station}").format(title=saved.sheet.title, station=station)
                wanted[f"/jobs/{saved.code}"] = text
        text = f"{image.art} {image.revision} · {named(image.width_mm, 'width_mm')} · {image.customer}"
        out.append(Image(image.name, text, tuple(wanted.items())))
    return out


def due_of(db: Database, life: Life) -> list[Reason]:
    """What a screen waits for or is overdue for, worst first."""
    if life.standing in {Standing.RETIRED, Standing.AWAY}:
        return []
    spec = the_spec(db)
    reasons = [Reason("torn", Level.STOP)] if life.torn else []
    reasons += checks.dry(life, spec, g.now)
    wood = life.mesh is not None and life.mesh.frame == "wood"
    work = (floor.works_of(db, life) or ["one-colour" if wood else "colours"])[0]
    if life.standing is Standing.COATED:
        reasons += checks.coated_age(life, floor.emulsion_of(db, life), work, spec, g.now)
    if "tension" in g.settings["steps"] and life.mesh is not None:
        reasons += checks.tension(life, work, spec, g.now)
    return list(judge(reason for reason in reasons if reason.level is not Level.OK).reasons)


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
        out.append(_("Decided: to be stripped."))
    if life.fault:
        words = dict(steps.FAULTS) | dict(steps.CAUSES)
        out.append(_("Noted on the frame: {fault}.").format(fault=_(words.get(life.fault, life.fault))))
    stencil = life.stencil
    if stencil is not None and stencil.failed:
        words = dict(steps.WASHOUT_FAULTS)
        what = _(words.get(stencil.fault, "")) or _("not said what")
        out.append(_("The last washout or check found a fault: {fault}.").format(fault=what))
    if stencil is not None and stencil.by_eye is not None:
        out.append(_("The image was named by eye; another person’s good check makes it sure."))
    return out


def where_of(db: Database, life: Life) -> tuple[str, str]:
    """Where a screen is: (text, address); empty where nobody said."""
    place = places.get(db, life.place) if life.place else None
    if life.standing is Standing.ON_PRESS:
        name = place.name if place else _("press")
        text = _("{press}, head {head}").format(press=name, head=life.head) if life.head else name
        return text, f"/runs/{life.run}" if life.run else ""
    return (place.name, f"/places/{place.code}") if place else ("", "")


def mesh_facts(life: Life) -> list[tuple[str, str, str]]:
    """The mesh in numbers: (what, value, where it comes from); the maker's sheet wins over what is computed."""
    mesh = life.mesh
    if mesh is None or not mesh.count_per_cm:
        return []
    sheet, computed = _("maker’s sheet"), _("computed")
    out = [(_("Mesh"), mesh.said, _("as labelled"))]
    computed_values: dict[str, str] = {}
    if mesh.thread_um:
        thickness = units.quantity(mesh.fabric_thickness_um, "um") if mesh.fabric_thickness_um else None
        try:
            found = mesh_rules.geometry(
                units.quantity(mesh.count_per_cm, "/cm"), units.quantity(mesh.thread_um, "um"), thickness
            )
        except units.CannotBe as fault:
            out.append((_("Opening"), str(fault), computed))
        else:
            system = g.settings["units"]
            computed_values = {
                "opening_um": units.show(found.opening, system),
                "open_area_pct": units.show(found.open_area, system),
            }
            if found.ink_volume is not None:
                computed_values["ink_volume_cm3_m2"] = units.show(found.ink_volume, system)
            elif found.ink_volume_low is not None and found.ink_volume_high is not None:
                low, high = units.show(found.ink_volume_low, system), units.show(found.ink_volume_high, system)
                computed_values["ink_volume_cm3_m2"] = _("{low} to {high}").format(low=low, high=high)
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


def screen_page(
    screen: screens.Screen,
    *,
    status: int = 200,
    form: StepForm | None = None,
    done: Done | None = None,
    replaced: str = "",
    scanned: bool = False,
    crossing: Entry | None = None,
    faults: Mapping[str, str] | None = None,
    values: Mapping[str, Any] | None = None,
    before: str = "",
) -> Response:
    """The page of a screen; `scanned`: the same, kept small. `form`: the step asked for, else the next one."""
    db, life, logged = g.db, screen.life, g.settings["steps"]
    following = rules.next_step(life, logged)
    if form is None and following is not None and crossing is None:
        form = form_of(screen, following)
    if scanned:
        found, older = entries.latest_of(db, "screen", screen.id, SCAN_LINES), ""
    else:
        found, older = _latest(db, screen.id, PAGE_LINES, before)
    stencil, reasons = life.stencil, due_of(db, life)
    list_, cross = macro("log/_lines.html", "list"), "" if scanned else f"/screens/{screen.code}?cross="
    urgent = [reason for reason in reasons if reason.key in URGENT]
    later = [reason for reason in reasons if reason.key not in URGENT]
    others = [name for name in rules.other_steps(life, logged) if name not in IN_PLACE_OF_NOTHING]
    if form is not None and following is not None and form.step.name != following:
        others = [following, *(name for name in others if name != form.step.name)]
    return page(
        "screens/screen.html",
        status,
        screen=screen,
        life=life,
        head=macro("screens/_form.html", "head")(screen, life, _(STANDING_WORDS[life.standing])),
        where=where_of(db, life),
        images=images_of(db, life),
        unnamed=life.standing in rules.IMAGE_ON and not (stencil and (stencil.separations or stencil.purpose)),
        urgent=judge(urgent) if urgent else None,
        due=judge(later) if later else None,
        said_facts=_said_facts(life),
        notes=notes_of(life),
        facts=[] if scanned else mesh_facts(life),
        form=form,
        form_html=form_html(form) if form is not None else "",
        is_next=form is not None and form.step.name == following,
        done=done,
        replaced=replaced,
        scanned=scanned,
        others=Markup(_step_links(tuple(others), g.settings["language"]).replace("CODE", screen.code)),
        lines_html=list_(log.lines(db, found), cross) if found else "",
        older=older,
        before=before,
        crossing=crossing,
        crossing_html=list_(log.lines(db, [crossing])) if crossing else "",
        faults=faults or {},
        values=values or {},
        whys=WHYS,
        accepts=ACCEPTS,
        repeating=g.sign_in.doing.get("task") in {"repeat", "place"},
    )


def _said_facts(life: Life) -> list[str]:
    """The frame and what it has been through, in a few words."""
    out = []
    if life.mesh is not None:
        out += [_(word) for word in (life.mesh.frame, life.mesh.frame_size_mm) if word]
        if life.mesh.colour:
            out.append(_("{colour} mesh").format(colour=_(life.mesh.colour)))
    if life.uses:
        out.append(ngettext("{n} use", "{n} uses", life.uses).format(n=life.uses))
    if life.impressions:
        out.append(ngettext("{n} impression", "{n} impressions", life.impressions).format(n=life.impressions))
    if life.cycles:
        out.append(ngettext("{n} stripping", "{n} strippings", life.cycles).format(n=life.cycles))
    return out


@lru_cache(maxsize=256)
def _step_links(names: tuple[str, ...], language: str) -> str:
    """Links to the forms of steps, made once for each choice of steps: a scan should not wait for them."""
    link = Markup('<a class="button quiet" href="/screens/CODE?step={name}">{title}</a>')
    return "".join(link.format(name=name, title=_(SCREEN_STEPS[name].title)) for name in names)


def _latest(db: Database, screen: int, most: int, before: str) -> tuple[list[Entry], str]:
    """The newest lines of a screen; where there are more, the time to ask for the older ones with."""
    rows = entries.latest_of(db, "screen", screen, most + 9, before)
    end = most
    while end < len(rows) and rows[end].at == rows[end - 1].at:  # entries of one moment stay together
        end += 1
    return rows[:end], stamp(rows[end - 1].at) if end < len(rows) else ""


def done_of(screen: screens.Screen, post: str) -> Done | None:
    """What a post wrote for this screen, for the page that says so; None where it is not of this screen."""
    answer = entries.answer(g.db, post) if post else None
    if answer is None:
        return None
    mine = [entry for name in answer[2].get("entries", ()) if (entry := entries.find(g.db, name)) is not None]
    mine = [entry for entry in mine if entry.screen == screen.id]
    if not mine:
        return None
    last = mine[-1]
    verdict = Verdict.from_dict(last.verdict) if last.verdict else None
    repeats = last.step not in NOT_REPEATED and (verdict is None or verdict.level is not Level.STOP)
    return Done(log.lines(g.db, [last])[0], verdict, len(mine) > 1, repeats, answer[2].get("code", ""))


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
    if asked in SCREEN_STEPS and asked not in IN_PLACE_OF_NOTHING:
        names = {field_.name for field_ in SCREEN_STEPS[asked].fields}
        given = {name: request.args.getlist(name) for name in request.args if name in names}
        values = {**floor.habits(g.db, one, asked, g.now), **given} if given else None
        chosen = form_of(one, asked, values=values, few=request.args.get("all") != "1")
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
    one, _replaced = find_screen(code)
    sent = form_lists()
    post = one_of(sent, "entry")
    try:
        if step == "cross-out" or one_of(sent, "override"):
            confirm()
        logged = floor.log(g.db, actor(), one, step, form(sent), post=post, now=g.now)
    except Asks as asks:
        return ask_page(one, step, sent, [asks.question])
    except Worse as worse:
        return worse_page(f"/screens/{one.code}/{step}", f"/screens/{one.code}", sent, worse)
    except (NotFound, NotAllowed):
        raise
    except Refused as refused:
        return _sent_back(one, step, sent, refused)
    if not logged.again and one_of(sent, "then_to") == "scan":
        _count_up(step)
    if step == "image" and g.sign_in.doing.get("task") == "fit":
        set_doing({})  # the frame that was looked for is found
    current = screens.get(g.db, one.id)
    return redirect(f"/screens/{current.code if current else one.code}?done={post}", code=303)


def _sent_back(one: screens.Screen, step: str, sent: Mapping[str, list[str]], refused: Refused) -> Response:
    """The page again with what was typed, the message beside its field; a fresh id where the old one is taken."""
    faults = faults_by_field(refused)
    fresh = isinstance(refused, Clash) or "entry" in faults
    entry = new_entry_id() if fresh else one_of(sent, "entry")
    if step == "cross-out":
        crossing = entries.find(g.db, one_of(sent, "crosses"))
        return screen_page(one, status=refused.status, crossing=crossing, faults=faults, values=sent)
    if step not in SCREEN_STEPS or step in IN_PLACE_OF_NOTHING:
        raise refused
    again_ = form_of(one, step, values=sent, faults=faults, entry=entry, few=False, hidden=_sent_along(sent))
    return screen_page(one, status=refused.status, form=again_)


def _sent_along(sent: Mapping[str, list[str]]) -> list[tuple[str, str]]:
    return [(name, text) for name in ("then_to", "seen") for text in sent.get(name, ()) if text]


def _count_up(step: str) -> None:
    """One more screen done in the task that this phone has in hand."""
    from web.scan import counted

    task = g.sign_in.doing
    if task.get("task") in {"repeat", "place"} and task.get("step") == step:
        counted(task)


def ask_page(one: screens.Screen, step: str, sent: Mapping[str, list[str]], questions: Sequence[str]) -> Response:
    """The one question of a step against the log, with everything that was sent."""
    seen = rules.asked_standing(step)
    stencil = one.life.stencil
    wants_images = seen in rules.IMAGE_ON and not (stencil and stencil.separations)
    return question_page(
        f"/screens/{one.code}/{step}",
        f"/screens/{one.code}",
        SCREEN_STEPS[step],
        sent,
        questions,
        code=one.code,
        mark=one.life.mark,
        images=_images(g.db, one, (), few=False)[:24] if wants_images else [],
    )


def question_page(
    action: str,
    back: str,
    step: Step,
    sent: Mapping[str, list[str]],
    questions: Sequence[str],
    *,
    code: str = "",
    mark: str = "",
    images: Sequence[tuple[str, str]] = (),
) -> Response:
    """Asks whether the screens are in hand; "yes" sends everything again."""
    return page(
        "screens/question.html",
        409,
        action=action,
        back=back,
        step=step,
        questions=questions,
        code=code,
        mark=mark,
        images=images,
        hidden=sent_again(sent, {"in_hand", "separations_seen"}),
    )


def sent_again(sent: Mapping[str, list[str]], without: set[str]) -> list[tuple[str, str]]:
    """What was sent, to be sent again; secrets are not."""
    return [(name, text) for name, texts in sent.items() if name not in without | {"secret"} for text in texts]


def worse_page(action: str, back: str, sent: Mapping[str, list[str]], worse: Worse) -> Response:
    """The verdict got worse than the one that was shown: shown again before anything is written."""
    return page(
        "screens/worse.html",
        409,
        action=action,
        back=back,
        worse=worse,
        verdict=worse.verdict,
        hidden=[*sent_again(sent, {"seen"}), ("seen", str(worse.verdict.level))],
    )


# The inventory ------------------------------------------------------------------------------------------------------

DUE = (
    ("tension", N_("tension to be measured")),
    ("coated", N_("coated too long")),
    ("unclear", N_("log unclear")),
)


@bp.get("/screens")
def inventory() -> AnyResponse:
    """Every screen by mesh and standing: counts, then a page of those asked for."""
    args = {
        name: request.args.get(name, "").strip() for name in ("standing", "mesh", "place", "job", "separation", "due")
    }
    if request.args.get("q", "").strip():
        return redirect(f"/find?q={request.args['q'].strip()}", code=303)
    faults: dict[str, str] = {}
    wanted = _wanted(args, faults)
    after = row_number(request.args.get("after"))
    rows = screens.inventory(g.db, wanted, after, LIST + 1) if not faults else []
    more = rows[LIST - 1].id if len(rows) > LIST else 0
    used = {name: text for name, text in args.items() if text}
    return page(
        "screens/list.html",
        422 if faults else 200,
        rows=rows[:LIST],
        more=more,
        args=args,
        used=used,
        faults=faults,
        table=_table(screens.counts(g.db)),
        words=STANDING_WORDS,
        places=places.names(g.db),
        every_place=places.every(g.db),
        due=DUE,
        filters=_filters(used),
    )


def _wanted(args: Mapping[str, str], faults: dict[str, str]) -> screens.Wanted:
    """What the addresses ask for; what cannot be read goes to `faults`."""
    spec = the_spec(g.db)
    low = high = None
    place = job = separation = None
    if args["standing"] and args["standing"] not in set(Standing):
        faults["standing"] = _("One of: {choices}.").format(choices=", ".join(Standing))
    if args["mesh"]:
        try:
            per_cm = steps.count_per_cm(steps.mesh_label(args["mesh"]))
            low, high = per_cm * 0.998, per_cm * 1.002
        except ValueError as fault:
            faults["mesh"] = str(fault)
    if args["place"]:
        try:
            known = places.get(g.db, row_number(args["place"])) or floor.find_place(g.db, args["place"])
            place = known.id
        except Refused as fault:
            faults["place"] = str(fault.faults[0].message)
    if args["job"]:
        from tickets.floor.jobs import find as find_job

        try:
            job = find_job(g.db, args["job"]).id
        except Refused as fault:
            faults["job"] = str(fault.faults[0].message)
    if args["separation"]:
        separation = row_number(args["separation"])
        if jobs.separation(g.db, separation) is None:
            faults["separation"] = _("Separations are named by their numbers, as the job shows them.")
    days, age = spec.find("tension-age"), spec.find("coated-age")
    times = spec.find("tension-age-stencils")
    return screens.Wanted(
        standing=args["standing"],
        count_low=low,
        count_high=high,
        place=place,
        job=job,
        separation=separation,
        due=args["due"] if args["due"] in dict(DUE) else "",
        tension_before=stamp(g.now - timedelta(days=days.value if days else 90)),
        coated_before=stamp(g.now - timedelta(days=age.value if age else 28)),
        stencils_over=int(times.value) if times else 10**9,
    )


@dataclass(frozen=True, slots=True)
class Table:
    """Counts by mesh (rows) and standing (columns)."""

    standings: tuple[str, ...]
    rows: tuple[tuple[str, tuple[int, ...], int], ...]
    totals: tuple[int, ...]
    total: int


def _table(counted: Sequence[tuple[str, str, float | None, int]]) -> Table:
    """The counts as a table; standings that no screen has are left out."""
    by = {(standing, mesh): number for standing, mesh, _count, number in counted}
    there = tuple(str(one) for one in Standing if any(standing == one for standing, _mesh in by))
    meshes = list(dict.fromkeys(mesh for _standing, mesh, _count, _number in counted))
    rows = []
    for mesh in meshes:
        cells = tuple(by.get((standing, mesh), 0) for standing in there)
        rows.append((mesh, cells, sum(cells)))
    totals = tuple(sum(cells[place] for _mesh, cells, _sum in rows) for place in range(len(there)))
    return Table(there, tuple(rows), totals, sum(totals))


def _filters(used: Mapping[str, str]) -> list[tuple[str, str]]:
    """What the list is narrowed to: (name, as said)."""
    out = []
    for name, text in used.items():
        said = text
        if name == "standing":
            said = _(STANDING_WORDS.get(Standing(text), text)) if text in set(Standing) else text
        elif name == "due":
            said = _(dict(DUE).get(text, text))
        elif name == "place":
            place = places.get(g.db, row_number(text))
            said = place.name if place else text
        elif name == "separation":
            image = jobs.separation(g.db, row_number(text))
            said = f"{image.name}, {image.art}" if image else text
        out.append((name, said))
    return out


# New screens --------------------------------------------------------------------------------------------------------


@bp.get("/screens/new")
def new() -> Response:
    """The form for new screens; with `made`, the codes that were given out."""
    answer = entries.answer(g.db, request.args.get("made", ""))
    made = [Code(code) for code in answer[2].get("codes", ())] if answer else []
    return page("screens/new.html", form=_new_form({"number": "1"}), made=made, values={"number": "1"}, faults={})


def _new_form(values: Mapping[str, Any], faults: Mapping[str, str] | None = None, entry: str = "") -> StepForm:
    step = SCREEN_STEPS["stretch"]
    options = options_for(g.db, None, step, values)
    return step_form(
        g.db, step, "/screens/new", values, options, faults=faults, entry=entry, button=_("Register and give codes")
    )


@bp.post("/screens/new")
def add() -> AnyResponse:
    """Registers screens, each with its code and its `stretch` entry."""
    sent = form_lists()
    post = one_of(sent, "entry")
    try:
        number = _number(one_of(sent, "number") or "1")
        floor.add(g.db, actor(), form(sent), post=post, now=g.now, number=number)
    except (NotFound, NotAllowed):
        raise
    except Refused as refused:
        faults = faults_by_field(refused)
        entry = new_entry_id() if isinstance(refused, Clash) or "entry" in faults else post
        again_ = _new_form(sent, faults, entry)
        return page("screens/new.html", refused.status, form=again_, made=[], values=sent, faults=faults)
    return redirect(f"/screens/new?made={post}", code=303)


def _number(text: str) -> int:
    try:
        value = units.number(text)
    except ValueError as fault:
        raise Refused([Fault("number", str(fault))]) from None
    if value != int(value):
        raise Refused(_("A whole number is needed."), "number")
    return int(value)
