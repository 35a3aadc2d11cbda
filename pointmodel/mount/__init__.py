"""The mount as mathematics: the pointing terms, their geometry, what can be done about them.

In: angles of axes and stars as arrays. Out: readings ↔ sky, derivatives, the registries of terms
and remedies. Read first: `terms.py` (one object a term), then `kinematics.py`.
"""
