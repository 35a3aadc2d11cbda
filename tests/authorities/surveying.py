"""Figures of the surveyor's trade that the geometry must repeat.

Readings in two faces of a theodolite: a worked example as surveying texts give it, figures from
memory. A theodolite is an alt-az mount whose telescope is turned over ("plunged") between the two
readings: the circle then reads 180° more, and the vertical circle, which counts from the zenith,
reads 360° less the zenith distance. Half of what the vertical readings lack to 360° is the index
error, half of what the horizontal ones differ from 180° is the effect of collimation on the circle.
"""

# degrees, minutes, seconds
FACE_LEFT_HORIZONTAL = (78, 15, 24)
FACE_LEFT_VERTICAL = (80, 12, 24)
FACE_RIGHT_HORIZONTAL = (258, 14, 54)
FACE_RIGHT_VERTICAL = (279, 47, 6)

INDEX_ERROR_ON_VERTICAL_ARCSEC = -15.0
COLLIMATION_ON_CIRCLE_ARCSEC = 15.0
DIRECTION_OF_THE_MARK = (78, 15, 9)
ZENITH_DISTANCE_OF_THE_MARK = (80, 12, 39)

# A spirit level or clinometer of one millimetre in one metre (common practice, no source).
ONE_MILLIMETRE_IN_ONE_METRE_ARCMIN = 3.4377
