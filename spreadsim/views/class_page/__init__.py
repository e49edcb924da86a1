"""The class page: one HTML file with two strategies side by side, and a path of a few steps through them."""

from spreadsim.views.class_page.averages import MOST_LUCKS, choose_lucks
from spreadsim.views.class_page.page import class_page, handout
from spreadsim.views.class_page.reel import Reel, joined, reel_of
from spreadsim.views.class_page.steps import Step, choose_steps, films_wanted

__all__ = [
    "MOST_LUCKS",
    "Reel",
    "Step",
    "choose_lucks",
    "choose_steps",
    "class_page",
    "films_wanted",
    "handout",
    "joined",
    "reel_of",
]
