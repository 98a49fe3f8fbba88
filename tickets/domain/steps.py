"""The steps of a screen, of a run and of a bucket: what is asked, what is folded away, and how it is read.

One table serves the pages, the command line and the log, so that a field has one name, one unit and one range.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from tickets.calculator import kinds, units
from tickets.domain import cautions, names
from tickets.i18n import N_
from tickets.i18n import gettext as _


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a step. `kind`: number, numbers, whole, choice, text, mesh, size, bucket, place, unit, person,
    separations, preset, date, time, until (a day, and a time or none), screen. Numbers are in the unit of the name,
    between `low` and `high`."""

    name: str
    label: str
    kind: str = "text"
    folded: bool = False
    low: float = 0.0
    high: float = 1e9
    most: int = 1
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    required: bool = False

    @property
    def longest(self) -> int:
        """Characters that a text in it has at most."""
        if self.name in ("note", "why", "recipe", "lab_conditions"):
            return names.NOTE
        return names.MARK if self.name == "mark" else names.LINE


@dataclass(frozen=True, slots=True)
class Step:
    """One kind of entry: its name in the log, the word on the button, what is said once done, fields, cautions (keys of
    `cautions.CAUTIONS`).

    `also`: what may be typed in place of several of the fields, and is stored as those. `taps`: the field that is what
    somebody found or decided; each of its choices is a button of its own, and none is chosen before. `many`: what the
    button says that was done with many screens at once (empty: by its title; None: it asks something of each screen).
    `button`: what it says for one, where that is not `done` (see `on_button`). `how`: in one line how it is done or
    measured, and what its number means; below the button of its form.
    """

    name: str
    title: str
    done: str
    fields: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()
    also: tuple[Field, ...] = ()
    taps: str = ""
    many: str | None = None
    button: str = ""
    how: str = ""

    @property
    def on_button(self) -> str:
        """What the button says that logs it: what was done, or that it is logged; it orders nothing."""
        return self.button or self.done

    def field(self, name: str) -> Field:
        """The field of that name (KeyError: none)."""
        return next(field for field in self.fields if field.name == name)

    def to_dict(self) -> dict[str, Any]:
        """The step as plain data: its fields with their units and choices, its cautions in words."""
        return {
            "step": self.name,
            "title": _(self.title),
            "how": _(self.how),
            "fields": [
                {
                    "field": field.name,
                    "label": _(field.label),
                    "unit": units.unit_of(field.name),
                    "required": field.required,
                    "choices": [key for key, _word in field.choices],
                }
                for field in (*self.fields, *self.also)
            ],
            "cautions": cautions.texts(self.cautions),
        }


CAUTIONS, SHEET_RULE = cautions.CAUTIONS, cautions.RULE

GOOD_FAULT = (("good", N_("good")), ("fault", N_("fault")))
THEN = (("keep", N_("keep it")), ("strip", N_("reclaim it")), ("undecided", N_("not decided")))
CONDITIONS = (("good", N_("good")), ("worn", N_("worn")), ("torn", N_("torn")), ("pinholes", N_("pinholes")))
"""How a screen comes off a press, where somebody looked."""
SWAPPED = {
    N_("pinholes"): ("pinholes", "undecided"),
    N_("torn"): ("torn", "undecided"),
    N_("stencil breaks down"): ("worn", "strip"),
    N_("slack"): ("", "undecided"),
}
"""Why a screen is swapped, and how it comes off for that where nobody says otherwise: its condition (empty: nobody
said), what becomes of it."""
WASHOUT_FAULTS = (
    ("pinholes", N_("pinholes")),
    ("soft", N_("soft, washes away")),
    ("will not open", N_("will not open")),
    ("scum", N_("scum in the open mesh")),
    ("detail lost", N_("detail lost")),
    ("backwards", N_("backwards")),
    ("wrong film", N_("wrong film")),
    ("off position", N_("off position")),
    ("other", N_("other")),
)
FAULTS = (
    ("torn", N_("torn")),
    ("slack", N_("slack")),
    ("glue gone", N_("glue gone")),
    ("frame bent", N_("frame bent")),
    ("ghost", N_("ghost image")),
    ("other", N_("another fault")),
)
CAUSES = (
    ("torn", N_("torn")),
    ("slack", N_("slack")),
    ("ghost", N_("ghost image")),
    ("frame", N_("frame")),
    ("lost", N_("lost")),
)
FRAMES = tuple(kinds.FRAMES.items())
STOP_CAUSES = (
    ("pinhole", N_("pinhole")),
    ("screen breakdown", N_("screen breakdown")),
    ("misregister", N_("misregister")),
    ("ink", N_("ink")),
    ("garment", N_("garment")),
    ("dryer", N_("dryer")),
    ("other", N_("other")),
)
BUCKET_KINDS = (
    ("diazo emulsion", N_("diazo emulsion")),
    ("dual-cure emulsion", N_("dual-cure emulsion")),
    ("photopolymer emulsion", N_("photopolymer emulsion")),
    ("discharge ink", N_("discharge ink")),
    ("catalysed ink", N_("catalysed ink")),
    ("silicone ink", N_("silicone ink")),
    ("water-base ink", N_("water-base ink")),
    ("plastisol ink", N_("plastisol ink")),
)
YES_NO = (("yes", N_("yes")), ("no", N_("no")), ("unknown", N_("not known")))

_BEFORE_FAULT = N_("if something is: choose it first, then tap “Fault”")
_NOTE = Field("note", N_("Note"), folded=True)
DRY = Field(
    "dry",
    N_("Dry?"),
    "choice",
    folded=True,
    choices=(("yes", N_("it is dry")), ("measured", N_("measured dry"))),
)
"""That something is dry, whatever the time it had: the mesh at a coat, else the coat or the stencil."""

_CONDITION = Field("condition", N_("How it came off"), "choice", choices=CONDITIONS)
_THEN = Field("then", N_("Then"), "choice", choices=THEN)

SCREEN_STEPS: dict[str, Step] = {
    step.name: step
    for step in (
        Step(
            "stretch",
            N_("Stretch new mesh"),
            N_("New mesh stretched"),
            (
                Field("mesh_count_as_labelled", N_("Mesh count as labelled"), "mesh", required=True),
                Field("thread_um", N_("Thread"), "number", low=10, high=600, hint=N_("empty: not known")),
                Field("mesh_colour", N_("Mesh colour"), "choice", choices=tuple(kinds.MESH_COLOURS.items())),
                Field("frame", N_("Frame"), "choice", choices=FRAMES),
                Field(
                    "frame_size_mm",
                    N_("Frame size"),
                    "size",
                    folded=True,
                    hint=N_("such as 585 x 790 mm, or 23 x 31 in"),
                ),
                Field("mark", N_("Painted mark"), folded=True),
                Field(
                    "by",
                    N_("Stretched by"),
                    "choice",
                    folded=True,
                    choices=(("us", N_("us")), ("supplier", N_("supplier"))),
                ),
                Field(
                    "in_use",
                    N_("Mesh in use already"),
                    "choice",
                    folded=True,
                    choices=(("yes", N_("yes, it has settled")), ("no", N_("no, newly stretched"))),
                ),
                Field(
                    "uses_before",
                    N_("Uses before that, as far as known"),
                    "whole",
                    folded=True,
                    low=0,
                    high=10000,
                    hint=N_("only for a mesh in use already; empty: not known"),
                ),
                Field("opening_um", N_("Opening, maker’s sheet"), "number", folded=True, low=5, high=2000),
                Field("open_area_pct", N_("Open area, maker’s sheet"), "number", folded=True, low=1, high=90),
                Field(
                    "fabric_thickness_um",
                    N_("Fabric thickness, maker’s sheet"),
                    "number",
                    folded=True,
                    low=10,
                    high=1000,
                ),
                Field("ink_volume_cm3_m2", N_("Ink volume, maker’s sheet"), "number", folded=True, low=1, high=500),
            ),
            ("tension",),
            how=N_("From the mesh’s label: threads to the inch or cm, and how thick."),
        ),
        Step(
            "retension",
            N_("Retension"),
            N_("Retensioned"),
            (),
            ("tension",),
            many="",
            how=N_("Tighten all sides in turn, let the mesh rest, then measure: the log takes the new reading."),
        ),
        Step(
            "tension",
            N_("Measure tension"),
            N_("Tension measured"),
            (
                Field(
                    "readings_n_per_cm",
                    N_("Readings, warp: centre, then corners, then sides"),
                    "numbers",
                    low=0.5,
                    high=80,
                    most=9,
                    required=True,
                    hint=N_("one is enough"),
                ),
                Field("readings_weft_n_per_cm", N_("Readings, weft"), "numbers", folded=True, low=0.5, high=80, most=9),
                Field(
                    "after",
                    N_("Measured after"),
                    "choice",
                    folded=True,
                    choices=(("stretch", N_("stretching")), ("wash", N_("washing")), ("print", N_("printing"))),
                ),
            ),
            how=N_("Frame flat, meter on the open mesh, read N/cm: higher is tighter, and the lowest reading decides."),
        ),
        Step(
            "degrease",
            N_("Degrease"),
            N_("Degreased"),
            (),
            ("degreaser", "spray", "drain"),
            many=N_("degreased"),
            how=N_("Brush the degreaser over both sides and rinse until water runs off in one sheet, not in beads."),
        ),
        Step(
            "coat",
            N_("Coat"),
            N_("Coated"),
            (
                Field("bucket", N_("Emulsion bucket"), "bucket"),
                Field("preset", N_("How coated"), "preset"),
                Field("strokes_print_side", N_("Strokes, print side"), "whole", folded=True, high=20),
                Field("strokes_squeegee_side", N_("Strokes, squeegee side"), "whole", folded=True, high=20),
                Field("coated_thickness_um", N_("Thickness coated and dry"), "number", folded=True, low=10, high=2000),
                DRY,
                Field("room_c", N_("Room temperature"), "number", folded=True, low=-10, high=60),
                Field("room_rh_pct", N_("Room humidity"), "number", folded=True, low=1, high=100),
            ),
            ("sensitiser",),
            also=(Field("room", N_("Room temperature and humidity together"), hint=N_("such as 23 degC, 45 %")),),
            many=N_("coated"),
            how=N_(
                "A stroke is one pass of the scoop coater: 2+1 is two on the print side, then one on the squeegee side."
            ),
        ),
        Step(
            "image",
            N_("Image the screen"),
            N_("Imaged"),
            (
                Field("separations", N_("Image"), "separations", most=12, required=True),
                Field(
                    "means",
                    N_("Film or direct"),
                    "choice",
                    choices=(("film", N_("film")), ("direct", N_("direct to screen"))),
                ),
                DRY,
                Field("film_mark", N_("Mark on the film"), folded=True),
                Field("position", N_("Where on the screen"), folded=True),
            ),
            how=N_("Read the name off the film, lay it right side up, and tap the image that is now on this screen."),
        ),
        Step(
            "expose",
            N_("Expose"),
            N_("Exposed"),
            (
                Field("exposure_s", N_("Exposure time"), "number", low=0.1, high=7200),
                Field("exposure_units", N_("Light units (integrator)"), "number", low=0.1, high=100000),
                Field("exposure_unit", N_("Exposure unit"), "unit"),
                Field("separations", N_("Image, if not yet noted"), "separations", folded=True, most=12),
                Field(
                    "purpose",
                    N_("Purpose"),
                    "choice",
                    folded=True,
                    choices=(("job", N_("job")), ("test strip", N_("test strip"))),
                ),
                DRY,
                Field("distance_mm", N_("Lamp distance"), "number", folded=True, low=10, high=10000),
                Field("irradiance_mw_cm2", N_("Irradiance measured"), "number", folded=True, low=0.01, high=1000),
            ),
            ("uv",),
            many=N_("exposed"),
            how=N_("Seconds of light, or light units (integrator)."),
        ),
        Step(
            "washout",
            N_("Wash out"),
            N_("Washed out"),
            (
                Field("result", N_("Result"), "choice", choices=GOOD_FAULT, required=True),
                Field("fault", N_("What is wrong"), "choice", choices=WASHOUT_FAULTS, hint=_BEFORE_FAULT),
                Field("step_held", N_("Step held on the step wedge"), "number", folded=True, low=0, high=21),
            ),
            ("spray", "drain"),
            taps="result",
            many=N_("washed out"),
            how=N_(
                "Step held: the highest step of the wedge with no loss. A higher one had more light, a lower one less."
            ),
        ),
        Step(
            "check",
            N_("Check on the light table"),
            N_("Checked"),
            (
                Field(
                    "result",
                    N_("Compared with the film, pinholes blocked, taped"),
                    "choice",
                    choices=GOOD_FAULT,
                    required=True,
                ),
                Field("fault", N_("What is wrong"), "choice", folded=True, choices=WASHOUT_FAULTS, hint=_BEFORE_FAULT),
                DRY,
                _NOTE,
            ),
            taps="result",
            many=N_("checked"),
            how=N_(
                "Light behind it, the film beside it: open what is shut, block pinholes, tape, then tap what you saw."
            ),
        ),
        Step(
            "harden",
            N_("Harden"),
            N_("Hardened"),
            (
                Field("agent", N_("Agent, or “post-exposure”")),
                Field("exposure_s", N_("Exposure time"), "number", folded=True, low=0.1, high=7200),
            ),
            ("hardener", "uv"),
            many=N_("hardened"),
            how=N_("The hardener’s name, or a second exposure in seconds: what is hardened withstands water-base ink."),
        ),
        Step(
            "hang",
            N_("Hang on press"),
            N_("Hung on press"),
            (
                Field("run", N_("Run"), "whole", low=1, required=True),
                Field("head", N_("Head"), "whole", low=1, high=40),
                Field("station", N_("Position"), "whole", low=1, high=60),
            ),
            how=N_("The head is the place on the press, the position that in the print order: they may differ."),
        ),
        Step(
            "print",
            N_("Print"),
            N_("Printed"),
            (
                Field("run", N_("Run"), "whole", low=1),
                Field("impressions", N_("Impressions"), "whole", high=1_000_000, required=True),
            ),
            ("heat", "hot"),
            how=N_("An impression is one stroke of ink on a garment or a test print: mesh and stencil wear by them."),
        ),
        Step(
            "pull",
            N_("Take off press"),
            N_("Taken off press"),
            (
                Field("run", N_("Run"), "whole", folded=True, low=1),
                _CONDITION,
                _THEN,
            ),
            taps="condition",
            how=N_(
                "Tap how mesh and stencil look now that it is off: torn or slack is found here, not at the next job."
            ),
        ),
        Step(
            "clean",
            N_("Clean the ink off"),
            N_("Cleaned"),
            (),
            ("solvent",),
            many=N_("cleaned"),
            how=N_("Card the ink off and wipe both sides until no colour shows in the mesh; the stencil stays."),
        ),
        Step(
            "decide",
            N_("Keep or reclaim"),
            N_("Decided"),
            (
                Field("then", N_("Keep it or reclaim it?"), "choice", choices=THEN[:2], required=True),
                Field("until", N_("Keep until"), "date", folded=True),
                Field("for", N_("Keep for"), folded=True),
                replace(_CONDITION, folded=True),
            ),
            taps="then",
            many="",
            how=N_(
                "Keep it where the job comes back; its frame is then missing for others until the day that you say."
            ),
        ),
        Step(
            "rack",
            N_("Put away"),
            N_("Put away"),
            (Field("place", N_("Place"), "place", required=True),),
            many=N_("put away"),
            how=N_("Tap where you put it: whoever looks for it next is sent there."),
        ),
        Step(
            "strip",
            N_("Reclaim the screen"),
            N_("Reclaimed"),
            (Field("remover_s", N_("Remover on the mesh for"), "number", folded=True, high=3600),),
            ("remover", "jet", "drain"),
            many=N_("reclaimed"),
            how=N_(
                "How long the remover stood, in seconds: the maker’s sheet says how long is safe, dried on it locks in."
            ),
        ),
        Step(
            "haze",
            N_("Remove haze"),
            N_("Haze removed"),
            (Field("haze_s", N_("Haze remover on the mesh for"), "number", folded=True, high=3600),),
            ("haze", "jet", "drain"),
            many="",
            how=N_("How long the haze remover stood, in seconds: as its maker says, since too long weakens the mesh."),
        ),
        Step(
            "fault",
            N_("Report a fault"),
            N_("Fault reported"),
            (
                Field("kind", N_("What is wrong"), "choice", choices=FAULTS, required=True),
                Field(
                    "then",
                    N_("Then"),
                    "choice",
                    choices=(("use on", N_("keep using it")), ("restretch", N_("restretch"))),
                ),
                Field("what", N_("In words"), folded=True),
            ),
            taps="kind",
            how=N_("Tap what is wrong with frame or mesh; “restretch” takes it out of use until new mesh is on."),
        ),
        Step(
            "found",
            N_("Correct the log"),
            N_("Found"),
            (
                Field("standing_seen", N_("Stage as seen"), "choice", required=True),
                Field("separations_seen", N_("Image as seen"), "separations", most=12),
                Field("why", N_("Why"), folded=True),
            ),
            button=N_("Log what I see"),
            how=N_("Say what you see: stage and image count from now on, and the lines before stay readable."),
        ),
        Step(
            "retag",
            N_("New tag, new code"),
            N_("Retagged"),
            button=N_("New tag, new code"),
            how=N_("The frame gets a new code at once: print its tag and take the old one off; the history stays."),
        ),
        Step(
            "retire",
            N_("Retire the frame"),
            N_("Retired"),
            (Field("cause", N_("Cause"), "choice", choices=CAUSES, required=True),),
            how=N_(
                "The frame leaves the count for good; its history stays, and the cause teaches how long meshes last."
            ),
        ),
        Step(
            "note",
            N_("Note"),
            N_("Noted"),
            (Field("note", N_("Note"), required=True),),
            many="",
            button=N_("Log the note"),
            how=N_("One or two sentences that the next person needs; numbers belong into the step that asks for them."),
        ),
        Step(
            "cross-out",
            N_("Cross out"),
            N_("Crossed out"),
            (
                Field("entry", N_("Entry"), required=True),
                Field("why", N_("Why"), required=True),
            ),
            how=N_("Say why the line is wrong: it stays readable and counts no more; log afterwards what was so."),
        ),
    )
}

