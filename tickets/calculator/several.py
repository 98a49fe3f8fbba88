"""Several numbers in one field: readings in a row, a size of two sides, parts with their amounts.

Each number is read by `typed.take`; here it is only found where one ends and the next begins. Where that can be told in
two ways it is asked.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from tickets.calculator import typed as typed_units
from tickets.calculator import units
from tickets.calculator.numerals import NUMERAL, Ambiguous, NotAQuantity, is_fraction, split, tidy, unsure
from tickets.calculator.typed import Typed
from tickets.i18n import gettext as _

# ------------------------------------------------------------------------------------------------ readings in a row

_JOINED = re.compile(r"[0-9]+(?:\.[0-9]+)?(?:(?P<mark>[/|,-])[0-9]+(?:\.[0-9]+)?)(?:(?P=mark)[0-9]+(?:\.[0-9]+)?)*")
_ONE_OR_TWO = re.compile(r"([0-9]{1,3}),([0-9]{2})")


def in_a_row(sent: Sequence[str], kind: str, bare: str | None, within: units.Within | None = None) -> list[Typed]:
    """Numbers typed in a row (or each in a box of its own); those without a unit are in `bare`, None: refused.

    Spaces, semicolons and commas followed by a space part them; a comma inside a number is its decimal mark. Where it
    could be either, all is asked about: no reading becomes another number in silence. So is a unit of which it cannot
    be told whether it stands behind one number or all. NotAQuantity says which reading it is about (`part`). `within`:
    what each may be (`typed.take`).
    """
    found = _apart(sent, kind)
    if not found:
        raise NotAQuantity(_("Type at least one reading, such as 25."))
    _one_or_two(found)
    _units_agree(found, kind, bare)
    out: list[Typed] = []
    for order, (digits, behind) in enumerate(found, 1):
        text = f"{digits} {behind}".strip()
        try:
            if "/" in digits and not units.KINDS[kind].fractions:
                raise NotAQuantity(_("“{text}”: type a reading with a decimal mark, such as 25.5.").format(text=text))
            out.append(typed_units.take(text, kind, bare, within=within))
        except NotAQuantity as fault:
            raise of_part(fault, order if len(found) > 1 else 0) from None
    return out


def of_part(fault: NotAQuantity, part: int) -> NotAQuantity:
    """The fault as that of one of several readings, counted from 1 (0: there is only one): said and marked."""
    if not part:
        return fault
    told = NotAQuantity(_("Reading {number}: {fault}").format(number=part, fault=fault))
    told.part = part
    return told


def _apart(sent: Sequence[str], kind: str) -> list[tuple[str, str]]:
    """Each number's text with that of the unit behind it; one unit behind all of a text is the unit of each."""
    found: list[list[str]] = []
    commas_part = any(word.endswith(",") for part in sent for word in part.replace(";", " ").split())
    for part in sent:
        words = [word.removesuffix(",") for word in tidy(part).replace(";", " ").split() if word != ","]
        _parted_by_words(words, part)
        for word in words:
            if not (units.KINDS[kind].fractions and is_fraction(word)):
                _either(word, part, len(words), commas_part)
        first = len(found)
        for word in words:
            if any(character.isdigit() for character in word) and not (len(found) > first and word.startswith("/")):
                found.append(list(split(word)))
            elif len(found) > first:
                found[-1][1] = f"{found[-1][1]} {word}".strip()
            elif len(words) == 1 and found and not found[-1][1] and units.unit_named(word, kind):
                found[-1][1], first = word, 0  # a unit sent by itself stands behind all numbers before it
            else:
                found.append(["", word])
        if len(found) > first and found[-1][1] and not any(behind for _number, behind in found[first:-1]):
            for one in found[first:-1]:  # one unit behind all of them
                one[1] = found[-1][1]
    return [(digits, behind) for digits, behind in found]


_PARTING = frozenset({"-", "–", "/", "|", "&", "+", "and"})
"""What people put between readings besides a space."""


