"""Small drawings of a species' nest and eggs, made from the guide's own values alone."""

from __future__ import annotations

import random

from layers.nesting.guide import Species
from layers.nesting.key.traits import form_chances, ground_chances, mark_chances, material_chances

WIDTH, HEIGHT = 132, 84
_PX_PER_MM = 1.15
# Where the guide has no width: eggs of songbirds are about three quarters as wide as long.
_WIDTH_SHARE = 0.75
_EGGS_DRAWN = 3

_GROUND = {
    "white": "#fbfaf5",
    "blue": "#a9d3e6",
    "green": "#b7d6b4",
    "cream": "#f1e3c2",
    "pink": "#f6dcd4",
    "grey": "#dcdcd8",
}
_MATERIAL = {
    "moss": "#6f8f3f",
    "grass": "#c9b165",
    "twigs": "#7a5a3a",
    "leaves": "#a5703a",
    "bark": "#8b6b4e",
    "feathers": "#e9e6df",
    "hair": "#5c5148",
    "plant down": "#efe8d6",
    "mud": "#94795c",
    "rootlets": "#6d4c35",
    "snakeskin": "#cfd0bf",
    "wood chips": "#dcbf8d",
    "litter": "#b9a58a",
    "nothing": "#d8d2c4",
}
_LIKELY = 0.3


def key_drawing(species: Species) -> str:
    """The nest and some eggs of a species as SVG, eggs to scale.

    Form and materials of the nest, ground colour, marks and length of the eggs are those that
    the guide names; an egg whose length it does not name is drawn as a dashed outline.
    """
    strokes = random.Random(species.common)
    colours = [
        _MATERIAL[word] for word, chance in material_chances(species).items() if chance > _LIKELY
    ] or [_MATERIAL["nothing"]]
    parts = [*_nest(species, colours, strokes), *_eggs(species, strokes)]
    title = f"Drawing of {species.common}: {species.nest or 'nest'}; {species.eggs or 'eggs'}"
    return (
        f'<svg class="key-drawing" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}"'
        f' height="{HEIGHT}" role="img" aria-label="{_text(title)}">{"".join(parts)}</svg>'
    )


def _text(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")


def _nest(species: Species, colours: list[str], strokes: random.Random) -> list[str]:
    """Strokes of the nest's materials: a bowl, a dome, a heap, or a few on the floor."""
    chances = form_chances(species)
    form = max(chances, key=lambda word: chances[word])
    low, high, count = {
        "domed": (8, 76, 150),
        "heap of twigs": (24, 76, 130),
        "hardly a nest": (70, 76, 14),
    }.get(form, (46, 76, 90))
    found = []
    for _ in range(count):
        x, y = strokes.uniform(6, WIDTH - 6), strokes.uniform(low, high)
        if form == "domed" and ((x - WIDTH / 2) / 60) ** 2 + ((y - 76) / 66) ** 2 > 1:
            continue
        if form == "open cup" and ((x - WIDTH / 2) / 62) ** 2 + ((y - 46) / 31) ** 2 > 1:
            continue
        colour, lean = strokes.choice(colours), strokes.uniform(-7, 7)
        found.append(
            f'<path d="M{x - 6:.0f} {y + lean / 3:.0f}q6 {lean:.0f} 12 0" fill="none"'
            f' stroke="{colour}" stroke-width="2.2" stroke-linecap="round"/>'
        )
    if form == "domed":
        found.append(f'<ellipse cx="{WIDTH / 2:g}" cy="50" rx="46" ry="21" fill="#4a3c2e"/>')
    return found


def _eggs(species: Species, strokes: random.Random) -> list[str]:
    span, wide = species.egg_length_mm, species.egg_width_mm
    length = 20.0 if span is None else (span.low + span.high) / 2
    width = length * _WIDTH_SHARE if wide is None else (wide.low + wide.high) / 2
    scale = min(_PX_PER_MM, 40 / length)
    rx, ry = length * scale / 2, width * scale / 2
    grounds, marks = ground_chances(species), mark_chances(species)
    ground = _GROUND[max(grounds, key=lambda word: grounds[word])]
    dashed = ' stroke-dasharray="3 2"' if span is None else ""
    found = []
    for number in range(_EGGS_DRAWN):
        x, y = WIDTH / 2 + (number - 1) * (2 * rx + 3), 54.0
        found.append(
            f'<ellipse cx="{x:.1f}" cy="{y:.1f}" rx="{rx:.1f}" ry="{ry:.1f}" fill="{ground}"'
            f' stroke="#444" stroke-width="0.8"{dashed}/>'
        )
        if marks["spotted"] >= _LIKELY:
            for _ in range(16):
                # Marks are denser at the large end.
                at, off = strokes.triangular(-0.8, 0.8, 0.6), strokes.uniform(-0.6, 0.6)
                found.append(
                    f'<circle cx="{x + at * rx:.1f}" cy="{y + off * ry * (1 - at * at):.1f}"'
                    f' r="{strokes.uniform(0.5, 1.2):.1f}" fill="#8a4b2f"/>'
                )
        if marks["scrawled"] >= _LIKELY:
            for _ in range(7):
                at, off = strokes.uniform(-0.7, 0.6), strokes.uniform(-0.5, 0.5)
                found.append(
                    f'<path d="M{x + at * rx:.1f} {y + off * ry:.1f}q3 {strokes.uniform(-3, 3):.1f}'
                    ' 6 0" fill="none" stroke="#5d3a4a" stroke-width="0.9"/>'
                )
    return found
