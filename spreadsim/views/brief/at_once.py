"""What tells units apart where the year in which work begins does not."""

from spreadsim.analysis.wording import percent
from spreadsim.inputs.task import kind_of_work
from spreadsim.views.brief.facts import Facts

_MOST_UNITS = 4


def all_at_once(facts: Facts) -> str:
    """Where one kind of work begins in all units in year 1, say where most of its hours go first."""
    told, names = facts.beginning, facts.experiment.site.unit_names
    if told is None or facts.chosen is None or len(names) < 2:
        return ""
    kinds = [kind_of_work(facts.experiment.treatment(task.treatment)) for task in facts.chosen.tasks]
    lines = []
    for kind, what in (("stems", "climbing stems"), ("mat", "mats")):
        entries = [entry for entry in told.entries if entry.unit and entry.kind == kind]
        hours = {entry.unit: 0.0 for entry in entries}
        for work in told.work:
            if work.unit in hours and kinds[work.task] == kind:
                hours[work.unit] += work.hours[0]
        whole = sum(hours.values())
        if len(entries) < 2 or whole <= 0 or any(entry.year != 1 for entry in entries):
            continue
        most = sorted(hours, key=lambda unit: -hours[unit])[:_MOST_UNITS]
        shares = ", ".join(f"{names[unit - 1]} {percent(hours[unit] / whole)}" for unit in most)
        lines.append(
            f"Work on {what} begins in all units in year 1; of its mean hours in the first two seasons: {shares}."
        )
    return " ".join(lines)
