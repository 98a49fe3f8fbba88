"""How a step is asked: its form with one button, the habits filled in; the one question; the verdict that got worse.

Nothing is logged that nobody made: what is found is a button of its own (`Step.taps`), never chosen before; a form says
what it filled in by habit (`usual`), so that an act dated back takes what was usual then."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

from flask import Response, current_app, g
from markupsafe import Markup, escape
from sqlite_utils import Database

from tickets import i18n as words
from tickets.calculator import units
from tickets.domain import stages, steps
from tickets.domain.bucket import Bucket
from tickets.domain.entry import Entry, read_stamp
from tickets.domain.posted import Asks, Worse
from tickets.domain.screens.screen import Life, wet_since
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.domain.step_reading import LATER
from tickets.domain.steps import SCREEN_STEPS, Field, Step
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import air, find, screen_steps
from tickets.store import buckets, jobs, pictures, places, screens
from web.support import (
    ago,
    all_of,
    cautions_told,
    held,
    in_safelight,
    measured,
    new_entry_id,
    one_of,
    page,
    row_number,
    to_tap,
    units_read,
)

FEW_CHOICES = 8

QUIET: dict[str, frozenset[str]] = {
    "coat": frozenset({"bucket", "preset"}),
    "image": frozenset({"separations", "means"}),
    "expose": frozenset({"exposure_s", "exposure_units", "exposure_unit"}),
    "harden": frozenset({"agent"}),
    "rack": frozenset({"place"}),
    "stretch": frozenset({"mesh_count_as_labelled", "thread_um", "mesh_colour", "frame"}),
    "fault": frozenset({"then"}),
    "pull": frozenset({"then"}),
    "found": frozenset({"separations_seen"}),
}
"""Fields that a habit fills in: said in one line, folded away, so that the button stands at the thumb."""

PICKED = {"rack": "place", "image": "separations", "found": "standing_seen"}
"""The field whose choices are a button each on the form for one screen, where nothing is filled in."""

LABELLED = frozenset({"means", "then", "fault", "mesh_colour", "frame", "by"})

WHYS = tuple((why, why) for why in to_tap(N_("wrong screen"), N_("wrong step"), N_("wrong value"), N_("logged twice")))
ACCEPTS = tuple(
    (why, why) for why in to_tap(N_("the right mesh is not free"), N_("the customer agreed"), N_("worked before"))
)
ELSEWHERE = frozenset({"hang", "print", "cross-out"})
"""Steps without a form of their own: the run's pages write them, or a line of the log leads to it."""

NOT_REPEATED = frozenset({"hang", "print", "retag", "retire", "cross-out", "found"})
"""Steps that are about one screen only."""

OWN_VALUES = frozenset({"readings_n_per_cm", "readings_weft_n_per_cm", "mark", "run", "film_mark"})
"""What is measured or read off one screen: no form for many asks for it."""

FOUND_ON_ONE = frozenset(
    {
        "condition", "kind", "room_c", "room_rh_pct", "coated_thickness_um", "irradiance_mw_cm2", "remover_s", "haze_s",
        "dry",
    }
)  # fmt: skip
"""What somebody found or measured once: true of the screens that it was logged on, never carried on to the next one."""


USUAL_THEN = frozenset({"bucket", "preset", "exposure_unit", "exposure_s", "exposure_units", "place"})
"""What a form fills in by habit, and what becomes the habit of then where its act is dated back."""


@dataclass(slots=True)
class Shape:
    """What forms of a step share where the same is filled in: how its fields stand, and its HTML once made."""

    up: tuple[Field, ...]
    down: tuple[Field, ...]
    summary: tuple[str, ...]
    picks: Field | None = None
    html: str = ""


@dataclass(frozen=True, slots=True)
class StepForm:
    """A step as it is asked: `up` fields stand above the button, `down` ones are folded, `summary` says those; each
    choice of `picks` is a button of its own. `more`: the address of the same form with all there is to choose from;
    `pictures`: of the images to choose from, each with the hash of its artwork."""

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
    note: str = ""
    more: str = ""
    picks: Field | None = None
    pictures: Mapping[str, str] = field(default_factory=dict)
    shape: Shape | None = None


