"""The verdict at the press: whether a screen is the right one for a run, and the forms that hang it or swap it in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import Response, g, request

from tickets.calculator.numerals import counted
from tickets.domain.code import shown
from tickets.domain.person import may_pass
from tickets.domain.posted import Form, Worse
from tickets.domain.refusal import Refused
from tickets.domain.steps import CONDITIONS, SWAPPED, THEN, Field
from tickets.i18n import gettext as _
from tickets.queries import find, look, run_plan
from tickets.store import screens
from web.run_page import Tiles, counting, tiles, whys_past
from web.support import actor, faults_by_field, page, to_tap

WHY_SWAPPED = to_tap(*SWAPPED)


@dataclass(frozen=True, slots=True)
class HangForm:
    """The forms of the verdict, with what was typed and answered. `in_hand`: the screen is here, whatever the log says;
    `head_taken`: the head is free; `old`: the code of the screen that somebody wants to swap; `may`: who holds the
    phone may override, `may_check` or have the image looked at instead; `counting`: the fields of the count that goes
    along with a swap."""

    values: Mapping[str, Any]
    faults: Mapping[str, str]
    in_hand: bool
    head_taken: bool
    old: str
    may: bool
    may_check: bool
    counting: tuple[Field, ...]
    whys_past: Tiles
    swap_reasons: Tiles
    then: Tiles = THEN
    conditions: Tiles = CONDITIONS


def at_press_page(screen: screens.Screen) -> Response:
    """What a scan shows while this phone sets up a run: whether that screen is the right one, and one button."""
    return verdict_page(run_plan.plan(g.db, int(g.sign_in.doing["run"])), screen)


def verdict_page(
    plan: run_plan.Plan, screen: screens.Screen, refused: Refused | None = None, values: Mapping[str, Any] | None = None
) -> Response:
    """The press verdict on a screen for a run. After a refusal: why, with what was typed."""
    values = values or {}
    form = Form({name: [str(one) for one in sent] for name, sent in values.items()})
    in_hand, head_taken = (
        request.args.get(name) == "yes" or (refused is not None and form.yes(name))
        for name in ("in_hand", "head_taken")
    )
    old = form.one("old") or request.args.get("old", "")
    instead = next((one for one in plan.story.hung.values() if _is_screen(one.screen, old)), None)
    looked = look.look(
        g.db,
        plan,
        screen,
        g.now,
        head=_head(form),
        station=instead.station if instead else None,
        in_hand=in_hand,
        head_taken=head_taken,
    )
    worse = refused.verdict if isinstance(refused, Worse) else None
    now = look.at_press(g.db, plan, screen, looked, g.now, worse, instead)
    faults = faults_by_field(refused)
    if isinstance(refused, Worse) and refused.faults and refused.faults[0].where != "seen":
        faults = {}
    counts = bool(plan.story.started_at) and (now.swap is not None or not now.free)
    named_by_eye = now.causes == ("named-by-eye",)
    return page(
        "runs/verdict.html",
        refused.status if refused else 200,
        it=now,
        form=HangForm(
            values,
            faults,
            in_hand,
            head_taken,
            old,
            may_pass(actor(), now.causes),
            named_by_eye and look.second_eyes(g.db, screen, actor().id),
            counting(plan)["count"].fields if counts else (),
            whys_past(now.causes),
            tiles(WHY_SWAPPED),
        ),
    )


def find_screen(text: str) -> screens.Screen:
    """The screen of a code or of a painted mark."""
    marked = screens.by_mark(g.db, text)
    try:
        return find.screen(g.db, text)
    except Refused:
        if len(marked) == 1 and (screen := screens.get(g.db, marked[0])) is not None:
            return screen
        if marked:
            codes = ", ".join(shown(screen.code) for screen in screens.many(g.db, marked))
            raise Refused(
                _("Several screens are marked “{mark}”: {codes}. Type the code.").format(mark=text[:40], codes=codes),
                "screen",
            ) from None
        raise


def _is_screen(screen: int, code: str) -> bool:
    """Whether a screen has this code."""
    found = screens.get(g.db, screen) if code else None
    return found is not None and found.code == code


def _head(form: Form) -> int | None:
    """The head that somebody chose; None: nobody did."""
    chosen = counted(form.one("head") or request.args.get("head"))
    return chosen if 1 <= chosen <= look.MOST_HEADS else None
