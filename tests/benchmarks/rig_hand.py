"""Rigs moved by hand through the room: chains of hinges, a universal joint, a ball joint."""

import numpy as np
from rig_courses import activity, wandering
from rig_sensing import Sensing, direction, fine_time_s, hinged
from rig_sensors import Body, Foam, fine_rate_hz, product
from scipy.spatial.transform import Rotation

__all__ = ["ball", "chain", "universal"]

OPTICAL_DEG = 0.2


class _Hand:
    """A hand that carries and turns a body through the room, and swings joints, each at its own mixed pace."""

    def __init__(self, rng, rate_hz, seconds, pace):
        self.rng, self.pace = rng, pace
        self.time_s, self.fine_hz = fine_time_s(seconds, rate_hz), fine_rate_hz(rate_hz)
        self.still_s = rng.uniform(3.0, 5.0, size=2)

    def at_a_pace(self):
        return self.pace * activity(self.time_s, self.rng, still_s=self.still_s)

    def carried(self):
        rng, pace = self.rng, self.at_a_pace()
        turns, places = [], []
        for _ in "xyz":
            turns.append(wandering(self.time_s, pace, rng, span=rng.uniform(1.5, 3.5), hertz=(0.06, 0.4)))
            places.append(wandering(self.time_s, pace, rng, span=rng.uniform(0.3, 0.8), hertz=(0.1, 0.6)))
        attitude = product(Rotation.random(rng=rng), Rotation.from_rotvec(np.stack(turns, axis=1)))
        return Body(attitude, np.stack(places, axis=1), self.fine_hz)

    def swung_rad(self, low_deg, high_deg):
        span = np.radians(self.rng.uniform(low_deg, high_deg))
        return wandering(self.time_s, self.at_a_pace(), self.rng, span=span)


def chain(seed, *, rate_hz=40.0, seconds=67.0, soft=False, sampling="mean before", pace=1.0):
    """Four segments and three hinges, moved by hand through the room; optical reference (0.2 deg).

    Lies on a table at both ends, is lifted, turned and shifted in any way between, while the hinges swing over 130 to
    160 degrees at mixed speeds with pauses. ``soft``: sensors on foam; what kind of foam, as keywords of `Foam.drawn`.
    """
    rng = np.random.default_rng([seed, 1])
    foam = soft if isinstance(soft, dict) else {}
    hand = _Hand(rng, rate_hz, seconds, pace)
    sensing = Sensing("chain on foam" if soft else "chain", seed, rate_hz, rng, sampling=sampling)
    body = hand.carried()

    def put(number, body):
        along = direction(rng) * rng.uniform(0.05, 0.2)
        sensing.put(f"segment{number}", body, along, soft=Foam.drawn(rng, **foam) if soft else None)

    put(1, body)
    for number in range(1, 4):
        axis, home = direction(rng), Rotation.random(rng=rng)
        angle = hand.swung_rad(130.0, 160.0)
        body = hinged(body, direction(rng) * rng.uniform(0.1, 0.25), axis, angle, home)
        put(number + 1, body)
        pair = f"segment{number}", f"segment{number + 1}"
        sensing.joint(f"hinge{number}", *pair, angle, axis, home, noise_deg=OPTICAL_DEG)
    return sensing.rig()


def _many_axes(name, seed, stream, axes, spans_deg, *, rate_hz, seconds, soft, sampling, pace):
    """Two segments with a joint that turns about several axes, one after the other."""
    rng = np.random.default_rng([seed, stream])
    hand = _Hand(rng, rate_hz, seconds, pace)
    sensing = Sensing(f"{name} on foam" if soft else name, seed, rate_hz, rng, sampling=sampling)
    body = hand.carried()
    # the joint sits in its segment in any direction
    axes = Rotation.random(rng=rng).apply(np.atleast_2d(axes(rng)))
    home = Rotation.random(rng=rng)
    angles = np.stack([hand.swung_rad(*span) for span in spans_deg], axis=1)
    angles -= (angles.max(axis=0) + angles.min(axis=0)) / 2.0
    last = len(axes) - 1
    distal = body
    place = direction(rng) * rng.uniform(0.1, 0.25)
    for number, axis in enumerate(axes):
        joined = place if number == 0 else np.zeros(3)
        distal = hinged(distal, joined, axis, angles[:, number], home if number == last else None)
    for point, each in (("proximal", body), ("distal", distal)):
        along = direction(rng) * rng.uniform(0.05, 0.2)
        sensing.put(point, each, along, soft=Foam.drawn(rng) if soft else None)
    sensing.joint(name, "proximal", "distal", angles, axes, home, noise_deg=OPTICAL_DEG)
    return sensing.rig()


def universal(seed, *, rate_hz=40.0, seconds=67.0, soft=False, sampling="mean before", pace=1.0):
    """Two segments joined by two axes at 75 to 105 degrees to each other, as in wrist, elbow or ankle complex."""

    def axes(rng):
        apart = np.radians(rng.uniform(75.0, 105.0))
        return [[1.0, 0.0, 0.0], [np.cos(apart), np.sin(apart), 0.0]]

    spans_deg = (100.0, 140.0), (50.0, 90.0)
    how = {"rate_hz": rate_hz, "seconds": seconds, "soft": soft, "sampling": sampling, "pace": pace}
    return _many_axes("universal joint", seed, 5, axes, spans_deg, **how)


def ball(seed, *, rate_hz=40.0, seconds=67.0, soft=False, sampling="mean before", pace=1.0):
    """Two segments joined by a ball that keeps within a hip's range: 120, 60 and 60 degrees about three axes."""
    spans_deg = (100.0, 120.0), (40.0, 60.0), (40.0, 60.0)
    how = {"rate_hz": rate_hz, "seconds": seconds, "soft": soft, "sampling": sampling, "pace": pace}
    return _many_axes("ball joint", seed, 6, lambda _: np.eye(3), spans_deg, **how)
