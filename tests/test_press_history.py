"""The stencil's own history at the press: what its log says is judged again there, said once, with who knew of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tickets.calculator.verdict import Level, Reason, Verdict, judge, say
from tickets.domain.bucket import Bucket
from tickets.domain.entry import Entry, stamp
from tickets.domain.person import Actor, may_pass, to_pass
from tickets.domain.screens import checks, press_checks
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.press_checks import Seen, at_press
from tickets.domain.screens.screen import TEST_STRIP, Life
from tickets.domain.screens.screen_log import replay
from tickets.domain.separation import Separation
from tickets.domain.spec import Spec, shipped
from tickets.domain.stages import LOGGED_BY_DEFAULT, Standing

NOW = datetime(2026, 5, 20, 9, 0, tzinfo=UTC)
SPEC = Spec(shipped())
ANNA, BORIS = 1, 2
NAMES = {ANNA: "Anna", BORIS: "Boris"}
WHITE = Separation("Invented Chapel", "Tower", "B", 305, "white")
RESISTANT = Bucket(4, "7K32XM", "dual-cure emulsion", "Emulsion A", water_resistant="yes")
CAUTION, STOP, OK = Level.CAUTION, Level.STOP, Level.OK


class Log:
    """A screen's log, ready in May: each act at so many days before now, with the cautions that its verdict showed."""

    def __init__(self, **acts: Any) -> None:
        self.lines: list[Entry] = []
        self.act(60, "stretch", mesh_count_as_labelled="230/in", thread_um=48, frame="aluminium", **acts)
        self.act(20, "tension", readings_n_per_cm=[24, 24, 24, 24, 24], shown=())

    def act(
        self, ago: float, step: str, shown: Sequence[Reason] = (), person: int = ANNA, by: str = "", **values: Any
    ) -> Log:
        at = NOW - timedelta(days=ago)
        self.lines.append(
            Entry(
                entry=f"e{len(self.lines)}",
                step=step,
                at=at,
                saved_at=at,
                person=person,
                values=values,
                verdict=judge(shown).to_dict() if shown else None,
                override={"why": by} if by else None,
            )
        )
        return self

    def made(self, coated: float = 10, exposed: float = 8, step_held: float | None = None, **more: Any) -> Log:
        """Coated, exposed, washed out and checked; `more`: what a step's verdict showed, by its name."""
        held = {"step_held": step_held} if step_held is not None else {}
        self.act(coated, "coat", more.get("coat", ()), bucket=4, **more.get("values", {}))
        self.act(exposed + 0.1, "image", more.get("image", ()), separations=[11])
        self.act(exposed, "expose", more.get("expose", ()), exposure_s=80)
        self.act(exposed - 0.1, "washout", more.get("washout", ()), result="good", **held)
        return self.act(exposed - 0.5, "check", more.get("check", ()), BORIS, result="good")

    def life(self) -> Life:
        return Life.from_dict(replay(self.lines, LOGGED_BY_DEFAULT).to_dict())

    def at_press(self, ink: str = "plastisol", work: str = "colours", emulsion: Bucket | None = RESISTANT) -> Any:
        asked = Asked(1, 11, WHITE, "230/in", 230 / 2.54, 48.0, work, frozenset({ink}))
        seen = Seen(1, "7K32XM", self.life(), emulsion, {11: WHITE}, NAMES)
        return at_press(seen, [asked], {}, 5, SPEC, NOW).verdict

    def found(self, **how: Any) -> dict[str, Level]:
        """What speaks against it, by key."""
        return {reason.key: reason.level for reason in self.at_press(**how).reasons if reason.level is not OK}


def sentence(reason: Reason) -> str:
    return say(reason).sentence.replace("\N{NO-BREAK SPACE}", " ")


def told(key: str, **numbers: Any) -> Reason:
    return Reason(key, CAUTION, numbers)


def test_a_stencil_without_a_doubt_is_simply_right() -> None:
    assert Log().made(step_held=7).found(ink="discharge") == {}
    assert Log().made().found(ink="discharge") == {}  # no step read: nothing to judge


# The step held


