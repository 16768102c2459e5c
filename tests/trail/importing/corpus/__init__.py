"""Files of visits, boxes and paths as keepers keep them, all invented, with what a careful
person reads in each.

`python -m tests.trail.importing.corpus FOLDER` writes them to look at; without a folder it
prints how those of visits are read. The layouts were written
by whoever wrote the reader: what it reaches here is an upper mark, no forecast.
"""
