"""Which tags to print, where nobody types their codes: of all that is in use, of a rack, of a mesh, of a list that was
brought in, those that an address which is no longer in use left behind, and what these have in common."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from tickets.calculator.units import NotAQuantity
from tickets.domain.refusal import NotFound, Refused
from tickets.i18n import gettext as _
from tickets.queries import due, find
from tickets.store import lists, printed
from tickets.store.settings import setting


@dataclass(frozen=True, slots=True)
class TagsWanted:
    """`rack`: a place by its name or code; `mesh`: a count as labelled; `of_list`: the number of a list that was
    brought in; each narrows what the others leave."""

    everything: bool = False
    outdated: bool = False
    rack: str = ""
    mesh: str = ""
    of_list: int = 0

    @property
    def any(self) -> bool:
        """True where something is asked for."""
        return bool(self.everything or self.outdated or self.rack or self.mesh or self.of_list)


def codes_of(db: Database, wanted: TagsWanted) -> list[str]:
    """The codes of the tags that are wanted. Raises Refused: no such place, mesh or list (fields rack, mesh, list)."""
    place = counts = None
    if wanted.rack:
        try:
            place = find.place(db, wanted.rack).id
        except Refused as refused:
            raise Refused(refused.faults[0].message, "rack") from None
    if wanted.mesh:
        try:
            about = due.counts_about(wanted.mesh)
        except NotAQuantity as fault:
            raise Refused(str(fault), "mesh") from None
        counts = about["count_low"], about["count_high"]
    left_by = str(setting(db, "address")) if wanted.outdated else ""
    if wanted.outdated and not left_by:
        return []  # no address to compare with
    if not wanted.of_list:
        return printed.tags_in_use(db, place=place, counts=counts, left_by=left_by)
    if lists.get(db, wanted.of_list) is None:
        raise NotFound(_("There is no such list here."), "list")
    codes = lists.codes_of(db, wanted.of_list)
    if place is None and counts is None and not left_by:
        return codes  # as its lines stand, and what is out of use since too: a tag may be wanted all the same
    there = set(printed.tags_in_use(db, place=place, counts=counts, left_by=left_by))
    return [code for code in codes if code in there]


def none_said(wanted: TagsWanted) -> str:
    """What is said where nothing is to be printed."""
    if wanted.outdated:
        return _("None of these tags has an old address: there is nothing to print.")
    return _("Nothing in use fits that: there is no tag to print.")
