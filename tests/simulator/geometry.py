"""Where sheet and frame lie on the glass. Lengths in mm, y down, turns clockwise."""
import numpy as np


def turned(points, degrees):
    """Points turned clockwise as seen on the screen, about the origin."""
    a = np.radians(degrees)
    c, s = np.cos(a), np.sin(a)
    p = np.asarray(points, dtype=float)
    return np.stack([p[..., 0] * c - p[..., 1] * s, p[..., 0] * s + p[..., 1] * c], -1)


class Layout:
    """One sheet: its outline and its frame about the frame's centre.

    `place` moves it on the glass; afterwards the corner lists are on the glass.
    """

    def __init__(self, spec, rng):
        w, h = spec.size if spec.turn % 180 == 0 else spec.size[::-1]
        left, top, right, bottom = spec.margins
        self.spec, self.w, self.h = spec, w, h
        self.angle = spec.tilt + spec.frame_turn
        slip = np.tan(np.radians(spec.skew)) * rng.uniform(-1, 1, (4, 2)) * 0.5 * max(w, h)
        rect = np.array([[-w / 2 - left, -h / 2 - top], [w / 2 + right, -h / 2 - top],
                         [w / 2 + right, h / 2 + bottom], [-w / 2 - left, h / 2 + bottom]])
        self.outline = turned(rect + slip, spec.tilt)
        half = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2.0
        self.frame = turned(half, self.angle)
        self.centre = np.zeros(2)

    def box(self):
        return self.outline.min(axis=0), self.outline.max(axis=0)

    def place(self, offset):
        for points in (self.outline, self.frame, self.centre):
            points += offset

    def frame_coordinates(self, x, y):
        """Glass coordinates -> mm from the frame's top left corner, along it."""
        a = np.radians(self.angle)
        c, s = np.cos(a), np.sin(a)
        dx, dy = x - self.centre[0], y - self.centre[1]
        return (dx * c + dy * s + self.w / 2).astype(np.float32), (
            -dx * s + dy * c + self.h / 2).astype(np.float32)

    def upright(self, u, v):
        """Frame coordinates as scanned -> scene coordinates in mm (reading right)."""
        w, h = self.w, self.h
        if self.spec.mirrored:
            u = w - u
        return {0: (u, v), 90: (h - v, u), 180: (w - u, h - v), 270: (v, w - u)}[self.spec.turn]

    def inside_outline(self, x, y):
        """Distances inside the cut edge (negative outside, mitred at the corners)
        and outside it (rounded at the corners; 0 inside)."""
        sides = []
        for a, b in zip(self.outline, np.roll(self.outline, -1, axis=0)):
            edge = (b - a) / np.hypot(*(b - a))
            sides.append((edge[0] * (y - a[1]) - edge[1] * (x - a[0])).astype(np.float32))
        down, across = np.minimum(sides[0], sides[2]), np.minimum(sides[1], sides[3])
        outside = np.hypot(np.maximum(-down, 0), np.maximum(-across, 0))
        return np.minimum(down, across), outside

    def inside_frame(self, u, v):
        """Signed distance to the gate's edge, positive inside; rounded corners."""
        if self.spec.shape == "round":
            scale = min(self.w, self.h) / 2
            r = np.hypot((u - self.w / 2) / (self.w / 2), (v - self.h / 2) / (self.h / 2))
            return (1 - r) * scale
        r = self.spec.corner_radius
        dx = np.abs(u - self.w / 2) - (self.w / 2 - r)
        dy = np.abs(v - self.h / 2) - (self.h / 2 - r)
        outside = np.hypot(np.maximum(dx, 0), np.maximum(dy, 0))
        return r - outside - np.minimum(np.maximum(dx, dy), 0)


def from_top_left(corners):
    """Clockwise corners, beginning with the one nearest the top left."""
    corners = np.asarray(corners)
    return np.roll(corners, -int(np.argmin(corners.sum(axis=1))), axis=0)
