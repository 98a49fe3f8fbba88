"""What differs between two prints, in the order of what it does to the print: what a customer would see first stands
first. One order for pages, papers, commands and files; what is within a limit of the shop is small, and said last, in
one line that names the limit.

The order is the trade's common practice where it names one (screen and mesh before ink, ink before the blade), else
judgement.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from tickets.i18n import N_, ngettext
from tickets.i18n import gettext as _

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class SeenGroup:
    """What is seen alike on a print: its name, how people call it, the settings that belong to it, and the keys of
    `runs.repeat` that do."""

    name: str
    word: str
    settings: frozenset[str]
    keys: frozenset[str] = frozenset()


def _group(name: str, word: str, settings: str, keys: str = "") -> SeenGroup:
    return SeenGroup(name, word, frozenset(settings.split()), frozenset(f"repeat-{key}" for key in keys.split()))


GROUPS = (
    _group("approval", N_("approval"), "", "none-approved"),
    _group("art", N_("artwork"), "art size order", "art revision size height order station-new station-gone"),
    _group("colour", N_("colour"), "colour drift", "dye-lot"),
    _group(
        "screen",
        N_("screen"),
        "screen screen_other tension tension_low exposure step_held emulsion",
        "screen-fit screen-other screen-doubt screen-off-press screen-given-up screen-to-strip screen-worn"
        " screen-under-way screen-other-later screen-unfit screen-gone",
    ),
    _group("mesh", N_("mesh"), "mesh flake halftone", "mesh thread-unknown mesh-free mesh-none"),
    _group(
        "ink",
        N_("ink"),
        "ink recipe additives ink_lot bucket coverage choke",
        "ink-kind ink-colour ink-series ink-reference ink-lot ink-lot-unknown",
    ),
    _group(
        "squeegee",
        N_("squeegee"),
        "squeegee hardness hardness_measured edge angle angle_mark length pressure speed"
        " off_contact off_contact_measured",
    ),
    _group("strokes", N_("strokes"), "strokes flood"),
    _group("flash", N_("flash"), "time time_cold time_steady surface surface_feel"),
    _group("dryer", N_("dryer"), "belt belt_speed belt_set set garment_peak peak_how hold"),
    _group(
        "garment",
        N_("garment"),
        "garment garment_lot",
        "garment-style garment-colour garment-fibre garment-lot garment-lot-unknown",
    ),
    _group("press", N_("press"), "press head revolution platen adhesive placement", "press"),
    _group("limits", N_("limits"), "", "spec"),
)
"""From what a customer would see first. What no group has (notes, who approved) comes last."""
_PLACE: Mapping[str, int] = {
    **{setting: place for place, group in enumerate(GROUPS) for setting in group.settings},
    **{key: place for place, group in enumerate(GROUPS) for key in group.keys},
}


def place_of(what: str) -> int:
    """Where a setting, or a key of `runs.repeat`, stands: 0 is seen first. One of several alike (the lot of each
    garment) stands where they all do; one without a place here comes last."""
    return _PLACE.get(what.partition(".")[0], len(GROUPS))


def group_of(what: str) -> str:
    """The name of the group of a setting or a key; empty where it has none."""
    place = place_of(what)
    return GROUPS[place].name if place < len(GROUPS) else ""


def in_order(found: Iterable[T], what: Callable[[T], str], station: Callable[[T], int]) -> list[T]:
    """Differences as people read them: by what is seen first, then by the print order. Those alike keep their order."""
    return sorted(found, key=lambda one: (place_of(what(one)), station(one)))


def words_of(whats: Iterable[str]) -> str:
    """The groups of what differs, each once and in order: `screen, ink, squeegee`."""
    places = sorted({place_of(what) for what in whats})
    return ", ".join(_(GROUPS[place].word) if place < len(GROUPS) else _("other") for place in places)


def one_line(whats: Sequence[str], small: int = 0) -> str:
    """What differs in one line, for where the rest is a tap away; empty where nothing does."""
    found = []
    if whats:
        told = ngettext("{count} difference: {what}", "{count} differences: {what}", len(whats))
        found.append(told.format(count=len(whats), what=words_of(whats)))
    if small:
        found.append(ngettext("{count} small one", "{count} small ones", small).format(count=small))
    return "; ".join(found)


def small_head(count: int, within: Iterable[str]) -> str:
    """How many small differences there are, and the limits which they keep to; empty where there are none."""
    if not count:
        return ""
    said = ngettext(
        "{count} small difference, within what the shop calls the same ({within})",
        "{count} small differences, each within what the shop calls the same ({within})",
        count,
    )
    return said.format(count=count, within=", ".join(dict.fromkeys(within)))


def small_line(said: Sequence[str], within: Iterable[str]) -> str:
    """The small differences in one line that names the limits which they keep to; empty where there are none."""
    return f"{small_head(len(said), within)}: {'; '.join(said)}." if said else ""


def told(setting: str, before: str, now: str) -> str:
    """A small difference in a few words; no arrow, which the font of paper lacks."""
    return _("{setting}: {before}, now {now}").format(setting=setting, before=before, now=now)
