"""What is said to people, in their language. English is the source; a further language is a catalogue of gettext in
`locale/` beside this file, and no code: `locale/es/LC_MESSAGES/tickets.po`, and the `.mo` that Babel makes of it.

The language is kept per context (one request, one command), so that a threaded server can speak several at once.
"""

from __future__ import annotations

import gettext as _gettext
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from functools import cache, lru_cache
from pathlib import Path

_LOCALE = Path(__file__).parent / "locale"
_language: ContextVar[str] = ContextVar("language", default="en")


@lru_cache(maxsize=8)
def _catalogue(language: str) -> _gettext.NullTranslations:
    return _gettext.translation("tickets", _LOCALE, [language], fallback=True)


def _spoken() -> Mapping[str, str]:
    """A catalogue says what its language calls itself where it translates the word for the language of the source: in
    that context alone, since a list of languages calls each by its own name."""
    found = sorted(path.parent.parent.name for path in _LOCALE.glob("*/LC_MESSAGES/tickets.mo"))
    own = {name: _catalogue(name).pgettext("what this language calls itself", "English") for name in found}
    return {"en": "English", **own}


_speaks: ContextVar[_gettext.NullTranslations] = ContextVar("speaks", default=_catalogue("en"))  # noqa: B039
"""The catalogue of the language, kept beside it: a page says dozens of texts, and looking it up for each takes longer
than the text."""


def use(language: str) -> None:
    """Speak `language` (a two-letter name) from here on in this context; an unknown one falls back to English."""
    _language.set(language)
    _speaks.set(_catalogue(language))


def language() -> str:
    """The language of this context."""
    return _language.get()


_units: ContextVar[str] = ContextVar("units", default="")


def use_units(system: str) -> None:
    """Measures are said in this system of units from here on in this context; empty: in the shop's."""
    _units.set(system)


def units() -> str:
    """The system of units that whoever reads in this context chose; empty: the shop's."""
    return _units.get()


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """In `language` and the shop's units for a while: what is for others than who asked, such as the shop's paper."""
    before, system = _language.get(), _units.get()
    use(language)
    use_units("")
    try:
        yield
    finally:
        use(before)
        use_units(system)


_WEIGHT = re.compile(r"q=([01])(?:\.([0-9]{0,3}))?")
"""How much something is liked, in at most three decimals (RFC 9110, 12.4.2)."""


@lru_cache(maxsize=256)
def best_of(accepted: str) -> str | None:
    """The first language of an Accept-Language header (RFC 9110, 12.5.4) that is spoken here, by how much it is liked;
    None: none is. Of two liked as much the earlier; a region counts as its language (`es-MX`: `es`)."""
    liked: list[tuple[str, str]] = []
    for part in accepted[:500].split(","):
        name, _sign, weight = part.partition(";")
        worth = _WEIGHT.fullmatch(weight.strip() or "q=1")
        if worth:
            liked.append((worth[1] + (worth[2] or "").ljust(3, "0"), name.strip().lower().split("-")[0]))
    liked.sort(key=lambda one: one[0], reverse=True)
    return next((name for worth, name in liked if worth != "0000" and name in LANGUAGES), None)


def of_terminal(environment: Mapping[str, str]) -> str:
    """The language that a terminal asks for, by the rules of gettext: the first of LANGUAGE (several, in order),
    LC_ALL, LC_MESSAGES and LANG that says something; `es_MX.UTF-8` is Spanish, C and what is not spoken English."""
    for name in ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"):
        if asked := environment.get(name, ""):
            short = (re.split("[_.@-]", one)[0].lower() for one in asked[:500].split(":"))
            found = next((one for one in short if one in LANGUAGES or one in ("c", "posix")), "en")
            return found if found in LANGUAGES else "en"
    return "en"


def gettext(text: str) -> str:
    """`text` in the language of this context."""
    return _speaks.get().gettext(text) if text else text


def ngettext(one: str, many: str, count: int) -> str:
    """The form of the text that goes with `count`; the caller fills in the number."""
    return _speaks.get().ngettext(one, many, count)


def pgettext(context: str, text: str) -> str:
    """`text` where another language has several words for it: `context` says which one is meant."""
    return _speaks.get().pgettext(context, text)


def N_(text: str) -> str:
    """Marks a text for the catalogue where it is written; it is translated where it is said."""
    return text


def Nn_(one: str, many: str) -> tuple[str, str]:
    """Marks both forms of a text with a number, for `ngettext` where it is said."""
    return one, many


@cache
def in_every_language(text: str) -> tuple[str, ...]:
    """A text of the source as each language says it: what is typed is understood in all of them."""
    return tuple(dict.fromkeys((text, *(_catalogue(name).gettext(text) for name in LANGUAGES))))


def Np_(context: str, text: str) -> tuple[str, str]:
    """Marks a text in its context for the catalogue where it is written; `said_in` says it."""
    return context, text


def said_in(language: str, text: str, context: str = "") -> str:
    """`text` as a language says it, whoever reads."""
    known = _catalogue(language)
    return known.pgettext(context, text) if context else known.gettext(text)


_ = gettext

LANGUAGES = _spoken()
"""What is spoken here, each language by its own name."""

MONTHS = (
    N_("Jan"), N_("Feb"), N_("Mar"), N_("Apr"), N_("May"), N_("Jun"),
    N_("Jul"), N_("Aug"), N_("Sep"), N_("Oct"), N_("Nov"), N_("Dec"),
)  # fmt: skip


WEEKDAYS = (N_("Mon"), N_("Tue"), N_("Wed"), N_("Thu"), N_("Fri"), N_("Sat"), N_("Sun"))


def weekday(day: date) -> str:
    """The day of the week, short: `Fri`."""
    return _(WEEKDAYS[day.weekday()])


def day_text(day: date, today: date) -> str:
    """A day as people say it: `27 Nov`, with the year where it is not that of `today`."""
    said = _("{day} {month}").format(day=day.day, month=_(MONTHS[day.month - 1]))
    return said if day.year == today.year else f"{said} {day.year}"
