"""What a phone sees of a printed page, by a seed: turned, tilted, out of focus, dim, unevenly lit, in noise, under ink.

Only Pillow and numpy. Lengths are modules of the code, so that a small label is held nearer than a sheet.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import numpy
import pypdfium2
import zxingcpp
from PIL import Image, ImageDraw, ImageFilter

from tickets.paper.page import Drawn, Pages

PIXELS = 6.0
"""Of the photo for a module (common practice: a reader wants four and more)."""


def rendered(pdf: bytes, dpi: float, page: int = 0) -> Image.Image:
    """A page in grey at that many dots per inch."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return document[page].render(scale=dpi / 72, grayscale=True).to_pil().convert("L")
    finally:
        document.close()


def codes_of(pages: Pages, page: int = 0) -> list[Drawn]:
    return [one for one in pages.drawn if one.kind == "qr" and one.page == page]


def near(pdf: bytes, pages: Pages) -> Image.Image:
    """The first page as a phone sees it from where its code is well seen: a label whole, of a sheet what is around its
    first code."""
    codes = codes_of(pages)
    scale = PIXELS / codes[0].module
    page = rendered(pdf, 25.4 * scale)
    if max(pages.sizes[0]) <= 150:
        return page
    left, top, right, bottom = (scale * one for one in (codes[0].left, codes[0].top, codes[0].right, codes[0].bottom))
    side = right - left
    box = (max(0, left - side), max(0, top - side), min(page.width, right + side), min(page.height, bottom + side))
    return page.crop(tuple(map(round, box)))


@dataclass(frozen=True, slots=True)
class Hard:
    """How hard a photo may be, at most: degrees turned and tilted, blur in modules; the light left at least."""

    turned: float = 180.0
    tilted: float = 18.0
    blurred: float = 0.3
    dimmed: float = 0.35
    noise: float = 6.0


def photo(image: Image.Image, by: random.Random, hard: Hard) -> Image.Image:
    """A photo of the page, by the seed of `by`."""
    wide, high = image.size
    turn = math.radians(by.uniform(-hard.turned, hard.turned))
    lean = [math.radians(by.uniform(-hard.tilted, hard.tilted)) for _axis in range(2)]
    far = 2.2 * max(wide, high)  # of the camera
    corners = [
        _seen(x - wide / 2, y - high / 2, turn, lean, far) for x, y in ((0, 0), (wide, 0), (wide, high), (0, high))
    ]
    left, top = (min(one[axis] for one in corners) - 20 for axis in range(2))
    size = tuple(math.ceil(max(one[axis] for one in corners) - low + 20) for axis, low in enumerate((left, top)))
    target = [(x - left, y - top) for x, y in corners]
    how = _perspective(target, [(0, 0), (wide, 0), (wide, high), (0, high)])
    seen = image.transform(size, Image.Transform.PERSPECTIVE, how, Image.Resampling.BILINEAR, fillcolor=150)
    seen = seen.filter(ImageFilter.GaussianBlur(by.uniform(0, hard.blurred) * PIXELS))
    light = by.uniform(hard.dimmed, 1.0)
    slope = [by.uniform(-0.25, 0.25) for _axis in range(2)]
    across = numpy.linspace(-0.5, 0.5, size[0])[None, :] * slope[0]
    down = numpy.linspace(-0.5, 0.5, size[1])[:, None] * slope[1]
    grain = numpy.random.default_rng(by.randrange(2**32)).normal(0, hard.noise, (size[1], size[0]))
    grey = (20 + numpy.asarray(seen, dtype=float) * 0.85) * light * (1 + across + down) + grain
    return Image.fromarray(numpy.clip(grey, 0, 255).astype(numpy.uint8))


def _seen(x: float, y: float, turn: float, lean: list[float], far: float) -> tuple[float, float]:
    """Where a point of the page is seen, turned in its plane and tilted about both axes (a pinhole camera)."""
    x, y = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
    y, z = y * math.cos(lean[0]), y * math.sin(lean[0])
    x, z = x * math.cos(lean[1]) + z * math.sin(lean[1]), z * math.cos(lean[1]) - x * math.sin(lean[1])
    return x * far / (far + z), y * far / (far + z)


def _perspective(of: list[tuple[float, float]], to: list[tuple[float, float]]) -> list[float]:
    """The eight numbers of the projection that leads each point of the photo to one of the page."""
    rows, values = [], []
    for (x, y), (u, v) in zip(of, to, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        values += [u, v]
    return [float(one) for one in numpy.linalg.solve(numpy.array(rows, float), numpy.array(values, float))]


def covered(image: Image.Image, code: Drawn, by: random.Random) -> Image.Image:
    """The page with one code under ink: more than half of it, from a corner on."""
    scale = PIXELS / code.module
    left, top, right, bottom = (scale * one for one in (code.left, code.top, code.right, code.bottom))
    share = by.uniform(0.75, 1.0)
    made = image.copy()
    where = (
        (left, top, left + share * (right - left), bottom)
        if by.random() < 0.5
        else (left, top, right, top + share * (bottom - top))
    )
    ImageDraw.Draw(made).rectangle(where, fill=by.choice((0, 40, 90)))
    return made


def spotted(image: Image.Image, share: float, by: random.Random, box: tuple[float, float, float, float]) -> Image.Image:
    """Ink spots over `share` of a box (pixels), of one to seven modules across."""
    made = image.copy()
    draw = ImageDraw.Draw(made)
    left, top, right, bottom = box
    mask = Image.new("1", made.size)
    on = ImageDraw.Draw(mask)
    while numpy.asarray(mask.crop(tuple(map(round, box)))).mean() < share:
        x, y, r = by.uniform(left, right), by.uniform(top, bottom), by.uniform(0.5, 3.5) * PIXELS
        for canvas, fill in ((draw, 0), (on, 1)):
            canvas.ellipse((x - r, y - r * by.uniform(0.6, 1), x + r, y + r), fill=fill)
    return made


def read(image: Image.Image) -> set[str]:
    """What an independent reader finds."""
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
    return {one.text for one in found}
