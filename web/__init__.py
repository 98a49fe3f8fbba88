"""The pages. `create_app` and nothing else; one file per group of pages."""

from __future__ import annotations

import gc
import logging
import random
import re
import sqlite3
import sys
import time
from collections.abc import Callable, Iterable
from contextlib import ExitStack, suppress
from datetime import UTC, datetime
from functools import cache
from io import TextIOWrapper
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

from flask import Flask, Response, current_app, g, has_request_context, request
from flask.logging import default_handler
from jinja2 import BaseLoader
from sqlite_utils import Database
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge
from werkzeug.routing import IntegerConverter, ValidationError
from werkzeug.wrappers import Response as AnyResponse

from tickets import i18n as words
from tickets import store
from tickets.actions import people as people_acts
from tickets.actions import posting
from tickets.actions.shop import open_shop
from tickets.calculator.numerals import counted
from tickets.domain import clock
from tickets.domain.refusal import NotAllowed, Refused, SentBefore, Trouble, TryLater
from tickets.i18n import gettext as _
from tickets.store import entries as store_entries
from tickets.store import people as store_people
from tickets.store import private
from tickets.store import reads as reads_store
from tickets.store.people import SignIn
from tickets.store.settings import settings as settings_of
from tickets.store.trouble import trouble_of
from web import (
    boards,
    bring,
    buckets,
    calculator,
    coming_back,
    compiled,
    cost,
    desk,
    files,
    first,
    from_paper,
    hosts,
    interface,
    inventory,
    job_form,
    jobs,
    learning,
    log,
    look,
    may,
    people,
    pictures,
    places,
    printing,
    quick,
    readers,
    repeats,
    run_list,
    runs,
    scan,
    screen_life,
    screens,
    settings,
    small,
    spec,
    stocktake,
    support,
    trace,
    week,
    white,
)
from web.incoming import MOST_BYTES, MOST_FIELDS, Incoming

PAGES = (
    people.bp,
    boards.bp,
    desk.bp,
    week.bp,
    readers.bp,
    interface.bp,
    files.bp,
    bring.bp,
    first.bp,
    screen_life.bp,
    stocktake.bp,
    trace.bp,
    cost.bp,
    calculator.bp,
    spec.bp,
    settings.bp,
    quick.bp,
    jobs.bp,
    job_form.bp,
    runs.bp,
    run_list.bp,
    pictures.bp,
    repeats.bp,
    printing.bp,
    scan.bp,
    screens.bp,
    inventory.bp,
    places.bp,
    buckets.bp,
    from_paper.bp,
    log.bp,
    learning.bp,
    look.bp,
)
"""The groups of pages. A new group adds its line."""

NO_SHOP = re.compile(r"/ping|/favicon\.ico|/static/.*")
"""Answered without opening the database."""

SAFE = ("GET", "HEAD", "OPTIONS")
HEADERS = {
    "Content-Security-Policy": f"default-src 'self'; style-src 'self' {small.core_marks()}; object-src 'none'; "
    "base-uri 'none'; frame-ancestors 'none'; form-action 'self'",
    "X-Content-Type-Options": "nosniff",
    # not `no-referrer`: that would make Origin null on our own forms
    "Referrer-Policy": "same-origin",
}
HTTPS_ONLY = "max-age=31536000; includeSubDomains"
"""Said where a proxy speaks HTTPS with the phone: for a year it takes no other way here (RFC 6797)."""


def _now() -> datetime:
    return datetime.now(UTC)


class Numbered(IntegerConverter):
    """The number of a row in an address; one that no row can have is an address that is not there."""

    def to_python(self, value: str) -> int:
        """The number."""
        number = counted(value, -1)
        if number < 0:
            raise ValidationError
        return number


