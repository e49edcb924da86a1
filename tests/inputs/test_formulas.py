"""Texts that a spreadsheet would take for formulas are marked, and come back as they were."""

import pytest

from spreadsim.inputs.formulas import marked, unmarked


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@a", " =1", "\t=1"])
def test_what_begins_a_formula_is_marked_and_comes_back(text):
    assert marked(text) == "'" + text and unmarked(marked(text)) == text


@pytest.mark.parametrize("text", ["", " ", "oak", "a=b", "1-2", "'oak'", "'"])
def test_other_texts_stay(text):
    assert marked(text) == text and unmarked(text) == text
