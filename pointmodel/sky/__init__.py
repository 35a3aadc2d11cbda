"""The sky: where stars, planets, Sun and Moon stand, and what people call them; the Sun guard.

In: names, moments, an `Observer`. Out: places of date, azimuth and altitude, what is too near the
Sun. Read first: `targets.py` (a name becomes a target, a target a place), then `places.py` and
`bodies.py` (Sun, Moon, planets). `clock.py` holds the time scales, `stars.py` the bundled tables,
`sunguard.py` the circle about the Sun. Everything works without a network, by ERFA (the IAU's SOFA
routines) and the tables in this package.

Left out: the Earth's measured orientation. UT1 is taken as UTC, which differs by less than 0.9 s:
up to 13.5″ in hour angle; polar motion is below 0.5″.
"""
