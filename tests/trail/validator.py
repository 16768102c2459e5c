"""GDAL's GeoPackage validator, as a judge outside the project.

`validate_gpkg.py` from gdal-utils (MIT), run in another process.
"""

import subprocess
import sys
from pathlib import Path

import pyogrio

from layers.trail.schema import TABLES


def faults(path: Path) -> str:
    """What the validator complains of; empty when the file is valid."""
    run = subprocess.run(
        [
            sys.executable,
            "-m",
            "osgeo_utils.samples.validate_gpkg",
            "-k",
            "--extra",
            "--warning-as-error",
            str(path),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    return "" if run.returncode == 0 else run.stdout + run.stderr + f"exit {run.returncode}"


def gis_counts(path: Path) -> dict[str, int]:
    """Rows of every layer as GDAL reads them; on a snapshot or from another process only."""
    return {
        name: pyogrio.read_info(path, layer=name, force_feature_count=True)["features"]
        for name in TABLES
    }
