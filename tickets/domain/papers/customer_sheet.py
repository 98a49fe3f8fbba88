"""What the customer's sheet says of a repeat: the page that goes out with the order and is kept there.

What is the same stands in one line, what changed in plain words, in the order of `first_seen`. Nothing of the shop's
own: no recipe, ink lot, tension, exposure, emulsion, code, and nobody of the crew. What nobody measured says so.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from tickets.calculator import units
from tickets.calculator.colour import Lab, on_screen, turns
from tickets.calculator.numerals import counted
from tickets.calculator.verdict import Level, say
from tickets.domain.jobs import colourways
from tickets.domain.jobs.colourways import GARMENT, garments_of, inks_on
from tickets.domain.jobs.job import ink_for
from tickets.domain.papers.kept import LAYOUT
from tickets.domain.papers.ticket import JobTicket, with_signs
from tickets.domain.runs import first_seen, lab
from tickets.domain.runs.as_run import NOT_MEASURED, AsRun, named, pairs
from tickets.domain.runs.comparison import ColourOf, ComparedLine, approval_said
from tickets.domain.separation import folded
from tickets.domain.setting import TOLD
from tickets.i18n import N_
from tickets.i18n import gettext as _

BESIDE = frozenset({"colour", "drift", "approved", "changed"})
"""What has a place of its own on the sheet: no setting."""


@dataclass(frozen=True, slots=True)
class Swatch:
    """A reading of one print: as it is said (L*a*b*), and about how it looks, `#rrggbb`; empty: nobody measured it."""

    said: str = ""
    colour: str = ""


@dataclass(frozen=True, slots=True)
class CustomerColour:
    """A colour of the print: its name and ink, how it was approved and is now, and the difference in words; `stop`:
    it is over what the shop lets pass; `drift`: how far it is from the first print of all that was measured."""

    name: str
    ink: str
    before: Swatch
    now: Swatch
    word: str
    said: str = ""
    stop: bool = False
    drift: str = ""


@dataclass(frozen=True, slots=True)
class CustomerSheet:
    """The sheet. `facts`: pairs of a word and what is said of the print; `art` and `photo`: files of the artwork and of
    the approved print, beside the shop's other pictures; `headings`: the two prints; `changed`: what changed, and
    `during` what came up while it printed, each a sentence; `same` and `not_compared`: in one line each. `first`: there
    is no print before it, so its colours have one reading and nothing is compared."""

    job: JobTicket
    placement: str
    lead: str
    facts: tuple[tuple[str, str], ...]
    headings: tuple[str, str]
    colours: tuple[CustomerColour, ...] = ()
    changed: tuple[str, ...] = ()
    same: str = ""
    not_compared: str = ""
    during: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    art: str | None = None
    photo: str | None = None
    first: bool = False
    layout: int = LAYOUT


def customer_sheet(
    job: JobTicket,
    before: AsRun,
    after: AsRun,
    lead: str,
    lines: Sequence[ComparedLine],
    colours: Iterable[ColourOf],
    *,
    remarks: Sequence[str] = (),
    art: str | None = None,
    photo: str | None = None,
    good: Mapping[str, int] | None = None,
) -> CustomerSheet:
    """The sheet of a run (`after`) beside the print before it. `good`: the good pieces so far, by garment. `lines`:
    those of `comparison.for_customer`, in which nobody of the shop is named; `lead`: which print it is beside."""
    colours = list(colours)
    known = {line.station: line for line in lines if line.what == "colour"}
    drift = {line.station: _drift(line) for line in lines if line.what == "drift" and line.by_how_much}
    shown = [_colour(one, after, known.get(one.station), drift.get(one.station, "")) for one in colours]
    told = first_seen.in_order((one for one in lines if one.what not in BESIDE), _what, lambda line: line.station)
    titles = {one.number: one.separation if one.prints else "" for one in after.placement.stations}
    otherwise = [line for line in told if line.differs and not line.doubted]
    changed = [_changed(line, titles.get(line.station, line.title)) for line in otherwise]
    at = sum(first_seen.place_of(line.what) < first_seen.place_of("screen") for line in otherwise)
    changed[at:at] = _screens(before, after)
    said = _("While it printed: {change}.")
    during = [said.format(change=with_signs(one.b)) for one in lines if one.what == "changed" and one.b]
    same, unknown = _groups(told)
    unknown = " ".join(filter(None, (_unread(after, {one.station for one in colours}), unknown)))
    return CustomerSheet(
        job,
        after.placement.name,
        lead,
        tuple(_facts(after, job, good or {})),
        (_("Print of {day}").format(day=before.day), _("Print of {day}").format(day=after.day)),
        tuple(shown),
        tuple(changed),
        same,
        unknown,
        tuple(during),
        tuple(remarks),
        tuple(_notes(after, lab.kept(after.approved or {}), shown)),
        art,
        photo,
    )


def first_sheet(
    job: JobTicket,
    run: AsRun,
    *,
    art: str | None = None,
    photo: str | None = None,
    good: Mapping[str, int] | None = None,
) -> CustomerSheet:
    """The sheet of a run that has no print before it: what it is, with its colours as they were last read, which the
    next order is to meet. `good` as `customer_sheet` takes it."""
    read = lab.last(run.approved or {})
    takes = inks_on(run.job, run.placement, str((run.approved or {}).get(GARMENT, "")))
    colours = []
    for station in run.placement.printing:
        if takes is None or station.number in takes:
            light = lab.under_of(read.read_under(station.number)).light
            now = _swatch(read.readings.get(station.number), light)
            colours.append(CustomerColour(*_ink(run, station.number), Swatch(), now, ""))
    notes = _notes(run, read, colours) if read.readings else [_("No colour was measured.")]
    lead = _("What was printed, as it was approved. Keep this sheet: the next order is compared with it.")
    return CustomerSheet(
        job, run.placement.name, lead, tuple(_facts(run, job, good or {})), ("", ""), tuple(colours),
        notes=tuple(notes), art=art, photo=photo, first=True,
    )  # fmt: skip


def _unread(run: AsRun, read: Collection[int]) -> str:
    """The colours of a print that nobody read on either side, where others were (`read`): they are not compared."""
    takes = inks_on(run.job, run.placement, str((run.approved or {}).get(GARMENT, "")))
    left = [
        one.separation
        for one in run.placement.printing
        if one.number not in read and (takes is None or one.number in takes)
    ]
    told = _("Colour not measured, so not compared: {names}.").format(names=", ".join(dict.fromkeys(left)))
    return told if left and read else ""


def _screens(before: AsRun, after: AsRun) -> Iterator[str]:
    """What is printed through a stencil that was made since the print before, and what through another screen of then
    or earlier: a screen that is another one is not therefore new."""
    since, new, other = str((before.approved or {}).get("at") or before.day), [], []
    for was, now in pairs(before.placement, after.placement):
        if was is None or now is None:
            continue
        then = {(one.screen, one.made_at) for one in before.screens_of(was.number)}
        hung = [one for one in after.screens_of(now.number) if (one.screen, one.made_at) not in then]
        if any(one.made_at > since for one in hung):
            new.append(named(now))
        elif then and any(one.screen not in {screen for screen, _made in then} for one in hung):
            other.append(named(now))
    if new:
        yield _("A new screen was made for: {names}.").format(names=", ".join(new))
    if other:
        yield _("Another screen than last time printed: {names}.").format(names=", ".join(other))


def _what(line: ComparedLine) -> str:
    return line.what


def _facts(run: AsRun, job: JobTicket, good: Mapping[str, int]) -> Iterator[tuple[str, str]]:
    placement = next(one for one in job.placements if one.name == run.placement.name)
    where = _("from {where}").format(where=placement.measured_from) if placement.measured_from else ""
    yield _("Print"), ", ".join(filter(None, (placement.name, placement.size, where)))
    revision = _("revision {revision}").format(revision=run.placement.art.revision)
    yield _("Artwork"), f"{run.placement.art.name}, {revision}"
    ordered: dict[tuple[str, str], tuple[str, int]] = {}
    for row in job.garments:
        said = ", ".join(filter(None, (row.style, row.colour, row.fibre)))
        before = ordered.get((row.style, row.colour), (said, 0))
        ordered[row.style, row.colour] = before[0], before[1] + counted(row.pieces)
    for (style, colour), (said, pieces) in ordered.items():
        printed = good.get(colourways.named(style, colour), 0) + (good.get("", 0) if len(ordered) == 1 else 0)
        told = _("{garment}: {printed} printed, {ordered} ordered") if good else _("{garment}: {ordered} ordered")
        yield _("Garment"), told.format(garment=said, printed=printed, ordered=pieces) if pieces else said
    if run.approved:
        who = approval_said(run.approved, staff=False)
        yield _("Approved"), _("by {who}, {day}").format(who=who, day=run.day)


def _ink(run: AsRun, station: int) -> tuple[str, str]:
    """A print order's name, and the ink that it takes on the garment of the approved print: its colour where that is
    another one, kind, colour reference. Series and recipe are the shop's own."""
    one = next(each for each in run.placement.stations if each.number == station)
    garment = garments_of(run.job).get(str((run.approved or {}).get(GARMENT, "")))
    ink = ink_for(run.job, run.job.colourway_of(garment) if garment else None, run.placement, one)
    if ink is None:
        return one.separation, ""
    colour = "" if folded(ink.colour) in ("", folded(one.separation), folded(one.colour)) else ink.colour
    return one.separation, ", ".join(filter(None, (colour, _(ink.kind), ink.reference)))


