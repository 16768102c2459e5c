"""The public pages: made from a `PublicView` and from nothing else."""
