"""Run every benchmark and print one table: `python -m tests.benchmarks [NAME...]`."""

import sys
from importlib import import_module
from pathlib import Path

from tests.benchmarks.table import Row, printed

__all__ = ["main"]


def main(names: list[str]) -> int:
    """Run the named benchmarks, or all; print the table; return 1 where a goal is missed."""
    found = sorted(path.stem for path in Path(__file__).parent.glob("bench_*.py"))
    rows: list[Row] = []
    for name in found:
        if not names or any(part in name for part in names):
            print(f"{name} ...", file=sys.stderr, flush=True)
            rows += import_module(f"tests.benchmarks.{name}").run()
    print(printed(rows))
    return int(any(row.measured > row.goal for row in rows))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