def _parted_by_words(words: Sequence[str], part: str) -> None:
    """Asks about `25 - 24` and `25 and 24`, which part readings by more than a space."""
    if not _PARTING & set(words):
        return
    apart = " ".join(word for word in words if word not in _PARTING)
    said = _("“{text}” can be read in several ways: put spaces between the readings, such as 25.5 24 23.")
    message = said.format(text=part.strip()[:40])
    if not apart or any("," in word for word in words):
        raise NotAQuantity(message)
    raise Ambiguous(f"{message} {_('Is {readings} meant?').format(readings=apart)}", (apart,))


def _with_tenths(word: str) -> str | None:
    """`18,5,19` as 18.5 19: a single digit behind a comma is a tenth; None where there is none, or it leads."""
    parts = re.sub(r"(?<=[0-9]{2}),([0-9])(?=,|$)", r".\1", word).split(",")
    return " ".join(parts) if "." in "".join(parts) and all(len(one) > 1 for one in parts) else None


def _either(word: str, part: str, words: int, commas_part: bool) -> None:
    """Asks where marks may part readings as well as decimals: `22,23,21`, `25/24`, `24,5` beside `25, 24`."""
    said = _("“{text}” can be read in several ways: put spaces between the readings, such as 25.5 24 23.")
    message = said.format(text=part.strip()[:40])
    joined = _JOINED.fullmatch(word)
    if joined and (joined["mark"] != "," or word.count(",") > 1):
        apart = word.replace(joined["mark"], " ")
        tenths = _with_tenths(word) if joined["mark"] == "," else None
        readings = [one for one in (tenths, apart) if one]
        if words == 1:
            raise Ambiguous(
                f"{message} {_('Is {readings} meant?').format(readings=_(' or ').join(readings))}", readings
            )
        raise NotAQuantity(message)
    either = word.count(",") > 1 or (word.startswith(",") and words > 1)
    if either or ("," in word and (commas_part or "." in word)):
        raise NotAQuantity(message)


def _one_or_two(found: Sequence[tuple[str, str]]) -> None:
    """Asks about `25,24`, alone or beside whole numbers: one reading with a decimal comma, or two readings. No meter
    shows hundredths, so that a comma before two digits mostly parts."""
    row = [digits for digits, _behind in found]
    behind = found[-1][1] if len({unit for _digits, unit in found}) == 1 else ""
    if not any(map(_ONE_OR_TWO.fullmatch, row)) or not all(one.isdigit() or _ONE_OR_TWO.fullmatch(one) for one in row):
        return
    text = " ".join(row)
    readings = tuple(f"{text.replace(',', mark)} {behind}".strip() for mark in (".", " "))
    said = (
        _("“{text}”: one reading of {one}, or two, {two}? Type which is meant.")
        if len(row) == 1
        else _("“{text}”: are the readings {one}, or {two}? Type which is meant.")
    )
    raise Ambiguous(said.format(text=text, one=readings[0], two=readings[1]), readings)


def _units_agree(found: Sequence[tuple[str, str]], kind: str, bare: str | None) -> None:
    """Refuses readings some of which have a unit and some have none, unless that is the unit they would be in."""
    for order, (digits, behind) in enumerate(found, 1):
        if len(found) > 1 and not digits and not units.unit_named(behind, kind):
            told = _("“{text}” cannot be read as a reading. Type numbers with spaces between them, such as 25.5 24 23.")
            raise of_part(NotAQuantity(told.format(text=behind[:40])), order)
    typed = {units.unit_named(behind, kind) or behind for _number, behind in found if behind}
    if typed and typed != {bare} and any(not behind for _number, behind in found):
        raise NotAQuantity(_("Some readings have a unit and some have none: type it once, behind the last one."))


def row_said(found: Sequence[Typed]) -> str:
    """Readings as they can be typed again: numbers, and one unit behind them where all have the same."""
    if len({one.unit for one in found}) == 1:
        numbers = " ".join(units.said_plainly(one.value) for one in found)
        return f"{numbers} {found[0].unit}".strip()
    return "; ".join(one.said for one in found)