@pytest.mark.parametrize(
    ("ink", "held", "wanted"),
    [
        ("plastisol", 7, {}),
        ("plastisol", 6, {"stencil-weak": CAUTION}),
        ("plastisol", 3, {"stencil-weak": CAUTION}),
        ("silicone", 3, {"stencil-weak": CAUTION}),
        ("water-base", 6, {"stencil-weak": CAUTION}),
        ("water-base", 5.9, {"stencil-weak-for-ink": STOP}),
        ("discharge", 6, {"stencil-weak": CAUTION}),
        ("discharge", 3, {"stencil-weak-for-ink": STOP}),
        ("plastisol", 0, {"stencil-weak": CAUTION}),  # no step held: weaker than any that can be read
        ("discharge", 0, {"stencil-weak-for-ink": STOP}),
    ],
)
def test_the_step_held_counts_by_the_ink(ink: str, held: float, wanted: dict[str, Level]) -> None:
    assert Log().made(step_held=held).found(ink=ink) == wanted


def test_a_weak_stencil_under_a_water_ink_is_for_the_lead_to_pass() -> None:
    causes = ["stencil-weak-for-ink"]
    assert not may_pass(Actor(1, "Anna", "press"), causes)
    assert may_pass(Actor(1, "Anna", "press lead"), causes)


def test_a_test_strips_step_says_nothing_of_a_jobs_stencil() -> None:
    log = Log().made(step_held=3)
    life = log.life()
    assert life.stencil is not None
    strip = replace(life.stencil, purpose=TEST_STRIP)
    assert press_checks.step_held(strip, RESISTANT, frozenset({"discharge"}), SPEC) == []


def test_a_step_counts_up_to_the_last_one_of_the_strip() -> None:
    """A Stouffer strip has 21 steps (its maker's sheet); what is typed beyond them is no step."""
    stencil = Log().made(step_held=7).life().stencil
    assert stencil is not None
    for held, said in ((20, ["step-held"]), (21, ["step-held"]), (21.5, []), (0, ["stencil-weak"])):
        found = press_checks.step_held(replace(stencil, step_held=held), RESISTANT, frozenset({"plastisol"}), SPEC)
        assert [one.key for one in found] == said, held


# The coat's age, the emulsion's age, drying, build


def test_the_coat_is_as_old_as_it_was_when_exposed() -> None:
    assert Log().made(coated=36, exposed=8).found() == {}
    assert Log().made(coated=37, exposed=8).found() == {"coated-too-long": CAUTION}
    assert Log().made(coated=50, exposed=48).found() == {}  # it is the coat that ages, not the stencil


def test_the_coats_age_goes_by_work_and_emulsion() -> None:
    diazo = replace(RESISTANT, kind="diazo emulsion")
    log = Log().made(coated=18, exposed=8)
    assert log.found(work="halftone", emulsion=diazo) == {"coated-too-long": CAUTION}
    assert log.found(work="halftone") == {} and log.found(emulsion=diazo) == {}


def test_the_emulsions_age_is_that_of_when_it_was_coated() -> None:
    then, since = (replace(RESISTANT, good_until=stamp(NOW - timedelta(days=ago))) for ago in (12, 9))
    assert Log().made().found(emulsion=then) == {"bucket-past-time": CAUTION}
    assert Log().made().found(emulsion=since) == {}
    assert Log().made(step_held=7).found(emulsion=then) == {}  # its own step wedge was the test strip
    failed = replace(RESISTANT, test="fault")
    assert Log().made().found(emulsion=failed) == {"bucket-test-failed": STOP}
    assert Log().made(step_held=8).found(emulsion=failed) == {}


def test_what_was_washed_out_just_now_is_a_stop_at_the_press() -> None:
    soon = Log().act(1, "coat", bucket=4).act(0.2, "image", separations=[11]).act(0.1, "expose")
    soon.act(10 / 1440, "washout", result="good").act(5 / 1440, "check", person=BORIS, result="good")
    assert soon.life().standing is Standing.READY
    assert soon.found() == {"stencil-wet": STOP}
    assert Log().made().found() == {}


