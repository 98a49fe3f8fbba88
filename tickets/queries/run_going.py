"""What speaks against a run, and what was overridden: its verdict, its buckets' clocks, cure and migration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from tickets.calculator.verdict import Level, Said, Verdict, judge, say
from tickets.domain.code import shown
from tickets.domain.entry import read_stamp
from tickets.domain.person import to_pass
from tickets.domain.runs.job_remarks import garment_remarks
from tickets.domain.steps import RUN_STEPS
from tickets.i18n import gettext as _
from tickets.queries import at_press, find, run_approval, said
from tickets.queries.phase import phase_of
from tickets.queries.run_plan import Plan
from tickets.queries.said import Reader
from tickets.queries.shop_rules import the_spec
from tickets.store import entries, screens


@dataclass(frozen=True, slots=True)
class BucketClock:
    """An ink bucket in use: its print order, code and name, how long it is good, in words, and how bad that is."""

    station: str
    code: str
    named: str
    told: str
    level: str


@dataclass(frozen=True, slots=True)
class PassedOn:
    """What somebody overrode (`passed`: who and why; None: nobody had to), or a caution, for good: about what."""

    about: str
    passed: Mapping[str, Any] | None
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class GoingNow:
    """What speaks against going on. `verdict`: as the page says it; `causes`: what an override answers for;
    `cure_stops`: what of the cure stops an approval; `remarks`: the job's others on its garments; `passed`: on the run
    for good."""

    verdict: Verdict
    causes: tuple[str, ...]
    clocks: tuple[BucketClock, ...]
    cure_stops: tuple[str, ...]
    remarks: tuple[Said, ...]
    passed: tuple[PassedOn, ...]

    @property
    def passing(self) -> bool:
        """Whether going on takes an override."""
        return bool(self.causes)

    @property
    def cure_field(self) -> str:
        """Which setting may be put right instead of overriding the cure."""
        return "hold" if self.cure_stops and set(self.cure_stops) <= {"under-hold"} else "garment_peak"


def of(reader: Reader, plan: Plan) -> GoingNow:
    """What speaks against a run now; of one that is over, against its settings as the target."""
    db, over = reader.db, plan.story.state == "finished"
    going = at_press.to_mark(db, plan) if over else at_press.going(db, plan, reader.now)
    causes = to_pass(going)
    if phase_of(plan) == "hang":  # nobody approves a print before its screens hang
        told = [one for one in going.reasons if one.key != "first-print-open"]
        going = judge(told) if told else Verdict(Level.OK)
    own = f"placement[{plan.run.placement}]"
    remarks = [] if over else garment_remarks(plan.job.sheet, the_spec(db), own)
    return GoingNow(
        going,
        tuple(causes),
        () if over else tuple(clocks_of(reader, plan)),
        tuple(one.key for one in at_press.to_approve(db, plan).reasons if one.level is Level.STOP),
        tuple(say(one.reason, reader.system) for one in remarks),
        tuple(_passed(reader, plan)),
    )


def clocks_of(reader: Reader, plan: Plan) -> list[BucketClock]:
    """The ink buckets in use, each with how long it is good."""
    found = []
    for number, bucket in at_press.buckets_in_use(reader.db, plan):
        told, level = said.clock(reader, bucket)
        level = "caution" if bucket.discarded_at else level
        found.append(BucketClock(str(number), bucket.code, find.bucket_named(bucket), told, level))
    return found


def _passed(reader: Reader, plan: Plan) -> list[PassedOn]:
    """What somebody overrode to hang a screen, to start, to go on or to count, and cautions: on the run for good."""
    db, found = reader.db, []
    doubted = [hung for hung in plan.story.was_hung if hung.passed or hung.level not in ("", "ok")]
    screens.read_ahead(db, [hung.screen for hung in doubted])
    entries.find_ahead(db, [hung.entry for hung in doubted])
    for hung in doubted:
        screen = screens.get(db, hung.screen)
        verdict = next((one.verdict for one in [entries.find(db, hung.entry)] if one is not None), None)
        if screen is not None and verdict:
            about = f"{hung.station}. {shown(screen.code)}"
            found.append(PassedOn(about, hung.passed, Verdict.from_dict(verdict)))
    when = run_approval.approved_when(db, plan) if any(one.step == "approve" for one in plan.story.judged) else {}
    for one in plan.story.judged:
        step = RUN_STEPS.get(one.step)
        about = f"{_(step.done) if step else one.step}, {reader.time(read_stamp(one.at))}"
        if when.get(one.entry, [one.at])[-1] > one.at:
            about += "; " + _("approved again, {when}").format(when=reader.time(read_stamp(when[one.entry][-1])))
        told = Verdict.from_dict({"level": one.level, "reasons": one.reasons})
        found.append(PassedOn(about, one.passed, told))
    return _each_once(reader, found)


def _each_once(reader: Reader, found: list[PassedOn]) -> list[PassedOn]:
    """What says the very same of several screens, once: after a pause each of them hangs with the caution of before."""
    out: dict[str, PassedOn] = {}
    for one in found:
        told = [say(reason, reader.system) for reason in one.verdict.reasons]
        key = repr((one.passed, [(said.level, said.sentence) for said in told]))
        there = out.get(key)
        if there is not None and one.about not in there.about.split("; "):
            one = replace(one, about=f"{there.about}; {one.about}")
        out[key] = one if there is None or one.about != there.about else there
    return list(out.values())
