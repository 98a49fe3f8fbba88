"""Which frame serves, and what a screen's log teaches, at the edge of each rule; the limits are the shipped ones."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from test_boards import ASKED, CHECKED, GOOD, NOW, SPEC, carrier, life
from test_rules_edges import STRETCHED, log

from tickets.calculator.verdict import Level
from tickets.domain.entry import stamp
from tickets.domain.screens import frames, readings
from tickets.domain.screens.frames import Alike, Frame, Has, Would
from tickets.domain.screens.screen import Life, Tension
from tickets.domain.spec import Spec, shipped
from tickets.domain.stages import LOGGED_BY_DEFAULT, Standing


def served(
    free: Life, limits: Spec = SPEC, neighbours: Any = None, asked: Any = ASKED, **more: Any
) -> dict[str, Level]:
    """What is said of a frame that serves, with how good that is."""
    found = frames.best([Frame(0, "F0", free, GOOD)], asked, neighbours or {}, limits, NOW, **more)
    return {one.key: one.level for one in found[0].why} if found else {}


def measured(days: float, n_per_cm: float = 24.0) -> Life:
    reading = Tension("e", stamp(NOW - timedelta(days=days)), (n_per_cm,) * 5)
    return replace(life(), tension=reading)


OK, CAUTION = Level.OK, Level.CAUTION
GOOD_WHY = {"serves-mesh-and-thread": OK, "serves-tension-share": OK, "serves-unused": OK}


@pytest.mark.parametrize(("free", "more", "said"), [
    (life(), {}, GOOD_WHY), (life(tension=18), {}, {**GOOD_WHY, "serves-tension-share": CAUTION}),
    (measured(400), {}, {**GOOD_WHY, "serves-tension-share": CAUTION, "serves-tension-old": CAUTION}),
    (life(tension=None), {},
     {"serves-mesh-and-thread": OK, "serves-not-measured": CAUTION, "serves-unused": OK}),
    (life(thread=None), {},
     {"serves-thread-unknown": CAUTION, "serves-tension-share": OK, "serves-unused": OK}),
    (life(), {"asked": replace(ASKED, thread_um=None)},
     {"serves-mesh": OK, "serves-tension-share": OK, "serves-unused": OK}),
    (life(uses=1), {}, {"serves-mesh-and-thread": OK, "serves-tension-share": OK, "serves-uses": OK}),
    (life(), {"promised": [0]}, {**GOOD_WHY, "serves-promised": CAUTION}), (life(), {"promised": [1]}, GOOD_WHY),
    (life(), {"neighbours": {"A": life()}}, {**GOOD_WHY, "serves-near": OK}),
    (life(), {"neighbours": {"A": life(tension=None)}}, GOOD_WHY),
    (life(tension=24), {"neighbours": {"A": life(tension=18)}}, {**GOOD_WHY, "serves-far": CAUTION}),
    (life(), {"limits": Spec(one for one in shipped() if one.key != "new-mesh-tension")},
     {"serves-mesh-and-thread": OK, "serves-tension": OK, "serves-unused": OK}),
    (life(Standing.COATED, coated_days=1), {}, {**GOOD_WHY, "serves-coated-hours": OK}),
    (life(Standing.COATED, coated_days=2), {}, {**GOOD_WHY, "serves-coated-days": OK}),
    (life(Standing.COATED, coated_days=0.01), {}, {**GOOD_WHY, "serves-coated-hours": OK, "serves-wet": CAUTION}),
    (life(Standing.COATED, coated_days=60), {}, {**GOOD_WHY, "serves-coat-old": CAUTION}),
])  # fmt: skip
def test_what_is_said_of_a_frame_that_serves(free: Life, more: dict[str, Any], said: dict[str, Level]) -> None:
    assert served(free, **more) == said


@pytest.mark.parametrize(("frame", "asked", "logged", "found"), [
    (Alike(230 / 2.54, 48.0, "aluminium", 24.0), {}, LOGGED_BY_DEFAULT, Would.FIT),
    (Alike(230 / 2.54, 48.0, "aluminium", 10.0), {}, LOGGED_BY_DEFAULT, Would.SLACK),
    (Alike(230 / 2.54, 48.0, "aluminium", None), {}, LOGGED_BY_DEFAULT, Would.NOT_MEASURED),
    (Alike(230 / 2.54, 48.0, "aluminium", None), {}, {"coat"}, Would.FIT),
    (Alike(230 / 2.54, None, "aluminium", 24.0), {}, LOGGED_BY_DEFAULT, Would.THREAD_UNKNOWN),
    (Alike(230 / 2.54, None, "aluminium", 10.0), {}, LOGGED_BY_DEFAULT, Would.NO),
    (Alike(None, 48.0, "aluminium", 24.0), {}, LOGGED_BY_DEFAULT, Would.NO),
    (Alike(160 / 2.54, 48.0, "aluminium", 24.0), {}, LOGGED_BY_DEFAULT, Would.NO),
    (Alike(160 / 2.54, 48.0, "aluminium", None), {}, LOGGED_BY_DEFAULT, Would.NO),
    (Alike(230 / 2.54, 64.0, "aluminium", 24.0), {}, LOGGED_BY_DEFAULT, Would.NO),
    (Alike(90.5512, 48.0, "aluminium", 24.0), {"count_per_cm": 90.55118}, LOGGED_BY_DEFAULT, Would.FIT),
    (Alike(230 / 2.54, 48.0, "wood", 24.0), {"work": "one-colour"}, LOGGED_BY_DEFAULT, Would.FIT),
])  # fmt: skip
def test_whether_frames_alike_would_serve(frame: Alike, asked: Any, logged: Any, found: Would) -> None:
    assert frames.would(frame, replace(ASKED, **asked), SPEC, NOW, logged) is found
    assert (found in frames.HOPED) == (found in {Would.FIT, Would.NOT_MEASURED})


@pytest.mark.parametrize(("count", "found"), [(90.5512, Would.FIT), (90.5511, Would.NO)])
def test_a_count_is_as_it_is_kept_also_where_no_other_will_do(count: float, found: Would) -> None:
    exact = Spec(one for one in shipped() if one.key != "mesh-count-tolerance")
    asked = replace(ASKED, count_per_cm=90.55118)
    assert frames.would(Alike(count, 48.0, "aluminium", 24.0), asked, exact, NOW, LOGGED_BY_DEFAULT) is found


def test_frames_alike_and_meshes_that_are_one() -> None:
    free = [
        Frame(at, f"F{at}", one, GOOD)
        for at, one in enumerate(
            [
                life(),
                life(count=160 / 2.54),
                life(thread=None),
                life(thread=64),
                life(tension=10),
                replace(life(), mesh=None),
            ]
        )
    ]
    assert [one.screen for one in frames.alike(free, ASKED, SPEC)] == [0, 2, 4]
    slack = [one.screen for one in free if frames.too_slack(one, ASKED, SPEC, NOW)]
    assert slack == [4]
    assert [frames.like(one.life) for one in (free[0], free[5])] == [
        Alike(230 / 2.54, 48.0, "aluminium", 24.0), Alike(None, None, "", 24.0)]  # fmt: skip
    assert frames.like(life(tension=None)).minimum_n_per_cm is None
    # 90/cm is 228.6/in, within the 3 % of 230; 30 % finer is another, and so is one whose thread nobody noted
    meshes = [(90.0, 48.0), (230 / 2.54, 48.0), (120.0, 34.0), (90.0, None), (91.0, None), (90.0, 49.5), (90.0, 55.0)]
    assert frames.one_mesh(meshes, SPEC) == [[0, 1, 5], [2], [3, 4], [6]]


# -- what a log teaches

ROUND: list[tuple[str, dict[str, Any]]] = [
    STRETCHED, ("coat", {"bucket": 4}), ("image", {"separations": [1]}),
    ("expose", {"exposure_s": 60.5, "exposure_unit": "Unit A", "irradiance_mw_cm2": True}),
    ("washout", {"result": "fault", "fault": "soft", "step_held": 6}), ("check", {"result": "maybe"}), ("check", {}),
    ("check", {"result": "fault", "fault": "pinholes"}), ("check", {"result": "good"})]  # fmt: skip


def test_each_washout_and_each_look_at_a_stencil_is_learned_from_its_own_exposure() -> None:
    _life, lesson = readings.replay(log(*ROUND), LOGGED_BY_DEFAULT)
    (washed,), checked = lesson.washouts, lesson.checks
    assert (washed.exposure_unit, washed.exposure_s, washed.step_held, washed.result, washed.fault) == (
        "Unit A", 60.5, 6.0, "fault", "soft")  # fmt: skip
    assert (washed.emulsion, washed.thread_um, washed.irradiance_mw_cm2, washed.distance_mm) == (4, 48, None, None)
    assert [(one.result, one.fault, one.exposure_unit, one.emulsion) for one in checked] == [
        ("fault", "pinholes", "Unit A", 4), ("good", "", "Unit A", 4)]  # fmt: skip
    assert [one.burnt_ms for one in lesson.exposures] == [60_500]


@pytest.mark.parametrize("step", ["coat", "strip", "stretch"])
def test_what_was_exposed_before_a_new_coat_tells_nothing_of_what_comes_after(step: str) -> None:
    again = STRETCHED if step == "stretch" else (step, {})
    washed = ("washout", {"result": "good", "step_held": 7})
    _life, lesson = readings.replay(log(*ROUND[:4], again, washed, ("check", {"result": "good"})), LOGGED_BY_DEFAULT)
    assert (lesson.washouts[0].exposure_unit, lesson.washouts[0].exposure_s) == ("", None)
    assert [one.exposure_unit for one in lesson.checks] == [""]
    _life, lesson = readings.replay(log(*ROUND[:4], ("tension", {}), washed), LOGGED_BY_DEFAULT)
    assert lesson.washouts[0].exposure_unit == "Unit A" and lesson.tensions == ()


def test_a_mesh_lives_from_its_stretching_to_what_ended_it() -> None:
    used = ("stretch", {"mesh_count_as_labelled": "77/cm", "frame": "wood", "in_use": "yes", "uses_before": 12})
    tension = ("tension", {"readings_n_per_cm": [24, 22], "readings_weft_n_per_cm": [26]})
    acts = [used, tension, ("fault", {"kind": "torn"}), STRETCHED, ("found", {"standing_seen": "stripped"})]
    _life, lesson = readings.replay(log(*acts), LOGGED_BY_DEFAULT)
    first, second = lesson.meshes
    assert (first.number, first.entered_uses, first.cause, second.number, second.entered_uses) == (1, 12, "torn", 2, 0)
    assert first.ended_at == stamp(NOW - timedelta(days=2)) and (second.ended_at, second.cause) == ("", "")
    (reading,) = lesson.tensions
    assert (reading.mesh, reading.minimum_n_per_cm, reading.spread_n_per_cm, reading.warp) == (1, 22, 2, (24, 22))


# -- how near a screen is


@pytest.mark.parametrize(("standing", "more", "found", "step"), [
    (Standing.TO_CLEAN, {}, Has.OFF_PRESS, "clean"), (Standing.TO_STRIP, {}, Has.OFF_PRESS, "decide"),
    (Standing.TO_CHECK, {}, Has.UNDER_WAY, "check"), (Standing.IMAGED, {}, Has.UNDER_WAY, "expose"),
    (Standing.EXPOSED, {}, Has.UNDER_WAY, "washout"), (Standing.COATED, {}, Has.UNDER_WAY, "image"),
    (Standing.KEPT, {**CHECKED, "decided": "strip"}, Has.GOING, "decide"), (Standing.AWAY, CHECKED, Has.AWAY, ""),
    (Standing.READY, {**CHECKED, "not_at": 3}, Has.MISSING, ""), (Standing.READY, CHECKED, Has.READY, ""),
    (Standing.TO_CHECK, {"stencil": {"washout": "fault", "fault": "soft"}}, Has.UNDER_WAY, "check"),
    (Standing.UNKNOWN, {}, Has.UNSURE, ""), (Standing.READY, {**CHECKED, "conflict": True}, Has.UNSURE, ""),
    (Standing.READY, {**CHECKED, "torn": True}, Has.UNFIT, "")])  # fmt: skip
def test_how_near_a_screen_is_and_what_it_needs_next(standing: Standing, more: Any, found: Has, step: str) -> None:
    one = frames.progress([carrier(standing, **more)], ASKED, SPEC, NOW, LOGGED_BY_DEFAULT)
    assert (one.has, one.next_step) == (found, step)
    assert (one.verdict is not None) == (found in {Has.READY, Has.ON_PRESS, Has.KEPT, Has.UNFIT})


@pytest.mark.parametrize(
    ("standing", "logged", "step"),
    [
        (Standing.IMAGED, {"check", "hang"}, "check"),
        (Standing.TO_CHECK, {"hang"}, "hang"),
        (Standing.READY, set(), "hang"),
        (Standing.COATED, {"washout"}, "washout"),
        (Standing.RETIRED, {"hang"}, ""),
        (Standing.UNKNOWN, {"check"}, ""),
    ],
)
def test_the_next_step_is_one_that_the_shop_logs(standing: Standing, logged: set[str], step: str) -> None:
    assert frames.next_step(standing, logged) == step
