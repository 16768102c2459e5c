"""Writes the files to look at, or prints how those of visits are read."""

from __future__ import annotations

import sys
import tempfile
from itertools import chain
from pathlib import Path

from tests.trail.importing.corpus.features import box_files, path_files
from tests.trail.importing.corpus.measuring import figures_of, read_all
from tests.trail.importing.corpus.visits import pairs_of_files, visit_files


def main() -> None:
    if len(sys.argv) == 1:
        with tempfile.TemporaryDirectory() as folder:
            print(figures_of(read_all(pairs_of_files(), Path(folder))))
        return
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    for made in chain(visit_files(), box_files(target), path_files(target)):
        print(made.write(target))


if __name__ == "__main__":
    main()
