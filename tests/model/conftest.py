"""Marks of the tests of the model."""

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Name the mark, so that `-m "not slow"` leaves the patterns out."""
    config.addinivalue_line("markers", "slow: takes long; leave it out with -m 'not slow'")
