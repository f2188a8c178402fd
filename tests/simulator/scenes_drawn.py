"""Drawn scenes from an allotment garden, as light in stops the paper would see.

The paper sees ultraviolet: skies are white, foliage and soil dark, glass and
whitewash in between. Each function paints one scene on a Canvas.
"""
import numpy as np
from scipy import ndimage


def sky(c, horizon, glow=0.0):
    """Bright sky with clouds, a little darker upwards."""
    x, y = c.grid()
    cloud = c.noise(2.0, 0.35) - 0.9 * (y / horizon)
    stretch = ndimage.gaussian_filter(cloud, (1.0, 6.0))
    puff = np.clip(0.5 + 0.6 * stretch, 0, 1)
    tone = -0.75 - 0.5 * (1 - y / horizon) + 0.75 * puff + glow * (y / horizon - 0.6)
    c.fill(y < horizon, np.minimum(tone, 0.0))


def hills(c, horizon, stops, height=0.06):
    """A wavy line of hedges and far trees."""
    steps = np.linspace(0, c.wide, 240)
    bumps = np.convolve(c.rng.standard_normal(260), np.hanning(16) / 8, "same")[10:250]
    fine = 0.25 * c.rng.standard_normal(240)
    top = horizon - height * np.clip(0.6 + 0.5 * bumps + 0.2 * fine, 0.1, 2)
    region = c.mask([(0, horizon + 0.02), *zip(steps, top), (c.wide, horizon + 0.02)])
    c.fill(region, stops + 0.5 * c.noise(1.0, 0.05))


def ground(c, top, stops, rows=0, vanish=0.5):
    """Soil: clods growing towards the viewer, with furrows to a vanishing point."""
    x, y = c.grid()
    near = np.clip((y - top) / (1 - top), 1e-3, 1)
    fine, coarse = c.noise(0.8, 0.02), c.noise(1.2, 0.1)
    tone = stops + 0.35 * fine * (1 - near) + 0.45 * coarse * near + 0.4 * near
    if rows:
        across = (x - vanish * c.wide) / near
        tone = tone + 0.55 * np.sin(across * rows + 0.25 * coarse)
    c.fill(y >= top, tone)


def shade(c, strength=0.5):
    """Light from one side and a soft darkening of the corners."""
    x, y = c.grid()
    side = x / c.wide - 0.5
    corner = ((x / c.wide - 0.5) ** 2 + (y - 0.5) ** 2) * 2
    c.add(strength * side - 0.6 * strength * corner)


def box(c, x0, y0, x1, y1, stops):
    c.poly([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], stops)


def planks(c, x0, y0, x1, y1, n, stops, across=False):
    """Weathered boards: grain along the board, dark joints."""
    x, y = c.grid()
    region = (x >= x0) & (x < x1) & (y >= y0) & (y < y1)
    blur = (0.6, 30.0) if across else (30.0, 0.6)
    grain = ndimage.gaussian_filter(c.rng.standard_normal((c.h, c.w)).astype(np.float32), blur)
    grain /= grain.std()
    where = ((y - y0) / (y1 - y0) if across else (x - x0) / (x1 - x0)) * n
    board = c.rng.uniform(-0.35, 0.35, n + 1)[np.clip(where.astype(int), 0, n)]
    c.fill(region, stops + 0.28 * grain + board)
    for i in range(n + 1):
        at = i / n
        if across:
            yy = y0 + at * (y1 - y0)
            c.line([(x0, yy), (x1, yy)], 0.003, stops - 1.6)
        else:
            xx = x0 + at * (x1 - x0)
            c.line([(xx, y0), (xx, y1)], 0.003, stops - 1.6)


def bricks(c, x0, y0, x1, y1, course, stops):
    """A brick wall with pale joints."""
    x, y = c.grid()
    region = (x >= x0) & (x < x1) & (y >= y0) & (y < y1)
    row = np.floor((y - y0) / course)
    along = (x - x0) / (course * 2.6) + 0.5 * (row % 2)
    tone = c.rng.normal(0, 0.4, (64, 64))
    tone = tone[row.astype(int) % 64, np.floor(along).astype(int) % 64]
    fy, fx = (y - y0) / course % 1.0, along % 1.0
    joint = (fy < 0.13) | (fx < 0.05)
    c.fill(region, np.where(joint, stops + 1.1, stops + tone) + 0.22 * c.noise(0.8, 0.03))


