"""Whether to touch the tripod, which foot by how much, and what that would gain.

In: the advice and its grounds. Out: a `LevelResult`. Read first: `result.py`, then `level.py` (the
verdict), `feet.py` (millimetres and turns), `stand.py` (by screws or by legs).
"""