UNNOTED = (("as-target", N_("is set as the target, not measured")), ("leave", N_("stays not noted")))
"""The answers to an approval while some heads of the set-up sheet are open."""
TEST_PRINTS = Field(
    "test_prints",
    N_("Test prints before the start"),
    "whole",
    high=1000,
    hint=N_("strokes on every screen that hangs; never counted as pieces"),
)
RUN_STEPS: dict[str, Step] = {
    step.name: step
    for step in (
        Step(
            "open",
            N_("Open a run"),
            N_("Run opened"),
            how=N_("A run is one placement printed on one press, from the first screen hung to the last taken off."),
        ),
        Step(
            "sheet",
            N_("Set-up as run"),
            N_("Set-up noted"),
            (TEST_PRINTS,),
            ("grinding", "heat", "hot"),
            how=N_("Note what is set on the press now, each head for itself; measured values only where you measured."),
        ),
        Step(
            "approve",
            N_("Approve the first print"),
            N_("First print approved"),
            (
                Field("approved_by", N_("Approved by")),
                Field("customer_person", N_("The customer’s person, if the customer approved")),
                Field(
                    "approved_as",
                    N_("Who approves"),
                    "choice",
                    choices=(("press", N_("press")), ("sales", N_("sales")), ("customer", N_("customer"))),
                    required=True,
                ),
                Field("how", N_("How"), hint=N_("such as: shirt in hand, photo, on the phone")),
                Field("unnoted", N_("What nobody noted of the set-up"), "choice", choices=UNNOTED),
                Field("lab_conditions", N_("Light, observer and instrument of the colour readings"), folded=True),
            ),
            how=N_("Hold it beside the earlier print or the artwork: from here on this set-up is what is compared."),
        ),
        Step(
            "start",
            N_("Start printing"),
            N_("Started"),
            (TEST_PRINTS,),
            ("heat", "hot"),
            button=N_("Printing started"),
            how=N_(
                "Test prints are strokes made before the first good piece: they wear screens, but are never counted."
            ),
        ),
        Step(
            "stop",
            N_("Press stopped"),
            N_("Press stop noted"),
            (
                Field("cause", N_("Cause"), "choice", choices=STOP_CAUSES, required=True),
                Field("minutes", N_("Minutes"), "number", high=1440),
            ),
            button=N_("Log the press stop"),
            how=N_(
                "Minutes that nothing was printed, and the one cause that began it: the desk adds them up by cause."
            ),
        ),
        Step(
            "swap",
            N_("Swap a screen"),
            N_("Screen swapped"),
            (
                Field("old", N_("Screen taken off"), "screen", required=True),
                Field("new", N_("Screen put on"), "screen", required=True),
                Field("why", N_("Why")),
                _CONDITION,
                _THEN,
            ),
            how=N_("Scan or type what came off and what went on: from then on the strokes count for the new screen."),
        ),
        Step(
            "change",
            N_("Change a setting"),
            N_("Change noted"),
            (
                Field("station", N_("Position"), "whole", low=1, high=60),
                Field("what", N_("What"), required=True),
                Field("why", N_("Why")),
            ),
            button=N_("Log the change"),
            how=N_("Say what was changed, from what to what: the next order starts from the set-up that printed well."),
        ),
        Step(
            "count",
            N_("Count pieces"),
            N_("Counted"),
            (
                Field("good", N_("Good pieces"), "whole", high=1_000_000, required=True),
                Field("misprinted", N_("Misprinted pieces"), "whole", high=1_000_000),
                Field("cause", N_("Cause of the misprints"), "choice", choices=STOP_CAUSES),
            ),
            button=N_("Log the count"),
            how=N_(
                "Pieces since the last count, not the sum: good ones to sell, misprinted ones with their main cause."
            ),
        ),
        Step(
            "pause",
            N_("Pause, screens off"),
            N_("Paused"),
            (_THEN, _CONDITION),
            button=N_("Paused, screens off"),
            how=N_("The screens come off and the run goes on later; say of each whether it is kept or reclaimed."),
        ),
        Step(
            "finish",
            N_("Finish the run"),
            N_("Finished"),
            (_THEN, _CONDITION),
            button=N_("Run finished"),
            how=N_("After the last count; say of each screen how it came off and whether it is kept or reclaimed."),
        ),
        Step(
            "use-next-time",
            N_("Use these settings next time"),
            N_("Marked as the target for next time"),
            button=N_("Log as the target for next time"),
            how=N_("The settings of this run become the target that the next order of this job is compared with."),
        ),
        Step(
            "note",
            N_("Note"),
            N_("Noted"),
            (Field("note", N_("Note"), required=True),),
            button=N_("Log the note"),
            how=N_("One or two sentences that the next crew needs; what was set belongs into the set-up."),
        ),
        SCREEN_STEPS["cross-out"],
    )
}

