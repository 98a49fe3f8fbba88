"""Pictures taken into the shop: looked at without trust, made small, rid of what they tell besides the picture."""

from __future__ import annotations

import io
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from PIL import Image, ImageOps
from sqlite_utils import Database

from tickets import store
from tickets.domain.entry import stamp
from tickets.domain.jobs.job import Job
from tickets.domain.jobs.job_file import is_picture
from tickets.domain.person import Actor
from tickets.domain.refusal import Fault, Refused, TryLater
from tickets.i18n import gettext as _
from tickets.store import pictures
from tickets.store.pictures import Picture

T = TypeVar("T")

MOST_BYTES = 12_000_000
"""Of a picture sent by a phone. One that lies beside a job file may be larger (`domain.jobs.job_file`)."""
MOST_PIXELS = {"JPEG": 130_000_000, "MPO": 130_000_000, "PNG": 40_000_000}
"""A PNG is unpacked whole, at four bytes a pixel; a JPEG is read at an eighth of its size where that will do."""
SIDE, SMALL_SIDE = 1600, 400
"""Longest side in pixels."""
FEW_COLOURS = 64
"""Line art of so few colours stays a PNG: sharp, and smaller than a JPEG."""
QUALITY = 85
LIGHT = 200
"""Of 255: art that is lighter all over would vanish on white, so what is clear in it is filled with grey."""
GREY, WHITE = (128, 128, 128), (255, 255, 255)

MOST_SCANS = 64
"""Of a JPEG: a camera writes one, a progressive one has about ten. Each costs as much as the whole picture to read."""
LONGEST_TURN = 5.0
"""Seconds that somebody waits for the picture of another: then they are asked to send theirs again."""

_at_once = threading.Lock()
"""One picture is opened at a time: several large ones together would take the memory of a small server."""


@dataclass(frozen=True, slots=True)
class Made:
    """A picture as it is kept: `jpg` or `png`, the file and the small one, size in pixels."""

    kind: str
    body: bytes
    small: bytes
    width: int
    height: int


def make(raw: bytes, where: str = "picture", most: int = MOST_BYTES) -> Made:
    """The picture in a PNG or JPEG file: upright, at most `SIDE` pixels long, nothing in it but the picture.

    The same file gives the same bytes. Raises Refused (at `where`), saying what would do, for anything else.
    """
    if len(raw) > most:
        raise Refused(
            _("This picture is too large: at most {most} MB. Take it at a lower resolution.").format(
                most=most // 1_000_000
            ),
            where,
        )
    if not is_picture(raw):
        raise Refused(_("This is neither a PNG nor a JPEG picture: save it as one of them."), where)
    if raw.startswith(b"\xff\xd8") and raw.count(b"\xff\xda") > MOST_SCANS:
        raise Refused(_("This picture is built of too many parts: save it as a plain JPEG."), where)
    with _in_turn():
        try:
            return _made(raw, where)
        except Refused:
            raise
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise _too_many(where) from None
        except Exception:  # whatever a damaged or hostile file makes a decoder trip over
            raise Refused(
                _("This picture cannot be read: it is damaged or cut off. Take or save it again."), where
            ) from None


@contextmanager
def _in_turn() -> Iterator[None]:
    """One picture after the other. Raises TryLater where the one before takes too long."""
    if not _at_once.acquire(timeout=LONGEST_TURN):
        raise TryLater(_("Another picture is being read just now. Send yours again in {n} s.").format(n=5), 5)
    try:
        yield
    finally:
        _at_once.release()


def _too_many(where: str) -> Refused:
    return Refused(_("This picture has too many pixels: save it smaller, 8000 by 5000 at most."), where)


def _open(raw: bytes) -> Image.Image:
    return Image.open(io.BytesIO(raw), formats=("PNG", "JPEG"))


