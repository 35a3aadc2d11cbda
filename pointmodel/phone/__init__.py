"""The log recorded from a phone: the star is tapped where it stands in a drawn eyepiece.

In: a recording's session, and what a phone sends. Out: lines of the log, and what the phone shows.
Read first: `messages.py` (what may be said), `eyepiece.py` (how a tap becomes a nudge), `door.py`
(what comes of a message); then `server.py` (who may send one) and `serving.py` (link, code, how it
stops). `page.py` is what the phone is handed. Terminal and programs are two other doors to the same
session.
"""
