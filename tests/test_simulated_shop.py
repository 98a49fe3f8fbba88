"""The simulated shop, held day by day against what really happened in it; and what its worst moments come to."""

from __future__ import annotations

import copy
import random
import sys
import threading
import time
from collections.abc import Collection
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from functools import update_wrapper
from pathlib import Path
from pydoc import locate
from typing import Any

import pytest
from shop import repeat_of
from simulated_hands import Pages
from simulated_proof import LEAST
from simulated_right import far_off, going_on, known_heat, wrong_target
from simulated_shop import FEW_STEPS, SimulatedShop
from simulated_truth import Frame, Order, Pot, Run, Stencil

from tickets import store
from tickets.actions import hanging, jobs, runs, screens, shop
from tickets.calculator.verdict import Level, Reason, judge
from tickets.domain.jobs import job as sheets
from tickets.domain.posted import Worse, form
from tickets.domain.refusal import Clash, NotAllowed, Refused
from tickets.domain.runs import curing
from tickets.domain.screens import checks, frame_checks, press_checks
from tickets.domain.screens.needs import Need
from tickets.domain.stages import ALWAYS_LOGGED, LOGGED_BY_DEFAULT, Standing
from tickets.queries import at_press as at_press_now
from tickets.queries import desk, find, run_plan, target
from tickets.queries import sound as sound_now
from tickets.store import desk as store_desk
from tickets.store import entries


def faults(made: SimulatedShop) -> str:
    return "\n".join(made.faults[:40])


def test_three_weeks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = SimulatedShop(tmp_path, seed=12, meter=True)
    made.live(21)
    made.prove_month()
    made.prove_traces()
    pool = made.prove_little()
    assert not made.faults, faults(made)
    book = made.verdicts  # every first print is read: of the colours that drifted, none reached the customer unsaid
    assert book.of_repeats("off", stopped=True) and not book.unflagged + book.silent, book.colours()
    assert book.of_repeats("right") > 10 and not book.of_repeats("right", stopped=True), book.colours()
    seen = {stage for stage, (_said, really) in pool.items() if really > 20 * LEAST}  # far beyond what is let through
    assert {"coated", "degreased", "exposed", "kept", "on press", "ready", "stripped", "to check"} <= seen
    monkeypatch.setattr(store_desk, "MOST", 50)  # as in a log so full that only its newest part is read
    assert desk.pool_of(made.db, made.now, 30).days < 10
    made.prove_little()
    assert not made.faults, faults(made)
    for what in (
        "scanned twice", "asked", "typed late", "crossed out", "repeat by its approved run", "paused",
        "colourway changed", "photo at approval", "colour read at approval", "ganged", "spare", "stock-take",
        "counted twice by two", "crossed out by the manager later", "ink changed after approval",
    ):  # fmt: skip
        assert made.happened[what], what
    made.close()


def test_a_month_in_a_shop_that_logs_as_little_as_it_can(tmp_path: Path) -> None:
    """Imaging, checking and hanging: nothing else is missed, and what is logged adds up all the same."""
    made = SimulatedShop(tmp_path, seed=3, frames=120, placements_a_day=3.0, logs=FEW_STEPS, mishaps=2)
    made.live(31)
    made.prove_month()
    made.prove_traces()
    assert not made.faults, faults(made)
    steps = {row[0] for row in made.raw.execute("SELECT DISTINCT step FROM entries WHERE screen IS NOT NULL")}
    assert steps <= {*FEW_STEPS, *ALWAYS_LOGGED, "found", "note", "retag", "cross-out", "decide"}
    assert len(made.runs) > 40 and made.happened["restretched"]
    assert made.happened["asked"] < len(made.runs) / 4  # nobody is asked about a step that the shop does not log
    made.close()


def test_a_week_with_the_phones(tmp_path: Path) -> None:
    """Five days in which everything goes by the forms of the pages."""
    made = SimulatedShop(tmp_path, seed=6, frames=100, placements_a_day=4.0, pages=True, mishaps=2)
    assert isinstance(made.hands, Pages)
    made.live(7)
    made.prove_month()
    made.prove_traces()
    assert not made.faults, faults(made)
    assert len(made.runs) >= 10 and made.hands.posts > 300 and len(made.hands.phones) >= 5
    for what in ("asked", "crossed out", "put back", "scanned twice", "photo at approval", "swapped", "typed late"):
        assert made.happened[what], what
    made.close()


class Noticed(BaseException):
    """The fault that a test waits for was found."""


