"""A picture unpacked by a process of its own, which may have only so much memory and time: whatever a damaged or
hostile file does to a decoder, it does it there, and no page waits for it.

It loads little, so that starting it costs no more than the picture does.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cache

from PIL import Image, ImageOps

MOST_PIXELS = {"JPEG": 130_000_000, "MPO": 130_000_000, "PNG": 30_000_000}
"""As the file says before anything is unpacked. A PNG is unpacked whole; a JPEG is read at an eighth of its size where
that will do."""
UNPACKED = 4
"""Bytes of a pixel, unpacked."""
MOST_UNPACKED = 120_000_000
"""Bytes that a picture may take unpacked, what the decoder of a JPEG keeps meanwhile among them."""
MOST_SCANS = 64
"""Of a JPEG: a camera writes one, a progressive one has about ten. Each costs as much as the whole picture to read."""
SIDE, SMALL_SIDE = 1600, 400
"""Longest side in pixels."""
FEW_COLOURS = 64
"""Line art of so few colours stays a PNG: sharp, and smaller than a JPEG."""
QUALITY = 85
LIGHT = 200
"""Of 255: art that is lighter all over would vanish on white, so what is clear in it is filled with grey."""
GREY, WHITE = (128, 128, 128), (255, 255, 255)
TILE = 512
"""Pixels: the side of a part that is made plain and small at once, so that the picture is never there twice."""

MOST_SECONDS, MOST_WAIT = 10, 30
"""Of a processor, and of a clock, that one picture is read for (a photo takes about one)."""
ROOM = 400_000_000
"""Bytes of addresses that such a process may have: it holds 200 MB of them at most (tests/test_pictures)."""


class Unfit(Exception):
    """A picture that is not taken. `why`: pixels, parts, slow, damaged."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class Made:
    """A picture as it is kept: `jpg` or `png`, the file and the small one, size in pixels."""

    kind: str
    body: bytes
    small: bytes
    width: int
    height: int


def read(raw: bytes) -> Made:
    """The picture in a PNG or JPEG file: upright, at most `SIDE` pixels long, nothing in it but the picture.

    The same file gives the same bytes. Raises Unfit.
    """
    if raw.startswith(b"\xff\xd8") and raw.count(b"\xff\xda") > MOST_SCANS:
        raise Unfit("parts")
    try:
        return _read(raw)
    except Unfit:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning, MemoryError):
        raise Unfit("pixels") from None
    except Exception:  # whatever a damaged or hostile file makes a decoder trip over
        raise Unfit("damaged") from None


def _open(raw: bytes) -> Image.Image:
    return Image.open(io.BytesIO(raw), formats=("PNG", "JPEG"))


def _read(raw: bytes) -> Made:
    with _open(raw) as looked_at:
        if looked_at.width * looked_at.height > MOST_PIXELS.get(looked_at.format or "", 0):
            raise Unfit("pixels")
        looked_at.verify()  # checksums; the file is of no use after it
    with _open(raw) as opened:
        _draft(opened, _waiting(opened, raw))
        opened.load()
        turned = opened.getexif().get(ORIENTATION, 1)
        png = opened.format == "PNG"
        flat, few = _plain(opened)
        share = min(1.0, SIDE / max(opened.size))
        size = max(1, round(opened.width * share)), max(1, round(opened.height * share))
    if size != flat.size:
        flat = flat.resize(size, Image.Resampling.LANCZOS)
    exif = Image.Exif()
    exif[ORIENTATION] = turned
    flat.info["exif"] = exif.tobytes()
    flat = ImageOps.exif_transpose(flat)
    flat.info.clear()
    small = flat.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    kind = "png" if png and few else "jpg"
    return Made(kind, _saved(flat, kind), _saved(small, kind), flat.width, flat.height)


ORIENTATION = 0x0112
"""The tag of it in Exif."""


def _waiting(image: Image.Image, raw: bytes) -> int:
    """Bytes that the decoder keeps of a JPEG of several scans until the last is read (ITU T.81: two for each value of
    each component, some of which have fewer values than the picture has pixels)."""
    layers = getattr(image, "layer", [])
    if not layers or raw.count(b"\xff\xda") < 2:
        return 0
    most = max(one[1] for one in layers) * max(one[2] for one in layers)
    return int(2 * image.width * image.height * sum(one[1] * one[2] for one in layers) / most)