_kept_shapes: dict[tuple[Any, ...], Shape] = {}


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
    in_front: Sequence[str] = (),
    button: str = "",
    usual: Mapping[str, Any] | None = None,
    picks: str = "",
    pictures: Mapping[str, str] | None = None,
) -> StepForm:
    """The form of a step. `settled`: the values were given before, so all that have one are folded; fields `in_front`
    are not. `usual`: those of the values that nobody chose; the form says so, for an act that turns out to be dated
    back. `picks`: the field of which each choice may be a button. `pictures`: shown beside the images to choose from.
    """
    hidden = [*hidden, *(("usual", f"{name}={one_of(usual, name)}") for name in usual or ())]
    note = room_note(db) if step.name == "coat" else ""
    if faults:
        shape = _shape(step, values, options, faults, settled, left_out, in_front, picks)
    else:  # most scans want one of a few forms: each is made once, since making one takes as long as half a scan
        view = (in_safelight(), words.language(), units_read())
        about = (step.name, button, settled, tuple(hidden), tuple(left_out), tuple(in_front), bool(note), picks)
        key = (*view, *about, cautions_told(step.cautions).new, repr(values), repr(options), repr(pictures))
        kept = _kept_shapes.get(key)
        if kept is None:
            if len(_kept_shapes) > 500:
                _kept_shapes.clear()
            kept = _kept_shapes[key] = _shape(step, values, options, {}, settled, left_out, in_front, picks)
        shape = kept
    faults = faults or {}
    return StepForm(
        step=step,
        action=action,
        entry=entry or new_entry_id(),
        values=values,
        up=shape.up,
        down=shape.down,
        summary=shape.summary,
        options=options,
        faults=faults,
        hidden=tuple(hidden),
        open=bool(faults) and ("at" in faults or any(one.name in faults for one in shape.down)),
        button=button or _(step.on_button),
        accept=step.name == "image",
        note=note,
        picks=shape.picks,
        pictures=pictures or {},
        shape=None if faults else shape,
    )


def _shape(
    step: Step,
    values: Mapping[str, Any],
    options: Mapping[str, list[tuple[str, str]]],
    faults: Mapping[str, str],
    settled: bool,
    left_out: Sequence[str],
    in_front: Sequence[str],
    picks: str,
) -> Shape:
    """Which fields stand above the button, which are folded, and what the folded ones hold."""
    up: list[Field] = []
    down: list[Field] = []
    summary: list[str] = []
    picked: Field | None = None
    quiet = QUIET.get(step.name, frozenset())
    for one in step.fields:
        if one.name in left_out or one.name == step.taps:
            continue
        has = bool(one_of(values, one.name))
        if one.name == picks and not has and options.get(one.name):
            picked = one
            continue
        folds = one.folded or (settled and has) or (one.name in quiet and (has or _may_wait(one, options)))
        folds = folds and not (one.name == "fault" and step.taps) and one.name not in in_front
        if folds and not (one.name in faults and not one.folded):
            down.append(one)
            if has:
                summary.append(_summed(one, values, options))
        else:
            up.append(one)
    return Shape(tuple(up), tuple(down), tuple(summary), picked)


def _may_wait(one: Field, options: Mapping[str, list[tuple[str, str]]]) -> bool:
    """Not an empty field that is asked for nonetheless: exposure time, thread, a bucket where there are some."""
    asked = one.name in ("exposure_s", "thread_um") or (one.kind == "bucket" and options.get(one.name))
    return not one.required and not asked