class Watched(SimulatedShop):
    """A shop whose life ends in the moment when a fault that says so is found. `until`: what is waited for."""

    def __init__(self, folder: Path, until: str, seed: int, logs: Collection[str] = LOGGED_BY_DEFAULT) -> None:
        self.until = until
        super().__init__(folder, seed=seed, frames=120, logs=logs, mishaps=10)

    def fault(self, text: str) -> None:
        super().fault(text)
        if self.until in text:
            raise Noticed

    def live_until_noticed(self, days: int) -> None:
        """Lives so many days at most; of what is traced too where that is waited for."""
        with suppress(Noticed):
            for _day in range(days):
                self.live(1)
                if self.until == "lot":
                    self.prove_traces()


def _lost(insert: Any) -> Any:
    return lambda db, lines: insert(db, [one for one in lines if one.step != "stop"])


def _every_station(plan: Any) -> frozenset[int]:
    return frozenset(one.number for one in plan.asked)


EARLY = {
    "_stage": 2, "old_art": 3, "cure": 1, "heat_of": 1, "head_in_use": 7, "heads_shared": 7,
    "tickets.calculator.tension._judge_directions": 5, "tickets.actions.run_act.passed": 7,
    "tickets.store.entries.insert": 7, "tickets.queries.target._marked_last": 5,
    "tickets.actions.counting.all_hung": 2, "tickets.domain.screens.readings.standing_lines": 7,
    "tickets.queries.run_plan.prints_now": 7, "tickets.domain.stages.follow": 7, "asked whether what nobody": 3,
}  # fmt: skip
"""A year in which what a plant would hide comes within its first days, where that is not the ninth; of two plants in
one place by what is noticed."""
FORGIVEN = {"degrease", "clean", "expose"}
BY_NAME = (
    "tickets.actions.screens._counted_with", "tickets.queries.target._marked_last",
    "tickets.actions.counting._came_off", "tickets.actions.counting.counted_first",
    "tickets.queries.run_plan.prints_now", "tickets.actions.counting._as_of",
    "tickets.store.jobs.printed", "tickets.store.screens.at_place",
    "tickets.queries.asked.Look.needs", "tickets.domain.runs.run_trace.Poured.lots",
    "emulsion_fit", "heads_shared", "head_in_use", "cure", "heat_of",
)  # fmt: skip
"""What tests the tests runs by name (`-m slow`), like tests/mutate.py: of the plants those that come late in a year."""
ALWAYS = Need("job", "2026-02-01", "7K32XM", "Kite shirts")


def plants(*found: tuple[str, Any, Any]) -> Any:
    """The plants of a test, those that take long marked as slow."""
    return pytest.mark.parametrize(
        ("where", "broken", "noticed"),
        [pytest.param(*one, marks=[pytest.mark.slow] if one[0] in BY_NAME else []) for one in found],
    )


@plants(
    (
        "tickets.actions.run_act.passed",
        lambda real: lambda actor, verdict, form: None,
        "past a stop that nobody went",
    ),
    ("tickets.actions.screens._counted_with", lambda real: lambda db, entry: [], "impressions, really"),
    ("tickets.store.entries.insert", _lost, "stop sim-"),
    ("tickets.queries.target._marked_last", lambda real: lambda *which: None, "goes by “job sheet”"),
    ("tickets.actions.counting.all_hung", lambda real: lambda plan: None, "a screen missing"),
    ("tickets.domain.screens.readings.standing_lines", lambda real: list, "not its log replayed"),
    ("tickets.actions.counting._came_off", lambda real: lambda db, plan: {}, "impressions"),
    ("tickets.actions.counting.counted_first", lambda real: lambda sent: [], "0 count, 1 were entered"),
    ("tickets.queries.run_plan.prints_now", lambda real: _every_station, "impressions, really"),
    ("tickets.actions.counting._as_of", lambda real: lambda sent: sent.plan, "impressions, really"),
    ("tickets.store.jobs.printed", lambda real: lambda *which: {1: 1, **real(*which)}, "good pieces"),
    ("tickets.queries.at_press.runs_short", lambda real: lambda *which: [], "waits for screen"),
    ("tickets.store.jobs.set_repeats", lambda real: lambda *which: None, "repeats None"),
    ("tickets.store.screens.at_place", lambda real: lambda *which: real(*which)[:-1], "stock-take"),
    ("tickets.queries.asked.Look.needs", lambda real: lambda *which, **how: (), ": not asked whether"),
    ("tickets.queries.asked.Look.needs", lambda real: lambda *which, **how: (ALWAYS,), "asked whether what nobody"),
    ("tickets.domain.runs.run_trace.Poured.lots", lambda real: lambda *which: (), "lot"),
    (
        "tickets.domain.stages.follow",
        lambda real: lambda at, step, logged: real(at, step, {*logged, *FORGIVEN}),
        "a gap for",
    ),
)
def test_the_simulator_notices(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str, broken: Any, noticed: str
) -> None:
    """A program with a planted fault does not pass: a proof that cannot fail proves nothing. So much goes wrong in this
    shop that its first days have it all."""
    logs = FEW_STEPS if "follow" in where else LOGGED_BY_DEFAULT
    made = Watched(tmp_path, noticed, EARLY.get(noticed, EARLY.get(where, 9)), logs)
    module, name = where.rsplit(".", 1)
    owner = locate(module)
    real, planted = getattr(owner, name), broken(getattr(owner, name))
    if callable(getattr(real, "__wrapped__", None)):  # a question that is asked once is known by what it wraps
        update_wrapper(planted, real)
    monkeypatch.setattr(owner, name, planted)
    made.live_until_noticed(20)
    assert any(noticed in fault for fault in made.faults), faults(made)
    made.close()


