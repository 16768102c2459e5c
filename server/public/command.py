"""The command that writes the public pages into a folder: publish."""

from __future__ import annotations

import argparse
import re
import shutil
import tempfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from layers.errors import BadValue, Conflict
from layers.publishing import PublicView
from server.live.clock import Clock
from server.live.public_views import cautions_of, released_view
from server.live.region_views import RegionViews
from server.public.site import site
from server.terminal import add_day, day_or_today, opened, writing

MARK = "boxround-site.txt"
"""A file in a folder that `publish` wrote, which names what it put there: such a folder may be
written again."""

_MARKED = "Made by boxround publish, which will replace these files:"


def _publish_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "trail", type=Path, metavar="TRAIL", help="the trail file, or a folder: its region's pages"
    )
    command.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FOLDER", help="the folder to write"
    )
    add_day(command)
    command.add_argument(
        "--public-url",
        metavar="URL",
        help="where the pages will be found; other sites then show a picture with a link",
    )
    command.add_argument(
        "--release-now",
        action="store_true",
        help="make this month's release anew: who has the one before can compare the two",
    )
    command.set_defaults(run=_publish)


def _publish(arguments: argparse.Namespace) -> int:
    folder: Path = arguments.output
    address = None if arguments.public_url is None else _address(arguments.public_url)
    _expect_ours(folder)
    warnings: tuple[str, ...] = ()
    if arguments.trail.is_dir():
        view = _of_region(arguments.trail, arguments.on)
    else:
        view, warnings = _of_trail(arguments)
    files = {name: make() for name, make in site(view, address=address).items()}
    files[MARK] = "\n".join([_MARKED, *sorted(files), ""]).encode()
    with writing(folder):
        _write(folder, files)
    size_kb = sum(len(body) for body in files.values()) / 1000
    print(f"Wrote {folder}: {len(files)} files, {size_kb:.0f} kB. Open {folder / 'index.html'}")
    for sentence in warnings + view.statements:
        print(f"- {sentence}")
    return 0


def _of_trail(arguments: argparse.Namespace) -> tuple[PublicView, tuple[str, ...]]:
    """The view of a trail, and what its keeper should read of it."""
    with opened(arguments.trail) as (trail, contents):
        if not contents.settings.public_rules.is_open:
            raise Conflict(
                "Expected a trail that is open to the public, got one that is closed: "
                f"boxround settings {arguments.trail} --public open=yes"
            )
        on = day_or_today(arguments.on, contents)
        view = released_view(trail, contents, on, anew=arguments.release_now)
        return view, cautions_of(trail, contents, on)


def _of_region(folder: Path, on: date | None) -> PublicView:
    """The view of all trails of a folder that agreed."""
    view = RegionViews(folder, clock=Clock(on))()
    if not view.cells:
        raise Conflict(
            f"Expected a trail in {folder} that agreed to be shown, got none: boxround settings"
            " TRAIL --public in-region=yes"
        )
    return view


def _address(url: str) -> str:
    if re.fullmatch(r"https?://[^/\s\"'<>]+(/[^\s\"'<>?#]*)?", url) is None:
        raise BadValue("an address like https://example.org/trail/", repr(url), column="public-url")
    return url.rstrip("/") + "/"


def _expect_ours(folder: Path) -> None:
    """Refuse what others put there; a new, an empty or an own folder is fine."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise Conflict(f"Expected a folder, got {folder}, which is none")
    if not folder.exists():
        return
    mark = folder / MARK
    ours = {MARK, *mark.read_text("utf-8").splitlines()} if mark.is_file() else set()
    strange = sorted(path.name for path in folder.iterdir() if path.name not in ours)
    if strange:
        raise Conflict(
            f"Expected a new or empty folder, or one written by publish, got {folder}, "
            f"which holds {strange[0]}"
        )


def _write(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write all files beside the folder first, then put the new folder in its place."""
    folder = folder.absolute()
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".publishing-") as making:
        fresh, old = Path(making) / "fresh", Path(making) / "old"
        fresh.mkdir()
        for name, body in files.items():
            (fresh / name).write_bytes(body)
        # Files may have come there meanwhile.
        _expect_ours(folder)
        if folder.exists():
            shutil.copymode(folder, fresh)
            folder.replace(old)
        try:
            fresh.replace(folder)
        except OSError:
            if old.exists():
                old.replace(folder)
            raise


ARGUMENTS = {"publish": _publish_arguments}
