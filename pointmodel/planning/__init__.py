"""Which stars to centre: what is up and easy to find, and which of it tells most of the mount.

In: a mount file, a moment, perhaps a fit. Out: a `PlanResult`, a sheet to print. Read first:
`candidates.py` (the stars that may be asked for), `knowledge.py` (what is known of the mount
before, and what one more star adds), `choice.py` (the best few, in order); around them
`darkness.py` (Sun and Moon), `finding.py` (where to look), `entrycard.py` (what the controller asks
for). `plan.py` puts it all together.
"""
