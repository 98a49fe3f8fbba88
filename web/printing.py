"""Paper: what to print and on what, the PDF to take away, and what is out of date."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from typing import Any, NamedTuple
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from tickets.actions import printers as printer_acts
from tickets.actions import printing as printing_acts
from tickets.actions import run_papers
from tickets.calculator.numerals import counted
from tickets.domain.code import shown
from tickets.domain.label import is_sheet
from tickets.domain.papers.ticket import address_fault
from tickets.domain.posted import Form
from tickets.domain.printer import Printer, named
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _
from tickets.queries import addresses, find, printers, tags_wanted, tickets
from tickets.queries.find import job as find_job
from tickets.store import entries, lists, places, printed, screens
from web.support import actor, faults_by_field, form_lists, new_entry_id, page

bp = Blueprint("printing", __name__)

SEVERAL = ("tags", "jobs")
"""What is printed for many codes at once, which are typed in a box."""

PAPERS = (("A4", N_("A4")), ("Letter", N_("US Letter")))
MOST_TAGS = 500
USUAL_LABELS = {"bucket": printing_acts.BUCKET_LABEL}
MEASURES = (
    ("grid", N_("Labels across and down"), N_("such as 3x8; empty: plain paper to cut")),
    ("size", N_("Size of one label"), N_("such as 63.5x38.1mm; empty: the label chosen above")),
    ("edges", N_("First label from the left and the top"), N_("such as 7x15mm; empty: in the middle of the paper")),
    ("gaps", N_("Between labels, across and down"), N_("such as 2.5x0mm; empty: nothing between them")),
    ("used", N_("Labels already gone"), N_("counted along the rows from the top")),
)
"""The measures of a sheet of labels: each field, what it is called, and how it is typed."""


class Offered(NamedTuple):
    """What there is to choose and to type: sizes of labels, papers, the measures of a sheet."""

    labels: tuple[tuple[str, str], ...]
    papers: tuple[tuple[str, str], ...]
    measures: tuple[tuple[str, str, str], ...]


class TagParts(NamedTuple):
    """Which part of many tags is shown, how many tags there are, the parts with their addresses."""

    here: int
    tags: int
    links: list[tuple[int, str]]


OFFERED = Offered(tuple((one, one) for one in printing_acts.ROLLS), PAPERS, MEASURES)
KINDS = {
    "job": N_("Job ticket"),
    "screen": N_("Screen tag"),
    "place": N_("Tag of a place"),
    "bucket": N_("Bucket tag"),
    "set-up": N_("Set-up sheet"),
    "comparison": N_("Comparison, with names and notes"),
    "customer": N_("Sheet for the customer"),
}


@bp.get("/print")
def overview() -> Response:
    """The tickets and tags that a change of the address or of a job left behind, and which tags may be chosen."""
    racks = [place for place in places.every(g.db) if place.kind != "press"]
    meshes = dict.fromkeys(row[1] for row in screens.counts(g.db))
    return page(
        "printing/overview.html",
        behind=tickets.left_behind(g.db),
        old_tags=len(tags_wanted.codes_of(g.db, tags_wanted.TagsWanted(outdated=True))),
        racks=[(place.code, place.name) for place in racks],
        meshes=[(mesh, mesh) for mesh in meshes if mesh],
        outdated=tickets.outdated_jobs(g.db),
        address=g.settings["address"],
    )


@bp.get("/print/tags")
def tags_form() -> Response:
    """Which label, and whether on sheets, for the tags of `codes` and of the screens with painted `marks`; or of a list
    that was brought in, in its parts; or of those that are chosen (`which`: all, outdated; `rack`; `mesh`)."""
    number, part = counted(request.args.get("list", "")), counted(request.args.get("part", "")) or 1
    which = request.args.getlist("which")
    wanted = tags_wanted.TagsWanted(
        "all" in which, "outdated" in which, request.args.get("rack", ""), request.args.get("mesh", ""), number or 0
    )
    if wanted.any and wanted != tags_wanted.TagsWanted(of_list=number or 0):
        return _chosen(wanted, part)
    if number:
        return _form("tags", ",".join(_of_list(number, part)), of_list=(number, part))
    codes = ",".join(request.args.getlist("codes"))
    try:
        marked = _marked(request.args.get("marks", ""))
    except Refused as refused:
        return _form("tags", codes, refused, Form({"marks": [request.args.get("marks", "")]}))
    return _form("tags", ",".join(one for one in (codes, *marked) if one))


def _chosen(wanted: tags_wanted.TagsWanted, part: int) -> Response:
    """The form with the codes of the tags that were chosen, in parts."""
    try:
        codes = tags_wanted.codes_of(g.db, wanted)
        if not codes:
            raise Refused(tags_wanted.none_said(wanted), "codes")
    except NotFound:
        raise
    except Refused as refused:
        told = " ".join(fault.message for fault in refused.faults)
        return _form("tags", "", Refused(told, "codes"))
    parts = -(-len(codes) // MOST_TAGS)
    here = min(part, parts)
    asked = [(name, text) for name in ("which", "rack", "mesh", "list") for text in request.args.getlist(name) if text]
    links = [(number, "/print/tags?" + urlencode([*asked, ("part", str(number))])) for number in range(1, parts + 1)]
    some = codes[(here - 1) * MOST_TAGS : here * MOST_TAGS]
    return _form("tags", ",".join(some), parts=TagParts(here, len(codes), links) if parts > 1 else None)


def _of_list(number: int, part: int) -> list[str]:
    """The codes of one part of what a list made."""
    if lists.get(g.db, number) is None:
        raise NotFound(_("There is no such list here."), "list")
    return lists.codes_of(g.db, number, MOST_TAGS, (part - 1) * MOST_TAGS)


@bp.post("/print/tags")
def tags() -> AnyResponse:
    """The tags of screens, racks and buckets as a PDF (fields codes, label, sheet)."""
    form = asked_form()
    number, part = counted(form.one("list")), counted(form.one("part")) or 1
    codes = _of_list(number, part) if number else _typed_codes(",".join(form.sent.get("codes", ())))
    try:
        codes = list(dict.fromkeys([*codes, *_marked(form.one("marks"))]))
    except Refused as refused:
        return _form("tags", ",".join(codes), refused, form)
    return _pdf(
        "tags",
        ",".join(codes),
        form,
        f"tags-{codes[0] if len(codes) == 1 else len(codes)}",
        lambda how: printing_acts.print_tags(
            g.db, actor(), _codes(",".join(codes)), now=g.now, **_stock(form), **how
        ),
        (number, part) if number else None,
    )  # fmt: skip


@bp.get("/print/job/<code>")
def job_form(code: str) -> Response:
    """On which paper; and what was printed of this job before."""
    return _form("job", find_job(g.db, code).code)


@bp.post("/print/job/<code>")
def job(code: str) -> AnyResponse:
    """The job's ticket as a PDF (field paper)."""
    form = asked_form()
    code = find_job(g.db, code).code
    return _pdf(
        "job",
        code,
        form,
        f"job-{code}",
        lambda how: printing_acts.print_job(
            g.db, actor(), code, now=g.now, paper=form.one("paper") or usual_paper(), **how
        ),
    )