def can(c, x, y, s, stops):
    """A watering can with rose and handle; s is its height."""
    ring = [(x + 0.55 * s * np.cos(a), y - 0.75 * s + 0.5 * s * np.sin(a))
            for a in np.linspace(np.pi, 2 * np.pi, 24)]
    c.line(ring, 0.06 * s, stops - 0.6)
    c.poly([(x + 0.3 * s, y - 0.12 * s), (x + 1.15 * s, y - 0.95 * s),
            (x + 1.25 * s, y - 0.85 * s), (x + 0.42 * s, y)], stops - 0.4)
    c.poly([(x + 1.05 * s, y - 1.08 * s), (x + 1.42 * s, y - 0.9 * s),
            (x + 1.2 * s, y - 0.78 * s)], stops - 0.1)
    for i in range(24):
        t = i / 24
        left = x - 0.45 * s + 0.9 * s * t
        box(c, left, y - 0.75 * s, left + 0.045 * s, y,
            stops + 1.1 * np.exp(-(((t - 0.35) / 0.16) ** 2)) - 0.8 * t)
    c.oval(x, y - 0.75 * s, 0.45 * s, 0.1 * s, stops - 1.5)


def cabbage(c, x, y, s, stops):
    """A head of leaves round a paler heart."""
    c.oval(x + 0.2 * s, y + 0.35 * s, 1.25 * s, 0.35 * s, stops - 1.8)
    for ring, n in ((1.0, 10), (0.72, 8), (0.42, 6)):
        for k in range(n):
            a = 2 * np.pi * (k + c.rng.random() * 0.6) / n
            lx, ly = x + 0.45 * ring * s * np.cos(a), y + 0.3 * ring * s * np.sin(a)
            tone = stops + 0.9 * (1 - ring) - 0.55 * np.sin(a) + 0.2 * c.rng.standard_normal()
            c.leaf(lx, ly, 0.75 * ring * s, a, tone, 0.55)
            tip = (lx + 0.7 * ring * s * np.cos(a), ly + 0.7 * ring * s * np.sin(a))
            c.line([(lx, ly), tip], 0.012 * s + 0.0006, tone + 0.8)


def bush(c, x, y, rx, ry, stops, count=900, leaf=0.018):
    """A shrub of many small leaves, lit from above."""

    def place(rng):
        a, r = rng.uniform(0, 2 * np.pi), np.sqrt(rng.random())
        dx, dy = r * np.cos(a), r * np.sin(a)
        return x + rx * dx, y + ry * dy, np.clip(0.5 - 0.5 * dy + 0.25 * rng.standard_normal(), 0, 1)

    c.oval(x, y, rx * 0.92, ry * 0.92, stops - 0.9)
    c.leaves(count, place, leaf, stops, 0.9)


def panes(c, corners, nx, ny, behind):
    """Glazed quadrilateral: reflected sky, plants behind, white bars."""
    tl, tr, br, bl = (np.array(p) for p in corners)

    def at(u, v):
        return tuple((1 - v) * ((1 - u) * tl + u * tr) + v * ((1 - u) * bl + u * br))

    x, y = c.grid()
    region = c.mask(corners)
    sheen = 1.1 * np.exp(-((((x + 0.7 * y) * 3.1 % 1.0) - 0.5) ** 2) / 0.02)
    c.fill(region, behind + sheen + 0.5 * c.noise(1.6, 0.15))
    for i in range(nx):
        for j in range(ny):
            quad = [at(i / nx, j / ny), at((i + 1) / nx, j / ny),
                    at((i + 1) / nx, (j + 1) / ny), at(i / nx, (j + 1) / ny)]
            if c.rng.random() < 0.45:
                m = c.mask(quad)
                c.fill(m, np.array(c.image) + c.rng.uniform(-0.8, 1.0))
    return at


