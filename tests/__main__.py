"""The one test command: `python -m tests`, and `python -m tests --long` for kills, fuzz and renders.

Every step is named and timed; the first that fails ends the run. pytest comes last, so that its own closing line ends
the output.
"""

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PYTHON = sys.executable


def bare(tool: str) -> str:
    return str(Path(PYTHON).parent / tool)


QUICK = (
    ("lint", [PYTHON, "-m", "ruff", "check", "."]),
    ("types", [PYTHON, "-m", "mypy"]),
    ("who imports whom", [bare("lint-imports")]),
    ("tests on SQLite", [PYTHON, "-m", "pytest", "-q", "-n", "2", "--dist", "worksteal"]),
    (
        "tests on PostgreSQL",
        [PYTHON, "-m", "pytest", "-q", "-n", "2", "--dist", "worksteal", "--postgres", "--brief", "-m", "not browser"],
    ),
)
LONG = (
    ("long tests on SQLite", [PYTHON, "-m", "pytest", "-q", "-n", "2", "--long", "-m", "long"]),
    (
        "long tests on PostgreSQL",
        [PYTHON, "-m", "pytest", "-q", "-n", "2", "--dist", "worksteal", "--long", "-m", "not browser", "--postgres"],
    ),
)


def main() -> int:
    steps = LONG if "--long" in sys.argv[1:] else QUICK
    for name, command in steps:
        print(f"== {name}", flush=True)
        began = time.monotonic()
        code = subprocess.run(command, cwd=ROOT).returncode
        if code:
            print(f"== {name}: failed after {time.monotonic() - began:.0f} s", flush=True)
            return code
        if name != steps[-1][0]:
            print(f"== {name}: {time.monotonic() - began:.0f} s", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
