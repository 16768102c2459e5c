"""The columns of an attempt's row of whole numbers, and what their codes stand for.

One row an attempt, one column a name below; the reader of visits (`reading/`)
fills them, and everything later is worked out from them. Days are days since
1970-01-01, visits are positions in `Visits`.
"""

from __future__ import annotations

from layers.trail.words import ADULT, CAUSES, FATES, NEST, SIGNS

MISSING = -1_000_000
"""A day or a count that is not known; before every day that a trail may hold."""

(
    BOX,  # code of the box
    SPECIES,  # code of the species, -1 not recorded
    SPECIES_SEEN,  # visits that recorded this species
    SEASON,  # season of the first visit
    FIRST,  # first visit of the attempt
    ALIVE,  # last visit that found it alive (or the nest kept, before eggs)
    OVER,  # visit that found it over, -1 none has
    PHASE,  # 1 building, 2 eggs, 3 young: how far it came
    LAID,  # 1 once eggs or young were counted
    FIRST_DAY,  # day of FIRST
    ALIVE_DAY,  # day of ALIVE
    OVER_DAY,  # day of OVER
    NO_EGG_DAY,  # last day on which the box is known to have held no egg of this attempt
    EGG_DAY,  # first day eggs were counted
    EGG_COUNT,  # how many on that day
    EGGS_MAX,  # most eggs counted
    EGGS_LAST,  # eggs at the last count
    EGGS_DAY,  # day of the last count
    FULL_DAY,  # day on which the highest count was first met
    STABLE,  # 1 once two counts some days apart were equal: laying is over
    WARM_DAY,  # last day eggs were warm or a parent sat
    COLD_DAY,  # first day of the present run of cold findings
    COLD_RUN,  # how many visits in a row found cold eggs
    NO_YOUNG_DAY,  # last day eggs were seen and no young
    YOUNG_DAY,  # first day young were known of
    HATCH_LO,  # earliest and latest day of hatching that the visits allow
    HATCH_HI,
    AGES,  # how many visits judged the age of the young,
    AGED_HATCH,  # and the sum of the hatching days that these ages give, after YOUNG_DAY
    YOUNG_MAX,  # most living young counted
    YOUNG_LAST,  # living young at the last count
    YOUNG_LAST_DAY,  # day of that count
    EGGS_LEFT,  # eggs beside the young, or left behind
    DEAD,  # dead young found in all
    FATE,  # code of FATES, as far as the visits go
    CAUSE,  # code of CAUSES, -1 none
    WHY,  # which rule gave the fate
    FLEDGED,  # young that fledged, MISSING if not known
    LAPSES,  # last day it can still be going on without another look
    LATER_FATE,  # fate after LAPSES without a later look
    LATER_WHY,
    NOTES,  # set of NOTE_ bits
    N_COLUMNS,
) = range(43)

# Phases
BUILDING, EGGS, YOUNG = 1, 2, 3

# Fates
(
    ONGOING,
    FATE_FLEDGED,
    FATE_FAILED,
    FATE_UNKNOWN,
    FATE_PROBABLY_FLEDGED,  # these two come from chances, never from the reader
    FATE_PROBABLY_FAILED,
) = range(len(FATES))

# Causes
NO_CAUSE = -1
(
    PREDATOR,
    TAKEN_OVER,
    ABANDONED,
    DID_NOT_HATCH,
    YOUNG_DIED,
    PARENT_DIED,
    COLD_OR_WET,
    INSECTS,
    NEST_REMOVED,
    CAUSE_NOT_KNOWN,
) = (CAUSES.index(cause) for cause in CAUSES)

# Rules that give a fate; reasons.py has a sentence for each
(
    WHY_ONGOING,
    WHY_OLD_ENOUGH,  # alive at an age at which young leave
    WHY_LEFT_SIGNS,  # signs of leaving, and old enough on the day the nest was found empty
    WHY_SHELLS,  # young leave at once: shells, or gone after the time of hatching
    WHY_TOO_YOUNG,  # the young could not have left yet
    WHY_ALL_DEAD,
    WHY_RAIDED,  # signs of a predator
    WHY_EGGS_GONE,  # eggs gone before they could have hatched and the young left
    WHY_COLD,  # cold eggs, visit after visit
    WHY_OVERDUE,  # warm eggs long after the latest day of hatching
    WHY_TAKEN,  # another species' nest in its place
    WHY_KEEPER,  # nest taken out with live eggs or young in it
    WHY_UNDECIDED,  # empty, old enough to have left, no sign either way
    WHY_GAP,  # too long between two looks: another clutch was there
    WHY_NEVER_LAID,  # material only
    WHY_NOT_LOOKED,  # there was no later look
    WHY_RELAID,  # the count fell and rose again: a new clutch in the same cup
    WHY_USED,  # no egg seen, but droppings or a flattened nest: young were in it
) = range(18)

# Notes on what was met on the way
NOTE_FEWER_EGGS = 1  # an egg count that fell
NOTE_MANY_EGGS = 2  # more eggs than one female lays, or faster than one a day
NOTE_PART_HATCHED = 4
NOTE_OTHER_NAME = 8  # another species was written once, without being one
NOTE_ADULT_ONLY = 16  # known only by an adult sitting or feeding
NOTE_AGE_DISAGREES = 32  # ages judged on two visits do not agree
NOTE_REOPENED = 64  # thought over, then found alive
NOTE_LATE_SIGNS = 128  # signs of leaving were written down on a later visit
NOTE_ON_OLD_NEST = 256  # begun in a box that held the last nest: its droppings prove nothing

# Stages, as in words.STAGES; -1: the visit belongs to no attempt
STAGE_BUILDING, STAGE_LAYING, STAGE_INCUBATING, STAGE_NESTLINGS, STAGE_OVER = range(5)

# Codes of words that the reader looks at
NEST_NONE = NEST.index("none")
FLUSHED, SITTING, FEEDING = (ADULT.index(word) for word in ("flushed", "sitting", "feeding"))


def sign_bits(*words: str) -> int:
    """The bit set of some signs."""
    return sum(1 << SIGNS.index(word) for word in words)


SIGNS_LEFT = sign_bits("flattened", "droppings")
SIGNS_SHELLS = sign_bits("hatched shells")
SIGNS_RAIDED = sign_bits("broken eggs", "nest torn", "snake", "squirrel")
SIGNS_PERHAPS_RAIDED = sign_bits("feathers", "hair", "mouse")
SIGNS_PARENT_DEAD = sign_bits("dead adult")
SIGNS_WEATHER = sign_bits("wet", "cold")
SIGNS_INSECTS = sign_bits("ants", "wasps")
SIGNS_ANIMAL = sign_bits("wasps", "mouse", "squirrel")
SIGN_COLD = sign_bits("cold")

# Columns of the species limits (limits.py): one row a species code + 1, row 0 unknown species
(
    LAY_DAYS,  # days between two eggs
    CLUTCH_USUAL,
    CLUTCH_MOST,  # largest clutch of one female
    INCUBATION_LEAST,
    INCUBATION_MOST,
    EARLY_DAYS,  # days before the last egg at which sitting may begin
    NESTLING_TOO_YOUNG,  # below this age no young has left
    NESTLING_LEAVES,  # from this age on young leave
    NESTLING_MOST,
    LEAVES_AT_ONCE,  # 1: young leave within a day or two of hatching
    N_LIMITS,
) = range(11)
