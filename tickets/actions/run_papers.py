"""The papers of a run, printed and kept; and any paper that was printed before, drawn once more."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from sqlite_utils import Database

from tickets.actions import printing
from tickets.actions.printing import DrawnPaper, KeptPaper
from tickets.domain.papers.kept import as_data
from tickets.domain.person import Actor
from tickets.i18n import gettext as _
from tickets.queries import addresses, sheets
from tickets.queries.sheets import RunPaper
from tickets.queries.shop_rules import in_its_language
from tickets.queries.tickets import PrintedPaper
from tickets.store import runs
from tickets.store.pictures import folder_of
from tickets.store.settings import setting


@in_its_language
def print_setup(
    db: Database, actor: Actor, run: int, *, now: datetime, paper: str = "A4", anyway: bool = False,
    ask: Collection[str] = (),
) -> PrintedPaper:  # fmt: skip
    """The set-up sheet of a run: target left, as run right, blank where nothing is noted yet. `ask` as
    `printing.print_tags` takes it. Raises as `print_job`."""
    address, warnings = addresses.address_for_paper(db, anyway)
    says = sheets.setup_of(db, run, address, now)
    return _made(db, actor, "set-up", run, says, paper, now, warnings, ask)


def _made(
    db: Database,
    actor: Actor,
    kind: str,
    run: int,
    says: RunPaper,
    paper: str,
    now: datetime,
    warnings: tuple[str, ...],
    ask: Collection[str],
) -> PrintedPaper:
    """A paper of a run, drawn and kept."""
    pdf = sheets.pdf_of(says, paper, folder_of(db), str(setting(db, "language")))
    warnings += printing.settled([says], ask)
    how = {"run_number": run, "paper": paper}
    of_run = runs.get(db, run)
    assert of_run is not None
    number = printing.keep(db, actor, kind, says.job, as_data(says) | how, of_run.version, now)
    return PrintedPaper(pdf, warnings, (number,))


@in_its_language
def print_comparison(
    db: Database, actor: Actor, run: int, *, now: datetime, for_customer: bool, paper: str = "A4",
    garment: str = "", anyway: bool = False, ask: Collection[str] = (),
) -> PrintedPaper:  # fmt: skip
    """The comparison of a run with the print before it; for the customer without staff names and internal notes.

    `garment`: the number on the job sheet of the garment that it is about, where several were printed; without it the
    one approved last. The customer of a first order gets what was printed, with nothing beside it; the shop's own
    comparison raises NotFound then. Refused for a garment without an approved print.
    """
    # the customer's copy carries no address
    address, warnings = ("", ()) if for_customer else addresses.address_for_paper(db, anyway)
    made = sheets.customer_of if for_customer else sheets.comparison_of
    says = made(db, run, address, now, sheets.garment_named(db, run, garment))
    return _made(db, actor, "customer" if for_customer else "comparison", run, says, paper, now, warnings, ask)


@in_its_language
def draw_again(db: Database, text: str, number: int | None = None, *, anyway: bool = False) -> DrawnPaper:
    """What was printed for a code, saying the same: the newest ticket, or the paper that is kept under `number`.

    Its QR codes lead to the address of today: where it was printed with another one, that is said, and it is kept anew.
    """
    row = sheets.kept_paper(db, text, number)
    kind, says, today = row["kind"], row["says"], str(setting(db, "address"))
    folder, language = folder_of(db), str(setting(db, "language"))
    if not today or row["address"] in ("", today):
        return DrawnPaper(sheets.draw_again(kind, says, folder, language), (), (), (row["id"],))
    address, warnings = addresses.address_for_paper(db, anyway)
    says = sheets.at_address(kind, says, address)
    told = _("It was printed with the address {old}. This one leads to {address}.")
    return DrawnPaper(
        sheets.draw_again(kind, says, folder, language),
        (told.format(old=row["address"], address=address), *warnings),
        (KeptPaper(kind, row["code"], address, says, row["version"]),),
    )
