"""Made-up nights with known truth, by a chain of rotations that shares nothing with `mount`.

In: `NightOptions`. Out: a `SimulatedNight`: a log, its truth. Read first: `night.py`, then
`mount.py` (the chain of rotations), `draw.py`, `faults.py`.
"""