BUCKET_STEPS: dict[str, Step] = {
    step.name: step
    for step in (
        Step(
            "mix",
            N_("Mix a bucket"),
            N_("Mixed"),
            (
                Field("kind", N_("Kind"), "choice", choices=BUCKET_KINDS, required=True),
                Field("product", N_("Product")),
                Field("colour", N_("Colour"), hint=N_("of an ink")),
                Field("lot", N_("Lot")),
                Field("series", N_("Series"), folded=True, hint=N_("of an ink")),
                Field("recipe", N_("Recipe"), folded=True, hint=N_("grams of each part")),
                Field("water_resistant", N_("Withstands water and discharge ink"), "choice", choices=YES_NO),
                Field(
                    "good_until",
                    N_("Good until"),
                    "until",
                    hint=N_("a day alone: to its end; empty: worked out from its kind"),
                ),
            ),
            ("mixing", "label"),
            button=N_("Bucket mixed"),
            how=N_("The moment of mixing starts its clock; lot and recipe tell later which prints it went into."),
        ),
        Step(
            "use",
            N_("Take this bucket into use"),
            N_("In use"),
            button=N_("Taken into use"),
            how=N_("From now on coats and set-ups name this bucket until another of its kind is taken into use."),
        ),
        Step(
            "discard",
            N_("Discard"),
            N_("Discarded"),
            (Field("why", N_("Why")),),
            ("drain",),
            how=N_("It is offered no more; what was coated or printed with it stays in the log."),
        ),
        Step(
            "test",
            N_("Test strip of this bucket"),
            N_("Test strip noted"),
            (Field("result", N_("Result"), "choice", choices=GOOD_FAULT, required=True),),
            taps="result",
            how=N_("Coat, expose and wash out a scrap of mesh: good where it holds and opens as with a fresh bucket."),
        ),
        Step(
            "note",
            N_("Note"),
            N_("Noted"),
            (Field("note", N_("Note"), required=True),),
            button=N_("Log the note"),
            how=N_("One or two sentences that the next person needs, such as how it mixed or smelled."),
        ),
        SCREEN_STEPS["cross-out"],
    )
}

COMMON = (
    "entry", "at", "in_hand", "still_needed", "override", "accept", "seen", "then_to", "secret", "separations_seen",
    "usual", "for_work", "over", "counted", "before", "later", "uncounted", "fewer", "ask_few", "head_taken",
    "late", "ago",
)  # fmt: skip
"""Sent with any step beside its own fields; see `actions.screens`."""
