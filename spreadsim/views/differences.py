"""The difference from no action at the end of a year, outcome by outcome, with how sure it is."""

import textwrap

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator

from spreadsim.analysis.intervals import mean_interval
from spreadsim.analysis.outcomes import (
    Measure,
    base_seed,
    check_year,
    first_year,
    measured,
    measures_of,
    strategy_names,
)
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.wording import Scale, percent, when_of
from spreadsim.errors import InputError
from spreadsim.views.maps import against
from spreadsim.views.style import RC, SLIDE, Line, lines_of, put_title

_SHOWN = ("infested_area", "climbed_hosts", "fruiting_hosts", "seeds_exported", "native_cover", "hours")
MOST_ROWS = 8


def differences(
    dataset: xr.Dataset,
    *,
    system: str = "metric",
    confidence: float = 0.9,
    strategies: tuple[str, ...] = (),
    year: int = -1,
    notice: str = "",
) -> Figure:
    """Draw how each strategy differs from no action, world by world.

    Parameters
    ----------
    dataset
        What `compare` returned, with the strategy no action.
    system
        Units to show, "metric" or "us".
    confidence
        Of the interval of the mean, and the share of the worlds that a thin line holds.
    strategies
        Which to draw, at most `MOST_ROWS`; the first few of the dataset if none is named.
    year
        Year whose end is shown, and up to which seeds and hours are counted; -1 is the last.
    notice
        What must be said above, such as that the site is invented.

    Returns
    -------
    matplotlib.figure.Figure
        A panel for each outcome: mark, mean of the paired difference; thick line, interval of the mean; thin line,
        the worlds; and in how many worlds the strategy is better.

    Raises
    ------
    InputError
        The dataset has no strategy no action, nothing beside it, or no such year.
    """
    against(dataset)
    label = check_year(dataset, year)
    lines = lines_of(strategy_names(dataset))
    names = [name for name in strategies or lines if name != NO_ACTION][:MOST_ROWS]
    if not names:
        raise InputError("strategy: found no action alone, allowed another that is compared with it")
    measures = {measure.name: measure for measure in measures_of(dataset)}
    shown = [measures[name] for name in _SHOWN if name in measures]
    rows = max(1, -(-len(shown) // 3))
    height = max(SLIDE[1], 1.6 + rows * (1.3 + 0.42 * len(names)))
    with mpl.rc_context(RC):
        figure = Figure(figsize=(SLIDE[0], height), layout="constrained")
        grid = figure.subplots(rows, 3, squeeze=False, sharey=True)
        for axes, measure in zip(grid.flat, shown, strict=False):
            _panel(axes, dataset, measure, {name: lines[name] for name in names}, label, system, confidence)
        for axes in grid.flat[len(shown) :]:
            axes.set_visible(False)
        for axes in grid[:, 0]:
            told = ["\n".join(textwrap.wrap(name, 22, break_on_hyphens=False)[:2]) for name in names]
            axes.set_yticks(range(len(names)), told)
        axes.set_ylim(len(names) - 0.4, -0.6)
        _legend(figure, dataset, confidence)
        figure.get_layout_engine().set(wspace=0.05)  # type: ignore[union-attr,call-arg]
        put_title(figure, dataset, "Difference from no action", notice)
    return figure


def _panel(
    axes: Axes, dataset: xr.Dataset, measure: Measure, lines: dict[str, Line], year: int, system: str, confidence: float
) -> None:
    values = measured(dataset, measure, year)
    paired = (values.sel(strategy=list(lines)) - values.sel(strategy=NO_ACTION)).transpose("replicate", "strategy")
    worlds = paired.to_numpy()
    worlds = worlds[np.isfinite(worlds).all(axis=1)]
    tail = (1 - confidence) / 2
    far = np.quantile(worlds, [tail, 1 - tail], axis=0) if len(worlds) else np.zeros((2, len(lines)))
    near = np.array(mean_interval(worlds, confidence, base_seed(dataset)))
    scale = Scale(far.ravel(), measure.kind, system, str(dataset.attrs.get("currency", "")))
    better = worlds < 0 if measure.better == "lower" else worlds > 0
    axes.axvline(0, color="black", lw=1.4)
    for at, line in enumerate(lines.values()):
        axes.plot(far[:, at] * scale.factor, [at, at], color=line.colour, lw=1.8)
        if np.isfinite(near[:, at]).all():
            axes.plot(near[:, at] * scale.factor, [at, at], color=line.colour, lw=8, solid_capstyle="butt")
        mean = float(worlds[:, at].mean()) if len(worlds) else 0.0
        axes.plot([mean * scale.factor], [at], color=line.colour, marker=line.marker, ms=9, mec="white", zorder=4)
        if measure.kind not in ("hours", "money") and len(worlds) > 1:  # spending less is no aim in itself
            axes.annotate(
                percent(float(better[:, at].mean())), (1.02, at), xycoords=("axes fraction", "data"), va="center",
                fontsize=13, annotation_clip=False,
            )  # fmt: skip
    _dress(
        axes, measure, scale, (first_year(dataset), year), measure.kind not in ("hours", "money") and len(worlds) > 1
    )


def _dress(axes: Axes, measure: Measure, scale: Scale, span: tuple[int, int], chances: bool) -> None:
    first, year = span
    when = when_of(measure, year, first)
    unit = {"hosts": "", "seeds": scale.unit.removesuffix("seeds").strip()}.get(measure.kind, scale.unit)
    title = ", ".join(filter(None, (f"{measure.title[0].upper()}{measure.title[1:]}", unit)))
    axes.set_title("\n".join([*textwrap.wrap(title, 34), when]), fontsize=13)
    if chances:
        axes.annotate("better", (1.02, 1.0), xycoords="axes fraction", xytext=(0, 6), textcoords="offset points",
                      ha="left", va="bottom", fontsize=13)  # fmt: skip
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)
    axes.margins(x=0.06)
    axes.xaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10], integer=measure.kind in ("hosts", "seeds")))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda number, _: f"{number:+,.10g}" if number else "0"))


def _legend(figure: Figure, dataset: xr.Dataset, confidence: float) -> None:
    share = percent(confidence)
    handles = [
        Line2D([], [], color="black", lw=8, label=f"{share} interval of the mean", solid_capstyle="butt"),
        Line2D([], [], color="black", lw=1.8, label=f"{share} of {dataset.sizes['replicate']:,} worlds"),
    ]
    title = "each strategy minus no action in the same world; better: in this share of worlds"
    figure.legend(handles=handles, loc="outside lower center", ncols=2, handlelength=3, title=title)
