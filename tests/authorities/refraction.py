"""Refraction of starlight as published; altitudes in degrees, refraction in arcminutes.

`FROM_TRUE`: the formula of Saemundsson, Sky and Telescope 72 (1986) 70, by hand, rounded, at
1010 hPa and 10 °C; horizon value and worked example as in J. Meeus, Astronomical Algorithms,
chapter 16 (the Sun's upper limb at a true altitude of 33.25′ is lifted by 24.62′). From memory.
`FROM_APPARENT`: G. G. Bennett, "The calculation of astronomical refraction in marine navigation",
Journal of Navigation 35 (1982) 255: 34′ at the horizon, 1/tan(h + 7.31/(h + 4.4)), good to .07′;
his values here by hand. From memory.
"""

FROM_TRUE = {0.0: (29.0, 0.05), 33.25 / 60: (24.62, 0.005), 10.0: (5.4, 0.05), 45.0: (1.0, 0.05)}
FROM_APPARENT = {0.0: 34.5, 10.0: 5.39, 20.0: 2.70, 45.0: 0.995}
HORIZON_BY_COMMON_PRACTICE = 34.0