@bp.get("/print/jobs")
def jobs_form() -> Response:
    """On which paper, for the tickets of several jobs (`codes`)."""
    return _form("jobs", ",".join(request.args.getlist("codes")))


@bp.post("/print/jobs")
def jobs() -> AnyResponse:
    """The tickets of several jobs as one PDF (fields codes, paper)."""
    form = asked_form()
    codes = _typed_codes(",".join(form.sent.get("codes", ())))
    return _pdf(
        "jobs",
        ",".join(codes),
        form,
        f"jobs-{len(codes)}",
        lambda how: printing_acts.print_jobs(
            g.db, actor(), codes, now=g.now, paper=form.one("paper") or usual_paper(), **how
        ),
    )


@bp.get("/print/<any(bucket, place):kind>/<code>")
def label_form(kind: str, code: str) -> Response:
    """Which label, for a bucket or a place."""
    return _form(kind, code)


@bp.post("/print/<any(bucket, place):kind>/<code>")
def label(kind: str, code: str) -> AnyResponse:
    """The label of a bucket, or the tag of a place, as a PDF (field label)."""
    form = asked_form()
    make, usual = (
        (printing_acts.print_bucket, printing_acts.BUCKET_LABEL)
        if kind == "bucket"
        else (printing_acts.print_place, tickets.LABEL)
    )
    return _pdf(
        kind,
        code,
        form,
        f"{kind}-{code}",
        lambda how: make(g.db, actor(), code, now=g.now, label=form.one("label") or usual, **how),
    )


