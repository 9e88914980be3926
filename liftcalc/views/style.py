"""How every drawing looks: ink, hatches, line styles, text sizes, figures.

Rules kept here: text is at least 7 pt at print size; nothing is said by colour alone (every
colour comes with its own line style, marker or hatch), so that sheets print in black and white.
A figure is as large as its page: title and key take the room they need, nothing is cut. Every quantity is rounded by
:mod:`liftcalc.base.text`, and every text goes through :meth:`Display.words` once (title and axes in :func:`prepare`,
the rest in :class:`liftcalc.views.labels.Labels` and the key), so that a US drawing is in US words too.

Sources: Colours: the colour-blind-safe set of Okabe and Ito (2008), values from memory. Line types
(long dash, dash-dot for centre lines, short dash for hidden edges) are ordinary drawing practice.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from matplotlib import font_manager, rcParams
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import CAUTION_LINE, Safe, format_value, text_in_units
from liftcalc.base.units import QUANTITIES, UnitSystem, from_si, unit_label
from liftcalc.views.screen import Drawable

_UNITS = {label for row in QUANTITIES.values() for label in row[:2] if label}
_VALUE = re.compile(rf"(?<=\d) (?=(?:{'|'.join(map(re.escape, sorted(_UNITS, key=len, reverse=True)))})(?!\w))")
Dash = tuple[float, tuple[float, ...]] | str

INK = "#1a1a1a"
GREY = "#6b6b6b"
PALE = "#d9d9d9"
BLUE = "#0072B2"
RED = "#C44E00"
GREEN = "#00795A"
AMBER = "#E69F00"
SKY = "#56B4E9"
MAUVE = "#A8578A"

TEXT_PT = 7.0
HEAD_PT = 8.5
_INVENTED = "INVENTED"
MARK_PT = 54.0
"""Width kept at the right of a title. [pt]"""
MM = 1.0 / 25.4

CENTRE_LINE: Dash = (0, (10, 2.5, 1.5, 2.5))
LONG_DASH: Dash = (0, (8, 3))
HIDDEN: Dash = (0, (3, 2))
DOTTED: Dash = (0, (1, 2))


def fill(face: str, edge: str = INK, width: float = 0.9, hatch: str = "", dash: Dash = "-") -> dict[str, Any]:
    """Look of a filled shape."""
    look = {"facecolor": face, "edgecolor": edge, "linewidth": width, "linestyle": dash}
    return {**look, "hatch": hatch or None}


@dataclass(frozen=True)
class LineLook:
    """Colour, dash and marker of one curve: each differs, so that one of them is enough."""

    colour: str
    dash: Dash
    marker: str
    width: float = 1.3

    def line(self) -> dict[str, Any]:
        """Keyword arguments of a matplotlib line, without its marker."""
        return {"color": self.colour, "linestyle": self.dash, "linewidth": self.width}


CURVES: tuple[LineLook, ...] = (
    LineLook(BLUE, "-", "o"),
    LineLook(RED, LONG_DASH, "s"),
    LineLook(GREEN, CENTRE_LINE, "^"),
    LineLook(MAUVE, HIDDEN, "D"),
    LineLook(INK, DOTTED, "v", 1.6),
    LineLook(AMBER, (0, (6, 2, 2, 2)), "P"),
    LineLook(SKY, (0, (12, 3)), "X"),
    LineLook(GREY, (0, (2, 4)), "h"),
)
"""Looks of curves in the order in which they are drawn."""

SOURCE_LOOKS: tuple[tuple[str, str], ...] = (
    ("#ffffff", ""),
    ("#cfe3f1", "////"),
    ("#f6dcc8", "xxxx"),
    ("#d3ebe3", "++++"),
    ("#e3e3e3", "...."),
    ("#e9d3e0", "\\\\\\\\"),
)
"""Fill and hatch of the governing sources of a capacity, in order."""


@dataclass(frozen=True)
class Display:
    """Display units of one drawing; the data stay in the package's own units."""

    system: UnitSystem = "metric"
    names: frozenset[str] = frozenset()
    """Names that the facts give: no word in them is replaced."""

    def show(self, value: ArrayLike, quantity: str) -> FloatArray:
        """Value in the display unit."""
        return from_si(value, quantity, self.system)

    def unit(self, quantity: str) -> str:
        """Name of the display unit."""
        return unit_label(quantity, self.system)

    def length(self, value_m: ArrayLike) -> FloatArray:
        """Length or coordinates in the display unit."""
        return from_si(value_m, "length_m", self.system)

    def text(self, value: float, quantity: str, safe: Safe = "") -> str:
        """Value with its unit, on one line, in the one rounding of its quantity."""
        return format_value(value, quantity, self.system, safe).replace(" ", "\u00a0")

    def words(self, text: str) -> str:
        """A text with its quantities in the display units and in the words that go with them."""
        # a number and its unit stay on one line
        return _VALUE.sub("\u00a0", text_in_units(text, self.system, keep=self.names))

    def number(self, value: float) -> str:
        """Number of a tick or a ring; thousands separated as in a text."""
        shown = f"{value:,.10g}".replace("-", "\u2212")
        return shown if self.system == "us" else shown.replace(",", "\u2009")


