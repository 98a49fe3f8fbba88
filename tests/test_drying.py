"""Drying knows the room, and what somebody felt ends the guess."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.test_floor import Shop
from tickets.calculator.drying import Air, drying_time, vapour_short
from tickets.calculator.units import magnitude, quantity
from tickets.calculator.verdict import Level, say
from tickets.domain.entry import Entry
from tickets.domain.screens import checks, frame_checks, press_checks
from tickets.domain.screens.screen import Life
from tickets.domain.screens.screen_log import replay
from tickets.domain.spec import Spec, shipped
from tickets.domain.stages import Standing
from tickets.queries import boards

SPEC = Spec(shipped())
NOW = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
USUAL, LONGEST = Air(21, 50), quantity(24, "h")


@pytest.mark.parametrize(("celsius", "hpa"), [(10, 12.28), (20, 23.39), (21, 24.88), (30, 42.47), (38, 66.33)])
def test_air_takes_up_what_steam_tables_say(celsius: float, hpa: float) -> None:
    """Saturation pressure of water, steam tables (IAPWS), in hPa."""
    assert vapour_short(quantity(celsius, "degC"), quantity(0, "%")) == pytest.approx(hpa, rel=5e-3)
    assert vapour_short(quantity(celsius, "degC"), quantity(75, "%")) == pytest.approx(hpa / 4, rel=5e-3)


def minutes(plain: float, room: Air) -> float:
    return magnitude(drying_time(quantity(plain, "min"), USUAL, room, LONGEST), "min")


def test_the_published_pair_agrees_with_the_rule() -> None:
    """Screen Printing, May 2002: touch dry in 1 h at 21 degC and 50 %; fully dry in 15-20 min at 38 degC and 20 %."""
    touch, ready = (SPEC.value(key, after="coat") for key in ("minutes-to-touch-dry", "minutes-to-dry"))
    assert minutes(touch, USUAL) == pytest.approx(60)
    assert 15 <= minutes(ready, Air(38, 20)) <= 20
    assert touch < ready


def test_damp_air_dries_slower_and_never_past_the_longest() -> None:
    times = [minutes(75, Air(21, damp)) for damp in (20, 35, 50, 65, 80, 95)]
    assert times == sorted(times) and times[2] == pytest.approx(75) and times[4] == pytest.approx(75 * 50 / 20)
    assert minutes(75, Air(21, 100)) == minutes(75, Air(21, 99.99)) == 24 * 60
    assert minutes(75, Air(None, 80)) == pytest.approx(times[4]), "what was not read is taken as usual"
    assert minutes(75, Air(30, None)) < 75


# One screen ----------------------------------------------------------------------------------------------------------


def a_screen(*log: tuple[float, str, dict[str, Any]]) -> Life:
    """Each entry so many minutes before now."""
    entries = [
        Entry(entry=f"e{number}", step=step, at=NOW - timedelta(minutes=ago), saved_at=NOW, person=1, values=values)
        for number, (ago, step, values) in enumerate(
            [(90000.0, "stretch", {"mesh_count_as_labelled": "230/in", "frame": "aluminium"}), *log]
        )
    ]
    return replay(entries)


def coated(ago: float, **values: Any) -> Life:
    return a_screen((ago + 100, "degrease", {}), (ago, "coat", {"bucket": 4, **values}))


def washed(ago: float, *more: tuple[float, str, dict[str, Any]]) -> Life:
    way = ((3000.0, "coat", {"bucket": 4}), (500.0, "image", {"separations": [1]}), (490.0, "expose", {}))
    return a_screen(*way, (ago, "washout", {"result": "good"}), *more)


def said(life: Life, room: Air | None = None) -> set[str]:
    return {one.key for one in checks.dry(life, SPEC, NOW, room) if one.level is not Level.OK}


@pytest.mark.parametrize(
    ("ago", "room", "expected"),
    [(59.9, None, {"still-drying"}), (60, None, {"touch-dry"}), (74.9, None, {"touch-dry"}), (75, None, set()),
     (75, Air(21, 75), {"still-drying"}), (135, Air(21, 75), {"touch-dry"}), (150, Air(21, 75), set()),
     (20, Air(38, 20), set()), (15, Air(38, 20), {"touch-dry"})],
)  # fmt: skip
def test_a_coat_is_wet_then_dry_to_the_touch_then_ready(ago: float, room: Air | None, expected: set[str]) -> None:
    assert said(coated(ago), room) == expected


def test_the_room_read_at_the_coat_itself_counts_first() -> None:
    assert said(coated(80, room_c=21, room_rh_pct=75), Air(38, 20)) == {"still-drying"}
    assert said(coated(80, room_rh_pct=20), Air(21, 90)) == set()


def test_the_reckoning_says_from_which_room_and_by_which_rows() -> None:
    found = checks.dry(coated(30), SPEC, NOW, Air(25, 70))
    assert [one.key for one in found] == ["still-drying", "drying-room"]
    assert found[1].numbers == {"room_c": 25, "room_pct": 70}
    keys = {row.id: row.key for row in shipped()}
    assert {keys[row] for row in found[0].spec} == {
        "minutes-to-dry", "minutes-to-touch-dry", "dries-at-temperature", "dries-at-humidity", "hours-to-dry-longest",
    }  # fmt: skip
    plain = checks.dry(coated(30), SPEC, NOW)
    assert [one.key for one in plain] == ["still-drying"]
    assert {keys[row] for row in plain[0].spec} == {"minutes-to-dry", "minutes-to-touch-dry"}


@given(st.floats(0, 3000), st.floats(5, 45), st.floats(5, 100), st.booleans())
@settings(max_examples=200, deadline=None)
def test_no_time_is_worked_out_where_none_is_left(ago: float, warm: float, damp: float, known: bool) -> None:
    """Most screens are long dry: nothing is worked out of them, and nothing else is said of the others for it."""
    life, air = coated(ago), Air(warm, damp) if known else None
    wet = checks.drying(life, SPEC, air)
    assert wet is not None and bool(said(life, air)) is (NOW < wet.ready_at)


def test_no_drying_time_is_worked_out_of_a_screen_that_is_long_dry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "drying", lambda *_about: pytest.fail("worked out"))
    assert said(coated(24 * 60), Air(5, 99)) == set() and said(washed(24 * 60), Air(5, 99)) == set()


@pytest.mark.parametrize("step", ["degrease", "strip", "haze"])
def test_wet_mesh_dries_before_it_is_coated(step: str) -> None:
    before = [(600.0, "coat", {}), (500.0, "strip", {})]
    life = a_screen(*before, (1, step, {}))
    assert "mesh-wet" in checks.coat(life, None, {}, SPEC, NOW).keys
    assert checks.coat(life, None, {}, SPEC, NOW).level is Level.CAUTION
    assert "mesh-wet" not in checks.coat(a_screen(*before, (30, step, {})), None, {}, SPEC, NOW).keys
    assert "mesh-wet" in checks.coat(a_screen(*before, (30, step, {})), None, {"room_rh_pct": 80.0}, SPEC, NOW).keys
    assert "mesh-wet" not in checks.coat(a_screen(), None, {}, SPEC, NOW).keys, "nobody wetted it"


def test_a_washed_out_stencil_is_a_caution_in_the_screen_room_and_a_stop_at_the_press() -> None:
    checked = washed(50, (40.0, "check", {"result": "good"}))
    assert checked.standing is Standing.READY and said(checked) == said(washed(50)) == {"stencil-wet"}
    assert said(washed(60)) == set()
    seen = press_checks.Seen(1, "7K32XM", checked)
    wanted = frame_checks.Asked(1, 1, None, "230/in", 90.6, None, "colours")  # type: ignore[arg-type]
    assert [one.level for one in press_checks.history(seen, wanted, SPEC, NOW) if one.key == "stencil-wet"] == [
        Level.STOP
    ]
    damp = press_checks.Seen(1, "7K32XM", washed(90, (80.0, "check", {"result": "good"})), air=Air(21, 80))
    assert "stencil-wet" in {one.key for one in press_checks.history(damp, wanted, SPEC, NOW)}
    printed = [(35.0, "hang", {"run": 1}), (30.0, "print", {"run": 1, "impressions": 9}),
               (20.0, "pull", {"run": 1, "then": "keep"})]  # fmt: skip
    assert said(washed(50, (40.0, "check", {"result": "good"}), *printed)) == set(), "it printed, so it was dry"


@pytest.mark.parametrize("came_off", [None, "keep", "strip"])
@pytest.mark.parametrize(("impressions", "wet"), [(None, True), (9, False)])
def test_a_screen_that_hung_without_a_print_is_as_wet_as_it_was(
    came_off: str | None, impressions: int | None, wet: bool
) -> None:
    """It hangs in another run, or came off one: held up to the next press within the hour, it stops there too."""
    hung: list[tuple[float, str, dict[str, Any]]] = [(35.0, "hang", {"run": 1})]
    hung += [(30.0, "print", {"run": 1, "impressions": impressions})] if impressions else []
    hung += [(20.0, "pull", {"run": 1, "then": came_off})] if came_off else []
    seen = press_checks.Seen(1, "7K32XM", washed(50, (40.0, "check", {"result": "good"}), *hung))
    wanted = frame_checks.Asked(1, 1, None, "230/in", 90.6, None, "colours")  # type: ignore[arg-type]
    levels = [one.level for one in press_checks.history(seen, wanted, SPEC, NOW) if one.key == "stencil-wet"]
    assert levels == [Level.STOP] * wet
    assert ("stencil-wet" in said(seen.life)) == wet, "and its own page says so"


def test_just_after_it_was_wetted_the_whole_time_is_left_said_in_whole_minutes() -> None:
    """A moment after a coat in a dry room nearly all of the time is left: no decimals tell the two apart."""
    told = say(checks.dry(coated(0.003), SPEC, NOW, Air(24, 41))[0]).sentence
    assert re.search(r"dry in (\d+)\smin, of \1\smin in all", told), told


@pytest.mark.parametrize("how", ["yes", "measured"])
def test_what_somebody_felt_ends_the_guess(how: str) -> None:
    dry = {"dry": how}
    image = (10.0, "image", {"separations": [1], **dry})
    assert said(a_screen((15.0, "coat", {}), image)) == set()
    assert said(a_screen((15.0, "coat", {}), (10.0, "image", {"separations": [1]}))) == {"still-drying"}
    assert said(washed(10, (5.0, "check", {"result": "good", **dry}))) == set()
    again = (10.0, "washout", {"result": "good"})
    assert said(washed(90, (20.0, "washout", {"result": "fault", "fault": "pinholes"}),
                       (15.0, "check", {"result": "good", **dry}), (14.0, "found", {"standing_seen": "exposed"}),
                       again)) == {"stencil-wet"}, "said before it was wet again"  # fmt: skip
    assert said(a_screen((9.0, "coat", dry))) == {"still-drying"}, "that was the mesh"


def test_the_shops_rows_decide() -> None:
    without = Spec(row for row in shipped() if row.key not in ("minutes-to-dry", "minutes-to-touch-dry"))
    assert checks.dry(coated(1), without, NOW) == []
    plain = Spec(row for row in shipped() if row.key != "dries-at-humidity")
    assert checks.dry(coated(1), plain, NOW, Air(21, 90))[0].numbers["limit_min"] == 75


# A shop --------------------------------------------------------------------------------------------------------------


def keys(found: Any) -> set[str]:
    return {one.key for one in found.verdict.reasons if one.level is not Level.OK} if found.verdict else set()


@pytest.fixture
def the_shop(tmp_path: Path) -> Shop:
    return Shop.begun(tmp_path)


def test_the_room_of_the_shift_lengthens_the_time_of_every_step(the_shop: Shop) -> None:
    other, code = the_shop.frame(), the_shop.frame()
    the_shop.log(other, "coat", room_c=21, room_rh_pct=80)
    the_shop.log(code, "degrease")
    the_shop.tick(minutes=40)
    assert "mesh-wet" in keys(the_shop.log(code, "coat")), "75 min at 80 %"
    the_shop.tick(minutes=80)
    assert "still-drying" in keys(the_shop.log(code, "expose", exposure_s=60, purpose="test strip"))
    dry_since = boards._drying(the_shop.db, the_shop.now)
    assert dry_since == timedelta(minutes=75 * 50 / 20)


def test_dry_is_said_with_the_step_that_it_matters_to(the_shop: Shop) -> None:
    code = the_shop.frame()
    the_shop.log(code, "degrease")
    assert "mesh-wet" not in keys(the_shop.log(code, "coat", dry="yes"))
    found = the_shop.log(code, "expose", exposure_s=60, purpose="test strip", dry="measured")
    assert "still-drying" not in keys(found)


def test_a_reading_of_another_shift_says_nothing(the_shop: Shop) -> None:
    other, code = the_shop.frame(), the_shop.frame()
    the_shop.log(other, "coat", room_c=21, room_rh_pct=90)
    the_shop.tick(hours=24)
    the_shop.log(code, "degrease")
    the_shop.tick(minutes=35)
    assert "mesh-wet" not in keys(the_shop.log(code, "coat"))
