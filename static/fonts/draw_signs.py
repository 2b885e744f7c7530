"""Draw signs.woff2: the few signs that the text faces lack, as plain polygons on the text face's em.

Needed only to change a sign: `pip install fonttools brotli`, then run this file. The drawings are the project's own and
come under its licence. Every sign is as wide as a figure of the text face (600 of 1000 units), so columns stay straight.
"""

from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

WIDTH = 600
SIGNS = {
    "\u25b2": [[(70, 40), (300, 560), (530, 40)]],
    "\u25bc": [[(70, 560), (530, 560), (300, 40)]],
    "\u2192": [[(40, 305), (40, 375), (415, 375), (290, 500), (340, 550), (550, 340), (340, 130), (290, 180), (415, 305)]],
    "\u2190": [[(560, 305), (185, 305), (310, 180), (260, 130), (50, 340), (260, 550), (310, 500), (185, 375), (560, 375)]],
    "\u2713": [[(40, 290), (95, 340), (220, 205), (500, 560), (560, 512), (225, 85)]],
    "\u2717": [
        [(80, 90), (300, 310), (520, 90), (570, 140), (350, 360), (570, 580), (520, 630), (300, 410), (80, 630), (30, 580),
         (250, 360), (30, 140)]
    ],
    "\u2264": [
        [(530, 620), (530, 545), (165, 405), (530, 265), (530, 190), (70, 368), (70, 442)],
        [(70, 50), (70, 120), (530, 120), (530, 50)],
    ],
    "\u2265": [
        [(70, 620), (530, 442), (530, 368), (70, 190), (70, 265), (435, 405), (70, 545)],
        [(70, 50), (70, 120), (530, 120), (530, 50)],
    ],
    "\u0394": [[(30, 0), (265, 690), (335, 690), (570, 0)], [(130, 68), (470, 68), (300, 580)]],
}  # fmt: skip


def outline(shapes: list[list[tuple[int, int]]]):
    pen = TTGlyphPen(None)
    for first, *others in shapes:
        pen.moveTo(first)
        for point in others:
            pen.lineTo(point)
        pen.closePath()
    return pen.glyph()


def main() -> None:
    names = {sign: f"uni{ord(sign):04X}" for sign in SIGNS}
    build = FontBuilder(1000, isTTF=True)
    build.setupGlyphOrder([".notdef", *names.values()])
    build.setupCharacterMap({ord(sign): name for sign, name in names.items()})
    build.setupGlyf({".notdef": outline([]), **{names[sign]: outline(shapes) for sign, shapes in SIGNS.items()}})
    build.setupHorizontalMetrics(dict.fromkeys([".notdef", *names.values()], (WIDTH, 0)))
    build.setupHorizontalHeader(ascent=1025, descent=-275)
    build.setupNameTable({"familyName": "Batterboard Signs", "styleName": "Regular"})
    build.setupOS2(sTypoAscender=780, sTypoDescender=-220, usWinAscent=1025, usWinDescent=275)
    build.setupPost()
    build.font.flavor = "woff2"
    build.save(Path(__file__).with_name("signs.woff2"))


if __name__ == "__main__":
    main()
