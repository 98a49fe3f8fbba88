"""Places and what is on them: one act for many screens; exposure units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import places as places_acts
from tickets.actions import screens as screens_acts
from tickets.calculator import typed, units
from tickets.calculator.kinds import LAMPS, PLACES
from tickets.calculator.verdict import Verdict
from tickets.domain import overtaken, stages
from tickets.domain.code import NoCode, read, shown
from tickets.domain.posted import Asks, Worse, form
from tickets.domain.refusal import Clash, Fault, NotAllowed, NotFound, Refused
from tickets.domain.screens import screen as rules
from tickets.domain.screens.screen import Life
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.domain.steps import SCREEN_STEPS, Step
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import said as said_now
from tickets.queries import screen_steps
from tickets.queries.asked import needed_among
from tickets.store import codes, entries, places, screens
from tickets.store.ordered import PageStart
from tickets.store.places import Place
from web import log
from web.changes import TURN_WORDS, past
from web.learning import unit_path
from web.lists import ListHead, asked_for, listing, turned
from web.screens import find_screen, then_of
from web.steps import OWN_VALUES, USUAL_THEN, WHYS, StepForm, options_for, question_page, step_form, worse_page
from web.support import (
    actor,
    all_of,
    confirm_once,
    faults_by_field,
    form_lists,
    new_entry_id,
    not_by_enter,
    one_of,
    page,
    reader,
    row_number,
)

bp = Blueprint("places", __name__)

SHOWN, LISTED = 200, 50
"""Screens of a place, and places, on one page."""
FOR_MANY = tuple(name for name, step in SCREEN_STEPS.items() if step.many is not None)
"""Steps that many screens may take together; the others ask something of each."""

WHENEVER = frozenset({"rack", "note", "decide", "retension"})
"""Steps that fit a screen at any stage."""

KEEPS = frozenset({"rack", "cabinet"})
"""Kinds of place where screens are kept; a cart takes its screens through the next step together."""

AT_REST = frozenset(
    {
        Standing.UNKNOWN, Standing.BARE, Standing.STRIPPED, Standing.READY, Standing.KEPT, Standing.TO_STRIP,
        Standing.TO_RESTRETCH, Standing.AWAY, Standing.RETIRED,
    }
)  # fmt: skip
"""Stages at which a screen may lie for weeks: on a place where screens are kept, no work waits for it."""


@dataclass(frozen=True, slots=True)
class Here:
    """A screen on a place: its stage in words, and whether it is ticked for the step chosen."""

    screen: screens.Screen
    standing: str
    ticked: bool


def find(text: str) -> Place:
    """The place of a code."""
    try:
        code = read(text)
    except NoCode as fault:
        raise NotFound(str(fault), "code") from None
    issued = codes.find(g.db, code)
    place = places.get(g.db, issued.thing) if issued is not None and issued.kind == "place" else None
    if place is None:
        raise NotFound(_("This shop has no place {code}.").format(code=shown(code)), "code")
    return place


HEADS = (
    ListHead("name", N_("Name")),
    ListHead("kind", N_("Kind")),
    ListHead("", N_("Heads"), True),
    ListHead("", N_("Screens there"), True),
)


@bp.get("/places")
def every() -> Response:
    """A page of the places by kind or name (`q`: with this in the name, `kind`: of a kind) with how many screens
    are there; exposure units; forms for new ones."""
    return _list()


def _list(refused: Refused | None = None, about: str = "", values: Mapping[str, Any] | None = None) -> Response:
    sent = {name: request.args.get(name, "").strip() for name in ("q", "kind")}
    used = {name: text for name, text in sent.items() if text and (name == "q" or text in PLACES)}
    asked = asked_for("/places", used, list(places.BY), "kind")
    start = PageStart(asked.down, (None, asked.row) if asked.row else None, asked.back)
    some = places.listed(g.db, LISTED + 1, asked.order, start, used.get("q", ""), used.get("kind", ""))
    found, before, behind = turned(asked, some, LISTED)
    first, last = (found[0].id, found[-1].id) if found else (0, 0)
    return page(
        "places/list.html",
        refused.status if refused else 200,
        list=listing(asked, HEADS, first, last, (before, behind)),
        places=found,
        filters=[(name, _(PLACES.get(text, text)) if name == "kind" else text) for name, text in used.items()],
        many=before or behind or bool(used),
        retired=places.every(g.db, retired=True),
        retired_units=places.units(g.db, retired=True),
        counts=screens.count_at(g.db, [one.id for one in found]),
        units=places.units(g.db),
        kinds=list(PLACES.items()),
        lamps=list(LAMPS.items()),
        turns=list(TURN_WORDS.items()),
        words={**PLACES, **LAMPS},
        faults=faults_by_field(refused),
        about=about,
        values=values or {},
        unit_entry=new_entry_id(),
        unit_path=unit_path,
    )


@bp.post("/places/new")
def add() -> AnyResponse:
    """A new place."""
    sent = form_lists()
    try:
        number = _heads(sent) if one_of(sent, "kind") == "press" else None
        code = places_acts.add(
            g.db,
            actor(),
            one_of(sent, "name"),
            one_of(sent, "kind"),
            post=one_of(sent, "entry"),
            now=g.now,
            outside=form(sent).yes("outside"),
            heads=number,
            turns=one_of(sent, "turns") if one_of(sent, "kind") == "press" else "",
        )
    except NotAllowed:
        raise
    except Refused as refused:
        return _list(refused, "place", sent)
    return redirect(f"/places/{code}", code=303)


def _heads(sent: Mapping[str, Sequence[str]]) -> int | None:
    """The heads of a press as typed; None: none given."""
    heads = one_of(sent, "heads").strip()
    if not heads:
        return None
    try:
        return typed.whole(heads)
    except units.NotAQuantity as fault:
        raise Refused([Fault.of("heads", fault)]) from None


@bp.post("/exposure-units/new")
def add_unit() -> AnyResponse:
    """A new exposure unit."""
    sent = form_lists()
    try:
        name, lamp = one_of(sent, "name"), one_of(sent, "lamp")
        places_acts.add_unit(g.db, actor(), name, lamp, post=one_of(sent, "entry"), now=g.now)
    except NotAllowed:
        raise
    except Refused as refused:
        return _list(refused, "unit", sent)
    return redirect("/places", code=303)


@bp.post("/places/<code>/change")
def change(code: str) -> AnyResponse:
    """Another name, another number of heads, another way that a press turns."""
    one, sent = find(code), form_lists()
    try:
        places_acts.change(
            g.db,
            actor(),
            one,
            one_of(sent, "name"),
            _heads(sent),
            one_of(sent, "turns"),
            post=one_of(sent, "entry"),
            now=g.now,
            seen=one_of(sent, "seen"),
        )
    except NotAllowed:
        raise
    except Refused as refused:
        return _page(find(code), refused=refused, keeping=sent)
    return redirect(f"/places/{one.code}", code=303)


@bp.post("/places/<code>/use")
def use(code: str) -> AnyResponse:
    """Out of use, or in use again (`back`)."""
    one, sent = find(code), form_lists()
    back = form(sent).yes("back")
    try:
        places_acts.retire(g.db, actor(), one, back=back, post=one_of(sent, "entry"), now=g.now)
    except NotAllowed:
        raise
    except Refused as refused:
        return _page(one, refused=refused, keeping={})
    return redirect(f"/places/{one.code}", code=303)


# One place ----------------------------------------------------------------------------------------------------------


@bp.get("/places/<code>")
def place(code: str) -> Response:
    """All that is on a place, with one button for all that stay ticked."""
    crossing = entries.answer(g.db, request.args["cross"]) if request.args.get("cross") else None
    return _page(
        find(code),
        request.args.get("step", ""),
        after=row_number(request.args.get("after")),
        tick=request.args.get("tick", ""),
        crossing=_done(crossing, request.args["cross"]) if crossing else None,
    )


@dataclass(frozen=True, slots=True)
class PlaceShown:
    """The page of a place. `here`: its screens, each ticked or not for the step `chosen`, which `form` asks for (None:
    no step); `steps`: those that many may take together, the likely first; `more`: where the next screens begin."""

    place: Place
    here: tuple[Here, ...]
    chosen: str
    form: StepForm | None
    steps: tuple[Step, ...]
    more: int
    tick_links: list[tuple[str, str]]
    past: Any

    @property
    def ticked(self) -> bool:
        """Whether any is."""
        return any(one.ticked for one in self.here)

    @property
    def counted(self) -> str:
        """What the button says once the ticks are counted; `{n}` stays for the script."""
        if not self.chosen:
            return ""
        known = SCREEN_STEPS[self.chosen]
        if known.many:
            return _("Log {n}: {done}").format(n="{n}", done=_(known.many))
        return _("{step}: {n}").format(step=_(known.title), n="{n}")


def _page(
    one: Place,
    step: str = "",
    *,
    values: Mapping[str, Any] | None = None,
    refused: Refused | None = None,
    entry: str = "",
    ticked: Sequence[str] | None = None,
    after: int = 0,
    tick: str = "",
    crossing: DoneForMany | None = None,
    keeping: Mapping[str, Any] | None = None,
) -> Response:
    answer = entries.answer(g.db, request.args.get("done", "")) if request.args.get("done") else None
    of_step = refused if keeping is None else None
    return page(
        "places/place.html",
        refused.status if refused else 200,
        it=_shown(one, step, values, of_step, entry, ticked, after, tick),
        word=PLACES[one.kind],
        done=_done(answer, request.args["done"]) if answer else None,
        faults=faults_by_field(refused),
        crossing=crossing,
        crossed="crossed" in request.args,
        whys=WHYS,
        values=values or {},
        entry=entry or new_entry_id(),
        keeping=keeping,
        seen=overtaken.mark(places_acts.shown_of(one)),
        overtaken=refused if isinstance(refused, overtaken.Overtaken) else None,
        use_entry=new_entry_id(),
        turns=TURN_WORDS,
    )


def _shown(
    one: Place,
    step: str,
    values: Mapping[str, Any] | None,
    refused: Refused | None,
    entry: str,
    ticked: Sequence[str] | None,
    after: int,
    tick: str,
) -> PlaceShown:
    there = screens.at_place(g.db, one.id, SHOWN + 1, after)
    more, there = len(there) > SHOWN, there[:SHOWN]
    logged, kept = g.settings["steps"], needed_among(g.db, there, g.now)
    due = [screen for screen in there if not _kept_there(one, screen.life)]
    following = Counter(
        name
        for screen in due
        if (name := rules.next_step(screen.life, logged)) in FOR_MANY and name != "rack" and screen.id not in kept
    )
    if step not in FOR_MANY:
        step = "" if one.kind == "press" else next((name for name, _count in following.most_common(1)), "")
    if ticked is not None:
        ticks = {s.id for s in there if s.code in set(ticked)}
    elif tick in {"none", "all"}:
        ticks = {s.id for s in there if tick == "all"}
    else:
        ticks = _ticks(there if tick == "due" else due, step, logged) - (kept if step == "strip" else set())
        since = g.get("since") or request.args.get("since", "")
        if tick != "due":  # only what was scanned onto it just now: nobody chose the rest
            ticks &= {screen.id for screen in there if since and (screen.life.place_since or "") >= since}
    return PlaceShown(
        one,
        tuple(Here(screen, _(STANDING_WORDS[screen.life.standing]), screen.id in ticks) for screen in there),
        step,
        _form(one, there, step, values, refused, entry) if step and there else None,
        tuple(SCREEN_STEPS[name] for name in sorted(FOR_MANY, key=lambda name: -following.get(name, 0))),
        there[-1].id if more else 0,
        _tick_links(one, step, after) if there else [],
        past("place", one.id).get(one.id),
    )


def _kept_there(place: Place, life: Life) -> bool:
    """True for a screen that is put away: no step is proposed for it, and it is ticked by hand."""
    return place.kind in KEEPS and life.standing in AT_REST


def _tick_links(one: Place, step: str, after: int) -> list[tuple[str, str]]:
    """Ticks without scripts: (address, what it ticks). Nobody strips a whole rack by one slip: no "all" for that."""
    words = {"none": _("Tick none"), "due": _("Tick those that are due"), "all": _("Tick all")}
    asked = {**({"step": step} if step else {}), **({"after": after} if after else {})}
    return [
        (f"/places/{one.code}?{urlencode({**asked, 'tick': kind})}#screens", words[kind])
        for kind in ("none", "due", "all")
        if not (kind == "all" and step == "strip")
    ]


def _form(
    one: Place,
    there: Sequence[screens.Screen],
    step: str,
    values: Mapping[str, Any] | None,
    refused: Refused | None,
    entry: str,
) -> StepForm:
    known = SCREEN_STEPS[step]
    usual: dict[str, Any] = {}
    model = next((screen for screen in there if rules.next_step(screen.life, g.settings["steps"]) == step), there[0])
    if values is None:
        values = screen_steps.habits(g.db, model, step, g.now)
        usual = {name: text for name, text in values.items() if name in USUAL_THEN}
    button = _("Log all ticked: {step}").format(step=_(known.many or known.title))
    return step_form(
        g.db,
        known,
        f"/places/{one.code}/{step}",
        values,
        options_for(g.db, None, known, values),
        faults=faults_by_field(refused),
        entry=entry,
        left_out=["separations", *OWN_VALUES],
        hidden=[("usual", text) for text in all_of(values, "usual")],
        button=button,
        usual=usual,
    )


def _ticks(there: Sequence[screens.Screen], step: str, logged: Sequence[str]) -> set[int]:
    """Those of the screens that the step is meant for. Any that would lose a stencil by it are ticked by hand only."""
    if not step:
        return {screen.id for screen in there}
    if step in stages.MOVES and step not in WHENEVER:  # a stencil that is only imaged does not wait for the washout
        waits = {screen.id for screen in there if rules.next_step(screen.life, logged) == step}
        if waits:
            return waits
    return {screen.id for screen in there if _meant(screen.life, step, logged)}


def _meant(life: Life, step: str, logged: Sequence[str]) -> bool:
    if step in WHENEVER:
        return True
    if step == "strip":
        return life.standing is Standing.TO_STRIP
    after = stages.MOVES[step][1]
    return life.standing is not after and stages.follow(life.standing, step, logged).fits


@dataclass(frozen=True, slots=True)
class DoneForMany:
    """What one act for many came to."""

    title: str
    number: int
    verdict: Verdict | None
    said: str
    post: str
    may_cross: bool
    then: str = ""


def _done(answer: Mapping[str, Any], post: str) -> DoneForMany | None:
    written = answer.get("entries", ())
    last = entries.find(g.db, written[-1]) if written else None
    if last is None or last.screen is None:
        return None
    found = [entry for name in written if (entry := entries.find(g.db, name)) is not None]
    verdict = Verdict.from_dict(answer["verdict"]) if answer.get("verdict") else None
    return DoneForMany(
        title=said_now.title(last),
        number=len({entry.screen for entry in found}),
        verdict=verdict,
        said=said_now.text(reader(), last),
        post=post,
        may_cross=any(line.may_cross for line in log.lines(g.db, found)),
        then=then_of(last.step, answer),
    )


@bp.post("/places/<code>/<step>")
def log_many(code: str, step: str) -> AnyResponse:
    """The same step of every screen ticked: the values once, one entry each, all or none."""
    one = find(code)
    sent = form_lists()
    post = one_of(sent, "entry")
    if step == "cross-out":
        return _cross_out(one, sent, post)
    if step not in FOR_MANY:
        raise NotFound(_("This step is logged on each screen by itself."), "step")
    many: list[screens.Screen] = []
    try:
        many = [find_screen(text)[0] for text in dict.fromkeys(sent.get("screen", ())) if text]
        not_by_enter(sent)
        screens_acts.log_many(g.db, actor(), many, step, form(sent), post=post, now=g.now)
    except Asks as asks:
        return question_page(f"/places/{one.code}/{step}", f"/places/{one.code}", SCREEN_STEPS[step], sent, asks)
    except Worse as worse:
        return worse_page(f"/places/{one.code}/{step}", f"/places/{one.code}", sent, worse)
    except (NotFound, NotAllowed):
        raise
    except Refused as refused:
        fresh = isinstance(refused, Clash) or "entry" in faults_by_field(refused)
        return _page(
            one,
            step,
            values=sent,
            refused=refused,
            entry=new_entry_id() if fresh else post,
            ticked=[screen.code for screen in many],
        )
    return redirect(f"/places/{one.code}?done={post}", code=303)


def _cross_out(one: Place, sent: Mapping[str, Sequence[str]], post: str) -> AnyResponse:
    """The whole of one act for many, logged by mistake."""
    wrong, post = screens_acts.wrong_one(actor(), form(sent), post)
    try:
        not_by_enter(sent)
        confirm_once("cross-out", sent, post)
        screens_acts.cross_out_all(g.db, actor(), wrong, one_of(sent, "why"), post=post, now=g.now)
    except (NotFound, NotAllowed):
        raise
    except Refused as refused:
        answer = entries.answer(g.db, wrong)
        crossing = _done(answer, wrong) if answer else None
        if crossing is None:
            return log.cross_page(f"/places/{one.code}/cross-out", f"/places/{one.code}", sent, refused)
        return _page(one, values=sent, refused=refused, crossing=crossing)
    return redirect(f"/places/{one.code}?crossed={wrong}", code=303)
