"""The plots of a season's report, as SVG that reads in grey; and the season for the public."""

from layers.maps.season.for_all import public_season
from layers.maps.season.plots import Ground, Plot, drawn, plots

__all__ = ["Ground", "Plot", "drawn", "plots", "public_season"]