@pytest.mark.slow
def test_the_simulator_notices_what_is_read_wrongly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A planted fault in what is only read, and changes no life: all of them in one shop, once it has something to
    read. What the proof says without one (of so few days the law is a little off) does not count."""
    made = SimulatedShop(tmp_path, seed=7, mishaps=2)
    made.live(4)

    def prove() -> None:
        made.stayed.clear()
        made.stays_since = made.start
        made.count_stays()
        made.prove_little()
        made.prove_traces()

    prove()
    anyway = set(made.faults)
    for name, broken, noticed in (
        ("from_bucket", lambda real: lambda *which: real(*which)[:-1], "bucket"),
        ("to_buckets", lambda real: lambda *which: real(*which)[1:], "job"),
        ("stays", lambda real: lambda *which: real(*which)[1:], "law does not hold for coated"),
        ("ended", lambda real: lambda *which: real(*which)[2:], "law does not hold for"),
        ("still_there", lambda real: lambda *which: (1, ""), "still kept"),
    ):  # fmt: skip
        with monkeypatch.context() as planted:
            planted.setattr(store_desk, name, broken(getattr(store_desk, name)))
            made.faults.clear()
            prove()
        assert any(noticed in fault for fault in set(made.faults) - anyway), (name, faults(made))
    made.close()


def _always_stop(at_press: Any) -> Any:
    def judged(*which: Any, **how: Any) -> Any:
        found = at_press(*which, **how)
        return replace(found, verdict=judge([*found.verdict.reasons, Reason("not-ready", Level.STOP)]))

    return judged


def _never_stop(at_press: Any) -> Any:
    def judged(*which: Any, **how: Any) -> Any:
        found = at_press(*which, **how)
        left = [one for one in found.verdict.reasons if one.level is not Level.STOP]
        return replace(found, verdict=judge([*left, Reason("right-image", Level.OK)]))

    return judged


CHECKS = (press_checks, frame_checks, checks, curing)


@plants(
    ("at_press", _always_stop, ("a right one stopped", "stage")),
    ("at_press", _never_stop, ("a wrong one passed", "image")),
    ("tension", lambda real: lambda *which: [], ("a cause not named", "reading")),
    ("emulsion_fit", lambda real: lambda *which: [], ("a wrong one passed", "emulsion")),
    ("history", lambda real: lambda *which: [], ("a cause not named", "weak")),
    ("old_art", lambda real: lambda *which: [], ("a wrong one passed", "old art")),
    ("first_print", lambda real: lambda *which: [], ("a wrong one passed", "again")),
    ("_stage", lambda real: lambda *which: [], ("a wrong one passed", "stage")),
    ("_checked", lambda real: lambda life: False, ("cautioned without cause", "check")),
    ("cure", lambda real: lambda *which, **how: [], ("a wrong one passed", "cure")),
    ("heat_of", lambda real: lambda placement, *as_run: real(placement), ("a wrong one passed", "cure")),
    (
        "tickets.domain.runs.print_colour.judged",
        lambda real: lambda *which: [],
        ("a cause not named", "colour unknown"),
    ),
    ("head_in_use", lambda real: lambda *which: [], ("a wrong one passed", "head")),
    ("heads_shared", lambda real: lambda *which: [], ("a cause not named", "head")),
    (
        "tickets.calculator.tension._judge_directions",
        lambda real: lambda *which: [],
        ("a cause not named", "directions"),
    ),
)
def test_the_simulator_sees_both_ways(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str, broken: Any, noticed: tuple[str, str]
) -> None:
    """A verdict at the press that says too much, or too little, does not pass, and it is said which. So much goes wrong
    in this shop that its first days have it all; without a plant none of these is said of them."""
    sort, kind = noticed
    made = Watched(tmp_path, f"{sort} ({kind})", EARLY.get(where, 9))
    module, _dot, name = where.rpartition(".")
    owner: Any = locate(module) if module else next(one for one in CHECKS if hasattr(one, name))
    monkeypatch.setattr(owner, name, broken(getattr(owner, name)))
    made.live_until_noticed(20)
    assert made.verdicts.faults[noticed] and any(f"{sort} ({kind})" in fault for fault in made.faults), faults(made)
    made.close()


@pytest.mark.slow
def test_a_year(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three presses, 300 screens, 1,500 placements and more, in some minutes."""
    begun = time.process_time()
    made = SimulatedShop(tmp_path, seed=2026, placements_a_day=4.2)
    made.live(365)
    made.prove_month()
    made.prove_traces()
    pool = made.prove_little()
    took = time.process_time() - begun
    with capsys.disabled():  # the error stream: the standard one of a test worker is not shown
        said = f"a year: {took:.0f} s of CPU, {made.seen} entries, {len(made.runs)} runs, {dict(made.happened)}"
        means = ", ".join(f"{name} {said:.2f} ({really:.2f})" for name, (said, really) in pool.items())
        print(f"\n{said}\nby Little’s law (counted): {means}\n{made.verdicts.table()}", file=sys.stderr)
    assert not made.faults, faults(made)
    assert made.verdicts.nag_rate <= 3
    assert not made.verdicts.unflagged, made.verdicts.colours()
    assert 100 * made.verdicts.of_repeats("right", stopped=True) <= made.verdicts.of_repeats("right")
    assert len(made.frames) >= 300 and len(made.runs) >= 1500
    for what in (
        "asked", "astray in a rack", "coated twice", "colour read at approval", "colourway changed",
        "counted twice by two", "counted with a screen gone", "crossed out", "crossed out by the manager later",
        "ended while paused", "failed washout", "ganged", "gone past", "ink changed after approval", "job changed",
        "mark crossed out", "old bucket", "old ink gone past", "paused", "photo at approval", "ran short",
        "repeat by its approved run", "restretched", "retagged", "retensioned", "retired", "rush job", "scanned twice",
        "second phone finished too", "sent away", "spare", "station taken out", "stock-take",
        "strokes changed after approval", "swapped", "taken from another run", "told what runs short", "torn",
        "typed late", "wrong screen hung", "wrong screen refused",
        "gave up what is needed", "hardened", "meant a head that another run has", "said that a head is free",
        "two runs on one press",
        "approved though not cured", "dryer mended", "off colour became the target", "stopped by its colour",
        "stopped by its cure", "undercured dryer",
    ):  # fmt: skip
        assert made.happened[what], what
    assert min(made.happened[what] for what in ("buckets traced", "lots traced", "jobs traced")) >= 100
    made.close()


