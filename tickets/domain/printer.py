"""The printers of a shop: what each is called, where it is, what it holds; and what a print system says of one.

Numbers and names are those of the Internet Printing Protocol: RFC 8011 (operations, states, reasons).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlsplit

from tickets.domain.label import is_sheet
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import N_
from tickets.i18n import gettext as _

PARTS = ("name", "to", "holds")
"""What a printer is kept as: its name, a queue or an address, what it holds."""
LONGEST_NAME = 40
PORT = 631
"""That of IPP (RFC 8010, 3.2)."""
LOCAL = ("localhost", PORT)
"""Where the print system of this machine listens, where there is one."""
_QUEUE = re.compile(r"[^\s/#?\\\"'<>|\x00-\x1f\x7f]{1,127}")


@dataclass(frozen=True, slots=True)
class Target:
    """Where a printer listens."""

    host: str
    port: int
    path: str

    @property
    def uri(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"ipp://{host}:{self.port}{self.path}"


@dataclass(frozen=True, slots=True)
class Printer:
    """A printer as the shop named it; `holds`: A4, Letter, or the size of its labels."""

    name: str
    to: str
    holds: str

    @property
    def sheets(self) -> bool:
        """True for sheets, false for labels."""
        return is_sheet(self.holds)

    @property
    def queue(self) -> str:
        """Its queue in the print system of this machine; empty: it has an address of its own."""
        return "" if self.to.startswith("ipp://") else self.to

    @property
    def target(self) -> Target:
        if self.queue:
            return Target(*LOCAL, f"/printers/{quote(self.queue, safe='')}")
        return _target(self.to)


def address(text: str) -> str:
    """A queue of the print system by its name, or a printer's IPP address, as it is kept. Raises Refused (`to`)."""
    said = text.strip()
    if "://" not in said:
        if not _QUEUE.fullmatch(said):
            told = _("Name a queue of the print system, or write an address: ipp://192.168.1.40:631/ipp/print")
            raise Refused(told, "to")
        return said
    try:
        return _target(said).uri
    except ValueError:
        told = _("“{text}” is not an address of a printer. Write it like ipp://192.168.1.40:631/ipp/print")
        raise Refused(told.format(text=said[:80]), "to") from None


def _target(text: str) -> Target:
    """Raises ValueError."""
    parts = urlsplit(text)
    strange = parts.query or parts.fragment or parts.username is not None or not parts.hostname or not text.isascii()
    if parts.scheme != "ipp" or strange or not text.isprintable() or " " in text or len(text) > 200:
        raise ValueError(text)
    return Target(parts.hostname or "", parts.port or PORT, parts.path or "/ipp/print")


def of_rows(rows: Iterable[Mapping[str, Any]]) -> tuple[Printer, ...]:
    """The printers that the setting holds."""
    return tuple(Printer(*(str(row[part]) for part in PARTS)) for row in rows)


def named(printers: Sequence[Printer], name: str) -> Printer:
    """The printer of that name, in any case. Raises NotFound, with those that there are."""
    for one in printers:
        if one.name.casefold() == " ".join(name.split()).casefold():
            return one
    there = ", ".join(one.name for one in printers)
    if not there:
        raise NotFound(_("No printer is named yet: tickets printer add NAME --to QUEUE --holds 100x50mm"), "printer")
    told = _("There is no printer “{name}”; there are: {names}.")
    raise NotFound(told.format(name=name[:40], names=there), "printer")


# What a print system says -------------------------------------------------------------------------------------------

IDLE, WORKING, STOPPED = 3, 4, 5
"""States of a printer (RFC 8011, 5.4.11)."""
PENDING, HELD, PROCESSING, JOB_STOPPED, CANCELED, ABORTED, COMPLETED = range(3, 10)
"""States of a job (RFC 8011, 5.3.7)."""
OVER = frozenset({CANCELED, ABORTED, COMPLETED})

REASONS: Mapping[str, str] = {
    "media-empty": N_("Out of labels or paper: load it, and it goes on by itself."),
    "media-needed": N_("It asks for labels or paper: load what it holds, and it goes on by itself."),
    "media-jam": N_("Labels or paper are jammed: clear them, and it goes on by itself."),
    "input-tray-missing": N_("Its tray is missing."),
    "output-area-full": N_("Its output is full: take the paper out."),
    "cover-open": N_("Its cover is open: close it."),
    "door-open": N_("Its door is open: close it."),
    "interlock-open": N_("Its cover is open: close it."),
    "toner-empty": N_("Its toner or ribbon is empty."),
    "marker-supply-empty": N_("Its toner, ink or ribbon is empty."),
    "marker-waste-full": N_("Its waste box is full."),
    "paused": N_("It is paused: press its button, or go on with it in the print system."),
    "moving-to-paused": N_("It is paused: press its button, or go on with it in the print system."),
    "offline": N_("It is off line: is it on, and its cable in?"),
    "connecting-to-device": N_("The print system cannot reach it yet: is it on, and its cable in?"),
    "timed-out": N_("The print system cannot reach it: is it on, and its cable in?"),
    "shutdown": N_("It is switched off."),
    "stopped-partly": N_("A part of it is stopped."),
    "spool-area-full": N_("The print system has no room for more."),
    "printer-stopped": N_("The printer is stopped."),
    "document-format-error": N_("It could not read the PDF."),
    "document-unprintable-error": N_("It could not print the PDF."),
    "aborted-by-system": N_("The print system broke it off."),
    "job-canceled-by-user": N_("Somebody canceled it in the print system."),
    "job-canceled-at-device": N_("Somebody canceled it at the printer."),
}
"""What holds a printer or a job up, by its keyword (RFC 8011, 5.3.8 and 5.4.12), and what to do."""
_GRADE = re.compile(r"-(report|warning|error)$")
_MEANS_NOTHING = frozenset(
    "none job-printing job-completed-successfully processing-to-stop-point job-incoming job-queued job-spooling "
    "job-transforming queued-in-device cups-waiting-for-job-completed cups-remote-pending "
    "cups-remote-processing".split()
)


def reason_keys(reasons: Iterable[str]) -> tuple[str, ...]:
    """The reasons that somebody may want to know of, each once, without how grave they are called."""
    every = (one if one in REASONS else _GRADE.sub("", one) for one in reasons)
    return tuple(dict.fromkeys(one for one in every if one not in _MEANS_NOTHING))


def reasons_said(keys: Iterable[str]) -> list[str]:
    """Reasons in words; one that is not known as the print system calls it."""
    return [_(REASONS[one]) if one in REASONS else _("It says: {reason}.").format(reason=one) for one in keys]
