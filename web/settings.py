"""The shop's settings: read by everybody, changed by the manager, each on its own."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from flask import Blueprint, Response, g, redirect
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import mail as mail_acts
from tickets.actions import printing, shop
from tickets.domain import clock, overtaken
from tickets.domain import printer as printer_rules
from tickets.domain.desk.shop_settings import OF_MAIL, ON_PAGE, PRESET, ShopSetting
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.refusal import NotFound, Refused
from tickets.domain.stages import ALWAYS_LOGGED, LOGGED_BY_DEFAULT, MOVES
from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import gettext as _
from tickets.paper.stock import ROLLS
from tickets.queries.shop_rules import the_spec
from tickets.store import entries, reads
from tickets.store import settings as setting_rows
from web.log import lines
from web.printing import PAPERS, holds_said
from web.spec import condition_words
from web.support import actor, confirm, faults_by_field, form_lists, measured, one_of, page, zone

bp = Blueprint("settings", __name__)


@bp.get("/settings")
def settings() -> Response:
    """The settings; the manager changes them, each on its own."""
    return _page()


def _page(about: str = "", refused: Refused | None = None, warnings: Sequence[str] = ()) -> Response:
    sent = form_lists() if refused else {}
    kept = setting_rows.settings(g.db)
    told = setting_rows.histories(g.db, ON_PAGE)
    times = [row for row in the_spec(g.db).rows if row.key == "minutes-to-dry"]
    return page(
        "settings/settings.html",
        refused.status if refused else 200,
        rows={name: one for name, one in ON_PAGE.items() if not one.office or g.person.role == "manager"},
        kept=kept,
        history={name: _history(name, lines) for name, lines in told.items()},
        about=about,
        faults=faults_by_field(refused),
        values=sent,
        warnings=warnings,
        logged=_logged(),
        hints={name: _hint(name, kept) for name in ON_PAGE},
        drying=[(condition_words(row.conditions), measured(row.value, row.unit), row.id) for row in times],
        boxes={"holds": _papers(kept), **{name: _boxes(name, sent) for name in ROWS}},
        seen={name: overtaken.mark({name: kept[name]}) for name in ON_PAGE},
        overtaken=refused if isinstance(refused, overtaken.Overtaken) else None,
        mail=_mail(kept, sent if about == "mail" else {}) if g.person.role == "manager" else None,
    )


class StepsToLog(NamedTuple):
    """The steps that a shop may log, each with its words, and those that it always does, in words."""

    choices: Sequence[tuple[str, str]]
    always: Sequence[str]


def _logged() -> StepsToLog:
    return StepsToLog(
        [(name, _(SCREEN_STEPS[name].title)) for name in LOGGED_BY_DEFAULT if name not in ALWAYS_LOGGED],
        [_(SCREEN_STEPS[name].title) for name in MOVES if name in ALWAYS_LOGGED],
    )


class MailForm(NamedTuple):
    """The daily mail as its manager sees it: its settings, the text of each box, what its fields showed, whether a
    password is kept (it is never shown), how it stands, and what its settings were."""

    rows: Mapping[str, ShopSetting]
    values: Mapping[str, str]
    seen: str
    has_secret: bool
    standing: str
    history: Sequence[tuple[str, Mapping[str, Any]]]


def _mail(kept: Mapping[str, Any], sent: Mapping[str, list[str]]) -> MailForm:
    told = setting_rows.histories(g.db, OF_MAIL)
    lines = [
        (_(OF_MAIL[name].words), line | {"said": _said(name, line)}) for name, some in told.items() for line in some
    ]
    return MailForm(
        OF_MAIL,
        {name: one_of(sent, name) if sent else str(kept[name]) for name in OF_MAIL},
        overtaken.mark({name: kept[name] for name in OF_MAIL}),
        mail_acts.has_secret(g.db),
        mail_acts.standing(g.db, g.now),
        sorted(lines, key=lambda one: str(one[1]["at"]), reverse=True)[:MOST_PAST],
    )


def _said(name: str, line: Mapping[str, Any]) -> str:
    value = json.loads(line["value"])
    return _(dict(OF_MAIL[name].choices).get(value, str(value))) or "–"


MOST_PAST = 30
"""Changes of the mail's settings, shown at most."""


def _hint(name: str, kept: Mapping[str, Any]) -> str:
    if name != "emulsion_water_resistant":
        return _(ON_PAGE[name].hint)
    if "coat" in kept["steps"]:
        return _("Coats are logged here: what counts is the bucket of each.")
    return _("Counts for screens whose coat is not logged, and not for what may have been coated before a change.")


