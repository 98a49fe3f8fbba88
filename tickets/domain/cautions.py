"""What can hurt somebody, said short where the risk is: one row each, for pages, paper and commands alike.

Every list of them ends with `RULE`: the maker's sheets, local rules and licensed practice decide, not this program.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from tickets.calculator.kinds import MIXED_INKS
from tickets.i18n import N_
from tickets.i18n import gettext as _


@dataclass(frozen=True, slots=True)
class Caution:
    """`short`: the word for it once somebody has read it; `text`: what to do; `source`: who says so; `line`: the words
    that matter, where several risks stand on one page, each with its text folded under it."""

    short: str
    text: str
    source: str
    line: str = ""


RULE = N_("The maker’s safety data sheet and local rules come first; licensed work is for who holds the licence.")

CAUTIONS: dict[str, Caution] = {
    "tension": Caution(
        N_("frame in tension"),
        N_(
            "A stretched frame holds a large force: goggles on, hands and face clear while it is drawn or cut; slacken "
            "it before you cut. A cracked or bent frame is not stretched."
        ),
        "common practice; frame makers' manuals go first",
    ),
    "degreaser": Caution(
        N_("degreaser"),
        N_("Degreaser irritates skin and eyes, and some are caustic: gloves and goggles, rinse off what splashes."),
        "common practice",
    ),
    "sensitiser": Caution(
        N_("emulsion"),
        N_("Wet emulsion can sensitise skin and harm eyes: gloves; goggles to pour; wash splashes off at once."),
        "common practice; emulsion makers' safety data sheets go first",
    ),
    "uv": Caution(
        N_("UV lamp"),
        N_(
            "Lamp on: lid or curtain closed, look away. A UV burn is felt hours later. UV-rated glasses if you must "
            "stay near."
        ),
        "ICNIRP, Health Physics 87(2), 2004 (limits); an exposure unit's manual and a sign-trade article on lamps",
    ),
    "lamp": Caution(
        N_("lamp change"),
        N_(
            "UV lamps: power off and cold before the unit is opened; work inside it is for who is trained for it. Many "
            "hold mercury: do not break them, dispose of them as local rules say."
        ),
        "a sign-trade article on exposure units (mercury); common practice",
    ),
    "hardener": Caution(
        N_("hardener"),
        N_(
            "Hardening agents can be acid or caustic: long gloves and goggles, fresh air, never mixed with remover or "
            "anything else."
        ),
        "common practice; the agent's safety data sheet goes first",
    ),
    "spray": Caution(
        N_("spray, wet floor"),
        N_("Spray throws emulsion and grit: goggles on. The floor gets slippery, and keep water off plugs and leads."),
        "common practice",
    ),
    "drain": Caution(
        N_("drain"),
        N_("What goes down the drain, and what must be caught first, is for local rules to say."),
        "common practice; local waste water rules",
    ),
    "remover": Caution(
        N_("stencil remover"),
        N_(
            "Stencil remover can burn skin and eyes, and dried into the mesh it stays there. Gloves and goggles on, "
            "then start the clock."
        ),
        "a stencil remover's safety data sheet (2012); PNEAC screen reclamation notes",
    ),
    "haze": Caution(
        N_("haze remover"),
        N_(
            "Haze remover may be caustic: goggles, long gloves, apron. Short contact, rinse fully, never mix it with "
            "anything."
        ),
        "PNEAC screen reclamation notes; general safety sheets for caustic soda",
    ),
    "jet": Caution(
        N_("pressure washer"),
        N_(
            "The pressure washer cuts skin, through gloves too. Eyes and ears covered, never towards a hand. Any "
            "puncture: hospital."
        ),
        "Energy Safety Canada alert (2015); notes on high-pressure injection",
    ),
    "mixing": Caution(
        N_("mixing"),
        N_(
            "Sensitisers, catalysts and discharge powder harm skin, eyes and lungs: gloves and goggles, fresh air, "
            "only what the maker’s sheet says goes together."
        ),
        "common practice; the makers' safety data sheets go first",
    ),
    "label": Caution(
        N_("label"),
        N_("A shared or kept container needs a label with its name and hazards."),
        "HazCom notes on secondary containers (2024)",
    ),
    "grinding": Caution(
        N_("squeegee grinding"),
        N_(
            "Sharpening (grinding) a squeegee makes fine dust: extraction on, dust mask, goggles; fingers off the belt "
            "or wheel."
        ),
        "common practice",
        N_("Grinding blades: mask, goggles"),
    ),
    "discharge": Caution(
        N_("formaldehyde"),
        N_(
            "Discharge ink gives off formaldehyde when heated: extraction on, fresh air; stop if eyes or throat sting. "
            "Only an air test shows whether limits are met."
        ),
        "29 CFR 1910.1048; a printers' magazine on discharge",
        N_("Formaldehyde: extraction on"),
    ),
    "wash": Caution(
        N_("wash before wear"),
        N_(
            "Discharge leaves something in the garment that can irritate skin: tell the customer to wash it before it "
            "is worn, or launder it first."
        ),
        "Printwear, questions and answers on discharge",
        N_("Wash before wear: tell customer"),
    ),
    "infants": Caution(
        N_("infants’ wear"),
        N_("Infants’ wear with discharge is not advised: ask for the limit of the buyer’s market and have it tested."),
        "EU REACH Annex XVII entry 72, GB 18401 and Japan's Law 112, whose limits differ",
    ),
    "mix": Caution(
        N_("mixed ink"),
        N_("Mixed ink: the time of mixing goes on the bucket; past its stated life it is not printed."),
        "ink makers' sheets",
        N_("Mixed ink: only until the time on its bucket"),
    ),
    "heat": Caution(
        N_("flash and dryer"),
        N_(
            "Flash and dryer: never unattended, no garment parked under the flash, no aerosol near the belt, lint "
            "cleared from duct and floor."
        ),
        "printers' accounts of fires at flash and dryer",
        N_("Flash, dryer: never unattended"),
    ),
    "hot": Caution(
        N_("hot garments"),
        N_("Garments leave the dryer hot, zips and ink most of all: gloves, and let them cool before you stack them."),
        "common practice",
        N_("Hot garments: gloves, let cool"),
    ),
    "solvent": Caution(
        N_("solvent"),
        N_("Look up the flash point before using it near heat. Gloves, fresh air, lid on, rags in a closed metal bin."),
        "flash point classes; common practice (gloves, rags)",
        N_("Solvents: away from heat, gloves, lid on"),
    ),
}


def texts(keys: Iterable[str]) -> tuple[str, ...]:
    """The cautions in full, as paper and commands say them, with whose word counts more; none: nothing."""
    said = [_(CAUTIONS[key].text) for key in dict.fromkeys(keys)]
    return (*said, _(RULE)) if said else ()


def short(keys: Iterable[str]) -> str:
    """The words for cautions that were read."""
    return ", ".join(_(CAUTIONS[key].short) for key in keys)


@dataclass(frozen=True, slots=True)
class Told:
    """Cautions as a page says them to one person: in full what is new in this shift, in a word what was read in it."""

    new: tuple[str, ...] = ()
    read: tuple[str, ...] = ()


class PartWork(NamedTuple):
    """What a part of a set-up sheet does (print, flash, cool, run), and the inks that it prints."""

    does: str
    inks: frozenset[str] = frozenset()


def told(keys: Iterable[str], read: Collection[str]) -> Told:
    """`keys` parted by what the person has `read` this shift."""
    keys = tuple(dict.fromkeys(keys))
    return Told(tuple(key for key in keys if key not in read), tuple(key for key in keys if key in read))


def of_inks(inks: Collection[str]) -> list[str]:
    """What printing these inks calls for: discharge first, the heat always."""
    return [*(("discharge", "wash") if "discharge" in inks else ()), "heat", "hot"]


def at_press(inks: Collection[str]) -> str:
    """The cautions of the press in one line for a set-up sheet, with whose word counts more; in full they stand on the
    job's ticket."""
    keys = [*of_inks(inks), *(("mix",) if MIXED_INKS.intersection(inks) else ()), "solvent"]
    return " ".join((". ".join(_(CAUTIONS[key].line) for key in keys) + ".", _(RULE)))


def beside(keys: Iterable[str], parts: Mapping[str, PartWork]) -> dict[str, list[str]]:
    """Each caution at the first part of a set-up sheet that has its risk, under "" where none has it (yet): a run's
    page has those above all parts. Each is one line with its text folded, so that what is to be done first is in the
    first view.

    `parts`: those on the page in their order. The part of the whole run has the garment and the dryer.
    """
    whole = [name for name, one in parts.items() if one.does == "run"]
    blades = [name for name, one in parts.items() if one.does == "print"]
    inked = [name for name, one in parts.items() if "discharge" in one.inks]
    flashes = [name for name, one in parts.items() if one.does == "flash"]
    at = {"grinding": blades, "discharge": inked, "heat": flashes or whole}
    found: dict[str, list[str]] = {}
    for key in keys:
        found.setdefault(next(iter(at.get(key, whole)), ""), []).append(key)
    return found
