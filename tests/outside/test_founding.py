"""Founding by small numbers: Poisson counts, branching families, and patches founded per fruiting host."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from spreadsim import Site, load_vine, simulate
from spreadsim.model.compiled import layout, poisson_quantile

from . import drivers
from .helpers import ERRORS, LEAST_P, key_of, make_world, share_z


@pytest.mark.parametrize(("u", "k"), [(0.0301, 0), (0.0302, 1), (0.5, 3), (0.9, 6), (0.99, 8), (0.999, 11)])
def test_poisson_inversion(u, k):
    """Source: inversion table, Poisson 3.5 (scipy, derived): least k with F(k) >= u."""
    assert poisson_quantile(u, 3.5) == k


@pytest.mark.parametrize(
    ("k", "f"), [(0, 0.030197383422), (1, 0.135888225400), (2, 0.320847198862), (3, 0.536632667901)]
)
def test_steps_of_the_poisson_inversion(k, f):
    """Source: F(0..3) of Poisson 3.5 (scipy, derived)."""
    assert poisson_quantile(f - 1e-11, 3.5) == k
    assert poisson_quantile(f + 1e-11, 3.5) == k + 1


@pytest.mark.parametrize("mean", [0.02, 3.5, 60.0, 500.0, 750.0, 5000.0])
def test_keyed_counts_are_poisson(mean):
    """Source: scipy.stats.poisson; mean and variance of 20,000 counts, and chi-square over 20 classes.

    At 750 exp(-mean) is nil in float64 (catalogue: exp(-746)): sees a naive inversion stop at 0 or at a
    bound.
    """
    n = 20000
    counts = np.zeros(n, dtype="i8")
    drivers.counts(key_of(3), np.arange(n), 7, 1, mean, counts)
    assert abs(counts.mean() - mean) < ERRORS * math.sqrt(mean / n)
    # variance of a sample variance: (mu4 - sigma^4) / n with mu4 = 3 m^2 + m
    assert abs(((counts - mean) ** 2).mean() - mean) < ERRORS * math.sqrt((2 * mean**2 + mean) / n)
    edges = np.unique(stats.poisson(mean).ppf(np.linspace(0.0, 1.0, 21)[1:-1]))
    chances = np.diff(np.concatenate([[0.0], stats.poisson(mean).cdf(edges), [1.0]]))
    observed = np.bincount(np.searchsorted(edges, counts), minlength=edges.size + 1)
    assert stats.chisquare(observed, n * chances).pvalue > LEAST_P


FAMILIES = 40000
EXTINCT = {
    1.2: {1: 0.301194212, 2: 0.432329632, 5: 0.584697016, 10: 0.654689764, 20: 0.682148096},
    0.8: {5: 0.865906970, 10: 0.962843840},
}


@pytest.mark.parametrize("mean", [1.2, 0.8])
def test_families_die_out_as_galton_and_watson_have_it(mean):
    """Source: finite generations of a Poisson branching process (Harris 1963, from memory; numbers derived).

    Each parent's offspring is a keyed count of its own: 40,000 families, 4.9 standard errors are 1.2 points.
    Sees luck shared by siblings, or by a parent in two seasons (families of equal fate), or a mean off by 1
    %.
    """
    sizes = np.zeros((FAMILIES, 20), dtype="i8")
    drivers.lineages(key_of(9), mean, False, 10**6, sizes)
    for generation, chance in EXTINCT[mean].items():
        assert share_z((sizes[:, generation - 1] == 0).sum(), FAMILIES, chance) < ERRORS, generation
    if mean == 1.2:
        for generation, average, variance in ((5, 2.48832, 18.5170821), (10, 6.19173642, 160.729318)):
            size = sizes[:, generation - 1]
            assert abs(size.mean() - average) < ERRORS * math.sqrt(variance / FAMILIES), generation


@pytest.mark.parametrize(
    ("mean", "mixed", "chance"),
    [(1.5, False, 0.417188356), (2.0, False, 0.203187870), (1.5, True, 0.666666667), (2.0, True, 0.5)],
)
def test_families_die_out_in_the_end(mean, mixed, chance):
    """Source: Galton-Watson table, Poisson and geometric offspring (from memory; derived).

    Geometric: a Poisson count whose mean varies between parents as an exponential variable, as crops vary
    between hosts. A family of 100 counts as safe (its chance to die out is below 1e-17).
    """
    sizes = np.zeros((FAMILIES, 60), dtype="i8")
    drivers.lineages(key_of(10), mean, mixed, 100, sizes)
    assert ((sizes[:, -1] == 0) | (sizes[:, -1] >= 100)).mean() > 0.9999
    assert share_z((sizes[:, -1] == 0).sum(), FAMILIES, chance) < ERRORS


def test_seeds_that_take_are_a_mixed_poisson_number():
    """Source: Poisson mixed by a lognormal crop of mean 1 and log-sd crop_spread (quadrature).

    20,000 hosts in half shade on one open cell, 0.9 lasting patches a host and year, nothing lost far. Sees a
    crop whose mean is not the mean (65 % high without its - sigma^2 / 2), or chance counted twice.
    """
    n, founded, sigma = 20000, 0.9, 1.0
    columns = {"x": np.full(n, 5e3), "y": np.full(n, 5e3), "state": ["fruiting"] * n, "kind": ["stump"] * n}
    vine = load_vine("wintercreeper").replace({"seed.patches_founded": founded})
    site = Site.from_arrays(100.0, mat=np.zeros((100, 100)), canopy=np.full((100, 100), 0.5), hosts=columns)
    world = make_world(site, vine, seedlings=200000, share_far=0.0, crop_spread=sigma, kernel_u=100.0)
    key = key_of(4)
    drivers.begin(key, world.ground, world.plan, world.state, world.vines)
    drivers.fruit(key, world.ground, world.plan, world.state, world.vines, world.tally, 0, 3)
    seedlings = world.state.seedlings[: world.state.count[layout.N_SEEDLINGS]]
    counts = np.bincount(seedlings["entity"][seedlings["by_bird"] == 1], minlength=n)
    assert abs(counts.mean() - founded) < ERRORS * math.sqrt((founded + founded**2 * math.expm1(sigma**2)) / n)
    chances = np.array([mixed_poisson(k, founded, sigma) for k in range(8)])
    observed = np.bincount(np.minimum(counts, 8), minlength=9)
    assert stats.chisquare(observed, n * np.append(chances, 1.0 - chances.sum())).pvalue > LEAST_P
    # what falls beneath takes by the same chances: the birds leave 0.3 of the seed and take 0.7
    beneath, expected = (seedlings["by_bird"] == 0).sum() / n, founded * 0.3 / 0.7
    assert abs(beneath - expected) < ERRORS * math.sqrt((expected + expected**2 * math.expm1(sigma**2)) / n)


def mixed_poisson(k, mean, sigma):
    """Chance of k by a Poisson count whose mean is lognormal, by quadrature."""
    return integrate.quad(
        lambda z: stats.poisson.pmf(k, mean * math.exp(sigma * z - sigma**2 / 2)) * stats.norm.pdf(z), -9, 9
    )[0]


def patches_per_host(h, worlds):
    """New patches by world and year on a square kilometre with 25 fruiting hosts; no other mat.

    Seeds take three years and lie in no bank: the crops of years 1 to 5 are the patches of years 4 to 8.
    """
    n = round(1000 / h)
    x, y = np.meshgrid(np.linspace(300, 700, 5), np.linspace(300, 700, 5))
    columns = {"x": x.ravel(), "y": y.ravel(), "state": ["fruiting"] * 25}
    vine = load_vine("wintercreeper").replace({"seed.seed_bank_life": 0.0})
    site = Site.from_arrays(h, mat=np.zeros((n, n)), canopy=np.full((n, n), 0.5), hosts=columns)
    out = simulate(
        site,
        vine,
        years=8,
        replicates=worlds,
        seed=6,
        fixed_parameters=True,
        maps="none",
        processes=["birds", "seedlings"],
    )
    assert (out.new_patches.values[:, 1:4] == 0).all()
    return out.new_patches.values[:, 4:], out


def test_a_fruiting_host_founds_patches_at_the_rate_of_the_profile():
    """Source: seed.patches_founded of the profile, per fruiting host and year in open woodland (half canopy).

    75,000 host-years, crops of log-sd 1: 4.9 standard errors are below 4 %. Lost far or off the site
    (quadrature) is reckoned with; two patches on one cell are below 0.2 %. Both cell sizes meet the same
    luck, so they agree within 1 %. Sees a chance per cell instead of per seed (a factor 6 between them), a
    link of the chain used twice.
    """
    rate, found = 0.35, {}
    places = np.linspace(300, 700, 5)
    for h in (2.0, 5.0):
        patches, out = patches_per_host(h, 600)
        u = float(out["birds.kernel_u"][0])
        onsite = np.mean([square_share(x, y, 1000.0, u, 1.42) for x in places for y in places]) * (1.0 - 0.001)
        per_host = patches.sum(axis=1) / (25 * 5)
        error = per_host.std(ddof=1) / math.sqrt(per_host.size)
        assert ERRORS * error < 0.04 * rate
        assert abs(per_host.mean() - rate * onsite) < ERRORS * error, h
        found[h] = per_host.mean()
    assert found[5.0] == pytest.approx(found[2.0], rel=0.01)


def square_share(x, y, width, u, p):
    """Share of a 2Dt kernel that stays in a square: mean over directions of what ends inside (scipy)."""

    def passes(angle):
        dx, dy = math.cos(angle), math.sin(angle)
        r = min(
            (width - x if dx > 0 else x) / max(abs(dx), 1e-12),
            (width - y if dy > 0 else y) / max(abs(dy), 1e-12),
        )
        return (1.0 + r * r / u) ** -p

    return 1.0 - integrate.quad(passes, 0.0, 2.0 * math.pi, limit=400)[0] / (2.0 * math.pi)