# The worst moments, one by one: each has one clear answer, and nothing is lost ---------------------------------------


class CalmShop(SimulatedShop):
    """The same shop on a day when nobody forgets anything, until the test has them do so."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder, seed=3, frames=24)

    def chance(self, share: float, rng: random.Random | None = None) -> bool:
        return False

    def order(self) -> Order:
        """A job of one placement with two colours, its screens ready."""
        data = self.new_data()
        placement = data["placement"][0]
        colours = [one for one in placement["station"] if one["does"] == "print"]
        first = colours[0]
        second = {**first, "separation": "second colour", "colour": "black", "strokes": 2}
        placement["station"] = [{**first, "strokes": 1}, {"does": "flash", "time": "6 s"}, second]
        data["placement"] = [placement]
        data["due"], data["reference"] = "2026-01-06", "R-1"
        code = jobs.add(self.db, self.boss, [sheets.read(data)], post="calm-order-000001", now=self.tick())[0]
        saved = find.job(self.db, code)
        order = self.orders[saved.id] = Order(saved.id, code, data, self.now)
        self.coming.append(order)
        self.make_screens()
        return order

    def run_of(self, order: Order, press: str = "Press 1") -> Run:
        """A run that is open, with every screen on."""
        run = self.open(press, order, 1, self.crew[0])
        assert run is not None
        for line in run.lines:
            frame = self.right_frame(line)
            assert frame is not None and self.hang(run, frame, line, self.crew[0])
        return run

    def printing(self) -> Run:
        """A run that prints: approved, started, 40 pieces counted."""
        run = self.run_of(self.order())
        run.approved = self.step(run, self.lead, "approve", approved_by="Cy Marsh", approved_as="press")
        self.step(run, self.crew[0], "start")
        self.count(run, self.crew[0], 38, 2)
        return run

    def send(self, run: Run, step: str, who: Any = None, **fields: Any) -> list[str]:
        """A step outside the book of posts: the truth is told by the test itself."""
        self.posts += 1
        post = f"own-{self.posts:016d}"
        self.tick()
        return runs.log(self.db, who or self.crew[0], run.number, step, form(fields), post=post, now=self.now)

    def strike(self, entry: str, who: Any = None) -> None:
        self.posts += 1
        sent = form({"crosses": entry, "why": "a slip"})
        screens.cross_out(self.db, who or self.boss, sent, post=f"own-{self.posts:016d}", now=self.tick())

    def life(self, frame: Frame) -> Any:
        return find.screen(self.db, frame.code).life

    def story(self, run: Run) -> Any:
        return run_plan.plan(self.db, run.number).story

    def sound(self) -> bool:
        """The log is whole, and working everything out anew changes nothing."""
        before = self.tables()
        shop.rebuild(self.db)
        return sound_now.check(self.db) == [] and self.tables() == before


@pytest.fixture
def calm(tmp_path: Path) -> Any:
    made = CalmShop(tmp_path)
    yield made
    assert not made.faults, faults(made)
    assert made.sound()
    made.close()


def test_a_target_is_wrong_by_the_colour_of_any_garment(calm: CalmShop) -> None:
    """What the proof itself holds a target against: the garments printed before the last one too."""
    run = calm.printing()
    against = copy.copy(run)
    name = run.lines[0].key[4]
    ink = frozenset({"white"})
    against.to_meet = {1: {name: (50.0, ink)}, 2: {name: (50.0, ink)}}
    for first, wrong in ((54.0, True), (50.1, False)):
        run.labs, run.garment, run.proof_of = {1: {name: (first, ink)}, 2: {name: (50.1, ink)}}, 2, 2
        assert not far_off(run, against) and wrong_target(run, against) is wrong
    run.labs[1] = {name: (54.0, frozenset({"red"}))}
    assert not wrong_target(run, against), "of another ink nobody can say"


def test_the_bucket_of_another_garments_ink_is_none_of_this_ones(calm: CalmShop) -> None:
    """Of the ink in it the proof asks for the time that is left only while the garment is printed that takes it."""
    run = calm.printing()
    line, old = run.lines[0], Pot("OLDINK", "discharge ink", calm.now - timedelta(hours=7))
    run.inks_now, run.noted_on = {(line.station, old.code, "")}, {(line.station, old.code, ""): 1}
    sand = {**run.order.data["garment"][0], "colour": "sand"}
    run.order.data["garment"] = [*run.order.data["garment"], sand]
    run.lines = [replace(one, garments=frozenset({1, 2})) for one in run.lines]
    for inks, said in (({}, True), ({line.key[4]: {"colour": "black"}}, False)):
        run.order.data["colourway"] = [{"garment": {"colour": "sand"}, "inks": inks}]
        run.garment = run.proof_of = 2
        assert ("ink time" in going_on(run, {old.code: old}, calm.now).must) is said
        run.approve()
        assert bool(run.proof_inks) is said, "nor was this garment's print approved with it"


def test_another_screen_that_a_garment_does_not_take_changes_none_of_its_print(calm: CalmShop) -> None:
    """What the proof itself asks a first print for."""
    run = calm.printing()
    line, run.garment, run.proof_of = run.lines[1], 2, 2
    for takes, stale in (({1}, set()), ({1, 2}, {f"screen at {line.station}: {run.hung[line.station].number}"})):
        calm.put_on(run, run.hung[line.station], replace(line, garments=frozenset(takes)))
        assert run.stale == stale


def test_a_bare_frame_that_was_hung_has_had_a_stencil_by_the_log(
    calm: CalmShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It comes off inked, and whoever cleans it says that it is in hand: its tension reading is one stencil older."""
    order = calm.order()
    run = calm.open("Press 1", order, 1, calm.crew[0])
    assert run is not None
    bare = next(one for one in calm.frames.values() if one.stage == "bare" and one.on is None)
    calm.measure(bare)
    with monkeypatch.context() as sure:  # the lead goes past the stop
        sure.setattr(calm, "chance", lambda share, rng=None: share == 0.25)
        assert bare.read is not None and calm.hang(run, bare, run.lines[0], calm.lead)
    told, said = calm.may_go_on(run, calm.lead)
    assert "unnamed" in told.must and "head-unnamed" in said.keys, "what is on it nobody knows"
    assert calm.finish(run, calm.lead, "strip")
    calm.look_after()
    assert bare.stage == "stripped" and not calm.faults, faults(calm)
    assert calm.life(bare).tension.stencils_since == bare.read.stencils == 1


