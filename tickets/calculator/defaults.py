"""The limits that a shop starts from, in one place, each saying where it comes from.

Published advice disagrees, so these are rows that the shop edits, not constants of the rules. `when` says what a row
is for; the row with most conditions wins.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tickets.calculator.kinds import ALUMINIUM, COLOURS, HALFTONE, ONE_COLOUR, ROLLER, WOOD
from tickets.i18n import N_

PRACTICE = N_("common practice")
JUDGEMENT = N_("judgement")


@dataclass(frozen=True, slots=True)
class Default:
    """One limit: `value` in `unit` (our unit names; "" for a plain number) for the things that `when` names.

    Conditions: work (one-colour, colours, halftone), frame (wood, aluminium, roller), emulsion (diazo, dual-cure,
    photopolymer), ink (as in a job), fibre, lamp (point, fluorescent, led), after (coat, washout), and spans (SPANS):
    of mesh counts and of the shorter sides of frames, over the first, up to and including the second.
    """

    key: str
    value: float
    unit: str
    source: str
    when: Mapping[str, Any] = field(default_factory=dict)

    @property
    def weight(self) -> int:
        """How many things the row is particular about; a span is one."""
        return len({SPAN_OF[name].fact if name in SPAN_OF else name for name in self.when})

    def fits(self, conditions: Mapping[str, Any]) -> bool:
        """True when everything the row is particular about is known and so."""
        for name, wanted in self.when.items():
            span = SPAN_OF.get(name)
            known = conditions.get(span.fact if span else name)
            if span is None:
                if known != wanted:
                    return False
            elif known is None or (known > wanted + span.slack) != (name == span.over):
                return False
        return True


@dataclass(frozen=True, slots=True)
class Span:
    """A fact of which rows name spans: `over` one value, up to and including another (`to`), in `unit`.

    `slack`: how far beyond a value still counts as that value, since labels are rounded.
    """

    fact: str
    over: str
    to: str
    unit: str
    slack: float


SPANS = {
    # 67/cm is 170.2/in and sold as 170: a label's rounding must not move a screen into the next span
    "count": Span("count_per_in", "count_over_per_in", "count_to_per_in", "/in", 0.5),
    # 23 in is 58.4 cm and sold as 58 or 58.5
    "side": Span("side_cm", "side_over_cm", "side_to_cm", "cm", 0.5),
}
SPAN_OF = {name: span for span in SPANS.values() for name in (span.over, span.to)}

_TENSION_SOURCE = N_(
    "judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of "
    "presses. They say 20 N/cm as the floor for several colours, 10 to 20 for anything"
)
_FINE_FLOOR_SOURCE = N_(
    "judgement: new mesh over 240/in holds 21 and loses 10 to 15 % overnight (Screen Printing, Feb 2001); a newsletter "
    "replaces any mesh under 18"
)
_NEW_MESH_SOURCE = N_(
    "judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: "
    "25 static, 35 roller)"
)


_HARD_SOURCE = N_("judgement: about three fifths of the floor; from there on the press lead decides")
_TENSIONS: Mapping[tuple[str, str], tuple[float, float, float]] = {
    (ONE_COLOUR, ""): (15, 10, 6),
    (COLOURS, ""): (20, 15, 9),
    (HALFTONE, ""): (22, 18, 11),
    (ONE_COLOUR, WOOD): (10, 7, 4),
}
"""By work, and by frame where one is a case of its own: caution under the first, stop under the second; under the third
only the press lead passes a screen. N/cm."""


def _of(work: str, frame: str) -> dict[str, Any]:
    return {"work": work, "frame": frame} if frame else {"work": work}


def _tension() -> Iterable[Default]:
    for (work, frame), (watch, floor, _least) in _TENSIONS.items():
        yield Default("tension-watch", watch, "N/cm", _TENSION_SOURCE, _of(work, frame))
        yield Default("tension-floor", floor, "N/cm", _TENSION_SOURCE, _of(work, frame))
    yield Default("tension-floor", 17.5, "N/cm", _FINE_FLOOR_SOURCE, {"work": HALFTONE, "count_over_per_in": 240})
    spans: dict[str, list[tuple[float | None, float | None, float]]] = {
        ALUMINIUM: [(None, 170, 25), (170, 240, 24), (240, None, 21)],
        ROLLER: [(None, 150, 35), (150, 240, 26), (240, None, 21)],
        WOOD: [(None, None, 15)],
    }
    for frame_kind, rows in spans.items():
        for over, to, value in rows:
            named: dict[str, Any] = {"frame": frame_kind}
            if over is not None:
                named["count_over_per_in"] = over
            if to is not None:
                named["count_to_per_in"] = to
            yield Default("new-mesh-tension", value, "N/cm", _NEW_MESH_SOURCE, named)


_LOAD_SOURCE = N_(
    "judgement: a bead of some 4 g for each cm of the blade. The blade is 20 cm shorter than the frame's shorter "
    "side. Weigh what you put in, and set your own"
)
_LOADS: tuple[tuple[int | None, int | None, int], ...] = (
    (None, 45, 90),
    (45, 55, 130),
    (55, 62, 160),
    (62, 80, 210),
    (80, None, 330),
)


DEFAULTS: tuple[Default, ...] = (
    *_tension(),
    *(
        Default("tension-hard-floor", least, "N/cm", _HARD_SOURCE, _of(work, frame))
        for (work, frame), (_watch, _floor, least) in _TENSIONS.items()
    ),
    Default(
        "tension-ceiling",
        40,
        "N/cm",
        N_("Images, June 2024: about 40 printed well, with too many burst screens; the mesh maker's limit wins"),
    ),
    Default(
        "tension-over-new",
        10,
        "N/cm",
        N_("judgement: a supplier calls 25 excellent and goes up to 35; finer mesh takes less (Images, June 2024)"),
    ),
    Default(
        "tension-watch-share",
        95,
        "%",
        N_("judgement: a mesh may be stretched to less than some work asks for; caution starts once it lost from that"),
    ),
    Default(
        "tension-watch-share",
        90,
        "%",
        N_(
            "judgement: fine mesh is stretched to less than some work asks for, and loses a tenth or more while it "
            "settles. Screen Printing, Feb 2001: 20 N/cm is found at 17 to 18 overnight"
        ),
        {"count_over_per_in": 240},
    ),
    Default(
        "tension-spread", 5, "N/cm", N_("a newsletter on tension: a spread of 5 N/cm means the stretch has failed")
    ),
    Default(
        "tension-spread",
        3,
        "N/cm",
        N_("Screen Printing, Feb 2001: 3 N/cm across one screen is too much for halftone"),
        {"work": HALFTONE},
    ),
    Default(
        "tension-warp-weft",
        15,
        "%",
        N_("a maker of presses: warp may carry 5 to 15 % more than weft; an article: the two should agree"),
    ),
    Default(
        "holds-register",
        0,
        "",
        N_("shop practice: wood moves with the damp, so only one-colour work is worth keeping on it"),
        {"frame": WOOD},
    ),
    Default(
        "tension-neighbours",
        15,
        "%",
        N_("judgement: published advice only says that the screens of one job should be alike (points of new mesh)"),
    ),
    Default("tension-age", 90, "d", JUDGEMENT),
    Default("tension-age-stencils", 5, "", JUDGEMENT),
    Default(
        "settled-hours",
        24,
        "h",
        N_("an article on tension loss: rest new mesh 24 h at least; it loses 10 to 25 % in the first 24 to 48 h"),
    ),
    Default(
        "settled-uses",
        2,
        "",
        N_("two articles on tension loss: mesh settles after one or two print runs"),
    ),
    Default(
        "settling-loss",
        15,
        "%",
        N_(
            "judgement, between three articles. Two on tension loss: rested mesh loses 3 to 5 N/cm in its first run, "
            "of about 25. Screen Printing, Feb 2001: 10 to 15 % while it settles"
        ),
    ),
    Default(
        "mesh-count-tolerance",
        3,
        "%",
        N_("judgement: 90/cm is sold as 225, 228.6 or 230/in, which is one mesh"),
    ),
    Default("mesh-thread-tolerance", 2, "um", JUDGEMENT),
    Default("sheet-opening-off", 20, "%", N_("judgement: makers count threads and openings before or after weaving")),
    Default("sheet-area-off", 10, "%", N_("judgement: points of area; makers’ sheets for one mesh differ by less")),
    Default(
        "sheet-thickness-least", 1.3, "", N_("judgement: fabrics are some 1.44 to 1.58 threads thick by makers’ sheets")
    ),
    Default(
        "sheet-thickness-most", 2, "", N_("geometry: where two threads cross, a fabric is two of them thick at most")
    ),
    Default("sheet-volume-off", 5, "%", N_("judgement: makers’ volumes are open area times thickness, and rounded")),
    Default("mesh-further-uses", 5, "", N_("judgement: as many uses as a run or two of the next week take")),
    Default("mesh-chance-least", 80, "%", N_("judgement: one mesh in five that fails sooner is worth a spare frame")),
    Default(
        "mesh-count-hard",
        35,
        "%",
        N_("judgement: three meshes or so apart in the usual row of counts; it lays down another print altogether"),
    ),
    Default(
        "coated-age",
        7,
        "d",
        N_(
            "Screen Printing, Sept 2003: at most a week to keep 3-4 % dots (the emulsion goes on hardening in the dark)"
        ),
        {"work": HALFTONE, "emulsion": "diazo"},
    ),
    Default(
        "coated-age",
        28,
        "d",
        N_("judgement: the published week is for the finest dots; coarser work bears more hardening in the dark"),
        {"emulsion": "diazo"},
    ),
    Default(
        "coated-age",
        28,
        "d",
        N_("judgement: it holds a diazo and hardens in the dark too, more slowly; no published figure"),
        {"emulsion": "dual-cure"},
    ),
    Default(
        "coated-age",
        28,
        "d",
        N_("judgement: no diazo in it that hardens in the dark; no published figure, and damp still harms the coat"),
        {"emulsion": "photopolymer"},
    ),
    Default("coated-age", 28, "d", JUDGEMENT),
    Default("keep-days", 90, "d", N_("judgement: keep for a season's reorders, unless the frames run short")),
    Default("idle-days", 180, "d", N_("judgement: a frame that two seasons did without is worth a thought")),
    Default("frames-enough", 95, "%", N_("judgement: frames may run out for one day in twenty, and no more")),
    Default(
        "mixed-emulsion-age",
        28,
        "d",
        N_("Screen Printing, Sept 2003: 4 weeks at most; Graphics Pro: about 6 weeks, 3 days at 37 °C"),
        {"emulsion": "diazo"},
    ),
    Default(
        "mixed-emulsion-age",
        28,
        "d",
        N_("Screen Printing, Sept 2003: 4 weeks at most; Graphics Pro: about 6 weeks, 3 days at 37 °C"),
        {"emulsion": "dual-cure"},
    ),
    Default(
        "mixed-emulsion-age",
        330,
        "d",
        N_("Screen Printing, Sept 2003: almost a year in use"),
        {"emulsion": "photopolymer"},
    ),
    Default("strip-vouches", 7, "d", N_("judgement: a good test strip speaks for an old emulsion for a week")),
    Default(
        "wanted-step",
        7,
        "",
        N_("an emulsion maker: at least a solid step 7 for direct stencils; the emulsion's own sheet wins"),
    ),
    Default(
        "step-weak-most",
        1,
        "",
        N_("judgement: water softens what is not fully exposed; one step is 41 % of light"),
        {"ink": "water-base"},
    ),
    Default(
        "step-weak-most",
        1,
        "",
        N_("judgement: water softens what is not fully exposed; one step is 41 % of light"),
        {"ink": "discharge"},
    ),
    Default("step-above", 2, "", N_("judgement: two steps over are twice the light, where fine detail begins to go")),
    Default(
        "exposure-tolerance",
        20,
        "%",
        N_("judgement: two replies on exposure call changes under about 25 % not noticeable; one step is 41 %"),
    ),
    Default(
        "lamp-distance-diagonals",
        1.5,
        "",
        N_("an emulsion maker: a point lamp at least 1.5 diagonals of the stencil away"),
    ),
    Default(
        "lamp-hours",
        500,
        "h",
        N_("a trade magazine's answer: point lamps after 500 hours of exposure or 6 months"),
        {"lamp": "point"},
    ),
    Default(
        "lamp-age",
        182,
        "d",
        N_("a trade magazine's answer: point lamps after 500 hours of exposure or 6 months"),
        {"lamp": "point"},
    ),
    Default(
        "lamp-age",
        365,
        "d",
        N_("a trade magazine's answer: fluorescent tubes every 6 to 12 months"),
        {"lamp": "fluorescent"},
    ),
    Default(
        "lamp-drift",
        25,
        "%",
        N_("a lamp study: about 80 % of the first output is left at the end of life, which asks for 25 % more time"),
    ),
    Default(
        "drying-temperature",
        35,
        "degC",
        N_("an emulsion maker: drying air below 35 °C and 50 % humidity; diazo hardens by heat above 40 °C"),
    ),
    Default("drying-temperature-highest", 40, "degC", N_("an emulsion maker: hardening by heat starts above 40 °C")),
    Default("drying-humidity", 50, "%", N_("an emulsion maker: drying air below 35 °C and 50 % humidity")),
    Default(
        "minutes-to-touch-dry",
        60,
        "min",
        N_("Screen Printing, May 2002: touch dry in 1 h at 21 °C and 50 %"),
        {"after": "coat"},
    ),
    Default(
        "minutes-to-dry",
        75,
        "min",
        N_("Screen Printing, May 2002: fully dry in 15-20 min at 38 °C and 20 %, which is 64-85 min at 21 °C and 50 %"),
        {"after": "coat"},
    ),
    Default("minutes-to-dry", 60, "min", PRACTICE, {"after": "washout"}),
    Default(
        "minutes-to-dry",
        30,
        "min",
        N_("judgement: bare mesh holds little water; the sources only say degrease, dry, then coat"),
        {"after": "degrease"},
    ),
    Default("dries-at-temperature", 21, "degC", N_("Screen Printing, May 2002: the room that its 1 h is for")),
    Default("dries-at-humidity", 50, "%", N_("Screen Printing, May 2002: the room that its 1 h is for")),
    Default(
        "hours-to-dry-longest",
        24,
        "h",
        N_("a hobby article's cautious rule: 24 h; damp air takes up almost nothing, so the count stops there"),
    ),
    Default(
        "halftone-ratio",
        3.5,
        "",
        N_("Screen Printing, April 2003: 3.5 and 4 threads to a line are in use; a mesh maker: 2.5, 3.75 or 5"),
    ),
    Default("halftone-ratio-least", 2.5, "", N_("a mesh maker's lowest advice: 2.5 threads to a line")),
    Default(
        "moire-angle",
        45,
        "deg",
        N_("a mesh maker: 0, 45 and 90 degrees to the threads are worst (each multiple of this angle)"),
    ),
    Default(
        "moire-margin",
        5,
        "deg",
        N_("judgement: the same mesh maker's good angles, 7.5 to 82.5 degrees, stay 7.5 clear"),
    ),
    Default(
        "build-least", 10, "%", N_("a forum: emulsion over mesh 10 % at least; textile 15-20 % by another article")
    ),
    Default("build-most", 25, "%", N_("a forum: emulsion over mesh 25 % at most; textile 15-20 % by another article")),
    Default(
        "build-most",
        20,
        "%",
        N_("judgement: halftones want a thin stencil, 10-15 % by common practice"),
        {"work": HALFTONE},
    ),
    Default(
        "flake-factor",
        3,
        "",
        N_("common practice: an opening three times the largest particle; some say 2.5"),
    ),
    Default("print-shape", 6, "", N_("judgement: a long sleeve print is five times as long as it is wide")),
    Default("colour-warn", 1.0, "", N_("judgement, within the 0.5 to 1.5 that textile buyers set")),
    Default("colour-fail", 2.0, "", N_("judgement, under the 2.5 that print buyers take on average")),
    Default(
        "dye-bleed-onset",
        132,
        "degC",
        N_(
            "an article on migration: dyes are set at 270-300 °F; others print 265 to 330 °F, so set your own garment's"
        ),
        {"fibre": "polyester"},
    ),
    Default(
        "cure-temperature",
        160,
        "degC",
        N_("an ink maker's rule of thumb: 320 °F for a minute at least; the ink's own sheet wins"),
        {"ink": "plastisol"},
    ),
    Default(
        "cure-hold",
        60,
        "s",
        N_("an ink maker's rule of thumb: 320 °F for a minute at least; the ink's own sheet wins"),
        {"ink": "plastisol"},
    ),
    Default(
        "cure-temperature",
        127,
        "degC",
        N_("a garment maker's guide: 250-280 °F; one ink series 270-280 °F; the ink's own sheet wins"),
        {"ink": "low-cure plastisol"},
    ),
    Default("cure-hold", 60, "s", JUDGEMENT, {"ink": "low-cure plastisol"}),
    Default(
        "cure-temperature",
        149,
        "degC",
        N_("an article on water-base: 300-320 °F held for 2-3 minutes; the ink's own sheet wins"),
        {"ink": "water-base"},
    ),
    Default(
        "cure-hold",
        120,
        "s",
        N_("an article on water-base: 300-320 °F held for 2-3 minutes; moving air shortens it"),
        {"ink": "water-base"},
    ),
    Default(
        "cure-temperature",
        160,
        "degC",
        N_("a forum: the whole layer at 320 °F for 20-30 s, some 3 minutes in the dryer; the ink's own sheet wins"),
        {"ink": "discharge"},
    ),
    Default(
        "cure-hold",
        30,
        "s",
        N_("a forum: the whole layer at 320 °F for 20-30 s, some 3 minutes in the dryer; the ink's own sheet wins"),
        {"ink": "discharge"},
    ),
    Default(
        "discharge-start",
        121,
        "degC",
        N_("a forum: the dye begins to go at about 250 °F; a white paper: above 180 °F while wet"),
        {"ink": "discharge"},
    ),
    Default(
        "cure-temperature",
        127,
        "degC",
        N_("Graphics Pro on silicone: 260 °F; the ink's own sheet wins"),
        {"ink": "silicone"},
    ),
    Default("cure-hold", 60, "s", JUDGEMENT, {"ink": "silicone"}),
    *(
        Default(
            "ink-ceiling",
            177,
            "degC",
            N_("a screen-print business: the film of plastisol not above 350 °F (raised prints collapse, scorch)"),
            {"ink": ink},
        )
        for ink in ("plastisol", "low-cure plastisol")
    ),
    *(
        Default(
            "ink-ceiling",
            180,
            "degC",
            N_("judgement: Images, April 2022, cures discharge at 170 °C; much above it cotton yellows"),
            {"ink": ink},
        )
        for ink in ("discharge", "water-base")
    ),
    Default("ink-ceiling", 177, "degC", N_("judgement: as plastisol; the ink's own sheet wins"), {"ink": "silicone"}),
    Default(
        "garment-ceiling",
        160,
        "degC",
        N_("a garment maker's printing guide: never over 320 °F; Impressions, April 2009: under 320 °F"),
        {"fibre": "polyester"},
    ),
    Default("garment-ceiling", 200, "degC", N_("judgement: cotton scorches above it"), {"fibre": "cotton"}),
    Default(
        "probe-mark-highest",
        240,
        "degC",
        N_("judgement: cotton scorches long before; °F noted as °C lie above it"),
    ),
    Default(
        "probe-fit",
        6,
        "degC",
        N_("judgement: a wet or unevenly heated garment warms up in another shape, which no belt speed follows from"),
    ),
    Default("probe-mark-lowest", 0, "degC", N_("judgement: no garment comes to the dryer frozen")),
    Default(
        "pot-life",
        6,
        "h",
        N_("Screen Printing, Sep 2007: makers say 6-8 h, the author mixes for 2-4 h; the ink's own sheet wins"),
        {"ink": "discharge"},
    ),
    Default(
        "pot-life",
        4,
        "h",
        N_("an article on water-base: some catalysts start a 4-8 h clock; the ink's own sheet wins"),
        {"ink": "water-base"},
    ),
    Default(
        "pot-life",
        4,
        "h",
        N_("judgement: no published figure, only hours; the ink's own sheet wins"),
        {"ink": "silicone"},
    ),
    Default(
        "discharge-cotton",
        100,
        "%",
        N_("two ink makers' notes: natural fibre only; blends come out muted, some shops print 50/50"),
    ),
    Default("discharge-cotton-least", 50, "%", N_("two articles: some shops print discharge on 50/50 blends")),
    Default("same-speed", 3, "%", N_("judgement: a belt timed over a metre by hand is no surer")),
    Default("same-time", 2, "%", N_("judgement: a flash of 5 s that is a tenth longer is the same flash")),
    Default("same-length", 3, "%", N_("judgement: 0.08 in and 2 mm are one off-contact, 2 mm and 2.2 mm are two")),
    Default("same-temperature", 2, "degC", N_("judgement: what a probe and its meter may be off")),
    Default("same-angle", 1, "deg", N_("judgement: what a protractor on a blade tells")),
    Default("same-tension", 1, "N/cm", N_("judgement: what two readings of one mesh differ by")),
    Default("same-hardness", 2, "Shore A", N_("judgement: what two readings of one blade differ by")),
    Default(
        "pieces-over",
        5,
        "%",
        N_("judgement: cartons hold a few spares; more than that over the order is rather a slip of the finger"),
    ),
    Default(
        "pace-weeks", 4, "", N_("judgement: long enough for a few dozen screens, short enough to be of this season")
    ),
    Default("pace-least", 10, "", N_("judgement: of fewer the middle moves with every screen")),
    Default(
        "pace-longest",
        24,
        "h",
        N_("judgement: a screen that is in a hurry is ready the next day; one coated ahead lies on the rack"),
    ),
    Default(
        "pace-coat-to-ready",
        4,
        "h",
        N_("judgement: a coat dries for two hours or more in a warm room, then image, wash out, dry again, check"),
    ),
    Default("pace-coats", 6, "", N_("judgement: one person degreases, coats and racks a screen in ten minutes")),
    Default(
        "pieces-few",
        50,
        "%",
        N_("judgement: with less than half of the order printed a run is rather to be paused, or somebody counts late"),
    ),
    Default(
        "usual-off-contact-least", 1, "mm", N_("judgement: under the 1/16 in that a printers’ encyclopedia calls usual")
    ),
    Default(
        "usual-off-contact-most",
        6.5,
        "mm",
        N_("a printers’ encyclopedia: 1/16 to 1/8 in, exceptionally 3/8 to 1/2 in; judgement: asked over 1/4 in"),
    ),
    Default(
        "usual-flash-most",
        60,
        "s",
        N_("judgement: an ink maker flashes for 3 to 15 s; a minute and more scorches a garment under most lamps"),
    ),
    Default("usual-tension-least", 4, "N/cm", N_("judgement: the hard floor of wooden frames; below it nobody prints")),
    Default("usual-tension-most", 60, "N/cm", N_("judgement: half as much again as the ceiling of 40")),
    Default(
        "usual-exposure-times",
        3,
        "",
        N_("judgement: between meshes and emulsions times differ by two or three; a slipped decimal mark makes it ten"),
    ),
    Default(
        "usual-remover-most",
        900,
        "s",
        N_("judgement: emulsion remover works in one to three minutes, haze remover in five to ten"),
    ),
    Default("usual-open-area-least", 8, "%", N_("judgement: meshes in use are more open; mostly a number slipped")),
    Default("usual-open-area-most", 80, "%", N_("judgement: meshes in use are less open; mostly a number slipped")),
    Default("usual-belt-least", 0.3, "m/min", N_("judgement: a 2.5 m chamber holds a garment for 8 min then")),
    Default("usual-belt-most", 12, "m/min", N_("judgement: a 6 m chamber holds a garment for half a minute then")),
    Default(
        "usual-added-most",
        30,
        "%",
        N_("judgement: discharge takes some 6 % of activator by weight, and no ink as much as a third of its base"),
    ),
    Default(
        "usual-weight-times",
        5,
        "",
        N_("judgement: ink transfers between a half and twice of what theory says; a blank left on is far beyond"),
    ),
    Default("usual-life-times", 4, "", N_("judgement: makers and printers differ by a factor of three or four")),
    *(
        Default("ink-load", grams, "g", _LOAD_SOURCE, {"side_over_cm": over} if over else {"side_to_cm": to})
        if over is None or to is None
        else Default("ink-load", grams, "g", _LOAD_SOURCE, {"side_over_cm": over, "side_to_cm": to})
        for over, to, grams in _LOADS
    ),
    Default("ink-waste", 10, "%", N_("judgement: what stays in the pot, on blades and screens, and on test prints")),
)


def pick(key: str, rows: Iterable[Default] = DEFAULTS, **conditions: Any) -> Default | None:
    """The row for `key` that is most particular about `conditions`; None when none is for them."""
    best: Default | None = None
    for row in rows:
        if row.key == key and row.fits(conditions) and (best is None or row.weight > best.weight):
            best = row
    return best


def value(key: str, **conditions: Any) -> float:
    """The shipped limit for `key`. Raises KeyError where none is for these conditions."""
    row = pick(key, **conditions)
    if row is None:
        raise KeyError(key)
    return row.value
