"""The clock for what one thread does: its processor time, so that other work on the machine counts as little as it can."""

import time


def now() -> float:
    """Seconds of this thread's processor time; of the wall where the system tells that too coarsely."""
    if time.get_clock_info("thread_time").resolution > 1e-6:
        return time.perf_counter()
    return time.thread_time()
