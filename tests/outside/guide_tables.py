"""Published tables of birds and boxes, typed row by row: what the guide is checked against."""

from __future__ import annotations

# Myhrvold, N. P. et al. 2015. Ecology 96:3109 (compiled means): common name | scientific name |
# clutch | clutches a year | incubation, days | fledging age, days. The fledging age of the
# wood duck there (61.5) is its age of flight, not its stay in the box, and is left out.
MYHRVOLD_2015 = """
eastern bluebird | Sialia sialis | 4.41 | 2 | 14.1 | 18.15
western bluebird | Sialia mexicana | 5 | 2 | 13.8 | 21
mountain bluebird | Sialia currucoides | 5.25 | 2 | 13 | 22.5
tree swallow | Tachycineta bicolor | 5 | 1 | 14.5 | 20
violet-green swallow | Tachycineta thalassina | 4.5 | 1 | 13.75 | 24
black-capped chickadee | Poecile atricapillus | 6.95 | 1 | 12 | 16.5
carolina chickadee | Poecile carolinensis | 6 | 1 | 13 | 16.7
mountain chickadee | Poecile gambeli | 7.03 | 1.5 | 14 | 20
tufted titmouse | Baeolophus bicolor | 5.95 | 1.5 | 13.5 | 17.5
house wren | Troglodytes aedon | 6.3 | 2 | 14 | 16.5
carolina wren | Thryothorus ludovicianus | 4.435 | 1.75 | 14 | 13.5
bewick's wren | Thryomanes bewickii | 5.82 | 2.25 | 14 | 14
prothonotary warbler | Protonotaria citrea | 4.95 | 1.5 | 13 | 11.25
great crested flycatcher | Myiarchus crinitus | 5 | 1 | 14 | 15
ash-throated flycatcher | Myiarchus cinerascens | 4.4 | 1.5 | 15 | 16.5
white-breasted nuthatch | Sitta carolinensis | 8 | 1 | 12 | 14.5
red-breasted nuthatch | Sitta canadensis | 5.5 | 1 | 12 | 19.5
pygmy nuthatch | Sitta pygmaea | 7 | 1 | 15.8 | 21.5
brown-headed nuthatch | Sitta pusilla | 5.07 | 1 | 14 | 18
american kestrel | Falco sparverius | 4.6 | 1.25 | 29 | 30
eastern screech-owl | Megascops asio | 4.25 | 1 | 26 | 28
western screech-owl | Megascops kennicottii | 4.25 | 1 | 26 | 28
wood duck | Aix sponsa | 11.8 | 1.5 | 30 |
purple martin | Progne subis | 4.79 | 1 | 15.5 | 28
northern flicker | Colaptes auratus | 6.6 | 1 | 12 | 28
house sparrow | Passer domesticus | 4.35 | 3.25 | 11.75 | 15
european starling | Sturnus vulgaris | 5 | 2 | 12 | 21
"""

# Ehrlich, P. R., Dobkin, D. S. & Wheye, D. 1988. The Birder's Handbook: common name | usual
# clutch | smallest to largest | incubation | nestling days | broods | egg length, mm.
# Cells that the book marks with a question mark alone are left out.
EHRLICH_1988 = """
western bluebird | 4-6 | 3-8 | | | | 21
tree swallow | 4-6 | | 13-16 | 16-24 | 1-2 | 19
violet-green swallow | 4-6 | | 13-14 | 16-24 | 1 | 19
house wren | 6-8 | 5-12 | 13 | 12-18 | 2-3 | 16
bewick's wren | 5-7 | 4-11 | 12-14 | 14 | | 17
ash-throated flycatcher | 4-5 | 3-7 | 15 | 14-16 | | 22
white-breasted nuthatch | 5-8 | 3-10 | 12 | 14 | | 19
american kestrel | 4-5 | 3-7 | 29-31 | 30-31 | 1-2 | 35
"""

