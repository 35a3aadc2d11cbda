"""Corrected positions to command, for targets by name or place, kept from the Sun.

In: a fit, targets, a moment. Out: an `AimResult`. Read first: `aim.py`; `belief.py` is what the
controller believes, `commandframe.py` where it has a target, `targets.py` what was asked for,
`skycare.py` the slews that may pass the Sun.
"""
