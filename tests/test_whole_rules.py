"""What the rules say, case by case in whole tables: each case is a good screen with one thing changed, to the value at
a limit of the shipped spec and to a hair on either side of it. Read and checked by hand against the limits' rows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

from test_boards import NOW
from whole import same_as_read

from tickets.calculator.drying import Air
from tickets.calculator.kinds import ONE_COLOUR, WORK
from tickets.calculator.verdict import Level, Reason, Verdict
from tickets.domain.bucket import Bucket
from tickets.domain.entry import stamp
from tickets.domain.jobs.heads import ANTICLOCKWISE, ANY_ORDER, Press
from tickets.domain.screens import checks, frame_checks, press_checks
from tickets.domain.screens.frame_checks import Asked
from tickets.domain.screens.press_checks import OnHead, Seen
from tickets.domain.screens.room import Room
from tickets.domain.screens.screen import Life, Mesh, Shown, Stencil, Tension
from tickets.domain.separation import Separation
from tickets.domain.spec import Spec, shipped
from tickets.domain.stages import Standing

SPEC = Spec(shipped())
KEYS = {row.id: row.key for row in shipped()}


def ago(days: float = 0, hours: float = 0, minutes: float = 0) -> str:
    return stamp(NOW - timedelta(days=days, hours=hours, minutes=minutes))


def without(*keys: str) -> Spec:
    return Spec(row for row in shipped() if row.key not in keys)


def shown(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    return ", ".join(map(shown, value)) if isinstance(value, list | tuple) else str(value)


def said(reasons: Iterable[Reason] | Verdict) -> str:
    """Each reason with its level, its numbers and the limits that it rests on."""
    if isinstance(reasons, Verdict):
        return f"{reasons.level}: {said(reasons.reasons)}" if reasons.reasons else f"{reasons.level}"
    found = []
    for one in reasons:
        numbers = " ".join(f"{name}={shown(value)}" for name, value in one.numbers.items())
        rows = " ".join(KEYS[row] for row in one.spec)
        found.append(" ".join(filter(None, (f"{one.level.value} {one.key}", numbers, rows and f"[{rows}]"))))
    return "; ".join(found) or "nothing"


IMAGE = Separation("Invented Bakery", "Crumb", "1", 300, "white", 200)
OTHER = Separation("Invented Bakery", "Crumb", "1", 300, "brown", 200)
ASKED = Asked(1, 7, IMAGE, "230/in · 48 µm", 230 / 2.54, 48.0, "colours", frozenset({"plastisol"}))
BROWN = Asked(2, 8, OTHER, "230/in · 48 µm", 230 / 2.54, 48.0, "colours", frozenset({"plastisol"}))
BUCKET = Bucket(1, "B00001", "dual-cure emulsion", "Aqua", "1", "yes", ago(10), stamp(NOW + timedelta(days=20)))
MESH = Mesh("230/in", 230 / 2.54, 48.0, "white", "aluminium", stretched_at=ago(40), fabric_thickness_um=78.0)
TENSION = Tension("e", ago(1), (24.0,) * 3, (24.5,) * 2)
STENCIL = Stencil(
    1, (7,), bucket=1, coated_at=ago(3), coats=2, imaged_at=ago(2.5), exposed_at=ago(2), exposure_s=60.0,
    washed_at=ago(2), washout="good", step_held=7.0, checked_at=ago(1.9), checked_by=3, check="good",
)  # fmt: skip
READY = Life(
    Standing.READY, Standing.READY, ago(1.9), mesh=MESH, tension=TENSION, stencil=STENCIL, uses=5, stencils=3, meshes=1
)
NAMES = {3: "Vera", 4: "Otto"}


def stencil(**more: Any) -> Life:
    return replace(READY, stencil=replace(STENCIL, **more))


def mesh(**more: Any) -> Life:
    return replace(READY, mesh=replace(MESH, **more))


def tension(**more: Any) -> Life:
    return replace(READY, tension=replace(TENSION, **more))


def at(standing: Standing, **more: Any) -> Life:
    return replace(READY, standing=standing, under=standing, **more)


def seen(life: Life, emulsion: Bucket | None = BUCKET, screen: int = 1, **more: Any) -> Seen:
    given: dict[str, Any] = {"images": {7: IMAGE, 8: OTHER}, "names": NAMES, "air": Air(20.0, 40.0)}
    return Seen(screen, f"{screen}K32XM", life, emulsion, **{**given, **more})


# -- at the press


LIVES: dict[str, Life] = {
    "good": READY,
    **{f"stage {one}": at(one) for one in Standing},
    "at this run already": at(Standing.ON_PRESS, run=9, station=1),
    "at another run": at(Standing.ON_PRESS, run=8, since=ago(1)),
    "at another run, hung unchecked": at(Standing.ON_PRESS, run=8, back=Standing.TO_CHECK),
    "at this run, stage not known": at(Standing.ON_PRESS, run=9),
    "away, was ready": replace(READY, standing=Standing.AWAY),
    "log contradicts itself": replace(READY, conflict=True),
    "log contradicts itself, retired": replace(READY, conflict=True, under=Standing.RETIRED),
    "no check was logged": stencil(check="", checked_at=""),
    "the check was left out": replace(READY, gaps=(("e", ("check",)),)),
    "the washout was left out": replace(READY, gaps=(("e", ("washout",)),)),
    "the check found a fault": stencil(check="fault", fault="pinholes"),
    "the washout went wrong": stencil(check="", washout="fault"),
    "torn": replace(READY, torn=True, fault="slack"),
    "a ghost": replace(READY, fault="ghost", fault_at=ago(4), fault_by=3),
    "slack, measured since": replace(READY, fault="slack", fault_at=ago(2), fault_by=3),
    "slack, not measured since": replace(READY, fault="slack", fault_at=ago(0.5), fault_by=3),
    "slack when it was measured": replace(READY, fault="slack", fault_at=TENSION.at, fault_by=9),
    "glue, measured and checked since": replace(READY, fault="glue gone", fault_at=ago(2), fault_by=3),
    "glue, measured since alone": replace(READY, fault="glue gone", fault_at=ago(1.5), fault_by=3),
    "bent, checked since alone": replace(READY, tension=None, fault="frame bent", fault_at=ago(2)),
    "another fault": replace(READY, fault="ink leaks", fault_at=ago(0.5), fault_by=3),
    "a test strip": stencil(purpose="test strip"),
    "named by eye": stencil(by_eye=4),
    "worn": stencil(condition="worn", condition_at=ago(5), condition_by=4),
    "pinholes": stencil(condition="pinholes", condition_at=ago(5), condition_by=8),
    "condition good": stencil(condition="good"),
    "no stencil": replace(READY, stencil=None),
    "image not known": stencil(separations=()),
    "another image": stencil(separations=(8,)),
    "both images": stencil(separations=(7, 8)),
    "an image that nobody knows": stencil(separations=(99,)),
    "this image and one that nobody knows": stencil(separations=(7, 99)),
    "mesh not known": replace(READY, mesh=None),
    "count not known": mesh(count_per_cm=0.0),
    "count and thread not known": mesh(count_per_cm=0.0, thread_um=None),
    "count not known, another thread": mesh(count_per_cm=0.0, thread_um=64.0),
    "thread not known": mesh(thread_um=None),
    "count at the limit": mesh(count_per_cm=MESH.count_per_cm * 1.03),
    "count over the limit": mesh(count_per_cm=MESH.count_per_cm * 1.031),
    "count under the limit": mesh(count_per_cm=MESH.count_per_cm * 0.969),
    "thread at the limit": mesh(thread_um=50.0),
    "thread over the limit": mesh(thread_um=50.1),
    "another mesh": mesh(count_as_labelled="305/in", count_per_cm=305 / 2.54, thread_um=34.0),
    "another mesh, accepted": replace(
        mesh(count_as_labelled="305/in", count_per_cm=305 / 2.54, thread_um=34.0),
        stencil=replace(STENCIL, accepted={"who": "Otto", "why": "none left", "lead": True})),
    "another mesh, accepted by no lead": replace(
        mesh(count_per_cm=305 / 2.54), stencil=replace(STENCIL, accepted={"who": "Otto"})),
    "another mesh, accepted for another image": replace(
        mesh(count_per_cm=305 / 2.54), stencil=replace(STENCIL, accepted={"separations": [8], "lead": True})),
    "another mesh, accepted for this wish": replace(
        mesh(count_per_cm=305 / 2.54),
        stencil=replace(STENCIL, accepted={"separations": [7], "asked": ["230/in · 48 µm"], "who": "V", "lead": True})),
    "another mesh, accepted for another wish": replace(
        mesh(count_per_cm=305 / 2.54), stencil=replace(STENCIL, accepted={"asked": ["200/in"], "lead": True})),
    "a good mesh, accepted": replace(READY, stencil=replace(STENCIL, accepted={"who": "Otto"})),
    "wood": mesh(frame="wood"),
    "no tension": replace(READY, tension=None),
    "no tension, none logged": replace(READY, tension=None, tension_logged=False),
    "wood, no tension logged": replace(mesh(frame="wood"), tension=None, tension_logged=False),
    "one slack reading": tension(readings_n_per_cm=(24.0, 17.0, 24.0)),
    "coat waited a day less": stencil(coated_at=ago(31.9)),
    "coat waited long": stencil(coated_at=ago(60)),
    "no coat": stencil(coated_at="", bucket=None),
    "never exposed": stencil(coated_at=ago(60), exposed_at=""),
    "hung wet": stencil(washed_at=ago(minutes=5)),
    "wetted, then printed": stencil(washed_at=ago(minutes=5), impressions=1),
    "coat thin": stencil(coated_thickness_um=79.0, step_held=None),
    "coat right": stencil(coated_thickness_um=90.0),
    "coat thick": stencil(coated_thickness_um=130.0),
    "coat thinner than the mesh": stencil(coated_thickness_um=77.9),
    "coat as the mesh": stencil(coated_thickness_um=78.0),
    "fabric not known": replace(stencil(coated_thickness_um=90.0), mesh=replace(MESH, fabric_thickness_um=None)),
    **{f"step {held:g}": stencil(step_held=held) for held in (-1.0, 0.0, 4.9, 5.0, 5.9, 6.0, 6.9, 7.0, 21.0, 22.0)},
    "step not read": stencil(step_held=None),
    "shown before": stencil(step_held=6.0, shown=(
        Shown("step-low", "washout", ago(2), 3), Shown("still-drying", "expose", ago(2.1), 4, {"left_min": 9.0}),
        Shown("room-hot", "coat", ago(3), 9), Shown("bucket-not-known", "coat", ago(3), 3),
        Shown("x", "check", ago(1), 3),
    )),
}  # fmt: skip


def press(life: Life, emulsion: Bucket | None = BUCKET, asked: Any = (ASKED, BROWN), hung: Any = None,
          spec: Spec = SPEC, **more: Any) -> str:  # fmt: skip
    found = press_checks.at_press(seen(life, emulsion), asked, hung or {}, 9, spec, NOW, **more)
    marks = (
        ["?"] * found.question
        + ["spare"] * found.spare
        + [f"tape off {', '.join(found.tape_off)}"] * bool(found.tape_off)
    )
    good = [] if found.verdict.level is Level.STOP else GOOD
    told = [one for one in found.verdict.reasons if one not in GOOD]
    less = ", ".join(one.key for one in good if one not in found.verdict.reasons)
    beside = f"at {found.station}: {found.verdict.level}: {said(told)}" + (f"; without {less}" if less else "")
    return beside + "".join(f" ({one})" for one in marks)


GOOD = press_checks.at_press(seen(READY), [ASKED], {}, 9, SPEC, NOW).verdict.reasons
"""What is said of the good screen: only what is said beyond that, or is not said, stands in the tables."""


def at_the_press() -> Iterator[str]:
    yield f"the good screen: {said(GOOD)}"
    for name, life in LIVES.items():
        yield f"{name}: {press(life)}"
    water = replace(ASKED, inks=frozenset({"discharge", "plastisol"}))
    wet = {"good": READY, "hardened": stencil(hardened=True), "weak": stencil(step_held=5.0), "a step weak": stencil(
        step_held=6.0), "half a step weak": stencil(step_held=6.5)}  # fmt: skip
    for name, life in wet.items():
        for resists in ("yes", "no", "unknown"):
            yield f"discharge, {name}, resists {resists}: " + press(
                life, replace(BUCKET, water_resistant=resists), [water]
            )
        yield f"discharge, {name}, no bucket: " + press(life, None, [water])
    yield "the usual emulsion: " + press(READY, replace(BUCKET, id=0), [water])
    for name, bucket in {
        "past its time when coated": replace(BUCKET, good_until=ago(4)), "past since": replace(BUCKET,
        good_until=ago(2)),
        "its strip failed": replace(BUCKET, test="fault"), "thrown away since": replace(BUCKET, discarded_at=ago(1)),
    }.items():  # fmt: skip
        yield f"bucket {name}: " + press(stencil(step_held=None), bucket)
        yield f"bucket {name}, own step read: " + press(READY, bucket)
    away = at(Standing.ON_PRESS, run=8)
    for name, life in (("hung elsewhere", away), ("away", replace(READY, standing=Standing.AWAY))):
        yield f"{name}, in hand: " + press(life, in_hand=True)
    yield "not checked, none logged: " + press(stencil(check=""), checks_logged=False)
    yield "to check, none logged: " + press(at(Standing.TO_CHECK), checks_logged=False)


def with_others() -> Iterator[str]:
    """Other screens that hang already, heads and the order of printing."""
    twice = (ASKED, replace(ASKED, number=3), BROWN)
    other = seen(READY, screen=2)
    yield "its place is taken: " + press(READY, hung={1: other})
    yield "it hangs there itself: " + press(READY, hung={1: seen(READY)})
    yield "one of two places is taken: " + press(READY, asked=twice, hung={1: other})
    yield "both are taken, meant 3: " + press(READY, asked=twice, hung={1: other, 3: other}, station=3)
    yield "free, meant 3: " + press(READY, asked=twice, station=3)
    finer = (replace(ASKED, count_per_cm=305 / 2.54), replace(ASKED, number=3))
    yield "the place of its mesh: " + press(READY, asked=finer)
    slack, tight = seen(tension(readings_n_per_cm=(18.0,), readings_weft_n_per_cm=()), screen=2), seen(READY, screen=3)
    yield "a slack neighbour: " + press(READY, hung={2: slack, 4: tight})
    yield "a neighbour nobody measured: " + press(READY, hung={2: seen(replace(READY, tension=None), screen=2)})
    heads = {2: 4, 3: None}
    for head in (None, 3, 4, 5):
        yield f"head {head}, position 2 on head 4: " + press(READY, heads=heads, head=head)
        turned = Press(8, ANTICLOCKWISE)
        yield f"head {head}, position 2 on head 4, the other way round: " + press(
            READY, heads=heads, head=head, press=turned
        )
        yield f"head {head}, by hand: " + press(READY, heads=heads, head=head, press=Press(8, ANY_ORDER))
    for there in (2, 3, 4):
        told = press(READY, asked=(ASKED, replace(BROWN, number=3)), heads={3: there}, head=1, flashes={2: 1})
        yield f"head 1, position 3 behind a flash on head {there}: {told}"
    later = press(READY, asked=(ASKED, replace(BROWN, revolution=2)), heads={2: 1}, head=4)
    yield f"head 4, position 2 on head 1 in another revolution: {later}"
    for name, image in {
        "revision": replace(IMAGE, revision="2"), "size": replace(IMAGE, width_mm=280),
        "art": replace(IMAGE, art="Bun"),
    }.items():  # fmt: skip
        told = press_checks.at_press(seen(stencil(separations=(5,)), images={5: image}), [ASKED], {}, 9, SPEC, NOW)
        yield f"another {name}: at {told.station}: {said(told.verdict)}"
    both = {7: IMAGE, 8: replace(OTHER, art="Bun"), 9: OTHER, 6: replace(OTHER, width_mm=100)}
    for numbers in ((7, 9), (7, 8), (7, 9, 6), (7, 5)):
        found = press_checks.at_press(seen(stencil(separations=numbers), images=both), [ASKED], {}, 9, SPEC, NOW)
        yield f"carries {numbers}: tape off {'; '.join(found.tape_off)}"


def test_what_the_press_says_of_a_screen() -> None:
    same_as_read("rules_at_press", at_the_press())


def test_what_the_press_says_of_a_screen_among_others() -> None:
    same_as_read("rules_among_others", with_others())


# -- in the screen room


def coats() -> Iterator[str]:
    bare = replace(READY, standing=Standing.DEGREASED, stencil=None, wetted_at=ago(2))

    def coat(life: Life = bare, bucket: Bucket | None = BUCKET, lately: Any = None, air: Any = None, spec: Spec = SPEC,
             **values: Any) -> str:  # fmt: skip
        return said(checks.coat(life, bucket, values, spec, NOW, lately, air))

    yield f"nothing measured: {coat()}"
    for c in (20.0, 34.9, 35.0, 39.9, 40.0, 40.1):
        yield f"room {c:g} °C: {coat(room_c=c)}"
    for rh in (30.0, 49.9, 50.0, 80.0):
        yield f"room {rh:g} %: {coat(room_rh_pct=rh)}"
    yield f"both: {coat(room_c=20.0, room_rh_pct=30.0)}"
    lately = Room(20.0, 30.0, ago(minutes=90), "Vera")
    yield f"read lately: {coat(lately=lately)}"
    yield f"read lately in part: {coat(lately=replace(lately, room_rh_pct=None))}"
    yield f"read lately, damp: {coat(lately=replace(lately, room_rh_pct=80.0))}"
    yield f"read lately and now: {coat(lately=lately, room_c=20.0)}"
    for name, bucket in {
        "none": None, "no date": replace(BUCKET, good_until=""), "strip failed": replace(BUCKET, test="fault"),
        "thrown away": replace(BUCKET, discarded_at=ago(1)), "thrown away now": replace(BUCKET, discarded_at=ago()),
        "thrown away later": replace(BUCKET, discarded_at=stamp(NOW + timedelta(hours=1))),
        "to its last minute": replace(BUCKET, good_until=ago()), "past": replace(BUCKET, good_until=ago(hours=36)),
        "mixed now": replace(BUCKET, mixed_at=ago()),
        "mixed later": replace(BUCKET, mixed_at=stamp(NOW + timedelta(hours=5))),
    }.items():  # fmt: skip
        yield f"bucket {name}: {coat(bucket=bucket)}"
    for minutes in (5, 14, 29, 30, 31, 59, 60, 61):
        yield f"degreased {minutes} min ago: {coat(replace(bare, wetted_at=ago(minutes=minutes)))}"
        told = coat(replace(bare, wetted_at=ago(minutes=minutes)), room_c=15.0, room_rh_pct=80.0)
        yield f"degreased {minutes} min ago, cool and damp: {told}"
    yield f"said to be dry: {coat(replace(bare, wetted_at=ago(minutes=5), dry_at=ago(minutes=5)))}"
    yield f"air of before: {coat(replace(bare, wetted_at=ago(minutes=29)), air=Air(15.0, 80.0))}"
    yield f"thin: {coat(coated_thickness_um=80.0)}"
    yield f"right: {coat(coated_thickness_um=92.0)}"
    yield f"fabric not known: {coat(replace(bare, mesh=None), coated_thickness_um=92.0)}"
    yield f"torn: {coat(replace(bare, torn=True))}"
    yield f"never measured: {coat(replace(bare, tension=None))}"
    yield f"never measured, none logged: {coat(replace(bare, tension=None, tension_logged=False))}"
    told = coat(
        room_c=50.0,
        room_rh_pct=90.0,
        spec=without("drying-temperature", "drying-humidity", "drying-temperature-highest"),
    )
    yield f"no limits of the room: {told}"


def images() -> Iterator[str]:
    coated = at(Standing.COATED)

    def image(life: Life = coated, asked: Any = (ASKED,), bucket: Bucket | None = BUCKET, **more: Any) -> str:
        return said(checks.image(life, asked, bucket, SPEC, NOW, **more))

    yield f"good: {image()}"
    yield f"nobody asks: {image(asked=())}"
    yield f"two ask: {image(asked=(ASKED, BROWN))}"
    yield f"two works ask: {image(asked=(ASKED, replace(BROWN, work=ONE_COLOUR)))}"
    yield f"torn: {image(replace(coated, torn=True))}"
    for minutes in (10, 59, 89, 91, 119, 121):
        one = replace(coated, stencil=replace(STENCIL, coated_at=ago(minutes=minutes), room_c=None))
        yield f"coated {minutes} min ago: {image(one)}"
        yield f"coated {minutes} min ago, warm and dry: {image(one, air=Air(30.0, 20.0))}"
    for days in (1.99, 2.0, 27.9, 28.0, 28.1, 31.0):
        yield f"coated {days:g} days ago: {image(replace(coated, stencil=replace(STENCIL, coated_at=ago(days))))}"
    discharge = replace(ASKED, inks=frozenset({"discharge"}))
    yield f"an emulsion that no water stands: {image(asked=(discharge,), bucket=replace(BUCKET, water_resistant='no'))}"
    for standing in Standing:
        one = checks.fit(at(standing), discharge, replace(BUCKET, water_resistant="no", product=""), SPEC, NOW)
        yield f"would serve, {standing}: {said(one)}"
    yield f"would serve, torn: {said(checks.fit(replace(coated, torn=True), ASKED, BUCKET, SPEC, NOW))}"


def exposures() -> Iterator[str]:
    imaged = at(Standing.IMAGED)

    def expose(values: Any, wanted: float | None = 60.0, works: Any = ("colours",), bucket: Bucket | None = BUCKET,
               life: Life = imaged, spec: Spec = SPEC, **more: Any) -> str:  # fmt: skip
        return said(checks.expose(life, values, wanted, works, bucket, spec, NOW, **more))

    for time in (None, 0.0, 47.9, 48.0, 60.0, 72.0, 72.1):
        yield f"{time} s of 60: {expose({'exposure_s': time})}"
    yield f"60 s, wanted not known: {expose({'exposure_s': 60.0}, None)}"
    yield f"40 units of 50: {expose({'exposure_units': 40.0}, wanted_units=50.0)}"
    yield f"39 units of 50: {expose({'exposure_units': 39.0}, wanted_units=50.0)}"
    yield f"both, a time wanted: {expose({'exposure_units': 39.0, 'exposure_s': 60.0}, wanted_units=50.0)}"
    yield f"both, units wanted alone: {expose({'exposure_units': 39.0, 'exposure_s': 60.0}, None, wanted_units=50.0)}"
    yield f"both, nothing wanted: {expose({'exposure_units': 39.0, 'exposure_s': 60.0}, None)}"
    yield f"a test strip: {expose({'exposure_s': 5.0, 'purpose': 'test strip'})}"
    yield f"no tolerance: {expose({'exposure_s': 61.0}, spec=without('exposure-tolerance'))}"
    yield f"no bucket: {expose({'exposure_s': 60.0}, bucket=None)}"
    old, late = replace(BUCKET, good_until=ago(4)), replace(BUCKET, good_until=ago(1))
    yield f"bucket past when coated: {expose({'exposure_s': 60.0}, bucket=old)}"
    yield f"bucket past since: {expose({'exposure_s': 60.0}, bucket=late)}"
    uncoated = replace(imaged, stencil=replace(STENCIL, coated_at=""))
    yield f"bucket past, no coat logged: {expose({'exposure_s': 60.0}, bucket=late, life=uncoated)}"
    long = replace(imaged, stencil=replace(STENCIL, coated_at=ago(60)))
    yield f"coat waited long, no job: {expose({'exposure_s': 60.0}, works=(), life=long)}"
    yield f"coat waited long, two works: {expose({'exposure_s': 60.0}, works=('colours', ONE_COLOUR), life=long)}"
    for mm, diagonal in ((None, 900.0), (0.0, 900.0), (899.0, 900.0), (900.0, 900.0), (1350.0, 900.0), (900.0, None)):
        yield f"lamp at {mm} of {diagonal} mm: {said(checks.lamp_distance(mm, diagonal, SPEC))}"


def washouts() -> Iterator[str]:
    def washout(spec: Spec = SPEC, exposure_s: float | None = 60.0, **values: Any) -> str:
        return said(checks.washout(values, exposure_s, spec))

    for values in ({}, {"result": "good"}, {"result": "fault"}, {"result": "fault", "fault": "pinholes"}):
        yield f"{values}: {washout(**values)}"
    for held in (0, 0.5, 1, 5, 6.9, 7, 7.5, 8, 8.1, 9, 10, 21, 21.5, 22):
        yield f"step {held}: {washout(result='good', step_held=held)}"
    yield f"step 5, time not known: {washout(result='good', step_held=5, exposure_s=None)}"
    yield f"step 20, no limit above: {washout(without('step-above'), result='good', step_held=20)}"
    yield f"step 20, none wanted: {washout(without('wanted-step'), result='good', step_held=20)}"
    for name, life, values in (
        ("good", READY, {"result": "good"}), ("nothing", READY, {}), ("fault", READY, {"result": "fault"}),
        ("a fault", READY, {"result": "fault", "fault": "pinholes"}), ("named by this one", stencil(by_eye=3),
        {"result": "good"}),
        ("named by another", stencil(by_eye=4), {"result": "good"}),
        ("named by this one, who works alone", stencil(by_eye=3), {"result": "good", "confirmed": "alone"}),
        ("no stencil", replace(READY, stencil=None), {"result": "good"}),
    ):  # fmt: skip
        yield f"check, {name}: {said(checks.check(values, life, 3))}"
    for values in (
        {}, {"thread_um": 48.0}, {"thread_um": 200.0}, {"thread_um": 10_000 / MESH.count_per_cm},
        {"thread_um": 48.0, "opening_um": 62.0}, {"thread_um": 48.0, "opening_um": 90.0, "open_area_pct": 60.0},
        {"thread_um": 48.0, "fabric_thickness_um": 47.0}, {"thread_um": 48.0, "fabric_thickness_um": 200.0},
        {"thread_um": 48.0, "ink_volume_cm3_m2": 90.0},
    ):  # fmt: skip
        yield f"sheet {values}: {said(checks.sheet(values, MESH.count_per_cm, SPEC))}"


def test_what_is_said_of_a_coat() -> None:
    same_as_read("rules_coat", coats())


def test_what_is_said_of_an_image() -> None:
    same_as_read("rules_image", images())


def test_what_is_said_of_an_exposure() -> None:
    same_as_read("rules_exposure", exposures())


def test_what_is_said_of_a_washout_a_check_and_a_makers_sheet() -> None:
    same_as_read("rules_washout", washouts())


# -- mesh and tension


def tensions() -> Iterator[str]:
    def judged(life: Life, work: str = "colours", spec: Spec = SPEC) -> str:
        return said(frame_checks.tension(life, work, spec, NOW))

    for work in WORK:
        for low in (9.9, 10.0, 11.9, 12.0, 14.9, 15.0, 17.9, 18.0, 19.9, 20.0, 25.0, 35.0, 36.0, 45.0, 60.0):
            one = tension(readings_n_per_cm=(low, low + 1), readings_weft_n_per_cm=(low + 0.5,))
            yield f"{work}, {low:g} N/cm: {judged(one, work)}"
        yield f"{work}, wood: {judged(mesh(frame='wood'), work)}"
    for spread in (1.9, 2.0, 2.1, 4.0, 6.0):
        told = judged(tension(readings_n_per_cm=(24.0, 24.0 + spread), readings_weft_n_per_cm=()))
        yield f"apart by {spread:g}: {told}"
        weft = tension(readings_n_per_cm=(24.0,), readings_weft_n_per_cm=(24.0 + spread,))
        yield f"warp and weft apart by {spread:g}: {judged(weft)}"
    for days in (0.0, 6.9, 7.0, 29.9, 30.0, 30.1, 89.0, 90.0, 91.0):
        yield f"measured {days:g} days ago: {judged(tension(at=ago(days)))}"
    for since in (0, 1, 4, 5, 6, 9, 10, 11):
        yield f"{since} stencils since: {judged(tension(stencils_since=since))}"
    bare = without("tension-age", "tension-age-stencils")
    yield f"an old reading, no limits: {judged(tension(at=ago(900), stencils_since=99), spec=bare)}"
    told = judged(tension(at=ago(900), stencils_since=99), spec=without("tension-age"))
    yield f"an old reading, limit of stencils alone: {told}"
    yield f"none: {judged(replace(READY, tension=None))}"
    yield f"none logged: {judged(replace(READY, tension=None, tension_logged=False))}"
    yield f"old, none logged: {judged(replace(tension(at=ago(900)), tension_logged=False))}"
    for hours in (1, 23, 24, 47, 48, 49, 72):
        for after in ("", "stretch", "print"):
            for uses in (0, 1, 3, 5):
                new = replace(READY, mesh=replace(MESH, stretched_at=ago(hours=hours + 30)), uses=uses,
                              tension=replace(TENSION, at=ago(hours=30), after=after, uses=min(uses, 1)))  # fmt: skip
                if after == "" or uses in (0, 3):
                    yield f"stretched {hours} h before, {after or 'not said'}, {uses} uses: {judged(new)}"
    again = replace(READY, retensioned_at=ago(2), retensioned_uses=4, uses=5, tension=replace(TENSION, uses=4))
    yield f"retensioned: {judged(again)}"
    yield f"in use when it came: {judged(mesh(in_use=True, stretched_at=ago(1.5)))}"
    for key in ("settled-hours", "settled-uses", "settling-loss"):
        fresh = replace(mesh(stretched_at=ago(1.1)), uses=0)
        yield f"fresh, no {key}: {judged(fresh, spec=without(key))}"
    new = replace(READY, tension=replace(TENSION, readings_n_per_cm=(20.0,), readings_weft_n_per_cm=()))
    for other in (19.0, 21.0, 22.0, 23.0, 24.0, 26.0):
        beside = {"N": tension(readings_n_per_cm=(other,), readings_weft_n_per_cm=())}
        yield f"20 N/cm beside {other:g}: {said(frame_checks.neighbours(new, beside, SPEC))}"
    yield f"no neighbour measured: {said(frame_checks.neighbours(new, {'N': replace(READY, tension=None)}, SPEC))}"
    yield f"no limit: {said(frame_checks.neighbours(new, {'N': READY}, without('tension-neighbours')))}"
    for spec in (SPEC, without("new-mesh-tension")):
        yield f"share of new: {[frame_checks.share_pct(one, spec) for one in (READY, replace(READY, tension=None))]}"
    for one in (READY, mesh(frame="wood"), replace(READY, mesh=None)):
        yield f"{one.mesh and one.mesh.frame}: {frame_checks.usual_work(one, SPEC)}"


def test_what_is_said_of_a_tension() -> None:
    same_as_read("rules_tension", tensions())


# -- what a run is judged by


def runs() -> Iterator[str]:
    stop, caution = Reason("torn", Level.STOP), Reason("tension-old", Level.CAUTION, {"age_d": 91.0})
    yield f"nothing: {said(press_checks.may_run([]))}"
    yield f"both: {said(press_checks.may_run([stop, caution]))}"
    kept = [one.to_dict() for one in (stop, caution)]
    passed = {"passed": {"who": "Otto", "why": "rush"}, "reasons": kept}
    yield f"overridden: {said(press_checks.may_run([stop, caution], [passed]))}"
    yield f"overridden, two stops: {said(press_checks.may_run([stop, replace(stop, key='failed')], [passed]))}"
    yield f"known, not overridden: {said(press_checks.may_run([stop], [{**passed, 'passed': None}]))}"
    twice = [passed, {**passed, "reasons": [Reason("failed", Level.STOP).to_dict()]}]
    yield f"both overridden: {said(press_checks.may_run([stop, replace(stop, key='failed')], twice))}"
    for head in (None, 3, 4):
        for answered in (False, True):
            yield f"head {head}, {answered}: {said(press_checks.head_in_use(head, {3: 8}, answered))}"
    yield f"shared: {said(press_checks.heads_shared([None, 3, 4], {3: 8}))}"
    for good, more, ordered, answered in ((90, 10, 100, False), (90, 11, 100, False), (90, 11, 100, True),
    (110, 0, 100, False),
                                          (110, 5, 100, True), (110, 1, 100, False)):  # fmt: skip
        for spec in (SPEC, without("pieces-over")):
            told = said(press_checks.over_ordered(good, more, ordered, answered, spec))
            yield f"{good} + {more} of {ordered}, {answered}: {told}"
    again: list[tuple[str, Mapping[str, Any]]] = [("swap", {"station": 1, "now": "A", "was": "B", "image": "white"})]
    for approved in (True, False):
        yield f"first print {approved}: {said(press_checks.first_print(approved, again))}"
    on = [OnHead(ASKED, "7K32XM", READY, 1, ago(1)), OnHead(BROWN, "", None, None)]
    for name, now in {
        "the same": [ASKED, BROWN], "one dropped": [ASKED], "one more": [ASKED, BROWN,
        replace(BROWN, number=3, separation=9, image=replace(OTHER, name="gold"))],
        "new revision": [replace(ASKED, separation=17, image=replace(IMAGE, revision="2")), BROWN],
        "both new revisions": [replace(one, separation=one.separation + 10,
        image=replace(one.image, revision="2")) for one in (ASKED, BROWN)],
        "another size": [replace(ASKED, separation=17, image=replace(IMAGE, width_mm=280)), BROWN],
        "another mesh": [replace(ASKED, mesh="305/in", count_per_cm=305 / 2.54, thread_um=34.0), BROWN],
        "a mesh that is the same": [replace(ASKED, mesh="225/in", count_per_cm=225 / 2.54), BROWN],
        "another mesh where none hangs": [ASKED, replace(BROWN, mesh="305/in", count_per_cm=305 / 2.54,
        thread_um=34.0)],
    }.items():  # fmt: skip
        for version in (0, 3):
            yield f"{name}, version {version}: {said(press_checks.old_art(on, now, SPEC, version))}"
    right = [OnHead(ASKED, "7K32XM", mesh(count_per_cm=305 / 2.54, thread_um=34.0), 1)]
    other = [replace(ASKED, mesh="305/in", count_per_cm=305 / 2.54, thread_um=34.0)]
    yield f"the screen has the new mesh: {said(press_checks.old_art(right, other, SPEC, 0))}"
    for name, one in {
        "named": on[0], "none hangs": on[1], "not named": replace(on[0], life=stencil(separations=(), check="")),
        "looked at since": replace(on[0], life=stencil(separations=()), since=ago(2)),
        "looked at before": replace(on[0], life=stencil(separations=()), since=ago(1)),
        "looked at then": replace(on[0], life=stencil(separations=()), since=STENCIL.checked_at),
        "since when nobody knows": replace(on[0], life=stencil(separations=()), since=""),
        "no stencil": replace(on[0], life=replace(READY, stencil=None), head=None),
    }.items():  # fmt: skip
        yield f"{name}: {said(press_checks.unnamed([one]))}"


def inks() -> Iterator[str]:
    ink = Bucket(
        5, "B00005", "discharge ink", "White", "", mixed_at=ago(hours=5), good_until=stamp(NOW + timedelta(hours=3))
    )
    for name, one in {
        "none": None, "good": ink, "no date": replace(ink, good_until=""),
        "plastisol": replace(ink, kind="plastisol ink", good_until=""),
        "to its last minute": replace(ink, good_until=ago()), "past": replace(ink, good_until=ago(hours=2)),
        "nearly past": replace(ink, good_until=stamp(NOW + timedelta(minutes=20))),
        "thrown away": replace(ink, discarded_at=ago(hours=1)),
        "thrown away later": replace(ink, discarded_at=stamp(NOW + timedelta(hours=1))),
    }.items():  # fmt: skip
        for running in (False, True):
            yield f"{name}, {'running' if running else 'set-up'}: {said(checks.ink_in_time(one, NOW, running))}"
        if one is not None:
            yield f"{name}, in a run: {said(checks.ink_running(one, NOW, True))}"


def test_what_is_said_of_a_run() -> None:
    same_as_read("rules_run", runs())


def test_what_is_said_of_an_ink_in_its_bucket() -> None:
    same_as_read("rules_ink", inks())
