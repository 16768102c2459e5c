"""The season in numbers: one table of attempts, and measures of it.

`exposure.season_table` makes the table from histories and their dates; every measure takes it
and gives a frozen result with its estimate, interval, n, warnings and method. Nothing here
reads a file or a clock.
"""
