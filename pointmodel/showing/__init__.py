"""The kit of text, pictures and pages: no domain words, and no number is born here.

In: prepared figures and words. Out: terminal text, SVG, pages that stand alone. Read first:
`textpage.py` (text of a command), `pages.py` (pages), `drawing.py`, `panels.py` (pictures).
"""
