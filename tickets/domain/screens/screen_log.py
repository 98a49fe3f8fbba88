"""A screen’s life out of its log: what each entry changes."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any

from tickets.calculator.drying import WET
from tickets.domain import stages
from tickets.domain.entry import Entry, number_of, numbers_of, stamp, standing_lines, text_of, whole_of, wholes_of
from tickets.domain.screens import screen
from tickets.domain.screens.screen import Life, Mesh, Shown, Stencil, Tension
from tickets.domain.stages import IMAGE_ON, LOGGED_BY_DEFAULT, MOVES, STENCIL_ON, Follow, Standing
from tickets.domain.step_reading import count_per_cm


def replay(
    entries: Iterable[Entry], logged: Collection[str] = LOGGED_BY_DEFAULT, outside: Collection[int] = ()
) -> Life:
    """The life that `entries` (of one screen, in any order) come to, in a shop that logs the steps `logged` and whose
    places `outside` lie outside the shop."""
    life = begun(logged)
    for entry in standing_lines(entries):
        life = after(life, entry, logged, outside)
    return life


def begun(logged: Collection[str]) -> Life:
    """The life before its first entry."""
    return Life(tension_logged="tension" in logged)


def after(life: Life, entry: Entry, logged: Collection[str], outside: Collection[int] = ()) -> Life:
    """The life once `entry` has happened, whatever it is."""
    if entry.step not in MOVES:
        return life
    at = stamp(entry.at)
    was = life
    before, under = life.standing, life.under
    now: dict[str, Any] = {"last_at": at, "last_step": entry.step}
    if life.not_at is not None and entry.step not in OUT_OF_HAND:
        life = screen.changed(life, not_at=None)
    fits = _fits(life, entry, logged)
    if not fits.fits:
        marked = () if life.conflict else (entry.entry,)
        if before is Standing.ON_PRESS:
            life = _off_press(life)
        life = _CHANGES.get(entry.step, _unchanged)(life, entry, at, logged)
        # a frame that was retired stays known as such: nobody may print with it because the log is unclear
        under = (
            Standing.RETIRED if Standing.RETIRED in {before, under if life.conflict else before} else Standing.UNKNOWN
        )
        now |= {"standing": Standing.UNKNOWN, "under": under, "conflict": True, "conflicts": life.conflicts + marked}
    else:
        life = _CHANGES.get(entry.step, _unchanged)(life, entry, at, logged)
        if fits.missing:
            now["gaps"] = (*life.gaps, (entry.entry, fits.missing))
        standing = _settle(life, entry, was, logged, outside)
        if standing in BARE_OF_STENCIL and life.stencil is not None:  # a shop that does not log that it was stripped
            life = _stencil_gone(life)
        said = standing not in {Standing.UNKNOWN, Standing.AWAY} or entry.step == "found"
        conflict = life.conflict and not said
        if was.back_unclear and entry.step == "pull":
            conflict = standing is Standing.UNKNOWN  # as unclear as it was when it was hung all the same
        now |= {"standing": standing, "conflict": conflict}
        if standing is not Standing.AWAY and not conflict:
            now["under"] = standing
    if now["standing"] is not before:
        now["since"] = at
    if entry.step in SAYS_DRY and text_of(entry.values, "dry"):
        now["dry_at"] = at
    return screen.changed(_answered(life, entry, at), **now)


BARE_OF_STENCIL = frozenset({Standing.BARE, Standing.DEGREASED, Standing.STRIPPED})
"""Stages at which no stencil is on a screen."""

SAYS_DRY = frozenset({"image", "expose", "check"})
"""Steps that may say of the screen that it is dry; what a coat says of the mesh is not said of the coat."""


OUT_OF_HAND = frozenset({"note", "decide", "retag"})
"""Steps that are written down without the screen in hand."""


def _run_of(entry: Entry) -> int | None:
    return entry.run if entry.run is not None else whole_of(entry.values, "run")


def _fits(life: Life, entry: Entry, logged: Collection[str]) -> Follow:
    step, values, standing = entry.step, entry.values, life.standing
    if step == "hang" and _forced(life, entry):
        return Follow(True)
    if step == "expose" and (wholes_of(values, "separations") or values.get("purpose") == "test strip"):
        found = stages.follow(standing, "image", logged)  # the image is noted with it, or none is needed
        if found.fits:
            return found
    if step == "check" and standing is Standing.TO_STRIP and life.stencil and life.stencil.failed:
        return Follow(True)  # the pinholes were blocked, the screen is looked at again
    if step in {"print", "pull"} and standing is Standing.ON_PRESS and life.run is not None:
        if _run_of(entry) not in {None, life.run}:
            return Follow(False)
    found = stages.follow(standing, step, logged)
    if not found.fits and standing is Standing.KEPT and life.decided != "keep":
        return stages.follow(Standing.TO_STRIP, step, logged)  # nobody said that it must be kept
    return found


def _forced(life: Life, entry: Entry) -> bool:
    """True where somebody hangs a screen in spite of its stage: what the log says of that stays as it is."""
    return bool(entry.override) and life.standing not in {
        Standing.READY,
        Standing.KEPT,
        Standing.ON_PRESS,
        Standing.AWAY,
        Standing.RETIRED,
    }


def _only_inked(life: Life) -> bool:
    """True for a screen that only waited to be cleaned: hanging it again says nothing against its stencil."""
    sound = life.stencil is not None and not life.stencil.failed and not life.stencil.forced
    return life.standing is Standing.TO_CLEAN and life.decided != "strip" and sound


# whole: what each step leads to beside the table, one case a step, read against the table
def _settle(life: Life, entry: Entry, was: Life, logged: Collection[str], outside: Collection[int]) -> Standing:
    """The standing after a step that goes with the log; `life` has the step's changes already, `was` has not."""
    step, values, before = entry.step, entry.values, was.standing
    plain = MOVES[step][1]
    test_strip = life.stencil is not None and life.stencil.purpose == "test strip"
    match step:
        case "washout":
            if test_strip:
                return Standing.TO_STRIP
            if values.get("result") == "fault":
                return Standing.TO_CHECK if values.get("fault") == "pinholes" else Standing.TO_STRIP
            return Standing.READY if values.get("result") == "good" and "check" not in logged else Standing.TO_CHECK
        case "check":
            if before in {Standing.ON_PRESS, Standing.TO_CLEAN}:
                return before
            if test_strip or values.get("result") == "fault":
                return Standing.TO_STRIP
            if values.get("result") != "good":
                return before if before in MOVES["check"][0] | {Standing.TO_STRIP} else Standing.TO_CHECK
            return Standing.KEPT if before is Standing.KEPT else Standing.READY
        case "pull":
            if life.torn:
                return Standing.TO_RESTRETCH
            if was.back is not None and not (values.get("then") == "strip" and life.stencil):
                return was.back
            if values.get("then") == "keep":
                return Standing.KEPT
            if "clean" in logged:
                return Standing.TO_CLEAN
            return Standing.TO_STRIP if values.get("then") == "strip" else Standing.KEPT
        case "clean":
            if before is not Standing.TO_CLEAN:
                return before
            unfit = life.stencil is not None and life.stencil.forced
            return Standing.TO_STRIP if life.decided == "strip" or unfit else Standing.KEPT
        case "decide":
            if values.get("condition") == "torn":
                return Standing.TO_RESTRETCH
            if values.get("then") == "strip":
                return before if before is Standing.TO_CLEAN else Standing.TO_STRIP
            if values.get("then") != "keep" or before is Standing.TO_CHECK:
                return before
            if life.stencil and life.stencil.forced and before in {Standing.TO_CLEAN, Standing.TO_STRIP}:
                return before
            if before is Standing.TO_STRIP and life.stencil and (life.stencil.failed or test_strip):
                return before
            return Standing.KEPT
        case "strip":
            return (
                before
                if before is Standing.TO_RESTRETCH or (life.torn and before is Standing.TO_STRIP)
                else Standing.STRIPPED
            )
        case "haze":
            return Standing.STRIPPED if before is Standing.DEGREASED else before  # its rest must be degreased off again
        case "retension":
            if before is Standing.TO_RESTRETCH and not life.torn and life.stencil is None:
                return Standing.STRIPPED
            return before
        case "fault":
            restretch = values.get("then") == "restretch" or (values.get("kind") == "torn" and not values.get("then"))
            return Standing.TO_RESTRETCH if restretch else before
        case "found":
            seen = _seen(values)
            if seen is Standing.UNKNOWN and (before is Standing.AWAY or life.under is Standing.RETIRED):
                return life.under  # nobody said more than that it is here: it is as it went
            return seen
        case "rack":
            if whole_of(values, "place") in outside:
                return Standing.AWAY
            return life.under if before is Standing.AWAY else before
        case _:
            return plain or before


