"""Every probability, odds and width by which entries are weighed, each with its reason.

"Choice": the project's own judgement of what people get wrong how often, no statistics of
anybody's. Choices decide only between explanations that fit the sky equally well. "Measured": on
simulated controllers of the bench, which err as stated there.
"""

from __future__ import annotations

from collections.abc import Mapping

# --- how often an entry is wrong: prior odds, relative to each other ---------------------------

AGREES_ODDS = 6.0
"""Choice: of ten logs that are checked, four or so have something wrong."""

SUMMER_TIME_ODDS: Mapping[str, float] = {"unknown": 0.75, "flag": 1.2, "hour_in_zone_or_clock": 0.3}
"""Choice: the flag is the commonest slip; without the zone's rules either side is as likely."""

ZONE_ODDS, ZONE_AT_ZERO_ODDS, ZONE_SIGN_ODDS = 0.45, 0.15, 0.15
"""Choice: any other zone together; a zone never set; east and west taken for each other."""

ZONE_FALLS_OFF_H = 6.0
"""Choice: a zone is mistaken for one near it, rather than for one across the world."""

ZONE_FRACTIONS = (1.0, 0.06, 0.15, 0.06)
"""Choice: whole hours; a quarter, a half and three quarters more (few zones have them)."""

CLOCK_ODDS, UTC_AS_LOCAL_ODDS, AM_PM_ODDS, AM_PM_OTHER_SIDE_ODDS = 1.5, 0.25, 0.25, 0.05
"""Choice. Half a day the other way would need a date wrong as well."""

DATE_ODDS: Mapping[int, float] = {
    1: 0.175,
    2: 0.04,
    3: 0.02,
    **dict.fromkeys((4, 5, 6, 7), 0.01),
    **dict.fromkeys((30, 31), 0.01),
}
"""Choice, by days off, each way: a day (midnight, UTC), a few, a week, a month."""

YEAR_ODDS = 0.001
"""Choice. A year off shifts by a minute; an exact match must not beat a clock a minute off.

That has a density of 1.5 * .9 / (12 pi) = .036 a minute there; the sharpest match has some 10.
"""

DAY_MONTH_SWAPPED_ODDS = 0.4
"""Choice: half the world writes the other order."""

SIGN_ODDS: Mapping[str, float] = {"latitude": 0.5, "longitude": 0.7}
"""Choice: west is taken for positive more often than south."""

MINUTES_ODDS: Mapping[str, float] = {"decimals": 0.4, "minutes": 0.06}
"""Choice: 41°18′ typed as 41.18 ("decimals"), and 41.30 typed as 41°30′ ("minutes")."""

ANGLE_ODDS: Mapping[str, float] = {"latitude": 0.5, "longitude": 0.35}
"""Choice: latitude or longitude of another place, or a digit mistyped."""

TWO_AT_ONCE = 0.15
"""Choice: who gets one entry wrong gets a second one wrong so often."""

# --- the mount file in place of the controller ------------------------------------------------

MOUNT_FILE_SHARE = 0.4
"""Choice: a mount file is typed at leisure and kept, a controller every night in the dark."""

EXCHANGED_ODDS = 0.1
"""Choice: latitude and longitude exchanged in the mount file; rarer than a wrong sign."""

ELSEWHERE_ODDS = 0.1
"""Choice: a mount file kept from another place, so that both figures are wrong by one mistake."""

ZONE_REACH_DEG = 8.0
"""Choice: how sites thin out with distance from their zone's principal place, degrees of arc.

Zones reach some thousand kilometres from it; what is asked is only which of two sites is nearer.
"""

MERIDIAN_REACH_DEG = 15.0
"""Choice: clocks keep within an hour or so of the Sun, degrees of longitude."""

MOST_FROM_ZONE = 1000.0
"""Choice: however far a site is from its zone, the zone may be the slip instead."""

ASKED_ABOVE = 0.1
"""Choice: where the mount file is likelier to be wrong than this, the place is looked up first."""

# --- what was typed, where the mount file says it ---------------------------------------------

TYPED_RIGHT_FACTOR = 0.02
"""Choice: an entry that was written down as typed right is hardly ever the one at fault."""

TYPED_WRONG_ODDS = 20.0
"""Choice: one that was written down as typed wrong nearly always is."""

STILL_AGREES_FACTOR = 0.1
"""Choice: unless what was written down is not what was typed."""

# --- how exactly people type, one sd and the share of people ----------------------------------

TIME_SMEARS_MIN = ((0.02, 0.63), (0.05, 0.25), (0.2, 0.09), (0.6, 0.03))
"""Choice: within a second or so by most, within half a minute by the hasty."""

PLACE_SMEARS_ARCMIN = ((0.3, 0.65), (0.5, 0.31), (1.5, 0.03), (4.0, 0.01))
"""Choice: to the minute of arc, the unit in which most hand controllers ask."""

# --- entries that may be off by anything: half widths of Cauchy densities ---------------------

CLOCK_WIDTH_MIN, LONGITUDE_WIDTH_MIN, LATITUDE_WIDTH_ARCMIN = 12.0, 12.0, 90.0
"""Choice: a clock or a place is off by minutes or a degree, with a long tail."""

EVEN_SHARE = 0.1
"""Choice: of them, so many are off by anything at all, as likely as anything else."""

# --- how a controller computes its places -----------------------------------------------------

APPARENT_SHARE, LIFTED_SHARE, J2000_SHARE, J2000_LIFTED_SHARE = 0.55, 0.35, 0.07, 0.03
"""Choice: apparent places; lifted by the air; places of J2000; and those lifted."""

BAD_SHARE = 0.03
"""Choice: of the lines of a log so many name another star or hold a slip of the pen."""

STALE_SHARE = 0.2
"""Choice: of the logs without commanded_time so many have commands noted before the centring."""

USUAL_AGE_MIN, OLDEST_MIN = 2.0, 20.0
"""Choice: how long a centring takes (mean of an exponential), and the longest."""

# --- verdicts ---------------------------------------------------------------------------------

LIKELY_ABOVE, POSSIBLE_ABOVE = 0.5, 0.01
"""Choice: more likely than not; worth naming beside it."""

AGREES_ABOVE, DISAGREES_BELOW = 0.5, 0.05
"""Choice; measured: none of 400 logs with right entries is then called wrong."""

STALE_ABOVE = 0.5
"""Choice: more likely than not."""

TIMES_WORSE = 3.0
"""Choice: an explanation that leaves so many times what the best one leaves is none."""
