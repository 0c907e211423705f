"""Pruned recipe search against plain enumeration: processor times and ratios.

Run: python -m tests.bench.recipes_bench
"""

import time

import numpy as np

from app.colour.pruning import Aim, Ranked, Shelf, best_recipes
from app.colour.recipes import search
from tests.colour.paints import random_shelf

TARGETS = ((67.0, 9.5, 15.0), (50.0, 11.5, 20.0))
CLASSES = ((12, 3, 12), (30, 3, 12), (12, 4, 20))


def seconds_and_result(shelf: Shelf, aim: Aim, *, prune: bool) -> tuple[float, Ranked]:
    start = time.process_time()
    found = best_recipes(shelf, aim, prune=prune)
    return time.process_time() - start, found


def main() -> None:
    print("bottles  recipe        two-constant  plain s  pruned s  ratio  tried")
    for bottles, most, drops in CLASSES:
        for two_constant in (False, True):
            paints = random_shelf(1, bottles, two_constant=two_constant)
            shelf = Shelf(np.array([paint.k for paint in paints]), np.array([paint.s for paint in paints]))
            for target in TARGETS:
                aim = Aim(target, drops, most, (), True, 6)
                plain, _ = seconds_and_result(shelf, aim, prune=False)
                pruned, found = seconds_and_result(shelf, aim, prune=True)
                print(
                    f"{bottles:7}  {most} in {drops} drops  {two_constant!s:12}  {plain:7.3f}  {pruned:8.3f}"
                    f"  {plain / pruned:5.1f}  {found.evaluated / found.considered:5.0%}"
                )
    print("\nwhole search, all counts and smaller totals:")
    for bottles, limit in ((12, 0.15), (30, 1.5)):
        for two_constant in (False, True):
            paints = random_shelf(1, bottles, two_constant=two_constant)
            for target in TARGETS:
                start = time.process_time()
                found_all = search(paints, target)
                spent = time.process_time() - start
                print(f"{bottles:7} bottles  {spent:6.3f} s of {limit} s  {found_all.proof}")


if __name__ == "__main__":
    main()
