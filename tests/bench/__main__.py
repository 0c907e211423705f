"""The benches: `python -m tests.bench` for all, `… recipes` or `… colour` for one.

`python -m tests.bench colour --json [--full] [--seed N]` is the rendered truth bench. Times are ratios within one run
or seconds of this machine; no test asserts a time.
"""

import argparse

from tests.bench import colour_bench, recipes_bench


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("which", nargs="?", choices=("all", "recipes", "colour"), default="all")
    parser.add_argument("--json", action="store_true", help="colour: only the figures, as JSON")
    parser.add_argument("--full", action="store_true", help="colour: 500 photos of each skin class; takes an hour")
    parser.add_argument("--each", type=int, help="colour: another number of photos of each skin class")
    parser.add_argument(
        "--seed", type=int, default=colour_bench.SEED, help="colour: first seed; the second is the next"
    )
    asked = parser.parse_args()
    if asked.which in ("all", "recipes"):
        recipes_bench.main()
    if asked.which in ("all", "colour"):
        each = asked.each or (colour_bench.FULL_EACH if asked.full else colour_bench.SAMPLE_EACH)
        colour_bench.main(each, asked.seed, as_json=asked.json)


if __name__ == "__main__":
    main()
