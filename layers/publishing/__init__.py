"""What the public may see of a trail: one pure function, and the values that it gives."""

from layers.publishing.values import Cell, Nest, Path, Place, PublicView, Zone
from layers.publishing.view import public_view

__all__ = ["Cell", "Nest", "Path", "Place", "PublicView", "Zone", "public_view"]
