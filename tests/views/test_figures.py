"""Figures: what is drawn, in which unit, and the same bytes every time."""

import subprocess
import sys

import numpy as np
import pytest
from matplotlib.colors import to_hex

from spreadsim.errors import InputError
from spreadsim.inputs import Site
from spreadsim.views.maps import MOST_ROWS, occupancy_maps, pages
from spreadsim.views.style import COLOURS, SLIDE, lines_of, save
from spreadsim.views.through_time import through_time
from tests.analysis.synthetic import NAMES, outcomes

SHAPE, CELL = (20, 30), 20.0


@pytest.fixture(scope="module")
def dataset():
    return outcomes(replicates=20, shape=SHAPE, cell=CELL)


@pytest.fixture(scope="module")
def site():
    plantable = np.ones(SHAPE)
    plantable[:, 10] = 0
    hosts = {"x": [50.0, 100.0, 300.0], "y": [50.0, 60.0, 300.0], "state": ["bare", "climbing", "fruiting"]}
    return Site.from_arrays(CELL, plantable=plantable, hosts=hosts)


def texts(figure):
    return [text.get_text() for text in figure.findobj(match=lambda artist: hasattr(artist, "get_text"))]


def panel(figure, title):
    return next(axes for axes in figure.axes if axes.get_title(loc="left").startswith(title))


def test_lines_are_the_means_and_bands_the_worlds(dataset):
    axes = panel(through_time(dataset), "Infested area, ha")
    values = dataset["infested_area"] / 1e4
    for place, name in enumerate(NAMES):
        line = axes.lines[3 * place]  # a line, a bar and a mark for each strategy
        assert line.get_ydata() == pytest.approx(values.sel(strategy=name).mean("replicate").values)
        assert line.get_xdata() == pytest.approx(np.arange(31))
        corners = axes.collections[place].get_paths()[0].vertices
        assert corners[:, 1].max() == pytest.approx(float(values.sel(strategy=name).quantile(0.95, "replicate").max()))
        bar = axes.lines[3 * place + 1].get_ydata()
        ends = values.sel(strategy=name, year=30).quantile([0.05, 0.95]).values
        assert bar == pytest.approx(ends)


def test_units_of_the_country(dataset):
    axes = panel(through_time(dataset, system="us"), "Infested area, acres")
    mean = float(dataset["infested_area"].sel(strategy="no action", year=30).mean()) / 4046.8564224
    assert axes.lines[0].get_ydata()[-1] == pytest.approx(mean)


def test_many_seeds_are_told_in_thousands():
    dataset = outcomes(seeds=dict.fromkeys(NAMES, 90_000.0))
    axes = panel(through_time(dataset), "Seeds leaving the site, thousand a year")
    mean = float(dataset["seeds_exported"].sel(strategy="no action", year=30).mean())
    assert axes.lines[0].get_ydata()[-1] == pytest.approx(mean / 1000)


def test_all_six_outcomes_are_drawn_and_those_missing_left_out(dataset):
    titles = [axes.get_title(loc="left") for axes in through_time(dataset).axes if axes.get_visible()]
    assert titles == [
        "Infested area, ha",
        "Climbed hosts",
        "Fruiting hosts",
        "Seeds leaving the site, a year",
        "Native cover, %",
        "Hours worked, h a year",
    ]
    fewer = through_time(dataset.drop_vars(["native_cover", "hours"]))
    assert sum(axes.get_visible() for axes in fewer.axes) == 4


def test_strategies_differ_in_more_than_colour():
    names = ("no action", *(f"way {i}" for i in range(9)))
    lines = lines_of(names)
    assert {to_hex(line.colour) for line in lines.values()} == {*COLOURS, "#000000"}
    looks = [(line.colour, str(line.dashes), line.marker) for line in lines.values()]
    assert len(set(looks)) == len(names)
    assert len({line.marker for line in list(lines.values())[:8]}) == 8
    assert lines_of(names[:3])["way 1"] == lines["way 1"]


def test_letters_are_large_enough_and_the_size_is_fixed(dataset):
    for figure in (through_time(dataset, notice="Invented."), occupancy_maps(dataset)):
        sizes = [t.get_fontsize() for t in figure.findobj(lambda a: hasattr(a, "get_fontsize")) if t.get_text()]
        assert min(sizes) >= 13
    assert tuple(through_time(dataset).get_size_inches()) == SLIDE