# ------------------------------------------------------------------------------------------------------------ sizes

_BY = re.compile(r"\s*(?:[xX*]|\bby\b)\s*")
LEAST_MM, MOST_MM = 100.0, 3000.0
"""What a side of a frame can be (judgement)."""
_ONLY_MM = 300.0
"""From here on both sides can be mm only: no frame is as many cm or inches (judgement)."""


def sides(text: str) -> list[str] | None:
    """The two sides of a size such as `23 x 31 in` or `23" x 31"`, each with its unit; None: the text is no size.

    A unit behind the last side is that of both. Sides without any unit come as they are; Ambiguous where only the first
    has one."""
    parts = _BY.split(tidy(text))
    if len(parts) != 2 or not all(parts):
        return None
    (one, first), (other, second) = split(parts[0]), split(parts[1])
    if not first and second:
        return [f"{one} {second}", parts[1]]
    if first and not second and units.unit_named(first, "length"):
        meant = f"{parts[0]} x {other} {first}"
        raise Ambiguous(
            _("“{text}” ends without a unit: is {readings} meant?").format(text=tidy(text)[:40], readings=meant),
            (meant,),
        )
    return parts


def size_mm(text: str) -> tuple[tuple[float, float], str]:
    """The size of a frame, such as `23 x 31 in`: both sides in mm, and the text with its unit.

    Sides without a unit are read where they can be mm only, and asked about elsewhere.
    """
    plain = tidy(text)
    found = sides(plain)
    if found is None:
        raise _no_size(plain)
    if not any(split(side)[1] for side in found):
        numbers = [units.number(side) for side in found]
        if not all(_ONLY_MM <= number <= MOST_MM for number in numbers):
            raise _asks_size(plain, found[0], found[1], numbers)
        found, plain = [f"{side} mm" for side in found], f"{plain} mm"
    read = [typed_units.take(side, "length") for side in found]
    wide, high = (round(units.convert(side.value, side.unit, "mm"), 2) for side in read)
    if not (LEAST_MM <= wide <= MOST_MM and LEAST_MM <= high <= MOST_MM):
        span = typed_units.span_typed(LEAST_MM, MOST_MM, "mm", read[0].unit)
        raise NotAQuantity(
            _("“{text}” cannot be right: a side from {low} to {high} {unit} would do.").format(text=plain[:40], **span)
        )
    return (wide, high), plain


def _no_size(plain: str) -> NotAQuantity:
    message = _("“{text}” cannot be read as a frame size. Write it like 585 x 790 mm, or 23 x 31 in.")
    return NotAQuantity(message.format(text=plain[:40]))


def _asks_size(plain: str, one: str, other: str, numbers: Sequence[float]) -> Ambiguous:
    fit = [
        unit
        for unit, mm in (("in", 25.4), ("cm", 10.0), ("mm", 1.0))
        if all(LEAST_MM <= number * mm <= MOST_MM for number in numbers)
    ] or ["in", "cm", "mm"]
    readings = [f"{one} x {other} {unit}" for unit in fit]
    return Ambiguous(
        _("“{text}”: in which unit? Type {readings}.").format(text=plain[:40], readings=_(" or ").join(readings)),
        readings,
    )


# ------------------------------------------------------------------------------------------------------------ parts

