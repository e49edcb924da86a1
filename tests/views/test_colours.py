"""Colours: apart for the colour-blind, even in lightness, and dark enough on their ground, in the palette and as drawn.

Colour vision: Machado, Oliveira and Fernandes 2009, doi:10.1109/TVCG.2009.113, at severity 1 (by colorspacious).
Distance: CAM02-UCS (Luo, Cui and Li 2006, doi:10.1002/col.20227). Contrast: WCAG 2.2, relative luminance; 4.5:1 for text
(1.4.3), 3:1 for marks (1.4.11). Needs no more than 20 between what colour tells apart, 10 where shape or dash tells too.
"""

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from colorspacious import cspace_convert
from matplotlib.collections import PathCollection
from matplotlib.colors import to_rgb, to_rgba
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.text import Text

from spreadsim.analysis.found import judge
from spreadsim.inputs import Site
from spreadsim.views import site_map as site_module
from spreadsim.views.differences import differences
from spreadsim.views.flips_map import flips_map
from spreadsim.views.front_chart import front_chart
from spreadsim.views.hours_chart import hours_by_season
from spreadsim.views.map_series import map_series
from spreadsim.views.maps import change_maps, occupancy_maps
from spreadsim.views.site_map import site_map
from spreadsim.views.style import COLOURS, GREY, changes, ink_on, lines_of, shares
from spreadsim.views.through_time import through_time
from tests.analysis.synthetic import outcomes

APART, WITH_SHAPE = 20.0, 10.0
TEXT, MARK = 4.5, 3.0
PAGES = Path("spreadsim/views")
SHAPE, CELL = (12, 18), 20.0


