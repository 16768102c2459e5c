"""The arrows between the rooms, drawn from the imports: `python -m tests.arrows`."""

from __future__ import annotations

import re
from pathlib import Path

from tests.test_rooms import ROOMS, imported, modules

DEVELOPERS = Path(__file__).parent.parent / "DEVELOPERS.md"
_BLOCK = re.compile(r"```mermaid\n.*?```", re.DOTALL)


def drawn() -> str:
    """A mermaid picture: an arrow from each room to the rooms that it imports from."""
    arrows = sorted(
        f"  {room} --> {other}"
        for room in ROOMS
        for other in (*ROOMS, "layers.errors")
        if other != room
        and any(
            name == other or name.startswith(f"{other}.")
            for path in modules(room)
            for name in imported(path)
        )
    )
    return "\n".join(["```mermaid", "flowchart TD", *arrows, "```"])


def main() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    DEVELOPERS.write_text(_BLOCK.sub(drawn(), text, count=1), encoding="utf-8")
    print(f"Drawn into {DEVELOPERS}")


if __name__ == "__main__":
    main()
