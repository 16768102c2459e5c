"""Many trails in one archive for research: Parquet files, and the seasons computed over them.

A trail's file stays the unit that people own. What its keeper lets go into the archive is written
as tables, one file a trail and season; a manifest lists the files that count. Everything here needs
pyarrow (`pip install boxround[pool]`), so nothing else imports it.
"""
