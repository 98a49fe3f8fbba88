"""Which column of somebody's list is which: by its heading, in English or Spanish, with its unit, and by what stands in
it. What is found is a proposal: whoever sends the list sees it beside the first lines, and corrects it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from tickets.calculator import kinds, units
from tickets.calculator.numerals import NUMERAL, number
from tickets.domain.lists import dates
from tickets.domain.lists.cells import Line, Raw
from tickets.domain.person import ROLE_WORDS, ROLES
from tickets.domain.stages import STANDING_WORDS
from tickets.i18n import N_, in_every_language

IGNORED, AS_NOTE = "", "note"
"""What a column may be besides the fields of its list: left out, or kept in the note of each thing."""


@dataclass(frozen=True, slots=True)
class ListField:
    """What a column may hold: its name, what it is called, what stands in it for an example, the words of headings that
    mean it. `units`: those that a bare number may be in, each as it is sent and as it is said; `many`: several columns
    may hold it; `needed`: a list without it makes nothing; `looks`: whether a cell can be one, where that can be seen;
    `telling`: such cells tell it whatever the heading is."""

    name: str
    word: str
    example: str
    said: tuple[str, ...]
    units: tuple[tuple[str, str], ...] = ()
    unit_kind: str = ""
    many: bool = False
    needed: bool = False
    looks: Callable[[str], bool] | None = None
    telling: bool = False


class Chosen(NamedTuple):
    """What a column is: the name of its field (IGNORED, AS_NOTE), and the unit of its bare numbers (empty: not
    said)."""

    field: str = IGNORED
    unit: str = ""


class Sheet(NamedTuple):
    """A list with its headings: the lines below them."""

    heads: tuple[str, ...]
    lines: tuple[Line, ...]


# What cells look like ------------------------------------------------------------------------------------------------


def _words(text: str) -> dict[str, tuple[str, ...]]:
    """Words of ours, a line each, with those that mean the same behind a colon."""
    lines = (line.partition(":") for line in text.strip().splitlines())
    return {
        own.strip(): tuple(one.strip() for one in others.split(",") if one.strip()) for own, _colon, others in lines
    }


_ALSO: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "frame": _words(
        """
        aluminium: aluminum, alu, al, alum, aluminio, metal
        wood: wooden, timber, madera
        roller: roller frame, self tensioning, retensionable, rodillo, rodillos, autotensable
        """
    ),
    "mesh_colour": _words(
        """
        white: w, blanco, blanca
        dyed: yellow, y, orange, amarillo, amarilla, naranja, tenido, tenida
        """
    ),
    "stage": _words(
        """
        bare: new, new mesh, stretched, nueva, nuevo, sin usar
        degreased: desengrasada, desengrasado
        stripped: reclaimed, clean, empty, blank, free, recuperada, limpia, vacia, libre
        to strip: to reclaim, por recuperar, para recuperar
        to restretch: restretch, torn, rota, por tensar, para entelar
        to check: por revisar
        ready: lista, listo
        kept: keep, stored, archived, archive, guardada, archivada, archivo
        to clean: por limpiar, sucia
        """
    ),
    "role": _words(
        """
        screen room: screen maker, screens, darkroom, pantallas, cuarto de pantallas
        press: press operator, operator, printer, prensa, impresor, impresora, operador
        press lead: lead, head printer, encargado, jefe de prensa, jefe de taller
        manager: owner, production manager, office, gerente, encargada de produccion, dueno
        """
    ),
    "kind": _words(
        """
        rack: shelf, shelves, estante, estanteria
        cart: trolley, carro, carrito
        cabinet: dry cabinet, armario, gabinete
        press: prensa, pulpo, carrusel, carousel
        """
    ),
    "outside": _words(
        """
        yes: y, si, x, true, 1
        no: n, false, 0
        """
    ),
}
"""What lists call what is one of several."""
_KEYS: Mapping[str, Mapping[str, str]] = {
    "frame": kinds.FRAMES,
    "mesh_colour": kinds.MESH_COLOURS,
    "stage": STANDING_WORDS,
    "role": {role: ROLE_WORDS[role] for role in ROLES},
    "kind": kinds.PLACES,
    "outside": {"yes": N_("yes"), "no": N_("no")},
}
_WORDS_OF: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    field: {
        str(key): tuple(dict.fromkeys((str(key), *in_every_language(word), *_ALSO[field].get(str(key), ()))))
        for key, word in keys.items()
    }
    for field, keys in _KEYS.items()
}
"""Each word of ours with all that mean it, our own in every language first."""


def folded(text: str) -> str:
    """A heading or a word as it is compared: no case, no accents, signs as blanks; `m²` and `№` as they are meant."""
    return " ".join(re.sub(r"[\W_]+", " ", kinds.plain(text)).split())


def word_of(field: str, text: str) -> str | None:
    """Which of the words of a field a cell means; None: none of them."""
    plain = folded(text)
    return next((key for key, words in _WORDS_OF[field].items() if plain in map(folded, words)), None)


def words_of(field: str) -> list[str]:
    """What would do in a cell of such a field."""
    return list(_WORDS_OF[field])


def _is_word(field: str) -> Callable[[str], bool]:
    return lambda cell: word_of(field, cell) is not None


def _matches(pattern: str) -> Callable[[str], bool]:
    compiled = re.compile(pattern, re.IGNORECASE)
    return lambda cell: compiled.fullmatch(cell) is not None


COUNT_AND_THREAD = re.compile(r"([0-9]{2,3})\s*[-/.]\s*([0-9]{2,3})\s*(Y|W|PW|YE|WH)?", re.IGNORECASE)
"""A label of both, such as 120-34 or 77/55 Y."""
_COUNT = _matches(
    rf"{NUMERAL}\s*(?:T|mesh|(?:hilos|threads)?\s*(?:/|per)?\s*(?:in|inch|cm|pulg|pulgada)\.?|tpi|tpc)?|{COUNT_AND_THREAD.pattern}"
)
_COUNT_WITH_UNIT = _matches(rf"{NUMERAL}\s*(?:/ ?in|/ ?cm|tpi|tpc|per inch|per cm)")
_THREAD = _matches(rf"{NUMERAL}\s*(?:um|µm|μm|microns?|micras?|mil|mm)?|unknown|\?")
_THREAD_WITH_UNIT = _matches(rf"{NUMERAL}\s*(?:um|µm|μm|microns?|micras?)")
_READINGS = _matches(r"[0-9][0-9.,;/\s]*")
_TENSION_UNIT = re.compile(r"(?:N ?/ ?cm|lbf ?/ ?in|N\b)", re.IGNORECASE)


def _tension(cell: str) -> bool:
    return _READINGS(_TENSION_UNIT.sub(" ", cell).strip())


def _tension_with_unit(cell: str) -> bool:
    return "/" in cell and _TENSION_UNIT.search(cell) is not None and _tension(cell)


_SIZE = _matches(rf"{NUMERAL}\s*(?:mm|cm|in|\"|″)?\s*[x×*]\s*{NUMERAL}\s*(?:mm|cm|in|inch|\"|″)?")
_WHOLE = _matches(r"[0-9][0-9.,]*")

# The fields of each list ---------------------------------------------------------------------------------------------

_COUNT_UNITS = (("/in", N_("per inch")), ("/cm", N_("per cm")))
_DATE_UNITS = (
    (dates.DAY_FIRST, N_("day first: 9/3/2026 is in March")),
    (dates.MONTH_FIRST, N_("month first: 3/9/2026 is in March")),
)


def _phrases(text: str) -> tuple[str, ...]:
    """What headings say, written with commas between."""
    return tuple(" ".join(one.split()) for one in text.split(","))


_NOTE = ListField(
    AS_NOTE,
    N_("note"),
    "bought used",
    _phrases("""note, notes, remark, remarks, comment, comments, nota, notas, observaciones, comentarios"""),
    many=True,
)

FRAMES = (
    ListField(
        "mark",
        N_("painted mark"),
        "A 12",
        _phrases(
            """mark, painted mark, screen, screen no, screen number, screen id, id, frame no, frame number, frame
            id, no, nr, number, name, label, frame, marca, numero, pantalla, numero de pantalla, marco no,
            codigo"""
        ),
    ),
    ListField(
        "mesh_count_as_labelled",
        N_("mesh count"),
        "230/in",
        _phrases(
            """mesh count, mesh, count, tpi, threads per inch, threads per cm, threads, mesh size, mesh tpi, malla,
            hilos, hilos por cm, hilos por pulgada, numero de malla, numero de hilos, tejido, mesh count as
            labelled"""
        ),
        _COUNT_UNITS,
        "mesh count",
        needed=True,
        looks=_COUNT,
        telling=True,
    ),
    ListField(
        "thread_um",
        N_("thread"),
        "48 um",
        _phrases(
            """thread, thread diameter, thread um, thread size, yarn, yarn diameter, micron, microns, hilo,
            diametro de hilo, diametro, grosor de hilo, grosor"""
        ),
        (("um", "µm"), ("mil", "mil"), ("mm", "mm")),
        "length",
        looks=_THREAD,
        telling=True,
    ),
    ListField(
        "mesh_colour",
        N_("mesh colour"),
        "white",
        _phrases("""mesh colour, mesh color, colour, color, white or yellow, color de malla, dyed"""),
        looks=_is_word("mesh_colour"),
    ),
    ListField(
        "frame",
        N_("kind of frame"),
        "aluminium",
        _phrases(
            """frame, frame type, frame kind, kind of frame, frame material, material, type, kind, tipo de marco,
            marco, bastidor, tipo"""
        ),
        looks=_is_word("frame"),
        telling=True,
    ),
    ListField(
        "frame_size_mm",
        N_("frame size"),
        "585 x 790 mm",
        _phrases(
            """frame size, size, frame size mm, dimensions, frame dimensions, outside size, frame, tamano, tamano
            de marco, medida, medidas, dimensiones, marco"""
        ),
        (("mm", "mm"), ("cm", "cm"), ("in", N_("inches"))),
        "length",
        looks=_SIZE,
        telling=True,
    ),
    ListField(
        "stretched_on",
        N_("stretched on"),
        "2026-03-09",
        _phrases(
            """stretched on, stretched, stretch date, date stretched, mesh date, fecha de tensado, fecha de
            entelado, entelado, tensado el"""
        ),
        _DATE_UNITS,
        "date",
        looks=dates.looks_like_one,
    ),
    ListField(
        "stage",
        N_("stage"),
        "reclaimed",
        _phrases("stage, status, state, estado, etapa, situacion"),
        looks=_is_word("stage"),
    ),
    ListField(
        "readings_n_per_cm",
        N_("tension"),
        "24.5 24 25 N/cm",
        _phrases(
            """tension, tension reading, tension readings, newton, newtons, tension n per cm, readings n per cm,
            last tension, reading, readings, lectura, lecturas, tension centre, tension center, tension corner,
            tension n cm"""
        ),
        (("N/cm", "N/cm"), ("lbf/in", "lbf/in")),
        "tension",
        many=True,
        looks=_tension,
    ),
    ListField(
        "tension_on",
        N_("tension measured on"),
        "2026-11-02",
        _phrases(
            """tension measured on, tension date, date of tension, tension measured, measured on, measured, date
            measured, last measured, tension on, fecha de tension, fecha tension, fecha de medicion, medida el,
            fecha lectura"""
        ),
        _DATE_UNITS,
        "date",
        looks=dates.looks_like_one,
    ),
    ListField(
        "uses_before",
        N_("uses so far"),
        "35",
        _phrases(
            """uses so far, uses, used, times used, number of uses, uses before, usos, veces usada, usada, veces"""
        ),
        looks=_WHOLE,
    ),
    ListField(
        "place",
        N_("place"),
        "Rack 3",
        _phrases(
            """place, location, where, rack, shelf, slot, bin, storage, lugar, ubicacion, estante, sitio, rack no"""
        ),
    ),
    ListField(
        "job",
        N_("job on it: code, number or title"),
        "Race day shirts",
        _phrases(
            """job, job code, job no, job number, job name, order, order no, order number, job title, title,
            design, artwork, art, trabajo, pedido, orden, diseno, titulo, numero de pedido"""
        ),
    ),
    ListField(
        "separation",
        N_("image on it"),
        "white base",
        _phrases(
            """separation, image, separation name, ink, ink colour, ink color, printed colour, colour printed,
            color printed, separacion, imagen, tinta, color de tinta"""
        ),
    ),
    _NOTE,
)

PEOPLE = (
    ListField(
        "name",
        N_("name"),
        "Ana Ruiz",
        _phrases("name, person, employee, full name, who, nombre, persona, empleado"),
        needed=True,
    ),
    ListField(
        "role",
        N_("role"),
        "press",
        _phrases("role, job, position, works as, rol, puesto, cargo, funcion"),
        needed=True,
        looks=_is_word("role"),
        telling=True,
    ),
)

PLACES = (
    ListField(
        "name",
        N_("name"),
        "Rack 3",
        _phrases("name, place, location, rack, press, nombre, lugar, ubicacion, prensa"),
        needed=True,
    ),
    ListField(
        "kind",
        N_("kind"),
        "rack",
        _phrases("kind, type, kind of place, tipo, clase"),
        needed=True,
        looks=_is_word("kind"),
        telling=True,
    ),
    ListField(
        "heads",
        N_("heads of a press"),
        "8",
        _phrases("heads, stations, colours, colors, cabezales, estaciones, colores"),
        looks=_WHOLE,
    ),
    ListField(
        "outside",
        N_("outside the shop"),
        "no",
        _phrases("outside, outside the shop, off site, fuera"),
        looks=_is_word("outside"),
    ),
)

KINDS: Mapping[str, tuple[ListField, ...]] = {"frames": FRAMES, "people": PEOPLE, "places": PLACES}
"""The lists that can be brought in, each with what its columns may hold."""
KIND_WORDS: Mapping[str, str] = {"frames": N_("frames"), "people": N_("people"), "places": N_("places")}


def field_of(kind: str, name: str) -> ListField | None:
    """The field of that name; None: the column is left out."""
    return next((one for one in KINDS[kind] if one.name == name), None)


# Headings ------------------------------------------------------------------------------------------------------------

_MEASURED = {
    "mesh count": {
        "/in": ("tpi", "in", "inch", "per inch", "threads in", "t in", "pulg", "pulgada", "hilos pulg",
                "por pulgada"),
        "/cm": ("cm", "per cm", "tpc", "threads cm", "t cm", "hilos cm", "por cm", "t"),
    },
    "length": {
        "um": ("um", "µm", "micron", "microns", "micras", "micra", "micrometer"), "mil": ("mil", "mils"),
        "mm": ("mm", "milimetros"), "cm": ("cm", "centimetros"), "in": ("in", "inch", "inches", "pulg", "pulgadas"),
    },
    "tension": {"N/cm": ("n cm", "n", "newton", "newtons", "n per cm", "ncm"), "lbf/in": ("lbf in", "lb in", "lbs in")},
    "date": {},
}  # fmt: skip
"""How headings name units, folded."""
_UNIT_WORDS = frozenset(
    word for kind in _MEASURED.values() for names in kind.values() for name in names for word in folded(name).split()
)


def unit_in(head: str, field: ListField) -> str:
    """The unit that a heading names for a field: `Tension (N/cm)`, `Mesh tpi`; empty: none."""
    if not field.unit_kind:
        return ""
    offered = {unit for unit, _said in field.units}
    spelled = _MEASURED[field.unit_kind]
    for text in re.findall(r"[(\[]([^)\]]*)[)\]]", head):  # what stands in brackets is surer than a word of the name
        named = next((unit for unit, words in spelled.items() if folded(text) in map(folded, words)), None)
        named = named or (units.unit_named(text, field.unit_kind) if field.unit_kind != "date" else None)
        if named in offered:
            return str(named)
    plain = f" {folded(head)} "
    for unit, words in spelled.items():
        if unit in offered and any(len(one) > 1 and f" {folded(one)} " in plain for one in words):
            return unit
    return ""


def _score(head: str, field: ListField) -> int:
    """How well a heading names a field: 0 not at all; the more of its words a phrase of ours has the better."""
    words = folded(head).split()
    own = [word for word in words if word not in _UNIT_WORDS] or words
    best = 0
    for place, phrase in enumerate((folded(field.name), *field.said)):
        parts = folded(phrase).split()
        if parts == words:
            best = max(best, 1000 - place)
        elif set(parts) <= set(words):
            best = max(best, 100 * len(parts) - 10 * len(set(own) - set(parts)) - min(place, 9))
    return max(best, 0)


_SURE = 900
"""From here on a heading is just what we would say: whatever stands below it is read as that, and refused by line."""
_SAMPLES, _MOST_OF_THEM = 200, 0.6


def _fits(field: ListField, cells: Sequence[str]) -> bool:
    """Whether most of what stands in a column can be that field."""
    return field.looks is None or not cells or sum(map(field.looks, cells)) >= _MOST_OF_THEM * len(cells)


def proposed(kind: str, sheet: Sheet) -> tuple[Chosen, ...]:
    """What each column of a list may be: first by headings, the surest first, then by what stands in it."""
    fields = KINDS[kind]
    samples = [cells_of(sheet, at) for at in range(len(sheet.heads))]
    found: dict[int, ListField] = {}
    taken: set[str] = set()
    ranked = sorted(
        (not fits, -score, at, place)
        for at, head in enumerate(sheet.heads)
        for place, field in enumerate(fields)
        if (score := _score(head, field)) > 0 and ((fits := _fits(field, samples[at])) or score > _SURE)
    )
    for _unfit, _score_of, at, place in ranked:
        field = fields[place]
        if at not in found and (field.many or field.name not in taken):
            found[at] = field
            taken.add(field.name)
    for at, cells in enumerate(samples):
        if at in found or not cells:
            continue
        telling = (field for field in fields if field.telling and field.name not in taken and _tells(field, cells))
        if (told := next(telling, None)) is not None:
            found[at] = told
            taken.add(told.name)
    return tuple(
        Chosen(found[at].name, unit_in(sheet.heads[at], found[at]) or unit_of(found[at], samples[at]))
        if at in found
        else Chosen()
        for at in range(len(sheet.heads))
    )


_WITH_UNIT = {
    "mesh_count_as_labelled": _COUNT_WITH_UNIT,
    "thread_um": _THREAD_WITH_UNIT,
    "readings_n_per_cm": _tension_with_unit,
}


def _tells(field: ListField, cells: Sequence[str]) -> bool:
    """Whether what stands in a column can be nothing else than that field."""
    looks = _WITH_UNIT.get(field.name, field.looks)
    return looks is not None and sum(map(looks, cells)) >= _MOST_OF_THEM * len(cells)


def cells_of(sheet: Sheet, at: int) -> list[str]:
    """What stands in the first lines of a column that are filled."""
    cells = (line.cells[at] for line in sheet.lines if at < len(line.cells) and line.cells[at])
    return [cell for cell, _place in zip(cells, range(_SAMPLES), strict=False)]


def is_note(head: str) -> bool:
    """Whether a heading says no more than that a note stands under it."""
    return folded(head) in map(folded, _NOTE.said)


def samples(sheet: Sheet, at: int, many: int = 3) -> list[str]:
    """What stands in the first lines of a column, empty cells too."""
    return [line.cells[at] if at < len(line.cells) else "" for line in sheet.lines[:many]]


# Units of bare numbers -----------------------------------------------------------------------------------------------

_NUMBERS = re.compile(r"[0-9]+(?:[.,][0-9]+)?")


def _bare(cell: str) -> list[float]:
    """The numbers of a cell that has nothing but numbers, and what stands between the sides of a size."""
    if not re.fullmatch(r"[0-9][0-9.,\s;/x×*]*T?", cell, re.IGNORECASE):
        return []
    try:
        return [number(one) for one in _NUMBERS.findall(cell)]
    except ValueError:  # one that can be read in two ways is asked about where it is read
        return []


def unit_of(field: ListField, cells: Sequence[str]) -> str:
    """The only unit that the bare numbers of a column can be in; empty: there are several, or none is asked for.

    A mesh over 200 is counted per inch (`calculator.typed`); a thread is 15 to 500 um, which no other unit gives the
    same numbers for; a side of more than 200 is in mm. A day past the twelfth says which of two numbers is the day."""
    if field.unit_kind == "date":
        return dates.order_of(cells)
    numbers = [number for cell in cells for number in _bare(cell)]
    if not numbers:
        return ""
    low, high = min(numbers), max(numbers)
    if field.name == "mesh_count_as_labelled":
        return "/in" if high > 200 else ""
    if field.name == "thread_um":
        return "um" if 15 <= low and high <= 500 else "mm" if high <= 0.5 else "mil" if 0.6 <= low and high < 15 else ""
    if field.name == "frame_size_mm":
        return "mm" if low >= 200 else ""
    return ""


def asks_unit(field: ListField | None, cells: Sequence[str]) -> bool:
    """Whether a column has bare numbers, or days, that can be read in several ways, so that their unit is asked."""
    if field is None or not field.units:
        return False
    if field.unit_kind == "date":
        return any(map(dates.in_two_ways, cells))
    return any(_bare(cell) or COUNT_AND_THREAD.fullmatch(cell) and field.name.startswith("mesh") for cell in cells)


# Where the headings are ----------------------------------------------------------------------------------------------


def headed(kind: str, raw: Raw) -> Sheet:
    """A list with its headings: the line among the first that names the most fields. A list that begins with a frame
    has none: its columns are called by their letters."""
    lines = raw.lines
    if not lines:
        return Sheet((), ())
    most = max(len(line.cells) for line in lines)
    named = [(_heads_in(kind, line), -at) for at, line in enumerate(lines[:_ABOVE])]
    best, at = max(named)
    width = max(map(len, (line.cells for line in lines[:_ABOVE])))
    if best == 0:
        wide = next((at for at, line in enumerate(lines[:_ABOVE]) if len(line.cells) * 2 > width), 0)
        if any(_of_content(kind, cell) for cell in lines[wide].cells):
            return Sheet(tuple(map(_letter, range(most))), lines)
        at = -wide
    heads = lines[-at].cells
    return Sheet((*heads, *("" for _more in range(most - len(heads)))), lines[-at + 1 :])


_ABOVE = 10
"""Lines among which the headings are looked for: titles stand above them."""


def _heads_in(kind: str, line: Line) -> int:
    """How many cells of a line name a field; 0 where one is a value."""
    if any(_of_content(kind, cell) for cell in line.cells):
        return 0
    return sum(any(_score(cell, field) > 0 for field in KINDS[kind]) for cell in line.cells if cell and len(cell) < 60)


def _of_content(kind: str, cell: str) -> bool:
    """Whether a cell is a value that no heading is."""
    return bool(re.fullmatch(r"[\d.,/x×* -]*\d[\d.,/x×* -]*", cell)) or (
        kind == "frames" and (_COUNT_WITH_UNIT(cell) or _SIZE(cell) or dates.looks_like_one(cell))
    )


def _letter(at: int) -> str:
    return (
        chr(ord("A") + at) if at < 26 else f"A{chr(ord('A') + at - 26)}" if at < 52 else f"B{chr(ord('A') + at - 52)}"
    )


def heads_key(heads: Sequence[str]) -> str:
    """Headings as they are remembered for the next file that has the same."""
    return "\n".join(folded(head) for head in heads)