def _history(name: str, lines: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What a setting was, the newest first; of the steps that are logged, what each change of them changed."""
    found = [_was(name, line) for line in lines]
    if name != "steps":
        return found
    logged = [*(json.loads(line["value"]) for line in lines), list(ON_PAGE[name].default)]
    for one, now, was in zip(found, logged, logged[1:], strict=False):
        parts = ((_("now logged: {steps}"), [step for step in now if step not in was]),
                 (_("no longer logged: {steps}"), [step for step in was if step not in now]))  # fmt: skip
        told = [text.format(steps=", ".join(_(SCREEN_STEPS[step].title) for step in some if step in SCREEN_STEPS))
                for text, some in parts if some]  # fmt: skip
        one["said"] = "; ".join(told) or one["said"]
    return found


def _was(name: str, line: Mapping[str, Any]) -> dict[str, Any]:
    value = json.loads(line["value"])
    if name == "presets":
        said = "; ".join(f"{one['name']} ({one['print_side']}+{one['squeegee_side']})" for one in value)
    elif name == "printers":
        said = "; ".join(f"{one['name']} ({one['holds']}, {one['to']})" for one in value) or "–"
    elif name == "steps":
        said = ", ".join(_(SCREEN_STEPS[step].title) for step in value if step in SCREEN_STEPS)
    else:
        said = _(dict(ON_PAGE[name].choices).get(value, str(value))) or "–"
    return {"said": said, "at": line["at"], "person": line["person"]}


# What a form sends ---------------------------------------------------------------------------------------------------


ROWS = {"presets": ("preset", PRESET), "printers": ("printer", printer_rules.PARTS)}
"""Settings of several rows: what their fields begin with, and what a row says."""


def _rows(name: str, sent: Mapping[str, Sequence[str]]) -> list[dict[str, str]]:
    """The rows of a setting as its form sends them, column by column."""
    begins, parts = ROWS[name]
    columns = {part: list(sent.get(f"{begins}.{part}", ())) for part in parts}
    longest = max(map(len, columns.values()))
    return [{part: texts[at] if at < len(texts) else "" for part, texts in columns.items()} for at in range(longest)]


def _boxes(name: str, sent: Mapping[str, Sequence[str]]) -> list[tuple[str, ...]]:
    """The rows of such a form, two empty ones at the end."""
    parts = ROWS[name][1]
    rows = _rows(name, sent) or [*g.settings[name], *2 * [dict.fromkeys(parts, "")]]
    return [tuple(str(row[part]) for part in parts) for row in rows]


def _papers(kept: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What a printer may hold, with what those that are named hold."""
    sizes = dict.fromkeys([*ROLLS, *(one["holds"] for one in kept["printers"] if one["holds"] not in dict(PAPERS))])
    return [("", _("what it holds")), *((one, holds_said(one)) for one in [*sizes, *dict(PAPERS)])]


def _sent(name: str) -> Any:
    """What the form of a setting sent, as its reader takes it."""
    sent = form_lists()
    if name in ROWS:
        return _rows(name, sent)
    texts = sent.get(name, [])
    return texts if name == "steps" else next((text for text in texts if text.strip()), "")


@bp.post("/settings/<name>")
def change_setting(name: str) -> AnyResponse:
    """One setting, appended to its history."""
    if name not in ON_PAGE:
        raise NotFound(_("There is no setting “{name}”.").format(name=name[:40]))
    warnings: tuple[str, ...] = ()
    seen = one_of(form_lists(), "seen")
    try:
        if name == "address":
            confirm()  # every code printed from now on leads there
            warnings = printing.set_address(g.db, actor(), _sent(name), now=g.now, seen=seen)
        else:
            shop.set_up(g.db, actor(), name, _sent(name), now=g.now, seen=seen)
    except Refused as refused:
        return _page(name, refused)
    if warnings:
        return _page(name, warnings=warnings)
    return redirect(f"/settings#{name}", code=303)


@bp.post("/settings/mail")
def change_mail() -> AnyResponse:
    """The settings of the daily mail, all in one go."""
    sent = form_lists()
    try:
        confirm()  # what the shop has to do goes to these addresses
        given = {name: one_of(sent, name) for name in OF_MAIL}
        secret = sent.get("mail_secret", [""])[0]
        mail_acts.set_up(g.db, actor(), given, secret, now=g.now, seen=one_of(sent, "seen"))
    except Refused as refused:
        return _page("mail", refused)
    return redirect("/settings#mail", code=303)


# The clock -----------------------------------------------------------------------------------------------------------

SHOWN_FOR = timedelta(hours=1)
"""So long a page on which the clock was asked about may stand: it may have been set since."""


@bp.get("/clock")
def the_clock() -> Response:
    """Whether the clock is to be believed: two answers, where it is asked."""
    return _clock_page()


def _clock_page(refused: Refused | None = None) -> Response:
    there, last = reads.newest(g.db), setting_rows.histories(g.db, ["clock"])["clock"]
    # of an entry that is yet to come nobody knows whether it is wrong until the clock is called right
    ahead = [] if g.clock else entries.ahead_of(g.db, stamp(g.now + clock.SLACK), MOST_AHEAD)
    return page(
        "settings/clock.html",
        refused.status if refused else 200,
        now=_minute(g.now),
        seen=stamp(g.now),
        newest=_minute(read_stamp(there.saved)) if there.saved else "",
        doubt=g.clock,
        ahead=lines(g.db, ahead, about=True, crossing=False) if ahead else [],
        most=MOST_AHEAD,
        history=[_answer(one) for one in last],
        faults=faults_by_field(refused),
    )


def _minute(at: datetime) -> str:
    """With its year, whatever the clock says of it."""
    return f"{at.astimezone(zone()):%Y-%m-%d %H:%M}"


def _answer(row: Mapping[str, Any]) -> dict[str, Any]:
    wrong = json.loads(row["value"]).get("wrong") is not None
    return {"wrong": wrong, "at": _minute(read_stamp(row["at"])), "person": row["person"]}


MOST_AHEAD = 20
"""Entries with a time that is yet to come, shown at most."""


@bp.post("/clock")
def say_of_clock() -> AnyResponse:
    """The manager says whether it is right."""
    sent = form_lists()
    try:
        confirm()
        if not stands(one_of(sent, "seen"), g.now):
            raise Refused(_("The clock was set since this page was shown: look again."), "clock")
        shop.say_of_clock(g.db, actor(), one_of(sent, "clock"), now=g.now)
    except Refused as refused:
        return _clock_page(refused)
    return redirect("/clock", code=303)


def stands(seen: str, now: datetime) -> bool:
    """True where the clock that a page showed has gone on by itself since."""
    try:
        return timedelta() <= now - read_stamp(seen) <= SHOWN_FOR
    except (ValueError, TypeError):
        return False
