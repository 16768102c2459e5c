"""One more column is one declaration: every face has it, an older file opens with it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
OLD = ROOT / "tests" / "trail" / "formats" / "format-1.gpkg"
NOTE = '    note: Annotated[Text, Field("text", "free text", synonyms=_NOTES)]\n'
DECLARED = (
    '    temperature_c: Annotated[float | None, Field("number", "air temperature", unit="°C",'
    ' between=(-60, 70), synonyms=("air temp",), label="Air temperature")]\n'
)


@pytest.fixture(scope="module")
def faces(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    tree = tmp_path_factory.mktemp("tree")
    for room in ("layers", "server", "tests"):
        shutil.copytree(ROOT / room, tree / room, ignore=shutil.ignore_patterns("__pycache__"))
    schema = tree / "layers" / "trail" / "schema.py"
    text = schema.read_text(encoding="utf-8")
    assert text.count(NOTE) == 1
    schema.write_text(text.replace(NOTE, DECLARED + NOTE), encoding="utf-8")
    trail = Path(shutil.copy(OLD, tree / "mill.gpkg"))
    run = subprocess.run(
        [sys.executable, "-m", "tests.one_column", str(trail)],
        cwd=tree,
        env=os.environ | {"PYTHONPATH": str(tree), "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr[-3000:]
    found: dict[str, str] = json.loads(run.stdout)
    return found


@pytest.mark.parametrize(
    ("face", "holds"),
    [
        ("file", '"temperature_c" DOUBLE'),
        ("import", "'temperature_c': 12.5"),
        ("trigger", "temperature_c of a visit is a number from -60 to 70"),
        ("coded", "12.5"),
        ("layer", "12.5"),
        ("geojson", '"temperature_c":12.5'),
        ("csv", "temperature_c"),
        ("dictionary", "air temperature; -60 to 70 °C; empty: not recorded"),
        ("api", '"temperature_c": 11.5'),
        ("document", '"temperature_c"'),
        ("form", 'name="temperature_c" value="11.5" inputmode="decimal"'),
        ("history", "<dt>Air temperature</dt><dd>11.5</dd>"),
        ("ogc schema", '"temperature_c"'),
        ("ogc choice", '"numberMatched":1'),
    ],
)
def test_a_declared_column_is_everywhere(faces: dict[str, str], face: str, holds: str) -> None:
    assert holds in faces[face]
