"""A picture of wet hours a day, month by month, by every method: how far they lie apart is how sure any of them is."""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Mapping
from typing import Literal

import numpy as np
from matplotlib.figure import Figure

from forecast.panel import Floats
from forecast.wetness import METHODS

INK = "#333333"
WIDE_IN, TALL_IN, DPI = 9.0, 4.6, 110
TITLE_LETTERS, CREDIT_LETTERS = 64, 150  # the legend stands to the right of the title
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

# Told apart by shape and dash first, by shade second: one hue from dark to light, as elsewhere.
_LOOKS = (
    ("#143555", "o", "-"),
    ("#4472b3", "s", "--"),
    ("#4472b3", "^", "-."),
    ("#97a9c9", "D", ":"),
    ("#777777", "v", (0, (5, 1))),
    ("#777777", "x", (0, (1, 1))),
)


def wetness_figure(by_method: Mapping[str, Floats], title: str, credit: str, chosen: str) -> Figure:
    """Wet hours a day by month.

    Args:
        by_method: per key of a method, twelve figures from January on, NaN where a month is not known; shape (12,).
        title: above the picture.
        credit: whose weather it is, below the picture.
        chosen: key of the method that a page goes by; drawn stronger.
    """
    figure = Figure(figsize=(WIDE_IN, TALL_IN), layout="constrained")
    axes = figure.subplots()
    months = np.arange(12)
    known = np.array(list(by_method.values()))
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "All-NaN")  # a month that nobody knows has no band
        low, high = np.nanmin(known, axis=0), np.nanmax(known, axis=0)
    axes.fill_between(months, low, high, color="#ecedee", label="from least to most")
    order = sorted(by_method, key=lambda key: list(METHODS).index(key))
    for look, key in zip(_LOOKS, order, strict=False):
        shade, shape, dash = look
        width = 2.4 if key == chosen else 1.2
        words = f"{key.replace('_', ' ')}{' (goes by this)' if key == chosen else ''}"
        axes.plot(months, by_method[key], color=shade, marker=shape, linestyle=dash, linewidth=width, label=words)
    axes.set_xticks(months, MONTHS)
    axes.set_ylabel("wet hours a day")
    axes.set_ylim(0, max(14.0, float(np.nanmax(known, initial=0.0)) + 1))
    axes.set_xlim(-0.3, 11.3)
    axes.grid(axis="y", color="#e3e6ea", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=9)
    figure.legend(loc="outside right upper", frameon=False, fontsize=9, labelcolor=INK)
    figure.suptitle(textwrap.fill(title, TITLE_LETTERS), x=0.01, ha="left", fontsize=12, color=INK, parse_math=False)
    figure.supxlabel(textwrap.fill(credit, CREDIT_LETTERS), x=0.01, ha="left", fontsize=7, color=INK, parse_math=False)
    return figure


def wetness_picture(
    by_method: Mapping[str, Floats], title: str, credit: str, chosen: str, kind: Literal["png", "svg"] = "png"
) -> bytes:
    """The same as a file; the first arguments are those of :func:`wetness_figure`."""
    target = io.BytesIO()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing")  # a name in letters the font lacks shows boxes
        wetness_figure(by_method, title, credit, chosen).savefig(
            target, format=kind, dpi=DPI, metadata={"Date": None} if kind == "svg" else None
        )
    return target.getvalue()
