"""Tables of the brief: the options, the pairs, hours and money by season."""

from __future__ import annotations

from typing import Any

import numpy as np

from spreadsim.analysis.goals import Limit
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.scoring import broken
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.wording import Scale, percent, scale_of, title_in
from spreadsim.schema import SEASONS
from spreadsim.views.brief.facts import Amounts, Facts, shorten

MOST_ROWS = 6
_LONGEST = 80  # letters of a name; longer than a column it is wrapped
BY_YEAR = 5
Table = dict[str, Any]
Cell = tuple[str, str]  # a number, and its range below it


def options(facts: Facts, most: int = MOST_ROWS) -> Table:
    """Give one row for each option, from the best; no action is always among them."""
    most = min(most, MOST_ROWS - 1) if facts.experiment.funds and most == MOST_ROWS else most
    shown = facts.ranked[:most]
    if NO_ACTION in facts.ranked and NO_ACTION not in shown:
        shown = [*shown[:-1], NO_ACTION]
    columns: list[tuple[str, dict[str, Cell]]] = []
    columns += _measured(facts, shown, ("hours", "cost"))
    columns += _by_fund(facts, shown)
    columns += _staying_under(facts, shown)
    columns += _measured(facts, shown, ("seeds_exported", "infested_area"))
    columns += _if_stopped(facts, shown)
    rows = [[name, *(cells[name] for _, cells in columns)] for name in shown]
    left = len(facts.ranked) - len(shown)
    return {
        "heads": ["Option", *(head[0].upper() + head[1:] for head, _ in columns)],
        "rows": rows,
        "left": left,
        "names": {name: shorten(name, _LONGEST) for name in shown},
        "crowded": len(shown) > MOST_ROWS - 1 or len(columns) > 6,
        "chosen": facts.decision.choice if not set(facts.undecided) and len(facts.names) > 1 else "",
    }


def staying_under(facts: Facts) -> Limit | None:
    """Give the bound that the chance in the table is of."""
    if "fruiting_hosts" not in facts.dataset:
        return None
    return Limit("fruiting_hosts", under=facts.under, by=min(facts.first + BY_YEAR, facts.years))


def pairs(facts: Facts, most: int = MOST_ROWS - 1) -> Table:
    """Give how the choice differs from the others that come next, world by world."""
    decision, amounts = facts.decision, Amounts(facts)
    area = next((one for one in MEASURES if one.name == "infested_area" and facts.names_of(one.name)), None)
    both = area is not None and amounts.title != area.title
    heads = ["option", f"{amounts.title} {'less' if amounts.better_higher else 'more'} there", "choice better in"]
    heads += ["infested area more there"] if both else []
    score = decision.scored["score"]
    rows = []
    for name in facts.ranked[1 : most + 1]:
        row = decision.options.sel(strategy=name)
        better = float((score.sel(strategy=decision.choice) < score.sel(strategy=name)).mean())
        span = amounts.span(float(row["ahead_low"]), float(row["ahead_high"]))
        cells = [name, f"{amounts.text(float(row['ahead']))} ({span})", percent(better)]
        if both and area is not None:
            scale = scale_of(facts.summary, area, facts.system)
            pair = facts.summary.sel(measure=area.name, strategy=name, other=decision.choice)
            low, high = float(pair["difference_low"]), float(pair["difference_high"])
            mean = scale.with_unit(scale.text(float(pair["difference"])))
            cells.append(f"{mean} ({scale.span(low, high)})")
        rows.append(cells)
    return {"heads": heads, "rows": rows}


def by_season(facts: Facts, strategy: str, *, unpaid: bool) -> Table:
    """Give the hours and money of a strategy by season, a year on average, and what unpaid hours are worth."""
    rows = []
    for name, kind in (("hours", "hours"), ("cost", "money"), ("match", "money"))[: 3 if unpaid else 2]:
        if name not in facts.dataset or (kind == "money" and not _has_money(facts, name)):
            continue
        values = facts.dataset[name].sel(strategy=strategy).isel(year=slice(1, None)).sum("task").mean("year")
        table = values.transpose("season", "replicate").to_numpy()
        table = np.vstack([table, table.sum(axis=0)])
        scale = Scale(table.ravel(), kind, facts.system, facts.experiment.currency)
        unit = scale.unit.replace(" a year", "")
        head = {"hours": "hours", "cost": f"cash, {unit}", "match": f"worth of unpaid hours, {unit}"}[name]
        rows.append([head, *(_spread(row, scale) for row in table)])
    return {"heads": ["a year", *SEASONS, "all"], "rows": rows}


