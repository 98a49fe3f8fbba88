"""What an act asks before it writes, in one statement: whoever posts holds the writer's lock meanwhile."""

from __future__ import annotations

import json
from collections.abc import Sequence

from sqlite_utils import Database

from tickets.domain.code import Code, NoCode, read
from tickets.domain.entry import post_id
from tickets.domain.screens.screen import Life
from tickets.store import buckets, codes, entries, jobs, places, runs, screens
from tickets.store.reads import Common, Question, all_at_once, unasked


def screen(db: Database, code: Code, post: str) -> screens.Screen | None:
    """The screen that a code leads to, for a step of it that is posted under an id; None: it leads to none. Refused:
    what is no id."""
    found: list[int] = []
    behind = Question("SELECT screen FROM these", (), 1, lambda rows: found.extend(row[0] for row in rows))
    these = Common("these", "screen", "SELECT thing FROM codes WHERE code = ? AND kind = 'screen'", [code])
    questions = [
        entries.begin_asked(db, post_id(post)), places.outside_asked(db), screens.asked(db), behind,
    ]  # fmt: skip
    all_at_once(db, questions, [these])
    return screens.get(db, found[0]) if found else None


COUNTING = frozenset({"count", "pause", "finish", "swap", "change"})
"""The steps of a run that ask what was counted by then, in all runs of its placement."""
ENDING = frozenset({"pause", "finish"})
"""Those that say something of every screen that hung in it."""


def run(db: Database, number: int, step: str, post: str) -> None:
    """A run with all that it is planned from, for a step of it that is posted under an id. Refused: what is no id."""
    counts = [runs.of_job_asked(db, number), entries.logs_asked(db, "run", _OF_PLACEMENT, [number])]
    questions = [
        entries.begin_asked(db, post_id(post)), *_planned(db, number), *(counts if step in COUNTING else ()),
    ]  # fmt: skip
    all_at_once(db, questions, [runs.hung_in(number, runs.EVER if step in ENDING else runs.HUNG)])


_OF_PLACEMENT = (
    "SELECT o.id AS number FROM runs r JOIN runs o ON o.job = r.job AND o.placement = r.placement WHERE r.id = ?"
)


def planned(db: Database, number: int) -> None:
    """A run with all that it is planned from, where it is not known yet."""
    if unasked(db, runs.begun, [number]):
        all_at_once(db, _planned(db, number), [runs.hung_in(number)])


def _planned(db: Database, number: int) -> list[Question]:
    own = "(SELECT {} FROM runs WHERE id = ?)"
    job = jobs.whole_asked(db, f"j.id = {own.format('job')}", own.format("version"), [number, number])
    return [*runs.asked(db, number), job, *places.asked(db, own.format("press"), [number]), screens.asked(db)]


def named(db: Database, names: Sequence[str]) -> None:
    """The screens that are named by code or painted mark, for an act that hangs one or takes one off: each with its
    log."""
    marks, read_codes = [screens.mark_key(one) for one in names], [_code(one) for one in names]
    these = Common(
        "these",
        "screen",
        "SELECT screen FROM standings WHERE mark_key <> '' AND mark_key IN (SELECT value FROM json_each(?)) "
        "UNION SELECT thing FROM codes WHERE kind = 'screen' AND code IN (SELECT value FROM json_each(?))",
        [json.dumps(marks), json.dumps(read_codes)],
    )
    questions = [
        screens.by_mark_asked(db, names), codes.find_asked(db, read_codes), screens.asked(db),
        entries.logs_asked(db, "screen", "SELECT screen AS number FROM these"),
    ]  # fmt: skip
    all_at_once(db, questions, [these])


def _code(text: str) -> str:
    try:
        return read(text)
    except NoCode:
        return ""


def stencils(db: Database, lives: Sequence[Life]) -> None:
    """What the stencils of some screens carry and were coated from."""
    on = [life.stencil for life in lives if life.stencil]
    images = [number for one in on for number in one.separations]
    coated = [number for one in on for number in (one.bucket, *one.under) if number]
    if unasked(db, jobs.separation, images) or unasked(db, buckets.get, coated):
        given = [Common.numbers("images", "image", images)]
        all_at_once(db, [jobs.images_asked(db), buckets.asked(db, coated)], given)


def still_needed(db: Database, there: Sequence[int], images: Sequence[int], apart: int) -> None:
    """Who asks for the images of some screens still, as if the run `apart` were over; who else carries them; and the
    runs that the screens hung in last."""
    if not unasked(db, jobs.still_asking, [(image, apart) for image in images]):
        return
    questions = [
        jobs.still_asked(db, images, apart), screens.carrying_asked(db), jobs.images_asked(db),
        runs.hung_last_asked(db, there),
    ]  # fmt: skip
    all_at_once(db, questions, [Common.numbers("images", "image", images)])


def those_needing(db: Database, of: Sequence[int], coated: Sequence[int]) -> None:
    """Some jobs whole, and some buckets."""
    job_ids, bucket_ids = unasked(db, jobs.images_of, of), unasked(db, buckets.get, coated)
    if job_ids or bucket_ids:
        which = "j.id IN (SELECT value FROM json_each(?))"
        asked = [jobs.whole_asked(db, which, values=[json.dumps(job_ids)]), buckets.asked(db, bucket_ids)]
        all_at_once(db, asked)
