"""The page of a run: what is now (`queries.run_now`), the form that came back or was asked for, who holds the phone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flask import Response, g, request

from tickets.actions import run_act
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Verdict
from tickets.domain import cautions as risks
from tickets.domain.person import may_pass, to_pass
from tickets.domain.posted import Form, Worse
from tickets.domain.refusal import Clash, Refused
from tickets.domain.runs import lab
from tickets.domain.runs.job_remarks import CURE
from tickets.domain.steps import CONDITIONS, RUN_STEPS, THEN, Step
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import print_order, run_now, run_plan
from tickets.queries.colour import Checked
from tickets.queries.phase import forms_of
from tickets.queries.run_now import RunNow
from tickets.store import entries, people
from web import colours
from web.run_log import RunLine, log_lines
from web.run_parts import Part, parts_of
from web.steps import WHYS
from web.support import actor, all_of, cautions_told, faults_by_field, page, reader, to_tap

WHY_PASSED = to_tap(
    N_("no other screen in time"),
    N_("customer agreed"),
    N_("lead said so"),
    N_("looked at it: it is fine"),
)
WHY_UNCURED = to_tap(N_("cured again after a test"), N_("wash test passed"), N_("the customer accepts it"))
HOW_APPROVED = (N_("piece in hand"), N_("photo sent"), N_("next to the last print"), N_("on the phone"))
WHY_CHANGED = to_tap(
    N_("colour drifts"),
    N_("ink flow"),
    N_("edge not sharp"),
    N_("misregister"),
    N_("other garment or lot"),
    N_("flash or cure"),
)
LOG_SHOWN = 60

Tiles = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FormBack:
    """A form that comes back with what was typed, or one that somebody asked for. `step`: which (empty: none); `worse`:
    the verdict that got worse meanwhile; `on_top`: what is wrong stands above all, since that form is not on the page
    any more, and `told` has what was typed into it, by its labels; `steps`: whose counts say what stands already."""

    step: str
    values: Mapping[str, Any]
    faults: Mapping[str, str]
    worse: Verdict | None
    may_pass_worse: bool
    on_top: bool
    told: Tiles
    steps: Mapping[str, Step]
    colours: colours.Colours

    @property
    def next_garment(self) -> bool:
        """Whether it is the one that goes on with another garment."""
        return "colourway" in all_of(self.values, "what")


@dataclass(frozen=True, slots=True)
class Cards:
    """The set-up sheet as it is filled in, a card a part. `open`: the key of the card that is (all: `all`);
    `one_asked`: somebody asked for a card, `asked`: or for the sheet; `later`: the run may start, and what is open is
    noted beside; `risks`: the cautions of the set-up by the part that has the risk, `risks_read`: those read this
    shift."""

    parts: tuple[Part, ...]
    open: str
    one_asked: bool
    asked: bool
    later: bool
    risks: Mapping[str, Sequence[str]]
    risks_read: Sequence[str]

    @property
    def noted(self) -> int:
        """How many parts somebody noted."""
        return sum(part.noted for part in self.parts)

    @property
    def all_noted(self) -> bool:
        """Whether nothing is open."""
        return self.noted == len(self.parts)

    @property
    def by_station(self) -> dict[int, Part]:
        """The parts of the stations, by their numbers."""
        return {number: part for part in self.parts if (number := counted(part.key, -1)) >= 0}


@dataclass(frozen=True, slots=True)
class Taps:
    """What can be tapped for an answer."""

    whys: Tiles
    why_changed: Tiles
    whys_past: Tiles
    whys_cured: Tiles
    then: Tiles
    conditions: Tiles
    how_approved: Tiles
    approvers: Tiles


@dataclass(frozen=True, slots=True)
class Me:
    """What who holds the phone may do, and where this phone is. `start`: what the button says that starts the run, or
    goes on with it; `here`: scans of this phone are checked for this run; `hung`: the code of the screen just hung;
    `swapping`: the screen that is to be swapped; `cautions`: those of the inks."""

    may_go_past: bool
    may_pass_cure: bool
    leads: bool
    start: str
    here: bool
    hung: str
    swapping: print_order.Swapping | None
    cautions: risks.Told
    log: tuple[RunLine, ...]

    @property
    def ended(self) -> RunLine | None:
        """The end of the run, where who holds the phone may take it back."""
        return next((one for one in self.log if one.entry.step == "finish" and one.may_cross), None)


def run_page(
    plan: run_plan.Plan,
    status: int = 200,
    step: str = "",
    refused: Refused | None = None,
    values: Mapping[str, Any] | None = None,
    checked: Mapping[int, Checked] | None = None,
) -> Response:
    """The run's page. `step`, `refused`, `values`: a form that comes back, with what was typed; `checked`: what the
    colours in it come to."""
    run = run_now.of(reader(), plan)
    form = _form_back(run, step, refused, values or {}, checked)
    worse = to_pass(form.worse) if form.worse is not None and step == "sheet" else run.going.causes
    taps = Taps(
        WHYS,
        tiles(WHY_CHANGED),
        whys_past(worse),
        whys_past(run.going.cure_stops),
        THEN,
        CONDITIONS,
        tiles(HOW_APPROVED),
        tuple((one.name, one.name) for one in people.every(g.db)),
    )
    return page("runs/run.html", status, run=run, form=form, cards=_cards(run, form), taps=taps, me=_me(run, refused))


def _form_back(
    run: RunNow,
    step: str,
    refused: Refused | None,
    values: Mapping[str, Any],
    checked: Mapping[int, Checked] | None,
) -> FormBack:
    faults, there = faults_by_field(refused), forms_of(g.db, run.plan)
    if step == "hang":
        faults = {"screen": " ".join(faults.values())} if faults else {}
    approves = step == "approve"
    values = _whose_name(values) if approves else values
    on_top = bool(faults) and (isinstance(refused, Clash) or step not in there)
    worse = refused.verdict if isinstance(refused, Worse) else None
    return FormBack(
        step,
        values,
        faults,
        worse,
        worse is not None and may_pass(actor(), to_pass(worse)),
        on_top,
        tuple(_told(values, step)) if on_top and step not in there else (),
        counting(run.plan),
        colours.form_of(
            _as_typed(run.plan, values) if approves and values else run.plan,
            run.setup.against.run,
            values if approves else {},
            faults if approves else {},
            checked,
        ),
    )


def _cards(run: RunNow, form: FormBack) -> Cards:
    parts = parts_of(run.plan, run.setup.aim, form.faults if form.step == "sheet" else {}, offer=True)
    asked = bool(request.args.get("part"))
    inks = {str(one.number): one.inks for one in run.plan.asked}
    does = {str(one.number): one.does for one in run.plan.placement.stations}
    hang = [part.key for part in parts if part.hangs]
    said = cautions_told([*_of_inks(run), *RUN_STEPS["sheet"].cautions])
    work = {key: risks.PartWork(does.get(key, "run"), inks.get(key, frozenset())) for key in hang}
    return Cards(
        tuple(parts),
        _open_part(parts, form.step),
        asked,
        asked or form.step == "sheet",
        run.phase == "start" and not run.story.frozen and not all(part.noted for part in parts),
        risks.beside(said.new, work),
        said.read,
    )


def _of_inks(run: RunNow) -> Sequence[str]:
    """The cautions of the inks that this placement prints."""
    return risks.of_inks({ink for one in run.plan.asked for ink in one.inks})


def _me(run: RunNow, refused: Refused | None) -> Me:
    me, swap = actor(), request.args.get("swap", "")
    return Me(
        may_pass(me, run.going.causes),
        may_pass(me, run.going.cure_stops),
        me.leads,
        _start_word(run),
        (g.sign_in.doing or {}).get("run") == run.plan.run.id,
        request.args.get("hung", "") if refused is None else "",
        print_order.swapping(g.db, run.plan, swap) if refused is None and not run.over else None,
        cautions_told(_of_inks(run)),
        tuple(log_lines(entries.latest_of(g.db, "run", run.plan.run.id, LOG_SHOWN))),
    )


def tiles(words: Iterable[str]) -> Tiles:
    return tuple((_(word), _(word)) for word in words)


def whys_past(causes: Iterable[str]) -> Tiles:
    """The reasons to tap for going past these causes: no other screen is none for a cure or an ink."""
    keys = set(causes)
    others = keys - CURE
    found = [*(WHY_UNCURED if keys & CURE else ()), *(WHY_PASSED if others or not keys else ())]
    if others and all(key.startswith(("ink-", "bucket-", "print-colour-", "again-")) for key in others):
        found.remove(WHY_PASSED[0])
    return tiles(found)


def counting(plan: run_plan.Plan) -> dict[str, Step]:
    """The steps of a run, with counts that say since when they are and what stands already."""
    labels = {
        "good": _("Good pieces since the last count (so far: {number})").format(number=plan.story.good),
        "misprinted": _("Misprinted since the last count (so far: {number})").format(number=plan.story.misprinted),
    }
    count = RUN_STEPS["count"]
    fields = tuple(replace(one, label=labels.get(one.name, one.label)) for one in count.fields)
    return {**RUN_STEPS, "count": replace(count, fields=fields)}


def _told(values: Mapping[str, Any], step: str) -> list[tuple[str, str]]:
    """What was typed into a form that is not on the page any more, by its labels."""
    fields = [*(RUN_STEPS[step].fields if step in RUN_STEPS else ()), *RUN_STEPS["count"].fields]
    labels = {one.name: _(one.label) for one in fields} | {"sample": _("Where the sample is kept")}
    out = []
    for name, sent in values.items():
        label = _("Colour readings, L* a* b*") if name.startswith(lab.PREFIX) else labels.get(name)
        told = " ".join(_(str(text)) for text in sent if text)
        if label and told and name != lab.CONDITIONS:
            out.append((label, told))
    return out


def _open_part(parts: Sequence[Part], step: str = "") -> str:
    """The card of the sheet that is open: one with a fault, the one asked for (all of them: `all`), else the first that
    can be noted now."""
    asked = request.args.get("part", "")
    if asked == "all":
        return asked
    faulty = [part.key for part in parts if part.faulty and step == "sheet"]
    here = [part.key for part in parts if part.key == asked and part.hangs]
    waiting = [part.key for part in parts if not part.noted and part.hangs]
    return next(iter([*faulty, *here, *waiting]), parts[0].key)


def _start_word(run: RunNow) -> str:
    """What the button says that logs the start of the run, or that it goes on."""
    done = _("Printing again") if run.story.started_at else _(RUN_STEPS["start"].on_button)
    return _("{done} anyway").format(done=done) if run.going.passing else done


def _whose_name(values: Mapping[str, Any]) -> Mapping[str, Any]:
    """An approval that comes back: a name that is nobody's here stands where the customer's person is asked for."""
    named = next(iter(values.get("approved_by", ())), "")
    if not named or people.find(g.db, named) or any(values.get("customer_person", ())):
        return values
    return {**values, "customer_person": [named]}


def _as_typed(plan: run_plan.Plan, values: Mapping[str, Any]) -> run_plan.Plan:
    """The run as it is on the garment that was chosen in a form that comes back."""
    return run_act.said_on(g.db, actor(), plan, Form({name: list(sent) for name, sent in values.items()}), g.now)