def bars(c, at, nx, ny, width, stops):
    """Glazing bars over `panes`, each with a shadow side."""
    for i in range(nx + 1):
        c.line([at(i / nx, 0), at(i / nx, 1)], width, stops)
        (x0, y0), (x1, y1) = at(i / nx, 0), at(i / nx, 1)
        c.line([(x0 + width * 0.6, y0), (x1 + width * 0.6, y1)], width * 0.4, stops - 2.5)
    for j in range(ny + 1):
        c.line([at(0, j / ny), at(1, j / ny)], width * 0.7, stops - 0.2)


def glasshouse(c):
    """A whitewashed glasshouse with tomatoes behind the panes, a brick path."""
    w = c.wide
    sky(c, 0.62)
    hills(c, 0.6, -4.4, 0.09)
    ground(c, 0.6, -4.6)
    l, r, e, b, k = 0.16 * w, 0.72 * w, 0.42, 0.83, 0.2
    mid = (l + r) / 2
    far = 0.97 * w
    roof = [(mid, k), (mid + (far - r), k + 0.05), (far, e + 0.015), (r, e)]
    at = panes(c, roof, 6, 3, -1.3)
    bars(c, at, 6, 3, 0.008, -0.35)
    side = [(r, e), (far, e + 0.015), (far, b - 0.07), (r, b)]
    at = panes(c, side, 5, 2, -3.2)
    bars(c, at, 5, 2, 0.008, -0.9)
    front = [(l, e), (r, e), (r, b), (l, b)]
    at = panes(c, front, 6, 3, -2.8)
    gable = [(l, e), (mid, k), (r, e)]
    c.fill(c.mask(gable), -1.9 + 0.4 * c.noise(1.6, 0.1))

    def tomato(rng):
        return rng.uniform(l + 0.02, r - 0.02), rng.normal(0.68, 0.09), rng.random()

    keep = np.array(c.image)
    c.leaves(700, tomato, 0.03, -4.2, 0.7)
    inside = c.mask(front)
    c.fill(~inside, keep)
    for _ in range(26):
        c.oval(c.rng.uniform(l + .03, r - .03), c.rng.normal(0.69, 0.06), 0.011, 0.011, -3.0)
    bars(c, at, 6, 3, 0.008, -0.25)
    for u in np.linspace(0.15, 0.85, 5):
        top = e + (k - e) * (1 - abs(2 * u - 1))
        c.line([(l + u * (r - l), e), (l + u * (r - l), top)], 0.007, -0.3)
    for side_line in ([(l, e), (mid, k)], [(mid, k), (r, e)]):
        c.line(side_line, 0.018, -0.15)
    c.line([(mid, k), (mid + far - r, k + 0.05)], 0.014, -0.3)
    door = (mid - 0.075, mid + 0.075)
    box(c, door[0], e + 0.02, door[1], b, -2.4)
    c.fill(c.mask([(door[0], e + .05), (door[1], e + .05), (door[1], 0.66), (door[0], 0.66)]),
           -3.4 + 0.7 * c.noise(1.4, 0.06))
    for d in door:
        c.line([(d, e), (d, b)], 0.012, -0.2)
    planks(c, door[0], 0.67, door[1], b, 5, -1.3)
    bricks(c, l, b - 0.06, door[0], b + 0.01, 0.018, -3.0)
    bricks(c, door[1], b - 0.06, r, b + 0.01, 0.018, -3.0)
    before_glasshouse(c, door, mid, b)


def before_glasshouse(c, door, mid, b):
    """The brick path, shrubs, cabbages and the can in front of it."""
    w = c.wide
    x, y = c.grid()
    path = c.mask([(door[0], b), (door[1], b), (mid + 0.28, 1), (mid - 0.28, 1)])
    stone = c.noise(0.6, 0.02) * np.clip(y - 0.7, 0, 1) * 2.2
    c.fill(path, -2.4 + stone + 0.3 * np.sign(np.sin(y * y * 160)))
    bush(c, 0.05 * w, 0.73, 0.11, 0.17, -4.6)
    bush(c, 0.93 * w, 0.86, 0.13, 0.12, -4.7)
    for i in range(7):
        cabbage(c, 0.1 * w + 0.035 * i * w * 0.9, 0.9 + 0.045 * (i % 2), 0.035, -3.9)
    can(c, 0.78 * w, 0.94, 0.1, -2.3)
    shade(c, 0.5)


