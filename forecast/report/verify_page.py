"""The verification as one self-contained HTML file, with pictures drawn by matplotlib."""

from __future__ import annotations

import io
import re

import matplotlib as mpl
import numpy as np
from markupsafe import Markup
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from forecast.report import verify, words
from forecast.report.as_html import environment
from forecast.report.verify import RATIOS, VerifiedSource, VerifyReport

INK, SOFT, DARK, MIDDLE, LIGHT, BAND = "#14202e", "#4b5866", "#143555", "#4472b3", "#97a9c9", "#ecedee"
WIDE_IN, TALL_IN = 8.4, 2.9
_LOOKS = ((DARK, "o"), (MIDDLE, "s"), (LIGHT, "^"))  # shape first, shade second
_VALUE_RATIO = 0.3
TICKS = (1, 4, 7, 10, 13, 16)


def verify_html(report: VerifyReport) -> str:
    """The whole page."""
    return (
        environment()
        .get_template("verify.html.j2")
        .render(report=report, say=verify, words=words, picture=picture, described=described)
    )


def picture(source: VerifiedSource) -> Markup:
    """Skill by days ahead, what came against what was told, and value, side by side, as SVG for the page itself."""
    with mpl.rc_context({"svg.hashsalt": "forecast", "svg.fonttype": "none", "font.family": "serif", "font.size": 8}):
        figure = Figure(figsize=(WIDE_IN, TALL_IN), layout="constrained")
        skill, told, value = figure.subplots(1, 3)
        _skill(skill, source)
        _reliability(told, source)
        _value(value, source)
        for axes in (skill, told, value):
            axes.spines[["top", "right"]].set_visible(False)
            axes.tick_params(colors=INK)
            axes.grid(color="#e3e6ea", linewidth=0.6)
            axes.set_axisbelow(True)
        target = io.StringIO()
        figure.savefig(target, format="svg", metadata={"Date": None, "Creator": None})
    svg = target.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    return Markup(svg.replace("<svg ", '<svg aria-hidden="true" ', 1))  # noqa: S704 - drawn here from figures alone


def described(source: VerifiedSource) -> str:
    """The pictures in words."""
    skill = ", ".join(
        f"{lead.days_ahead}: {'unknown' if lead.skill.value is None else f'{lead.skill.value:.2f}'}"
        for lead in source.leads
    )
    return f"Skill by days ahead: {skill}. The tables hold the rest."


def _skill(axes: Axes, source: VerifiedSource) -> None:
    leads = np.array([lead.days_ahead for lead in source.leads])
    value, low, high = (
        np.array([_nan(getattr(lead.skill, name)) for lead in source.leads]) for name in ("value", "low", "high")
    )
    axes.fill_between(leads, low, high, color=BAND)
    axes.plot(leads, value, color=DARK, marker="o", markersize=3, linewidth=1.4)
    axes.axhline(0, color=INK, linewidth=0.8)
    if source.better_days:
        axes.axvline(source.better_days + 0.5, color=SOFT, linestyle="--", linewidth=0.8)
        axes.text(source.better_days + 0.7, 0.95, "usual from here", color=SOFT, fontsize=7, va="top")
    axes.set_ylim(min(-0.1, float(np.nanmin(low, initial=0.0))), 1)
    axes.set_xlim(0.5, len(leads) + 0.5)
    axes.set_xticks(TICKS)
    axes.set_xlabel("days ahead")
    axes.set_title("skill over the usual chance", loc="left", fontsize=9, color=INK)


def _reliability(axes: Axes, source: VerifiedSource) -> None:
    axes.plot([0, 1], [0, 1], color=INK, linewidth=0.8)
    for (shade, shape), group in zip(_LOOKS, source.reliability, strict=False):
        if not group.bins:
            continue
        mean, came, low, high = (
            np.array([getattr(one, name) for one in group.bins])
            for name in ("mean_chance", "frequency", "band_low", "band_high")
        )
        if group is source.reliability[0]:
            axes.fill_between(mean, low, high, color=BAND)
        words_of = f"{group.first_lead} to {group.last_lead} days"
        axes.plot(mean, came, color=shade, marker=shape, markersize=4, linewidth=1.0, label=words_of)
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.set_xlabel("chance told")
    axes.set_title("share that came", loc="left", fontsize=9, color=INK)
    if any(group.bins for group in source.reliability):
        axes.legend(frameon=False, fontsize=7, loc="upper left")


def _value(axes: Axes, source: VerifiedSource) -> None:
    leads = np.array([lead.days_ahead for lead in source.leads])
    at = RATIOS.index(_VALUE_RATIO)
    value, low, high = (
        np.array([_nan(getattr(lead.values[at], name)) for lead in source.leads]) for name in ("value", "low", "high")
    )
    axes.fill_between(leads, low, high, color=BAND)
    axes.plot(leads, value, color=DARK, marker="o", markersize=3, linewidth=1.4)
    axes.axhline(0, color=INK, linewidth=0.8)
    axes.set_ylim(min(-0.1, float(np.nanmin(low, initial=0.0))), 1)
    axes.set_xlim(0.5, len(leads) + 0.5)
    axes.set_xticks(TICKS)
    axes.set_xlabel("days ahead")
    axes.set_title(f"value, acting from {100 * _VALUE_RATIO:.0f} %", loc="left", fontsize=9, color=INK)


def _nan(value: float | None) -> float:
    return float("nan") if value is None else value
