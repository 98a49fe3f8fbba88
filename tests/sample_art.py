"""Draws the invented artwork of the sample jobs and of the demo: `python tests/sample_art.py` writes it beside them.

Each drawing has the few flat colours that its job prints, on the colour of its garment, at four times its size and made
small, so that edges are smooth; a palette keeps a file under 10 kB.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from PIL import Image, ImageDraw

SAMPLES = Path(__file__).parent.parent / "sample_jobs"
Draw = ImageDraw.ImageDraw
Points = list[tuple[float, float]]
LARGER = 4


def star(x: float, y: float, outer: float, inner: float, spikes: int, turn: float = -90) -> Points:
    """The corners of a star."""
    return [
        (
            x + (outer if n % 2 == 0 else inner) * math.cos(math.radians(turn + n * 180 / spikes)),
            y + (outer if n % 2 == 0 else inner) * math.sin(math.radians(turn + n * 180 / spikes)),
        )
        for n in range(2 * spikes)
    ]


def wave(y: float, width: float, height: float, length: float, phase: float = 0) -> Points:
    """A line of waves from side to side."""
    return [(x, y + height * math.sin(2 * math.pi * (x / length + phase))) for x in range(-10, int(width) + 12, 4)]


def kite(draw: Draw) -> None:
    """One colour: a kite with its tail."""
    gold = "#c9a13b"
    draw.polygon([(200, 40), (330, 190), (200, 330), (90, 170)], fill=gold)
    draw.line([(200, 40), (200, 330)], fill="#1c2743", width=8)
    draw.line([(90, 170), (330, 190)], fill="#1c2743", width=8)
    tail = [(200 + 45 * math.sin(t / 18), 330 + t) for t in range(0, 132, 3)]
    draw.line(tail, fill=gold, width=9, joint="curve")
    for at in (10, 24, 38):
        x, y = tail[at]
        draw.polygon([(x - 30, y - 16), (x, y), (x - 30, y + 16)], fill=gold)
        draw.polygon([(x + 30, y - 16), (x, y), (x + 30, y + 16)], fill=gold)


def market(draw: Draw) -> None:
    """Six colours: stalls under lanterns, a moon above."""
    draw.ellipse((230, 30, 350, 150), fill="#f4f1e6")
    draw.ellipse((200, 20, 310, 130), fill="#161616")
    for n, colour in enumerate(("#e08a2c", "#b5223c", "#2a8a8c", "#e08a2c", "#b5223c")):
        x, y = 45 + n * 78, 165 + 22 * math.sin(n * 1.3)
        draw.line([(x, y - 40), (x, y - 22)], fill="#8f9699", width=5)
        draw.ellipse((x - 24, y - 24, x + 24, y + 26), fill=colour)
        draw.ellipse((x - 9, y - 12, x + 9, y + 14), fill="#f4f1e6")
    draw.line([(0, 118), (130, 142), (270, 118), (400, 146)], fill="#8f9699", width=5, joint="curve")
    for left, colour in ((20, "#b5223c"), (145, "#2a8a8c"), (270, "#e08a2c")):
        for n in range(5):
            stripe = colour if n % 2 == 0 else "#f4f1e6"
            x = left + n * 22
            draw.polygon([(x, 270), (x + 22, 270), (x + 22, 325), (x, 325)], fill=stripe)
            draw.pieslice((x, 312, x + 22, 338), 0, 180, fill=stripe)
        draw.rectangle((left + 4, 330, left + 10, 450), fill="#8f9699")
        draw.rectangle((left + 100, 330, left + 106, 450), fill="#8f9699")
        draw.rectangle((left, 395, left + 110, 450), fill=colour)
        draw.rectangle((left, 395, left + 110, 405), fill="#f4f1e6")


def runner(draw: Draw) -> None:
    """A blocker and a white on red: somebody who runs past the moon."""
    draw.ellipse((70, 60, 330, 320), fill="#6d7278")
    white = "#f4f1e6"
    draw.ellipse((218, 82, 266, 130), fill=white)
    limbs: tuple[Points, ...] = (
        [(230, 140), (195, 235)],
        [(228, 152), (275, 190), (318, 168)],
        [(222, 152), (168, 170), (140, 214)],
        [(195, 235), (258, 268), (246, 345)],
        [(195, 235), (162, 305), (92, 318)],
    )
    for limb in limbs:
        draw.line(limb, fill=white, width=30, joint="curve")
        for x, y in limb:
            draw.ellipse((x - 15, y - 15, x + 15, y + 15), fill=white)
    for n, y in enumerate((372, 396, 420)):
        draw.line([(60 + 30 * n, y), (340 - 20 * n, y)], fill=white, width=9)


def mooring(draw: Draw) -> None:
    """White and amber on bottle green: a pier with a lamp, a boat made fast."""
    white, amber = "#f4f1e6", "#dd9a31"
    draw.rectangle((40, 250, 215, 268), fill=white)
    for x in (55, 110, 165):
        draw.rectangle((x, 268, x + 14, 350), fill=white)
    draw.rectangle((186, 110, 196, 250), fill=white)
    draw.polygon([(172, 110), (210, 110), (200, 78), (182, 78)], fill=amber)
    draw.pieslice((110, 90, 272, 252), 60, 120, fill=amber)
    draw.polygon([(240, 300), (370, 300), (340, 345), (265, 345)], fill=amber)
    draw.rectangle((300, 200, 307, 300), fill=white)
    draw.polygon([(312, 205), (312, 290), (358, 290)], fill=white)
    draw.line([(215, 258), (228, 282), (245, 302)], fill=white, width=5)
    for n in range(3):
        draw.line(wave(375 + 26 * n, 400, 8, 66, n / 3), fill=white if n % 2 == 0 else amber, width=7, joint="curve")


def terrace(draw: Draw) -> None:
    """One colour: a wave that breaks under a sun."""
    blue = "#1f6f9c"
    draw.ellipse((235, 60, 325, 150), outline=blue, width=10)
    for n in range(12):
        turn = math.radians(30 * n)
        draw.line([(280 + r * math.cos(turn), 105 + r * math.sin(turn)) for r in (58, 78)], fill=blue, width=9)
    for n in range(5):
        draw.line(wave(300 + 30 * n, 400, 12, 100, n / 5), fill=blue, width=12, joint="curve")
    curl = [(70 + (120 - t / 5) * math.cos(math.radians(200 + t)) + 90,
             235 + (95 - t / 5) * math.sin(math.radians(200 + t))) for t in range(0, 420, 6)]  # fmt: skip
    draw.line(curl, fill=blue, width=14, joint="curve")


def may(draw: Draw) -> None:
    """White and amber: a flag over the first waves of the year."""
    white, amber = "#f4f1e6", "#dd9a31"
    draw.rectangle((120, 60, 130, 330), fill=white)
    draw.polygon([(130, 70), (300, 115), (130, 165)], fill=amber)
    draw.polygon(star(180, 117, 26, 11, 5), fill=white)
    for n in range(4):
        draw.line(wave(330 + 26 * n, 400, 9, 80, n / 4), fill=white, width=8, joint="curve")


def dinghies(draw: Draw) -> None:
    """White and amber: two dinghies round a mark."""
    white, amber = "#f4f1e6", "#dd9a31"
    for x, y, one, two in ((120, 60, white, amber), (240, 110, amber, white)):
        draw.polygon([(x, y), (x, y + 190), (x - 85, y + 190)], fill=one)
        draw.polygon([(x + 12, y + 40), (x + 12, y + 190), (x + 70, y + 190)], fill=two)
        draw.polygon([(x - 95, y + 203), (x + 85, y + 203), (x + 55, y + 238), (x - 65, y + 238)], fill=one)
    draw.ellipse((330, 290, 372, 332), fill=amber)
    for n in range(3):
        draw.line(wave(372 + 26 * n, 400, 9, 90, n / 3), fill=white, width=8, joint="curve")


ART: dict[str, tuple[str, Callable[[Draw], None]]] = {
    "golden-kite": ("#1c2743", kite),
    "night-market": ("#161616", market),
    "night-run": ("#a32632", runner),
    "quiet-mooring": ("#1e4636", mooring),
    "taverna-tote": ("#e9dfc8", terrace),
    "first-of-may": ("#1e4636", may),
    "two-dinghies": ("#1e4636", dinghies),
}
"""By name of the file: the colour of the garment, and what draws on it in a field of 400 x 480."""


class _Large:
    """Draws LARGER times as large as it is asked to."""

    def __init__(self, draw: Draw) -> None:
        self._draw = draw

    def __getattr__(self, name: str) -> Callable[..., None]:
        def drawn(points: object, *more: float, width: int = 0, **how: object) -> None:
            wide = {"width": width * LARGER} if width else {}
            getattr(self._draw, name)(_larger(points), *more, **how, **wide)

        return drawn


def _larger(points: object) -> object:
    if isinstance(points, list | tuple):
        return [tuple(_larger(one)) if isinstance(one, tuple) else one * LARGER for one in points]
    return points


def drawn(name: str) -> Image.Image:
    """The artwork of that name."""
    ground, paint = ART[name]
    large = Image.new("RGB", (400 * LARGER, 480 * LARGER), ground)
    paint(_Large(ImageDraw.Draw(large)))  # type: ignore[arg-type]
    return large.resize((400, 480), Image.Resampling.LANCZOS).quantize(24)


if __name__ == "__main__":
    for one in ART:
        drawn(one).save(SAMPLES / f"{one}.png", optimize=True)
        print(one, (SAMPLES / f"{one}.png").stat().st_size)
