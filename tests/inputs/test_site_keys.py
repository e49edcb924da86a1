"""All that a site file may hold stands in the docstring of `read_site`, and a survey's columns in `read_survey`'s."""

from __future__ import annotations

import re

import pytest

import spreadsim
from spreadsim import inputs
from spreadsim.inputs.file_models import FileTable, SiteTable, SurveyTable, TotalsTable
from spreadsim.inputs.gis_source import KEYS
from spreadsim.inputs.layers_file import LAYERS
from spreadsim.inputs.survey_rows import COLUMNS


def words(of: object) -> set[str]:
    """Give the names in double backticks, and those within them."""
    told = re.findall(r"``(.+?)``", str(getattr(of, "__doc__", "")), re.DOTALL)
    return {word for text in told for word in re.findall(r"\w+", text)}


@pytest.mark.parametrize("model", [SiteTable, FileTable, SurveyTable, TotalsTable])
def test_every_key_of_a_site_is_named(model: type) -> None:
    assert set(model.model_fields) - words(spreadsim.read_site) == set()


def test_every_layer_and_every_kind_of_file_is_named() -> None:
    named = words(spreadsim.read_site)
    assert (set(KEYS) | set(LAYERS)) - named == set()
    for kind in ("NetCDF", "GeoTIFF", "GeoPackage", "GeoJSON", "GPX", "KML", "CSV", ".xlsx"):
        assert kind in str(spreadsim.read_site.__doc__)


def test_every_column_of_a_survey_is_named() -> None:
    plain = {"longitude": "decimalLongitude", "latitude": "decimalLatitude"}
    plain["uncertainty"] = "coordinateUncertaintyInMeters"
    wanted = {plain.get(name, name) for name in COLUMNS}
    assert wanted - words(spreadsim.read_survey) == set()


def test_surveys_are_public() -> None:
    assert {"Survey", "read_survey"} <= set(spreadsim.__all__)
    assert spreadsim.read_survey is inputs.read_survey and spreadsim.Survey is inputs.Survey