@bp.post("/print/again/<code>")
def again(code: str) -> AnyResponse:
    """What was printed before (field number), drawn again and saying the same, with the address of today."""
    form = Form(form_lists())
    try:
        drawn = run_papers.draw_again(
            g.db, code, counted(form.one("number")) or None, anyway=form.yes("anyway")
        )
    except Refused as refused:
        if refused.status == 404:
            raise
        return _form("job" if find.code(g.db, code).kind == "job" else "tags", code, refused, form)
    if drawn.papers and g.clock is None:  # by a clock that is in doubt, no time is kept of it
        printing_acts.keep_drawn(g.db, actor(), drawn, g.now)
    return download(drawn.pdf, f"again-{code}")


def _codes(text: str) -> list[str]:
    """The codes in a text, each once: parted by commas or spaces."""
    codes = _typed_codes(text)
    if len(codes) > MOST_TAGS:
        raise Refused(_("At most {most} tags at once.").format(most=MOST_TAGS), "codes")
    return codes


def _marked(text: str) -> list[str]:
    """The codes of screens by their painted marks, parted by commas or lines."""
    return [code for part in re.split(r"[,;\n]+", text) if part.strip() for code in find.marked(g.db, part.strip())]


def _typed_codes(text: str) -> list[str]:
    return list(dict.fromkeys(part for part in re.split(r"[,\s]+", text) if part))


def usual_paper() -> str:
    """What printers hold where the shop is: by its units."""
    return "Letter" if g.settings["units"] == "us" else "A4"


def _stock(form: Form) -> dict[str, Any]:
    """What the labels are on. Labels that are gone, typed as no number, are refused as too many are."""
    grid = form.one("grid")
    return {
        "label": form.one("size") or form.one("label") or tickets.LABEL,
        "sheet": form.one("sheet") or (usual_paper() if grid else None),
        "grid": grid,
        "edges": form.one("edges"),
        "gaps": form.one("gaps"),
        "used": counted(form.one("used"), -1) if form.one("used") else 0,
    }


def answers(form: Form) -> dict[str, Any]:
    """What was ticked on the form: print although the address will not do, and whatever else was asked."""
    return {"anyway": form.yes("anyway"), "ask": () if form.yes("sure") else printing_acts.QUESTIONS}


def _pdf(
    kind: str,
    code: str,
    form: Form,
    name: str,
    make: Callable[[dict[str, Any]], tickets.PrintedPaper],
    of_list: tuple[int, int] | None = None,
) -> AnyResponse:
    """The PDF, or the form again with what speaks against it."""
    try:
        codes = _typed_codes(code)
        of = ", ".join(map(shown, codes[:4])) + (" …" if len(codes) > 4 else "")
        title = _("Job tickets: {codes}") if kind in ("job", "jobs") else _("Tags {codes}")
        gone = on_printer(form, title.format(codes=of), lambda: make(answers(form)))
        if gone is not None:
            return gone
        made = make(answers(form))
    except Refused as refused:
        if refused.status == 404 and kind not in SEVERAL:
            raise
        return _form(kind, code, refused, form, of_list)
    current_app.logger.info("printed: %s", name)
    return download(made.pdf, name)


# -- on a printer


@bp.app_template_filter("holds")
def holds_said(holds: str) -> str:
    """What a printer holds, in words."""
    return _(dict(PAPERS)[holds]) if is_sheet(holds) else _("labels {size}").format(size=holds)


def printers_for(kind: str) -> list[Printer]:
    """The printers that hold what a kind of paper is drawn on: those of labels before those of sheets, for tags."""
    every = printers.named(g.db)
    labels, on_sheets = ([one for one in every if one.sheets is sheets_] for sheets_ in (False, True))
    return labels if kind in ("bucket", "place") else [*labels, *on_sheets] if kind == "tags" else on_sheets


bp.add_app_template_global(printers_for, "printers_for")


def asked_form() -> Form:
    """What was sent; where a printer's button was tapped, the paper is the one that it holds. Raises NotFound."""
    sent = form_lists()
    name = Form(sent).one("printer")
    if name:
        to = named(printers.named(g.db), name)
        sent = {key: texts for key, texts in sent.items() if key not in ("grid", "size")}
        sent |= {"paper": [to.holds], "sheet": [to.holds]} if to.sheets else {"label": [to.holds], "sheet": []}
    return Form(sent)


