"""Seed and seedlings of the reference simulator."""

import math

import numpy as np
import pytest

from . import birds, example, record, seedlings, treat
from .helpers import ERRORS, world_of
from .world import FOUNDER


def test_distance_to_the_sites_edge():
    world = world_of(example.site(3, 5, 2.0))
    assert birds.distance_to_edge(world, 4.0, 2.0, math.pi / 4) == pytest.approx(4.0 * math.sqrt(2.0))
    assert birds.distance_to_edge(world, 4.0, 2.0, math.pi) == pytest.approx(4.0)
    assert birds.distance_to_edge(world, 4.0, 2.0, 1.5 * math.pi + 0.1) == pytest.approx(2.0 / math.cos(0.1))


def test_share_leaving_a_large_site_is_the_share_carried_far():
    world = world_of(example.site(1, 1, 1e7))
    assert birds.share_leaving(world, 5e6, 5e6) == pytest.approx(0.001, rel=1e-6)
    assert birds.share_leaving(world, 0.0, 5e6) == pytest.approx(0.001 + 0.999 / 2, rel=1e-3)


def test_landed_seed_follows_the_kernel_and_the_founding_rate():
    n, vine = 101, example.vine(seed__patches_founded=3.0, birds__median_distance=20.0)
    world = world_of(example.site(n, n, 10.0, canopy=np.full((n, n), 0.5)), vine)
    taken = 200_000
    birds.disperse_by_birds(world, 0, 505.0, 505.0, taken, 3, 1.0)
    founded = [math.hypot(s.cell.x - 505.0, s.cell.y - 505.0) for s in world.seedlings]
    expected = taken * 3.0 / (500.0 * 2.0 * 0.7)
    assert abs(len(founded) - expected) < ERRORS * math.sqrt(expected)
    near = sum(1 for r in founded if r < 100.0) / len(founded)
    share = 1.0 - (1.0 + 100.0**2 / world.p["birds.kernel_u"]) ** -1.42
    assert near == pytest.approx(share, abs=ERRORS * math.sqrt(share * (1 - share) / expected) + 0.01)


def test_local_factors_never_exceed_their_bound_and_their_perch_mean_is_1():
    world = world_of(example.small_park())
    for cell in world.cells:
        cell.disturbed_until = 5.0
        assert 0.0 <= birds.local_factors(world, cell, 4.0) <= birds.bound(world) * (1 + 1e-12)
        assert birds.factors_without_perch(world, cell, 4.0) <= birds.bound_beneath(world) * (1 + 1e-12)
    assert any(cell.perch for cell in world.cells)
    plain = sum(birds.factors_without_perch(world, c, 9.0) for c in world.cells if not c.perch)
    perched = sum(birds.local_factors(world, c, 9.0) for c in world.cells if not c.perch)
    assert perched == pytest.approx(plain / birds.mean_perch_weight(world))


def test_crops_have_their_mean_and_spread():
    world = world_of(example.site(1, 1, 2.0))
    logs = [math.log(birds.crop_of_year(world, j, 0) / 1000.0) for j in range(1500)]
    assert abs(np.mean(logs) + 0.5) < ERRORS / math.sqrt(1500)
    assert abs(np.var(logs) - 1.0) < ERRORS * math.sqrt(2 / 1500)


def test_seeds_are_whole_and_accounted_for():
    world = world_of(example.site(1, 1, 2.0))
    for j in range(200):
        seeds, taken = birds.whole_seeds(world, j, 3, 0.37 * j)
        assert 0.37 * j - 1 < seeds < 0.37 * j + 1
        assert 0 <= taken <= seeds
    host = example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0}])
    assert birds.seeds_leaving(world_of(host), world_of(host).hosts[0], 3, 50) <= 50


def test_seedlings_germinate_root_and_give_way():
    world = world_of(example.site(1, 2, 2.0), example.vine(seed__seed_bank_life=0.0))
    books_of_year = record.Record(world, 1, 0)
    for number in (0, 1):
        seedlings.shed(world, 5, 3, number, world.cells[0], by_birds=True)
    seedlings.shed(world, 5, 3, birds.BENEATH, world.cells[1], by_birds=False)
    assert [(s.germinates, s.roots) for s in world.seedlings] == [(4, 15)] * 3
    seedlings.root(world, 14, 3.75, books_of_year)
    assert not any(cell.infested for cell in world.cells)
    seedlings.root(world, 15, 4.0, books_of_year)
    assert [cell.kind for cell in world.cells] == [FOUNDER, FOUNDER]
    assert [cell.push for cell in world.cells] == [4.0, 4.0]
    assert books_of_year.new_patches == 1  # the second found the cell taken, the third fell beneath its host
    assert world.seedlings == []


def test_bird_borne_seedlings_root_before_those_from_beneath():
    for first in (True, False):
        world = world_of(example.site(1, 1, 2.0), example.vine(seed__seed_bank_life=0.0))
        book = record.Record(world, 1, 0)
        seedlings.shed(world, 5, 3, 1, world.cells[0], by_birds=first)
        seedlings.shed(world, 5, 3, 2, world.cells[0], by_birds=not first)
        seedlings.root(world, 15, 4.0, book)
        assert book.new_patches == 1