def test_a_stencil_of_which_only_the_light_was_noted_makes_a_reading_older(calm: CalmShop) -> None:
    """Nobody wrote down its coat; that it was exposed tells that there is one."""
    order = calm.order()
    bare = next(one for one in calm.frames.values() if one.stage == "bare")
    calm.measure(bare)
    bare.stencil = Stencil(bare.number)
    assert bare.read is not None
    calm.expose(calm.room[0], bare, 0.0, separations=[calm.separation(order, 1, 1)])
    assert calm.life(bare).tension.stencils_since == bare.read.stencils == 1 and not calm.faults, faults(calm)
    bare.stage = "ready"  # washed out and checked, without a word
    calm.log(calm.room[0], bare, "harden", neutral=True, agent="invented hardener")
    assert calm.life(bare).standing is Standing.READY and bare.said == "ready", "whoever hardened it said so"


def test_the_proof_holds_a_cure_against_what_is_to_be_met(calm: CalmShop) -> None:
    """As measured, else as the run measured that it was set up by, else as planned."""
    run = calm.printing()
    met = copy.copy(run)
    met.proof_heat = {None: (188.0, 33.0)}
    run.sheet_strokes, run.set_by = {}, met
    calm.aim(run)
    assert known_heat(run) == (188.0, 33.0)
    run.heat_noted = 165.0, None
    assert known_heat(run) == (165.0, 33.0)
    run.approve()
    assert run.proof_heat[run.garment] == (165.0, 33.0), "and so for the repeat of it"
    run.set_by = None
    calm.aim(run)
    assert known_heat(run) == (165.0, run.planned()[1])