def on_printer(form: Form, title: str, make: Callable[[], tickets.PrintedPaper]) -> AnyResponse | None:
    """That a paper was sent to the printer whose button was tapped; None: a PDF is wanted. Raises Refused."""
    if not form.one("printer"):
        return None
    to = named(printers.named(g.db), form.one("printer"))
    fields = {key: list(texts) for key, texts in form.sent.items() if key not in ("once", "printer")}
    content = {"to": request.path, "printer": to.name, **fields}
    # one id for one tap of one button: who comes back to the page and taps another one means another paper
    own = hashlib.sha256(json.dumps([g.person.id, content], sort_keys=True).encode()).hexdigest()[:6]
    post = f"{(form.one('once') or new_entry_id())[:26]}{own}"
    kept = {"to": request.path, "fields": fields}
    answer = printer_acts.send(g.db, actor(), post, content, to, make, title, kept, now=g.now)
    return redirect(f"/print/sent/{post}" + ("?again=1" if answer.get("again") else ""), code=303)


@bp.get("/printers")
def every_printer() -> Response:
    """The printers of the shop, as they say they are now, and the queues that have no name here yet."""
    return page("printing/printers.html", now=printers.now(g.db))


@bp.get("/print/sent/<post>")
def sent(post: str) -> Response:
    """How a paper went to its printer; and the same as a PDF, one tap away."""
    first = entries.earlier(g.db, post)
    kept = first.answer if first else None
    if first is None or not isinstance(kept, dict) or "printer" not in kept:
        raise NotFound(_("Nothing was sent to a printer here."))
    sending = printer_acts.of_post(post)
    well = sending is not None and sending.phase != "failed" and printer_acts.went_well(sending)
    return page(
        "printing/sent.html",
        kept={**kept, "at": first.saved_at, "post": post},
        again=request.args.get("again") == "1",
        said=printer_acts.said(sending) if sending else [],
        level="unknown" if sending is None else "ok" if well else "stop" if sending.fault else "caution",
        failed=sending is not None and sending.fault is not None,
        open=sending is not None and not sending.over,
        there=any(one.name == kept["printer"] for one in printers.named(g.db)),
    )


def download(pdf: bytes, name: str) -> Response:
    """A PDF to take away; whatever no file name may hold is left out of its name."""
    response = current_app.response_class(pdf, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'attachment; filename="{re.sub("[^A-Za-z0-9-]", "", name)}.pdf"'
    return response


def newest(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The first of the papers that were printed before, each with whether its address is an `old` one."""
    address = g.settings["address"]
    return [{**row, "old": bool(address) and row["address"] not in ("", address)} for row in rows[:20]]


def _at_size(faults: dict[str, str], form: Form | None) -> dict[str, str]:
    """What is wrong with the label stands at its size, where one was typed."""
    typed = form is not None and form.one("size")
    return {"size" if typed and where == "label" else where: fault for where, fault in faults.items()}


def _at_codes(faults: dict[str, str], codes: list[str]) -> dict[str, str]:
    """What is wrong with one of many codes stands at the box that they are typed in."""
    named = {where: fault for where, fault in faults.items() if where in ("codes", "", *codes)}
    rest = {where: fault for where, fault in faults.items() if where not in named}
    return rest | ({"codes": " ".join(dict.fromkeys(named.values()))} if named else {})


def _form(
    kind: str,
    code: str,
    refused: Refused | None = None,
    form: Form | None = None,
    of_list: tuple[int, int] | None = None,
    parts: TagParts | None = None,
) -> Response:
    """The page that asks for label or paper, and says what the QR codes will carry. `of_list`: a list that was brought
    in, and the part of it; `parts`: of tags that were chosen."""
    address = g.settings["address"]
    demo_here = bool(g.settings["demo"] and address)
    fault = None if demo_here else address_fault(address or None, addresses.known_addresses(address) if address else ())
    codes = _typed_codes(code) if kind in SEVERAL else [code]
    faults = _at_size(faults_by_field(refused), form)
    earlier = printed.of(g.db, codes[0], papers=True) if len(codes) == 1 else []
    return page(
        "printing/print.html",
        refused.status if refused else 200,
        kind=kind,
        code=code,
        codes=codes,
        action=f"/print/{kind}" if kind in SEVERAL else f"/print/{kind}/{code}",
        faults=_at_codes(faults, codes) if kind in SEVERAL else faults,
        values={**(form.sent if form else {}), **({"list": of_list[:1], "part": of_list[1:]} if of_list else {})},
        offered=OFFERED,
        usual=usual_paper() if kind in ("job", "jobs") else USUAL_LABELS.get(kind, tickets.LABEL),
        address=address,
        warning=fault,
        earlier=newest(earlier),
        kinds=KINDS,
        parts=parts,
    )