def pole_row(c, foot, top, n, spread, width, stops, leaf_count):
    """A row of crossed poles with beans climbing them, receding to the right."""
    (x0, y0), (x1, y1) = foot
    ridge = [(x0 + (x1 - x0) * t, top + (0.18) * t) for t in (0, 1)]
    stems = []
    for i in range(n):
        t = (i / max(n - 1, 1)) ** 0.75
        s = 1 - 0.62 * t
        bx, by = x0 + (x1 - x0) * t, y0 + (y1 - y0) * t
        ty = top + 0.18 * t
        for side in (-1, 1):
            a = (bx + side * spread * s, by)
            b = (bx - side * 0.16 * spread * s, ty - 0.07 * s)
            c.line([a, b], width * s, stops + 0.25 * side)
            stems.append((a, b, s))
    c.line(ridge, width * 0.9, stops + 0.4)

    def place(rng):
        (ax, ay), (bx, by), s = stems[rng.integers(len(stems))]
        t = rng.beta(1.3, 1.2)
        return (ax + (bx - ax) * t + 0.024 * s * rng.standard_normal(),
                ay + (by - ay) * t + 0.01 * rng.standard_normal(), rng.random())

    c.leaves(leaf_count, place, 0.026, stops - 2.4, 0.9, 0.6)


def bean_poles(c):
    """Bean poles in crossed rows over furrows, a shed behind."""
    w = c.wide
    sky(c, 0.6)
    hills(c, 0.6, -4.2, 0.1)
    planks(c, 0.66 * w, 0.38, 0.93 * w, 0.62, 11, -2.6)
    c.poly([(0.63 * w, 0.39), (0.70 * w, 0.27), (0.90 * w, 0.27), (0.96 * w, 0.39)], -1.9)
    c.line([(0.63 * w, 0.39), (0.96 * w, 0.39)], 0.008, -4.5)
    box(c, 0.71 * w, 0.44, 0.78 * w, 0.53, -4.2)
    box(c, 0.715 * w, 0.445, 0.742 * w, 0.483, -1.4)
    ground(c, 0.6, -4.2, 26.0, 0.62)
    for i in range(9):
        cabbage(c, (0.62 + 0.045 * i) * w, 0.69 + 0.012 * i, 0.018 + 0.002 * i, -3.4)
    for i in range(6):
        cabbage(c, (0.5 + 0.1 * i) * w, 0.86 + 0.02 * i, 0.05, -3.3)
    pole_row(c, ((0.15 * w, 0.93), (0.56 * w, 0.66)), 0.2, 7, 0.11, 0.013, -1.6, 620)
    can(c, 0.78 * w, 0.82, 0.085, -1.9)
    shade(c, 0.6)