def _made(raw: bytes, where: str) -> Made:
    with _open(raw) as looked_at:
        if looked_at.width * looked_at.height > MOST_PIXELS.get(looked_at.format or "", 0):
            raise _too_many(where)
        looked_at.verify()  # checksums; the file is of no use after it
    with _open(raw) as opened:
        opened.draft("RGB", (2 * SIDE, 2 * SIDE))
        opened.load()
        upright = ImageOps.exif_transpose(opened)
        flat = _flat(upright)
    lines = opened.format == "PNG" and flat.getcolors(FEW_COLOURS) is not None
    flat.thumbnail((SIDE, SIDE), Image.Resampling.LANCZOS)
    small = flat.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    kind = "png" if lines else "jpg"
    return Made(kind, _saved(flat, kind), _saved(small, kind), flat.width, flat.height)


def _flat(image: Image.Image) -> Image.Image:
    """The picture in plain red, green and blue without anything beside it, whatever mode it came in."""
    if image.mode.startswith("I"):  # 16 bits of grey, which `convert` would clip
        image = image.convert("I").point(lambda level: level * (1 / 256)).convert("L")
    clear = "A" in image.getbands() or "transparency" in image.info
    # a fresh image: a converted one would carry comments and profiles along
    if not clear:
        made = Image.new("RGB", image.size)
        made.paste(image.convert("RGB"))
        return made
    whole = image.convert("RGBA")
    mask = whole.getchannel("A")
    seen = whole.convert("L").histogram(mask.point(lambda level: 255 if level > 127 else 0))
    total = sum(seen)
    light = total > 0 and sum(seen[LIGHT:]) == total
    made = Image.new("RGB", image.size, GREY if light else WHITE)
    made.paste(whole, mask=mask)
    return made


def _saved(image: Image.Image, kind: str) -> bytes:
    out = io.BytesIO()
    if kind == "png":
        # the edges got colours in between when it was made smaller
        image.quantize(256, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    else:
        image.save(out, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return out.getvalue()


# Into the shop, and out ----------------------------------------------------------------------------------------------


def take(
    db: Database, actor: Actor, raw: bytes, *, now: datetime, where: str = "picture", most: int = MOST_BYTES
) -> str:
    """Keeps the picture in a file that somebody sent; its hash. Raises Refused for what is no picture."""
    made = make(raw, where, most)
    found = pictures.keep(pictures.folder_of(db), made.body, made.small, made.kind)
    with store.writing(db):
        picture = Picture(found, made.kind, len(made.body), made.width, made.height)
        pictures.add(db, picture, stamp(now), actor.id)
    return found


def beside(db: Database, actor: Actor, files: Sequence[Path], sheets: Sequence[Job], *, now: datetime) -> list[str]:
    """The art of jobs read from files, taken from beside them: a hash each, empty for a job without a picture.

    Raises Refused with all pictures that will not do.
    """
    from tickets.domain.jobs.job import LARGEST_PICTURE

    def taken(raw: bytes) -> str:
        return take(db, actor, raw, now=now, where="art.picture", most=LARGEST_PICTURE)

    return [found or "" for found in _each_beside(files, sheets, taken)]


def look_at(files: Sequence[Path], sheets: Sequence[Job]) -> None:
    """Raises Refused with all pictures beside job files that `beside` would refuse; writes nothing."""
    from tickets.domain.jobs.job import LARGEST_PICTURE

    _each_beside(files, sheets, lambda raw: make(raw, "art.picture", LARGEST_PICTURE))


def _each_beside(files: Sequence[Path], sheets: Sequence[Job], use: Callable[[bytes], T]) -> list[T | None]:
    """What is made of the picture beside each job file, None without one."""
    found: list[T | None] = []
    faults: list[Fault] = []
    for file, sheet in zip(files, sheets, strict=True):
        name = sheet.art.picture
        try:
            found.append(use(_beside(file, name)) if name else None)
        except OSError:
            faults.append(Fault(f"{file.name}: art.picture", _("There is no such picture beside the job file.")))
        except Refused as refused:
            faults += [Fault(f"{file.name}: {fault.where}", fault.message) for fault in refused.faults]
    if faults:
        raise Refused(faults)
    return found


def _beside(file: Path, name: str) -> bytes:
    """A picture beside a job file; a link may lead to another file there, and nowhere else."""
    found, folder = (file.parent / name).resolve(), file.parent.resolve()
    if not found.is_relative_to(folder):
        raise FileNotFoundError(name)
    return found.read_bytes()
