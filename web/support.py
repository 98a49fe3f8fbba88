"""What every group of pages uses: the page itself, forms, times, verdicts as they are said."""

from __future__ import annotations

import hashlib
import re
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any, NamedTuple
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from flask import Flask, Request, Response, current_app, g, request
from jinja2.utils import url_quote
from markupsafe import Markup
from werkzeug.exceptions import HTTPException
from werkzeug.routing import RequestRedirect

from tickets import i18n as words
from tickets.actions import people as people_acts
from tickets.actions.screens import wrong_one
from tickets.actions.stocktake import TASK as COUNT
from tickets.calculator import typed as typed_units
from tickets.calculator import units
from tickets.calculator.colour import of_name
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import WORDS, Level, Said, Verdict, say
from tickets.domain import cautions, outside, stages, steps
from tickets.domain import code as codes
from tickets.domain.entry import stamp
from tickets.domain.grounds import first_ground
from tickets.domain.papers.ticket import with_signs
from tickets.domain.person import Actor, role_said
from tickets.domain.posted import form as form_of
from tickets.domain.refusal import Refused
from tickets.domain.runs.as_run import fibre_said
from tickets.domain.steps import Field
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import board_words, shop_rules
from tickets.queries import cautions as cautions_now
from tickets.queries import said as said_now
from tickets.queries.desk import MeshAhead
from tickets.store import entries
from tickets.store.people import Person
from web import menu, small

COOKIE = "shop"


def cookie(name: str) -> str:
    """What a cookie that says who somebody is is called: by HTTPS browsers take one of such a name from this very
    server alone (RFC 6265bis, 4.1.3.2)."""
    return f"__Host-{name}" if asked().is_secure else name


LANGUAGE = "language"
"""The cookie of the language that was chosen on this phone."""


def language_of(person: Person | None, cookies: Mapping[str, str], accepted: str, shops: str) -> str:
    """The language of a page: what its reader chose, else what was chosen on this phone, else the phone's own, else the
    shop's."""
    chosen = (person and person.language) or cookies.get(LANGUAGE, "")
    return chosen if chosen in words.LANGUAGES else words.best_of(accepted) or shops


PATHS = {"screen": "/screens", "job": "/jobs", "bucket": "/buckets", "place": "/places"}
DIGITS = (("d1000", 1000.0), ("d100", 100.0), ("d10", 10.0), ("d1", 1.0), ("d01", 0.1))
PIN_PLACES = 8


# -- the page


def page(template: str, status: int = 200, **values: Any) -> Response:
    """A page: the template with `values` and what base.html needs. `entry` is a new id unless given."""
    values.setdefault("entry", new_entry_id())
    if status >= 400:
        _say_refused(status, values)
    return Response(_rendered(template, values), status, mimetype="text/html")


class Amiss(NamedTuple):
    """What a page says is wrong: the id of the field that it leads to, what that is called, what is wrong."""

    id: str
    label: str
    message: str


def told_of(id: str, fault: str, label: str = "") -> str:
    """Notes a fault that the page shows, for the list at its top. Gives nothing, so that a template may call it."""
    mine = held()
    mine.told = [*mine.get("told", ()), Amiss(id, label, str(fault))]
    return ""


def told_of_page() -> list[Amiss]:
    """The faults that the main part of this page shows, in its order."""
    return held().get("told", [])  # type: ignore[no-any-return]


def _say_refused(status: int, values: dict[str, Any]) -> None:
    """What the page of a form that came back says: in its title, and above its list of faults."""
    post = asked().method == "POST" and status != 404
    values.setdefault("refused_page", True)
    values.setdefault("nothing_saved", post and "not_done" not in values)
    values.setdefault("not_done", _("Not saved") if post else "")


def _rendered(name: str, values: dict[str, Any]) -> str:
    """The template with `values`. What Flask's own `render_template` adds (context processors, signals, a context
    copied from a chain of maps) no page of ours asks for, and it takes a tenth of a scan."""
    template = current_app.jinja_env.get_template(name)
    context = template.new_context({**template.environment.globals, **_everywhere(), **values}, shared=True)
    try:
        return "".join(template.root_render_func(context))
    except Exception:
        template.environment.handle_exception()  # raises again, with the lines of the template


