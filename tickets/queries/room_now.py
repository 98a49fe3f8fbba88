"""The screen room's board as its page shows it: what waits, and what the open jobs want, job by job."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from tickets.calculator import units
from tickets.domain.screens.frames import Frame, Serves
from tickets.domain.screens.needs import going
from tickets.domain.screens.works import made_tight
from tickets.domain.stages import STANDING_WORDS, Standing
from tickets.i18n import gettext as _
from tickets.queries import board_words, boards
from tickets.queries.boards import BoardLine, PlacementGroup, Stage
from tickets.queries.said import Reader
from tickets.store import pictures, places
from tickets.store.pictures import Picture


@dataclass(frozen=True, slots=True)
class Serving:
    """A frame that would serve: its stage in words, whether it is to be coated, why it would: (how bad, in words)."""

    frame: Frame
    stage: str
    to_coat: bool
    why: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LineSaid:
    """A station of the board: how near its screen is (`state`, then `how` it is), why a screen that is to be reclaimed
    covers nothing (`going`), the frames that would serve; else what would help, each with its frame (None: none)."""

    line: BoardLine
    state: str
    how: str
    going: str
    serves: tuple[Serving, ...]
    instead: tuple[tuple[Frame | None, str], ...]


@dataclass(frozen=True, slots=True)
class JobLines:
    """A job of the board, said once: when it is due in words, and whether that is today or past; its placements, each
    with the lines that wait and the ready ones. `picture`: of its artwork, by hash; empty where it has none."""

    first: PlacementGroup
    due: str
    late: bool
    placements: tuple[tuple[PlacementGroup, tuple[LineSaid, ...], tuple[LineSaid, ...]], ...]
    picture: str = ""


@dataclass(frozen=True, slots=True)
class RoomNow:
    """`to_do`: what waits, each stage with what is to be done; `after`: where the next page starts (None: the last
    one)."""

    jobs: tuple[JobLines, ...]
    to_do: tuple[tuple[Stage, str], ...]
    places: Mapping[int, str]
    after: boards.Place | None

    @property
    def numbered(self) -> bool:
        """Whether any job waits for a screen, so that its print orders have numbers to explain."""
        return any(waiting for job in self.jobs for _group, waiting, _ready in job.placements)


def of(reader: Reader, after: boards.Place | None, need: bool, most: int) -> RoomNow:
    """The board now. `need`: only what has no screen; `most`: stations on the page."""
    board = boards.screen_room(reader.db, reader.now, after, need, most)
    by_job: dict[str, list[PlacementGroup]] = {}
    for group in board.groups:
        by_job.setdefault(group.code, []).append(group)
    to_do = boards.to_do(reader.db, reader.now)
    pictures_ahead = pictures.of_separations(reader.db, list(dict.fromkeys(_images(board.groups))))
    return RoomNow(
        tuple(_job(reader, groups, pictures_ahead) for groups in by_job.values()),
        tuple((stage, board_words.to_do_words(stage)) for stage in to_do),
        places.names(reader.db),
        board.after,
    )


def _images(groups: Iterable[PlacementGroup]) -> Iterator[int]:
    for group in groups:
        yield from (line.asked.separation for line in group.lines)


def _job(reader: Reader, groups: list[PlacementGroup], art: Mapping[int, Picture]) -> JobLines:
    """The placements under their job: what needs a screen first, then what is on its way; ready ones apart."""
    found = []
    for group in groups:
        waiting = [line for line in group.lines if line.progress.has not in boards.TO_HAND]
        waiting.sort(key=lambda line: line.progress.has.covered)
        ready = [line for line in group.lines if line.progress.has in boards.TO_HAND]
        waits, there = (tuple(_said(reader, line) for line in lines) for lines in (waiting, ready))
        found.append((group, waits, there))
    first, today = groups[0], reader.now.astimezone(reader.zone).date().isoformat()
    picture = next((art[number].hash for number in _images(groups) if number in art), "")
    return JobLines(first, board_words.due_words(reader, first.due), first.due <= today, tuple(found), picture)


def _said(reader: Reader, line: BoardLine) -> LineSaid:
    frame = line.progress.frame
    return LineSaid(
        line,
        *board_words.state_words(reader, line.progress, line.ready_at),
        going(frame.life) if frame is not None and line.progress.has.value == "going" else "",
        tuple(_serving(reader, one) for one in line.serves),
        () if line.progress.has.covered or line.serves else tuple(_instead(reader, line)),
    )


def _serving(reader: Reader, one: Serves) -> Serving:
    standing = one.frame.life.standing
    why = tuple(board_words.why_words(reader, one))
    return Serving(one.frame, STANDING_WORDS[standing], standing is not Standing.COATED, why)


def _instead(reader: Reader, line: BoardLine) -> Iterator[tuple[Frame | None, str]]:
    for one in line.instead:
        yield from ((frame, _to_free(reader, one.how, frame, line)) for frame in one.frames)
        if one.how == "substitute":
            told = _("The nearest mesh that is free is {mesh}: another amount of ink; say so when imaging.")
            yield None, told.format(mesh=one.mesh)
        elif one.how == "none":
            yield None, _("Stretch a frame with {mesh}, or free one.").format(mesh=line.asked.mesh)


def _to_free(reader: Reader, how: str, frame: Frame, line: BoardLine) -> str:
    """What makes a frame serve that does not."""
    life = frame.life
    if how == "strip":
        return _("reclaim this one first; its stage: {stage}").format(stage=_(STANDING_WORDS[life.standing]))
    if how == "restretch":
        return _("restretch this one with {mesh}").format(mesh=line.asked.mesh)
    roller = life.mesh is not None and made_tight(life.mesh.frame) == "retension"
    text = _("right mesh, too slack ({tension}): retension it")
    text = text if roller else _("right mesh, too slack ({tension}): stretch new mesh on it")
    tension = life.tension.minimum_n_per_cm if life.tension else None
    return text.format(tension="–" if tension is None else units.show_value(tension, "N/cm", reader.system))
