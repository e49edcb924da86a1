"""Compiled kernels are kept by their sources, whatever the place and time of an installation."""

import os
import shutil
from pathlib import Path

import numba
import pytest

from spreadsim.model import cache, draws

COPIES = ("here", "there")


@pytest.fixture
def copies(tmp_path, monkeypatch):
    """The same kernel in two installations, the second younger; yields a function that tells its folder and its stamp."""
    for copy in COPIES:
        shutil.copytree(cache.HERE, tmp_path / copy / "model", ignore=shutil.ignore_patterns("__pycache__"))
    os.utime(tmp_path / "there" / "model" / "draws.py", (1, 1))

    def locate(copy, file="draws.py"):
        home = (tmp_path / copy / "model").resolve()
        monkeypatch.setattr(cache, "HERE", home)
        monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "kept"))
        found = cache.BySource.from_function(draws.philox4x32.py_func, str(home / file))
        monkeypatch.setattr(numba.config, "CACHE_DIR", "")  # as it is when a kernel is compiled
        assert tmp_path / "kept" in Path(found.get_cache_path()).parents
        return Path(found.get_cache_path()), found.get_source_stamp()

    return locate


def test_installations_share_what_is_compiled(copies):
    assert copies("here") == copies("there")


def test_other_sources_are_kept_apart(copies, tmp_path):
    _, before = copies("here")
    (tmp_path / "here" / "model" / "draws.py").write_text("other = 1\n")
    assert copies("here")[1] != before
    folders = {copies("here", file)[0] for file in ("draws.py", "kernels/front.py", "kernels/light.py")}
    assert len(folders) == 3


def test_what_is_no_kernel_keeps_its_own_place(tmp_path, monkeypatch):
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "kept"))
    places = set()
    for copy in COPIES:
        file = tmp_path / copy / "drivers.py"
        file.parent.mkdir()
        file.write_text("x = 1\n")
        places.add(cache.BySource.from_function(draws.philox4x32.py_func, str(file)).get_cache_path())
    assert len(places) == 2


def test_settings_of_numba_are_left_as_they_were():
    before = numba.config.CACHE_DIR, numba.config.CACHE_LOCATOR_CLASSES
    with cache.compiled_into_cache():
        assert str(cache.folder()) == numba.config.CACHE_DIR
    assert before == (numba.config.CACHE_DIR, numba.config.CACHE_LOCATOR_CLASSES)
