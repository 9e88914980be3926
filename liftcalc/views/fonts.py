"""Size of texts from the font's own measures, the same on every machine.

The font is the one that matplotlib carries.
"""

from functools import lru_cache

from matplotlib import font_manager, rcParams


def text_size_pt(text: str, size_pt: float, weight: str = "normal") -> tuple[float, float]:
    """Width and height of a text of one or more lines, in points."""
    chosen = (*rcParams["font.family"], None, *rcParams["font.sans-serif"])
    return _size_pt(text, size_pt, weight, chosen)


@lru_cache(maxsize=8192)
def _size_pt(text: str, size_pt: float, weight: str, _chosen: object) -> tuple[float, float]:
    """The size; *_chosen* are the settings that choose the font, so that none outlives them."""
    font = font_manager.get_font(font_manager.findfont(font_manager.FontProperties(weight=weight)))
    font.set_size(size_pt, 72.0)
    width = 0.0
    lines = text.split("\n")
    for line in lines:
        font.set_text(line, 0.0)
        width = max(width, font.get_width_height()[0] / 64.0)
    return width, size_pt * 1.2 * len(lines)


def wrapped(text: str, width_pt: float, size_pt: float, weight: str = "normal") -> str:
    """The text with its lines broken between words so that none is wider than *width_pt*."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            longer = f"{line} {word}" if line else word
            if line and text_size_pt(longer, size_pt, weight)[0] > width_pt:
                lines.append(line)
                longer = word
            line = longer
        lines.append(line)
    return "\n".join(lines)
