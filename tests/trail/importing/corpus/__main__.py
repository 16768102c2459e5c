"""Writes the files to look at."""

from __future__ import annotations

import sys
from itertools import chain
from pathlib import Path

from tests.trail.importing.corpus.features import box_files, path_files
from tests.trail.importing.corpus.visits import visit_files

if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    for made in chain(visit_files(), box_files(target), path_files(target)):
        print(made.write(target))