def test_two_phones_finish_one_run_at_the_same_moment(calm: CalmShop) -> None:
    run = calm.printing()
    frames = list(run.hung.values())
    told: list[str] = []
    gate = threading.Barrier(2)

    def phone(number: int, good: int) -> None:
        db = store.connect(calm.folder)
        try:
            gate.wait(5)
            sent = form({"good": good, "then": ("keep", "strip")[number], "still_needed": "yes"})
            runs.log(db, calm.crew[number], run.number, "finish", sent, post=f"phone-{number}-finishes", now=calm.now)
            told.append(f"done {good}")
        except Clash as clash:
            told.append(str(clash))
        finally:
            db.close()

    calm.tick()
    phones = [threading.Thread(target=phone, args=one) for one in ((0, 10), (1, 20))]
    for one in phones:
        one.start()
    for one in phones:
        one.join(20)
    (done,) = [text for text in told if text.startswith("done")]
    assert len(told) == 2 and f"Run {run.number} was finished already." in told
    good = int(done.split()[1])
    story = calm.story(run)
    assert (story.state, story.good, story.misprinted) == ("finished", 38 + good, 2)
    assert [calm.life(frame).impressions for frame in frames] == [40 + good, 2 * (40 + good)]
    assert {calm.life(frame).uses for frame in frames} == {1}
    then = {Standing.KEPT} if good == 10 else {Standing.TO_CLEAN}
    assert {calm.life(frame).standing for frame in frames} == then


def test_a_run_whose_job_was_changed_under_it(calm: CalmShop) -> None:
    order = calm.order()
    run = calm.run_of(order)
    data = copy.deepcopy(order.data)
    data["art"]["revision"] = "2"
    assert calm.change_to(order, data)
    plan = run_plan.plan(calm.db, run.number)
    assert plan.changed_since and plan.job.version == 1 and len(plan.story.hung) == 2
    frames = list(run.hung.values())
    assert calm.finish(run, calm.crew[0], "keep")
    again = calm.open("Press 1", order, 1, calm.crew[0])
    assert again is not None and not run_plan.plan(calm.db, again.number).changed_since
    with pytest.raises(Worse) as stopped:  # the screens carry the revision of before
        sent = form({"screen": frames[0].code, "station": 1})
        hanging.hang(calm.db, calm.crew[0], again.number, sent, post="hang-the-old-revision", now=calm.tick())
    assert "other-revision" in stopped.value.verdict.keys
    calm.prove_day()


def test_a_printed_job_is_not_changed_under_its_run(calm: CalmShop) -> None:
    run = calm.printing()
    data = copy.deepcopy(run.order.data)
    data["garment"][0]["pieces"] += 50
    run.order.printed = True
    assert not calm.change_to(run.order, data)
    plan = run_plan.plan(calm.db, run.number)
    assert not plan.changed_since and plan.story.good == 38
    calm.prove_day()