_UNIT = r"(?:\s*(?:%|(?:percent|pct|per cent|grams?|gr|kg|kilos?|g|ounces?|oz|lbs?|pounds?)\b))?"
_AMOUNT = rf"(?P<amount>{NUMERAL}{_UNIT})"
_EACH_AMOUNT = re.compile(rf"(?<![^\s:=]){_AMOUNT}(?=\s|$)", re.IGNORECASE)
_AMOUNT_FIRST = re.compile(rf"{_AMOUNT}\s*(?:of\s+)?(?P<name>[^0-9\s].*|)", re.IGNORECASE)
_NAME_FIRST = re.compile(rf"(?P<name>[^0-9].*?)[\s:=]+{_AMOUNT}", re.IGNORECASE)
_NAME_CLOSE = re.compile(rf"(?P<name>[^0-9].*?){_AMOUNT}", re.IGNORECASE)
"""`base940`; never where a space parts them, as in `base A100 940 g`"""
_RATIO_LAST = re.compile(r"(?P<names>[^0-9]*?)\s+(?P<numbers>[0-9]{1,3}(?:\s*/\s*[0-9]{1,3})+)\s*%?")
"""`cotton/poly 50/50`"""
_RATIO = re.compile(r"(?P<numbers>[0-9]{1,3}(?:\s*/\s*[0-9]{1,3})+)\s*%?\s*(?P<names>[^0-9]*)")


def fibres(text: str) -> dict[str, str]:
    """Fibres with their shares: `60 cotton, 40 polyester`, `90 cotton 10 poly`, `cotton 60% poly 40%`,
    `50/50 cotton/poly`; name -> amount as typed (empty: none was). Raises NotAQuantity, saying what to write."""
    plain = tidy(text)
    ratio = _RATIO.fullmatch(plain) or _RATIO_LAST.fullmatch(plain)
    if ratio:
        numbers = [one.strip() for one in ratio["numbers"].split("/")]
        names = [one for one in re.split(r"[\s/,&+-]+", ratio["names"].strip()) if one and one.casefold() != "and"]
        if len(names) != len(numbers):
            raise NotAQuantity(_("“{text}”: {hint}").format(text=plain[:40], hint=fibre_hint()))
        return _once([(name, number) for name, number in zip(names, numbers, strict=True)])
    first_is_number = plain[:1].isdigit()
    # a name has no digits in it, so each number begins or ends a part
    cut = r"(?<=[^0-9.,\s%])[\s,;/&+]*(?=[0-9])" if first_is_number else r"(?<=[0-9%])[\s,;/&+]+(?=[^0-9\s%.,])"
    pieces = [piece.strip(" ,;/&+") for piece in re.split(cut, plain)]
    found = _once([_part(piece.removesuffix(" and"), first_is_number) for piece in pieces if piece])
    if any(not name.strip() or re.search("[0-9]", name + amount) is None for name, amount in found.items()) or any(
        re.search("[0-9]", name) for name in found
    ):
        raise NotAQuantity(_("“{text}”: {hint}").format(text=plain[:40], hint=fibre_hint()))
    return found


def fibre_hint() -> str:
    """What to write as the fibre of a garment."""
    return _("Write each fibre with its percentage, such as 60 cotton, 40 polyester.")


def amounts(text: str) -> dict[str, str]:
    """The parts of a recipe: `940 base, 60 activator`, `base 0.25 kg`; name -> amount as typed (empty: none was)."""
    plain = "; ".join(filter(None, (tidy(line) for line in unsure(text).splitlines())))
    pieces = [piece.strip() for piece in re.split(r"[;+·]|,(?!\d)", plain)]
    pieces = [piece for piece in pieces if piece]
    starts = [found.start() for found in re.finditer(rf"(?<![^\s]){NUMERAL}", pieces[0])] if len(pieces) == 1 else []
    if len(starts) > 1 and not starts[0]:
        ends = [*starts[1:], None]
        apart = ", ".join(pieces[0][start:end].strip() for start, end in zip(starts, ends, strict=True))
        said = _("“{text}”: put a comma between the parts; is {readings} meant?")
        raise Ambiguous(said.format(text=plain[:40], readings=apart), (apart,))
    for piece in pieces:
        if _BELOW_ZERO.search(piece):
            raise NotAQuantity(_("“{text}” is below zero: type a number from zero up.").format(text=piece[:40]))
    parts = [part for piece in pieces for part in _uncommaed(piece)]
    if len(parts) > len(pieces):
        readings = ", ".join(parts)
        said = _("“{text}”: put a comma between the parts; is {readings} meant?")
        raise Ambiguous(said.format(text=plain[:40], readings=readings), (readings,))
    return _once([_part(piece, piece[:1].isdigit()) for piece in pieces])