def water_butt(c):
    """A staved butt under a downpipe, against a brick wall with ivy."""
    w = c.wide
    bricks(c, 0, 0, w, 0.84, 0.034, -2.7)
    x, y = c.grid()
    ground(c, 0.82, -3.4)
    c.add(np.where(y < 0.82, -0.9 * np.clip((0.34 * w - x) / (0.3 * w), 0, 1), 0))
    box(c, 0.60 * w, 0, 0.645 * w, 0.30, -1.5)
    box(c, 0.63 * w, 0, 0.645 * w, 0.30, -3.2)
    for yy in (0.05, 0.2):
        box(c, 0.59 * w, yy, 0.655 * w, yy + 0.018, -1.2)
    cx, half, top, base = 0.56 * w, 0.21, 0.33, 0.9
    c.oval(cx + 0.1, base + 0.01, half * 1.25, 0.045, -5.6)
    n = 15
    for i in range(n):
        a0, a1 = np.pi * i / n, np.pi * (i + 1) / n
        lit = -2.1 + 1.2 * np.exp(-(((i - 4.5) / 2.6) ** 2)) - 1.9 * (i / n) ** 2
        ys = np.linspace(top, base, 13)
        swell = half * (0.88 + 0.12 * np.sin(np.pi * (ys - top) / (base - top)))
        left = [(cx - s * np.cos(a0), v) for s, v in zip(swell, ys)]
        right = [(cx - s * np.cos(a1), v) for s, v in zip(swell, ys)]
        region = c.mask(left + right[::-1])
        c.fill(region, lit + c.rng.normal(0, 0.18) + 0.2 * c.noise(0.9, 0.02))
        c.line(right, 0.0025, lit - 1.6)
    for v in (0.42, 0.6, 0.8):
        s = half * (0.88 + 0.12 * np.sin(np.pi * (v - top) / (base - top)))
        arc = [(cx - s * np.cos(a), v + 0.022 * np.sin(a)) for a in np.linspace(0, np.pi, 40)]
        c.line(arc, 0.02, -3.7)
        c.line([(p, q - 0.006) for p, q in arc[6:18]], 0.005, -1.4)
    c.oval(cx, top, half * 0.88, 0.04, -2.2)
    c.oval(cx, top + 0.003, half * 0.8, 0.031, -4.8)
    c.oval(cx - 0.05, top + 0.008, half * 0.36, 0.014, -0.8)
    c.line([(cx - 0.02, 0.76), (cx - 0.02, 0.785), (cx - 0.03, 0.8)], 0.014, -1.0)
    c.line([(cx - 0.045, 0.755), (cx + 0.005, 0.755)], 0.008, -0.8)

    def ivy(rng):
        t = rng.random()
        return (0.02 * w + abs(rng.normal(0, 0.085 + 0.05 * np.sin(7 * t))),
                t * 0.95, rng.random())

    c.leaves(1500, ivy, 0.03, -4.4, 0.8, 0.6)
    can(c, 0.21 * w, 0.94, 0.17, -1.7)
    for i in range(5):
        s = 0.05 + 0.01 * (i % 2)
        px = (0.76 + 0.05 * i) * w
        c.poly([(px - s, 0.93 - 1.4 * s), (px + s, 0.93 - 1.4 * s),
                (px + .7 * s, 0.95), (px - .7 * s, 0.95)], -2.4 - 0.25 * (i % 3))
        box(c, px - 1.1 * s, 0.93 - 1.7 * s, px + 1.1 * s, 0.93 - 1.3 * s, -1.9)
        bush(c, px, 0.93 - 2.1 * s, s, 0.9 * s, -4.0, 90, 0.02)
    shade(c, -0.7)


