"""Pictures of the ground, from files of tiles and GeoTIFF, as the background of a trail."""