def test_what_must_be_said_is_on_the_figure(dataset):
    for figure in (
        through_time(dataset, notice="All invented."),
        occupancy_maps(dataset, notice="All invented."),
    ):
        assert "All invented." in figure.get_suptitle()
        assert "Invented woodland" in figure.get_suptitle()


def test_maps_show_start_middle_and_end_of_each_strategy(dataset):
    figure = occupancy_maps(dataset)
    maps = [axes for axes in figure.axes if axes.images]
    assert len(maps) == 12
    assert [axes.get_title() for axes in maps[:3]] == ["start", "end of year 15", "end of year 30"]
    for row, name in enumerate(NAMES):
        for column, year in enumerate((0, 15, 30)):
            shown = maps[3 * row + column].images[0]
            layer = dataset["occupancy"].sel(strategy=name, year=year).values
            assert np.array_equal(shown.get_array().mask, layer == 0)
            assert shown.get_array().filled(0) == pytest.approx(layer)
            assert shown.origin == "upper" and shown.cmap.name == "shares"
            assert shown.get_clim() == (0, 1)
    assert maps[0].images[0].get_extent() == [0, 600, 0, 400]


def test_years_without_maps_are_passed_over(dataset):
    occupancy = dataset["occupancy"].where(dataset["year"] % 10 == 0)
    figure = occupancy_maps(dataset.assign(occupancy=occupancy))
    assert [axes.get_title() for axes in figure.axes[:3]] == ["start", "end of year 10", "end of year 30"]


def test_barriers_and_hosts_are_marked(dataset, site):
    figure = occupancy_maps(dataset, site=site)
    start, middle = figure.axes[0], figure.axes[1]
    barrier = start.images[1].get_array()
    assert (~barrier.mask).sum(axis=0).tolist() == [20 if column == 10 else 0 for column in range(30)]
    grey = to_hex(start.images[1].cmap(0))
    assert grey[1:3] == grey[3:5] == grey[5:7]
    climbed, fruiting = (offsets.get_offsets().tolist() for offsets in start.collections)
    assert climbed == [[100, 60]] and fruiting == [[300, 300]]
    assert not middle.collections
    assert [text.get_text() for text in figure.legends[0].get_texts()] == [
        "the vine cannot grow here",
        "climbed host at the start",
        "fruiting host at the start",
    ]
    bare = occupancy_maps(dataset, site=site, hosts=False)
    assert not bare.axes[0].collections and len(bare.legends[0].get_texts()) == 1
    assert not occupancy_maps(dataset, site=Site.from_arrays(CELL, plantable=np.ones(SHAPE))).legends


@pytest.mark.parametrize(("system", "told", "metres"), [("metric", "100 m", 100.0), ("us", "500 ft", 152.4)])
def test_the_scale_bar_is_true(dataset, system, told, metres):
    axes = [axes for axes in occupancy_maps(dataset, system=system).axes if axes.images][-3]
    (bar,) = axes.patches
    assert bar.get_width() * 600 == pytest.approx(metres)
    assert any(text.get_text().startswith(told) for text in axes.texts)


def test_many_strategies_go_on_several_pages():
    names = ("no action", *(f"way {i}" for i in range(7)))
    shared = pages(names)
    assert all(len(page) <= MOST_ROWS and page[0] == "no action" for page in shared)
    assert [name for page in shared for name in page[1:]] == list(names[1:])
    assert [len(page) for page in pages(names[:5])] == [3, 3]
    assert pages(("no action",)) == [("no action",)]
    assert pages(("a", "b")) == [("a", "b")]


def test_without_maps_there_is_nothing_to_draw(dataset):
    with pytest.raises(InputError, match="found no occupancy"):
        occupancy_maps(dataset.drop_vars("occupancy"))
    with pytest.raises(InputError, match="missing in all years"):
        occupancy_maps(dataset.assign(occupancy=dataset["occupancy"] * np.nan))


def test_the_same_figure_gives_the_same_bytes(dataset, tmp_path):
    written = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        files = save(through_time(dataset), tmp_path / name, "through-time", "Outcomes by year")
        written.append([path.read_bytes() for path in files])
    assert written[0] == written[1]
    png, svg = written[0]
    assert png.startswith(b"\x89PNG") and b"Outcomes by year" in svg
    assert b"<dc:date>" not in svg and b"Infested area, ha" in svg


def test_no_state_of_pyplot_is_touched():
    code = (
        "import sys, spreadsim.views.maps, spreadsim.views.through_time, spreadsim.views.style;"
        "sys.exit('matplotlib.pyplot' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
