"""What the public may see of a trail: one pure function, and the values that it gives."""

from layers.maps.public.making import public_view
from layers.maps.public.view import Cell, Nest, Path, Place, PublicView, Zone

__all__ = ["Cell", "Nest", "Path", "Place", "PublicView", "Zone", "public_view"]