@pytest.mark.parametrize(
    ("coated_um", "work", "wanted"),
    [
        (92, "colours", {}),
        (85, "colours", {"build-thin": CAUTION}),
        (102, "colours", {"build-thick": CAUTION}),
        (98, "colours", {}),
        (98, "halftone", {"build-thick": CAUTION}),
        (70, "colours", {"build-not-possible": CAUTION}),
        (None, "colours", {}),
    ],
)
def test_the_build_counts_where_it_was_measured(coated_um: float | None, work: str, wanted: dict[str, Level]) -> None:
    measured = {"coated_thickness_um": coated_um} if coated_um else {}
    assert Log(fabric_thickness_um=80).made(values=measured).found(work=work) == wanted
    assert Log().made(values=measured).found(work=work) == {}  # the bare mesh was not measured


def test_a_build_out_of_the_span_is_said_at_the_coat_too() -> None:
    life = Log(fabric_thickness_um=80).life()
    keys = checks.coat(life, RESISTANT, {"coated_thickness_um": 84.0}, SPEC, NOW).keys
    assert "build-thin" in keys


def test_a_coat_that_was_measured_over_a_mesh_that_was_not_is_not_called_good() -> None:
    """300 um are too much over any such mesh, but what is not known is said as unknown, with what to note."""
    verdict = checks.coat(Log().life(), RESISTANT, {"coated_thickness_um": 300.0}, SPEC, NOW)
    assert verdict.level is Level.UNKNOWN and "build-fabric-unknown" in verdict.keys
    assert "coat-in-spec" not in verdict.keys
    assert "bare mesh" in say(next(one for one in verdict.reasons if one.key == "build-fabric-unknown")).advice
    assert checks.coat(Log().life(), RESISTANT, {}, SPEC, NOW).level is Level.OK  # nobody measured anything


# Hardening


@pytest.mark.parametrize(
    ("resists", "hardened", "wanted"),
    [
        ("no", False, {"emulsion-not-fit": STOP}),
        ("no", True, {"emulsion-only-hardened": CAUTION}),
        ("unknown", False, {"emulsion-not-known": CAUTION}),
        ("unknown", True, {}),
        ("yes", False, {}),
        ("yes", True, {}),
    ],
)
def test_hardening_counts_where_emulsion_and_ink_need_it(
    resists: str, hardened: bool, wanted: dict[str, Level]
) -> None:
    log = Log().made()
    if hardened:
        log.act(7, "harden", agent="post-exposure")
    emulsion = replace(RESISTANT, water_resistant=resists)
    assert log.found(ink="water-base", emulsion=emulsion) == wanted
    assert log.found(ink="plastisol", emulsion=emulsion) == {}


# Cautions that were shown


def test_a_caution_stays_with_the_stencil_and_is_said_with_who_was_shown_it_and_when() -> None:
    log = Log().made(expose=[told("still-drying", left_min=20, limit_min=60)])
    (reason,) = [one for one in log.at_press().reasons if one.level is not OK]
    assert (reason.key, reason.level, reason.numbers["shown_to"]) == ("exposed-wet", CAUTION, "Anna")
    assert reason.numbers["shown_at"] == stamp(NOW - timedelta(days=8))
    assert sentence(reason).endswith("Anna was shown this 8 days ago.")


@pytest.mark.parametrize(
    ("step", "shown", "numbers", "said"),
    [
        ("expose", "still-drying", {"left_min": 20, "limit_min": 60}, "not dry when it was imaged or exposed: 20 min"),
        ("expose", "touch-dry", {"left_min": 20, "limit_min": 60}, "not dry when it was imaged or exposed: 20 min"),
        ("check", "stencil-wet", {"left_min": 48, "limit_min": 60}, "checked while still wet, 48 min too early."),
        ("coat", "room-damp", {"room_pct": 60, "limit_pct": 50}, "This screen was coated at 60 % humidity"),
    ],
)
def test_what_is_over_is_said_as_over(step: str, shown: str, numbers: dict[str, Any], said: str) -> None:
    """A stencil that was wet then is dry by now; it is not told to be wet, and nobody is told to wait for it."""
    log = Log().made(**{step: [told(shown, **numbers)]})
    (reason,) = [one for one in log.at_press().reasons if one.level is not OK]
    assert said in sentence(reason) and "still wet:" not in sentence(reason)
    advice = say(reason).advice
    assert "wait" not in advice.lower() and "say that it is dry" not in advice