class Shop(Flask):
    """The program. None of its pages is a coroutine, so that it need not be asked of each whether it is one."""

    request_class = Incoming

    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        """The page as it is."""
        return func

    def create_global_jinja_loader(self) -> BaseLoader:  # type: ignore[override]
        """Templates, each compiled once."""
        return compiled.Once(super().create_global_jinja_loader())

    def send_static_file(self, filename: str) -> Response:
        """Stylesheets and scripts as they were made ready once; anything else as it lies there."""
        ready = small.ready(filename)
        if ready is None:
            return super().send_static_file(filename)
        response = ready.answer(bool(request.accept_encodings.quality("gzip")))
        response.cache_control.public, response.cache_control.max_age = True, self.config["SEND_FILE_MAX_AGE_DEFAULT"]
        response.make_conditional(request)
        return response

    def redirect(self, location: str, code: int = 303) -> AnyResponse:
        """On to another page, without the page that Werkzeug draws for programs that do not go there."""
        return Response(status=code, headers={"Location": location}, mimetype="text/html")


def create_app(
    folder: Path,
    *,
    clock: Callable[[], datetime] = _now,
    testing: bool = False,
    host_names: Iterable[str] | None = None,
) -> Flask:
    """The pages of the shop in `folder`, which is made or brought up to date first (NotNow: it cannot be).

    `clock` gives the time (aware). `testing`: unexpected errors are raised instead of turned into a page.
    `host_names`: names that the server answers by, beside its own (`web.hosts`); None: by any.
    """
    app = every_page(testing=testing)
    app.config["HOSTS"] = None if host_names is None else hosts.Hosts(host_names)
    of_shop(app, folder, clock)
    if not testing:
        _set_aside()
    return app


def every_page(*, testing: bool = False) -> Shop:
    """The pages, of no shop yet."""
    app = Shop(__name__)
    app.testing = testing
    app.config.update(MAX_CONTENT_LENGTH=MOST_BYTES, MAX_FORM_MEMORY_SIZE=MOST_BYTES, MAX_FORM_PARTS=MOST_FIELDS)
    app.config.update(SEND_FILE_MAX_AGE_DEFAULT=31_536_000)
    app.config["WHO"] = dict(may.WHO)
    app.config["HOSTS"] = None
    app.url_map.converters["int"] = Numbered
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    support.install(app)
    app.jinja_env.globals.update(faulty_limits=spec.faulty_limits, may=may.may)
    app.before_request(_open)
    app.after_request(_seal)
    app.teardown_request(_close)
    app.register_error_handler(Refused, _refused)
    app.register_error_handler(support.CountForgotten, stocktake.count_forgotten)
    app.register_error_handler(SentBefore, _sent_before)
    for kind in (Trouble, sqlite3.Error, OSError):
        app.register_error_handler(kind, _trouble)
    app.register_error_handler(HTTPException, _error)
    for bp in PAGES:
        app.register_blueprint(bp)
    may.known(app)
    app.before_request(people.wall)  # behind what a group of pages does first: how much of a form is read
    app.before_request(white.hold_back)
    return app


def of_shop(app: Flask, folder: Path, clock: Callable[[], datetime]) -> None:
    """From here on they are the pages of the shop in `folder`, which is made or brought up to date (NotNow: it cannot
    be)."""
    opened = open_shop(folder, clock())
    people_acts.look_back(opened, clock())
    file = store.place_of(opened)
    opened.close()
    app.extensions["pool"] = store.Pool(folder)
    app.config.update(FOLDER=folder, FILE=file, CLOCK=clock)
    _log_to(app, folder / "log")


