"""What the controller was told: what its commands betray, and which entry did it.

In: the commanded places of a `NightLog`, names, times, the site. Out: a `CheckResult`: believed
time and latitude, which entry is wrong, which star it was. Read in this order: `result.py` (what is
found), `observed.py` (which pairs count, and as what), `believed.py` (the sidereal time and
latitude that the controller believes in), `circumstances.py` (what it should have been told),
`catalogue.py` (the entries that people get wrong), `odds.py` (how often), `typed.py` (what the
mount file says was typed), `sitefile.py` (the mount file's own site), `weighing.py` (which of them
explain the sky), `findings.py` (which entries that blames), `judging.py` (the verdict, and what to
do), `entrywords.py` (an entry in words). `check.py` is all of it in one call.

Sidereal offsets are believed minus true, in minutes of sidereal time: one turn is 1440 of them.
"""
