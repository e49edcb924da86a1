"""Running: which replicates, over which cores, and what is kept when a run is interrupted."""

from spreadsim.runs.compare import compare
from spreadsim.runs.film import film
from spreadsim.runs.simulate import simulate
from spreadsim.runs.sweep import SWEEP_FILE, sweep
from spreadsim.runs.until import compare_until

__all__ = ["SWEEP_FILE", "compare", "compare_until", "film", "simulate", "sweep"]
