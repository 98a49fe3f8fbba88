"""The shop's printers: which there are, what each holds, how each is now."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from threading import Thread
from time import monotonic
from typing import Any, TypeVar

from sqlite_utils import Database

from tickets.calculator import numerals, units
from tickets.domain import printer as rules
from tickets.domain.label import size_of_label
from tickets.domain.printer import Printer
from tickets.i18n import gettext as _
from tickets.paper.page import PAPERS
from tickets.queries import ipp
from tickets.queries.ipp import Attributes, PrinterFault
from tickets.store.settings import setting

One = TypeVar("One")


def named(db: Database) -> tuple[Printer, ...]:
    """The printers that the manager named."""
    return rules.of_rows(setting(db, "printers"))


# What is sent along with a PDF --------------------------------------------------------------------------------------

_SIZED = re.compile(r"_([0-9]{1,5}(?:\.[0-9]{1,4})?)x([0-9]{1,5}(?:\.[0-9]{1,4})?)(mm|in)$")
"""The size at the end of a medium's name (PWG 5101.1, 5)."""
_NEAR_MM = 0.6
"""So far a medium may be from the size that is meant (judgement: makers round inches)."""


def size_mm(holds: str) -> tuple[float, float]:
    """Width and height of what a printer holds."""
    return PAPERS[holds] if holds in PAPERS else size_of_label(holds)


def medium(holds: str, supported: Sequence[str]) -> str:
    """The name by which a printer has what it holds, out of those that it knows; empty: none, so that it prints on what
    is loaded, as it is set."""
    wide, high = size_mm(holds)
    sizes = {name: size for name in supported if (size := _size(name))}
    for across, down in ((wide, high), (high, wide)):
        for name, (a, b) in sizes.items():
            if not name.startswith("custom_m") and abs(a - across) <= _NEAR_MM and abs(b - down) <= _NEAR_MM:
                return name
    least, most = ([size for name, size in sizes.items() if name.startswith(f"custom_{end}")] for end in ("min", "max"))
    for across, down in ((wide, high), (high, wide)) if least and most else ():
        if least[0][0] <= across <= most[0][0] and least[0][1] <= down <= most[0][1]:
            named_by = f"{across:g}x{down:g}mm"
            return f"custom_{named_by}_{named_by}"
    return ""


def _size(name: str) -> tuple[float, float] | None:
    found = _SIZED.search(str(name))
    if found is None:
        return None
    wide, high = (numerals.number(found[part], point=True) for part in (1, 2))
    return units.convert(wide, found[3], "mm"), units.convert(high, found[3], "mm")


def settings_for(holds: str, about: Attributes) -> dict[str, str]:
    """What is asked of a printer besides the PDF: only what it says that it knows. Nothing is made larger or smaller,
    or the QR codes lose their whole dots; and tags never stand on two sides of one sheet."""
    wanted = {
        "media": medium(holds, about.get("media-supported", ())),
        "print-scaling": "none" if "none" in about.get("print-scaling-supported", ()) else "",
        "sides": "one-sided" if "one-sided" in about.get("sides-supported", ()) else "",
    }
    return {name: value for name, value in wanted.items() if value}


def takes_pdf(about: Attributes) -> None:
    """Raises PrinterFault where a printer says that it takes no PDF, or no jobs."""
    formats = [str(one) for one in about.get("document-format-supported", ())]
    if formats and "application/pdf" not in formats:
        raise PrinterFault("format", formats=", ".join(formats))
    if about.get("printer-is-accepting-jobs", [True])[0] is False:
        raise PrinterFault("none-taken")


# How they are -------------------------------------------------------------------------------------------------------

PATIENCE_S = 2.5
"""Seconds that a page waits for what printers say of themselves, all of them together."""


@dataclass(frozen=True, slots=True)
class PrinterNow:
    """A printer and how it is: `ready`, or what is said instead; what holds it up, in words."""

    printer: Printer
    ready: bool
    said: str
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PrintersNow:
    """Every printer that is named; the queues of this machine that nobody named; whether it has a print system."""

    every: tuple[PrinterNow, ...]
    queues: tuple[str, ...]
    system: bool


def now(db: Database) -> PrintersNow:
    """Each printer as it says it is, asked at once and for `PATIENCE_S` in all; in no transaction."""
    printers = named(db)
    asks: list[Callable[[], Any]] = [ipp.queues, *(lambda to=one.target: ipp.printer(to) for one in printers)]
    there, *said = _all_of(asks)
    known = {one.queue for one in printers}
    queues = there if isinstance(there, list) else []
    return PrintersNow(
        tuple(_now(one, came) for one, came in zip(printers, said, strict=True)),
        tuple(name for name in queues if name not in known),
        isinstance(there, list),
    )


def _now(printer: Printer, came: Any) -> PrinterNow:
    if isinstance(came, PrinterFault):
        return PrinterNow(printer, False, came.said)
    if came is None:
        return PrinterNow(printer, False, _("It has not answered yet."))
    about: Mapping[str, Any] = came
    try:
        takes_pdf(about)
    except PrinterFault as fault:
        return PrinterNow(printer, False, fault.said)
    state = about.get("printer-state", [rules.IDLE])[0]
    words = {rules.IDLE: _("ready"), rules.WORKING: _("printing now"), rules.STOPPED: _("stopped: it prints nothing")}
    reasons = rules.reasons_said(rules.reason_keys(map(str, about.get("printer-state-reasons", ()))))
    return PrinterNow(printer, state != rules.STOPPED, words.get(state, _("ready")), tuple(reasons))


def _all_of(asks: Sequence[Callable[[], One]]) -> list[One | PrinterFault | None]:
    """What each gives, or the fault that it met; None: neither in time."""
    found: list[One | PrinterFault | None] = [None] * len(asks)

    def one(number: int) -> None:
        try:
            found[number] = asks[number]()
        except PrinterFault as fault:
            found[number] = fault

    threads = [Thread(target=one, args=[number], daemon=True) for number in range(len(asks))]
    until = monotonic() + PATIENCE_S
    for each in threads:
        each.start()
    for each in threads:
        each.join(max(0.0, until - monotonic()))
    return list(found)
