"""Checks of the model against values that this project did not make; each test names its source."""
