"""Figures by name: what they show, from Python and from the command line, still and moving."""

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image
from pypdf import PdfReader

import spreadsim
from spreadsim import InputError, cli, store
from spreadsim.inputs.embed import embed
from spreadsim.views.hours_chart import pages_of_hours
from spreadsim.views.maps import MOST_ROWS, change_maps
from tests.analysis.synthetic import NAMES, outcomes
from tests.runs.small import experiment

SHAPE = (34, 36)


@pytest.fixture(scope="module")
def data():
    """Synthetic outcomes on the ground of a small invented experiment, which they carry."""
    made = outcomes(replicates=12, shape=SHAPE, cell=2.0, attrs={"input_format": 2})
    attrs, variables = embed(experiment())
    made = made.assign({name: (dims, values, more) for name, (dims, values, more) in variables.items()})
    again = made["hours"] * np.where(made["task"] == 1, 0.6, 0.0)
    again.attrs = {"units": "h", "long_name": "hours of them spent on follow-up visits"}
    return made.assign(follow_up_hours=again).assign_attrs(attrs)


@pytest.fixture(scope="module")
def folder(data, tmp_path_factory):
    where = tmp_path_factory.mktemp("results")
    store.write(data, where / "outcomes.nc")
    return where


def test_hours_are_those_of_the_dataset(data):
    figure = spreadsim.draw_hours(data, years=(2, 5))
    columns = figure.axes[:4]
    assert [axes.get_title(loc="left") for axes in columns] == ["winter", "spring", "summer", "autumn"]
    assert {axes.get_xlabel() for axes in columns} == {"h a year"}
    bars = [patch.get_width() for patch in columns[0].patches]
    # three strategies with two tasks: 50 hours first passes; 25 hours, 15 of them follow-up
    assert bars[:6] == pytest.approx([50, 10] * 3) and bars[6:] == pytest.approx([0, 15] * 3)
    assert figure.legends[0].get_title().get_text() == "mean of years 2 to 5"
    totals = [text.get_text() for text in columns[3].texts]
    assert totals == ["all year", *["200 h", "100 h"] * 3]


def test_differences_are_paired_and_counted(data):
    figure = spreadsim.draw_differences(data, years=(20,), system="metric")
    axes = next(one for one in figure.axes if one.get_title(loc="left").startswith("Infested area, ha"))
    assert axes.get_title(loc="left").endswith("end of year 20")
    values = data["infested_area"].sel(year=20) / 1e4
    means = [line.get_xdata()[0] for line in axes.lines if len(line.get_xdata()) == 1]
    for name, mean in zip(NAMES[1:], means, strict=True):
        assert mean == pytest.approx(float((values.sel(strategy=name) - values.sel(strategy=NAMES[0])).mean()))
    shares = [text.get_text() for text in axes.texts if "%" in text.get_text()]
    expected = [(values.sel(strategy=name) < values.sel(strategy=NAMES[0])).mean() for name in NAMES[1:]]
    assert shares == [f"{100 * float(share):.0f} %" for share in expected]
    hours = next(one for one in figure.axes if one.get_title(loc="left").startswith("Hours worked"))
    assert not hours.texts  # spending less is no aim in itself


def test_changes_are_shares_minus_those_of_no_action(data):
    share = data["occupancy"]
    for name, value in zip(NAMES, (0.5, 1.0, 0.3), strict=False):
        share = share.where(data["strategy"] != name, value)
    more = data.assign(occupancy=share)
    figure = change_maps(more, years=(30,), strategies=NAMES[:3])
    maps = [axes for axes in figure.axes if axes.images]
    assert len(maps) == 2  # no action is what they are compared with
    layer = more["occupancy"].sel(year=30)
    for axes, name in zip(maps, NAMES[1:3], strict=True):
        shown = axes.images[0].get_array().filled(0)
        assert shown == pytest.approx((layer.sel(strategy=name) - layer.sel(strategy=NAMES[0])).values)
        assert axes.images[0].get_clim() == (-1, 1)
    assert maps[0].collections and not maps[1].collections  # more than no action is dotted, less is not
    with pytest.raises(InputError, match="allowed those with maps: 0, 1"):
        change_maps(data, years=(31,))
    with pytest.raises(InputError, match='found no strategy "no action"'):
        change_maps(data.isel(strategy=slice(1, None)))


@pytest.mark.slow
def test_colours_stay_with_their_strategies(data):
    whole, part = (spreadsim.draw_outcomes(data, strategies=names) for names in ((), (NAMES[3],)))
    of_last = [line.get_color() for line in whole.legends[0].get_lines()][3]
    assert [line.get_color() for line in part.legends[0].get_lines()] == [of_last]


def test_ground_units_and_notice_come_from_what_the_outcomes_carry(data):
    inputs = experiment()
    figure = spreadsim.draw_maps(data, strategies=NAMES[:1])
    assert len(figure.axes[0].images) == 2  # the barrier
    assert any("m, north up" in text.get_text() for text in figure.axes[0].texts)
    site = spreadsim.draw_site(data, system="us")
    assert any(text.get_text().endswith(" ft") for text in site.axes[0].texts)
    assert spreadsim.draw_site(inputs).axes
    bare = data.drop_vars([name for name in data if str(name).startswith("input_")])
    assert len(spreadsim.draw_maps(bare, strategies=NAMES[:1]).axes[0].images) == 1
    with pytest.raises(InputError, match="found nothing"):
        spreadsim.draw_site(bare)
    with pytest.raises(InputError, match='system: found "imperial"'):
        spreadsim.draw_maps(data, system="imperial")
    with pytest.raises(InputError, match='strategy: found "mow"'):
        spreadsim.draw_hours(data, strategies=("mow",))


