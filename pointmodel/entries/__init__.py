"""What the controller was told: what its commands betray, and which entry did it.

Read in this order: `observed.py` (which pairs count, and as what), `believed.py` (the sidereal time
and latitude that the controller believes in), `circumstances.py` (what it should have been told),
`catalogue.py` (the entries that people get wrong), `typed.py` (what the mount file says was typed),
`weighing.py` and `findings.py` (which of them explain the sky), `answers.py` (the limits of what is
believed), `words.py` and `notation.py` (an entry in the words of a hand controller). Beside these:
`moving.py` (what planets add), `stale.py` (commands noted too early), `suspects.py`,
`separations.py` and `probable.py` (which star it was), `settling.py` (which star to go to next).

Sidereal offsets are believed minus true, in minutes of sidereal time: one turn is 1440 of them.
"""
