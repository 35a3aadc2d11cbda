"""A person who taps on the phone where stars stand in the eyepiece of a simulated mount.

    night = TappedNight(phone, rng, Orientation(30, mirrored=True))
    night.tap("Spica")                   # through the door, as the page would send it
    night.terms["collimation"]           # the truth, arcminutes

The mount is the simulator's chain of rotations, zeroed on a first star that is not logged. A star
outside the circle is reached by whole fields of the tube, each good to a tenth of a field; then it
is tapped, good to .06 of the field an axis (one sigma, as all of these).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from phonefakes import Phone, entry

from pointmodel.base.offsets import step_on_sky_deg
from pointmodel.phone.eyepiece import Orientation
from pointmodel.planning.upnow import stars_up
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.layout import NamedText
from pointmodel.recording.session import stamp
from pointmodel.simulation.draw import draw_terms
from pointmodel.simulation.mount import SimulatedCircumstances, pointed_deg, readings_deg
from pointmodel.simulation.night import MountClass

FIELD_ARCMIN = 48.0
TAPPED_TO, MOVED_TO = 0.06, 0.1  # of the field
SCATTER_ARCMIN, ZEROED_TO_ARCMIN = 0.6, 1.0
SEEN_WITHIN = 0.95  # of the circle's radius
SECONDS_A_STAR = 180.0
STILL = SimulatedCircumstances(
    az_motion=np.zeros(1), alt_motion=np.zeros(1), hours=np.zeros(1), slipped=np.zeros(1)
)
Pair = np.ndarray


class TappedNight:
    """A night at one mount: `stands` is how the eyepiece truly stands; the phone may think else."""

    def __init__(
        self,
        phone: Phone,
        rng: np.random.Generator,
        stands: Orientation,
        population: MountClass = "usual",
        tapped_to: float = TAPPED_TO,
    ) -> None:
        """The mount is drawn and zeroed on a star."""
        self.phone, self.rng, self.stands, self.tapped_to = phone, rng, stands, tapped_to
        self.terms: dict[str, float] = draw_terms(rng, population)
        self.zero_on(str(rng.choice(self.names(high_deg=70.0))))

    def names(self, low_deg: float = 20.0, high_deg: float = 75.0) -> list[str]:
        """The bright stars that are up."""
        up = stars_up(self.phone.session.mount, self.phone.clock(), 60)
        return [star.target for star in up if low_deg < star.alt_deg < high_deg]

    def place_deg(self, star: str) -> tuple[Pair, Pair]:
        """Azimuth and altitude of a star now, as a log of nudges has them, (1,) each."""
        mount = self.phone.session.mount
        line = f"{star},{stamp(self.phone.clock(), mount)},0,0\n"
        text = f"target,time,nudge_right,nudge_up\n{line}".encode()
        log = read_log(NamedText(text, "place"), mount)
        return log.commanded_az_deg, log.commanded_alt_deg

    def zero_on(self, star: str) -> None:
        """Press “this is the star” on one, centred with care."""
        az, alt = self.place_deg(star)
        self.terms |= {"azimuth_index": 0.0, "altitude_index": 0.0}
        reads = readings_deg(az, alt, self.terms, STILL)
        off = ZEROED_TO_ARCMIN * self.rng.normal(size=2)
        turn = (float(az[0] - reads[0][0]) + 180.0) % 360.0 - 180.0
        self.terms["azimuth_index"] = 60.0 * turn + off[0] / float(np.cos(np.radians(alt[0])))
        self.terms["altitude_index"] = 60.0 * float(alt[0] - reads[1][0]) + off[1]

    def offset_arcmin(self, star: str) -> Pair:
        """Where a star stands from the middle when the go-to has ended, right and up (2,)."""
        az, alt = self.place_deg(star)
        looked = pointed_deg(az, alt, self.terms, STILL)
        step = np.concatenate(step_on_sky_deg(*looked, az, alt))
        return np.asarray(60.0 * step + SCATTER_ARCMIN * self.rng.normal(size=2))

    def seen(self, star: str, from_arcmin: Pair | None = None) -> Mapping[str, Any]:
        """What is tapped of a star: where it stands, and by how many fields the tube was moved."""
        off = self.offset_arcmin(star) if from_arcmin is None else from_arcmin
        fields = np.zeros(2)
        if np.hypot(*off) > SEEN_WITHIN * FIELD_ARCMIN / 2.0:
            fields = np.round(off / FIELD_ARCMIN)
        strayed = np.sqrt(np.abs(fields)) * MOVED_TO * FIELD_ARCMIN * self.rng.normal(size=2)
        left = off - fields * FIELD_ARCMIN - strayed
        left = left + self.tapped_to * FIELD_ARCMIN * self.rng.normal(size=2)
        matrix = self.stands.matrices(self.place_deg(star)[1])[0]
        x, y = (matrix @ left / (FIELD_ARCMIN / 2.0)).tolist()
        right, up = fields.tolist()
        return {"x": round(x, 3), "y": round(y, 3), "fields_right": right, "fields_up": up}

    def tap(self, star: str, **further: Any) -> dict[str, Any]:
        """Go to a star, tap it and have the door's answer; some minutes pass."""
        answer = self.phone.send(entry("tap", target=star, **{**self.seen(star), **further}))[0]
        self.phone.clock.now_s += SECONDS_A_STAR
        return answer

    def tap_some(self, count: int) -> None:
        """Go to so many stars, drawn from those that are up."""
        for star in self.rng.choice(self.names(), count, replace=False).tolist():
            self.tap(star)
