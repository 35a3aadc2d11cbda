"""Worked examples of positional astronomy as published. Angles in degrees unless named otherwise.

SOFA: the test values of SOFA's t_sofa_c.c, which ERFA's t_erfa_c.c shares, copied from their Python
translation in pyerfa 2.0.1.5 (erfa/tests/test_ufunc.py); radians.

Meeus: J. Meeus, Astronomical Algorithms, 2nd edition (1998), examples by number. From memory.
Example 25.b's figures are those that he gives as correct, from the whole of VSOP87.

NREL: I. Reda and A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
NREL/TP-560-34302 (revised 2008), table A5.1; refraction is in the zenith angle. From memory.
"""

from __future__ import annotations


def dms(degrees: int, minutes: int, seconds: float, sign: int = 1) -> float:
    """Degrees of degrees, minutes and seconds."""
    return sign * (degrees + minutes / 60 + seconds / 3600)


def hms(hours: int, minutes: int, seconds: float) -> float:
    """Degrees of hours, minutes and seconds."""
    return 15 * dms(hours, minutes, seconds)


SOFA_HD2AE = ((1.1, 1.2, 0.3), (5.916889243730066194, 0.4472186304990486228))
SOFA_AE2HD = ((5.5, 1.1, 0.7), (0.5933291115507309663, 0.9613934761647817620))
SOFA_SEPS = ((1.0, 0.1, 0.2, -3.0), 2.346722016996998842)
SOFA_SIDEREAL_JD = 2453736.5  # UT1 and, in SOFA's test, TT too
SOFA_GST06A = 1.754166137675019159
SOFA_REFCO = ((800.0, 10.0, 0.9, 0.4), (0.2264949956241415009e-3, -0.2598658261729343970e-6))
SOFA_TT_JD = (2456165.5, 0.401182685)
SOFA_CATALOGUE = {"rc": 2.71, "dc": 0.174, "pr": 1e-5, "pd": 5e-6, "px_arcsec": 0.1}
SOFA_ATCIQ = (2.710121572968696744, 0.1729371367219539137)
SOFA_ATICQ = (
    (2.710121572969038991, 0.1729371367218230438),
    (2.710126504531716819, 0.1740632537627034482),
)
SOFA_ATIOQ = {
    "utc_jd": (2456384.5, 0.969254051),
    "ut1_minus_utc_s": 0.1550675,
    "longitude": -0.527800806,
    "latitude": -1.2345856,
    "elevation_m": 2738.0,
    "pressure_hpa": 731.0,
    "temperature_c": 12.8,
    "cirs": (2.710121572969038991, 0.1729371367218230438),
    "azimuth": 0.9233952224895122499e-1,
    "zenith_distance": 1.407758704513549991,
}

MEEUS_12A = {
    "at": "1987-04-10T00:00:00Z",
    "apparent": hms(13, 10, 46.1351),
}
MEEUS_13B = {
    "at": "1987-04-10T19:21:00Z",
    "latitude": dms(38, 55, 17),
    "longitude": -hms(5, 8, 15.7),
    "ra": hms(23, 9, 16.641),
    "dec": dms(6, 43, 11.61, -1),
    "hour_angle": 64.352133,
    "azimuth_from_south": 68.0337,
    "altitude": 15.1249,
}
MEEUS_16A = {"apparent": 0.5, "lift_arcmin": 28.754, "true": 33.25 / 60, "lift_back_arcmin": 24.618}
MEEUS_17A = {
    "arcturus": (213.9154, 19.1825),
    "spica": (201.2983, -11.1614),
    "separation": 32.7930,
}
MEEUS_25B = {  # his time is dynamical: 59.184 s ahead of UTC in October 1992
    "at": "1992-10-12T23:59:00.816Z",
    "ra": hms(13, 13, 30.749),
    "dec": dms(7, 47, 1.74, -1),
    "distance_au": 0.99760853,
}
MEEUS_25A = {"ra": 198.38083, "dec": -7.78507}  # his method of low accuracy, good to 0.01°
MEEUS_33A = {  # Venus; dynamical time, 59.184 s ahead of UTC
    "at": "1992-12-19T23:59:00.816Z",
    "ra": hms(21, 4, 41.454),
    "dec": dms(18, 53, 16.84, -1),
}
MEEUS_40A = {  # Mars at Palomar: what the observer's place adds
    "at": "2003-08-28T03:17:00Z",
    "latitude": dms(33, 21, 22),
    "longitude": -hms(7, 47, 27),
    "elevation_m": 1706.0,
    "ra": hms(22, 38, 7.25),
    "dec": dms(15, 46, 15.9, -1),
    "topocentric_ra": hms(22, 38, 8.54),
    "topocentric_dec": dms(15, 46, 30.0, -1),
}
MEEUS_47A = {  # dynamical time, 58.184 s ahead of UTC in April 1992
    "at": "1992-04-11T23:59:01.816Z",
    "ra": 134.688470,
    "dec": 13.768368,
    "distance_km": 368409.7,
}
MEEUS_48A_LIT = 0.6786  # same moment as 47.a

NREL = {
    "at": "2003-10-17T19:30:30Z",
    "latitude": 39.742476,
    "longitude": -105.1786,
    "elevation_m": 1830.14,
    "pressure_hpa": 820.0,
    "temperature_c": 11.0,
    "zenith_angle": 50.11162,
    "azimuth": 194.34024,
    "declination": -9.316179,  # topocentric
}
