"""The shop's settings, a row each: what it is called, what a new shop has, and how what is given becomes what is kept.

Pages, the command and the act that keeps a setting all read it here. To add a setting, add its row.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tickets.calculator import numerals, typed, units
from tickets.calculator.numerals import counted
from tickets.domain import label, names, outside, printer
from tickets.domain.desk import mailing
from tickets.domain.refusal import Fault, NotFound, Refused
from tickets.domain.stages import ALWAYS_LOGGED, LOGGED_BY_DEFAULT, MOVES
from tickets.i18n import LANGUAGES, N_
from tickets.i18n import gettext as _

Choices = tuple[tuple[str, str], ...]
"""What may be chosen: each as it is kept, and its words."""
Reader = Callable[[str, Any], Any]
"""Name of the setting and what was given for it (typed, tapped, or as it is kept) -> what is kept. Raises Refused."""

MOST_COATS = 9
MOST_SHIFTS = 6
PRESET = ("name", "print_side", "squeegee_side")
"""What a coat preset says: its name, its strokes on either side."""
YES_NO: Choices = (("yes", N_("yes")), ("no", N_("no")))


@dataclass(frozen=True, slots=True)
class ShopSetting:
    """`words`: what it is called; empty: the program keeps it, nobody sets it by hand. `default`: what a new shop has.
    `machine`: set at the machine itself, by command only. `choices`: where it is one of a few. `office`: the page shows
    it to the manager alone. `mail`: one of the daily mail, which are set together."""

    words: str
    default: Any
    read: Reader
    hint: str = ""
    choices: Choices = ()
    machine: bool = False
    office: bool = False
    mail: bool = False


def read(name: str, given: Any) -> Any:
    """What is kept of what was given for a setting. Raises Refused with the setting as its field, and NotFound."""
    if name not in SETTINGS:
        raise _unknown(name)
    return SETTINGS[name].read(name, given)


def by_hand(name: str) -> ShopSetting:
    """A setting that people set. Raises NotFound."""
    if name not in BY_HAND:
        raise _unknown(name)
    return BY_HAND[name]


def _unknown(name: str) -> NotFound:
    names = ", ".join(BY_HAND)
    return NotFound(_("There is no setting “{name}”; there are: {names}.").format(name=name[:40], names=names))


# How each is read ----------------------------------------------------------------------------------------------------


def _as_given(name: str, given: Any) -> Any:
    return given


def _text(name: str, given: Any) -> str:
    return str(given).strip()


def _shop_name(name: str, given: Any) -> str:
    faults: list[Fault] = []
    said = names.take(str(given), faults, name, _("Harbour Prints"))
    if faults:
        raise Refused(faults)
    return said


def _zone(name: str, given: Any) -> str:
    try:
        return ZoneInfo(_text(name, given)).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        said = _("“{zone}” is not a time zone. Write one like Europe/Warsaw.")
        raise Refused(said.format(zone=str(given)[:60]), name) from None


def _one_of(name: str, given: Any) -> str:
    allowed = [value for value, _words in SETTINGS[name].choices]
    if _text(name, given) not in allowed:
        raise Refused(_("One of: {choices}.").format(choices=", ".join(allowed)), name)
    return _text(name, given)


def _whole(least: int, most: int) -> Reader:
    def whole(name: str, given: Any) -> int:
        number = given if type(given) is int else counted(_text(name, given), least - 1)
        if not least <= number <= most:
            raise Refused(_("A whole number from {least} to {most} would do.").format(least=least, most=most), name)
        return number

    return whole


DEAREST = 1_000_000


def _rate(name: str, given: Any) -> float | str:
    """An amount of money; empty: the shop gives none. Raises Refused."""
    text = _text(name, given)
    if not text:
        return ""
    try:
        amount = numerals.number(text)
    except numerals.NotAQuantity:
        amount = -1.0
    if not 0 <= amount <= DEAREST:
        raise Refused(_("An amount such as 45 or 45.50 would do; empty: no rate."), name)
    return round(amount, 2)


def _currency(name: str, given: Any) -> str:
    said = names.one_line(str(given))
    if len(said) > 8 or names.unseen(said):
        raise Refused(_("A currency in at most 8 characters, such as EUR."), name)
    return said


def _folder(name: str, given: Any) -> str:
    if _text(name, given) and not PurePath(_text(name, given)).is_absolute():
        raise Refused(_("Write the whole path of the folder, from the root."), name)
    return _text(name, given)


def read_shift_hours(name: str, given: Any) -> float:
    """How long a shift is, such as `8`, `7,5`, `8 h`, `7:30`; a whole number where it is one. Raises Refused."""
    try:
        hours = typed.read_field("shift_h", _text(name, given))
    except units.NotAQuantity as fault:
        raise Refused([Fault.of(name, fault)]) from None
    if not 1 <= hours <= 24:
        raise Refused(_("Between 1 and 24 hours."), name)
    return int(hours) if hours == int(hours) else hours


def shifts(text: str) -> tuple[int, ...]:
    """The hours of the day at which a shop's shifts begin, written one after another, such as `6 14 22`.

    Raises Refused for anything but whole hours of one day in their order.
    """
    words = text.replace(",", " ").split()
    hours = tuple(counted(word, 24) for word in words)
    if not 0 < len(hours) <= MOST_SHIFTS or hours[-1] > 23 or list(hours) != sorted(set(hours)):
        raise Refused(_("The hours at which shifts begin, in order, such as 6 14 22; at most six."), "shifts")
    return hours


def working_hours(text: str) -> tuple[int, int]:
    """From when to when the screen room works, in minutes of the day, such as `8-17`, `7:30 16:00`, `22-6` (over
    midnight). Raises Refused."""
    words = [one for one in text.replace("–", "-").replace("-", " ").split() if one]
    found = [_minutes(word) for word in words]
    if len(found) != 2 or None in found or found[0] == found[1]:
        raise Refused(_("From when to when, such as 8-17 or 7:30-16:00."), "work_hours")
    return found[0] or 0, found[1] or 0


def _minutes(word: str) -> int | None:
    """The minute of the day of `8`, `7:30`, `24`."""
    hour, colon, minute = word.partition(":")
    hours, minutes = counted(hour, -1), counted(minute, -1) if colon else 0
    there = 0 <= hours <= 24 and 0 <= minutes < 60 and hours * 60 + minutes <= 24 * 60
    return hours * 60 + minutes if there else None


def _work_hours(name: str, given: Any) -> str:
    return "-".join(f"{one // 60}:{one % 60:02}" for one in working_hours(str(given)))


def working_days(text: str) -> frozenset[int]:
    """The weekdays on which the screen room works, Monday is 1: `1 2 3 4 5`. Raises Refused."""
    days = [counted(word, 0) for word in text.replace(",", " ").split()]
    if not days or not all(1 <= one <= 7 for one in days) or len(set(days)) != len(days):
        raise Refused(_("The weekdays as numbers, Monday is 1, such as 1 2 3 4 5."), "work_days")
    return frozenset(days)


def _work_days(name: str, given: Any) -> str:
    return " ".join(map(str, sorted(working_days(str(given)))))


def _shifts(name: str, given: Any) -> str:
    return " ".join(map(str, shifts(str(given))))


def _steps(name: str, given: Any) -> list[str]:
    """The steps that a shop logs, those that no shop goes without among them, in the order of the work."""
    texts = given.split(",") if isinstance(given, str) else given
    named = {str(text).strip() for text in texts} - {""}
    unknown = named - set(MOVES)
    if unknown:
        raise Refused(_("No such steps: {steps}.").format(steps=", ".join(sorted(unknown))), name)
    return [step for step in MOVES if step in named | ALWAYS_LOGGED]


def _presets(name: str, given: Any) -> list[dict[str, Any]]:
    """The coat presets, from rows of a form or of JSON; a row without a name is left out."""
    found: list[dict[str, Any]] = []
    for number, (said, *sides) in enumerate(_preset_rows(name, given), 1):
        said, row = names.one_line(said), f"{name}[{number}]"
        if not said:
            continue
        if fault := names.unseen(said):
            raise Refused(fault, f"{row}.name")
        if len(said) > 40 or any(one["name"] == said for one in found):
            raise Refused(_("Each preset has a name of its own, of at most 40 characters."), f"{row}.name")
        strokes = [counted(text, -1) for text in sides]
        for side, one in zip(PRESET[1:], strokes, strict=True):
            if not 0 <= one <= MOST_COATS:
                told = _("{name}: strokes are whole numbers from 0 to {most}.")
                raise Refused(told.format(name=said, most=MOST_COATS), f"{row}.{side}")
        found.append({"name": said, "print_side": strokes[0], "squeegee_side": strokes[1]})
    if not found:
        raise Refused(_("At least one preset is needed."), name)
    return found


def _preset_rows(name: str, given: Any) -> list[list[str]]:
    try:
        rows: Sequence[Mapping[str, Any]] = outside.data(given) if isinstance(given, str) else given
        return [[str(row[key]) for key in PRESET] for row in rows]
    except (ValueError, TypeError, KeyError):
        example = '[{"name": "1+1 round edge", "print_side": 1, "squeegee_side": 1}]'
        raise Refused(_("Presets are JSON, such as {example}").format(example=example), name) from None


MOST_PRINTERS = 20


def _printers(name: str, given: Any) -> list[dict[str, str]]:
    """The printers of a shop, from rows of a form or of JSON; a row without a name is left out."""
    found: list[dict[str, str]] = []
    for number, (said, to, holds) in enumerate(_printer_rows(name, given), 1):
        said, row, faults = names.one_line(said), f"{name}[{number}]", list[Fault]()
        if not said:
            if to.strip():
                raise Refused(_("Give the printer a name that people know it by."), f"{row}.name")
            continue
        if fault := names.unseen(said):
            raise Refused(fault, f"{row}.name")
        if len(said) > printer.LONGEST_NAME or any(one["name"].casefold() == said.casefold() for one in found):
            told = _("Each printer has a name of its own, of at most {most} characters.")
            raise Refused(told.format(most=printer.LONGEST_NAME), f"{row}.name")
        kept = {"name": said}
        for part, read_part, text in (("to", printer.address, to), ("holds", label.held, holds)):
            try:
                kept[part] = read_part(text)
            except Refused as refused:
                faults += [Fault(f"{row}.{part}", one.message) for one in refused.faults]
        if faults:
            raise Refused(faults)
        found.append(kept)
    if len(found) > MOST_PRINTERS:
        raise Refused(_("At most {most} printers.").format(most=MOST_PRINTERS), name)
    return found


def _printer_rows(name: str, given: Any) -> list[list[str]]:
    try:
        rows: Sequence[Mapping[str, Any]] = outside.data(given) if isinstance(given, str) else given
        return [[str(row[key]) for key in printer.PARTS] for row in rows]
    except (ValueError, TypeError, KeyError):
        example = '[{"name": "Label printer", "to": "ipp://192.168.1.40:631/ipp/print", "holds": "100x50mm"}]'
        raise Refused(_("Printers are JSON, such as {example}").format(example=example), name) from None


# The rows ------------------------------------------------------------------------------------------------------------


SETTINGS: Mapping[str, ShopSetting] = {
    "shop": ShopSetting(N_("Shop name"), "", _shop_name),
    "zone": ShopSetting(N_("Time zone"), "UTC", _zone, N_("such as Europe/Warsaw or America/Chicago")),
    "language": ShopSetting(N_("Language"), "en", _one_of, choices=tuple(LANGUAGES.items())),
    "units": ShopSetting(
        N_("Units"),
        "metric",
        _one_of,
        choices=(("metric", N_("metric: mm, °C, m/min")), ("us", N_("US: inches, °F, ft/min"))),
    ),
    "address": ShopSetting(
        N_("Address in the QR codes"),
        "",
        _text,
        N_("such as http://192.168.1.20:8600; tags and tickets keep the address they were printed with"),
    ),
    "printers": ShopSetting(N_("Printers"), [], _printers),
    "steps": ShopSetting(N_("Steps that the shop logs"), list(LOGGED_BY_DEFAULT), _steps),
    "demo": ShopSetting("", False, _as_given),
    "presets": ShopSetting(
        N_("Coat presets"),
        [
            {"name": "1+1 round edge", "print_side": 1, "squeegee_side": 1},
            {"name": "2+1 round edge", "print_side": 2, "squeegee_side": 1},
            {"name": "2+2 round edge", "print_side": 2, "squeegee_side": 2},
        ],
        _presets,
    ),
    "shifts": ShopSetting(
        N_("Shifts begin at"), "6 14 22", _shifts, N_("hours of the day, in order; screens made are counted by shift")
    ),
    "shift_hours": ShopSetting(
        N_("Hours of a shift"), 10, read_shift_hours, N_("how long a PIN serves before it is asked again")
    ),
    "work_hours": ShopSetting(
        N_("Hours of the screen room"),
        "8:00-17:00",
        _work_hours,
        N_("from when to when screens are made, such as 8-17; “This week” goes by them"),
    ),
    "work_days": ShopSetting(
        N_("Days of the screen room"),
        "1 2 3 4 5",
        _work_days,
        N_("weekdays as numbers, Monday is 1, such as 1 2 3 4 5"),
    ),
    "rate_press_hour": ShopSetting(
        N_("An hour at the press costs"),
        "",
        _rate,
        N_("set-up and printing, with those who work there; empty: not counted"),
        office=True,
    ),
    "rate_screen": ShopSetting(
        N_("A screen made costs"),
        "",
        _rate,
        N_("emulsion, film, work and reclaim of one stencil; empty: not counted"),
        office=True,
    ),
    "rate_garment": ShopSetting(
        N_("A misprinted garment costs"),
        "",
        _rate,
        N_("what it takes to replace it; empty: not counted"),
        office=True,
    ),
    "currency": ShopSetting(N_("Currency of these rates"), "", _currency, N_("such as EUR"), office=True),
    "own_minutes": ShopSetting(
        N_("Minutes in which nobody needs a PIN to cross out what they logged themselves"),
        10,
        _whole(0, 120),
        N_("from 0 to 120; common practice: a slip is noticed at once, and whoever made it still holds the phone"),
    ),
    "pin_digits": ShopSetting(
        N_("Digits of a new PIN, at least"), 6, _whole(4, 8), N_("from 4 to 8; PINs that people have go on working")
    ),
    "backup_hour": ShopSetting(
        N_("Hour of the nightly backup"),
        2,
        _whole(0, 23),
        N_("from 0 to 23, when nobody works; a machine that is off then makes up for it when it is on"),
    ),
    "backup_days": ShopSetting(N_("Days for which every night’s backup is kept"), 14, _whole(1, 366)),
    "backup_months": ShopSetting(N_("Months for which one backup each is kept"), 12, _whole(0, 240)),
    "backup_folder": ShopSetting(N_("Folder of the nightly backups"), "", _folder, machine=True),
    "backup_second": ShopSetting(N_("Second folder of the nightly backups"), "", _folder, machine=True),
    "label_dpi": ShopSetting(
        N_("Dots per inch of the label printer"),
        "300",
        _one_of,
        N_("from the printer’s manual; each square of a QR code is then a whole number of dots"),
        choices=(("203", "203"), ("300", "300"), ("600", "600")),
    ),
    "mail_to": ShopSetting(
        N_("Mail goes to"),
        "",
        mailing.receivers,
        N_("one address or several, with a comma between; empty: nothing is sent"),
        office=True,
        mail=True,
    ),
    "mail_hour": ShopSetting(
        N_("Hour of the daily mail"), 6, _whole(0, 23), N_("from 0 to 23, by the shop’s clock"), office=True, mail=True
    ),
    "mail_server": ShopSetting(
        N_("Mail server (SMTP)"),
        "",
        mailing.host,
        N_("as your mail provider names it, such as mail.example.com; empty: nothing is sent"),
        office=True,
        mail=True,
    ),
    "mail_secured": ShopSetting(
        N_("How the connection is secured"), "starttls", _one_of, choices=mailing.SECURED, office=True, mail=True
    ),
    "mail_port": ShopSetting(
        N_("Port of the mail server"), 587, _whole(1, 65_535), N_("587, 465 or 25"), office=True, mail=True
    ),
    "mail_user": ShopSetting(
        N_("User at the mail server"),
        "",
        mailing.user,
        N_("often the whole address; empty: the server asks for none"),
        office=True,
        mail=True,
    ),
    "mail_from": ShopSetting(
        N_("Mail comes from"), "", mailing.sender, N_("the address that is the shop’s own"), office=True, mail=True
    ),
    "first_manager": ShopSetting("", "", _as_given),
    "clock": ShopSetting("", {}, _as_given),
    "approve_after_ink": ShopSetting(
        N_("First print again with another bucket or lot of ink"), "yes", _one_of, choices=YES_NO
    ),
    "approve_after_pause": ShopSetting(
        N_("First print again when the same screens come back after a pause"), "no", _one_of, choices=YES_NO
    ),
    "approve_after_garment": ShopSetting(
        N_("First print again on going back to a garment that has one"), "no", _one_of, choices=YES_NO
    ),
    "emulsion_water_resistant": ShopSetting(
        N_("The emulsion that the shop uses withstands water-base and discharge ink"),
        "unknown",
        _one_of,
        choices=(*YES_NO, ("unknown", N_("not known"))),
    ),
}
"""Every setting, in the order in which the page shows them."""
BY_HAND: Mapping[str, ShopSetting] = {name: one for name, one in SETTINGS.items() if one.words}
ON_PAGE: Mapping[str, ShopSetting] = {name: one for name, one in BY_HAND.items() if not (one.machine or one.mail)}
"""Those of the page of settings that have a form each."""
OF_MAIL: Mapping[str, ShopSetting] = {name: one for name, one in BY_HAND.items() if one.mail}
"""Those of the daily mail, which one form keeps together."""


LOGGED: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "little": (
        N_("little: images, checks and what hangs"),
        tuple(step for step in LOGGED_BY_DEFAULT if step in ALWAYS_LOGGED | {"check"}),
    ),
    "stencil": (
        N_("the stencil too: coats, exposures, washouts, reclaims and tension"),
        tuple(
            step
            for step in LOGGED_BY_DEFAULT
            if step in ALWAYS_LOGGED | {"check", "coat", "expose", "washout", "strip", "tension", "rack", "retire"}
        ),
    ),
    "all": (N_("every step"), LOGGED_BY_DEFAULT),
}
"""How much a shop may log, for its first day: what it is called, and the steps (common practice: few at first)."""
