"""A season over an archive: each partition read once, the likelihood summed over all of them.

`units` are groups of trails with all their seasons, read by the product's own reader; `partitions`
stores each one's table under a name of its own; `joining` puts tables below each other, without the
courses of nests, which stay in their partitions; `summed` is the likelihood as a sum over these;
`groups` runs the measures of `layers.nesting.season`; `running` is one process, or Dask.
"""
