"""How a run is set up: by which target, what is otherwise, not measured, or will differ from the print before."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from tickets.calculator.verdict import Said, say
from tickets.domain.papers.ticket import with_signs
from tickets.domain.runs import first_seen, setup
from tickets.domain.runs.as_run import field_word, target_word
from tickets.domain.screens.frame_checks import Asked
from tickets.i18n import gettext as _
from tickets.queries import repeats, run_plan, target
from tickets.queries.phase import phase_of
from tickets.queries.run_plan import Plan
from tickets.queries.said import Reader
from tickets.queries.shop_rules import the_spec
from tickets.store import runs


@dataclass(frozen=True, slots=True)
class SetupNow:
    """How a run is set up. `aim`: its target, by part and setting, `source`: where that comes from; `against`: the run
    that it is compared with; `marked_since`: one that became the target after the set-up was noted; `seen`: which
    state of the set-up the page shows; `left_open`: the parts that an approval asks about, in words; `any_noted`:
    somebody noted a part, and no approval has frozen it; `unsaid`: what prints an ink with a clock and has no bucket
    said; `apart`: what was measured otherwise than it is set; `ahead`: what will differ, as long as nothing prints."""

    aim: target.Aim
    source: str
    against: target.Against
    marked_since: runs.Run | None
    seen: str
    left_open: tuple[str, ...]
    any_noted: bool
    unsaid: tuple[Asked, ...]
    differences: Otherwise
    not_yet: tuple[str, ...]
    apart: str
    ahead: AheadSaid | None


def of(reader: Reader, plan: Plan) -> SetupNow:
    """How a run is set up now."""
    db, story, phase = reader.db, plan.story, phase_of(plan)
    aim, source = target.aim(db, plan.job, plan.run.placement, plan.run)
    return SetupNow(
        aim,
        source,
        target.against(db, plan.job, plan.run.placement, plan.run),
        target.marked_since(db, plan.job, plan.run.placement, plan.run),
        run_plan.sheet_mark(story),
        tuple(setup.part_said(key, plan.placement) for key in run_plan.left_open(plan)),
        bool(story.sheet_entry) and not story.frozen,
        tuple(run_plan.without_bucket(plan)) if phase != "done" else (),
        _differences(reader, plan),
        tuple(_not_yet(db, plan)) if story.sheet_entry else (),
        run_plan.set_apart(db, plan),
        ahead_of(reader, plan) if phase not in ("print", "done") else None,
    )


def part_named(key: str) -> str:
    """A part of the sheet by its key, in words."""
    return _("the whole run") if key == setup.RUN else key


@dataclass(frozen=True, slots=True)
class ChangedSince:
    """A setting that was changed since the approval: what was approved, when and why it was last changed."""

    was: str
    at: str
    why: str


@dataclass(frozen=True, slots=True)
class SetOtherwise:
    """A setting that is otherwise than its target (`was`)."""

    where: str
    name: str
    was: str
    now: str
    change: ChangedSince | None


@dataclass(frozen=True, slots=True)
class Otherwise:
    """What is set otherwise than the target now, in words and in the order of `first_seen`. `small_head` and `small` as
    in `AheadSaid`; `line`: all of it in one line."""

    lines: tuple[SetOtherwise, ...]
    small_head: str = ""
    small: tuple[str, ...] = ()
    line: str = ""


def _differences(reader: Reader, plan: Plan) -> Otherwise:
    """What is set otherwise than the target now."""
    db, story, limits = reader.db, plan.story, the_spec(reader.db)
    sheet = run_plan.sheet_now(db, plan)
    approved = setup.parts_of(story.sheet)
    last = {(str(one.get("station") or setup.RUN), one["field"]): one for one in story.changes
            if one.get("field") and one["at"] >= story.sheet_at and not setup.first_measured(one)}  # fmt: skip
    lines, found = [], setup.differences(sheet, limits)
    for key, name, was, now in found:
        change = last.get((key, name))
        told = None
        if change:
            before = _(approved.get(key, {}).get(name) or (key if name == "order" else "–"))
            told = ChangedSince(before, change["at"], change.get("why", ""))
        lines.append(SetOtherwise(part_named(key), field_word(name), was, _(now), told))
    small = run_plan.near_target(db, plan, limits, reader.system)
    return Otherwise(
        tuple(lines),
        first_seen.small_head(len(small), [one[4] for one in small]),
        tuple(
            first_seen.told(f"{part_named(key)}, {field_word(name)}", was, now) for key, name, was, now, _limit in small
        ),
        first_seen.one_line([name for _key, name, _was, _now in found], len(small)),
    )


def _not_yet(db: Database, plan: Plan) -> list[str]:
    """What the target has of measurements and nobody measured in this run yet, each with its target."""
    sheet = run_plan.sheet_now(db, plan)
    return [f"{part_named(key)}, {target_word(name)}: {with_signs(value)}" for key, name, value in setup.not_yet(sheet)]


@dataclass(frozen=True, slots=True)
class DiffersSaid:
    """A difference: its key, how bad it is, what is said."""

    key: str
    level: str
    said: Said


@dataclass(frozen=True, slots=True)
class AheadSaid:
    """What will differ, in words. `lines`: in the order of `first_seen`, without the small ones; those as a line that
    says how many, and within what (`small_head`), and each (`small`)."""

    lines: tuple[DiffersSaid, ...]
    small_head: str = ""
    small: tuple[str, ...] = ()


def ahead_of(reader: Reader, plan: Plan) -> AheadSaid:
    """What will differ from the run that is compared with, where there is one; a discharge job's remark in any case."""
    found = repeats.differences(reader.db, plan.job, plan.run.placement, reader.now, run=plan.run)
    return said_ahead(found, reader.system, always=bool(plan.job.repeats))


def said_ahead(found: repeats.ToDiffer, system: str, always: bool = True) -> AheadSaid:
    """Differences in words, what a customer would see first at the top."""
    shown = [one for one in found.differences if always or found.origin or one.key == "repeat-dye-lot"]
    small = [one for one in shown if one.within]
    return AheadSaid(
        tuple(DiffersSaid(one.key, str(one.level), say(one.reason, system)) for one in shown if not one.within),
        first_seen.small_head(len(small), [one.within for one in small]),
        tuple(str(one.numbers["told"]) for one in small),
    )