def new_axes(
    width_mm: float = 170.0,
    height_mm: float = 110.0,
    *,
    margins_mm: tuple[float, float, float, float] = (14.0, 12.0, 4.0, 8.0),
) -> tuple[Figure, Axes]:
    """A figure of print size with one Axes; margins left, bottom, right, top."""
    figure = Figure(figsize=(width_mm * MM, height_mm * MM), dpi=100)
    FigureCanvasAgg(figure)
    left, bottom, right, top = margins_mm
    wide, high = 1.0 - (left + right) / width_mm, 1.0 - (bottom + top) / height_mm
    return figure, figure.add_axes((left / width_mm, bottom / height_mm, wide, high))


def figure_of(
    data: Callable[..., Any], draw: Callable[..., None], wide_mm: float, high_mm: float, **page: Any
) -> Callable[..., Figure]:
    """What makes a drawing at print size, from a lift by *data* and *draw*.

    Whatever it is given beside *system* goes to *data*.
    """

    def made(lift: object, *, system: UnitSystem = "metric", **more: Any) -> Figure:
        figure, ax = new_axes(wide_mm, high_mm, **page)
        draw(data(lift, **more), ax, system=system)
        return figure

    return made


def prepare(
    ax: Drawable, display: Display, title: str = "", xlabel: str = "", ylabel: str = "", *, plan: bool = False
) -> None:
    """Give an Axes the common look; plans and elevations get equal scales."""
    title, xlabel, ylabel = (display.words(text) for text in (title, xlabel, ylabel))
    if isinstance(ax, Axes):
        for axis in (ax.xaxis, ax.yaxis):
            axis.set_major_formatter(FuncFormatter(lambda value, _: display.number(value)))
    else:
        ax.number = display.number
    ax.tick_params(labelsize=TEXT_PT, width=0.6, length=3, pad=2, colors=INK)
    for name, spine in ax.spines.items():
        spine.set_linewidth(0.6)
        spine.set_color(INK)
        spine.set_visible(plan or name in ("left", "bottom"))
    ax.set_xlabel(xlabel, fontsize=TEXT_PT + 0.5, color=INK, labelpad=2)
    ax.set_ylabel(ylabel, fontsize=TEXT_PT + 0.5, color=INK, labelpad=2)
    # the mark of an invented job stands at the right of the first line
    room = 72.0 * ax.get_window_extent().width / ax.figure.dpi - MARK_PT
    title = wrapped(title, room, HEAD_PT, "bold")
    # a place of its own: looking for one above the ticks lays every tick out once more
    ax.set_title(title, fontsize=HEAD_PT, color=INK, loc="left", pad=5, y=1.0, fontweight="bold")
    room_outside(ax, above_pt=9.0 + 1.2 * HEAD_PT * len(title.split("\n")))
    if plan:
        ax.set_aspect("equal", adjustable="datalim")