def test_a_room_that_was_warm_is_said_where_no_good_washout_answers_it() -> None:
    log = Log().act(10, "coat", [told("room-warm", room_c=38, limit_c=35)], bucket=4).act(8, "image", separations=[11])
    assert any("This screen was coated in a room at 38 °C" in sentence(one) for one in log.at_press().reasons)


@pytest.mark.parametrize("kind", ["glue gone", "frame bent"])
def test_a_fault_of_the_frame_is_answered_by_what_is_asked_for(kind: str) -> None:
    log = Log().made().act(3, "fault", kind=kind, then="use on")
    assert log.found() == {"fault-noted": CAUTION}
    (reason,) = [one for one in log.at_press().reasons if one.level is not OK]
    assert "Measure its tension" in say(reason).advice and "check the screen again" in say(reason).advice
    assert log.act(2.5, "tension", readings_n_per_cm=[23, 23, 23, 23, 23]).found() == {"fault-noted": CAUTION}
    assert log.act(2, "check", result="good").found() == {}
    assert Log().made().act(3, "fault", kind=kind, then="use on").act(2, "check", result="good").found() != {}


def test_what_the_press_judges_itself_is_said_once_with_who_knew_of_it() -> None:
    log = Log().made(step_held=3, washout=[told("step-low", held=3, wanted=7, time_s=80, next_time_s=320)])
    reasons = [one for one in log.at_press(ink="discharge").reasons if one.level is not OK]
    assert [one.key for one in reasons] == ["stencil-weak-for-ink"]
    assert reasons[0].numbers["shown_to"] == "Anna"
    assert log.found() == {"stencil-weak": CAUTION}
    tension = Log().made(image=[told("tension-under-watch", lowest_n_per_cm=17)])
    assert tension.found() == {}  # measured well since


@pytest.mark.parametrize(
    ("step", "key", "numbers", "answer"),
    [
        ("coat", "room-damp", {"room_pct": 60, "limit_pct": 50}, "step"),
        ("coat", "room-warm", {"room_c": 38, "limit_c": 35}, "washout"),
        ("coat", "bucket-not-known", {}, "washout"),
        ("image", "still-drying", {"left_min": 20, "limit_min": 60}, "dry"),
        ("expose", "still-drying", {"left_min": 20, "limit_min": 60}, "step"),
        ("expose", "exposure-time-off", {"way_word": "shorter"}, "step"),
        ("expose", "exposure-time-off", {"way_word": "longer"}, "check"),
        ("expose", "exposure-from-one", {"time_s": 80, "readings": 1}, "washout"),
        ("washout", "step-high", {"held": 12, "wanted": 7, "time_s": 80, "next_time_s": 20}, "check"),
        ("washout", "step-none", {"held": 0.5}, "again"),
        ("check", "stencil-wet", {"left_min": 20, "limit_min": 60}, "again"),
        ("check", "a-caution-of-later", {}, "again"),
    ],
)
def test_a_later_act_answers_what_it_can_answer(step: str, key: str, numbers: dict[str, Any], answer: str) -> None:
    """Each caution alone: open after the step that showed it, answered by the act that the table names, by no other."""
    ago = {"coat": 10.0, "image": 8.1, "expose": 8.0, "washout": 7.9, "check": 7.5}
    acts: dict[str, tuple[str, list[Reason], dict[str, Any]]] = {
        "dry": ("expose", [Reason("exposure-time-right", OK)], {"exposure_s": 80}),
        "step": ("washout", [Reason("step-held", OK, {"held": 7, "wanted": 7})], {"result": "good", "step_held": 7}),
        "washout": ("washout", [], {"result": "good"}),
        "check": ("check", [], {"result": "good"}),
    }
    steps = {"coat": {"bucket": 4}, "image": {"separations": [11]}, "expose": {}, "washout": {"result": "good"}}
    acts["again"] = (step, [], steps.get(step, {"result": "good"}))
    answered_by = {
        "again": {"again"},
        "dry": {"dry", "step"},
        "step": {"step"} | ({"dry"} if key == "room-damp" else set()),
        "washout": {"washout", "step"},
        "check": {"check"} | ({"step"} if step == "expose" else set()),
    }[answer]
    order = list(ago)
    for name, (then, shown, values) in acts.items():
        if order.index(then) < order.index(step):
            continue  # that would be another stencil
        log = Log()
        for made in order[: order.index(step) + 1]:
            own = {**steps.get(made, {"result": "good"})}
            log.act(ago[made], made, [Reason(key, CAUTION, numbers)] if made == step else [], **own)
        assert [one.key for one in log.life().stencil.shown] == [key]  # type: ignore[union-attr]
        log.act(7, then, shown, **values)
        open_still = key in [one.key for one in log.life().stencil.shown]  # type: ignore[union-attr]
        assert open_still == (name not in answered_by and then != step), name