def _drift(line: ComparedLine) -> str:
    """How far a colour is from the first measured print, so that small steps cannot add up unseen."""
    return _("from the first measured print, {day}: {by}").format(day=line.day, by=line.by_how_much)


def _colour(one: ColourOf, after: AsRun, line: ComparedLine | None, drift: str) -> CustomerColour:
    name, ink = _ink(after, one.station)
    now = lab.kept(after.approved or {})
    light = lab.under_of(now.read_under(one.station)).light
    verdict = line.verdict if line and line.verdict else one.verdict
    word, said = _difference(one)
    if one.difference is None:
        said = " ".join(say(reason).sentence for reason in verdict.reasons if reason.level is not Level.OK)
    swatches = (_swatch(one.approved, light), _swatch(one.printed, light))
    return CustomerColour(name, ink, *swatches, word, said, verdict.level is Level.STOP, drift)


def _swatch(read: Lab | None, light: str) -> Swatch:
    return Swatch(lab.said(read), on_screen(read, light)) if read else Swatch()


WORDS: Mapping[Level, str] = {
    Level.OK: N_("The same to the eye"),
    Level.CAUTION: N_("A slight difference"),
    Level.STOP: N_("STOP: a clear difference"),
    Level.UNKNOWN: N_("Not compared"),
}
"""How a judged colour is said to a customer."""


