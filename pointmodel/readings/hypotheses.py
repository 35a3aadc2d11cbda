"""What a log's figures may mean other than what their headings say: one entry each.

An entry holds its prior odds with their reason, which sides of the log it can be about, and what is
said when it is taken up or asked about. How the figures turn is `reading/asread.py`; presses are
summed in `sums.py`. Sentences have `{what}` for the heading that a finding is about.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pointmodel.base.wording import join
from pointmodel.reading.asread import COLUMN_FINDINGS, HEADINGS, READ_SO
from pointmodel.reading.mountkeys import ColumnFinding, Side
from pointmodel.readings.result import FindingName

ALL_SIDES: tuple[Side, ...] = ("centred", "commanded", "both")


@dataclass(frozen=True)
class ReadingHypothesis:
    """One way in which figures are misread: ln prior odds against "as written", and its words.

    `reason` says where the odds come from. `said` is what is told when it is taken up, `asked` the
    question that is put where it is not sure, `why` what hangs on the answer.
    """

    finding: FindingName
    log_odds: float
    reason: str
    sides: tuple[Side, ...]
    said: str
    asked: str
    why: str


LEAN_HANGS_ON_IT = "The direction of the lean and every correction depend on it."
FIGURES_AGAIN = "If it is so, the figures are turned round and fitted again. If not, they stand."

HYPOTHESES: Mapping[FindingName, ReadingHypothesis] = {
    one.finding: one
    for one in (
        ReadingHypothesis(
            finding="synced_after_each",
            log_odds=-1.5,
            reason="a choice: one owner in five presses after every star by habit",
            sides=("both",),
            said=(
                "After each star the controller was told “this is the star”. So each line starts "
                "from the star of the line before. The misses are added up here, line by line."
            ),
            asked=(
                "While you logged, did you tell the controller “this is the star” after you "
                "centred each star?"
            ),
            why="If you did, each line starts from the star before it. The misses must then be "
            "added up before anything can be said of the base.",
        ),
        ReadingHypothesis(
            finding="synced_after_some",
            log_odds=-4.0,
            reason="a choice: rarer than pressing always; shared over the choices of lines",
            sides=("both",),
            said=(
                "After some stars the controller was told “this is the star”. The misses of those "
                "lines are added to the lines after them."
            ),
            asked=(
                "While you logged, did you tell the controller “this is the star” after some of "
                "the stars?"
            ),
            why="If you did, the lines after such a star start from it. Its miss must then be "
            "added to them.",
        ),
        ReadingHypothesis(
            finding="readings_after_sync",
            log_odds=-1.8,
            reason=(
                "a choice: of those who do not say when they noted, one in seven noted after the "
                "press; measured: few good mounts are asked"
            ),
            sides=("centred",),
            said=(
                "The centred figures repeat the commanded ones. They were noted after you told the "
                "controller “this is the star”. Such figures say nothing of the mount."
            ),
            asked=(
                "Did you note the centred figures before or after you told the controller “this is "
                "the star”?"
            ),
            why="Figures noted after it repeat the commanded ones and say nothing of the mount.",
        ),
        ReadingHypothesis(
            finding="columns_exchanged",
            log_odds=-3.0,
            reason="a choice: one log in twenty has the two headings exchanged",
            sides=("both",),
            said=READ_SO["columns_exchanged"],
            asked="Do commanded and centred stand under each other's heading in this log?",
            why="If they do, every term has the other sign.",
        ),
        ReadingHypothesis(
            finding="azimuth_counted_backwards",
            log_odds=-4.0,
            reason="a choice: few mounts count from north through west",
            sides=ALL_SIDES,
            said=READ_SO["azimuth_counted_backwards"],
            asked="Do the azimuths under {what} count from north through west?",
            why=LEAN_HANGS_ON_IT,
        ),
        ReadingHypothesis(
            finding="azimuth_from_south",
            log_odds=-4.0,
            reason="a choice: azimuths from south are rare in controllers",
            sides=ALL_SIDES,
            said=READ_SO["azimuth_from_south"],
            asked="Do the azimuths under {what} count from south?",
            why="The direction of the lean depends on it: from the wrong side every foot would be "
            "turned the wrong way.",
        ),
        ReadingHypothesis(
            finding="zenith_distance",
            log_odds=-4.0,
            reason="a choice: distances from the zenith are rare in controllers",
            sides=ALL_SIDES,
            said=READ_SO["zenith_distance"],
            asked="Do the altitudes under {what} count from the zenith down?",
            why=LEAN_HANGS_ON_IT,
        ),
        ReadingHypothesis(
            finding="hours_not_degrees",
            log_odds=-5.0,
            reason="a choice: azimuths in hours come from a spreadsheet or a slip of the heading",
            sides=ALL_SIDES,
            said=READ_SO["hours_not_degrees"],
            asked=(
                "All azimuths under {what} are below 24. Are they hours, or were all stars in one "
                "corner of the sky?"
            ),
            why=FIGURES_AGAIN,
        ),
        ReadingHypothesis(
            finding="radians_not_degrees",
            log_odds=-6.0,
            reason="a choice: radians come from programs alone",
            sides=ALL_SIDES,
            said=READ_SO["radians_not_degrees"],
            asked=(
                "All azimuths under {what} are below 6.3. Are the figures radians, or were all "
                "stars in one corner of the sky?"
            ),
            why=FIGURES_AGAIN,
        ),
        ReadingHypothesis(
            finding="axes_exchanged",
            log_odds=-4.0,
            reason="a choice: headings of azimuth and altitude exchanged",
            sides=ALL_SIDES,
            said=READ_SO["axes_exchanged"],
            asked="Do azimuth and altitude under {what} stand under each other's heading?",
            why=FIGURES_AGAIN,
        ),
        ReadingHypothesis(
            finding="fits_no_mount",
            log_odds=0.0,
            reason="not weighed: what is left where nothing fits",
            sides=("both",),
            said=(
                "No mount could have made these figures, so there is no advice. Do the centred "
                "figures stand one line too high or too low? Are the names those of other stars? "
                "Does each figure stand in its own column?"
            ),
            asked="",
            why="",
        ),
    )
}


def column_hypotheses() -> tuple[tuple[ColumnFinding, ReadingHypothesis], ...]:
    """Return the hypotheses about whole columns, in the order in which they are tried."""
    return tuple((name, HYPOTHESES[name]) for name in COLUMN_FINDINGS)


def worded(text: str, sides: Sequence[Side]) -> str:
    """Return a sentence of a hypothesis for one side of the log, or for those that may be it."""
    return text.format(what=join([HEADINGS[side] for side in sides], "or"))


def confirmed_by(finding: FindingName, sides: Sequence[Side]) -> str:
    """Return what the owner writes down, and where, so that a finding is settled."""
    if finding in COLUMN_FINDINGS:
        figures = [f'figures = {{{side} = "{finding}"}}' for side in sides]
        return f"write {join(figures, 'or')} under [log] in mount.toml"
    if finding == "synced_after_each":
        return 'write presses = "each_star" under [alignment] in mount.toml'
    if finding == "synced_after_some":
        return "write zero_on_star in the event column of the line after each such star"
    return 'write noted = "after_press" under [alignment] in mount.toml'
