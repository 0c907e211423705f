"""Every bench, one after the other: `python -m tests.bench`. Ratios within one run; no test asserts a time."""

from tests.bench import recipes_bench

if __name__ == "__main__":
    recipes_bench.main()
