"""From visits to attempts: what each visit means by itself, which attempt it belongs to, how
that goes on with it, and how it ended. Days of events come from `layers.nesting.dating`.
"""
