"""Lists that a shop has already: sent as a file, looked over on one page, brought in with one yes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flask import Blueprint, Response, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import lists as acts
from tickets.calculator.kinds import PLACES as PLACE_KINDS
from tickets.domain.lists import cells, columns
from tickets.domain.lists.columns import IGNORED, KIND_WORDS, KINDS, Chosen
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import list_now
from tickets.queries.table_file import safe_cell
from tickets.store import lists, places, screens
from tickets.store.lists import KeptList
from web.may import FRAMES, MANAGER, PLACES, refusal
from web.printing import MOST_TAGS
from web.support import actor, faults_by_field, form_lists, one_of, page

bp = Blueprint("bring", __name__)

READ = cells.LARGEST + 200_000
"""Bytes of a form with a file that are read: a file that is too large is refused in words."""
NOT_USED = N_("not used")
LINES_SHOWN, MADE_SHOWN = 20, 200
MAY = {"frames": FRAMES, "people": MANAGER, "places": PLACES}
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True)
class Start:
    """The page that takes a file: the kinds of lists that this person brings in, with which of them is chosen, what
    their columns may hold, and the lists of before."""

    kinds: Sequence[tuple[str, str]]
    kind: str
    fields: Mapping[str, Sequence[columns.ListField]]
    before: Sequence[lists.ListLine]


@dataclass(frozen=True, slots=True)
class ListPage:
    """The page of a list: the list, what it comes to, what its columns may be, whether the same file was brought in
    before, and of one that was brought in the screens that it made."""

    kept: KeptList
    comes_to: list_now.ComesTo
    choices: Sequence[tuple[str, str]]
    words: Mapping[str, str]
    same: KeptList | None
    done: int
    made: Sequence[tuple[str, str, str]]
    others: int
    parts: Sequence[tuple[int, int, int]]
    lines_shown: int = LINES_SHOWN


@bp.before_app_request
def _room() -> None:
    """Before anything of the form is read: how much of it is taken."""
    if request.method == "POST" and request.path == "/bring":
        request.max_content_length = READ


@bp.get("/bring")
def start() -> Response:
    """The form for a file, and the lists of before."""
    return _start(request.args.get("kind", ""))


def _start(kind: str, refused: Refused | None = None, text: str = "") -> Response:
    mine = [(name, word) for name, word in KIND_WORDS.items() if acts.may_bring(actor(), name)]
    kind = kind if kind in dict(mine) else mine[0][0]
    start = Start(mine, kind, {name: KINDS[name] for name, _word in mine}, lists.every(g.db))
    faults = faults_by_field(refused)
    status = refused.status if refused else 200
    return page(
        "bring/start.html", status, it=start, faults=faults, text=text, kind_words=KIND_WORDS, counted=list_now.counted
    )


@bp.post("/bring")
def send() -> AnyResponse:
    """A file, or what was pasted; kept, and led on to its page. Nothing is made yet."""
    sent = form_lists()
    kind, text = one_of(sent, "kind"), one_of(sent, "list")
    upload = request.files.get("file")
    try:
        if kind in MAY and not acts.may_bring(actor(), kind):
            raise refusal(MAY[kind])
        if upload is not None and upload.filename:
            name, raw = upload.filename, cells.read(upload.stream.read(cells.LARGEST + 1))
        elif text.strip():
            name, raw = "", cells.pasted(text)
        else:
            raise Refused(_("Choose a file, or paste the list."), "file")
        number = acts.send(g.db, actor(), kind, name, raw, now=g.now)
    except Refused as refused:
        if refused.status == 403:
            raise
        return _start(kind, refused, text)
    return redirect(f"/bring/{number}", code=303)


@bp.get("/bring/<int:number>")
def look(number: int) -> Response:
    """What a list comes to, or what it made."""
    return _look(_mine(number))


def _mine(number: int) -> KeptList:
    kept = acts.of(g.db, number)
    if not acts.may_bring(actor(), kept.kind):
        raise refusal(MAY[kept.kind])
    return kept


def _look(kept: KeptList, refused: Refused | None = None, changed: bool = False) -> Response:
    codes = lists.codes_of(g.db, kept.id) if kept.taken_at else []
    made = lists.made_by(g.db, kept.id)
    same = lists.same_file(g.db, kept.kind, kept.digest)
    looked = ListPage(
        kept,
        list_now.comes_to(g.db, kept, g.now),
        [(IGNORED, NOT_USED), *((field.name, field.word) for field in KINDS[kept.kind])],
        {field.name: field.word for field in KINDS[kept.kind]},
        same if same and same.id != kept.id else None,
        len(made),
        _rows(kept, made),
        max(0, len(made) - MADE_SHOWN),
        tag_parts(len(codes)),
    )
    status = refused.status if refused else 200
    faults = faults_by_field(refused)
    return page(
        "bring/list.html",
        status,
        it=looked,
        faults=faults,
        changed=changed,
        kind_words=KIND_WORDS,
        counted=list_now.counted,
    )


def _rows(kept: KeptList, made: Mapping[int, int]) -> list[tuple[str, str, str]]:
    """The first things that a list made: the code of each, its mark or name, its mesh or kind."""
    numbers = list(made.values())[:MADE_SHOWN]
    if kept.kind == "frames":
        found = screens.many(g.db, numbers)
        return [(str(one.code), one.life.mark or "", one.life.mesh.said if one.life.mesh else "") for one in found]
    if kept.kind == "places":
        there = [places.get(g.db, number) for number in numbers]
        return [(str(one.code), one.name, _(PLACE_KINDS[one.kind])) for one in there if one]
    return []


def tag_parts(many: int) -> list[tuple[int, int, int]]:
    """The parts in which so many tags are printed: its number, the first and the last tag."""
    return [(at // MOST_TAGS + 1, at + 1, min(at + MOST_TAGS, many)) for at in range(0, many, MOST_TAGS)]


def _chosen(kept: KeptList) -> tuple[list[Chosen], bool, str]:
    """What the form says of the columns; what it does not say of one stays."""
    sent = form_lists()
    found = []
    for at, one in enumerate(kept.columns):
        field = one_of(sent, f"column-{at}") if f"column-{at}" in sent else one.field
        unit = one_of(sent, f"unit-{at}") if f"unit-{at}" in sent else one.unit
        found.append(Chosen(field, unit))
    return found, "make_places" in sent, one_of(sent, "measured")


@bp.post("/bring/<int:number>/columns")
def choose(number: int) -> AnyResponse:
    """What the columns are."""
    kept = _mine(number)
    chosen, make_places, measured = _chosen(kept)
    try:
        acts.choose(g.db, actor(), number, chosen, make_places=make_places, measured=measured)
    except Refused as refused:
        return _look(kept, refused)
    return redirect(f"/bring/{number}#made", code=303)


@bp.post("/bring/<int:number>/take")
def take(number: int) -> AnyResponse:
    """Makes what the page said. Where something was chosen that the page did not show yet, it is shown first."""
    kept = _mine(number)
    chosen, make_places, measured = _chosen(kept)
    try:
        if kept.taken_at is None:
            acts.choose(g.db, actor(), number, chosen, make_places=make_places, measured=measured)
        after = acts.of(g.db, number)
        if (after.columns, after.make_places, after.measured) != (kept.columns, kept.make_places, kept.measured):
            return _look(after, changed=True)
        acts.take_in(g.db, actor(), number, now=g.now, again="again" in form_lists())
    except Refused as refused:
        if refused.status == 403:
            raise
        return _look(acts.of(g.db, number), refused)
    return redirect(f"/bring/{number}", code=303)


@bp.get("/bring/<int:number>/left-out")
def left_out(number: int) -> Response:
    """The lines that make nothing, as they were sent, each with what is wrong: to be mended and sent again. `as`: csv,
    else a spreadsheet."""
    kept, kind = _mine(number), "csv" if request.args.get("as") == "csv" else "xlsx"
    rows = list(list_now.refused_rows(kept, list_now.comes_to(g.db, kept, g.now)))
    return _file(f"left-out-{number}", kind, rows)


@bp.get("/bring/template/<name>")
def template(name: str) -> Response:
    """A list to fill in: KIND.csv, KIND.xlsx."""
    found = re.fullmatch(r"([a-z]+)\.(csv|xlsx)", name)
    if found is None or found[1] not in KINDS:
        raise NotFound(_("There is no such file here."), "name")
    return _file(found[1], found[2], list(list_now.template_rows(found[1])))


def _file(name: str, kind: str, rows: Sequence[Sequence[str]]) -> Response:
    if kind == "xlsx":
        width = max(map(len, rows))
        wide = [max((len(row[at]) for row in rows if at < len(row)), default=0) for at in range(width)]
        answer = Response(cells.xlsx(rows, [min(60, max(12, one + 2)) for one in wide]), mimetype=XLSX)
    else:
        answer = Response(cells.csv_text([[str(safe_cell(one)) for one in row] for row in rows]), mimetype="text/csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer
