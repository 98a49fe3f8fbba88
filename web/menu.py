"""The menu: every page that a person may want, in three groups; those that a role uses daily are one tap away."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from tickets.domain.person import ROLES
from tickets.i18n import N_
from web.may import who_may

ROOM, PRESS, LEAD, OFFICE = ROLES
FLOOR = (ROOM, PRESS, LEAD)


class MenuPage(NamedTuple):
    """A page of the menu: its address and endpoint, what it is called, what it is about, which roles have it in their
    menu (others find it under “All pages”)."""

    path: str
    endpoint: str
    word: str
    about: str
    roles: tuple[str, ...] = ()


MenuGroup = tuple[str, tuple[MenuPage, ...]]

GROUPS: tuple[MenuGroup, ...] = (
    (
        N_("Today"),
        (
            MenuPage("/desk", "boards.desk", N_("Desk"), N_("what is late, due and short"), (LEAD,)),
            MenuPage("/week", "week.week", N_("This week"), N_("by day and press, what can be made"), (LEAD,)),
            MenuPage("/screen-room", "boards.screen_room", N_("Screen room"), N_("screens to make"), FLOOR),
            MenuPage("/press", "runs.press", N_("Press"), N_("what prints, what is next"), FLOOR),
            MenuPage("/jobs", "jobs.listed", N_("Jobs"), N_("open and closed"), FLOOR),
            MenuPage("/runs", "run_list.listed", N_("Runs"), N_("what prints, what was printed"), (LEAD,)),
            MenuPage("/log", "log.log", N_("Log"), N_("who did what, and when"), FLOOR),
        ),
    ),
    (
        N_("Make"),
        (
            MenuPage("/screens", "inventory.inventory", N_("Screens"), N_("every frame and its stage"), FLOOR),
            MenuPage("/desk/short", "desk.short", N_("Where frames run out"), N_("the coming jobs against frames")),
            MenuPage("/desk/pool", "desk.pool", N_("Frames: have and need"), N_("how many frames of each mesh")),
            MenuPage("/desk/frames", "desk.frames", N_("Frames to look after"), N_("slack, worn, idle; what to order")),
            MenuPage("/desk/kept", "desk.kept", N_("Kept screens"), N_("worth keeping or not"), (ROOM,)),
            MenuPage("/desk/wrong", "desk.wrong", N_("What goes wrong"), N_("faults, stops, misprints"), (LEAD,)),
            MenuPage("/desk/cost", "cost.month", N_("What jobs cost"), N_("time, screens, misprints, by month")),
            MenuPage("/desk/trace", "trace.trace_start", N_("Trace a lot"), N_("from a bucket to prints, and back")),
            MenuPage("/buckets", "buckets.every", N_("Buckets"), N_("emulsion and ink with a clock"), FLOOR),
            MenuPage(
                "/exposure-units", "learning.units", N_("Exposure units"),
                N_("lamps, their drift, the times that washouts teach"), (ROOM,),
            ),
            MenuPage(
                "/mesh-lives", "learning.mesh_lives", N_("How long meshes last"),
                N_("by mesh and frame, and which ones are near their end"),
            ),
            MenuPage(
                "/calculator", "calculator.every", N_("Calculator"), N_("mesh, exposure, tension, ink, dryer"), FLOOR
            ),
        ),
    ),
    (
        N_("People and shop"),
        (
            MenuPage("/people", "people.people", N_("People"), N_("who works here, and in which role")),
            MenuPage("/places", "places.every", N_("Places"), N_("racks, carts, cabinets, presses"), (ROOM,)),
            MenuPage("/first-steps", "first.steps", N_("First steps"), N_("what a new shop needs, ticked off")),
            MenuPage("/bring", "bring.start", N_("Bring in a list"), N_("what you have in a spreadsheet")),
            MenuPage("/desk/stocktake", "stocktake.stocktakes", N_("Stock-take"), N_("what is where, counted")),
            MenuPage("/spec", "spec.limits", N_("Limits"), N_("the shop's limits and where they come from")),
            MenuPage("/desk/limits", "desk.limits", N_("Warned too often"), N_("limits that may be wrong")),
            MenuPage("/print", "printing.overview", N_("Paper out of date"), N_("tags and tickets to reprint")),
            MenuPage("/desk/files", "files.files", N_("Download the records"), N_("every list as a file")),
            MenuPage(
                "/settings", "settings.settings", N_("Settings"), N_("name, time zone, units, address in the QR codes")
            ),
            MenuPage("/mine", "people.mine", N_("Language and units"), N_("what you read in, on any phone")),
            MenuPage("/words", "people.words", N_("Words"), N_("what we call things here")),
        ),
    ),
)  # fmt: skip
"""All of them; the manager has every one in the menu."""

ALL_PAGES = MenuPage("/more", "people.more", N_("All pages"), "", FLOOR)


def every_page(role: str) -> tuple[MenuGroup, ...]:
    """What somebody of a role may open, in groups."""
    groups = ((word, tuple(one for one in pages if who_may(one.endpoint, role))) for word, pages in GROUPS)
    return tuple(group for group in groups if group[1])


@cache
def menu_of(role: str) -> tuple[MenuGroup, ...]:
    """The menu of a role: the manager's has every page but the one behind their own name, the others' what they use,
    and the way to the rest."""
    if role == OFFICE:
        return tuple((word, tuple(one for one in pages if one.path != "/mine")) for word, pages in every_page(role))
    mine = ((word, tuple(one for one in pages if role in one.roles)) for word, pages in every_page(role))
    groups = [group for group in mine if group[1]]
    return (*groups[:-1], (groups[-1][0], (*groups[-1][1], ALL_PAGES))) if groups else ()