def test_a_station_is_taken_out_of_the_job_while_its_screen_hangs(calm: CalmShop) -> None:
    order = calm.order()
    run = calm.run_of(order)
    data = copy.deepcopy(order.data)
    del data["placement"][0]["station"][2]
    assert calm.change_to(order, data)
    calm.prove_changed(run)
    taken_out, stays = run.hung[3], run.hung[1]
    assert calm.life(taken_out).run == run.number and calm.life(taken_out).station == 3
    with pytest.raises(Worse):  # the lead decides whether it prints as it was opened
        runs.log(calm.db, calm.crew[0], run.number, "start", form({}), post="start-the-old-one", now=calm.tick())
    assert calm.step(run, calm.lead, "start", override="all are cut already")
    calm.count(run, calm.crew[0], 10, 0)
    assert calm.finish(run, calm.crew[0], "keep")
    assert calm.life(taken_out).impressions == 20 and calm.life(taken_out).standing is Standing.KEPT
    again = calm.open("Press 1", order, 1, calm.crew[0])
    assert again is not None and [line.station for line in again.lines] == [1]
    plan = run_plan.plan(calm.db, again.number)
    found = {
        frame.number: at_press_now.check(calm.db, plan, find.screen(calm.db, frame.code), calm.now).verdict
        for frame in (taken_out, stays)
    }
    assert "not-called-for" in found[taken_out.number].keys and "right-image" in found[stays.number].keys
    calm.prove_day()


def test_a_hanging_is_crossed_out_although_the_screen_has_printed(calm: CalmShop) -> None:
    run = calm.printing()
    line, frame = run.lines[0], run.hung[1]
    calm.strike(calm.story(run).hung[1].entry)
    life = calm.life(frame)
    assert life.standing is Standing.UNKNOWN and life.conflict and life.impressions == 40
    assert [one.number for one in run_plan.plan(calm.db, run.number).missing()] == [1]
    (mine,) = [one for one in run_plan.used(calm.db, run_plan.plan(calm.db, run.number)) if one.screen == frame.number]
    assert (mine.station, mine.impressions, mine.unhung) == (1, 40, True)  # what it printed is still listed
    with pytest.raises(Refused, match="no screen yet"):
        calm.send(run, "count", good=5)
    sent = {"screen": frame.code, "station": line.station}
    with pytest.raises(Worse) as stopped:
        hanging.hang(calm.db, calm.crew[0], run.number, form(sent), post="hang-it-once-more-1", now=calm.tick())
    assert "log-unclear" in stopped.value.verdict.keys
    sent["override"] = "it never came off"
    with pytest.raises(NotAllowed):
        hanging.hang(calm.db, calm.crew[0], run.number, form(sent), post="hang-it-once-more-2", now=calm.tick())
    hanging.hang(calm.db, calm.lead, run.number, form(sent), post="hang-it-once-more-3", now=calm.tick())
    calm.send(run, "finish", good=5, then="keep")
    # its log was unclear when it was hung all the same, and it is when it comes off
    story, life = calm.story(run), calm.life(frame)
    assert (story.state, story.good, life.impressions, life.standing) == ("finished", 43, 45, Standing.UNKNOWN)


def test_a_count_is_crossed_out_with_its_impressions(calm: CalmShop) -> None:
    run = calm.printing()
    first = [calm.life(frame).impressions for frame in run.hung.values()]
    entry = calm.send(run, "count", good=500, over="yes")[0]
    assert calm.life(run.hung[1]).impressions == 540
    calm.strike(entry)
    assert [calm.life(frame).impressions for frame in run.hung.values()] == first == [40, 80]
    assert (calm.story(run).good, calm.story(run).impressions) == (38, 120)
    with pytest.raises(Refused, match="already"):
        calm.strike(entry)


def test_a_finish_is_crossed_out_and_the_run_goes_on(calm: CalmShop) -> None:
    run = calm.printing()
    pieces = run.order.pieces - 38
    frames = list(run.hung.values())
    finish = calm.send(run, "finish", good=pieces, then="keep")[-1]
    assert find.job(calm.db, run.order.code).closed_at
    calm.strike(finish)
    assert calm.story(run).state == "printing" and len(run_plan.plan(calm.db, run.number).missing()) == 2
    assert find.job(calm.db, run.order.code).closed_at is None  # it is to be seen on the boards again
    same = runs.open_run(
        calm.db, calm.lead, form({"job": run.order.code, "press": "Press 1"}), post="open-the-same-one", now=calm.tick()
    )
    assert same == run.number
    for station, frame in zip((1, 3), frames, strict=True):
        sent = form({"screen": frame.code, "station": station})
        hanging.hang(calm.db, calm.crew[0], run.number, sent, post=f"hang-again-000000{station}", now=calm.tick())
    calm.send(run, "finish", good=1, then="strip", still_needed="yes")
    assert (calm.story(run).good, calm.story(run).state) == (38 + pieces + 1, "finished")