def _summed(one: Field, values: Mapping[str, Any], options: Mapping[str, list[tuple[str, str]]]) -> str:
    """What a folded field holds, in a word or two."""
    words = dict(options.get(one.name) or one.choices)
    texts = [_(words.get(text, text)) for text in all_of(values, one.name) if text]
    unit = one_of(values, f"{one.name}.unit") or units.unit_of(one.name)
    said = ", ".join(texts)
    if one.kind in ("number", "numbers") and unit:
        return f"{said} {units.unit_text(unit)}"
    return f"{_(one.label)}: {said}" if one.kind in ("whole", "text") or one.name in LABELLED else said


def room_note(db: Database) -> str:
    """The last reading of the room in this shift, with who took it and when; it is never filled in."""
    found = air.room_of_the_shift(db, g.now, g.now)
    if found is None:
        return _("Nobody measured the room this shift.")
    both = {"room_c": (found.room_c, "degC"), "room_rh_pct": (found.room_rh_pct, "%")}
    if found.apart is not None:
        parts = [
            _("{value} ({who}, {when})").format(value=measured(value, unit), who=who, when=ago(at))
            for name, (value, unit) in both.items()
            if value is not None
            for at, who in [found.read(name)]
        ]
        return _("Room by the last readings: {read}.").format(read=", ".join(parts))
    read = [measured(value, unit) for value, unit in both.values() if value is not None]
    return _("Room by the last reading: {read} ({who}, {when}).").format(
        read=", ".join(read), who=found.who, when=ago(found.at)
    )


def options_for(
    db: Database, screen: screens.Screen | None, step: Step, values: Mapping[str, Any], few: bool = True
) -> dict[str, list[tuple[str, str]]]:
    """What a step's form offers to tap: buckets, presets, exposure units, places, separations, stages."""
    out: dict[str, list[tuple[str, str]]] = {}
    for one in step.fields:
        match one.kind:
            case "bucket":
                found = screen_steps.emulsions(db)[:FEW_CHOICES]
                out[one.name] = [(bucket.code, _bucket_tile(bucket)) for bucket in found]
            case "preset":
                names = dict.fromkeys([*(preset["name"] for preset in g.settings["presets"]), one_of(values, one.name)])
                out[one.name] = [(name, name) for name in names if name]
            case "mesh" if in_safelight():  # nothing can be typed there: the meshes that the shop has
                meshes = dict.fromkeys(mesh for _standing, mesh, _count, _number in screens.counts(db) if mesh)
                out[one.name] = [(mesh, mesh) for mesh in meshes]
            case "unit":
                out[one.name] = [(unit.name, unit.name) for unit in places.units(db)]
            case "place":
                found_places = [place for place in places.every(db) if place.kind != "press"]
                found_places.sort(key=lambda place: place.outside)  # a screen put there is away: last, and said
                away = _("{place} (outside the shop)")
                out[one.name] = [
                    (place.name, away.format(place=place.name) if place.outside else place.name)
                    for place in found_places[:60]
                ]
            case "separations" if screen is not None and not (one.folded and few):
                out[one.name] = images_to_choose(db, screen, all_of(values, one.name), few)
            case "choice" if one.name == "standing_seen":
                left_out = {Standing.UNKNOWN, Standing.RETIRED, Standing.ON_PRESS}
                if screen is not None and screen.life.standing is Standing.ON_PRESS:  # it hangs on, with a name
                    left_out.discard(Standing.ON_PRESS)
                out[one.name] = [(str(key), word) for key, word in STANDING_WORDS.items() if key not in left_out]
    return out


def _bucket_tile(bucket: Bucket) -> str:
    """A bucket to tap; one that would not do says so before it is chosen."""
    name = find.bucket_named(bucket)
    if bucket.test == "fault":
        return _("{bucket} – test strip failed").format(bucket=name)
    return _("{bucket} – expired").format(bucket=name) if bucket.past(g.now) else name