def luminance(colour) -> float:
    """WCAG 2.2, relative luminance."""
    parts = np.array(to_rgb(colour))
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(one, other) -> float:
    """WCAG 2.2, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def seen(colours) -> np.ndarray:
    """CAM02-UCS of colours (n, 3) as four kinds of eyes see them: (4, n, 3)."""
    rgb = np.array([to_rgb(colour) for colour in colours])
    views = [rgb]
    for kind in ("protanomaly", "deuteranomaly", "tritanomaly"):
        eye = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
        views.append(np.clip(cspace_convert(rgb, eye, "sRGB1"), 0, 1))
    return np.array([cspace_convert(view, "sRGB1", "CAM02-UCS") for view in views])


def least_distance(colours) -> float:
    points = seen(colours)
    return min(
        float(np.linalg.norm(points[:, i] - points[:, j], axis=-1).min())
        for i, j in combinations(range(len(colours)), 2)
    )


def test_the_measures_know_what_is_published():
    # WCAG 2.2: black on white is 21:1; #767676 is the lightest grey of 4.5:1 (WebAIM, from memory)
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") > 4.5 > contrast("#777777", "#ffffff")
    # Machado et al. 2009, table of severity 1.0: the first row for protanopia, on linear light
    got = cspace_convert(
        [1.0, 0.0, 0.0], {"name": "sRGB1+CVD", "cvd_type": "protanomaly", "severity": 100}, "sRGB1-linear"
    )
    assert got == pytest.approx([0.152286, 0.114503, -0.003882], abs=1e-6)
    assert least_distance(["#d62728", "#2ca02c"]) < WITH_SHAPE < least_distance(["#000000", "#ffffff"])


def test_strategies_are_told_apart_by_any_eye():
    colours = [line.colour for line in lines_of(("no action", *"abcdef")).values()]
    assert set(colours) == {"#000000", *COLOURS}
    assert least_distance(colours) >= APART
    assert all(contrast(colour, "#ffffff") >= MARK for colour in (*colours, GREY))


def test_pages_of_css_and_script_hold_too():
    css = (PAGES / "class_page/lesson.css").read_text()
    names = dict(re.findall(r"--([a-z]+):(#[0-9a-f]{6})", css))
    assert least_distance([names["a"], names["b"], names["paper"]]) >= APART  # the two sides
    assert contrast(names["ink"], names["paper"]) >= TEXT and contrast(names["ink"], names["soft"]) >= TEXT
    assert all(contrast("#ffffff", names[side]) >= TEXT for side in ("a", "b"))
    assert contrast(names["line"], names["paper"]) >= MARK
    script = (PAGES / "class_page/draw.js").read_text()
    marks = dict(re.findall(r'([A-Z]+) = "(#[0-9a-f]{6})"', script))
    for name in re.findall(r'(SEED|LIGHT|DARK|FRUIT) = "', script):
        assert name in marks
    mats = re.findall(r"#[0-9a-f]{6}", re.search(r"const MAT = (.*);", script)[1])
    assert (np.diff(seen(mats)[:, :, 0]) < 0).all()  # more mat is darker to all
    # a host is a light disc with a dark rim, or a dark one with a light rim: one of both stands out on any ground
    grounds = [*mats, *re.findall(r"#[0-9a-f]{6}", re.search(r"const GROUND = (.*);", script)[1])]
    for ground in grounds:
        assert max(contrast(marks["LIGHT"], ground), contrast(marks["DARK"], ground)) >= MARK
        assert max(contrast(marks["LIGHT"], ground), contrast(marks["FRUIT"], ground)) >= MARK
    assert least_distance([marks["LIGHT"], marks["FRUIT"]]) >= APART
    handout = (PAGES / "class_page/handout.css").read_text()
    fills = dict(re.findall(r"\.([a-z]+)\{fill:(#[0-9a-f]{3,6})", handout))
    assert least_distance([fills["climbed"], fills["fruiting"]]) >= APART
    assert least_distance([fills["mat"], fills["barrier"]]) >= WITH_SHAPE
    for sheet in ("class_page/handout.css", "work_sheets/sheets.css"):
        body = re.search(r"body\{[^}]*color:(#[0-9a-f]{3,6});background:(#[0-9a-f]{3,6})", (PAGES / sheet).read_text())
        assert contrast(body[1], body[2]) >= TEXT


@pytest.mark.parametrize("colours", [shares()(np.linspace(0, 1, 64)), site_module._MATS])
def test_more_is_darker_to_any_eye(colours):
    lightness = seen([colour[:3] if len(colour) == 4 else colour for colour in colours])[:, :, 0]
    assert (np.diff(lightness) < 0).all()
    assert (lightness[:, 0] - lightness[:, -1] > 30).all()


def test_less_and_more_are_as_far_from_white_and_from_each_other():
    colours = changes()(np.linspace(0, 1, 65))[:, :3]
    lightness = seen(colours)[:, :, 0]
    assert (np.diff(lightness[:, :33]) > 0).all() and (np.diff(lightness[:, 32:]) < 0).all()
    assert luminance(colours[32]) == pytest.approx(1.0, abs=0.02)
    for share in (0.0, 0.15, 0.25):  # half of the way on, sides are not taken for each other
        assert least_distance([changes()(share)[:3], changes()(1 - share)[:3]]) >= APART


def test_states_of_hosts_are_told_by_shape_and_by_light():
    bare, climbing, fruiting = site_module._HOSTS
    assert len({look.marker for look in (bare, climbing, fruiting)}) == 3
    assert least_distance([climbing.face, fruiting.face]) >= APART
    grounds = ["#ffffff", *site_module._MATS]
    for look in (bare, climbing, fruiting):
        for ground in grounds:
            assert max(contrast(colour, ground) for colour in (look.face, look.edge)) >= MARK
    fills = [*site_module._MATS, site_module._BARRIER]
    assert least_distance(fills) >= WITH_SHAPE
    for rim in (*site_module._RIM.values(), site_module._HATCH, site_module._BOUNDARY):
        assert contrast(rim, "#ffffff") >= MARK


def test_ink_is_the_one_that_stands_out():
    for grey in np.linspace(0, 1, 41):
        colour = (grey, grey * 0.9, 1 - grey)
        other = {"black": "white", "white": "black"}[ink_on(colour)]
        assert contrast(ink_on(colour), colour) >= contrast(other, colour) and contrast(ink_on(colour), colour) >= TEXT


@pytest.fixture(scope="module")
def data():
    return outcomes(replicates=20, shape=SHAPE, cell=CELL)


@pytest.fixture(scope="module")
def site():
    mat, plantable, sensitive = np.zeros(SHAPE), np.ones(SHAPE), np.zeros(SHAPE)
    mat[2:5, 2:5], mat[6, 3], mat[7, 3], plantable[:, 9], sensitive[8:10, 12:15] = 0.9, 0.2, 0.5, 0, 1
    hosts = {"x": [50.0, 70.0, 90.0], "y": [50.0, 60.0, 180.0], "state": ["bare", "climbing", "fruiting"]}
    unit = np.where(np.arange(18) < 9, 1, 2) * np.ones(SHAPE, int)
    return Site.from_arrays(CELL, mat=mat, plantable=plantable, sensitive=sensitive, hosts=hosts, units=unit)


def ground_of(text: Text):
    """What a text stands on: its box, the halo around its letters, or paper."""
    box = text.get_bbox_patch()
    if box is not None:
        return box.get_facecolor()
    halo = [effect for effect in text.get_path_effects() if hasattr(effect, "_gc")]
    return halo[0]._gc["foreground"] if halo else "white"


def faults(figure: Figure) -> list[str]:
    """Texts, lines, marks and patches that do not stand out on what is behind them."""
    found = []
    for text in figure.findobj(Text):
        if text.get_text().strip() and text.get_visible():
            ratio = contrast(text.get_color(), ground_of(text))
            if ratio < TEXT:
                found.append(f"text {text.get_text()!r}: {ratio:.1f}")
    grid = {line for axes in figure.axes for axis in (axes.xaxis, axes.yaxis) for line in axis.get_gridlines()}
    for axes in (*figure.axes, *figure.legends):
        for line in [line for line in axes.get_lines() if line not in grid]:
            marks = (
                (line.get_markerfacecolor(), line.get_markeredgecolor())
                if line.get_marker() not in ("", "None")
                else ()
            )
            shown = [*marks, *((line.get_color(),) if line.get_linestyle() not in ("None", "") else ())]
            if len(line.get_xdata()) and max((contrast(colour, "white") for colour in shown), default=21) < MARK:
                found.append(f"line {line.get_label()!r} {shown}")
    for drawn in figure.findobj(lambda artist: isinstance(artist, PathCollection)):
        colours = [*drawn.get_facecolors(), *drawn.get_edgecolors()]
        if len(drawn.get_offsets()) and max((contrast(colour, "white") for colour in colours), default=21) < MARK:
            found.append(f"marks {drawn.get_label()!r}")
    backgrounds = {
        figure.patch,
        *(axes.patch for axes in figure.axes),
        *(legend.get_frame() for legend in figure.legends),
    }
    for patch in figure.findobj(Patch):
        if patch in backgrounds or not patch.get_visible():
            continue
        colours = [to_rgba(colour) for colour in (patch.get_facecolor(), patch.get_edgecolor())]
        colours = [colour for colour in colours if colour[3] > 0.99]
        if colours and max(contrast(colour, "white") for colour in colours) < MARK:
            found.append(f"patch {patch} {colours}")
    return found


def found():
    score = np.arange(3.0)[:, None] + np.random.default_rng(1).random((3, 30))
    hours = np.array([[30.0], [20.0], [10.0]]) * np.ones((3, 30))
    origins, beyond = ["given", "cheaper", "found"], np.array([0.0, 0.0, 0.2])
    made = judge(["old", "cheap", "new"], origins, score, hours, hours, beyond, 0.9, 1)
    return made.assign_attrs(score="infested_area", currency="USD")


def grid():
    """Six strategies that win somewhere, half of the points not sure."""
    names = ["no action", *"abcdef"]
    choice = np.arange(7)[None, :].repeat(2, 0)
    shape = (2, 7)
    sides = {
        f"{side}_{what}": told for side in ("along", "against") for what, told in (("title", "hours"), ("unit", "h"))
    }
    return xr.Dataset(
        {
            "choice": (("against", "along"), choice),
            "sure": (("against", "along"), np.array([[1] * 7, [0] * 7])),
            "best": (("against", "along", "strategy"), np.full((*shape, 7), 0.5)),
        },
        {"strategy": names, "along": np.arange(7.0), "against": np.arange(2.0)},
        {"score": "infested_area", "confidence": 0.9, "replicates": 9, **sides},
    )


FIGURES = {
    "site": lambda data, site: site_map(site, notice="Invented."),
    "outcomes": lambda data, site: through_time(data, notice="Invented."),
    "maps": lambda data, site: occupancy_maps(data, site=site),
    "changes": lambda data, site: change_maps(data, site=site),
    "differences": lambda data, site: differences(data),
    "hours": lambda data, site: hours_by_season(data),
    "series": lambda data, site: map_series(data, site=site).figure,
    "search": lambda data, site: front_chart(found()),
    "flips": lambda data, site: flips_map(grid()),
}


_SLOW = ("maps", "series", "search")  # like changes and outcomes in what they draw with


@pytest.mark.parametrize(
    "name", [pytest.param(one, marks=pytest.mark.slow) if one in _SLOW else one for one in FIGURES]
)
def test_what_is_drawn_stands_out(name, data, site):
    assert faults(FIGURES[name](data, site)) == []


def test_the_walk_finds_what_is_too_pale():
    figure = Figure()
    axes = figure.subplots()
    axes.plot([0, 1], [0, 1], color="#e69f00", label="orange")
    axes.text(0.5, 0.5, "grey", color="#8a8a8a")
    axes.bar([0], [1], color="#c9c9c9")
    axes.scatter([0.5], [0.5], c="#dddddd")
    told = " ".join(faults(figure))
    assert all(part in told for part in ("orange", "'grey'", "patch", "marks"))
