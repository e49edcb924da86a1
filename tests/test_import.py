"""Importing the package and asking for help must stay light."""

import subprocess
import sys

import pytest

HEAVY = (
    "numba",
    "matplotlib",
    "xarray",
    "dask",
    "distributed",
    "zarr",
    "rasterio",
    "shapely",
    "rich",
    "scipy",
    "pydantic",
    "jinja2",
)


def loaded_after(code: str) -> set[str]:
    """Heavy libraries that a fresh interpreter has loaded after running the code."""
    script = f"{code}\nimport sys\nprint(*[name for name in {HEAVY!r} if name in sys.modules])"
    answer = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(answer.stdout.splitlines()[-1].split())


def test_import_loads_nothing_heavy() -> None:
    assert loaded_after("import spreadsim") == set()


def test_help_loads_nothing_heavy() -> None:
    assert loaded_after("from spreadsim.cli import main\nmain(['--help'])") == set()


def test_reading_inputs_needs_no_compiler_and_no_charts() -> None:
    assert loaded_after("import spreadsim.inputs") <= {"xarray", "pydantic"}


@pytest.mark.parametrize("module", ["spreadsim.runs", "spreadsim.model.compiled"])
def test_running_needs_no_charts(module: str) -> None:
    assert not {"matplotlib", "dask", "distributed", "zarr"} & loaded_after(f"import {module}")
    assert "numba" in loaded_after(f"import {module}")


def test_a_run_on_this_machine_needs_no_cluster() -> None:
    assert "zarr" in loaded_after("import spreadsim.runs.on_disk")
    assert not {"dask", "distributed"} & loaded_after("import spreadsim.runs.on_disk")
