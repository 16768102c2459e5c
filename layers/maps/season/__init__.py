"""The plots of a season's report, as SVG that reads in grey."""

from layers.maps.season.plots import Ground, Plot, drawn, plots

__all__ = ["Ground", "Plot", "drawn", "plots"]
