"""Makes the bold face of papers: `python tests/bold_face.py`.

The font package brings one variable font, which reportlab draws at its regular weight. Its weight of 700 is taken out
of it here, once, and kept beside the drawing: doing that while a paper is asked for takes over a second each time.
"""

from __future__ import annotations

import io
from pathlib import Path

import fontpkg_noto_sans
from fontTools import subset
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

HERE = Path(__file__).parents[1] / "tickets" / "paper" / "bold"
FILE, WEIGHT = "NotoSans-Bold.ttf", 700


def upright() -> Path:
    """The variable font of the package."""
    files = sorted((Path(fontpkg_noto_sans.ROOT) / "files").glob("NotoSans*.ttf"))
    return next(path for path in files if "Italic" not in path.name)


def made() -> bytes:
    """Every character of the variable font at its bold weight; without what reportlab never reads (the shaping)."""
    font = TTFont(upright(), recalcTimestamp=False)
    instancer.names.updateNameTable(font, {"wght": WEIGHT, "wdth": 100})
    for table in ("GPOS", "GSUB", "GDEF", "STAT"):
        del font[table]
    options = subset.Options(notdef_outline=True, hinting=False, glyph_names=False, name_IDs=["*"], layout_features=[])
    smaller = subset.Subsetter(options)
    smaller.populate(unicodes=font.getBestCmap())
    smaller.subset(font)
    bold = instancer.instantiateVariableFont(font, {"wght": WEIGHT, "wdth": 100}, inplace=True)
    bold["head"].macStyle |= 0b1
    bold["OS/2"].fsSelection = bold["OS/2"].fsSelection & ~(1 << 6) | 1 << 5  # no longer regular: bold
    file = io.BytesIO()
    bold.save(file)
    return file.getvalue()


if __name__ == "__main__":
    HERE.mkdir(exist_ok=True)
    (HERE / FILE).write_bytes(made())
    (HERE / "OFL.txt").write_bytes((Path(fontpkg_noto_sans.ROOT) / "LICENSE").read_bytes())