def by_task(facts: Facts, strategy: str) -> Table:
    """Give hours a year by task: in the first year, the fifth and the last."""
    if "hours" not in facts.dataset or "task_name" not in facts.dataset.coords:
        return {"heads": [], "rows": []}
    values = facts.dataset["hours"].sel(strategy=strategy)
    wanted = {facts.first + 1, min(facts.first + BY_YEAR, facts.years), facts.years}
    years = sorted(wanted & {int(year) for year in values["year"].values})
    table = values.sel(year=years).sum("season").transpose("task", "year", "replicate").to_numpy()
    scale = Scale([np.nanmax(table, initial=0.0)], "hours", facts.system)
    names = [str(name) for name in facts.dataset["task_name"].sel(strategy=strategy).values]
    rows = [[name, *(_spread(table[k, y], scale) for y in range(len(years)))] for k, name in enumerate(names) if name]
    return {"heads": ["task", *(f"hours, year {year}" for year in years)], "rows": rows}


def _measured(facts: Facts, shown: list[str], wanted: tuple[str, ...]) -> list[tuple[str, dict[str, Cell]]]:
    """Columns of measures of the summary: mean, and where 90 % of the worlds lie."""
    columns = []
    for measure in sorted(MEASURES, key=lambda one: wanted.index(one.name) if one.name in wanted else -1):
        if measure.name not in wanted or not facts.names_of(measure.name):
            continue
        if measure.name == "cost" and not _has_money(facts, "cost"):
            continue
        scale = scale_of(facts.summary, measure, facts.system)
        heads = {"hours": "hours a year", "cost": f"{_money_head(facts)}, {scale.unit}"}
        head = heads.get(measure.name, f"{title_in(facts.summary, measure)}, {scale.unit}")
        cells = {}
        for name in shown:
            row = facts.summary.sel(measure=measure.name, strategy=name)
            span = scale.span(float(row["world_low"]), float(row["world_high"])) if facts.worlds > 1 else ""
            cells[name] = (scale.text(float(row["mean"])), span)
        columns.append((head, cells))
    return columns


def _cell(values: Any, scale: Scale) -> Cell:
    low, high = np.quantile(values, [0.05, 0.95])
    return scale.text(float(values.mean())), scale.span(float(low), float(high)) if len(values) > 1 else ""


def _spread(values: Any, scale: Scale) -> str:
    number, span = _cell(values, scale)
    return f"{number} ({span})" if span else number


def _has_money(facts: Facts, name: str) -> bool:
    """Whether anything costs money at all."""
    return name in facts.dataset and bool((facts.dataset[name].sum() > 0).item())


def _money_head(facts: Facts) -> str:
    paid = [crew.name for crew in facts.experiment.crews if crew.paid and crew.price > 0]
    return f"cash ({', '.join(paid)}, material)" if paid and not facts.experiment.funds else "cash"


def _by_fund(facts: Facts, shown: list[str]) -> list[tuple[str, dict[str, Cell]]]:
    """What is spent of each fund over all years."""
    if "fund_left" not in facts.dataset:
        return []
    columns = []
    amounts = {fund.name: fund.amount for fund in facts.experiment.funds}
    for fund in [str(name) for name in facts.dataset["fund"].values]:
        left = facts.dataset["fund_left"].sel(fund=fund)
        spent = left.isel(year=0) - left.isel(year=-1)
        scale = Scale([amounts.get(fund, 0.0), *spent.to_numpy().ravel()], "money", "metric", "")
        unit = scale.unit.replace(" a year", "").replace("money", facts.experiment.currency)
        cells = {name: _cell(spent.sel(strategy=name).to_numpy(), scale) for name in shown}
        columns.append((f"spent of {fund}, all years, {unit}", cells))
    return columns


def _staying_under(facts: Facts, shown: list[str]) -> list[tuple[str, dict[str, Cell]]]:
    limit = staying_under(facts)
    if limit is None:
        return []
    table = broken(facts.dataset, limit)
    cells = {}
    for name in shown:
        row = table.sel(strategy=name)
        low, high = 1 - float(row["high"]), 1 - float(row["low"])
        cells[name] = (percent(1 - float(row["share"])), f"{100 * low:.0f} to {100 * high:.0f}")
    return [(f"chance of fewer than {facts.under:,} fruiting hosts from year {limit.by} on", cells)]


def _if_stopped(facts: Facts, shown: list[str]) -> list[tuple[str, dict[str, Cell]]]:
    stopped = facts.stopped
    if stopped is None:
        return []
    chosen = facts.dataset.sel(replicate=list(stopped.replicates), year=stopped.year)
    fruiting = {NO_ACTION: chosen["fruiting_hosts"].sel(strategy=NO_ACTION).to_numpy()} if NO_ACTION in shown else {}
    fruiting |= stopped.fruiting
    scale = Scale(np.concatenate(list(fruiting.values())), "hosts")
    cells = {name: _cell(fruiting[name], scale) if name in fruiting else ("-", "") for name in shown}
    return [(f"fruiting hosts in year {stopped.year} if money ends after year {stopped.after}", cells)]