def _difference(one: ColourOf) -> tuple[str, str]:
    """The difference of two readings in words: how far, and which way the print went."""
    word = _(WORDS[one.verdict.level])
    if one.difference is None or one.approved is None or one.printed is None:
        return word, ""
    far = f"ΔE00 {units.number_text(one.difference, 1)}"
    if one.verdict.level is Level.OK:
        return word, far
    went = ", ".join(turn.said for turn in turns(one.printed, one.approved)[:2])
    return word, f"{far}; {went}"


def _changed(line: ComparedLine, title: str) -> str:
    """A setting that changed, in plain words; `title`: what its print order prints, if anything."""
    a, b = with_signs(line.a), with_signs(line.b)
    if line.what == "press":
        return _("Last time it was printed on another press.")
    if line.what == "order":
        if not line.a:
            return _("New in the print: {title}.").format(title=line.title)
        if not line.b:
            return _("Not in the print any more: {title}.").format(title=line.title)
        said = _("Position {before}, {title}, is now position {now}.")
        return said.format(title=line.title, now=b, before=a)
    where = title or (_("position {number}").format(number=line.station) if line.station else "")
    setting = ", ".join(filter(None, (line.word, where)))
    return _("{setting}: {now} instead of {before}.").format(setting=setting, now=b, before=a)


_GROUP_WORDS: Mapping[str, str] = {"ink": N_("ink colour and kind")}
"""Groups of which the customer is told a part only, by what that part is: lots and recipes are the shop's own."""


def _groups(lines: Sequence[ComparedLine]) -> tuple[str, str]:
    """What is the same, and what is not known to be: by groups of `first_seen`, of which one that differs is told by
    itself. Where a group is known in part, its settings stand each by its own name on their side."""
    same: list[str] = []
    unknown: list[str] = []
    for group in first_seen.GROUPS:
        own = [line for line in lines if first_seen.group_of(line.what) == group.name and (line.a or line.b)]
        if not own or any(line.differs and not line.doubted for line in own):
            continue
        word = _(_GROUP_WORDS.get(group.name, group.word))
        unsure = {line.what for line in own if line.differs is not False or line.doubted}
        sure = [line for line in own if line.what not in unsure]
        # how something was measured is no setting
        left = [line for line in own if line.what in unsure and line.what not in TOLD]
        if not (sure and left):
            (unknown if left else same if sure else []).append(word)
            continue
        same += dict.fromkeys(map(_name, sure))
        unknown += dict.fromkeys(map(_name, left))
    told = _("Not measured or not noted both times, so not compared: {groups}.")
    return (
        _("The same as before: {groups}.").format(groups=_listed(same)) if same else "",
        told.format(groups=_listed(unknown)) if unknown else "",
    )


def _listed(names: Sequence[str]) -> str:
    return ("; " if any("," in one for one in names) else ", ").join(names)


def _name(line: ComparedLine) -> str:
    """A setting's name within a sentence."""
    return line.word[:1].lower() + line.word[1:]


def _notes(run: AsRun, read: lab.KeptReadings, colours: Sequence[CustomerColour]) -> Iterator[str]:
    if not colours:
        yield _("No colour was measured, so none is compared.")
        return
    lights = dict.fromkeys(lab.under_of(read.read_under(number)) for number in sorted(read.readings))
    garment = str((run.approved or {}).get(GARMENT, ""))
    how = "; ".join(filter(None, (", ".join(filter(None, (one.light, one.observer, one.mode))) for one in lights)))
    yield " ".join(
        (
            _("L*a*b* is how an instrument reads a colour. ΔE00 is how different two readings are; 0 is the same."),
            _("Read with {how}.").format(how=how) if how else "",
            _("Read on: {garment}.").format(garment=garment) if garment else "",
        )
    )
    yield _("The patches show the colours only roughly: what counts is the reading, and the print itself.")


def not_measured() -> str:
    """What stands in the place of a reading that nobody took."""
    return _(NOT_MEASURED)