def scarecrow(c):
    """A scarecrow with hat and tattered coat over rows of cabbages."""
    w = c.wide
    sky(c, 0.66)
    hills(c, 0.66, -4.3, 0.07)
    ground(c, 0.65, -4.4, 22.0, 0.5)
    for depth in np.linspace(0.02, 1, 9) ** 1.6:
        y = 0.68 + 0.27 * depth
        for i in range(-4, 5):
            cabbage(c, 0.5 * w + i * (0.07 + 0.16 * depth), y, 0.014 + 0.042 * depth, -3.3)
    for i in range(9):
        px = (i + 0.3) * w / 9
        c.line([(px, 0.56), (px + 0.004, 0.68)], 0.007, -2.2 - 0.2 * (i % 3))
    for v in (0.585, 0.63):
        c.line([(0, v), (w, v + 0.01)], 0.004, -2.5)
    m = 0.5 * w
    c.line([(m, 0.2), (m + 0.012, 0.93)], 0.018, -3.0)
    c.line([(m - 0.31, 0.385), (m + 0.31, 0.355)], 0.014, -2.8)
    coat = [(m - 0.08, 0.33), (m - 0.29, 0.345), (m - 0.3, 0.425), (m - 0.115, 0.425),
            (m - 0.14, 0.7), (m - 0.06, 0.67), (m - 0.02, 0.72), (m + 0.05, 0.675),
            (m + 0.13, 0.71), (m + 0.12, 0.42), (m + 0.3, 0.4), (m + 0.29, 0.32), (m + 0.08, 0.32)]
    cloth = c.noise(1.5, 0.12)
    x, y = c.grid()
    c.fill(c.mask(coat), -3.6 + 0.55 * cloth + 0.5 * np.sin((x - 0.5 * (y - 0.3)) * 70) * (y > 0.42))
    c.poly([(m - 0.055, 0.33), (m, 0.46), (m + 0.055, 0.32)], -1.0)
    c.line([(m - 0.005, 0.46), (m - 0.012, 0.69)], 0.004, -5.4)
    for i in range(4):
        c.oval(m + 0.012, 0.5 + 0.05 * i, 0.007, 0.007, -0.9)
    box(c, m + 0.045, 0.53, m + 0.1, 0.59, -2.6)
    for side in (-1, 1):
        for _ in range(60):
            sx, sy = m + side * 0.295, 0.385 + c.rng.uniform(-0.025, 0.025)
            c.line([(sx, sy), (sx + side * c.rng.uniform(0.02, 0.075), sy + c.rng.normal(0, 0.025))],
                   0.003, -1.2 + 0.4 * c.rng.standard_normal())
    c.oval(m, 0.265, 0.062, 0.075, -1.5)
    c.add(-0.6 * np.clip((x - m) / 0.06, 0, 1) * (np.hypot((x - m) / 0.062, (y - 0.265) / 0.075) < 1))
    for ex in (-0.022, 0.022):
        c.oval(m + ex, 0.25, 0.009, 0.012, -5.0)
    c.line([(m - 0.03, 0.3), (m - 0.01, 0.311), (m + 0.015, 0.31), (m + 0.032, 0.298)], 0.006, -4.6)
    for _ in range(70):
        a = c.rng.uniform(0.1, np.pi - 0.1)
        c.line([(m + 0.05 * np.cos(a), 0.32), (m + 0.09 * np.cos(a), 0.345 + 0.03 * c.rng.random())],
               0.003, -1.1 + 0.3 * c.rng.standard_normal())
    c.poly([(m - 0.13, 0.213), (m + 0.13, 0.195), (m + 0.11, 0.222), (m - 0.11, 0.235)], -3.9)
    c.poly([(m - 0.07, 0.21), (m - 0.055, 0.1), (m + 0.045, 0.092), (m + 0.068, 0.2)], -3.5)
    c.poly([(m - 0.071, 0.205), (m - 0.066, 0.18), (m + 0.064, 0.17), (m + 0.068, 0.195)], -1.5)
    for bx, by, s in ((0.16 * w, 0.14, 0.05), (0.26 * w, 0.24, 0.03), (0.86 * w, 0.18, 0.04)):
        c.line([(bx - s, by - .3 * s), (bx - .4 * s, by - .5 * s), (bx, by),
                (bx + .5 * s, by - .6 * s), (bx + s, by - .35 * s)], 0.2 * s, -4.6)
    shade(c, 0.5)


def seed_trays(c):
    """Trays of seedlings, pots and labels on slatted staging by a window."""
    w = c.wide
    x, y = c.grid()
    c.fill(y < 0.34, -0.6 + 0.35 * c.noise(2.0, 0.3))
    for i in range(5):
        px = (i + 0.45) * w / 4.6
        box(c, px - 0.012, 0, px + 0.012, 0.34, -2.6)
        box(c, px + 0.006, 0, px + 0.012, 0.34, -4.0)
    box(c, 0, 0.315, w, 0.35, -2.0)
    planks(c, 0, 0.35, w, 1.0, 9, -2.0, across=True)
    c.add(np.where(y > 0.35, 0.8 * (0.55 - y), 0))
    for i in range(6):
        px, s = (0.1 + 0.165 * i) * w, 0.06
        c.oval(px + 0.03, 0.475, 0.06, 0.012, -4.6)
        for k in range(18):
            t = k / 18
            box(c, px - s + 2 * s * t, 0.36, px - s + 2 * s * (t + .06), 0.47,
                -2.3 + 1.0 * np.exp(-(((t - .3) / .2) ** 2)) - 1.1 * t)
        box(c, px - 1.12 * s, 0.345, px + 1.12 * s, 0.372, -1.9)
        bush(c, px, 0.29, 0.055, 0.075, -4.0, 160, 0.026)
    for tray in range(3):
        y0, dy = 0.505 + 0.15 * tray, 0.12 + 0.012 * tray
        for side in range(2):
            x0 = (0.03 + 0.5 * side) * w
            tray_of_cells(c, x0, y0, 0.43 * w, dy)
    can(c, 0.93 * w, 0.99, 0.15, -1.8)
    shade(c, 0.4)


