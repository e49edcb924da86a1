"""The reference simulator: plain, slow, written from spreadsim/model/ODD.md alone.

It imports nothing from spreadsim; the engine is compared with it for equality.
"""

from .season import PROCESSES, run

__all__ = ["PROCESSES", "run"]
