"""The command that writes the map as one file: map."""

from __future__ import annotations

import argparse
from pathlib import Path

from layers.maps.page import self_contained_page
from layers.maps.payload import base_payload, due_payload, ground_payload, season_payload
from layers.maps.themes import THEMES
from layers.nesting.card import box_card
from layers.trail.settings import season_of
from layers.words import format_day
from server.terminal import add_day, add_trail, opened_on, writing


def _map_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("-o", "--output", type=Path, required=True, metavar="FILE")
    command.add_argument(
        "--theme", choices=tuple(THEMES), help="what the symbols stand for at first"
    )
    add_day(command)
    command.set_defaults(run=_map)


def _map(arguments: argparse.Namespace) -> int:
    with opened_on(arguments) as (trail, whole, on):
        contents = whole.known_on(on)
        ground, settings, histories = contents.ground, contents.settings, contents.histories
        seasons = sorted({*histories.seasons(), season_of(on, settings.season_starts)})
        rows: dict[str, list[dict[str, object]]] = {box: [] for box in ground.ids}
        for row in trail.visit_rows():
            rows.setdefault(row["box"], []).append(row)
        page = self_contained_page(
            title=settings.name,
            base=base_payload(ground.boxes, histories, settings=settings, on=on),
            seasons={
                season: season_payload(
                    contents.timeline(season, on), season=season, boxes=len(ground.boxes)
                )
                for season in seasons
            },
            ground=ground_payload(paths=ground.paths, places=ground.places, zones=ground.zones),
            cards=(
                box_card(histories, ground.box(box), rows[box], settings=settings, on=on)
                for box in ground.ids
            ),
            due=due_payload(contents.due(on), boxes=ground.ids, on=on),
            theme=arguments.theme,
            known=f"on {format_day(on)} {on.year}",
        )
    with writing(arguments.output):
        arguments.output.write_text(page, encoding="utf-8")
    print(
        f"Wrote {arguments.output}: the map of {settings.name}, {len(page) / 1e6:.1f} MB. "
        "It shows exact places and nests in use: give it only to people who may know them."
    )
    return 0


ARGUMENTS = {"map": _map_arguments}
