"""The sky: where stars, planets, Sun and Moon stand, and what people call them.

Read first: `targets.py` (a name becomes a target, a target a place), then `places.py` (places of
date, azimuth and altitude) and `bodies.py` (Sun, Moon, planets). `clock.py` holds the time scales,
`stars.py` the bundled tables. Everything works without a network, by ERFA (the IAU's SOFA
routines) and the tables in this package.

Left out: the Earth's measured orientation. UT1 is taken as UTC, which differs by less than 0.9 s:
up to 13.5″ in hour angle; polar motion is below 0.5″.
"""
