"""How each setting is read, for its page and for the command: what was sent becomes what is kept, or is refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from tickets.calculator import units
from tickets.calculator.numerals import counted
from tickets.domain.desk.nights import PLACES, WHOLE
from tickets.domain.desk.pool import read_shift_hours
from tickets.domain.refusal import Refused
from tickets.domain.runs.run import AGAIN
from tickets.domain.stages import MOVES
from tickets.i18n import LANGUAGES
from tickets.i18n import gettext as _

Sent = Mapping[str, Sequence[str]]
"""What was sent: each field of the setting's form with its values."""

MOST_COATS = 9
PRESET = ("preset.name", "preset.print_side", "preset.squeegee_side")
"""The fields of one coat preset; a preset is a place in all three."""


def read(name: str, sent: Sent) -> Any:
    """The value of a setting. Raises Refused, naming the setting, and KeyError for one that nobody sets by hand."""
    return _READ[name](sent)


def preset_rows(sent: Sent) -> list[tuple[str, str, str]]:
    """The coat presets that were sent: (name, strokes on the print side, on the squeegee side), as typed."""
    columns = [list(sent.get(name, ())) for name in PRESET]
    longest = max(len(column) for column in columns)

    def row(at: int) -> Iterator[str]:
        return (column[at] if at < len(column) else "" for column in columns)

    return [tuple(row(at)) for at in range(longest)]  # type: ignore[misc]


def _one(sent: Sent, name: str) -> str:
    return next((text.strip() for text in sent.get(name, ()) if text.strip()), "")


def _name(sent: Sent) -> str:
    name = " ".join(_one(sent, "shop").split())
    if not (1 <= len(name) <= 60 and name.isprintable()):
        raise Refused(_("A name of 1 to 60 characters is needed."), "shop")
    return name


def _text(name: str) -> Callable[[Sent], str]:
    return lambda sent: _one(sent, name)


def _choice(name: str, allowed: Sequence[str]) -> Callable[[Sent], str]:
    def chosen(sent: Sent) -> str:
        if _one(sent, name) not in allowed:
            raise Refused(_("One of: {choices}.").format(choices=", ".join(allowed)), name)
        return _one(sent, name)

    return chosen


def _whole(name: str) -> Callable[[Sent], int]:
    return lambda sent: counted(_one(sent, name), -1)  # what is no number is refused with the span


def _steps(sent: Sent) -> list[str]:
    named = list(dict.fromkeys(text.strip() for text in sent.get("steps", ()) if text.strip()))
    unknown = set(named) - set(MOVES)
    if unknown:
        raise Refused(_("No such steps: {steps}.").format(steps=", ".join(sorted(unknown))), "steps")
    return named


def _presets(sent: Sent) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for name, *sides in preset_rows(sent):
        name = " ".join(name.split())
        if not name:
            continue
        if len(name) > 40 or any(one["name"] == name for one in found):
            raise Refused(_("Each preset has a name of its own, of at most 40 characters."), "presets")
        strokes = [counted(text, -1) for text in sides]
        if not all(0 <= one <= MOST_COATS for one in strokes):
            said = _("{name}: strokes are whole numbers from 0 to {most}.")
            raise Refused(said.format(name=name, most=MOST_COATS), "presets")
        found.append({"name": name, "print_side": strokes[0], "squeegee_side": strokes[1]})
    if not found:
        raise Refused(_("At least one preset is needed."), "presets")
    return found


_READ: Mapping[str, Callable[[Sent], Any]] = {
    "shop": _name,
    "zone": _text("zone"),
    "language": _choice("language", LANGUAGES),
    "units": _choice("units", units.SYSTEMS),
    "steps": _steps,
    "presets": _presets,
    "shift_hours": lambda sent: read_shift_hours(_one(sent, "shift_hours")),
    **{name: _whole(name) for name in WHOLE},
    **{name: _text(name) for name in PLACES},
    "shifts": lambda sent: " ".join(_one(sent, "shifts").replace(",", " ").split()),
    **{name: _choice(name, ("yes", "no")) for name in AGAIN.values() if name},
    "emulsion_water_resistant": _choice("emulsion_water_resistant", ("yes", "no", "unknown")),
}
BY_HAND = tuple(_READ)
"""The settings that people set; the address is set apart, with what it leaves behind."""
