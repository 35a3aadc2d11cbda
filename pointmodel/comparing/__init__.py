"""Several nights of one mount side by side: what is its own, what is new each night, what changed.

In: logs or fits. Out: a `CompareResult`, a profile for the next night. Read in this order:
`summary.py` (what one night's pairs alone say of the six terms), `pooling.py` (the noise of all
nights), `blocks.py` (what is assumed of terms from night to night), `evidence.py` (how well an
assumption fits all nights, and what follows), `posterior.py` (all assumptions weighed). `season.py`
runs many logs on all cores; `compare.py` is the door.
"""