def images_to_choose(db: Database, screen: screens.Screen, chosen: Sequence[str], few: bool) -> list[tuple[str, str]]:
    """Separations to tap: what is on the screen or was chosen, then what the open jobs want; the fitting ones first.
    `few`: only those, where there are any."""
    texts: dict[str, str] = {}
    stencil = screen.life.stencil
    for number in [*chosen, *map(str, stencil.separations if stencil else ())]:
        image = jobs.separation(db, row_number(number))
        if image is not None:
            texts[number] = f"{image.name} · {image.art} {image.revision} · {image.customer}"
    found = screen_steps.image_choices(db, screen, g.now, FEW_CHOICES if few else 120)
    some = [choice for choice in found if choice[2]]
    for key, text, _fits in some if few and (some or texts) else found:
        texts.setdefault(str(key), text)
    return list(texts.items())


def _pictures_of(db: Database, step: Step, options: Mapping[str, list[tuple[str, str]]]) -> dict[str, str]:
    """The artwork of the images that a step offers, by their numbers as the form sends them."""
    offered = [one.name for one in step.fields if one.kind == "separations"]
    return pictures_of(db, [choice for name in offered for choice in options.get(name, ())])


def pictures_of(db: Database, images: Sequence[tuple[str, str]]) -> dict[str, str]:
    """The artwork of images to tap, by hash."""
    numbers = [row_number(number) for number, _text in images if number != LATER]
    return {str(number): one.hash for number, one in pictures.of_separations(db, numbers).items()}


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
    without: Sequence[str] = (),
    button: str = "",
    given: Mapping[str, Any] | None = None,
    pictured: bool = False,
) -> StepForm:
    """The form of a step of one screen: prefilled from the shop's habits but for what is `given`, or with `values` as
    they were sent; fields in `without` are not asked. `pictured`: images to choose from are shown as well, which a scan
    has no room for."""
    step, mine = SCREEN_STEPS[name], held()
    usual: Mapping[str, Any] = {}
    if values is None:
        usual = screen_steps.habits(mine.db, screen, name, mine.now) if name != "image" else {"means": "film"}
        values = {**usual, **(given or {})}
        usual = {one: text for one, text in usual.items() if one in USUAL_THEN and one not in (given or {})}
    options = options_for(mine.db, screen, step, values, few)
    for only in ("separations",) if name == "image" else ("place", "exposure_unit"):
        if not one_of(values, only) and len(options.get(only, ())) == 1:  # where there is no choice, it is made
            values = {**values, only: [options[only][0][0]]}
    if name == "image":
        options["separations"].append((LATER, _("None of these: name it later")))
    left_out, in_front = _places_of_fields(screen, step, values, options, few)
    left_out += without
    asked = step_form(
        mine.db,
        step,
        f"/screens/{screen.code}/{name}",
        values,
        options,
        faults=faults,
        entry=entry,
        hidden=[*hidden, *([("for_work", work)] if name in ("tension", "coat") and (work := work_in_hand()) else [])],
        settled=settled,
        left_out=left_out,
        in_front=in_front,
        button=button,
        usual=usual,
        picks=PICKED.get(name, "") if few else "",
        pictures=_pictures_of(mine.db, step, options) if pictured else None,
    )
    return replace(asked, more=f"/screens/{screen.code}?step=image&all=1") if few and name == "image" else asked


def _places_of_fields(
    screen: screens.Screen,
    step: Step,
    values: Mapping[str, Any],
    options: Mapping[str, list[tuple[str, str]]],
    few: bool,
) -> tuple[list[str], list[str]]:
    """The fields that this screen's form leaves out, and those that it never folds."""
    name, stencil = step.name, screen.life.stencil
    left_out, in_front = ["run"] if name == "pull" else [], [] if few else ["separations"]
    if name == "found" and one_of(values, "standing_seen"):  # the stage is said: what is left to say is the image
        in_front.append("separations_seen")
    if name == "expose" and stencil is not None and stencil.separations:
        left_out.append("separations")
    if name == "found" and not options.get("separations_seen"):
        left_out.append("separations_seen")
    if any(one.name == steps.DRY.name for one in step.fields):  # asked where it is wet, and only there
        wet = air.is_wet(g.db, screen.life, g.now)
        if one_of(values, "dry") or (wet and not _just_wetted(screen.life)):
            in_front.append("dry")
        elif not wet:
            left_out.append("dry")
    return left_out, in_front