def test_a_finish_is_crossed_out_when_the_next_run_is_open_already(calm: CalmShop) -> None:
    run = calm.printing()
    finish = calm.send(run, "finish", then="keep")[-1]
    following = runs.open_run(
        calm.db,
        calm.crew[0],
        form({"job": run.order.code, "press": "Press 1"}),
        post="open-next-0000001",
        now=calm.tick(),
    )
    assert following != run.number
    calm.strike(finish)
    with pytest.raises(Refused, match=f"Run {run.number} is finished"):
        calm.send(run, "count", good=5)
    with pytest.raises(Clash, match="finished already"):
        calm.send(run, "finish")
    again = runs.open_run(
        calm.db,
        calm.lead,
        form({"job": run.order.code, "press": "Press 1"}),
        post="open-next-0000002",
        now=calm.tick(),
    )
    assert again == following and calm.story(run).good == 38


def test_an_approval_is_crossed_out_and_with_it_the_target(calm: CalmShop) -> None:
    run = calm.printing()
    approval = calm.story(run).approved["entry"]
    calm.send(run, "use-next-time", calm.lead)
    calm.send(run, "finish", then="keep")
    repeat = repeat_of(find.job(calm.db, run.order.code), run.order.due.date(), "R-2")
    code = jobs.add(calm.db, calm.boss, [repeat], post="repeat-it-0000001", now=calm.tick())[0]
    sent = form({"job": code, "press": "Press 2"})
    second = runs.open_run(calm.db, calm.crew[0], sent, post="open-repeat-00001", now=calm.tick())
    plan = run_plan.plan(calm.db, second)
    assert target.aim(calm.db, plan.job, 1, plan.run)[1] == f"approved run {run.number}"
    calm.strike(approval)
    assert target.aim(calm.db, plan.job, 1, plan.run)[1] == "job sheet"


def test_an_image_is_crossed_out_after_its_exposure(calm: CalmShop) -> None:
    run = calm.run_of(calm.order())
    frame = run.hung[1]
    assert calm.finish(run, calm.crew[0], "keep")
    lines = entries.of(calm.db, "screen", frame.number)
    image = next(line for line in lines if line.step == "image")
    calm.strike(image.entry)
    life = calm.life(frame)
    assert life.standing is Standing.UNKNOWN and life.conflict
    plan = run_plan.plan(calm.db, run.number)
    verdict = at_press_now.check(calm.db, plan, find.screen(calm.db, frame.code), calm.now).verdict
    assert str(verdict.level) == "stop" and {"image-unknown", "log-unclear"} & set(verdict.keys)
    number = calm.separations[run.lines[0].key]
    sent = form({"separations": number, "at": image.at.isoformat()})
    screens.log(
        calm.db, calm.boss, find.screen(calm.db, frame.code), "image", sent, post="image-once-more-1", now=calm.tick()
    )
    assert calm.life(frame).standing is Standing.KEPT and calm.life(frame).stencil.separations == (number,)


@pytest.mark.parametrize("back", [1, 30, 600])
def test_a_finish_typed_late_with_an_earlier_time(calm: CalmShop, back: int) -> None:
    """However far it is dated back, the screens come off after they printed and the run is finished."""
    run = calm.printing()
    frames = list(run.hung.values())
    at = (calm.tick(minutes=20) - timedelta(minutes=back)).isoformat()
    calm.send(run, "finish", at=at, good=10, then="keep")
    assert calm.story(run).state == "finished" and calm.story(run).good == 48
    for frame, strokes in zip(frames, (1, 2), strict=True):
        life = calm.life(frame)
        assert (life.standing, life.impressions, life.uses) == (Standing.KEPT, 50 * strokes, 1)
    assert (
        runs.open_run(
            calm.db,
            calm.crew[0],
            form({"job": run.order.code, "press": "Press 1"}),
            post="open-after-late-1",
            now=calm.tick(),
        )
        != run.number
    )


@pytest.mark.parametrize("back", [0, 30, 600])
def test_a_paused_run_is_finished_with_an_earlier_time(calm: CalmShop, back: int) -> None:
    """The screens lie kept for it since the pause; what is decided over them comes after, however it is dated."""
    run = calm.printing()
    frames = list(run.hung.values())
    calm.send(run, "pause")
    at = (calm.tick(minutes=20) - timedelta(minutes=back)).isoformat()
    calm.send(run, "finish", at=at, then="strip", still_needed="yes")
    assert calm.story(run).state == "finished"
    for frame in frames:
        life = calm.life(frame)
        assert (life.standing, life.conflict, life.decided, life.uses) == (Standing.TO_STRIP, False, "strip", 1)
