"""What is refused, in words that say what would do; made into pages, and lines on standard error, in one place each."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

One = TypeVar("One")
Other = TypeVar("Other")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: where it is (a field's name, or a place in a file; empty: the whole) and what would do.

    `readings`: what may be meant where it can be read in several ways, each typed clearly; `part`: which of several
    numbers in the field it is about, counted from 1 (0: all of it).
    """

    where: str
    message: str
    readings: tuple[str, ...] = ()
    part: int = 0

    @classmethod
    def of(cls, where: str, fault: ValueError) -> Fault:
        """What a reader of the calculator refused, with what it asks and which number it is about."""
        return cls(where, str(fault), tuple(getattr(fault, "readings", ())), getattr(fault, "part", 0))

    def __str__(self) -> str:
        return f"{self.where}: {self.message}" if self.where else self.message


class Refused(Exception):
    """Nothing was written. `faults` hold all that is wrong together, `status` is what a page answers with."""

    status = 422

    def __init__(self, faults: Iterable[Fault] | str, where: str = "") -> None:
        self.faults: tuple[Fault, ...] = (Fault(where, faults),) if isinstance(faults, str) else tuple(faults)
        super().__init__("; ".join(str(fault) for fault in self.faults))


class NotFound(Refused):
    """There is no such thing here."""

    status = 404


class SentBefore(Exception):
    """What was sent under this id was saved, and what is sent now is something else: nothing of it was written.

    No refusal: what was saved is shown, and only somebody's own choice sends the other as well, under an id of its own.
    `post`: the id; `person`: the number of who sent it first; `at`: when, as it is stored.
    """

    status = 409

    def __init__(self, message: str, post: str, person: int, at: str) -> None:
        self.message = message
        self.post = post
        self.person = person
        self.at = at
        super().__init__(message)


class NotAllowed(Refused):
    """This person may not do that; the text says who may."""

    status = 403


class Clash(Refused):
    """The same id was sent for something else, or somebody else was first. What was typed is kept."""

    status = 409


class TryLater(Refused):
    """Too many wrong tries; `seconds` until the next one is looked at."""

    status = 429

    def __init__(self, message: str, seconds: int) -> None:
        self.seconds = seconds
        super().__init__(message)


class NotNow(Refused):
    """The shop cannot be opened or served as asked (a newer database, a second server): one line, exit status 2."""


class Trouble(Exception):
    """The disk or the file of the shop does not let it read or write; nothing of this was written. No refusal: what was
    sent may be right, and no page can answer it beside a field. It has one page, which keeps what was typed with its
    id, and one line on the command line.

    `kind`: busy, full, read-only, gone, damaged, failed, clock; `seconds`: after how long it may be worth another try.
    """

    status = 503

    def __init__(self, kind: str, message: str, seconds: int | None = None) -> None:
        self.kind = kind
        self.message = message
        self.seconds = seconds
        super().__init__(message)


def together(one: Callable[[], One], other: Callable[[], Other]) -> tuple[One, Other]:
    """What two readings of one form come to; what both refuse is said in one refusal."""
    faults: list[Fault] = []
    found_one, found_other = _refused_into(one, faults), _refused_into(other, faults)
    if found_one is None or found_other is None or faults:
        raise Refused(faults)
    return found_one, found_other


def _refused_into(part: Callable[[], One], faults: list[Fault]) -> One | None:
    try:
        return part()
    except Refused as refused:
        if refused.status != Refused.status:
            raise
        faults += refused.faults
    return None