# Storchová, L. & Hořák, D. 2018. Global Ecology and Biogeography 27:400-406: common name |
# scientific name | clutch, least to most | mean | broods | incubation | nestling days |
# fledging days | egg length | egg width, mm. Swift: the "nestling" value 21 is left out, see
# the test on it. Goldeneye: flies at 62 days, leaves the box at once.
STORCHOVA_HORAK_2018 = """
great tit | Parus major | 3-18 | 10.0 | 1.5 | 14 | 19 | 19 | 17.8 | 13.6
blue tit | Cyanistes caeruleus | 6-16 | 11.0 | 1 | 14 | 18 | 19 | 15.6 | 11.9
coal tit | Periparus ater | 5-13 | 8.5 | 1.5 | 15 | 19 | 19 | 15.3 | 11.7
marsh tit | Poecile palustris | 3-12 | 8.5 | 1 | 14 | 18 | 19 | 15.9 | 12.2
willow tit | Poecile montanus | 4-11 | 7.5 | 1 | 14 | 19 | 19 | 15.7 | 12.3
crested tit | Lophophanes cristatus | 6-7 | 6.5 | 1 | 15 | 18 | 20 | 16.3 | 12.6
pied flycatcher | Ficedula hypoleuca | 5-8 | 6.5 | 1 | 14 | 16 | 16 | 17.4 | 13.4
collared flycatcher | Ficedula albicollis | 5-9 | 6.0 | 1 | 13 | 17 | 17 | 17.4 | 13.2
common redstart | Phoenicurus phoenicurus | 3-10 | 6.0 | 2 | 13 | 14 | 15 | 18.7 | 13.8
eurasian nuthatch | Sitta europaea | 5-12 | 7.0 | 1 | 15 | | 24 | 19.4 | 14.6
tree sparrow | Passer montanus | 1-8 | 5.0 | 2.5 | 13 | 18 | 18 | 18.9 | 14.0
house sparrow | Passer domesticus | 2-7 | 4.5 | 3 | 13 | 14 | 14 | 22.2 | 15.7
european starling | Sturnus vulgaris | 4-7 | 5.0 | 1.5 | 12 | 21 | 21 | 29.7 | 21.2
eurasian wren | Troglodytes troglodytes | 3-9 | 6.5 | 2 | 16 | 17 | 17 | 16.4 | 12.6
eurasian treecreeper | Certhia familiaris | 3-9 | 5.5 | 1.5 | 15 | 15 | 15 | 15.9 | 12.05
wryneck | Jynx torquilla | 5-12 | 8.5 | 1 | 13 | 20 | 20 | 21 | 15
common swift | Apus apus | 1-4 | 2.5 | 1 | 21 | | 43 | 25 | 16
common kestrel | Falco tinnunculus | 1-9 | 4.5 | 1 | 28 | 27 | 30 | 39 | 31
tawny owl | Strix aluco | 1-6 | 3.5 | 1 | 29 | 28 | 35 | 47 | 39
barn owl | Tyto alba | 2-14 | 5.5 | 1.5 | 31 | 53 | 56 | 41 | 32
little owl | Athene noctua | 1-7 | 3.5 | 1 | 28 | 30 | 33 | 35 | 29
stock dove | Columba oenas | 1-2 | 2.0 | 3 | 17 | 26 | 29 | 38 | 29
hoopoe | Upupa epops | 4-10 | 7.5 | 1 | 16 | 28 | 28 | 26 | 18
common goldeneye | Bucephala clangula | 5-13 | 9.5 | 1 | 30 | | | 59 | 43
"""

# Common textbook ranges, FROM MEMORY: common name | usual clutch | smallest to largest |
# incubation | nestling days | broods.
TEXTBOOK_RANGES = """
eastern bluebird | 4-5 | 3-7 | 12-14 | 16-20 | 2-3
mountain bluebird | 5-6 | 4-8 | 13-14 | 18-21 | 1-2
black-capped chickadee | 6-8 | 4-10 | 12-13 | 14-18 | 1
carolina chickadee | 5-7 | 3-9 | 12-15 | 16-19 | 1
tufted titmouse | 5-6 | 3-9 | 12-14 | 15-18 | 1-2
carolina wren | 4-5 | 3-7 | 12-16 | 12-14 | 2-3
prothonotary warbler | 4-6 | 3-8 | 12-14 | 9-11 | 1-2
great crested flycatcher | 5 | 4-8 | 13-15 | 12-18 | 1
red-breasted nuthatch | 5-6 | 4-8 | 12-13 | 18-21 | 1
eastern screech-owl | 3-5 | 2-7 | 26-30 | 25-30 | 1
wood duck | 10-15 | 6-16 | 28-32 | 1-2 | 1-2
purple martin | 4-5 | 3-7 | 15-16 | 26-31 | 1
house sparrow | 4-5 | 1-8 | 10-14 | 14-17 | 2-4
european starling | 4-6 | 2-9 | 11-13 | 20-23 | 1-2
"""

# Of these both ends of the nestling days are printed in a source as well.
PRINTED_TOO = {
    *("eastern bluebird", "black-capped chickadee", "red-breasted nuthatch", "purple martin"),
    "house sparrow",
}

