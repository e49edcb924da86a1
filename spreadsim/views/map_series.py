"""Maps through the years as a moving picture, or as pages to step through."""

import io
import math
import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from PIL import Image

from spreadsim.analysis.outcomes import by_year, first_year, strategy_names
from spreadsim.analysis.wording import Scale
from spreadsim.errors import InputError
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs.site import Site
from spreadsim.views.map_grid import blanked, draw_layer, extent_of, legend, scale_bar, when, with_maps, years_of
from spreadsim.views.maps import share_kind
from spreadsim.views.style import RC, SLIDE, put_title

MOST_MAPS = 6
MOVING = (".gif", ".webp", ".png", ".pdf")
_FEW = 12
# milliseconds: fewer than three changes a second in any case (WCAG 2.2, 2.3.1)
_SLOW, _QUICK, _LAST = 1200, 600, 3500


@dataclass(frozen=True)
class MapSeries:
    """One figure that shows year after year.

    Attributes
    ----------
    figure : matplotlib.figure.Figure
        Showing one of the years.
    years : tuple of int
        Those that it can show.
    show : callable
        Given a year, changes the figure to it.
    """

    figure: Figure
    years: tuple[int, ...]
    show: Callable[[int], None]

    def frames(self, pixels: int = 1280) -> Iterator[Image.Image]:
        """Give a picture of each year, so many pixels wide."""
        self.figure.set_dpi(pixels / self.figure.get_figwidth())
        canvas = FigureCanvasAgg(self.figure)
        for year in self.years:
            self.show(year)
            with mpl.rc_context(RC):
                canvas.draw()  # type: ignore[no-untyped-call]
            drawn = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
            yield Image.fromarray(drawn.copy()).convert("RGB")


