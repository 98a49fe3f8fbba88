"""Paper handed to a printer: once for each tap, beside everything else that goes on.

A print system may hang. So a PDF is drawn first, the tap is noted (`posting.once`), and a thread of its own, which
holds nothing of the shop, hands it over and looks after it for a while; what it saw is kept in memory, for the page
that tells of it.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from threading import BoundedSemaphore, Event, Lock, Thread
from typing import Any

from sqlite_utils import Database

from tickets.actions import posting
from tickets.domain import printer as rules
from tickets.domain.person import Actor
from tickets.domain.printer import Printer
from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _
from tickets.queries import ipp, printers
from tickets.queries.ipp import PrinterFault
from tickets.queries.tickets import PrintedPaper

HAND_OVER_S = 30.0
"""Seconds for a print system to take a PDF of some megabytes (judgement)."""
BUSY_S, BUSY_PAUSE_S = 30.0, 1.0
"""So long a printer that takes one job at a time is asked again, and how often."""
LOOK_S, LOOK_PAUSE_S = 90.0, 1.0
"""So long a job is looked after once it was taken, and how often: out of labels shows after a second or two."""
FIRST_LOOK_S = 1.5
"""Seconds that the page of a tap waits, so that most taps are told at once how it went."""
MOST_AT_ONCE = 12
"""PDFs that are being handed over at the same time."""
REMEMBERED = 200


@dataclass
class Sending:
    """A paper on its way to a printer. `phase`: sending, taken, failed; `job`: its number at the print system, with its
    state and what holds it up (keywords); `fault`: why it failed."""

    printer: Printer
    title: str
    phase: str = "sending"
    fault: PrinterFault | None = None
    job: int = 0
    state: int = 0
    reasons: tuple[str, ...] = ()
    looked: bool = False
    told: Event = field(default_factory=Event)

    @property
    def over(self) -> bool:
        """True when nothing more is found out of it."""
        return self.phase == "failed" or self.state in rules.OVER or self.looked


_on_their_way: OrderedDict[str, Sending] = OrderedDict()
_mine = Lock()
_at_once = BoundedSemaphore(MOST_AT_ONCE)


def of_post(post: str) -> Sending | None:
    """How what was sent under an id went; None: this server does not know (it was started since)."""
    with _mine:
        return _on_their_way.get(post)


def hand_over(sending: Sending, pdf: bytes, who: str) -> None:
    """Hands a PDF to its printer: `phase` is then taken or failed."""
    try:
        sending.job, sending.state, sending.reasons = _taken(sending, pdf, who)
        sending.phase = "taken"
    except PrinterFault as fault:
        sending.fault, sending.phase = fault, "failed"


def _taken(sending: Sending, pdf: bytes, who: str) -> tuple[int, int, tuple[str, ...]]:
    target, until = sending.printer.target, time.monotonic() + BUSY_S
    about = ipp.printer(target)
    printers.takes_pdf(about)
    how = printers.settings_for(sending.printer.holds, about)
    while True:
        try:
            job = ipp.print_pdf(target, pdf, sending.title, who, how, HAND_OVER_S)
        except PrinterFault as fault:
            if fault.key != "busy" or time.monotonic() > until:
                raise
            time.sleep(BUSY_PAUSE_S)
            continue
        return _whole(job.get("job-id")), *_how(job)


def _whole(values: Any) -> int:
    return values[0] if values and isinstance(values[0], int) else 0


def _how(job: ipp.Attributes) -> tuple[int, tuple[str, ...]]:
    return _whole(job.get("job-state")), rules.reason_keys(map(str, job.get("job-state-reasons", ())))


def look_after(sending: Sending, seconds: float) -> None:
    """Sees how a job that was taken goes on, until it is over or for so long."""
    until, target = time.monotonic() + seconds, sending.printer.target
    while sending.state not in rules.OVER and time.monotonic() < until:
        try:
            state, reasons = _how(ipp.job(target, sending.job))
            about = ipp.printer(target) if state not in rules.OVER else {}
        except PrinterFault:
            break  # it took the job; that it does not tell of it is no fault of the job
        held_up = rules.reason_keys(map(str, about.get("printer-state-reasons", ())))
        sending.state, sending.reasons = state, tuple(dict.fromkeys([*held_up, *reasons]))
        if sending.state not in rules.OVER:
            sending.told.set() if held_up else None
            time.sleep(LOOK_PAUSE_S)
    sending.looked = True
    sending.told.set()


# From a page --------------------------------------------------------------------------------------------------------


def send(
    db: Database, actor: Actor, post: str, content: Mapping[str, Any], printer: Printer,
    drawn: Callable[[], PrintedPaper], title: str, form: Mapping[str, Any], *, now: datetime,
) -> dict[str, Any]:  # fmt: skip
    """Has a paper printed, once for the id `post`: the answer that is kept of it. `drawn` draws it where it is new, and
    raises Refused; `form`: what is kept beside that, for a page that offers it once more. A tap that comes again draws
    nothing and prints nothing."""
    answer = posting.before(db, actor, post, content)
    if answer is not None:
        return answer
    paper = drawn()
    if not _at_once.acquire(blocking=False):
        raise Refused(_("Too much is being handed to printers: open the PDF, or try again in a minute."), "printer")
    try:
        said = {"printer": printer.name, "holds": printer.holds, "title": title, "warnings": list(paper.warnings)}
        kept = {**said, **form}
        answer = posting.once(db, actor, post, content, now, lambda: kept)
        if answer.get("again"):
            _at_once.release()
            return answer
        sending = Sending(printer, title)
        with _mine:
            stuck = any(one.printer == printer and one.phase == "sending" for one in _on_their_way.values())
            _on_their_way[post] = sending
            while len(_on_their_way) > REMEMBERED:
                _on_their_way.popitem(last=False)
        work = Thread(target=_carried, args=(sending, paper.pdf, actor.name), daemon=True)
        work.start()
    except BaseException:
        _at_once.release()
        raise
    if not stuck:  # where one hangs already, the next taps do not wait behind it
        sending.told.wait(FIRST_LOOK_S)
    return answer


def _carried(sending: Sending, pdf: bytes, who: str) -> None:
    """What the thread of a paper does."""
    try:
        hand_over(sending, pdf, who)
    finally:
        _at_once.release()
        if sending.phase == "sending":
            sending.phase, sending.fault = "failed", PrinterFault("broken")
        if sending.phase == "failed":
            sending.told.set()
    if sending.phase == "taken":
        look_after(sending, LOOK_S)


# In words -----------------------------------------------------------------------------------------------------------


def said(sending: Sending) -> list[str]:
    """How it went, and what to do: in the language of whoever reads it."""
    fault = sending.fault
    if fault is not None:
        maybe = _("It may have come through: look at the printer before you print it a second time.")
        return [fault.said] if fault.certain else [fault.said, maybe]
    if sending.phase == "sending":
        return [_("It is being handed over. Look again in a moment.")]
    words = {
        rules.PENDING: _("Queued as job {job}."),
        rules.HELD: _("Held as job {job}: somebody lets it go in the print system."),
        rules.PROCESSING: _("Printing, as job {job}."),
        rules.JOB_STOPPED: _("Stopped: job {job} goes on when the printer does."),
        rules.CANCELED: _("Job {job} was canceled."),
        rules.ABORTED: _("The print system broke job {job} off: nothing, or not all, was printed."),
        rules.COMPLETED: _("Printed: job {job} is done."),
    }
    first = words.get(sending.state, _("Taken as job {job}.")).format(job=sending.job)
    return [first, *rules.reasons_said(sending.reasons)]


def went_well(sending: Sending) -> bool:
    """True where there is nothing to do but take it."""
    bad = sending.state in (rules.CANCELED, rules.ABORTED, rules.JOB_STOPPED, rules.HELD)
    return sending.fault is None and not bad and not sending.reasons