@pytest.mark.parametrize("wet", [False, True])
def test_a_second_coat_on_a_wet_one_is_dry_by_the_time_of_a_dry_imaging(wet: bool) -> None:
    """Two coats one after the other are nothing wrong: what counts is whether the coat was dry when it was imaged, even
    where nobody wrote down the exposure."""
    still = Reason("still-drying", CAUTION, {"left_min": 70, "limit_min": 75})
    log = Log().act(10, "coat", bucket=4).act(9.999, "coat", [still], bucket=4)
    log.act(8.1, "image", [still] if wet else [Reason("coated-fresh", OK)], separations=[11])
    log.act(7, "found", standing_seen="to check").act(7, "check", person=BORIS, result="good")
    assert ("exposed-wet" in log.found()) == wet


def test_what_hid_in_a_wet_stencil_is_seen_once_it_prints() -> None:
    log = Log().made(check=[told("stencil-wet", left_min=20, limit_min=60)])
    assert log.found() == {"checked-wet": CAUTION}
    log.act(4, "hang", run=2)
    log.act(3.9, "print", run=2, impressions=40).act(3.8, "pull", run=2, then="keep", condition="good")
    assert log.found() == {}


def test_a_new_stencil_begins_without_the_cautions_of_the_old_one() -> None:
    log = Log().made(expose=[told("still-drying", left_min=20, limit_min=60)]).act(7, "strip")
    log.act(6, "coat", bucket=4).act(5, "image", separations=[11])
    assert log.life().stencil.shown == ()  # type: ignore[union-attr]


# The frame, and the condition that it came off in


def test_what_was_noted_on_the_frame_is_said_with_who_until_it_is_cleared() -> None:
    ghost = Log().act(15, "fault", kind="ghost", then="use on").made()
    (reason,) = [one for one in ghost.at_press().reasons if one.level is not OK]
    assert reason.key == "ghost-noted" and sentence(reason).endswith("Noted by Anna 15 days ago.")
    slack = Log().made().act(3, "fault", kind="slack", then="use on")
    assert slack.found() == {"fault-noted": CAUTION}
    assert slack.act(2, "tension", readings_n_per_cm=[23, 23, 23, 23, 23]).found() == {}


def test_the_condition_that_it_came_off_in_is_said_with_who_noted_it() -> None:
    log = Log().made().act(4, "hang", run=2).act(3, "pull", run=2, then="keep", condition="pinholes", person=BORIS)
    (reason,) = [one for one in log.at_press().reasons if one.level is not OK]
    assert reason.key == "taken-off-worn" and sentence(reason).endswith("Noted by Boris 3 days ago.")
    assert log.act(2, "check", person=BORIS, result="good").found() == {}


# Hung in spite of its stage


