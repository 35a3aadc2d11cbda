"""The log recorded from a phone: the star is tapped where it stands in a drawn eyepiece.

In: a recording's session, and what a phone sends. Out: lines of the log, and what the phone shows.
Read first: `eyepiece.py` (how a tap becomes a nudge). `page.py` is what the phone is handed.
"""