def tray_of_cells(c, x0, y0, dx, dy):
    """One tray seen from above: cells of compost, each with a seedling."""
    box(c, x0 + 0.012, y0 + 0.012, x0 + dx + 0.016, y0 + dy + 0.016, -5.2)
    box(c, x0, y0, x0 + dx, y0 + dy, -0.9)
    nx, ny = 7, 3
    for j in range(ny):
        for i in range(nx):
            cx, cy = x0 + dx * (i + 0.08) / nx, y0 + dy * (j + 0.1) / ny
            m = c.mask([(cx, cy), (cx + dx * .84 / nx, cy), (cx + dx * .84 / nx, cy + dy * .8 / ny),
                        (cx, cy + dy * .8 / ny)])
            c.fill(m, -4.9 + 0.6 * c.rng.standard_normal((c.h, c.w)))
    for j in range(ny):
        for i in range(nx):
            if c.rng.random() < 0.12:
                continue
            cx, cy = x0 + dx * (i + 0.5) / nx, y0 + dy * (j + 0.5) / ny
            s, a = c.rng.uniform(0.014, 0.024), c.rng.uniform(0, 2 * np.pi)
            for k in range(c.rng.integers(2, 5)):
                c.leaf(cx, cy, s, a + k * 2.1, -2.7 + 0.3 * c.rng.standard_normal(), 0.5)
    box(c, x0 + 0.02, y0 - 0.03, x0 + 0.045, y0 + 0.03, -0.15)
    for k in range(3):
        c.line([(x0 + 0.024, y0 - 0.02 + 0.012 * k), (x0 + 0.041, y0 - 0.02 + 0.012 * k)], 0.002, -3)


def silhouette(c):
    """Against the light: poles, a scarecrow and a bare tree over black ground."""
    w = c.wide
    x, y = c.grid()
    sky(c, 0.8, 0.5)
    hills(c, 0.76, -6.5, 0.05)
    c.fill(y >= 0.755, -7.6 + 0.25 * c.noise(1.0, 0.05))
    for i in range(30):
        px, s = c.rng.uniform(0, w), c.rng.uniform(0.01, 0.05)
        c.line([(px, 0.77), (px + c.rng.normal(0, 0.015), 0.76 - s)], 0.003, -7)
    tree(c, (0.85 * w, 0.78), -np.pi / 2, 0.22, 0.022, 8)
    m = 0.3 * w
    c.line([(m, 0.36), (m, 0.8)], 0.014, -7)
    c.line([(m - 0.15, 0.47), (m + 0.15, 0.46)], 0.012, -7)
    c.poly([(m - .05, .44), (m - .14, .45), (m - .15, .51), (m - .05, .51), (m - .08, .68),
            (m + .07, .67), (m + .05, .5), (m + .15, .49), (m + .14, .44), (m + .05, .43)], -7.2)
    c.oval(m, 0.4, 0.032, 0.04, -7)
    c.poly([(m - .075, .372), (m + .075, .366), (m + .07, .378), (m - .07, .384)], -7)
    c.poly([(m - .036, .37), (m - .03, .31), (m + .028, .31), (m + .036, .37)], -7)
    pole_row(c, ((0.47 * w, 0.79), (0.68 * w, 0.77)), 0.42, 5, 0.045, 0.008, -6.5, 150)


def tree(c, foot, angle, length, width, depth):
    """A bare tree, branch by branch."""
    x, y = foot
    tip = (x + length * np.cos(angle), y + length * np.sin(angle))
    c.line([foot, tip], width, -6.8)
    if depth == 0:
        return
    for turn in (-1, 1):
        bend = turn * c.rng.uniform(0.2, 0.6)
        tree(c, tip, angle + bend, length * c.rng.uniform(0.66, 0.82), width * 0.68, depth - 1)


DRAWN = {"glasshouse": glasshouse, "bean poles": bean_poles, "water butt": water_butt,
         "scarecrow": scarecrow, "seed trays": seed_trays, "silhouette": silhouette}