def test_a_host_cut_when_it_bore_bears_what_the_cut_leaves_and_nothing_if_that_is_nil():
    site = example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0, "state": 2, "known": False}])
    for left, bears in ((0.9, True), (0.0, False)):
        world = world_of(site)
        host, book = world.hosts[0], record.Record(world, 1, 0)
        host.share_left_of_cut_crop = left  # and it may be climbing again already, with fruit
        birds.fruit(world, 0, 3, 1.0, 1, book)
        crop = birds.crop_of_year(world, 0, 0)
        assert book.bore == ({0} if bears else set())
        assert abs(book.seeds_produced - left * crop) <= 1
        assert book.known_when_they_bore == set()


def test_seedlings_are_killed_from_germination_on():
    world = world_of(example.site(1, 1, 2.0), example.vine(seed__seed_bank_life=0.0))
    for number in range(200):
        seedlings.shed(world, 5, 3, number, world.cells[0], by_birds=True)
    treat.treat_seedlings(world, world.cells[0], {"seedling_kill": 1.0}, 3)
    assert all(s.alive for s in world.seedlings)
    treat.treat_seedlings(world, world.cells[0], {"seedling_kill": 0.6}, 4)
    alive = sum(1 for s in world.seedlings if s.alive)
    assert abs(alive - 80) < ERRORS * math.sqrt(200 * 0.24)


def test_seedlings_die_of_a_cover_at_germination_or_when_it_is_laid_and_lie_dormant_beneath_it():
    world = world_of(example.site(1, 2, 2.0), example.vine(seed__seed_bank_life=0.0))
    covered, bare = world.cells
    for cell in (covered, bare):
        for shed_in in (3, 4, 5):  # they germinate in the seasons 4, 5 and 6
            seedlings.shed(world, 5, shed_in, cell.number, cell, by_birds=True)

    def alive(cell):
        return [s.germinates for s in world.seedlings if s.alive and s.cell is cell]

    # laid in season 4, at 1.0, until 1.5, the start of season 6
    treat.treat_cell(world, covered, example.treatment("tarp", ["mat"], {}), {"cover_years": 0.5}, 4, 1.0, False)
    assert alive(covered) == [5, 6]
    for season, now, left in ((5, 1.05, [6]), (6, 1.5, [6])):
        seedlings.germinate(world, season, now)
        assert alive(covered) == left
    assert alive(bare) == [4, 5, 6]


def test_rows_count_from_the_north_and_metres_from_the_south_west():
    world = world_of(example.site(3, 4, 2.0, hosts=[{"x": 7.0, "y": 5.5}]))
    assert world.cell_under(7.0, 5.5).number == 3
    assert world.cell_under(0.1, 0.1).number == 8
    assert (world.cells[8].x, world.cells[8].y) == (1.0, 1.0)
    assert world.cell_under(-0.1, 1.0) is None
    assert world.cell_under(1.0, 6.0) is None
    # within 3 m of the host: its own cell, the ones beside and beneath, not the one diagonal to it
    assert [cell.number for cell in world.cells if cell.perch] == [2, 3, 7]


def test_low_hosts_are_no_perches():
    world = world_of(example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0, "height": 1.9}]))
    assert not world.cells[0].perch


def test_seed_beneath_lies_evenly_within_2_metres():
    n, h = 41, 0.1
    world = world_of(example.site(n, n, h, hosts=[{"x": 2.05, "y": 2.05}]), example.vine(seed__patches_founded=3.0))
    birds.drop_beneath(world, world.hosts[0], 60_000, 3, 1.0)
    distances = [math.hypot(s.cell.x - 2.05, s.cell.y - 2.05) for s in world.seedlings]
    expected = 60_000 * birds.chain(world) / birds.reference_light(world)
    assert abs(len(distances) - expected) < ERRORS * math.sqrt(expected)
    assert max(distances) < 2.0 + h
    inner = sum(1 for r in distances if r < 1.0) / len(distances)
    assert inner == pytest.approx(0.25, abs=ERRORS * math.sqrt(0.1875 / expected) + 0.01)
    assert min(s.number for s in world.seedlings) >= 2**16
    assert not any(s.by_birds for s in world.seedlings)


def test_a_crop_is_spread_evenly_over_its_fruit_seasons():
    site = example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0, "state": 2}])
    for fruit_seasons in (("autumn",), ("winter", "spring")):
        world = world_of(site, example.vine(seed__fruit_season=fruit_seasons))
        crop = birds.crop_of_year(world, 0, 0)
        book = record.Record(world, 1, 0)
        for s in range(len(fruit_seasons)):
            birds.fruit(world, 0, s, 0.5, len(fruit_seasons), book)
        assert abs(book.seeds_produced - crop) <= len(fruit_seasons)
        assert crop > 10
        assert book.bore == {0}


def test_a_planted_source_counts_as_many_hosts_and_its_seed_is_not_produced_here():
    founded = []
    for equivalents in (0.0, 20.0, 400.0):
        world = world_of(example.site(20, 20, 2.0, sources=[(20.0, 20.0, equivalents)]))
        world.p["seed.microsite_share"] = 1.0
        book = record.Record(world, 1, 0)
        birds.fruit(world, 0, 3, 1.0, 1, book)
        founded.append(len(world.seedlings))
        assert book.seeds_produced == 0
        assert book.seeds_exported == 0
    assert founded[0] == 0
    assert founded[2] > 5 * founded[1] > 0


def test_seed_finds_disturbed_ground_more_often():
    numbers = []
    for until in (-math.inf, 5.0):
        world = world_of(example.site(20, 20, 5.0))
        for cell in world.cells:
            cell.disturbed_until = until
        birds.disperse_by_birds(world, 0, 50.0, 50.0, 200_000, 3, 4.0)
        numbers.append(len(world.seedlings))
    assert 1.5 < numbers[1] / numbers[0] < 2.1