@pytest.mark.parametrize(
    "suffix", [".gif", pytest.param(".webp", marks=pytest.mark.slow), pytest.param(".png", marks=pytest.mark.slow)]
)
def test_the_moving_picture_shows_year_after_year(data, tmp_path, suffix):
    series = spreadsim.draw_series(data, strategies=NAMES[:2], years=(0, 10, 30))
    path = spreadsim.save_figure(series, tmp_path / f"series{suffix}", pixels=320)
    with Image.open(path) as picture:
        assert picture.n_frames == 3 and picture.size == (320, 180) and picture.info.get("loop", 0) == 0
        times, frames = [], []
        for number in range(3):
            picture.seek(number)
            frames.append(np.asarray(picture.convert("RGB")).astype(int))
            times.append(picture.info.get("duration"))
    assert all(np.abs(one - other).max() > 60 for one, other in zip(frames, frames[1:], strict=False))
    if suffix != ".webp":  # Pillow gives times of WebP otherwise
        assert min(times) > 1000 / 3  # never three changes a second (WCAG 2.2, 2.3.1)


@pytest.mark.slow
def test_the_same_series_has_pages_and_the_numbers_of_each_year(data, tmp_path):
    series = spreadsim.draw_series(data, strategies=NAMES[:2], years=(0, 30))
    series.show(30)
    mean = float(data["infested_area"].sel(strategy=NAMES[0], year=30).mean()) / 1e4
    assert f"{mean:.2f} ha infested" in series.figure.axes[0].get_title()
    assert "end of year 30" in [text.get_text() for text in series.figure.texts]
    book = PdfReader(spreadsim.save_figure(series, tmp_path / "series.pdf"))
    assert len(book.pages) == 2 and "start" in book.pages[0].extract_text()
    with pytest.raises(InputError, match=r'found the ending ".svg", allowed .gif'):
        spreadsim.save_figure(series, tmp_path / "series.svg")


def test_the_ending_says_the_format(tmp_path):
    figure = Figure()
    figure.subplots().plot([0, 1])
    starts = {"a.svg": b"<?xml", "a.pdf": b"%PDF", "a.png": b"\x89PNG", "a.webp": b"RIFF"}
    for name, start in starts.items():
        path = spreadsim.save_figure(figure, tmp_path / name, description="Hours", pixels=400)
        assert path.read_bytes().startswith(start)
    for name in ("a.png", "a.webp"):
        with Image.open(tmp_path / name) as picture:
            assert picture.size[0] == 400
    with pytest.raises(InputError, match=r'found the ending ".bmp"'):
        spreadsim.save_figure(figure, tmp_path / "a.bmp")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(starts)


def test_strategies_are_shared_out_over_slides(data):
    assert pages_of_hours(data, NAMES) == [NAMES[1:]]
    many = ("no action", *(f"way {k}" for k in range(12)))
    pages = pages_of_hours(
        outcomes(many, replicates=2, area=dict.fromkeys(many, 1.0), seeds=dict.fromkeys(many, 1.0)), many
    )
    assert [name for page in pages for name in page] == list(many[1:]) and max(map(len, pages)) <= 7
    assert MOST_ROWS == 4


def test_the_command_draws_one_or_all(folder, tmp_path, capsys):
    one = tmp_path / "s.svg"
    assert cli.main(["draw", str(folder), "--what", "site", "--out", str(one), "--units", "us"]) == 0
    assert " ft<" in one.read_text() and str(one) in capsys.readouterr().out
    small = ["--pixels", "300", "--strategy", NAMES[0], "--strategy", NAMES[1]]
    assert cli.main(["draw", str(folder), "--what", "site", *small]) == 0
    assert {path.name for path in (folder / "figures").iterdir()} == {"site.png", "site.svg"}


@pytest.mark.slow
def test_all_is_drawn_if_nothing_is_named(folder, tmp_path):
    assert cli.main(["draw", str(folder), "--out", str(tmp_path / "all"), "--pixels", "400"]) == 0
    stems = ("site", "outcomes", "differences", "hours", "maps", "changes")
    written = {f"{stem}.{suffix}" for stem in stems for suffix in ("png", "svg")} | {"series.gif"}
    assert {path.name for path in (tmp_path / "all").iterdir()} == written


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--out", "a.png"], "--out: found the file a.png with 0 --what"),
        (["--what", "site", "--year", "3"], "--year: found 3 with --what site"),
        (["--what", "maps", "--strategy", "mow"], '--strategy: found "mow"'),
        (["--what", "series", "--out", "a.svg"], '--out: found the ending ".svg", allowed .gif'),
        (["--year", "3"], "--year: found 3 without --what"),
        (["--what", "hours", "--year", "99"], "year: found 99"),
    ],
)
def test_what_cannot_be_drawn_is_said(folder, tmp_path, monkeypatch, capsys, arguments, told):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["draw", str(folder), *arguments]) == 2
    assert told in capsys.readouterr().err and not list(tmp_path.iterdir())
