"""Are orders of one fern kept one after the other, each in its size?"""

from __future__ import annotations

import numpy as np
import pytest

from batches.core.orders_kept import NO_SIZE, Promise, chance_of_last
from batches.core.pot_size import size_key


def pot_by_pot(promises: list[Promise], there: dict[str, list[int]]) -> float:
    """Second implementation: single pots handed out, draw by draw."""
    kept = 0
    draws = len(there[NO_SIZE])
    named = {one.size for one in promises if one.size}
    for draw in range(draws):
        heap = [size for size, pots in there.items() for _ in range(pots[draw])]
        for one in promises:
            got = 0
            for _ in range(one.pots):
                fit = [size for size in heap if not one.size or size in {one.size, NO_SIZE}]
                if not fit:
                    break
                if one.size:
                    fit.sort(key=lambda size: size == NO_SIZE)
                else:
                    fit.sort(key=lambda size: (size in named, size == NO_SIZE))
                heap.remove(fit[0])
                got += 1
        kept += got == promises[-1].pots
    return kept / draws


@pytest.mark.parametrize("seed", range(30))
def test_the_chance_is_that_of_pots_handed_out_one_by_one(seed):
    rng = np.random.default_rng(seed)
    sizes = [NO_SIZE, "9cm", "1l", "2l"]
    there = {size: [int(n) for n in rng.integers(0, 7, 40)] for size in sizes}
    promises = [
        Promise(pots=int(rng.integers(1, 6)), size=str(rng.choice(sizes[:3])))
        for _ in range(rng.integers(1, 5))
    ]

    chance = chance_of_last(promises, {size: np.array(pots) for size, pots in there.items()})

    assert chance == pytest.approx(pot_by_pot(promises, there))


def test_pots_of_another_size_keep_no_promise_and_pots_in_none_yet_do():
    there = {"1l": np.array([50.0]), "9cm": np.array([10.0]), NO_SIZE: np.array([0.0])}
    assert chance_of_last([Promise(pots=30, size="9cm")], there) == 0.0
    assert chance_of_last([Promise(pots=30)], there) == 1.0
    there[NO_SIZE] = np.array([20.0])
    assert chance_of_last([Promise(pots=30, size="9cm")], there) == 1.0


def test_an_earlier_order_takes_what_it_lacks_before_a_later_one_gets_anything():
    there = {NO_SIZE: np.array([50.0])}
    assert chance_of_last([Promise(pots=40), Promise(pots=10)], there) == 1.0
    assert chance_of_last([Promise(pots=60), Promise(pots=1)], there) == 0.0


def test_nothing_there_keeps_nothing():
    assert chance_of_last([Promise(pots=1)], {}) == 0.0


def test_spellings_of_a_size_are_one():
    assert size_key("9 cm") == size_key("9CM") == size_key(" 9cm ")
    assert size_key("1 L") != size_key("1 cm")
    assert size_key("") == NO_SIZE
