"""Files with something changed at random: refused in a sentence, or added soundly."""

from __future__ import annotations

import os
import random
import shutil
import signal
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from layers.errors import BoxroundError
from layers.nesting.guide import standard_guide
from layers.trail.checking import check_trail
from layers.trail.importing import import_file, import_proposal
from layers.trail.importing.feature_import import import_features
from layers.trail.importing.proposing import propose, read_grids
from layers.trail.importing.proposing.features import propose_features
from layers.trail.store import Trail
from server.importing.understanding import known_of
from tests.server.small_trail import at, make_trail
from tests.trail.importing.imports import TODAY, content
from tests.trail.importing.mutations import Seed, mutated, seeds
from tests.trail.importing.odd.judging import OF_LIBRARIES
from tests.trail.importing.ready_readers import MOST_S, Ready

MANY = int(os.environ.get("MUTATED_FILES", "20000"))
FEW = 58
"""Two of each seed."""
BATCH = 1000


@pytest.fixture
def base(tmp_path: Path) -> Path:
    boxes = {"A1": at(1), "A2": at(2), "B1": at(3)}
    return make_trail(tmp_path / "base.gpkg", boxes=boxes)


@contextmanager
def clock() -> Iterator[None]:
    """Fails what takes longer than `MOST_S` of processor time."""

    def late(*_: object) -> None:
        pytest.fail(f"longer than {MOST_S:g} s")

    before = signal.signal(signal.SIGPROF, late)
    signal.setitimer(signal.ITIMER_PROF, MOST_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


class Mutating:
    """Imports mutated files one after another, into a fresh trail whenever one was changed."""

    def __init__(self, base: Path, ready: Ready) -> None:
        self._ready = ready
        self._base = base
        self._seeds = seeds(base.parent)
        self._guide = standard_guide()
        self.outcomes: Counter[str] = Counter()
        self.slowest_s = 0.0
        self._renew()

    def _renew(self) -> None:
        self._path = self._base.with_name("trail.gpkg")
        for left in self._path.parent.glob("trail.gpkg*"):
            left.unlink()
        shutil.copy(self._base, self._path)
        with Trail.open(self._path) as trail:
            self._before = content(trail)

    def file(self, number: int) -> str | None:
        """Import one file; what is wrong with how it went, None for nothing."""
        rng = random.Random(number)
        seed = self._seeds[number % len(self._seeds)]
        source = self._base.with_name(f"m{number}{seed.suffix}")
        source.write_bytes(mutated(seed.content, rng))
        started = time.process_time()
        try:
            with clock(), Trail.open(self._path) as trail:
                wrong = self._imported(source, seed, trail)
        except Exception as error:  # whatever comes, the file that did it is named
            wrong = f"{type(error).__name__}: {error}"
        self.slowest_s = max(self.slowest_s, time.process_time() - started)
        if wrong is None and self._ready.late():
            wrong = f"a reader took more than {MOST_S} s"
        if wrong is None:
            source.unlink()
            return None
        self._renew()
        return f"{seed.name}, number {number}: {wrong}"

    def _imported(self, source: Path, seed: Seed, trail: Trail) -> str | None:
        added = 0
        for way in self._ways(source, seed, trail):
            try:
                added = way()
            except BoxroundError as error:
                self.outcomes["refused"] += 1
                if found := OF_LIBRARIES.search(str(error)):
                    return f"{found[0]!r} in {error}"
                if not str(error).isprintable() and "\n" not in str(error):
                    return f"unprintable: {str(error)!r}"
                continue
            self.outcomes["added" if added else "nothing to add"] += 1
            if added:
                break
        if not added:
            return None if content(trail) == self._before else "refused, yet the trail changed"
        wrong = [str(one) for one in check_trail(trail) if one.severity == "fault"]
        (held,) = trail.rows(f"SELECT count(*) FROM {seed.kind}")[0]
        had = {"boxes": 3, "paths": 1}.get(seed.kind, 0)
        if held != had + added:
            wrong.append(f"{added} added, {held - had} there")
        trail.boxes(), trail.paths(), trail.zones(), trail.visits()
        self._renew()
        return "; ".join(wrong) or None

    def _ways(self, source: Path, seed: Seed, trail: Trail) -> Iterator[Any]:
        def species(name: str) -> str:
            return self._guide.find(name).common

        def by_header() -> int:
            return import_file(
                seed.kind, source, trail, today=TODAY, species=species, crs=seed.crs
            ).added

        def understood() -> int:
            known = known_of(trail, self._guide, today=TODAY)
            proposal = propose(read_grids(source), known=known, answers={}, file=source.name)
            return import_proposal(
                proposal, trail, today=TODAY, species=species, clear_only=True
            ).added

        def understood_features() -> int:
            proposal = propose_features(source, seed.kind, trail, answers={}, crs=seed.crs)
            clear = [one for one in proposal.features if not one.open and not one.faults]
            result = import_features(replace(proposal, features=tuple(clear)), trail, today=TODAY)
            return result.added

        yield by_header
        if seed.kind == "visits":
            yield understood
        elif seed.kind != "zones":
            yield understood_features


def run(base: Path, ready: Ready, numbers: range) -> Mutating:
    mutating = Mutating(base, ready)
    wrong = [found for number in numbers if (found := mutating.file(number)) is not None]
    assert not wrong, f"{len(wrong)} of {len(numbers)}:\n" + "\n".join(wrong[:40])
    return mutating


def test_some_mutated_files_do_no_harm(base: Path, readers: Ready) -> None:
    outcomes = run(base, readers, range(FEW)).outcomes
    assert outcomes["refused"] > FEW / 3
    assert outcomes["added"] > FEW / 20


@pytest.mark.long
@pytest.mark.parametrize("first", range(FEW, FEW + MANY, BATCH))
def test_twenty_thousand_mutated_files_do_no_harm(base: Path, readers: Ready, first: int) -> None:
    mutating = run(base, readers, range(first, min(first + BATCH, FEW + MANY)))
    print(dict(mutating.outcomes), f"the slowest {mutating.slowest_s:.1f} s")
