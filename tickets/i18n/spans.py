"""How long something takes, took or lasts, in words."""

from __future__ import annotations

from tickets.i18n import gettext as _
from tickets.i18n import ngettext

DAYS_FROM_H = 48
"""Hours from which on a length of time is said in days."""


def hours_said(hours: float) -> str:
    """Working hours, which make no days: `2.2 h`, from ten on without a fraction."""
    return _("{hours} h").format(hours=f"{hours:.0f}" if hours >= 9.95 else f"{hours:.1f}".removesuffix(".0"))


def minutes_said(minutes: float) -> str:
    """A time at the press: minutes up to an hour and a half, else hours."""
    return _("{n}\N{NO-BREAK SPACE}min").format(n=round(minutes)) if minutes < 90 else hours_said(minutes / 60)


def span_said(hours: float | None) -> str:
    """A length of time that was measured: minutes, hours or days, whichever reads best; empty: none is known."""
    if hours is None:
        return ""
    if hours < 1:
        return _("{minutes} min").format(minutes=round(hours * 60))
    if hours < DAYS_FROM_H:
        return hours_said(hours)
    days = hours / 24
    return ngettext("{days} day", "{days} days", 2).format(days=f"{days:.0f}" if days >= 9.95 else f"{days:.1f}")


def passed_said(hours: float) -> str:
    """How much time has passed, or is left: whole minutes, hours or days, since a part of one has not passed yet."""
    if hours < 1:
        return _("{minutes} min").format(minutes=int(hours * 60))
    if hours < DAYS_FROM_H:
        return _("{hours} h").format(hours=int(hours))
    return ngettext("{days} day", "{days} days", int(hours / 24)).format(days=int(hours / 24))


def idle_said(days: int) -> str:
    """How long nobody asked for something: days, or whole months from two on."""
    months = days * 12 // 365
    if months < 2:
        return ngettext("{n} day", "{n} days", days).format(n=days)
    return ngettext("{n} month", "{n} months", months).format(n=months)