@cache
def _set_aside() -> None:
    """Python looks for rings of dead things whenever 700 new ones stand, three times in a scan: here it looks seldom,
    and not through the program itself, which stays. What one page leaves behind is small and mostly no ring."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 20)


# -- around every request


def _open() -> AnyResponse | None:
    """The shop, its language, the person who holds the phone; the origin check. `people.wall` comes after it."""
    mine, asked, app = support.held(), support.asked(), current_app
    cookies = asked.cookies
    mine.now = app.config["CLOCK"]()
    mine.number = f"{random.getrandbits(32):08x}"
    mine.sign_in = mine.person = mine.token = None
    mine.view = cookies.get("view", "day")
    mine.settings, mine.clock = {}, None
    words.use("en")
    words.use_units("")
    if NO_SHOP.fullmatch(asked.path):
        return None
    mine.db = db = app.extensions["pool"].lend()
    by_token = asked.endpoint in may.BY_TOKEN
    token, safe = "" if by_token else cookies.get(support.cookie(support.COOKIE), ""), asked.method in SAFE
    if safe:
        reads_store.read_on(db)
    newest, holder = people_acts.begin(db, token, mine.now)
    mine.settings = settings_of(db, newest)
    mine.clock = clock.doubt(mine.now, newest.entry or 0, newest.saved, mine.settings["clock"])
    if mine.clock is not None:
        mine.by_clock = ExitStack()
        mine.by_clock.enter_context(posting.by_clock(db, mine.clock))
    person = holder[1] if holder is not None else None
    accepted, shops = asked.headers.get("Accept-Language", ""), mine.settings["language"]
    words.use(support.language_of(person, cookies, accepted, shops))
    words.use_units((person and person.units) or "")
    if app.config["HOSTS"] is not None:
        app.config["HOSTS"].check(asked.host, mine.settings["address"])
    if not safe and not by_token and asked.headers.get("Origin") != f"{asked.scheme}://{asked.host}":
        raise NotAllowed(_("This did not come from a page of ours: load the page again, and send it from there."))
    if holder is not None:
        sign_in, mine.person = holder
        mine.sign_in, mine.token, mine.view = _seen(db, sign_in, safe), token, sign_in.view
        may.check(asked.endpoint, mine.person.role)
        return None
    reads_store.read_enough(db)
    return None


def _seen(db: Database, sign_in: SignIn, reads: bool) -> SignIn:
    """Notes now and then that the phone was seen: the one thing that a page writes by itself, before it reads."""
    if not people_acts.to_be_noted(sign_in, support.held().now):
        return sign_in
    reads_store.read_enough(db)
    if people_acts.over(sign_in, support.held().now):
        support.held().over = sign_in.doing.get("text", "")
    sign_in = people_acts.note_seen(db, sign_in, support.held().now)
    if reads:
        reads_store.read_on(db)
    return sign_in


def _seal(response: Response) -> Response:
    response, asked = _said_once(response), support.asked()
    coming_back.for_script(response, asked.headers.get(coming_back.BY_SCRIPT, ""))
    headers = response.headers
    there = {name.lower() for name in headers.keys()}
    for name, value in HEADERS.items():
        if name.lower() not in there:
            headers.add(name, value)
    if asked.is_secure:
        headers["Strict-Transport-Security"] = HTTPS_ONLY
    if "cache-control" not in there and not asked.path.startswith("/static/"):
        headers.add("Cache-Control", "no-store")
    _squeeze(response)
    return response


def _squeeze(response: Response) -> None:
    """Packs a page: phones at the far rack have little Wi-Fi."""
    takes = request.environ.get("HTTP_ACCEPT_ENCODING", "")  # parsed only where it says how much it likes what
    if response.mimetype != "text/html" or response.direct_passthrough or "gzip" not in takes:
        return
    body = response.get_data()
    if len(body) > small.SHORT and (";" not in takes or request.accept_encodings.quality("gzip")):
        response.set_data(small.packed(body))
        response.headers["Content-Encoding"] = "gzip"
        response.headers.add("Vary", "Accept-Encoding")


def _close(_error: BaseException | None) -> None:
    if (by_clock := support.held().pop("by_clock", None)) is not None:
        by_clock.close()
    db = support.held().pop("db", None)
    if db is not None:
        current_app.extensions["pool"].take_back(db)


# -- what goes wrong


def _refused(refused: Refused) -> Response:
    """A refusal that no page put beside its field."""
    response = support.page("refused.html", refused.status, refused=refused)
    if isinstance(refused, TryLater):
        response.headers["Retry-After"] = str(refused.seconds)
    return response


def _trouble(error: Exception) -> Response:
    """An error of the disk or the file, where it is one: said in plain words; else a defect of the program."""
    known = error if isinstance(error, Trouble) else trouble_of(error, current_app.config["FOLDER"])
    if known is None:
        raise error
    current_app.logger.error("%s: %r", known.kind, error)
    return _in_trouble(known)


def _in_trouble(known: Trouble) -> Response:
    """What is wrong with the disk or the file. What was typed stands on the page, with the id that it had, so that it
    can be sent again and is saved once; a secret is asked for again."""
    post = request.method == "POST"
    response = support.page("trouble.html", known.status, trouble=known, post=post, kept=coming_back.as_sent())
    if known.seconds is not None:
        response.headers["Retry-After"] = str(known.seconds)
    return response


def _sent_before(first: SentBefore) -> Response:
    """Something else was saved under the id of this form."""
    return _saved_already(first, True)


def _saved_already(first: SentBefore, other: bool) -> Response:
    """What was saved under the id of this form is shown; whether the other is sent as well is somebody's own choice.
    `other`: what came now is known to be something else."""
    found = store_entries.of_post(g.db, first.post)
    who = store_people.names(g.db).get(first.person, "")
    lines = log.lines(g.db, found, about=True, crossing=False) if g.get("person") else []
    kept = coming_back.as_sent()
    told = {"first": first, "who": who, "lines": lines, "kept": kept, "other": other}
    response = support.page("sent_before.html", first.status, **told)
    response.headers["Not-Logged"] = "saved-before"
    return response


def _said_once(response: Response) -> Response:
    """A refusal of what was saved before under this id: that is shown instead, whatever a page looked up first. Nothing
    is amiss with what is saved, and a form that came back would invite a second entry."""
    if request.method != "POST" or not 400 <= response.status_code < 500 or "Not-Logged" in response.headers:
        return response
    try:
        post = request.form.get("entry", "") if g.get("person") else ""
    except RequestEntityTooLarge:  # the page that says so read nothing of it either
        return response
    names_another = request.path.endswith("/cross-out") and not request.form.get("crosses")  # `entry` is what is wrong
    first = store_entries.earlier(g.db, post) if post and not names_another else None
    return response if first is None else _saved_already(SentBefore("", post, first.person, first.saved_at), False)


def _error(error: HTTPException) -> AnyResponse:
    """Anything else; the number on the page finds the line in the log."""
    if error.code is None or error.code < 400:
        return error.get_response()  # type: ignore[return-value,unused-ignore]
    most = {"megabytes": MOST_BYTES // 1_000_000, "fields": MOST_FIELDS}
    return support.page("error.html", error.code, code=error.code, number=g.get("number", ""), **most)


# -- the log of the program (the shop's log is in the database)


class _Numbered(logging.Filter):
    """Puts the request's number, person and path on every line."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.number, record.asked = "-", "-"
        if has_request_context():
            person = g.get("person")
            record.number = g.get("number", "-")
            # repr: a line break in a path must not start a line of its own
            record.asked = f"{request.method} {request.path!r} person={person.id if person else '-'}"
        return True