def map_series(
    dataset: xr.Dataset,
    *,
    site: Site | None = None,
    system: str = "metric",
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    notice: str = "",
) -> MapSeries:
    """Make the share of worlds with mat, strategies side by side, through the years.

    Parameters
    ----------
    dataset
        What `compare` returned, with `occupancy`.
    site
        Gives barriers; without it they are not drawn.
    system
        Units to show, "metric" or "us".
    strategies
        Which to show, at most `MOST_MAPS`; the first few of the dataset if none is named.
    years
        Which to show; all with maps if none is named.
    notice
        What must be said above the maps, such as that the site is invented.

    Returns
    -------
    MapSeries

    Raises
    ------
    InputError
        The dataset has no maps, or none of a year that is named.
    """
    known = tuple(with_maps(dataset, years) if years else years_of(dataset))
    names = (strategies or strategy_names(dataset))[:MOST_MAPS]
    size = extent_of(dataset, site)
    kind = share_kind()
    columns = math.ceil(math.sqrt(len(names))) if len(names) > 3 or size[0] > 2 * size[1] else len(names)
    rows = math.ceil(len(names) / columns)
    occupancy, area = dataset["occupancy"], by_year(dataset, "infested_area").mean("replicate")
    scale = Scale(area.sel(strategy=list(names)).to_numpy().ravel(), "area", system)
    with mpl.rc_context({**RC, "axes.grid": False}):
        figure = Figure(figsize=SLIDE, layout="constrained")
        grid = figure.subplots(rows + 1, columns, squeeze=False, height_ratios=[1.0] * rows + [0.1])
        panels = dict(zip(names, grid[:rows].flat, strict=False))
        for axes in grid[:rows].flat[len(names) :]:
            axes.set_visible(False)
        images, titles = {}, dict[str, str]()
        for name, axes in panels.items():
            images[name] = draw_layer(axes, occupancy.sel(strategy=name, year=known[0]).to_numpy(), kind, size, site)
            titles[name] = "\n".join(textwrap.wrap(name, 100 // columns)[:2])
            axes.set_title(f"{titles[name]}\n", loc="center", fontsize=13)
        scale_bar(list(panels.values())[-1], size[0], system)
        clock = _clock(figure, grid[rows], known, first_year(dataset))
        bar = figure.colorbar(images[names[0]], ax=list(grid[:rows].flat), location="right", pad=0.02, aspect=30)
        bar.set_label(kind.bar)
        bar.set_ticks(list(kind.ticks), labels=list(kind.ticks.values()))
        legend(figure, site, False, kind)
        put_title(figure, dataset, kind.title, notice)
        figure.get_layout_engine().execute(figure)  # type: ignore[union-attr]
        figure.set_layout_engine(None)  # what changes from year to year must not move the maps

    def show(year: int) -> None:
        for name, axes in panels.items():
            images[name].set_data(blanked(occupancy.sel(strategy=name, year=year).to_numpy()))
            told = scale.with_unit(scale.text(float(area.sel(strategy=name, year=year))))
            axes.set_title(f"{titles[name]}\n{told} infested on average", loc="center", fontsize=13)
        clock(year)

    show(known[-1])
    return MapSeries(figure, known, show)


def _clock(figure: Figure, row: np.ndarray, years: tuple[int, ...], first: int) -> Callable[[int], None]:
    """Lay a line of time with a mark that moves, and the year in words."""
    axes: Axes = row[0]
    for other in row[1:]:
        other.remove()
    frame = axes.get_gridspec()
    if frame is not None:
        axes.set_subplotspec(frame[-1, :])
    axes.set_xlim(years[0] - 0.01, max(years[-1], years[0] + 1))
    axes.set_ylim(-1, 1)
    axes.spines["left"].set_visible(False)
    axes.set_yticks([])
    step = next(step for step in (1, 2, 5, 10, 20, 50) if years[-1] - years[0] <= 10 * step)
    axes.set_xticks(range(years[0], years[-1] + 1, step))
    axes.set_xlabel("year")
    (mark,) = axes.plot([years[0]], [-1], marker="^", ms=14, color="black", clip_on=False)
    told = figure.text(0.99, 0.985, "", ha="right", va="top", fontsize=20, fontweight="bold")

    def show(year: int) -> None:
        mark.set_xdata([year])
        told.set_text(when(year, first))

    return show


def write_series(series: MapSeries, path: Path, *, pixels: int = 1280) -> Path:
    """Write a series in the format that the file's ending says.

    Parameters
    ----------
    series
        From `map_series`.
    path
        .gif opens everywhere; .webp and .png (animated) are the same picture for browsers; .pdf has a page for each
        year, to step through and to print.
    pixels
        Width of a moving picture.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    InputError
        Another ending.
    """
    kind = path.suffix.lower()
    if kind not in MOVING:
        raise InputError(f'{path}: found the ending "{kind}", allowed {", ".join(MOVING)}')
    content = io.BytesIO()
    if kind == ".pdf":
        with (
            mpl.rc_context(RC),
            PdfPages(content, metadata={"CreationDate": None, "Creator": None, "Producer": None}) as book,
        ):
            for year in series.years:
                series.show(year)
                book.savefig(series.figure, facecolor="white")
    else:
        _write_moving(list(series.frames(pixels)), content, kind)
    with renamed_when_whole(path) as file:
        file.write(content.getvalue())
    return path


def _write_moving(frames: list[Image.Image], content: io.BytesIO, kind: str) -> None:
    each = _SLOW if len(frames) <= _FEW else _QUICK
    times = [each] * (len(frames) - 1) + [_LAST]
    more: dict[str, object] = {"duration": times, "loop": 0}
    if kind == ".gif":
        # the last year has the most colours: its palette serves all, so that nothing flickers
        palette = frames[-1].quantize(64, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
        frames = [frame.quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames]
        more |= {"optimize": False, "disposal": 1}
    elif kind == ".webp":
        more |= {"lossless": True, "method": 4}
    first, *others = frames
    first.save(content, kind[1:].upper(), save_all=True, append_images=others, **more)