def held() -> Any:
    """What this request holds (`g`), to be asked for several things: each look through the proxy has its price."""
    return g._get_current_object()


def asked() -> Request:
    """The request, to be asked for several things."""
    found: Request = request._get_current_object()  # type: ignore[attr-defined]
    return found


def _everywhere() -> dict[str, Any]:
    mine = held()
    kept = mine.get("settings") or {}
    sign_in, person = mine.get("sign_in"), mine.get("person")
    shop, demo = kept.get("shop") or _("The shop"), bool(kept.get("demo"))
    safelight, at = mine.get("view") == "safelight", here()
    return {
        "shop": shop,
        "demo": demo,
        "language": words.language(),
        "person": person,
        "sign_in": sign_in,
        "doing": sign_in.doing if sign_in else {},
        "over": mine.get("over", ""),
        "safelight": safelight,
        "here": at,
        "told_first": asked().environ.get(TOLD_FIRST, ""),
        "clock_told": shop_rules.clock_told(mine.db, mine.clock) if mine.get("clock") else "",
        "frame": _frame(at, shop, demo, person, safelight),
    }


TOLD_FIRST = "tickets.told_first"
"""Where the environment of a request holds what its page says before all else."""
_HERE, _HERE_QUOTED = "\x00", "\x01"  # no page has these in its text
_kept_frames: dict[tuple[Any, ...], dict[str, Markup]] = {}


def _frame(at: str, shop: str, demo: bool, person: Person | None, safelight: bool) -> dict[str, Markup]:
    """What stands around every page: `head` to the title, `sheet` (the look beside its core), `top`, `end` after the
    main part.

    It hangs on the shop, on who holds the phone and on its view, and is made once for each of these.
    """
    path = at.partition("?")[0]
    name, number, role = (person.name, person.id, person.role) if person is not None else ("", 0, "")
    pages = menu.menu_of(role) if name else ()
    current = path if any(path == one.path for _word, some in pages for one in some) else ""
    key = (words.language(), shop, demo, name, number, role, safelight, current)
    kept = _kept_frames.get(key)
    if kept is None:
        if len(_kept_frames) > 500:
            _kept_frames.clear()
        around = current_app.jinja_env.get_template("_frame.html").module
        kept = _kept_frames[key] = {
            "head": Markup(around.head(words.language(), safelight)),  # type: ignore[attr-defined]
            "sheet": Markup(around.sheet()),  # type: ignore[attr-defined]
            "top": Markup(around.top(shop, demo, name, safelight, _HERE, _HERE_QUOTED, number, pages, current, role)),  # type: ignore[attr-defined]
            "end": Markup(around.end()),  # type: ignore[attr-defined]
        }
    # Markup.replace escapes what it puts in
    return {**kept, "top": kept["top"].replace(_HERE, at).replace(_HERE_QUOTED, url_quote(at))}


def strip(standing: str) -> Markup:
    """The strip of a screen's cycle, small, for a line of a list: made once for each stage."""
    return _strip(standing, words.language())


@lru_cache(maxsize=256)
def _strip(standing: str, _language: str) -> Markup:
    drawn: Markup = current_app.jinja_env.get_template("_look.html").module.cycle(standing, True)  # type: ignore[attr-defined]
    return drawn