_BELOW_ZERO = re.compile(rf"(?:^|[\s:=])-{NUMERAL}")


def _uncommaed(piece: str) -> list[str]:
    """The parts in a piece of a recipe between whose commas stands more than one, each with its amount and its name
    (`white 940 g retarder 20 g`); the piece itself where that is not so: names may have numbers."""
    first = piece[:1].isdigit()
    cuts = [found.start() if first else found.end() for found in _EACH_AMOUNT.finditer(piece)]
    cuts = cuts[1:] if first else cuts[:-1]
    parts = [piece[start:end].strip() for start, end in zip([0, *cuts], [*cuts, None], strict=True)]
    return parts if all(name and amount for name, amount in (_part(one, first) for one in parts)) else [piece]


def masses(text: str) -> dict[str, float]:
    """The parts of a recipe in grams, `940 base, 60 activator`; bare amounts are grams. Raises NotAQuantity, saying
    what would do, for a part without an amount, and Ambiguous where one has a unit and another has none."""
    found = amounts(text)
    if any(not name.strip() or not amount for name, amount in found.items()):
        hint = _("write each part with its grams, such as 940 base, 60 activator.")
        raise NotAQuantity(_("“{text}”: {hint}").format(text=tidy(text)[:40], hint=hint))
    return in_grams(found)


def read_if_amounts(text: str) -> dict[str, float]:
    """Holds the recipe of a bucket or a run against the same reader, which may refuse it or ask (`masses`); its parts
    in grams. What has no digit in it is the name of a recipe, and says no amount."""
    return masses(text) if any(character.isdigit() for character in text) else {}


def in_grams(found: Mapping[str, object]) -> dict[str, float]:
    """Amounts of a recipe by name, typed or numbers, in grams; see `masses`."""
    texts = {name: amount if isinstance(amount, str) else units.said_plainly(float(str(amount)))
             for name, amount in found.items()}  # fmt: skip
    bare = [name for name, amount in texts.items() if typed_units.is_bare(amount)]
    if bare and len(bare) < len(texts):
        other = next(split(amount)[1] for amount in texts.values() if not typed_units.is_bare(amount))
        unit = units.unit_named(other, "mass")
        if unit and unit != "g":
            readings = [", ".join(f"{amount} {one if name in bare else ''}".strip() + f" {name}"
                                  for name, amount in texts.items()) for one in (unit, "g")]  # fmt: skip
            said = _("{part}: some amounts have a unit and some have none: is {readings} meant?")
            raise Ambiguous(said.format(part=bare[0], readings=_(" or ").join(readings)), readings)
    out: dict[str, float] = {}
    for name, amount in texts.items():
        try:
            found_one = typed_units.take(amount, "mass", "g")
        except NotAQuantity as fault:
            readings = [", ".join(f"{reading if one == name else other} {one}" for one, other in texts.items())
                        for reading in fault.readings]  # fmt: skip
            told = _("{part}: {fault}").format(part=name, fault=fault)
            raise (Ambiguous(told, readings) if readings else NotAQuantity(told)) from None
        out[name] = units.convert(found_one.value, found_one.unit, "g")
    return out


def _part(piece: str, number_first: bool) -> tuple[str, str]:
    ways = (_AMOUNT_FIRST,) if number_first else (_NAME_FIRST, _NAME_CLOSE)
    found = next(filter(None, (way.fullmatch(piece) for way in ways)), None)
    return (found["name"].strip().removesuffix(" -"), found["amount"].strip()) if found else (piece, "")


def _once(parts: Sequence[tuple[str, str]]) -> dict[str, str]:
    """The parts by name; a name said twice is kept apart by a blank, to be refused by whoever reads it."""
    found: dict[str, str] = {}
    for name, amount in parts:
        found[f"{name} " if name in found else name] = amount
    return found