class _LogFile(RotatingFileHandler):
    """The program's log: its owner's alone, never through a link, and never in the way of a page: where it cannot be
    written (a full disk), standard error says so once."""

    failed = False

    def _open(self) -> TextIOWrapper:
        private.folder(Path(self.baseFilename).parent)
        opened: TextIOWrapper = private.opened(Path(self.baseFilename), self.mode, encoding=self.encoding)  # type: ignore[assignment]
        return opened

    def handleError(self, record: logging.LogRecord) -> None:
        """Says it once."""
        if not self.failed and sys.stderr is not None:
            with suppress(OSError):
                print(f"tickets: {self.baseFilename}: {sys.exc_info()[1]}", file=sys.stderr)
        self.failed = True


def _log_to(app: Flask, folder: Path) -> None:
    for old in [handler for handler in app.logger.handlers if isinstance(handler, RotatingFileHandler)]:
        app.logger.removeHandler(old)
        old.close()
    handler = _LogFile(folder / "tickets.log", maxBytes=1_000_000, backupCount=5, encoding="utf-8", delay=True)
    lines = logging.Formatter("%(asctime)sZ %(levelname)s %(number)s %(asked)s %(message)s", "%Y-%m-%dT%H:%M:%S")
    lines.converter = time.gmtime
    handler.setFormatter(lines)
    handler.addFilter(_Numbered())
    app.logger.removeHandler(default_handler)  # the file is the log; standard error is for who started the server
    app.logger.addHandler(handler)
    app.logger.setLevel(logging.INFO)
