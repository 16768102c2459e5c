"""What a person may choose, for commands that must not load pyarrow to list it."""

from __future__ import annotations

RELEASES = ("full", "coarse", "nests over")
"""What a trail lets go: all there is; finished nests and their visits, with grid squares for
places and without persons; the rows of its public pages alone."""

BY = ("trail", "region", "species", "year")
"""What an archive's nests can be grouped by."""
