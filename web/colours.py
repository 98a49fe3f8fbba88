"""The colours of a first print on its form: what they are to meet, what was typed, and what that comes to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import g, request

from tickets.calculator import colour as rules
from tickets.calculator.verdict import WORDS, Level, say
from tickets.domain.posted import Form
from tickets.domain.runs import colour_file, lab
from tickets.i18n import gettext as _
from tickets.queries import colour as colour_now
from tickets.queries.run_plan import Plan, garment_now, numbered_garments, prints_now, several_garments
from tickets.store import runs

FILE = "lab_file"


@dataclass(frozen=True, slots=True)
class Meet:
    """What a colour is to meet, in words: its L*a*b*, how it looks (`swatch` as #rrggbb, `looks` in words), how it was
    read; for the script its numbers and limits. `garment`: where it is not the same on each, on which (its number in
    the form and its name)."""

    garment: tuple[str, str]
    said: str
    swatch: str
    looks: str
    under: str
    aim: colour_now.Aim


@dataclass(frozen=True, slots=True)
class ColourRow:
    """A colour of the form: its field, what was typed there, what is wrong with it. `meets`: what it is to meet, on
    each garment where that differs; `came`: what the reading comes to, where it was checked: level and sentences."""

    field: str
    number: int
    name: str
    typed: str
    fault: str
    meets: tuple[Meet, ...]
    came: tuple[str, tuple[str, ...]] | None


@dataclass(frozen=True, slots=True)
class UnclearPatch:
    """A patch of a measurement file that nobody can tell the colour of: its field, the question, what was chosen."""

    field: str
    fault: str
    chosen: str


@dataclass(frozen=True, slots=True)
class Colours:
    """The part of an approval's form that the colours have."""

    rows: tuple[ColourRow, ...]
    known: tuple[tuple[str, str], ...]
    chosen: str
    parts: tuple[tuple[str, str, tuple[tuple[str, str], ...], str, str], ...]
    patches: str
    asked: tuple[UnclearPatch, ...]
    faults: Mapping[str, str]
    open: bool
    checked: bool
    photo_again: bool
    words: Mapping[str, Any]
    choices: tuple[tuple[str, str], ...]


def on_each(plan: Plan, approved: runs.Run | None) -> list[tuple[tuple[str, str], dict[int, colour_now.Aim]]]:
    """What the colours are to meet, with the garment's number in the form and its name: of each garment, as long as the
    run did not say which one is printed and they differ; else one, without a garment."""

    def aims(garment: str) -> dict[int, colour_now.Aim]:
        return colour_now.aims(g.db, plan.job, plan.run.placement, approved, garment)

    if approved is None or garment_now(plan) is not None or not several_garments(plan):
        return [(("", ""), aims(plan.story.on))]
    every = [(one, aims(one[1])) for one in numbered_garments(plan)]
    return every if any(one != every[0][1] for _garment, one in every) else [(("", ""), every[0][1])]


def form_of(
    plan: Plan,
    approved: runs.Run | None,
    sent: Mapping[str, Any],
    faults: Mapping[str, str],
    checked: Mapping[int, colour_now.Checked] | None = None,
) -> Colours:
    """The colours of a run's approval. `approved`: the run that it is compared with; `sent`: what came back."""

    def one(name: str) -> str:
        return next((str(text) for text in sent.get(name, ()) if str(text).strip()), "")

    every = on_each(plan, approved)
    wrong = {name: told for name, told in faults.items() if name.startswith("lab")}
    rows = []
    prints = prints_now(plan)
    for station in plan.placement.printing:
        if station.number not in prints:
            continue
        name = lab.field_name(station.number)
        came = came_said(checked[station.number]) if checked and station.number in checked else None
        meets = tuple(_meet(aims[station.number], garment) for garment, aims in every if station.number in aims)
        rows.append(ColourRow(name, station.number, station.separation, one(name), wrong.get(name, ""), meets, came))
    known = runs.read_under(g.db)[:3]
    told = [one(name) for name, _word, _choices in lab.PARTS]
    chosen = one(lab.CONDITIONS) if sent else known[0] if known else ""
    asked = [UnclearPatch(name, text, one(name)) for name, text in faults.items() if name.startswith(lab.PATCH)]
    asked += [
        UnclearPatch(name, "", one(name))
        for name in sent
        if name.startswith(lab.PATCH) and name not in wrong and one(name)
    ]
    typed = any(row.typed for row in rows) or bool(one(lab.PATCHES))
    return Colours(
        tuple(rows),
        tuple((text, text) for text in known),
        "" if any(told) else chosen,
        tuple(
            (name, _(word), tuple((each, _(each)) for each in choices), text, wrong.get(name, ""))
            for (name, word, choices), text in zip(lab.PARTS, told, strict=True)
        ),
        one(lab.PATCHES),
        tuple(asked),
        wrong,
        any(row.meets for row in rows) or typed or bool(wrong),
        checked is not None,
        bool(checked is not None and request.files.get("picture")),
        script_words(),
        (*((str(row.number), f"{row.number}. {row.name}") for row in rows), (lab.NO_COLOUR, _("none of them"))),
    )


def _meet(aim: colour_now.Aim, garment: tuple[str, str]) -> Meet:
    said = lab.said(aim.lab)
    if aim.spread:
        said += f" ({spread_said(aim.spread)})"
    light = lab.under_of(aim.under).light
    return Meet(garment, said, rules.on_screen(aim.lab, light), rules.in_words(aim.lab), aim.under, aim)


def spread_said(spread: tuple[int, float]) -> str:
    """Of how many readings a colour is the mean, and how far they lie apart."""
    told = _("mean of {n} readings, the furthest {spread} from it (CIEDE2000)")
    return told.format(n=spread[0], spread=f"{spread[1]:.2f}")


def came_said(one: colour_now.Checked) -> tuple[str, tuple[str, ...]]:
    """What a reading comes to, in sentences: the level first. The script says the same while it is typed."""
    told = []
    level = one.verdict.level if one.verdict else None
    if one.difference is not None and level is not None:
        told.append(script_words()["said"].format(word=_(WORDS[level]), difference=f"{one.difference:.2f}"))
        if one.turn:
            told.append(script_words()["turn"].format(ways=", ".join(each.said for each in one.turn)))
    elif one.verdict is not None:
        told += [f"{each.word}: {each.sentence} {each.advice}" for each in map(say, one.verdict.reasons)]
    else:
        alone = _("Read as {reading}; there is no approved reading to compare it with.")
        told.append(alone.format(reading=lab.said(one.lab)))
    if one.spread:
        said = spread_said(one.spread)
        told.append(f"{said[0].upper()}{said[1:]}.")
    return str(level or ""), tuple(told)


def script_words() -> dict[str, Any]:
    """What the script says, in the reader's language."""
    return {
        "said": _("{word}: {difference} from the approved print (CIEDE2000)."),
        "turn": _("To meet it, turn it: {ways}."),
        "otherwise": _("Read differently from the approved print ({under}): not compared."),
        "levels": {str(level): _(WORDS[level]) for level in (Level.OK, Level.CAUTION, Level.STOP, Level.UNKNOWN)},
        "ways": {axis: [_(way) for way in ways] for axis, ways in rules.WAYS.items()},
    }


def with_file(form: Form) -> Form:
    """The form, with the measurement file that was sent along (field lab_file) as its `lab_patches`."""
    sent = request.files.get(FILE)
    data = sent.stream.read(colour_file.MOST_LETTERS + 1) if sent and sent.filename else b""
    if not data.strip():
        return form
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    return Form({**form.sent, lab.PATCHES: [text]})