def _seen(values: Mapping[str, Any]) -> Standing:
    try:
        return Standing(text_of(values, "standing_seen"))
    except ValueError:
        return Standing.UNKNOWN


def _unchanged(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return life


def _stretch(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    label = text_of(values, "mesh_count_as_labelled")
    try:
        per_cm = count_per_cm(label)
    except ValueError:
        per_cm = 0.0
    if not (math.isfinite(per_cm) and per_cm > 0):
        label, per_cm = "", 0.0
    old, before = life.mesh, number_of(values, "uses_before")
    mesh = Mesh(
        count_as_labelled=label,
        count_per_cm=per_cm,
        thread_um=number_of(values, "thread_um"),
        colour=text_of(values, "mesh_colour"),
        frame=text_of(values, "frame") or (old.frame if old else ""),
        frame_size_mm=text_of(values, "frame_size_mm") or (old.frame_size_mm if old else ""),
        stretched_at=at,
        by=text_of(values, "by"),
        opening_um=number_of(values, "opening_um"),
        open_area_pct=number_of(values, "open_area_pct"),
        fabric_thickness_um=number_of(values, "fabric_thickness_um"),
        ink_volume_cm3_m2=number_of(values, "ink_volume_cm3_m2"),
        in_use=text_of(values, "in_use") == "yes",
        uses_before=int(before) if before is not None else None if text_of(values, "in_use") == "yes" else 0,
    )
    return screen.changed(
        _off_press(life),
        mesh=mesh,
        mark=text_of(values, "mark") or life.mark,
        tension=None,
        retensioned_at="",
        retensioned_uses=0,
        wetted_at="",
        dry_at="",
        stencil=None,
        decided="",
        keep_until="",
        keep_for="",
        let_go=(),
        torn=False,
        fault="",
        fault_at="",
        fault_by=None,
        uses=0,
        used_in=None,
        impressions=0,
        cycles=0,
        stencils=0,
        meshes=life.meshes + 1,
        inked=False,
        gaps=(),
    )


def _retension(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    fault = "" if life.fault == "slack" else life.fault
    return screen.changed(life, tension=None, retensioned_at=at, retensioned_uses=life.uses, fault=fault)


def _tension(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    readings = numbers_of(entry.values, "readings_n_per_cm")
    if not readings:
        return life
    weft = numbers_of(entry.values, "readings_weft_n_per_cm")
    after = text_of(entry.values, "after")
    return screen.changed(life, tension=Tension(entry.entry, at, readings, weft, uses=life.uses, after=after))


def _coat(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    bucket, preset = whole_of(values, "bucket"), text_of(values, "preset")
    going_on = life.stencil is not None and not life.stencil.separations and not life.stencil.exposed_at
    if life.standing is not Standing.COATED and not (life.conflict and going_on):
        life = _new_stencil(life)
    stencil = life.stencil or Stencil()
    # a further coat before exposure stays on the same stencil; its age counts from the last coat
    on_it = dict.fromkeys([*stencil.under, *([stencil.bucket] if stencil.bucket else [])])
    stencil = screen.changed(
        stencil,
        under=tuple(one for one in on_it if bucket and one != bucket) or stencil.under,
        coats=stencil.coats + 1,
        coated_at=at,
        bucket=bucket or stencil.bucket,
        preset=preset or stencil.preset,
        room_c=number_of(values, "room_c"),
        room_rh_pct=number_of(values, "room_rh_pct"),
        coated_thickness_um=number_of(values, "coated_thickness_um"),  # of the coats before says nothing of this one
    )
    return screen.changed(life, stencil=stencil)


def _new_stencil(life: Life) -> Life:
    """A stencil begins, and is one more since the last reading of the tension; one that the log still has on the screen
    must have been stripped."""
    life = _stencil_gone(life)
    tension = life.tension
    if tension is not None:
        tension = screen.changed(tension, stencils_since=tension.stencils_since + 1)
    number = life.stencils + 1
    return screen.changed(life, stencils=number, stencil=Stencil(number=number), tension=tension)


def _stencil_gone(life: Life) -> Life:
    """No stencil, and what was said of it; one that was there counts as one stripping, logged or not."""
    cycles = life.cycles + (1 if life.stencil is not None else 0)
    gone: dict[str, Any] = {"decided": "", "keep_until": "", "keep_for": "", "let_go": ()}
    return screen.changed(life, stencil=None, cycles=cycles, inked=False, gaps=(), used_in=None, **gone)


def _with_stencil(life: Life, on: Collection[Standing], done: str = "") -> Life:
    """A step that needs a stencil begins one where the log has none at a standing of `on`: coating went unlogged.
    Where the log is unclear, the step goes on with the stencil that did not yet get past it (`done`: its time)."""
    going_on = life.standing in on or (life.conflict and not done)
    return life if life.stencil is not None and going_on else _new_stencil(life)


def _image(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _with_stencil(life, {Standing.COATED, Standing.IMAGED}, life.stencil.exposed_at if life.stencil else "")
    old = life.stencil or Stencil()
    named = wholes_of(entry.values, "separations")
    new = tuple(number for number in named if number not in old.separations)
    accepted, accept = old.accepted, entry.values.get("accept")
    if isinstance(accept, Mapping) and accept:
        # what was accepted holds for these images, not for others that this screen comes to carry
        before = accepted.get("separations", ()) if accepted else ()
        accepted = {**accept, "separations": list(dict.fromkeys([*before, *named]))}
    stencil = screen.changed(
        old,
        separations=old.separations + new,
        imaged_at=at,
        means=text_of(entry.values, "means"),
        accepted=accepted,
    )
    return screen.changed(life, stencil=stencil)


def _expose(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    if wholes_of(values, "separations"):
        life = _image(life, entry, at, logged)
    else:
        life = _with_stencil(life, {Standing.COATED, Standing.IMAGED}, life.stencil.washed_at if life.stencil else "")
    stencil = screen.changed(
        life.stencil or Stencil(),
        exposed_at=at,
        exposure_s=number_of(values, "exposure_s"),
        exposure_units=number_of(values, "exposure_units"),
        exposure_unit=text_of(values, "exposure_unit"),
        purpose=text_of(values, "purpose"),
    )
    return screen.changed(life, stencil=stencil)


def _washout(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _with_stencil(life, STENCIL_ON)
    old = life.stencil or Stencil()
    result = text_of(entry.values, "result")
    stencil = screen.changed(
        old,
        washed_at=at,
        washout=result,
        fault=text_of(entry.values, "fault") if result == "fault" else "",
        step_held=number_of(entry.values, "step_held"),
        check="",
        exposed_at=old.exposed_at or at,
    )
    return screen.changed(life, stencil=stencil)


def _check(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    result = entry.values.get("result")
    if result not in ("good", "fault"):
        return life
    life = _with_stencil(life, STENCIL_ON)
    old = life.stencil or Stencil()
    good = result == "good"
    by_eye = old.by_eye
    if good and (by_eye != entry.person or entry.values.get("confirmed") == ALONE):
        by_eye = None  # a second pair of eyes has looked at it, or there is none in this shop
    stencil = screen.changed(
        old,
        checked_at=at,
        checked_by=entry.person,
        check=str(result),
        fault="" if good else text_of(entry.values, "fault"),
        by_eye=by_eye,
        forced=old.forced and not good,
        condition="" if good else old.condition,
    )
    gaps = life.gaps
    if good:  # a late check makes up for the missing one
        kept = ((name, tuple(step for step in missing if step != "check")) for name, missing in gaps)
        gaps = tuple(gap for gap in kept if gap[1])
    back = None if good and life.back in MOVES["check"][0] | {Standing.TO_STRIP} else life.back
    return screen.changed(life, stencil=stencil, gaps=gaps, back=back)


ALONE = "alone"
"""What a good check has under `confirmed` where nobody else works here: the PIN stands for the second pair of eyes."""


def _harden(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    if life.stencil is None:
        return life
    return screen.changed(
        life, stencil=screen.changed(life.stencil, hardened=True, hardened_with=text_of(entry.values, "agent"))
    )


def _hang(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    press = whole_of(values, "press")
    forced = _forced(life, entry)
    if forced and life.stencil is not None and not _only_inked(life):
        life = screen.changed(life, stencil=screen.changed(life.stencil, forced=True))
    return screen.changed(
        _off_press(life),
        back=life.standing if forced else None,
        back_unclear=forced and life.conflict,
        run=_run_of(entry),
        head=whole_of(values, "head"),
        station=whole_of(values, "station"),
        place=press or life.place,
        place_since=at if press else life.place_since,
        decided="",
        keep_until="",
        keep_for="",
        let_go=(),
    )


def _print(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    count = whole_of(entry.values, "impressions") or 0
    stencil = life.stencil
    if stencil is not None:
        stencil = screen.changed(stencil, impressions=stencil.impressions + count)
    return screen.changed(
        life,
        impressions=life.impressions + count,
        hung_impressions=life.hung_impressions + count,
        inked=life.inked or count > 0,
        stencil=stencil,
    )


def _off_press(life: Life) -> Life:
    printed = life.hung_impressions > 0
    again = printed and life.run is not None and life.run == life.used_in  # it came off at a pause of the same run
    return screen.changed(
        life,
        used_in=life.run if printed else life.used_in,
        run=None,
        head=None,
        station=None,
        uses=life.uses + (1 if printed and not again else 0),
        hung_impressions=0,
        back=None,
        back_unclear=False,
    )


def _pull(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _seen_as(life, entry, at)
    stencil = life.stencil
    decided = text_of(entry.values, "then")
    if life.back is not None and decided != "strip":
        decided = ""  # it goes back to its stage: nothing that is not ready is kept
    return screen.changed(
        _off_press(life),
        decided="" if decided == "undecided" else decided,
        keep_for=text_of(entry.values, "for") if decided else "",
        inked=life.inked and stencil is not None,
        let_go=_let_go(entry),
    )


def _seen_as(life: Life, entry: Entry, at: str) -> Life:
    """What somebody said of how the screen looks; nothing said leaves it as it was."""
    condition = text_of(entry.values, "condition")
    stencil = life.stencil
    if stencil is not None and condition:
        noted = "" if condition == "good" else condition
        stencil = screen.changed(stencil, condition=noted, condition_at=at, condition_by=entry.person)
    return screen.changed(life, stencil=stencil, torn=life.torn or condition == "torn")


def _decide(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    values = entry.values
    life = _seen_as(life, entry, at)
    then = text_of(values, "then")
    if not then:  # no more than how it looks
        return life
    return screen.changed(
        life,
        decided="" if then == "undecided" else then,
        keep_until=text_of(values, "until"),
        keep_for=text_of(values, "for"),
        let_go=_let_go(entry),
    )


def _let_go(entry: Entry) -> tuple[str, ...]:
    """The jobs that an entry named as in need of the stencil that it gives up."""
    named = entry.values.get("needed_by")
    return tuple(code for code in named if isinstance(code, str)) if isinstance(named, (list, tuple)) else ()


def _rack(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    place = whole_of(entry.values, "place")
    return screen.changed(life, place=place, place_since=at) if place is not None else life


def _note(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    gone = whole_of(entry.values, "not_at")  # a stock-take did not find it where the log has it
    if gone is None or gone != life.place or life.standing is Standing.ON_PRESS:
        return life
    return screen.changed(life, place=None, place_since=at, not_at=gone)


def _strip(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    life = _off_press(life)
    if life.stencil is None and life.standing is not Standing.STRIPPED:
        life = screen.changed(life, cycles=life.cycles + 1)  # there was one that the log did not know
    return screen.changed(_stencil_gone(life), wetted_at=at)


def _degrease(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return screen.changed(life, wetted_at=at)


def _clean(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return screen.changed(life, inked=False)


def _haze(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return screen.changed(life, wetted_at=at, fault="" if life.fault == "ghost" else life.fault)


def _fault(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    kind = text_of(entry.values, "kind")
    life = screen.changed(life, torn=life.torn or kind == "torn")
    if kind:
        said = (kind == "other" and text_of(entry.values, "what")) or kind
        life = screen.changed(life, fault=said, fault_at=at, fault_by=entry.person)
    sent = entry.values.get("then") == "restretch" or (kind == "torn" and not entry.values.get("then"))
    return _off_press(life) if sent else life


def _found(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    seen = _seen(entry.values)
    named = wholes_of(entry.values, "separations_seen")
    if life.standing is Standing.AWAY and seen is not Standing.AWAY:
        life = screen.changed(life, place=None, place_since=at)
    if seen in BARE_OF_STENCIL:
        life = _stencil_gone(life)
    elif seen is Standing.COATED:
        life = life if life.back is Standing.COATED else _with_stencil(life, {Standing.COATED})
    elif seen in IMAGE_ON:
        vouched = _vouched(life, seen)
        if life.stencil is None or _another(life.stencil, seen, named):
            life = _new_stencil(life)
        stencil = life.stencil or Stencil()
        if named and set(named) != set(stencil.separations):
            life = screen.changed(life, stencil=screen.changed(stencil, separations=named, by_eye=entry.person))
        elif not vouched and stencil.by_eye is None:
            life = screen.changed(life, stencil=screen.changed(stencil, by_eye=entry.person))
    return life if seen is Standing.ON_PRESS else _off_press(life)


def _another(stencil: Stencil, seen: Standing, named: Collection[int]) -> bool:
    """Whether what is seen on a screen cannot be the stencil that the log has: it has other images, or it is not
    exposed yet where the log's was washed out long ago."""
    if named and stencil.separations and set(named) != set(stencil.separations):
        return True
    return seen is Standing.IMAGED and bool(stencil.washed_at)


_WASHED_OUT = frozenset(
    {Standing.TO_CHECK, Standing.READY, Standing.ON_PRESS, Standing.TO_CLEAN, Standing.KEPT, Standing.TO_STRIP}
)


def _vouched(life: Life, seen: Standing) -> bool:
    """Whether the log itself has the stencil as far as somebody says that it is (`seen`). Otherwise it is named by eye:
    the good check of another person vouches for it."""
    stencil = life.stencil
    at = life.under if life.standing is Standing.AWAY else life.standing
    if seen not in _WASHED_OUT:
        return True
    if stencil is None or stencil.failed or life.conflict or life.back is not None:
        return False
    return at in _WASHED_OUT or (
        seen is Standing.TO_CHECK and at in {Standing.IMAGED, Standing.EXPOSED}
    )  # a washout nobody logged


def _retire(life: Life, entry: Entry, at: str, logged: Collection[str]) -> Life:
    return screen.changed(
        _off_press(life), fault=text_of(entry.values, "cause"), fault_at=at, fault_by=entry.person, place=None
    )


_CHANGES: dict[str, Callable[[Life, Entry, str, Collection[str]], Life]] = {
    "stretch": _stretch,
    "retension": _retension,
    "tension": _tension,
    "degrease": _degrease,
    "coat": _coat,
    "image": _image,
    "expose": _expose,
    "washout": _washout,
    "check": _check,
    "harden": _harden,
    "hang": _hang,
    "print": _print,
    "pull": _pull,
    "clean": _clean,
    "decide": _decide,
    "rack": _rack,
    "note": _note,
    "strip": _strip,
    "haze": _haze,
    "fault": _fault,
    "found": _found,
    "retire": _retire,
}


SHOWS = frozenset({"coat", "image", "expose", "washout", "check"})
"""The steps whose cautions stay with the stencil until a later act answers them; the same step again always does."""


STEP_HELD, GOOD_WASHOUT, GOOD_CHECK, DRY = "step held", "good washout", "good check", "imaged dry"


PRINTED = "printed"


ANSWERED_BY: dict[str, tuple[str, ...]] = {
    # too little light, or a damp coat, cannot be seen on the light table: only the step held tells
    "exposure-time-off shorter": (STEP_HELD,),
    "exposure-time-off-units shorter": (STEP_HELD,),
    "still-drying": (STEP_HELD, DRY),
    "touch-dry": (STEP_HELD, DRY),
    "mesh-wet": (GOOD_CHECK,),  # what wet mesh does to a coat is pinholes
    "room-damp": (STEP_HELD, DRY),
    "bucket-past-time": (STEP_HELD,),
    "stencil-wet": (PRINTED,),  # pinholes that hid while it was wet show on the first print
    # too much light, or heat, shows in the washout and against the film
    "exposure-time-off longer": (STEP_HELD, GOOD_CHECK),
    "exposure-time-off-units longer": (STEP_HELD, GOOD_CHECK),
    "step-high": (GOOD_CHECK,),
    "step-all": (GOOD_CHECK,),
    "step-high-units": (GOOD_CHECK,),
    "step-high-untimed": (GOOD_CHECK,),
    "room-warm": (STEP_HELD, GOOD_WASHOUT),
    # doubts about what the shop knows, not about this stencil: it came out well all the same
    "bucket-not-known": (STEP_HELD, GOOD_WASHOUT),
    "bucket-discarded": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-one": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-one-units": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-two": (STEP_HELD, GOOD_WASHOUT),
    "exposure-from-two-units": (STEP_HELD, GOOD_WASHOUT),
    "exposure-moved": (STEP_HELD, GOOD_WASHOUT),
    "exposure-moved-units": (STEP_HELD, GOOD_WASHOUT),
    "exposure-not-all-noted": (STEP_HELD, GOOD_WASHOUT),
    "exposure-set-time-off": (STEP_HELD, GOOD_WASHOUT),
    "exposure-set-time-off-units": (STEP_HELD, GOOD_WASHOUT),
}
"""Which acts answer a caution of the screen room. One that is not here stays until the same step again."""


def _acts(entry: Entry) -> set[str]:
    """What an entry answers."""
    keys = {reason.get("key"): reason.get("level") for reason in (entry.verdict or {}).get("reasons", ())}
    acts = set()
    if entry.step == "washout":
        acts |= {GOOD_WASHOUT} if entry.values.get("result") == "good" else set()
        acts |= {STEP_HELD} if keys.get("step-held") == "ok" else set()
    elif entry.step == "check" and entry.values.get("result") == "good":
        acts = {GOOD_CHECK}
    elif entry.step in {"image", "expose"} and entry.verdict and WET.isdisjoint(keys):  # two coats, wet on wet
        acts = {DRY}
    elif entry.step == "print":
        acts = {PRINTED}
    return acts


def _answered(life: Life, entry: Entry, at: str) -> Life:
    """The stencil without the cautions that `entry` answers, and with those that its verdict showed."""
    stencil = life.stencil
    if stencil is None or entry.step not in SHOWS | {"print"}:
        return life
    acts = _acts(entry)
    kept = [
        one for one in stencil.shown if one.step != entry.step and acts.isdisjoint(ANSWERED_BY.get(_which(one), ()))
    ]
    for reason in (entry.verdict or {}).get("reasons", ()):
        if reason.get("level") == "caution":
            numbers, rows = dict(reason.get("numbers", {})), tuple(reason.get("spec", ()))
            kept.append(Shown(str(reason.get("key")), entry.step, at, entry.person, numbers, rows))
    shown = tuple(kept)
    return life if shown == stencil.shown else screen.changed(life, stencil=screen.changed(stencil, shown=shown))


def _which(one: Shown) -> str:
    """A caution as `ANSWERED_BY` calls it: some keys say two things."""
    way = one.numbers.get("way_word")
    return f"{one.key} {way}" if way else one.key
