"""Money (ODD page, 7.8): what work costs, and the funds that pay for it."""

import math

from .world import Host


def in_years(years, year):
    """Whether a span of years, counted from 1, holds a year counted from 0."""
    if years is None:
        return True
    first, last = years
    return first <= year + 1 and (last is None or year + 1 <= last)


def order_of_use(funds):
    """Funds, the one that ends first first."""

    def end(fund):
        return math.inf if fund.years is None or fund.years[1] is None else fund.years[1]

    return sorted(funds, key=end)


def usable(plan, year, crew):
    """Numbers of the funds of the year that may pay this crew, in the order of use."""
    return [
        i
        for i, fund in enumerate(plan.funds)
        if in_years(fund.years, year) and (not fund.crews or crew.name in fund.crews)
    ]


def money_left(plan, year, crew):
    """Money that there is for a crew's work; no limit without funds."""
    if not plan.funds:
        return math.inf
    total = 0.0
    for i in usable(plan, year, crew):
        total = total + plan.fund_left[i]
    return total


def pay(plan, year, crew, money):
    """Take money from the funds, from the one that ends first first."""
    for i in usable(plan, year, crew):
        part = min(money, plan.fund_left[i])
        plan.fund_left[i] -= part
        money -= part


def price_of_hour(crew):
    """Currency for an hour; none for those who are not paid."""
    return crew.price if crew.paid else 0.0


def charged_before(crew, worked):
    """What it costs that a crew comes at all, and what of its minimum charge is not yet worked off."""
    minimum = crew.minimum_charge if crew.paid else 0.0
    return (minimum if worked == 0.0 else 0.0), max(0.0, minimum - worked * price_of_hour(crew))


def charge(crew, worked, hours):
    """Money that hours add to a crew's charge for the season in which it has worked some."""
    if hours == 0.0:
        return 0.0
    coming, not_worked_off = charged_before(crew, worked)
    return coming + max(0.0, hours * price_of_hour(crew) - not_worked_off)


def hours_for(money, workers):
    """Most hours that money pays; for each worker what it is charged for coming, what is not worked off, its price."""
    for coming, _, _ in workers:
        money = money - coming
    if money < 0.0:
        return 0.0
    paid = sorted((free / price, price) for _, free, price in workers if price > 0.0)
    hours, price = 0.0, 0.0
    for begins, more in paid:
        if (begins - hours) * price >= money and price > 0.0:
            break
        money = money - (begins - hours) * price
        hours, price = begins, price + more
    return hours + money / price if price > 0.0 else math.inf


def material(world, target, numbers, clean):
    """Currency for the material that a target takes; none on a clean visit."""
    if clean:
        return 0.0
    if isinstance(target, Host):
        return numbers.get("material_per_host", 0.0)
    return numbers.get("material_per_area", 0.0) * (world.h * world.h * target.plantable)
