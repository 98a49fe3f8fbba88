"""What a screen's log comes to, step by step: after each step what changed of the screen, then all that the log taught.
Read whole and checked by hand against the meanings of the steps. `@3` is the third hour."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from whole import flat, same_as_read

from tickets.domain.entry import Entry
from tickets.domain.screens import needs, readings, screen
from tickets.domain.screens.screen import Life
from tickets.domain.stages import LOGGED_BY_DEFAULT

START = datetime(2026, 3, 2, 0, 0, tzinfo=UTC)
AWAY = 99
Step = tuple[Any, ...]


def entries(steps: Iterable[Step]) -> list[Entry]:
    """One step an hour, by person 1: (step, values); `by`, `verdict`, `override` and `at` are said among the values."""
    found = []
    for number, (step, *some) in enumerate(steps, 1):
        values = dict(some[0]) if some else {}
        own = {
            "person": values.pop("by", 1),
            "verdict": values.pop("verdict", None),
            "override": values.pop("override", None),
        }
        at = START + timedelta(hours=values.pop("at", number))
        found.append(Entry(entry=f"e{number}", step=step, at=at, saved_at=START + timedelta(hours=number), screen=1,
                           run=values.get("run"), values=values, **own))  # fmt: skip
    return found


def hours(text: str) -> str:
    def hour(match: re.Match[str]) -> str:
        return f"@{(datetime.fromisoformat(match[0]) - START).total_seconds() / 3600:g}"

    return re.sub(r"2026-03-\d\dT[\d:.]+Z", hour, text)


def changes(before: Life, after: Life) -> str:
    was, now = (dict(line.split(": ", 1) for line in flat(one)) for one in (before, after))
    told = [f"{name} {now.get(name, '–')}" for name in {**was, **now} if was.get(name) != now.get(name)]
    return ", ".join(told) or "nothing"


def story(steps: Iterable[Step], logged: Any = LOGGED_BY_DEFAULT) -> Iterator[str]:
    life, lines = Life(), entries(steps)
    for number, line in enumerate(lines, 1):
        now, lesson = readings.replay(lines[:number], logged, {AWAY})
        said = " ".join(f"{name}={value}" for name, value in line.values.items())
        then = screen.next_step(now, logged)
        wet = screen.wet_since(now)
        yield hours(f"{line.step} {said}: {changes(life, now)}; next {then}" + (f"; wet by {wet[0]}" if wet[0] else ""))
        life = now
    taught: dict[str, list[str]] = {}
    for one in flat(lesson):
        which, name = re.match(r"((?:past\.)?\w+(?:\.\d+)?)\.?(.*)", one).groups()  # type: ignore[union-attr]
        taught.setdefault(which, []).append(name.replace(": ", " "))
    yield from (hours(f"{which}: {', '.join(some)}") for which, some in taught.items())
    yield ""


def verdict(*keys: str, **numbers: Any) -> dict[str, Any]:
    return {
        "level": "caution",
        "reasons": [{"key": key, "level": "caution", "numbers": numbers, "spec": [5]} for key in keys],
    }


def shown(*keys: str, **numbers: Any) -> dict[str, Any]:
    return {"verdict": verdict(*keys, **numbers)}


def held(level: str) -> dict[str, Any]:
    return {"verdict": {"level": level, "reasons": [{"key": "step-held", "level": level}]}}


STRETCH: Step = ("stretch", {"mesh_count_as_labelled": "230/in", "thread_um": 48, "mesh_colour": "yellow",
"frame": "aluminium",
                             "frame_size_mm": "584 x 787", "by": "Otto", "opening_um": 62, "open_area_pct": 32.5,
                             "fabric_thickness_um": 78, "ink_volume_cm3_m2": 25, "mark": "A 1"})  # fmt: skip
COAT: Step = ("coat", {"bucket": 4, "preset": "2+1", "room_c": 21, "room_rh_pct": 40, "coated_thickness_um": 88})
TENSION: Step = ("tension", {"readings_n_per_cm": [24, 23, 25], "readings_weft_n_per_cm": [26], "after": "stretch"})
IMAGE: Step = ("image", {"separations": [11], "means": "film"})
EXPOSE: Step = ("expose", {"exposure_s": 60.5, "exposure_units": 40, "exposure_unit": "Unit A",
"irradiance_mw_cm2": 9.5,
                           "distance_mm": 900})  # fmt: skip
WASHOUT: Step = ("washout", {"result": "good", "step_held": 7})
CHECK: Step = ("check", {"result": "good", "by": 2})
HANG: Step = ("hang", {"run": 5, "head": 2, "station": 1, "press": 3})
READY = [STRETCH, TENSION, ("degrease",), COAT, IMAGE, EXPOSE, WASHOUT, CHECK]
PRINT: Step = ("print", {"run": 5, "impressions": 120})

STORIES: dict[str, list[Step]] = {
    "the whole way round": [
        *READY, ("rack", {"place": 7}), HANG, PRINT, ("pull", {"run": 5, "condition": "worn", "then": "keep",
        "for": "autumn"}),
        ("clean",), ("rack", {"place": 8}), ("decide", {"then": "keep", "until": "2026-05-01", "for": "the reorder"}),
        ("decide", {"then": "strip", "needed_by": ["7K32XM", 9]}), ("strip",), ("haze",), ("degrease",), COAT,
    ],
    "coated twice, two images, exposed again": [
        STRETCH, ("degrease",), COAT, ("coat", {"bucket": 5, "room_c": 19}), ("coat", {"bucket": 4}), ("coat", {}),
        ("image", {"separations": [11, 12], "accept": {"who": "Otto", "asked": ["200/in"]}}),
        ("image", {"separations": [12, 13], "accept": {"who": "Vera"}}), ("image", {"separations": [14]}),
        ("expose", {"exposure_s": 5, "purpose": "test strip"}), ("expose", {"separations": [15], "exposure_s": True}),
        ("washout", {"result": "fault", "fault": "pinholes", "step_held": 6}), ("check", {"result": "good"}),
        ("check", {"result": "fault", "fault": "soft edges"}), ("check", {"result": "maybe"}), ("check",
        {"result": "good", "by": 2}),
        ("harden", {"agent": "hardener"}), ("washout", {"result": "fault", "fault": "soft"}), ("strip",),
    ],
    "a test strip": [STRETCH, ("degrease",), COAT, ("expose", {"purpose": "test strip",
    "exposure_s": 10, "exposure_unit": "Unit A"}),
                     ("washout", {"result": "good", "step_held": 4}), ("check", {"result": "good"}), ("decide",
                     {"then": "keep"}),
                     ("strip",)],
    "hung in spite of its stage": [
        *READY[:-1], ("hang", {"run": 5, "head": 2, "station": 1, "override": {"who": "Otto"}}), PRINT,
        ("pull", {"run": 5, "condition": "good", "then": "keep"}), ("decide", {"then": "keep"}), ("check",
        {"result": "good", "by": 2}),
        ("hang", {"run": 6, "station": 1}), ("check", {"result": "good", "by": 2}), ("print",
        {"run": 6, "impressions": 3}),
        ("pull", {"run": 6, "then": "strip"}), ("clean",), ("decide", {"then": "undecided"}),
    ],
    "hung to clean, and again": [
        *READY, HANG, PRINT, ("pull", {"run": 5, "then": "undecided", "condition": "good"}),
        ("hang", {"run": 5, "station": 1, "override": {"who": "Otto"}}), ("print", {"run": 5, "impressions": 30}),
        ("pull", {"run": 5, "then": "strip"}), ("hang", {"run": 7, "station": 1, "override": {"who": "Otto"}}),
        ("print", {"run": 7, "impressions": 30}), ("pull", {"run": 7}), ("clean",),
    ],
    "a pause, and another run": [
        *READY, HANG, PRINT, ("pull", {"run": 5, "then": "keep"}), HANG, ("print",
        {"run": 5, "impressions": 10}), ("print", {"run": 5}),
        ("pull", {"run": 5, "then": "keep"}), ("hang", {"run": 6}), ("print",
        {"run": 6, "impressions": 10}), TENSION, ("pull", {"run": 9}),
        ("pull", {"run": 6, "then": "keep", "condition": "pinholes"}), ("strip",), ("strip",),
    ],
    "found": [
        ("found", {"standing_seen": "ready", "separations_seen": [11]}), ("check", {"result": "good"}),
        ("check", {"result": "good", "confirmed": "alone"}), ("found", {"standing_seen": "kept",
        "separations_seen": [12]}),
        ("found", {"standing_seen": "imaged", "separations_seen": [12]}), ("found", {"standing_seen": "exposed"}),
        ("found", {"standing_seen": "to check"}), ("found", {"standing_seen": "coated"}), ("found",
        {"standing_seen": "degreased"}),
        ("found", {"standing_seen": "on press"}), ("found", {"standing_seen": "no such stage"}), ("found",
        {"standing_seen": "to clean"}),
        ("found", {"standing_seen": "retired"}), ("found", {"standing_seen": "stripped"}),
    ],
    "found where the log has it": [
        *READY, ("found", {"standing_seen": "ready", "separations_seen": [11]}), ("rack", {"place": AWAY}),
        ("found", {"standing_seen": "unknown"}), ("rack", {"place": AWAY}), ("rack", {"place": 7}), HANG,
        ("found", {"standing_seen": "ready"}), ("washout", {"result": "fault", "fault": "pinholes"}),
        ("found", {"standing_seen": "ready"}),
    ],
    "missing and back": [
        *READY, ("rack", {"place": 7}), ("note", {"not_at": 8}), ("note", {"not_at": 7}), ("note",
        {"not_at": 7}), ("tension", {}),
        TENSION, ("retag",), ("rack", {"place": 9}), HANG, ("note", {"not_at": 3}),
    ],
    "slack, torn and given up": [
        *READY[:3], ("fault", {"kind": "slack", "by": 4}), ("retension",), TENSION, ("fault", {"kind": "ghost"}),
        ("haze",),
        ("fault", {"kind": "slack", "then": "restretch"}), ("retension",), ("fault", {"kind": "torn",
        "then": "note"}),
        ("fault", {"kind": "torn"}), ("strip",), STRETCH, ("retire", {"cause": "frame bent"}), STRETCH,
    ],
    "torn at the press": [*READY, HANG, PRINT, ("pull", {"run": 5, "condition": "torn", "then": "keep"}), ("strip",),
                          ("found", {"standing_seen": "stripped"}), ("decide", {"condition": "torn"})],
    "in use when it came": [
        ("stretch", {"mesh_count_as_labelled": "43T", "in_use": "yes"}), TENSION,
        ("stretch", {"mesh_count_as_labelled": "77/cm", "in_use": "yes", "uses_before": 12}), ("stretch",
        {"mesh_count_as_labelled": "fine"}),
        ("stretch", {"mesh_count_as_labelled": "0/cm"}),
    ],
    "steps that were not logged": [
        STRETCH, COAT, WASHOUT, HANG, CHECK, ("pull", {"run": 5}), ("coat", {}), ("strip",), EXPOSE,
        ("degrease",), ("coat", {}),
    ],
    "crossed out and dated back": [
        *READY, ("check", {"result": "fault", "fault": "x"}), ("cross-out", {"entry": "e9"}),
        ("tension", {"readings_n_per_cm": [20], "at": 2.5}), ("harden", {"agent": "late", "at": 0.5}),
    ],
    "dry is said": [
        STRETCH, ("degrease",), ("coat", {"bucket": 4, "dry": "yes"}), ("image",
        {"separations": [1], "dry": "yes"}), WASHOUT,
        ("check", {"result": "good", "dry": "yes"}),
    ],
    "cautions shown and answered": [
        STRETCH, ("degrease",),
        ("coat", {"bucket": 4, **shown("room-damp", "room-warm", "bucket-past-time", "bucket-not-known",
        "mesh-wet", room_pct=80)}),
        ("image", {"separations": [11], **shown("still-drying", left_min=4)}),
        ("expose", {"exposure_s": 50, **shown("exposure-time-off", way_word="shorter")}),
        ("expose", {"exposure_s": 80, **shown("exposure-time-off", way_word="longer")}),
        ("washout", {"result": "good", **held("caution")}), ("washout", {"result": "fault", **held("ok")}),
        ("check", {"result": "good", **shown("stencil-wet", "x")}), PRINT,
    ],
    "imaged dry": [STRETCH, ("degrease",), ("coat", {"bucket": 4, **shown("room-damp", "touch-dry", "room-warm")}),
                   ("image", {"separations": [11]}), ("image", {"separations": [12], "verdict": {"level": "ok",
                   "reasons": []}})],
}  # fmt: skip


def test_what_screens_logs_come_to() -> None:
    lines = [one for name, steps in STORIES.items() for one in (f"== {name}", *story(steps))]
    same_as_read("lives", lines)


def test_what_screens_logs_come_to_where_little_is_logged() -> None:
    shop = ("image", "check", "hang")
    some = ("the whole way round", "a pause, and another run", "steps that were not logged", "found")
    lines = [one for name in some for one in (f"== {name}", *story(STORIES[name], shop))]
    same_as_read("lives_short", lines)


def test_a_life_is_the_same_after_it_was_kept_at_every_step() -> None:
    for steps in STORIES.values():
        lines = entries(steps)
        for number in range(len(lines) + 1):
            life, _lesson = readings.replay(lines[:number], LOGGED_BY_DEFAULT, {AWAY})
            assert Life.from_dict(life.to_dict()) == life


def wants() -> Iterator[str]:
    """What each step would take away that something may need, and why a screen covers no job."""
    for name, steps in STORIES.items():
        life, lines = Life(), entries(steps)
        yield f"== {name}"
        for number, line in enumerate(lines, 1):
            now, _lesson = readings.replay(lines[:number], LOGGED_BY_DEFAULT, {AWAY})
            said = ["usable"] * needs.usable(now) + ["given up"] * needs.gives_up(life, now, line.step)
            said += [f"covers none: {needs.covers_none(now)}"] * bool(needs.covers_none(now)) + [needs.stage_said(now)]
            yield f"{line.step}: {'; '.join(said)}"
            life = now


def test_what_steps_take_away() -> None:
    same_as_read("lives_needed", wants())


def test_who_still_needs_a_screen_is_said_in_sentences() -> None:
    job = needs.Need("job", "2026-03-09", "7K32XM", "Gulls", image="white")
    some = [
        job, replace(job, image="red"), replace(job, image=""), replace(job, run=12), replace(job, why="repeat"),
        replace(job, day="2026-03-08", job="8K32XN"), needs.Need("kept", "2026-04-01", what="autumn"),
        needs.Need("kept", "2026-04-01"), needs.Need("kept", "", what="autumn"),
    ]  # fmt: skip
    wanted = [needs.WantedScreen("9K32XP", "A 1", (*some, job)), needs.WantedScreen("9K32XQ", "", (job,))]
    same_as_read("needs", needs.sentences(wanted, date(2026, 3, 2)))
    assert wanted[0].codes == ["7K32XM", "8K32XN"]
    assert needs.let_go(Life(let_go=("7K32XM",)), "7K32XM") and not needs.let_go(Life(), "7K32XM")
