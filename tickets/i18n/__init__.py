"""What is said to people, in their language. English is the source; catalogues lie in `locale/` beside this file.

The language is kept per context (one request, one command), so that a threaded server can speak several at once.
"""

from __future__ import annotations

import gettext as _gettext
from contextvars import ContextVar
from datetime import date
from functools import lru_cache
from pathlib import Path

LANGUAGES = {"en": "English"}
"""What is spoken here, each language by its own name."""
_LOCALE = Path(__file__).parent / "locale"
_language: ContextVar[str] = ContextVar("language", default="en")


@lru_cache(maxsize=8)
def _catalogue(language: str) -> _gettext.NullTranslations:
    return _gettext.translation("tickets", _LOCALE, [language], fallback=True)


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


def gettext(text: str) -> str:
    """`text` in the language of this context."""
    return _speaks.get().gettext(text) if text else text


def ngettext(one: str, many: str, count: int) -> str:
    """The form of the text that goes with `count`; the caller fills in the number."""
    return _speaks.get().ngettext(one, many, count)


def N_(text: str) -> str:
    """Marks a text for the catalogue where it is written; it is translated where it is said."""
    return text


_ = gettext

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
