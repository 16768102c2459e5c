"""Run every measurement, or the ones named: `python -m tests.bench [NAME ...]`."""

from __future__ import annotations

import importlib
import platform
import sys

PARTS = (
    "reading",
    "dating",
    "season",
    "histories",
    "near",
    "pages",
    "serving",
    "many_trails",
    "load",
    "phones",
    "first_card",
    "frames",
    "publish",
    "pool",
    "importing",
    "rounds",
)


def main() -> None:
    print(f"Python {platform.python_version()}, {platform.machine()}")
    for name in sys.argv[1:] or PARTS:
        importlib.import_module(f"tests.bench.{name}").main()


if __name__ == "__main__":
    main()