# Ranges and means of incubation and of the time in the nest, as each source prints them:
# common name | field | days | source.
PERIODS = """
eastern bluebird | incubation_days | 12-14 | henderson_1995
eastern bluebird | nestling_days | 15-20 | wikipedia
western bluebird | incubation_days | 13-14 | karl_2000
mountain bluebird | incubation_days | 13-14 | karl_2000
violet-green swallow | incubation_days | 13-15 | karl_2000
violet-green swallow | nestling_days | 23-25 | karl_2000
black-capped chickadee | incubation_days | 11-13 | karl_2000
black-capped chickadee | nestling_days | 14-18 | karl_2000
carolina chickadee | incubation_days | 11-13 | alabama_dcnr
white-breasted nuthatch | incubation_days | 12-14 | puget_sound
white-breasted nuthatch | nestling_days | 26 | puget_sound
red-breasted nuthatch | nestling_days | 14-21 | ehrlich_1988
red-breasted nuthatch | incubation_days | 12 | ehrlich_1988
pygmy nuthatch | incubation_days | 15-16 | ehrlich_1988
pygmy nuthatch | nestling_days | 20-22 | ehrlich_1988
house wren | incubation_days | 12-15 | karl_2000
house wren | nestling_days | 12-18 | karl_2000
prothonotary warbler | incubation_days | 12-14 | bent_1953
great crested flycatcher | incubation_days | 13-15 | taylor_kershner_1991
great crested flycatcher | nestling_days | 13-15 | taylor_kershner_1991
house sparrow | incubation_days | 10-13 | karl_2000
house sparrow | nestling_days | 14-17 | karl_2000
european starling | incubation_days | 12-14 | ehrlich_1988
european starling | nestling_days | 18-21 | ehrlich_1988
purple martin | incubation_days | 15-16 | wikipedia
purple martin | nestling_days | 26-32 | missouri_mdc
great tit | incubation_days | 13.9 | gibb_1950
blue tit | incubation_days | 14.2 | gibb_1950
coal tit | incubation_days | 13-15 | kazakhstan_pages
coal tit | nestling_days | 19-20 | kazakhstan_pages
pied flycatcher | incubation_days | 13-15 | swedish_box_book
collared flycatcher | incubation_days | 13.2 | knysh_2003
collared flycatcher | nestling_days | 15 | knysh_2003
common redstart | incubation_days | 12-14 | planet_of_birds
eurasian nuthatch | incubation_days | 13-18 | hbw_2008
eurasian nuthatch | nestling_days | 20-26 | hbw_2008
tree sparrow | incubation_days | 12-13 | wikipedia
tree sparrow | nestling_days | 15-18 | wikipedia
"""

# US Fish and Wildlife Service, For the Birds, March 2001: common name | floor | box height |
# entrance height | entrance diameter, inches | height of placement, feet.
USFWS_2001 = """
eastern bluebird | 5-5 | 8-12 | 6-10 | 1.5 | 4-6
western bluebird | 5-5 | 8-12 | 6-10 | 1.5 | 4-6
mountain bluebird | 5-5 | 8-12 | 6-10 | 1.5 | 4-6
black-capped chickadee | 4-4 | 8-10 | 6-8 | 1.125 | 4-15
carolina chickadee | 4-4 | 8-10 | 6-8 | 1.125 | 4-15
mountain chickadee | 4-4 | 8-10 | 6-8 | 1.125 | 4-15
tufted titmouse | 4-4 | 10-12 | 6-10 | 1.25 | 5-15
ash-throated flycatcher | 6-6 | 8-12 | 6-10 | 1.5 | 5-15
great crested flycatcher | 6-6 | 8-12 | 6-10 | 1.75 | 5-15
brown-headed nuthatch | 4-4 | 8-10 | 6-8 | 1.25 | 5-15
pygmy nuthatch | 4-4 | 8-10 | 6-8 | 1.25 | 5-15
red-breasted nuthatch | 4-4 | 8-10 | 6-8 | 1.25 | 5-15
white-breasted nuthatch | 4-4 | 8-10 | 6-8 | 1.375 | 5-15
prothonotary warbler | 5-5 | 6-6 | 4-5 | 1.125 | 4-8
purple martin | 6-6 | 6-6 | 1-2 | 2.25 | 6-20
tree swallow | 5-5 | 6-8 | 4-6 | 1.5 | 5-15
violet-green swallow | 5-5 | 6-8 | 4-6 | 1.5 | 5-15
bewick's wren | 4-4 | 6-8 | 4-6 | 1.25 | 5-10
house wren | 4-4 | 6-8 | 4-6 | 1.25 | 5-10
carolina wren | 4-4 | 6-8 | 4-6 | 1.5 | 5-10
northern flicker | 7-7 | 16-18 | 14-16 | 2.5 | 6-20
eastern screech-owl | 8-8 | 12-15 | 9-12 | 3 | 10-30
western screech-owl | 8-8 | 12-15 | 9-12 | 3 | 10-30
american kestrel | 8-8 | 12-15 | 9-12 | 3 | 10-30
barn owl | 10-18 | 15-18 | 4-4 | 6 | 12-18
wood duck | 10-18 | 10-24 | | 4 | 10-20
"""

# Days of age from which boxes stay closed. Bluebirds: practice of bluebird keepers, no agency
# or paper found. All others FROM MEMORY, general field practice.
CLOSED_FROM = """
eastern bluebird | 12-13
western bluebird | 12-13
mountain bluebird | 12-13
tree swallow | 12-15
black-capped chickadee | 10-12
carolina chickadee | 10-12
mountain chickadee | 10-12
tufted titmouse | 10-12
house wren | 10-12
prothonotary warbler | 7-8
carolina wren | 9-10
white-breasted nuthatch | 11-12
red-breasted nuthatch | 11-12
pygmy nuthatch | 11-12
brown-headed nuthatch | 11-12
great crested flycatcher | 11-12
ash-throated flycatcher | 11-12
purple martin | 20-22
american kestrel | 21-23
eastern screech-owl | 21-23
western screech-owl | 21-23
great tit | 13-15
blue tit | 13-15
pied flycatcher | 12-12
european starling | 16-16
"""