def agos() -> list[tuple[str, str]]:
    """How long ago something was done, to be tapped (`ago`, in seconds)."""
    hour = 3600
    return [
        ("", _("just now")),
        (str(hour // 4), _("a quarter of an hour ago")),
        (str(hour), _("an hour ago")),
        (str(3 * hour), _("3 hours ago")),
        (str(24 * hour), _("yesterday, at this time")),
    ]


def unsent_words(manages: bool) -> dict[str, str]:
    """What `app.js` says of entries that are not sent yet; `manages`: to who reads what others left."""
    every = {
        "unsent": _("Not sent yet: {n}."),
        "asked": _("Not logged, and waiting for your answer: {n}."),
        "sent": _("Sent just now: {n}."),
        "others": _("{name}: {n} not sent yet. Sent when {name} signs in on this phone."),
        "gone": _("{name} cannot sign in any more: {n} not sent. A manager who signs in on this phone reads them."),
        "left": _("{name} cannot sign in any more: {n} not sent, and nobody sends them under another name."),
        "copy": _("Copy as text"),
        "copied": _("Copied"),
        "which": _("Which?"),
        "again": _("Open it"),
        "drop": _("Throw it away"),
        "sure": _("Tap again to throw it away"),
        "kept": _("Not sent yet. It is kept on this phone, and sent by itself once the shop’s computer answers."),
        "more": _("Log another one here"),
        "done": _("It was sent: show it"),
    }
    others = {"gone"} if manages else {"left", "copy", "copied"}
    return {key: said for key, said in every.items() if key not in others}


def new_entry_id() -> str:
    """The id of an entry to come: the number of who holds the phone, so that a form that another person sends is
    noticed (`people.wall`), and 80 random bits as 20 characters of 0-9 and a-f. A page of several forms puts a few
    more behind."""
    person = held().get("person")
    return f"{person.id}-{secrets.token_hex(10)}" if person is not None else secrets.token_hex(10)


def here() -> str:
    """The page to come back to: this one when it was read, else the one that the form was on."""
    this = asked()
    if this.method in ("GET", "HEAD"):
        return this.full_path.rstrip("?")
    return _path_of(this.referrer or "")


def _path_of(address: str) -> str:
    try:
        parts = urlsplit(address)
    except ValueError:  # `http://[`, which Python takes for the start of an address in IPv6
        return "/"
    return local_path(f"{parts.path}?{parts.query}" if parts.query else parts.path)


def local_path(text: str | None) -> str:
    """`text` where it is a path of this server, else `/`: a link may not lead people elsewhere."""
    text = text or ""
    if not text.startswith("/") or text.startswith("//") or "\\" in text or not text.isprintable():
        return "/"
    try:
        parts = urlsplit(text)
    except ValueError:
        return "/"
    return "/" if parts.scheme or parts.netloc else text


def page_exists(path: str) -> bool:
    """True when some page answers a GET of `path`."""
    try:
        current_app.url_map.bind("").match(path, method="GET")
    except RequestRedirect:
        return True
    except HTTPException:
        return False
    return True


@lru_cache(maxsize=16)
def static_version(name: str) -> str:
    """A mark of a static file's content, so that phones keep it until it changes."""
    found = small.ready(name)
    return found.mark if found else hashlib.sha256((small.STATIC / name).read_bytes()).hexdigest()[:8]


def url_for_code(code: str, kind: str | None = None) -> str:
    """The address of a thing's own page; without its kind, the one that a scan opens."""
    return f"{PATHS[kind]}/{code}" if kind else f"/t/{code}"


# -- who acts


def actor() -> Actor:
    """The person who holds the phone, as the acts take them (after `confirm`: signed with the secret)."""
    mine = held()
    return Actor(mine.person.id, mine.person.name, mine.person.role, mine.sign_in.signed)


def confirm() -> None:
    """Asks for the PIN or password again (form field `secret`) unless it is fresh; g.sign_in is then signed with it.
    Before an act, never inside one: hashing under the writer's lock would stop every phone."""
    g.sign_in = people_acts.confirm(g.db, g.sign_in, form_lists().get("secret", [""])[0] or None, g.now)


def saved_by_me(post: str) -> bool:
    """True when who holds the phone saved something under this id before."""
    first = entries.earlier(g.db, post) if post else None
    return first is not None and first.person == g.person.id


def confirm_once(step: str, sent: Mapping[str, Sequence[str]], post: str) -> None:
    """As `confirm`, before a step that is done once by the id `post` and then never again: of what is saved already
    nobody is asked for the PIN."""
    if step == "cross-out":
        wrong, post = wrong_one(actor(), form_of(sent), post)
        if own_of_now(wrong):
            return
    if fresh_secret() or not saved_by_me(post):
        confirm()


def own_of_now(wrong: str) -> bool:
    """True where all that an entry's id, or a post's, names was logged by who holds the phone in the last minutes: they
    cross out their own slip without a PIN. Not where the phone was handed over by a tap: that may be anybody."""
    mine = wrong and g.person is not None and g.sign_in.signed != "tap"
    found = entries.of_post(g.db, wrong) if mine else []
    since = g.now - timedelta(minutes=int(g.settings["own_minutes"]))
    return bool(found) and all(one.person == g.person.id and one.saved_at > since for one in found)


def fresh_secret() -> bool:
    """True when the person who holds the phone gave their secret on it just now."""
    return g.sign_in is not None and people_acts.fresh_secret(g.sign_in, g.now)


class CountForgotten(Refused):
    """A count of a place would be thrown away by what a phone does next; that is asked once."""

    status = 409


def keep_count(place: int = 0) -> None:
    """Before a phone leaves a stock-take in which it saw something, but for more of that `place`: asks once (`forget`),
    for nothing of it is in the log yet."""
    doing = held().sign_in.doing if held().get("sign_in") is not None else {}
    if doing.get("task") == COUNT and doing.get("seen") and doing.get("place") != place:
        if one_of(form_lists(), "forget") != "yes":
            raise CountForgotten(_("Nothing of this stock-take is in the log yet."))


def set_doing(task: dict[str, Any], *, counted: bool = False) -> None:
    """What this phone does from now on: `text` for the band, `out` (where the way out posts to), and the task's own. A
    stock-take that this would throw away is asked about first, unless it is in the log (`counted`)."""
    if not counted:
        keep_count(task.get("place", 0) if task.get("task") == COUNT else 0)
    if task.get("task") in people_acts.MODES:
        task = {**task, "at": stamp(g.now)}
    people_acts.set_doing(g.db, g.token, task)
    if g.sign_in is not None:  # the page of this answer has the band of now
        g.sign_in = replace(g.sign_in, doing=task)


# -- forms


def form_lists() -> dict[str, list[str]]:
    """What the form sent: each name with the list of its values; what was tapped digit by digit is put together, and a
    reason that was typed comes before one that was tapped."""
    sent = answered(fold_digits({name: values for name, values in asked().form.lists() if name != ASK}))
    for name in REASONS.intersection(sent):
        sent[name] = typed_first(sent[name])
    back = sum(counted(one_of(sent, name)) for name in BACK if name in sent)
    if one_of(sent, "at"):
        sent = {name: values for name, values in sent.items() if name not in BACK}
    elif back:
        sent["at"] = [stamp(held().now - timedelta(seconds=min(back, LATEST)))]
    return sent


BACK = ("late", "ago")
"""Seconds by which an act lies back where no time of it was typed: `late`, how long a phone could not send it; `ago`,
what somebody tapped."""


LATEST = 90 * 24 * 3600
"""Seconds, a season: nothing is taken as dated back further without a time."""


REASONS = frozenset({"override", "accept", "why"})
"""The fields of a reason that can be tapped or typed."""
_TO_TAP: set[str] = set()


def to_tap(*reasons: str) -> tuple[str, ...]:
    """Reasons that are offered to be tapped, untranslated: known here, so that a typed one is told from them."""
    _TO_TAP.update(reasons)
    return reasons


def typed_first(values: Sequence[str]) -> list[str]:
    """The values of a reason, one in somebody's own words before those that can be tapped, wherever they stood."""
    tapped = {"", *_TO_TAP, *map(_, _TO_TAP)}
    return sorted(values, key=lambda text: text.strip() in tapped)


ASK = "ask"
"""The button that the Enter key presses in a form whose reason decides (`_fields.html`, macro ask): its value names the
field that the key alone never sends, or is `ANY`."""
ANY = "*"


def not_by_enter(sent: Mapping[str, Sequence[str]]) -> None:
    """Refuses what only the Enter key sent, where it would override, accept, cross out, reclaim or retire: that takes
    the button. A PIN that came along is taken, so that it is not typed twice."""
    name = request.form.get(ASK, "")
    if not name or (name != ANY and not one_of(sent, name)):
        return
    if one_of(sent, "secret"):
        confirm()
    raise Refused(_("Not logged yet. The Enter key decides nothing here: tap the button."), ASK)


_DIGIT = re.compile(r"(?P<name>.+?)(?:\.r(?P<row>[0-9]{1,3}))?\.(?P<place>d1000|d100|d10|d1|d01|p[1-8]|blank)")


def fold_digits(sent: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    """Puts together what the safelight view sends: NAME.d100, .d10, .d1, .d01 (tenths), NAME.r2.d1 for the second
    reading of a list, NAME.p1 to .p8 for a PIN. NAME.blank leaves the field empty. A digit not tapped reads as 0."""
    out: dict[str, list[str]] = {}
    tapped: dict[str, dict[int, dict[str, str]]] = {}
    for name, values in sent.items():
        part = _DIGIT.fullmatch(name) if "." in name else None
        if part is None:
            out[name] = list(values)
        elif values and (part["place"] == "blank" or re.fullmatch("[0-9]", values[0])):
            tapped.setdefault(part["name"], {}).setdefault(counted(part["row"], 1), {})[part["place"]] = values[0]
    for name, lines in tapped.items():
        numbers = [text for _row, digits in sorted(lines.items()) if (text := _put_together(digits))]
        if numbers:
            out[name] = [*out.get(name, []), *numbers]
    return out


def _put_together(digits: Mapping[str, str]) -> str:
    if "blank" in digits:
        return ""
    pin = "".join(digits[place] for place in (f"p{n}" for n in range(1, PIN_PLACES + 1)) if place in digits)
    if pin:
        return pin
    whole = "".join(digits.get(place, "0") for place in ("d1000", "d100", "d10", "d1")).lstrip("0") or "0"
    return f"{whole}.{digits['d01']}" if digits.get("d01", "0") != "0" else whole


class ToldFault(str):
    """What is said beside a field; with it what may be meant where it can be read in several ways, to be tapped
    (`readings`), and which of several numbers it is about, counted from 1 (`part`, 0: all)."""

    readings: tuple[str, ...] = ()
    part: int = 0

    @classmethod
    def of(cls, message: str, readings: Sequence[str] = (), part: int = 0) -> ToldFault:
        """A message with its readings and part."""
        told = cls(message)
        told.readings, told.part = tuple(readings), part
        return told

    @property
    def choices(self) -> tuple[tuple[str, str], ...]:
        """The readings as tiles."""
        return tuple((one, one) for one in self.readings)


_DEGREES = re.compile(r"\bdeg([CF])\b")
"""How a command names degrees: pages, and people, type a sign."""


def faults_by_field(refused: Refused | None) -> dict[str, str]:
    """The messages of a refusal by field (`ToldFault`), units as pages write them; the empty name holds what belongs to
    none."""
    out: dict[str, str] = {}
    for fault in refused.faults if refused else ():
        message = _DEGREES.sub(r"°\1", fault.message)
        if fault.where in out:
            out[fault.where] = f"{out[fault.where]} {message}"
        else:
            out[fault.where] = ToldFault.of(message, fault.readings, fault.part)
    return out


MEANT, ASKED = ".meant", ".asked"
"""Behind a field's name: the reading that was tapped, and the text that it answers for."""


def answered(sent: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    """What was sent, with the reading that somebody tapped in the place of the text that could be read in several
    ways; a text that was typed again since counts as it is."""
    out = {name: list(values) for name, values in sent.items() if not name.endswith((MEANT, ASKED))}
    for name in [name for name in out if f"{name}{MEANT}" in sent]:
        meant, asked = one_of(sent, f"{name}{MEANT}"), one_of(sent, f"{name}{ASKED}")
        typed = [text.strip() for text in out[name] if text.strip()]
        if meant and asked.strip() == " ".join(typed):
            out[name] = [meant]
    return out


def row_number(text: str | None) -> int:
    """The number of a row out of an address or a form; 0 (no row has it) for anything else."""
    return counted(text)


def all_of(values: Mapping[str, Any] | None, name: str) -> list[str]:
    """The values to show in a field, as texts: `values` may hold lists (a form sent back), numbers or texts."""
    found = (values or {}).get(name)
    parts = found if isinstance(found, (list, tuple)) else [] if found is None else [found]
    return [f"{part:g}" if isinstance(part, float) else str(part) for part in parts]


def one_of(values: Mapping[str, Any] | None, name: str) -> str:
    """The first value to show in a field, or nothing."""
    if not values or name not in values:
        return ""
    return next((text for text in all_of(values, name) if text), "")


def new_id() -> str:
    """An id for an element of this page, so that a page may hold several forms."""
    g.ids = g.get("ids", 0) + 1
    return f"f{g.ids}"


DIGITS_TO_TAP = "0123456789"


class DigitRow(NamedTuple):
    """A row of digits to tap: what is sent behind the name of its field, what it is called, the digit to start with
    (empty: none), those that there are."""

    suffix: str
    label: str
    digit: str
    digits: str = DIGITS_TO_TAP


def digit_rows(field: Field, value: str) -> list[DigitRow]:
    """The rows of digits for a number tapped in the dark, up to 9999.9. The first row has none that only numbers beyond
    what the field takes begin with, where it is in one unit: a full press has many rows, and each digit is a tile.

    Empty where the rows cannot hold `value` as it is: it must never come back as another number.
    """
    try:
        start = units.number(value, point=True) if value else None
    except ValueError:
        return []
    if start is not None and not (0 <= start < 10_000 and abs(start * 10 - round(start * 10)) < 1e-9):
        return []
    rows: list[DigitRow] = []
    names = {"d1000": _("thousands"), "d100": _("hundreds"), "d10": _("tens"), "d1": _("ones"), "d01": _("tenths")}
    tenths = field.kind in ("number", "numbers") and (field.low % 1 != 0 or (start or 0) % 1 != 0)
    for suffix, size in DIGITS:
        if (size > 1 and max(field.high, start or 0) < size) or (size < 1 and not tenths):
            continue
        digit = "" if start is None else str(round(start * 10) // round(size * 10) % 10)
        first = not rows and units.unit_of(field.name) not in _OTHER_UNIT
        most = int(max(field.high, start or 0) // size) if first else 9
        rows.append(DigitRow(suffix, names[suffix], digit, DIGITS_TO_TAP[: most + 1]))
    return rows


def pin_rows() -> list[DigitRow]:
    """The rows of digits for a PIN tapped in the dark."""
    return [DigitRow(f"p{n}", _("digit {number}").format(number=n), "") for n in range(1, PIN_PLACES + 1)]


def in_safelight() -> bool:
    """True when this phone is in safelight view."""
    return bool(held().get("view") == "safelight")


def mesh_parts(text: str, unit: str = "") -> tuple[str, str]:
    """A mesh count apart, for a box and its two units: `90/cm` -> (90, /cm). Anything else stays in the box.

    Where nobody chose yet, a shop of US habits means per inch; elsewhere both are in use, and none is chosen."""
    count, slash, per = text.partition("/")
    if slash and per.strip() in ("in", "cm"):
        return count.strip(), f"/{per.strip()}"
    return text, unit or ("/in" if units_read() == "us" else "")


_OTHER_UNIT = {"degC": ("degC", "degF")}


def field_units(name: str, given: Sequence[str] = ()) -> list[tuple[str, str]]:
    """The units offered beside a number: (spelling to send, as shown), the likely one first.

    A number already there is in the name's own unit. Any other unit may be typed after the number.
    """
    unit = units.unit_of(name)
    if unit is None:
        return []
    choices = _OTHER_UNIT.get(unit, (unit,))
    if not given and units_read() == "us":
        choices = choices[::-1]
    return [(choice, units.unit_text(choice)) for choice in choices]


# -- what is said


def zone() -> ZoneInfo:
    """The shop's time zone (UTC where the setting names none)."""
    return _zone((held().get("settings") or {}).get("zone", "UTC"))


@lru_cache(maxsize=8)
def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def reader() -> said_now.Reader:
    """Who reads this page."""
    mine = held()
    return said_now.Reader(mine.get("db"), units_read(), zone(), mine.now)


def local_time(stamp: datetime | str | None) -> str:
    """A time in the shop's zone: `3 Mar, 14:05`, with the year where it is another one."""
    return reader().time(stamp) if stamp else "–"


def local_date(stamp: datetime | str | None) -> str:
    """A day in the shop's zone, `3 Mar`, with the year where it is another one. A bare date is taken as it is."""
    return reader().day(stamp) if stamp else "–"


def local_at(text: str) -> str:
    """The time of an act as its field holds it, to the minute, in the shop's zone; what is no time stays as it is."""
    at = outside.moment(text)
    return text if at is None or at.tzinfo is None else f"{at.astimezone(zone()):%Y-%m-%dT%H:%M}"


def due_words(due: str) -> str:
    """A due day as it is said on a board: today, tomorrow, or how many days are left."""
    return board_words.due_words(reader(), due)


def short_words(one: MeshAhead, hit: bool = True) -> str:
    """What a mesh runs short of, in a line."""
    return board_words.short_words(reader(), one, hit)


def ago(stamp: datetime | str | None) -> str:
    """How long since: `3 h ago`."""
    if not stamp:
        return "–"
    minutes = int((held().now - said_now.moment(stamp)).total_seconds() // 60)
    if minutes < 1:
        return _("just now")
    if minutes < 60:
        return _("{minutes} min ago").format(minutes=minutes)
    if minutes < 48 * 60:
        return _("{hours} h ago").format(hours=minutes // 60)
    days = minutes // (24 * 60)
    return ngettext("{days} day ago", "{days} days ago", days).format(days=days)


def say_all(verdict: Verdict | Mapping[str, Any]) -> list[Said]:
    """A verdict's reasons as they are said, worst first, in the reader's units."""
    verdict = verdict if isinstance(verdict, Verdict) else Verdict.from_dict(verdict)
    system = units_read()
    return [say(reason, system) for reason in verdict.reasons]


def ground_of(verdict: Verdict | Mapping[str, Any]) -> str:
    """Where on the page “Words” stands what a verdict rests on."""
    return first_ground((verdict if isinstance(verdict, Verdict) else Verdict.from_dict(verdict)).reasons)


def level_of(verdict: Verdict | Mapping[str, Any]) -> Level:
    """How bad a verdict is, whether fresh or read from the log."""
    return verdict.level if isinstance(verdict, Verdict) else Level(verdict["level"])


def level_word(level: str) -> str:
    """The word of a level: OK, Caution, Unknown, STOP."""
    return _(WORDS[Level(level)])


def units_read() -> str:
    """The units of this page: those of who holds the phone, else the shop's."""
    return words.units() or str((held().get("settings") or {}).get("units", "metric"))


def measured(value: float | None, unit: str) -> str:
    """A number with its unit, in the reader's units."""
    return "–" if value is None else units.show_value(float(value), unit, units_read())


def named(value: Any, name: str) -> str:
    """A value said in the unit that its name ends in."""
    return units.show_named(name, value, units_read())


def cautions_told(keys: Iterable[str]) -> cautions.Told:
    """Cautions as they are said to who holds the phone: what was not read this shift in full."""
    mine = held()
    person = mine.get("person")
    read = cautions_now.read(mine.db, person.id, mine.now) if person is not None and keys else ()
    return cautions.told(keys, read)


def install(app: Flask) -> None:
    """Gives the templates what they use."""
    app.jinja_env.filters.update(
        local_time=local_time, local_date=local_date, ago=ago, shown=codes.shown, measured=measured, named=named, tr=_,
        with_signs=with_signs,
    )  # fmt: skip
    app.jinja_env.globals.update(
        languages=words.LANGUAGES,
        _=_, ngettext=ngettext, pgettext=words.pgettext,
        say_all=say_all, level_of=level_of, level_word=level_word, all_of=all_of, one_of=one_of,
        digit_rows=digit_rows, field_units=field_units, unit_text=units.unit_text, unit_of=units.unit_of,
        is_bare=typed_units.is_bare, due_words=due_words, short_words=short_words, fibre_said=fibre_said,
        role_said=role_said,
        CAUTIONS=cautions.CAUTIONS, cautions_told=cautions_told, caution_texts=cautions.texts,
        short_cautions=cautions.short, shown=codes.shown, new_entry=new_entry_id, url_for_code=url_for_code,
        page_exists=page_exists, static_version=static_version, core=small.core, fresh_secret=fresh_secret,
        pin_rows=pin_rows, mesh_parts=mesh_parts, cycle_of=stages.cycle, told_of=told_of, told_of_page=told_of_page,
        ink_colour=of_name, strip=strip,
        ground_of=ground_of, ENTER_ASKS={"strip": ANY, "retire": ANY},
        SCREEN_STEPS=steps.SCREEN_STEPS, RUN_STEPS=steps.RUN_STEPS,
        unsent_words=unsent_words, own_of_now=own_of_now,
        local_at=local_at, agos=agos, in_safelight=in_safelight, new_id=new_id,
        holder=lambda: g.get("person"), chosen_here=lambda: g.get("chosen", ""),
    )  # fmt: skip
