"""The words of the trade as the program uses them, for the page “Words”: the base of any translation.

Each as a printer would explain it, in two lines. A word stands for one thing on every page, paper and message.
"""

from __future__ import annotations

from tickets.i18n import N_

WORDS = (
    (
        N_("The screen"),
        (
            (N_("frame"), N_("Bare aluminium or wood, with mesh or without. It carries no image yet.")),
            (
                N_("screen"),
                N_(
                    "A frame with mesh that carries a stencil, or is being made ready for one. It has a tag with a "
                    "code."
                ),
            ),
            (N_("mesh"), N_("The cloth on the frame. Its count says how many threads, its thread how thick they are.")),
            (
                N_("tension"),
                N_("How tight the mesh is, in newtons per centimetre. Slack mesh blurs the print and shifts colours."),
            ),
            (
                N_("retension"),
                N_("Tighten the mesh of a roller frame. A glued frame needs new mesh instead (restretch)."),
            ),
            (
                N_("tag"),
                N_("The paper with the QR code on a screen, a rack or a bucket. Scan it to see what comes next."),
            ),
            (N_("stage"), N_("How far a screen is: bare, coated, exposed, ready, on press, to clean.")),
            (N_("mark"), N_("The name painted on a frame. You can type it instead of the code.")),
        ),
    ),
    (
        N_("The stencil"),
        (
            (N_("emulsion"), N_("The light-sensitive coat on the mesh. Light hardens it; the rest washes out.")),
            (N_("coat"), N_("Spread emulsion over the mesh and let it dry. Also the layer itself.")),
            (
                N_("exposure"),
                N_("Light through or beside the image. Too little breaks down; too much closes fine dots."),
            ),
            (N_("exposure unit"), N_("The machine with the lamp that exposes screens.")),
            (N_("light units"), N_("What an integrator counts instead of seconds, so that a weak lamp runs longer.")),
            (
                N_("step wedge"),
                N_("A film with steps from clear to dark. The last step that holds tells how much light."),
            ),
            (N_("test strip"), N_("A trial on one screen or piece of mesh before the real one.")),
            (N_("washout"), N_("Rinse out what the light did not harden. What stays is the stencil.")),
            (N_("stencil"), N_("The hardened emulsion with open spots where ink goes through.")),
            (N_("pinhole"), N_("A small hole where none should be. Block it, then check the screen again.")),
            (
                N_("reclaim"),
                N_("Take the stencil off, so that the frame can be used again. Files and commands call this strip."),
            ),
            (N_("haze"), N_("A ghost of the old image in the mesh. Take it off, or it shows in the next print.")),
        ),
    ),
    (
        N_("The job"),
        (
            (N_("job"), N_("What a customer ordered: artwork, garments, inks and a press date.")),
            (N_("ticket"), N_("The paper of a job, with its QR code. It goes with the garments.")),
            (N_("image"), N_("What one screen prints, as a rule one colour of the artwork. Files call it separation.")),
            (N_("placement"), N_("Where on the garment it prints, such as full front or left chest.")),
            (N_("print order"), N_("Which image prints first, second, third. Its numbers are the positions.")),
            (N_("colour reference"), N_("The page of a colour book that the ink is to match.")),
            (N_("press date"), N_("The day on which the job is to be printed.")),
            (N_("reorder"), N_("The same job ordered again. The program compares it with the last run.")),
        ),
    ),
    (
        N_("The press"),
        (
            (N_("run"), N_("One placement printed on one press, from hanging the screens to taking them off.")),
            (N_("head"), N_("A place on the press that holds one screen or one flash.")),
            (N_("flash"), N_("A short heat between two colours. The first one is dry enough to print on.")),
            (
                N_("cure"),
                N_("The heat that makes ink last: all of it hot enough, for long enough. A wash test decides."),
            ),
            (
                N_("first print"),
                N_("The print that is checked before the run starts. A run goes on once it is approved."),
            ),
            (N_("target"), N_("The run that this one is to look like.")),
            (N_("misprint"), N_("A piece that cannot be sold. Count it, so that the count of good ones is true.")),
            (N_("discharge"), N_("Ink that takes the dye out of cotton. It needs air: mind its data sheet.")),
            (N_("platen"), N_("The board that the garment lies on.")),
            (N_("squeegee"), N_("The blade that pushes ink through the mesh. Hardness and angle change the print.")),
            (N_("register"), N_("How well the colours fit each other.")),
        ),
    ),
    (
        N_("What the program says"),
        (
            (N_("stop"), N_("Don’t go on. Put it right first, or a lead overrides it with a reason.")),
            (N_("caution"), N_("You can go on. Look at what it says first.")),
            (N_("unknown"), N_("Nobody noted what is needed to judge it. Measure it or note it.")),
            (N_("override"), N_("Go on against a stop. Your name and reason stay in the log.")),
            (N_("cross out"), N_("Take back a line of the log. It stays readable, but counts no more.")),
            (N_("limits"), N_("The figures that the shop judges by. Each says where it comes from.")),
            (N_("expired"), N_("Older than its kind keeps, such as mixed emulsion or catalysed ink.")),
            (N_("missing"), N_("Not on its place at a stock-take. A scan brings it back.")),
        ),
    ),
)
"""Groups in the order of the work; each has its title and its words with what they mean."""
