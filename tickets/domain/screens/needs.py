"""Who still needs the stencil of a screen, as it is said, and which steps would take the stencil away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from tickets.domain.code import shown
from tickets.domain.screens.screen import TEST_STRIP, Life
from tickets.domain.stages import IMAGE_ON, STANDING_WORDS, Standing
from tickets.i18n import N_, day_text
from tickets.i18n import gettext as _

GONE = frozenset({Standing.TO_RESTRETCH, Standing.RETIRED})
"""Standings of a frame whose stencil nobody prints again."""

TOLD_AS_SEEN = frozenset({"found", "note", "cross-out"})
"""What is written down about a screen as it is: nothing is taken away by it."""


@dataclass(frozen=True, slots=True)
class Need:
    """Something that still needs a stencil. `why`: job, repeat (a job that prints an earlier one again), kept (somebody
    said until when, or for what).

    `day`: the job's press date, or until when it is kept (ISO; empty: not said); `run`: the run that is under way for
    it; `what`: for what it is kept.
    """

    why: str
    day: str
    job: str = ""
    title: str = ""
    run: int | None = None
    image: str = ""
    what: str = ""


@dataclass(frozen=True, slots=True)
class WantedScreen:
    """A screen with what still needs it."""

    screen: str
    mark: str
    needs: tuple[Need, ...]

    @property
    def codes(self) -> list[str]:
        """The codes of the jobs, each once."""
        return list(dict.fromkeys(one.job for one in self.needs if one.job))


TO_NAME = frozenset({Standing.IMAGED, Standing.EXPOSED, Standing.TO_CHECK, Standing.READY, Standing.KEPT})
"""Stages at which somebody is to say which image is on a screen, where nobody did: it may print still."""


def nameless(life: Life) -> bool:
    """True for a screen with an image that nobody named; a test strip needs no name."""
    stencil = life.stencil
    if life.standing not in IMAGE_ON:
        return False
    return stencil is None or not (stencil.separations or stencil.purpose == TEST_STRIP)


def usable(life: Life) -> bool:
    """True for a screen with a job's stencil that can be printed still: one that is torn, that failed, or that carries
    a test strip is nobody's loss."""
    stencil = life.stencil
    if stencil is None or not stencil.separations or stencil.purpose == TEST_STRIP:
        return False
    return not (life.torn or stencil.failed or life.standing in GONE)


def gives_up(before: Life, after: Life, step: str) -> bool:
    """True when `step`, which leads from one life to the other, takes away a stencil that could be printed still, or
    says that it will."""
    if step in TOLD_AS_SEEN or not usable(before) or after.torn:
        return False
    if step == "retension" or after.standing in GONE:
        return True
    stencil = after.stencil
    if stencil is None or not set(before.stencil.separations if before.stencil else ()) <= set(stencil.separations):
        return True
    return after.decided == "strip" and (before.decided != "strip" or step == "decide")


def going(life: Life) -> str:
    """Why a screen covers no job though its stencil is on still: it was to be reclaimed (strip), or it came off
    worn and nobody found it good since (worn). Empty: it does, or it is no question of that."""
    if life.stencil is None or life.standing is Standing.ON_PRESS:
        return ""
    if life.decided == "strip":
        return "strip"
    return "worn" if life.stencil.condition == "worn" else ""


WHY_NONE = {"torn": N_("torn"), "strip": N_("to be reclaimed"), "worn": N_("came off worn")}
"""Why a screen covers no job, in words."""


def covers_none(life: Life) -> str:
    """Why a screen covers no job though it carries its image (a key of `WHY_NONE`); empty: it does, as far as this."""
    return "torn" if life.torn else going(life)


def stage_said(life: Life) -> str:
    """The stage of a screen in words, with why it covers no job, as lists of the screens for an image have it."""
    why, told = covers_none(life), [_(STANDING_WORDS[life.standing])]
    if why and (why, life.standing) != ("strip", Standing.TO_STRIP):
        told.append(_(WHY_NONE[why]))
    return ", ".join(told)


def let_go(life: Life, job: str) -> bool:
    """True when somebody was asked about this job, and said that its stencil goes all the same."""
    return job in life.let_go


def sentences(wanted: Iterable[WantedScreen], today: date) -> list[str]:
    """Who needs which screens, a sentence each: job by job, the earliest press date first."""
    groups: dict[tuple[str, ...], dict[str, list[str]]] = {}
    first: dict[tuple[str, ...], Need] = {}
    for one in wanted:
        for need in one.needs:
            key = (need.day, need.why, need.job, str(need.run or ""), need.what)
            first.setdefault(key, need)
            images = groups.setdefault(key, {}).setdefault(f"{shown(one.screen)} {one.mark}".strip(), [])
            images += [need.image] if need.image and need.image not in images else []
    return [_sentence(first[key], groups[key], today) for key in sorted(groups)]


def _sentence(need: Need, screens: Mapping[str, list[str]], today: date) -> str:
    day = day_text(date.fromisoformat(need.day), today) if need.day else ""
    said = {
        "screens": ", ".join(f"{name} ({', '.join(some)})" if some else name for name, some in screens.items()),
        "job": shown(need.job) if need.job else "",
        "title": need.title, "day": day, "run": need.run, "what": need.what,
    }  # fmt: skip
    return _text(need).format(**said)


def _text(need: Need) -> str:
    if need.why == "kept":
        if not need.day:
            return _("Kept for {what}: {screens}.")
        return _("Kept until {day} for {what}: {screens}.") if need.what else _("Kept until {day}: {screens}.")
    if need.run is not None:
        return _("Job {job}, {title}, press date {day}, run {run} under way, still needs {screens}.")
    if need.why == "repeat":
        return _("Reorder {job}, {title}, press date {day}, still needs {screens}.")
    return _("Job {job}, {title}, press date {day}, still needs {screens}.")
