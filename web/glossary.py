"""The words of the trade as the program uses them, for the page “Words”: the base of any translation.

Each as a printer would explain it, in two lines. A word stands for one thing on every page, paper and message.
"""

from __future__ import annotations

from typing import NamedTuple

from tickets.i18n import LANGUAGES, N_, Np_, language, said_in
from tickets.i18n import gettext as _

NOTHING = "–"
"""What a language writes that has no other word, and nothing to mind."""


class Word(NamedTuple):
    """A word, what it means, and (in a context of its own) what else people say for it and where it misleads: of each
    language in its catalogue, so that who knows it better changes that file alone. A word with nothing to add in the
    language of the source stands there itself."""

    word: str
    meaning: str
    others: tuple[str, str]


class InLanguage(NamedTuple):
    """A word as a language has it: the short name of the language, its own name, the word, and what else is said."""

    short: str
    language: str
    word: str
    others: str


class Explained(NamedTuple):
    """A word for a reader: what it means, what else is said for it in the reader's language, the other languages."""

    word: str
    meaning: str
    others: str
    elsewhere: tuple[InLanguage, ...]


WORDS = (
    (
        N_("The screen"),
        (
            Word(
                N_("frame"),
                N_("Bare aluminium or wood, with mesh or without. It carries no image yet."),
                Np_("other words for it", "frame"),
            ),
            Word(
                N_("screen"),
                N_(
                    "A frame with mesh that carries a stencil, or is being made ready for one. It has a tag with a "
                    "code."
                ),
                Np_("other words for it", "Also: frame, where the difference does not count."),
            ),
            Word(
                N_("mesh"),
                N_("The cloth on the frame. Its count says how many threads, its thread how thick they are."),
                Np_("other words for it", "Also: fabric."),
            ),
            Word(
                N_("tension"),
                N_("How tight the mesh is, in newtons per centimetre. Slack mesh blurs the print and shifts colours."),
                Np_("other words for it", "tension"),
            ),
            Word(
                N_("retension"),
                N_("Tighten the mesh of a roller frame. A glued frame needs new mesh instead (restretch)."),
                Np_("other words for it", "Also: retighten."),
            ),
            Word(
                N_("tag"),
                N_("The paper with the QR code on a screen, a rack or a bucket. Scan it to see what comes next."),
                Np_("other words for it", "tag"),
            ),
            Word(
                N_("stage"),
                N_("How far a screen is: bare, coated, exposed, ready, on press, to clean."),
                Np_("other words for it", "stage"),
            ),
            Word(
                N_("mark"),
                N_("The name painted on a frame. You can type it instead of the code."),
                Np_("other words for it", "mark"),
            ),
            Word(
                N_("rack"),
                N_("Holds screens and frames. Scan its tag to put one away."),
                Np_("other words for it", "Also: shelf."),
            ),
        ),
    ),
    (
        N_("The stencil"),
        (
            Word(
                N_("emulsion"),
                N_("The light-sensitive coat on the mesh. Light hardens it; the rest washes out."),
                Np_("other words for it", "emulsion"),
            ),
            Word(
                N_("coat"),
                N_("Spread emulsion over the mesh and let it dry. Also the layer itself."),
                Np_("other words for it", "coat"),
            ),
            Word(
                N_("exposure"),
                N_("Light through or beside the image. Too little breaks down; too much closes fine dots."),
                Np_("other words for it", "Also: burning the screen."),
            ),
            Word(
                N_("exposure unit"),
                N_("The machine with the lamp that exposes screens."),
                Np_("other words for it", "exposure unit"),
            ),
            Word(
                N_("light units"),
                N_("What an integrator counts instead of seconds, so that a weak lamp runs longer."),
                Np_("other words for it", "light units"),
            ),
            Word(
                N_("step wedge"),
                N_("A film with steps from clear to dark. The last step that holds tells how much light."),
                Np_("other words for it", "step wedge"),
            ),
            Word(
                N_("test strip"),
                N_("A trial on one screen or piece of mesh before the real one."),
                Np_("other words for it", "test strip"),
            ),
            Word(
                N_("washout"),
                N_("Rinse out what the light did not harden. What stays is the stencil."),
                Np_("other words for it", "Also: rinsing, developing."),
            ),
            Word(
                N_("stencil"),
                N_("The hardened emulsion with open spots where ink goes through."),
                Np_("other words for it", "stencil"),
            ),
            Word(
                N_("pinhole"),
                N_("A small hole where none should be. Block it, then check the screen again."),
                Np_("other words for it", "pinhole"),
            ),
            Word(
                N_("reclaim"),
                N_("Take the stencil off, so that the frame can be used again. Files and commands call this strip."),
                Np_("other words for it", "Also: strip."),
            ),
            Word(
                N_("haze"),
                N_("A ghost of the old image in the mesh. Take it off, or it shows in the next print."),
                Np_("other words for it", "Also: ghost image."),
            ),
            Word(
                N_("bucket"),
                N_("Mixed emulsion or ink. Its tag says until when it is good."),
                Np_("other words for it", "bucket"),
            ),
        ),
    ),
    (
        N_("The job"),
        (
            Word(
                N_("job"),
                N_("What a customer ordered: artwork, garments, inks and a press date."),
                Np_("other words for it", "job"),
            ),
            Word(
                N_("ticket"),
                N_("The paper of a job, with its QR code. It goes with the garments."),
                Np_("other words for it", "Also: job sheet. Never a receipt."),
            ),
            Word(
                N_("image"),
                N_("What one screen prints, as a rule one colour of the artwork. Files call it separation."),
                Np_("other words for it", "Also: channel."),
            ),
            Word(
                N_("placement"),
                N_("Where on the garment it prints, such as full front or left chest."),
                Np_("other words for it", "Also: location."),
            ),
            Word(
                N_("print order"),
                N_("Which image prints first, second, third. Its numbers are the positions."),
                Np_("other words for it", "Not the customer’s order: that is the job."),
            ),
            Word(
                N_("colour reference"),
                N_("The page of a colour book that the ink is to match."),
                Np_("other words for it", "colour reference"),
            ),
            Word(
                N_("press date"),
                N_("The day on which the job is to be printed."),
                Np_("other words for it", "press date"),
            ),
            Word(
                N_("reorder"),
                N_("The same job ordered again. The program compares it with the last run."),
                Np_("other words for it", "reorder"),
            ),
        ),
    ),
    (
        N_("The press"),
        (
            Word(
                N_("run"),
                N_("One placement printed on one press, from hanging the screens to taking them off."),
                Np_("other words for it", "Also: print run."),
            ),
            Word(
                N_("head"),
                N_("A place on the press that holds one screen or one flash."),
                Np_("other words for it", "head"),
            ),
            Word(
                N_("flash"),
                N_("A short heat between two colours. The first one is dry enough to print on."),
                Np_("other words for it", "Also: spot cure. Never the light of a phone."),
            ),
            Word(
                N_("cure"),
                N_("The heat that makes ink last: all of it hot enough, for long enough. A wash test decides."),
                Np_("other words for it", "cure"),
            ),
            Word(
                N_("first print"),
                N_("The print that is checked before the run starts. A run goes on once it is approved."),
                Np_("other words for it", "first print"),
            ),
            Word(N_("target"), N_("The run that this one is to look like."), Np_("other words for it", "target")),
            Word(
                N_("misprint"),
                N_("A piece that cannot be sold. Count it, so that the count of good ones is true."),
                Np_("other words for it", "Also: spoiled piece, reject."),
            ),
            Word(
                N_("discharge"),
                N_("Ink that takes the dye out of cotton. It needs air: mind its data sheet."),
                Np_("other words for it", "discharge"),
            ),
            Word(N_("platen"), N_("The board that the garment lies on."), Np_("other words for it", "Also: pallet.")),
            Word(
                N_("squeegee"),
                N_("The blade that pushes ink through the mesh. Hardness and angle change the print."),
                Np_("other words for it", "Also: blade."),
            ),
            Word(
                N_("register"),
                N_("How well the colours fit each other."),
                Np_("other words for it", "Also: registration. What was done is in the log."),
            ),
            Word(
                N_("press"),
                N_("The machine that prints, with a screen on each head."),
                Np_("other words for it", "Also: machine. A heat press is something else."),
            ),
            Word(
                N_("off-contact"),
                N_("The gap between the mesh and the garment while nothing presses on it."),
                Np_("other words for it", "off-contact"),
            ),
        ),
    ),
    (
        N_("What the program says"),
        (
            Word(
                N_("stop"),
                N_("Don’t go on. Put it right first, or a lead overrides it with a reason."),
                Np_("other words for it", "stop"),
            ),
            Word(N_("caution"), N_("You can go on. Look at what it says first."), Np_("other words for it", "caution")),
            Word(
                N_("unknown"),
                N_("Nobody noted what is needed to judge it. Measure it or note it."),
                Np_("other words for it", "unknown"),
            ),
            Word(
                N_("override"),
                N_("Go on against a stop. Your name and reason stay in the log."),
                Np_("other words for it", "override"),
            ),
            Word(
                N_("cross out"),
                N_("Take back a line of the log. It stays readable, but counts no more."),
                Np_("other words for it", "cross out"),
            ),
            Word(
                N_("limits"),
                N_("The figures that the shop judges by. Each says where it comes from."),
                Np_("other words for it", "limits"),
            ),
            Word(
                N_("expired"),
                N_("Older than its kind keeps, such as mixed emulsion or catalysed ink."),
                Np_("other words for it", "expired"),
            ),
            Word(
                N_("missing"),
                N_("Not on its place at a stock-take. A scan brings it back."),
                Np_("other words for it", "missing"),
            ),
            Word(
                N_("log"),
                N_("Who did what, and when. Nothing in it is rubbed out; lines are crossed out."),
                Np_("other words for it", "log"),
            ),
        ),
    ),
)
"""Groups in the order of the work; each has its title and its words with what they mean."""


def others_in(short: str, word: Word) -> str:
    """What else a language says for a word, and what is to be minded there; empty: nothing."""
    context, text = word.others
    said = said_in(short, text, context)
    return "" if said in (word.word, NOTHING) else said


def explained() -> tuple[tuple[str, tuple[Explained, ...]], ...]:
    """The groups, each by its title, as whoever reads now is to read them."""
    mine = language()
    elsewhere = [(short, name) for short, name in LANGUAGES.items() if short != mine]

    def row(word: Word) -> Explained:
        told = (InLanguage(short, name, said_in(short, word.word), others_in(short, word)) for short, name in elsewhere)
        return Explained(_(word.word), _(word.meaning), others_in(mine, word), tuple(told))

    return tuple((_(title), tuple(map(row, words))) for title, words in WORDS)
