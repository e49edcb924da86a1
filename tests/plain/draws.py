"""Keyed draws (ODD page, section 4): a draw depends on what it decides and on nothing else."""

import math

WORD = 2**32

PARAMETER = 1
WAIT = 2
EVER_FRUITS = 3
AGE = 4
CLIMB = 5
CROP = 6
LANDING = 7
KEEP = 8
LIFE = 9
ROUNDING = 10
KILL = 11
CLEAR = 12
SEEDLING_KILL = 13
CUT = 14
BASE = 15
FIND_MAT = 16
FIND_HOST = 17
FAIL = 18
WEATHER = 19
NUMBER_OF_CANDIDATES = 20
LANDING_BENEATH = 21
FALLING_TREES = 22
TURNOUT = 23
EVENT = 24
EVENT_FELLS = 25
CONSENT = 26

FIRST_SOURCE = 2**31
FIRST_EVENT = 2**31 + 2**30
BACKGROUND_SEED = 2**32 - 1
FALLING = 2**32 - 2

LARGEST_MEAN_AT_ONCE = 500.0


def philox(counter, key):
    """Philox 4x32-10: four counter words and two key words to four words (Salmon et al. 2011)."""
    c0, c1, c2, c3 = counter
    k0, k1 = key
    for turn in range(10):
        if turn > 0:
            k0 = (k0 + 0x9E3779B9) % WORD
            k1 = (k1 + 0xBB67AE85) % WORD
        product0 = 0xD2511F53 * c0
        product1 = 0xCD9E8D57 * c2
        high0, low0 = product0 // WORD, product0 % WORD
        high1, low1 = product1 // WORD, product1 % WORD
        c0, c1, c2, c3 = high1 ^ c1 ^ k0, low1, high0 ^ c3 ^ k1, low0
    return c0, c1, c2, c3


def uniform(high_word, low_word):
    """One uniform in (0, 1) of two words: ((w0 2^32 + w1) >> 12 + 1/2) 2^-52."""
    return (((high_word * WORD + low_word) >> 12) + 0.5) * 2.0**-52


class Draws:
    """All the chance of one replicate."""

    def __init__(self, seed, replicate):
        self.key = (int(seed) % WORD, int(replicate) % WORD)

    def pair(self, process, entity, season, number):
        """U(process, entity, season, number): a pair of uniforms."""
        counter = (int(entity) % WORD, int(season) % WORD, int(number) % WORD, process)
        w0, w1, w2, w3 = philox(counter, self.key)
        return uniform(w0, w1), uniform(w2, w3)

    def first(self, process, entity, season, number):
        """Give U, the first of the pair."""
        return self.pair(process, entity, season, number)[0]

    def second(self, process, entity, season, number):
        """Give U2, the second of the pair."""
        return self.pair(process, entity, season, number)[1]

    def poisson(self, mean, process, entity, season, number):
        """Count with the given mean; a mean over 500 in equal parts, part i with number + 1000 i."""
        if mean <= LARGEST_MEAN_AT_ONCE:
            return least_count(mean, self.first(process, entity, season, number))
        parts = math.ceil(mean / LARGEST_MEAN_AT_ONCE)
        total = 0
        for i in range(parts):
            total += least_count(mean / parts, self.first(process, entity, season, number + 1000 * i))
        return total


def least_count(mean, u):
    """Give the least k with F(k) >= u, F being the Poisson distribution with this mean."""
    if mean <= 0.0:
        return 0
    k = 0
    chance = math.exp(-mean)
    below = chance
    while below < u:
        k += 1
        chance = chance * mean / k
        if k > mean and below + chance == below:
            break  # F is as near to 1 as float64 brings it, and u is nearer
        below = below + chance
    return k