def prepare_site(ax: Drawable, title: str, display: Display) -> None:
    """Give an Axes the look of a site plan."""
    unit = display.unit("length_m")
    prepare(ax, display, title, f"Easting [{unit}]", f"Northing [{unit}]", plan=True)


def room_outside(ax: Drawable, *, above_pt: float = 0.0, below_pt: float = 0.0) -> None:
    """Let the page of *ax* grow so that this much stands above and below; the Axes keep size.

    A figure with a layout of its own is left as it is.
    """
    if not isinstance(ax, Axes):
        ax.above_pt, ax.below_pt = max(ax.above_pt, above_pt), max(ax.below_pt, below_pt)
        return
    figure = ax.figure
    if not isinstance(figure, Figure) or figure.get_layout_engine() is not None:
        return
    width, height = figure.get_size_inches()
    box = ax.get_position(original=True)
    bottom, top = box.y0 * height, (1.0 - box.y1) * height
    lower, upper = max(bottom, below_pt / 72.0), max(top, above_pt / 72.0)
    inside = height - bottom - top
    page = lower + inside + upper
    figure.set_size_inches(width, page)
    ax.set_position((box.x0, lower / page, box.width, inside / page))


def finish(figure: Figure, *, invented: bool = False, system: UnitSystem = "metric") -> None:
    """Put on a drawing what must stand on each that can be handed on by itself.

    The caution in one line stands at its foot, and the mark of an invented job at its upper right.
    """
    width = 72.0 * figure.get_size_inches()[0]
    words = text_in_units(CAUTION_LINE, system)
    rows = len(wrapped(words, width - 12.0, TEXT_PT).split("\n"))
    even = 1.1 * text_size_pt(words, TEXT_PT)[0] / rows  # lines of about one length
    line = wrapped(words, min(even, width - 12.0), TEXT_PT)
    foot = text_size_pt(line, TEXT_PT)[1] + 4.0
    if figure.get_layout_engine() is not None:
        figure.supxlabel(line, fontsize=TEXT_PT, color=INK)
    else:
        _lengthen(figure, foot)
        height = 72.0 * figure.get_size_inches()[1]
        look: dict[str, Any] = {"fontsize": TEXT_PT, "color": INK, "linespacing": 1.2}
        figure.text(6.0 / width, 4.0 / height, line, va="bottom", gid="caution", **look)
    if invented:
        for ax in figure.axes:
            mark_invented(ax)


def mark_invented(ax: Drawable) -> None:
    """Say above an Axes, at the right of the first line of its title, that its job is invented."""
    title = ax.get_title(loc="left") if isinstance(ax, Axes) else ax.title
    up = 6.0 + 1.2 * HEAD_PT * title.count("\n")
    look: dict[str, Any] = {"fontsize": TEXT_PT, "fontweight": "bold", "color": INK}
    look |= {"ha": "right", "va": "bottom"}
    if isinstance(ax, Axes):
        corner: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points"}
        ax.annotate(_INVENTED, (1.0, 1.0), (0.0, up), annotation_clip=False, **corner, **look)
        return
    box = ax.get_window_extent()
    x, y = ax.transData.inverted().transform((box.x1, box.y1 + up))
    ax.text(float(x), float(y), _INVENTED, clip_on=False, **look)


def _lengthen(figure: Figure, foot_pt: float) -> None:
    """Let the page grow at its foot; what is drawn keeps its size."""
    width, height = figure.get_size_inches()
    page = height + foot_pt / 72.0
    places = [ax.get_position(original=True) for ax in figure.axes]
    figure.set_size_inches(width, page)
    for ax, box in zip(figure.axes, places, strict=True):
        bottom = (box.y0 * height + page - height) / page
        ax.set_position((box.x0, bottom, box.width, box.height * height / page))


def text_size_pt(text: str, size_pt: float, weight: str = "normal") -> tuple[float, float]:
    """Width and height of a text of one or more lines, in points.

    By matplotlib's own font, the same on every machine.
    """
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
