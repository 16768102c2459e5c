"""Files that were handed in and are not added yet: kept beside the trail with their answers.

A draft is a folder: the file as it came, and `draft.json`. Nothing of it is in the trail, so a
reload or a restart in between loses nothing and leaves nothing half written.
"""

from __future__ import annotations

import json
import re
import shutil
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from layers.errors import BadValue, NotKnown, StorageFull
from layers.trail.importing.opening import suffixes
from layers.trail.importing.proposing.grids import BOOK_SUFFIXES, TEXT_SUFFIXES
from layers.trail.importing.proposing.recipe import content_of, merged

ENDING = ".imports"
MAX_DRAFTS = 20
"""Files that may wait at a time; each is at most what one request may carry."""

HandedIn = Literal["visits", "boxes", "paths"]
"""What a file may hold that is handed in on the page."""

Held = Mapping[str, Mapping[str, str]]


@dataclass(frozen=True)
class Draft:
    """One file that waits to be added."""

    id: str
    name: str
    path: Path
    answers: Held
    content: str
    kind: HandedIn

    @property
    def folder(self) -> Path:
        """Where the file and its answers are."""
        return self.path.parent.parent


class Drafts:
    """The drafts of a trail."""

    def __init__(self, trail: Path) -> None:
        self._folder = trail.with_name(trail.name + ENDING)

    def add(self, name: str, content: bytes, kind: HandedIn) -> Draft:
        """Keep a file.

        Raises
        ------
        BadValue
            It is empty or of a format that does not hold `kind`, or too many files wait.
        """
        plain = re.sub(r"[^\w.() -]+", "_", Path(name.replace("\\", "/")).name)[-80:]
        suffix = Path(plain).suffix.lower()
        known = (*TEXT_SUFFIXES, *BOOK_SUFFIXES) if kind == "visits" else suffixes(kind)
        if suffix not in known:
            listed = ", ".join(known)
            raise BadValue(f"a file of {kind}: {listed}", repr(plain or "a file without a name"))
        if not content:
            raise BadValue("a file that holds something", f"{plain}, which is empty")
        if sum(1 for _ in self.all()) >= MAX_DRAFTS:
            raise BadValue(f"at most {MAX_DRAFTS} files that wait; remove one", "one more")
        draft_id = str(uuid.uuid4())
        folder = self._folder / draft_id
        try:
            path = folder / "file" / plain
            path.parent.mkdir(parents=True)
            path.write_bytes(content)
            held = {"name": plain, "answers": {}, "content": content_of(path)}
            _write(folder / "draft.json", held | {"kind": kind})
        except OSError as error:
            shutil.rmtree(folder, ignore_errors=True)
            raise StorageFull(
                f"{plain} cannot be kept beside the trail: {error.strerror}"
            ) from error
        return self.get(draft_id)

    def all(self) -> Iterator[Draft]:
        """Every draft, the newest first."""
        folders = self._folder.iterdir() if self._folder.is_dir() else ()
        found = [folder for folder in folders if (folder / "draft.json").is_file()]
        for folder in sorted(found, key=lambda one: one.stat().st_mtime, reverse=True):
            yield self.get(folder.name)

    def get(self, draft_id: str) -> Draft:
        """One draft.

        Raises
        ------
        NotKnown
            There is none of that id, or its file is no longer the one that was handed in.
        """
        try:
            folder = self._folder / str(uuid.UUID(draft_id))
            held = json.loads((folder / "draft.json").read_text(encoding="utf-8"))
            (path,) = (folder / "file").iterdir()
        except (ValueError, OSError) as error:
            raise NotKnown(f"No file waits under {draft_id!r}; it was added or removed") from error
        if content_of(path) != held["content"]:
            raise NotKnown(f"{held['name']} changed since it was handed in; hand it in again")
        kind = held.get("kind", "visits")
        return Draft(draft_id, held["name"], path, held["answers"], held["content"], kind)

    def answer(self, draft_id: str, answers: Held) -> None:
        """Keep answers beside those given before."""
        draft = self.get(draft_id)
        held = {
            "name": draft.name,
            "answers": merged(draft.answers, answers),
            "content": draft.content,
            "kind": draft.kind,
        }
        _write(draft.folder / "draft.json", held)

    def remove(self, draft_id: str) -> None:
        """Remove a draft; the trail does not change."""
        shutil.rmtree(self.get(draft_id).folder, ignore_errors=True)


def _write(path: Path, held: Mapping[str, Any]) -> None:
    part = path.with_name(f".{path.name}.part")
    part.write_text(json.dumps(held, ensure_ascii=False), encoding="utf-8")
    part.replace(path)