JUST_WETTED = timedelta(minutes=5)
"""Nothing dries in that time: whoever just logged a coat finds no button there that says it is dry, but it can be said
in the fold."""


def _just_wetted(life: Life) -> bool:
    at = wet_since(life)[1]
    return bool(at) and timedelta() <= g.now - read_stamp(at) < JUST_WETTED


def work_in_hand() -> str:
    """The kind of work that this phone picks a frame for; empty: it does not."""
    task = g.sign_in.doing
    return str(task.get("work", "")) if task.get("task") == "fit" else ""


def macro(template: str, name: str) -> Callable[..., Markup]:
    """A macro of a template, to be called from here: an import on the page takes longer than the macro."""
    found: Callable[..., Markup] = getattr(current_app.jinja_env.get_template(template).module, name)
    return found


_ENTRY, _ACTION, _NOTE, _MORE = "entry-to-come", "action-to-come", "note-to-come", "more-to-come"


def form_html(asked: StepForm) -> Markup:
    """The form as it is on a page; its HTML is kept with its shape, which differs in screen and id only."""
    quick, shape = macro("screens/_form.html", "quick"), asked.shape
    if shape is None:
        return Markup(quick(asked, ACCEPTS))
    if not shape.html:
        blank = replace(
            asked, entry=_ENTRY, action=_ACTION, note=_NOTE if asked.note else "", more=_MORE if asked.more else ""
        )
        shape.html = str(quick(blank, ACCEPTS))
    html = shape.html.replace(_ENTRY, asked.entry).replace(_ACTION, str(escape(asked.action)))
    return Markup(html.replace(_NOTE, str(escape(asked.note))).replace(_MORE, str(escape(asked.more))))


def again(db: Database, entry: Entry) -> dict[str, list[str]]:
    """The values of an entry as a form sends them, without what was found or measured on its one screen."""
    step = SCREEN_STEPS[entry.step]
    out: dict[str, list[str]] = {}
    for one in step.fields if step.taps != "result" else ():  # a look at one screen says nothing of the next
        value = entry.values.get(one.name)
        if value is None or one.name == step.taps or one.name in OWN_VALUES | FOUND_ON_ONE:
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


# The one question, and the verdict that got worse


def ask_page(one: screens.Screen, sent: Mapping[str, list[str]], asks: Asks) -> Response:
    """The one question about a step of one screen, with everything that was sent."""
    seen = stages.asked_standing(asks.step)
    stencil = one.life.stencil
    wants_images = asks.in_hand and seen in stages.IMAGE_ON and not (stencil and stencil.separations)
    images = images_to_choose(g.db, one, (), few=False)[:24] if wants_images else []
    seen_on = ImagesToTap(images, pictures_of(g.db, images)) if images else None
    return question_page(
        f"/screens/{one.code}/{asks.step}",
        f"/screens/{one.code}",
        SCREEN_STEPS[asks.step],
        sent,
        asks,
        code=one.code,
        mark=one.life.mark,
        images=seen_on,
    )


@dataclass(frozen=True, slots=True)
class ImagesToTap:
    """Images to tap: (number, text), and the artwork of those that have a picture, by number."""

    choices: Sequence[tuple[str, str]]
    pictures: Mapping[str, str]


def question_page(
    action: str,
    back: str,
    step: Step,
    sent: Mapping[str, list[str]],
    asks: Asks,
    *,
    code: str = "",
    mark: str = "",
    images: ImagesToTap | None = None,
) -> Response:
    """Asks whether the screens are in hand, and whether it is meant although they are still needed; one tap says yes to
    both, and sends everything again."""
    return page(
        "screens/question.html",
        409,
        action=action,
        back=back,
        step=step,
        asks=asks,
        code=code,
        mark=mark,
        images=images,
        hidden=sent_again(sent, {"in_hand", "still_needed", "separations_seen"}),
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