def _draft(image: Image.Image, waiting: int) -> None:
    """Has a JPEG read at a half, a quarter or an eighth of its size, where that is still twice as large as it will be;
    as large as it will be, where that is too much. Raises Unfit for what is too much even so."""
    (wide, high), share = image.size, min(1.0, SIDE / max(image.size))
    for times in (2, 1) if image.format != "PNG" else (1,):
        wanted = max(1, int(wide * share * times)), max(1, int(high * share * times))
        ratio = min(wide // wanted[0], high // wanted[1])
        by = next((one for one in (8, 4, 2) if one <= ratio), 1) if image.format != "PNG" else 1
        if waiting + UNPACKED * wide * high // by**2 <= MOST_UNPACKED:
            image.draft("RGB", wanted)
            return
    raise Unfit("parts" if waiting else "pixels")


def _plain(image: Image.Image) -> tuple[Image.Image, bool]:
    """The picture in plain red, green and blue, at most twice as long as it will be, and whether it has few colours.

    It is made plain part by part, each made smaller by a whole number at once."""
    ground = _ground(image)
    factor = -(-max(image.size) // (2 * SIDE))
    made = Image.new("RGB", (-(-image.width // factor), -(-image.height // factor)))
    colours, few = set[object](), True
    for left, top, tile in _tiles(image, factor * max(1, TILE // factor)):
        plain = _flat(tile, ground)
        if few:
            found = plain.getcolors(FEW_COLOURS)
            colours.update(colour for _many, colour in found or ())
            few = found is not None and len(colours) <= FEW_COLOURS
        made.paste(plain.reduce(factor) if factor > 1 else plain, (left // factor, top // factor))
    return made, few


def _clear(image: Image.Image) -> bool:
    return "A" in image.getbands() or "transparency" in image.info


def _tiles(image: Image.Image, side: int) -> Iterator[tuple[int, int, Image.Image]]:
    """The parts of a picture, each with its left and top."""
    for top in range(0, image.height, side):
        for left in range(0, image.width, side):
            tile = image.crop((left, top, min(left + side, image.width), min(top + side, image.height)))
            tile.info = image.info
            yield left, top, tile


def _ground(image: Image.Image) -> tuple[int, int, int]:
    """What shows where the picture is clear: white, and grey for art that is light all over."""
    if not _clear(image):
        return WHITE
    total = light = 0
    for _left, _top, tile in _tiles(image, TILE):
        whole = tile.convert("RGBA")
        seen = whole.convert("L").histogram(whole.getchannel("A").point(lambda level: 255 if level > 127 else 0))
        total, light = total + sum(seen), light + sum(seen[LIGHT:])
    return GREY if 0 < total == light else WHITE


def _flat(image: Image.Image, ground: tuple[int, int, int]) -> Image.Image:
    """A picture in plain colours without anything beside it, whatever mode it came in."""
    clear = _clear(image)
    if image.mode.startswith("I"):  # 16 bits of grey, which `convert` would clip
        image = image.convert("I").point(lambda level: level * (1 / 256)).convert("L")
    # a fresh image: a converted one would carry comments and profiles along
    made = Image.new("RGB", image.size, ground)
    if not clear:
        made.paste(image.convert("RGB"))
        return made
    whole = image.convert("RGBA")
    made.paste(whole, mask=whole.getchannel("A"))
    return made


def _saved(image: Image.Image, kind: str) -> bytes:
    out = io.BytesIO()
    if kind == "png":
        # the edges got colours in between when it was made smaller
        image.quantize(256, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    else:
        image.save(out, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return out.getvalue()


# In a process of its own ---------------------------------------------------------------------------------------------


@cache
def _command() -> tuple[str, ...]:
    return sys.executable, "-P", "-m", "tickets.actions.picture_reader"


def aside(raw: bytes) -> Made:
    """As `read`, in a process of its own. Raises Unfit: `slow` where it takes too long."""
    try:
        done = subprocess.run(_command(), input=raw, capture_output=True, timeout=MOST_WAIT, check=False)
    except subprocess.TimeoutExpired:  # it is ended then
        raise Unfit("slow") from None
    if done.returncode < 0:  # the system ended it: its time of a processor was up
        raise Unfit("slow")
    told, _line, bodies = done.stdout.partition(b"\n")
    if done.returncode or not told:
        raise Unfit("damaged")
    found = json.loads(told)
    if "unfit" in found:
        raise Unfit(found["unfit"])
    body, small = bodies[: found["length"]], bodies[found["length"] :]
    return Made(found["kind"], body, small, found["width"], found["height"])


def _bounded() -> None:
    """Less than others, so much memory, so much time: where the system has such bounds (not on Windows, where the
    pixels that a file says it has, and the clock, bound it)."""
    try:
        import os
        import resource
    except ImportError:
        return
    os.nice(5)
    for what, most in ((resource.RLIMIT_AS, ROOM), (resource.RLIMIT_CPU, MOST_SECONDS), (resource.RLIMIT_CORE, 0)):
        hard = resource.getrlimit(what)[1]
        with suppress(ValueError, OSError):  # a system that has no such bound
            resource.setrlimit(what, (most if hard == resource.RLIM_INFINITY else min(most, hard), hard))


def main() -> None:
    """Reads a picture from standard input, writes what it is made into to standard output."""
    _bounded()
    out = sys.stdout.buffer
    try:
        made = read(sys.stdin.buffer.read())
    except Unfit as unfit:
        out.write(json.dumps({"unfit": unfit.why}).encode() + b"\n")
        return
    told = {"kind": made.kind, "width": made.width, "height": made.height, "length": len(made.body)}
    out.write(json.dumps(told).encode() + b"\n" + made.body + made.small)


if __name__ == "__main__":
    main()