@pytest.mark.parametrize("then", ["keep", "undecided", "strip"])
@pytest.mark.parametrize("way", ["bare", "coated", "to check", "failed"])
def test_a_forced_screen_goes_back_to_the_stage_that_it_had(way: str, then: str) -> None:
    log = Log()
    if way != "bare":
        log.act(10, "coat", bucket=4)
    if way in ("to check", "failed"):
        log.act(8, "image", separations=[11]).act(8, "expose").act(7, "washout", result="good")
    if way == "failed":
        log.act(6, "check", result="fault", fault="detail lost")
    before = log.life()
    log.act(3, "hang", run=2, by="no other screen in time").act(2.5, "print", run=2, impressions=40)
    assert log.life().standing is Standing.ON_PRESS and log.life().conflict is False
    life = log.act(2, "pull", run=2, condition="good", then=then).life()
    strips = then == "strip" and way != "bare"
    assert life.standing is (Standing.TO_CLEAN if strips else before.standing)
    assert life.conflict is False and life.impressions == 40 and life.uses == 1
    if life.standing is Standing.TO_CLEAN:  # and no later decision keeps what was not ready
        assert log.act(1.5, "decide", then="keep").life().standing is Standing.TO_CLEAN
        assert log.act(1, "clean").life().standing is Standing.TO_STRIP
        assert log.act(0.5, "decide", then="keep").life().standing is Standing.TO_STRIP
    assert "not-ready" in log.found() or way == "to check"


def test_a_screen_forced_on_with_an_unclear_log_is_as_unclear_when_it_comes_off() -> None:
    log = Log().made().act(6, "washout", result="good").act(5, "degrease")
    assert log.life().conflict
    log.act(3, "hang", run=2, by="looked at it").act(2, "pull", run=2, condition="good", then="keep")
    assert log.life().conflict and log.life().standing is Standing.UNKNOWN


def test_a_good_check_on_the_press_makes_a_forced_screen_a_ready_one() -> None:
    log = Log().act(10, "coat", bucket=4).act(8, "image", separations=[11]).act(8, "expose")
    log.act(7, "washout", result="good").act(3, "hang", run=2, by="no time").act(2.5, "check", result="good")
    assert log.act(2, "pull", run=2, condition="good", then="keep").life().standing is Standing.KEPT


@pytest.mark.parametrize(("decided", "after"), [("undecided", Standing.KEPT), ("strip", Standing.TO_STRIP)])
def test_a_screen_that_only_waited_to_be_cleaned_is_not_condemned_by_hanging_it(decided: str, after: Standing) -> None:
    log = Log().made().act(6, "hang", run=2).act(5, "print", run=2, impressions=40)
    log.act(4.5, "pull", run=2, condition="good", then=decided)
    log.act(4, "hang", run=3, by="no time to clean it").act(3, "pull", run=3, condition="good", then="undecided")
    assert log.life().standing is Standing.TO_CLEAN
    assert log.act(2, "clean").life().standing is after


def test_a_screen_hung_as_ready_is_kept_whatever_else_was_passed() -> None:
    log = Log().made().act(3, "hang", run=2, by="mesh").act(2, "pull", run=2, condition="good", then="keep")
    assert log.life().standing is Standing.KEPT


def test_a_torn_one_is_to_restretch_however_it_was_hung() -> None:
    log = Log().act(3, "hang", run=2, by="no time").act(2, "pull", run=2, condition="torn", then="keep")
    assert log.life().standing is Standing.TO_RESTRETCH


def test_a_forced_screen_that_hangs_elsewhere_is_not_ready_for_the_next_run() -> None:
    log = Log().act(3, "hang", run=2, by="no time")
    assert "not-ready" in log.found()


# Named by eye


IMAGED: list[tuple[str, dict[str, Any]]] = [("coat", {}), ("image", {"separations": [11]})]
WASHED_OUT: list[tuple[str, dict[str, Any]]] = [*IMAGED, ("expose", {}), ("washout", {"result": "good"})]


