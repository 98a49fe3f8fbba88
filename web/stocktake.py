"""The pages of a stock-take: a place gone through with the camera, then the log put right in one tap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import stocktake as stock
from tickets.domain.code import NoCode, read
from tickets.domain.entry import read_stamp, stamp
from tickets.domain.refusal import NotAllowed, NotFound, Refused
from tickets.domain.stages import STANDING_WORDS
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries.boards import place_names as names_of_places
from tickets.queries.find import place as find_place
from tickets.store import codes, entries, people, places, screens
from tickets.store.places import Place
from tickets.store.screens import Screen
from web.steps import sent_again
from web.support import CountForgotten, actor, form_lists, one_of, page, row_number, saved_by_me, set_doing

bp = Blueprint("stocktake", __name__)

SHOWN = 25
"""Places on one page."""


@bp.get("/desk/stocktake")
def stocktakes() -> Response:
    """Which place to go through: those not counted longest first, or those with `q` in their name."""
    name = request.args.get("q", "").strip()
    counted, _dot, number = request.args.get("after", "").rpartition("~")
    found = places.to_count(g.db, SHOWN + 1, (counted, row_number(number)), name)
    more, found = len(found) > SHOWN, found[:SHOWN]
    last = found[-1] if more else None
    return page(
        "desk/stocktakes.html",
        places=found,
        there=screens.count_at(g.db, [one.place.id for one in found]),
        asked=name,
        many=more or bool(name or number),
        after=urlencode({"q": name, "after": f"{last.counted_at}~{last.place.id}"}) if last else "",
    )


def _task(place: Place) -> list[int]:
    """What this phone has seen at a place so far."""
    task = g.sign_in.doing
    return list(task.get("seen", ())) if task.get("task") == stock.TASK and task.get("place") == place.id else []


def _others(place: Place) -> list[stock.Counter]:
    """The other phones that count this place."""
    return [one for one in stock.counters(g.db, place, g.now) if one.phone != g.sign_in.token]


def _seen(place: Place) -> list[int]:
    """What was seen at a place by all who count it."""
    others = [number for one in _others(place) for number in one.seen]
    return list(dict.fromkeys([*_task(place), *others]))


def _keep(place: Place, seen: list[int]) -> None:
    text = _("Stock-take of {place}: {n} seen. Scan the next one.")
    n = len({*seen, *_seen(place)})
    said = text.format(place=place.name, n=n)
    set_doing(
        {"task": stock.TASK, "place": place.id, "code": place.code, "seen": seen, "text": said, "at": stamp(g.now)}
    )


def count_forgotten(_lost: CountForgotten) -> Response:
    """Asks before a count is thrown away: what was pressed comes again with `forget`."""
    doing, sent = g.sign_in.doing, form_lists()
    return page(
        "desk/stocktake_leave.html",
        409,
        place=places.get(g.db, doing["place"]),
        seen=len(doing["seen"]),
        action=request.full_path.rstrip("?"),
        hidden=sent_again(sent, {"forget"}),
        nothing_saved=False,
    )


@bp.get("/desk/stocktake/<code>")
def stocktake(code: str) -> Response:
    """What was seen at a place against the log."""
    return _stocktake(find_place(g.db, code))


def _stocktake(place: Place, status: int = 200, fault: str = "", text: str = "", still: str = "") -> Response:
    seen = _seen(place)
    return page(
        "desk/stocktake.html",
        status,
        place=place,
        begun=g.sign_in.doing.get("task") == "stocktake" and g.sign_in.doing.get("place") == place.id,
        it=CountShown(tuple(seen), tuple(one for one in _others(place) if one.seen or one.at), _last(place)),
        still=still,
        found=stock.compare(g.db, place, seen),
        place_names=names_of_places(g.db),
        standing_words=STANDING_WORDS,
        fault=fault,
        text=text,
        typed=bool(text) or request.args.get("typed") == "1",
    )


@dataclass(frozen=True, slots=True)
class CountShown:
    """A stock-take under way: what all who count have seen, the others who do, and what this phone saw last with what
    it is there (`stocktake.standing_of`)."""

    seen: tuple[int, ...]
    others: tuple[stock.Counter, ...]
    last: tuple[Screen, str] | None


def _last(place: Place) -> tuple[Screen, str] | None:
    """The screen that this phone saw last, and what it is there."""
    mine = _task(place)
    found = screens.get(g.db, mine[-1]) if mine else None
    return (found, stock.standing_of(g.db, place, found)) if found is not None else None


@bp.post("/desk/stocktake/<code>/unseen")
def stocktake_unseen(code: str) -> AnyResponse:
    """A screen scanned by mistake (`code`) comes off the list, whoever of those who count scanned it."""
    place = find_place(g.db, code)
    number = _number_of(one_of(form_lists(), "code"))
    if number is None:
        raise Refused(_("No screen has this code."), "code")
    stock.unsee(g.db, place, number, g.now)
    mine = [one for one in _task(place) if one != number]
    if g.sign_in.doing.get("task") == stock.TASK:
        g.sign_in = people.sign_in(g.db, g.sign_in.token) or g.sign_in
        _keep(place, mine)
    return redirect(f"/desk/stocktake/{place.code}", code=303)


@bp.post("/desk/stocktake/<code>/seen")
def stocktake_seen(code: str) -> AnyResponse:
    """Begins a stock-take, or takes note of what was scanned there (`code`: codes or painted marks, lines or commas
    between; `typed`: in the box of the page)."""
    place = find_place(g.db, code)
    sent = form_lists()
    seen, there = _task(place), set(_seen(place))
    typed = one_of(sent, "code")
    unknown: list[str] = []
    for text in typed.replace(",", "\n").splitlines():
        if not text.strip():
            continue
        number = _number_of(text.strip())
        if number is None:
            unknown.append(text.strip())
        elif number not in there:
            seen.append(number)
            there.add(number)
    if len(there) > stock.MOST:
        raise Refused(_("At most {most} screens in one stock-take.").format(most=stock.MOST), "code")
    _keep(place, seen)
    if unknown:
        names = ", ".join(text[:20] for text in unknown[:12])
        fault = _("No screen, or several, by this code or mark: {codes}").format(codes=names)
        return _stocktake(place, 404, fault, ", ".join(unknown))
    # a keyboard scanner goes on in the box; a phone's camera should not find its keyboard up
    return redirect(f"/desk/stocktake/{place.code}" + ("?typed=1" if one_of(sent, "typed") else ""), code=303)


def _asked_first(going: Sequence[Any], emptied: int) -> str:
    """What is asked once before a stock-take is finished: others still count, or it would leave the place empty."""
    said = []
    if going:
        names = ", ".join(one.who for one in going)
        said.append(_("{names} is still scanning here. Finish anyway?").format(names=names))
    if emptied:
        told = ngettext(
            "No screen was seen here: {n} screen loses its place in the log. Finish anyway?",
            "No screen was seen here: all {n} screens lose their place in the log. Finish anyway?",
            emptied,
        )
        said.append(told.format(n=emptied))
    return " ".join(said)


def _number_of(text: str) -> int | None:
    """The screen of a code or of a mark that only one screen has."""
    try:
        issued = codes.find(g.db, read(text))
    except NoCode:
        issued = None
    if issued is not None and issued.kind == "screen":
        return issued.thing
    marked = screens.by_mark(g.db, text)
    return marked[0] if len(marked) == 1 else None


@bp.post("/desk/stocktake/<code>/put-right")
def stocktake_put_right(code: str) -> AnyResponse:
    """The log as it was seen by all who count: astray screens are put here, the ticked ones of the missing (`gone`:
    codes) are not. While another phone goes on scanning, that is asked first (`still`)."""
    place = find_place(g.db, code)
    sent = form_lists()
    post = one_of(sent, "entry")
    if saved_by_me(post):
        return _done(place, entries.answer(g.db, post), ())
    going = [one for one in _others(place) if one.at and g.now - read_stamp(one.at) <= stock.STILL]
    seen, gone = _seen(place), set(sent.get("gone", ()))
    found = stock.compare(g.db, place, seen)
    empties = not seen and all(str(one.code) in gone for one in found.missing)
    if (going or (empties and found.missing)) and not one_of(sent, "still"):
        return _stocktake(place, 409, still=_asked_first(going, len(found.missing) if empties else 0))
    stay = [one.id for one in found.missing if str(one.code) not in gone]
    try:
        done = stock.put_right(g.db, actor(), place, seen, stay, post=post, now=g.now)
    except (NotAllowed, NotFound):
        raise
    except Refused as refused:
        return _stocktake(place, refused.status, " ".join(one.message for one in refused.faults))
    told = _("{who} finished the stock-take of {place}: {n} seen.").format(
        who=actor().name, place=place.name, n=len(seen)
    )
    stock.end(g.db, place, g.sign_in.token, told, g.now)
    set_doing({}, counted=True)
    return _done(place, done, found.unlikely)


def _done(place: Place, done: dict[str, int], unlikely: Sequence[Screen]) -> Response:
    return page(
        "desk/stocktake_done.html",
        place=place,
        done=done,
        unlikely=unlikely,
        place_names=names_of_places(g.db),
        standing_words=STANDING_WORDS,
    )


def stocktake_scan(screen: Screen, task: dict[str, Any]) -> Response:
    """A screen scanned by the phone's camera during a stock-take: one button."""
    place = places.get(g.db, int(task.get("place", 0)))
    return page(
        "desk/stocktake_scan.html",
        screen=screen,
        place=place,
        how=stock.standing_of(g.db, place, screen) if place is not None else "",
        seen=screen.id in (_seen(place) if place is not None else ()),
        place_names=names_of_places(g.db),
        standing_words=STANDING_WORDS,
    )
