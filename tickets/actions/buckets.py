"""Mixed lots: mix, take into use, test, discard."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from tickets.actions.posting import before, in_one, line, numbered, once, write
from tickets.actions.screens import cross_out
from tickets.calculator import several
from tickets.calculator.numerals import NotAQuantity, unsure
from tickets.domain import outside, step_reading, steps, usual
from tickets.domain.bucket import CLOCKED, Bucket
from tickets.domain.entry import stamp
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Fault, NotFound, Refused
from tickets.i18n import gettext as _
from tickets.queries.shop_rules import act_time, the_spec, zone
from tickets.store import buckets, codes, screens


@in_one
def mix(db: Database, actor: Actor, form: Form, *, post: str, now: datetime) -> str:
    """A new bucket with its `mix` entry; its code. `good_until` is a time of the shop, or worked out from the kind. A
    recipe and a time that are not usual are asked back (`domain.usual`)."""
    content = {"step": "mix", **form.sent}
    saved = before(db, actor, post, content)
    if saved is not None:
        return str(saved["code"])
    values, typed = step_reading.read(steps.BUCKET_STEPS["mix"], form.sent)
    at = act_time(form.one("at"), zone(db), now)
    _ask(db, values, at)
    for name in ("recipe", "good_until"):
        if name in values:
            values[name] = unsure(values[name])
    if "good_until" in values:
        values["good_until"] = stamp(good_until(values["good_until"], zone(db)))
        if values["good_until"] <= stamp(at):
            raise Refused(_("“Good until” must be after the mixing."), "good_until")

    def act() -> dict[str, Any]:
        number = screens.next_number(db, "buckets")
        code = codes.issue(db, "bucket", number, stamp(now))
        buckets.add(db, number, code, values["kind"])
        write(db, numbered(post, [line(actor, "mix", at, now, values, typed, bucket=number)]))
        return {"code": code}

    return str(once(db, actor, post, content, now, act)["code"])


def _ask(db: Database, values: Mapping[str, Any], at: datetime) -> None:
    """Raises Refused with the question for a recipe or a life that no such mix has."""
    recipe, until, kind, limits = values.get("recipe"), values.get("good_until"), str(values["kind"]), the_spec(db)
    faults = []
    try:
        if recipe:
            usual.ask_of_recipe(recipe, several.read_if_amounts(recipe), limits)
    except NotAQuantity as fault:
        faults.append(Fault.of("recipe", fault))
    try:
        if until:
            hours = (good_until(unsure(until), zone(db)) - at).total_seconds() / 3600
            usual.ask_of_life(kind, CLOCKED.get(kind, ()), hours, until, limits)
    except NotAQuantity as fault:
        faults.append(Fault.of("good_until", fault))
    if faults:
        raise Refused(faults)


def good_until(text: str, shop: ZoneInfo) -> datetime:
    """Until when something is good: `2026-03-09T14:05`, or a day alone, which it is good to the end of.

    Raises Refused for what is neither."""
    if (day := outside.day(text)) is not None:
        return datetime.combine(day, LAST_MINUTE, shop)
    until = outside.moment(text)
    if until is None:
        raise Refused(
            _(
                "“{text}” cannot be read as a time. Write it like 2026-03-09T14:05, or 2026-03-09 for the end of that "
                "day."
            ).format(text=text[:40]),
            "good_until",
        )
    return until if until.tzinfo else until.replace(tzinfo=shop)


LAST_MINUTE = time(23, 59)
"""What the end of a day is said as."""


@in_one
def log(db: Database, actor: Actor, bucket: Bucket, step: str, form: Form, *, post: str, now: datetime) -> list[str]:
    """Logs a step of a bucket; the ids of the entries."""
    if step == "cross-out":
        return list(cross_out(db, actor, form, post=post, now=now, of=("bucket", [bucket.id])).entries)
    known = steps.BUCKET_STEPS.get(step)
    if step == "mix":
        raise Refused(_("A fresh mix is a bucket of its own, with its own tag: add it under Buckets."), "step")
    if known is None:
        names = ", ".join(name for name in steps.BUCKET_STEPS if name != "mix")
        raise NotFound(_("A bucket has no step “{step}”; it has: {names}.").format(step=step, names=names), "step")
    content = {"step": step, "bucket": bucket.id, **form.sent}
    saved = before(db, actor, post, content)
    if saved is not None:
        return list(saved["entries"])
    values, typed = step_reading.read(known, form.sent)
    at = act_time(form.one("at"), zone(db), now)

    def act() -> dict[str, Any]:
        lines = numbered(post, [line(actor, step, at, now, values, typed, bucket=bucket.id)])
        write(db, lines)
        return {"entries": [line.entry for line in lines]}

    return list(once(db, actor, post, content, now, act)["entries"])