@pytest.mark.parametrize(
    ("acts", "seen", "by_eye"),
    [
        ([], "ready", True),
        ([("coat", {"bucket": 4})], "kept", True),
        (IMAGED, "ready", True),
        (IMAGED, "to check", False),  # a washout that nobody logged
        (WASHED_OUT, "ready", False),
        ([*WASHED_OUT, ("check", {"result": "fault", "fault": "soft"})], "ready", True),
    ],
)
def test_what_the_log_does_not_vouch_for_is_named_by_eye(
    acts: list[tuple[str, dict[str, Any]]], seen: str, by_eye: bool
) -> None:
    log = Log()
    for number, (step, values) in enumerate(acts):
        log.act(10 - number, step, **values)
    log.act(2, "found", standing_seen=seen)
    stencil = log.life().stencil
    assert stencil is not None and (stencil.by_eye == ANNA) is by_eye
    if by_eye:
        assert log.act(1, "check", result="good", person=ANNA).life().stencil.by_eye == ANNA  # type: ignore[union-attr]
        assert log.act(1, "check", result="good", person=BORIS).life().stencil.by_eye is None  # type: ignore[union-attr]


def test_who_works_alone_confirms_the_check() -> None:
    log = Log().act(2, "found", standing_seen="ready", separations_seen=[11])
    assert log.life().stencil.by_eye == ANNA  # type: ignore[union-attr]
    log.act(1, "check", result="good", person=ANNA, confirmed="alone")
    assert log.life().stencil.by_eye is None  # type: ignore[union-attr]


def test_a_good_check_stays_where_a_screen_hung_elsewhere_is_in_hand() -> None:
    log = Log().made().act(4, "hang", run=2).act(3, "found", standing_seen="ready")
    assert log.found() == {}


# Who goes past what


def passes(role: str, verdict: Verdict) -> bool:
    causes = to_pass(verdict)
    return bool(causes) and may_pass(Actor(9, "Ida", role), causes)


@pytest.mark.parametrize(
    ("lowest", "work", "operator"),
    [(14, "colours", True), (9, "colours", True), (8.9, "colours", False), (7, "one-colour", True),
     (5.5, "one-colour", False), (16, "halftone", True), (10.5, "halftone", False)],
)  # fmt: skip
def test_a_slack_screen_is_the_operators_down_to_the_hard_limit_only(lowest: float, work: str, operator: bool) -> None:
    log = Log().made().act(1, "tension", readings_n_per_cm=[lowest])
    verdict = log.at_press(work=work)
    assert verdict.level is STOP and "tension-under-floor" in verdict.keys
    assert passes("press", verdict) is operator and passes("press lead", verdict)
    assert ("tension-under-hard-floor" in verdict.keys) is not operator


@pytest.mark.parametrize(("count", "operator"), [("156/in", True), ("305/in", True), ("140/in", False)])
def test_another_mesh_is_the_operators_up_to_the_hard_limit_only(count: str, operator: bool) -> None:
    log = Log().made()
    log.lines[0] = replace(log.lines[0], values={**log.lines[0].values, "mesh_count_as_labelled": count})
    verdict = log.at_press()
    assert "mesh-count-differs" in verdict.keys and passes("press", verdict) is operator
    assert passes("press lead", verdict)


@pytest.mark.parametrize("lead", [True, False])
def test_a_substitute_beyond_the_hard_limit_is_accepted_by_a_lead_only(lead: bool) -> None:
    log = Log().act(10, "coat", bucket=4)
    accept = {"who": "Ida", "why": "no other frame", "asked": ["230/in"], "lead": lead}
    log.act(8.1, "image", separations=[11], accept=accept).act(8, "expose").act(7.9, "washout", result="good")
    log.act(7, "check", person=BORIS, result="good")
    log.lines[0] = replace(log.lines[0], values={**log.lines[0].values, "mesh_count_as_labelled": "140/in"})
    assert log.found() == {"mesh-substitute": CAUTION} | ({} if lead else {"mesh-far-off": STOP})


def test_what_was_named_by_eye_is_a_caution_that_only_a_lead_goes_past() -> None:
    log = Log().act(2, "found", standing_seen="ready", separations_seen=[11])
    verdict = log.at_press()
    assert verdict.level is CAUTION and to_pass(verdict) == ["named-by-eye"]
    assert not passes("press", verdict) and not passes("screen room", verdict) and passes("press lead", verdict)
    log.act(1, "check", person=BORIS, result="good")
    assert to_pass(log.at_press()) == []
