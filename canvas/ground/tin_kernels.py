"""Compiled inner loops of triangulated surfaces: forcing edges in, slopes at corners, cells filled.

Triangles are (n, 3) corners, counter-clockwise; `nbr[t, i]` is the triangle across the edge
opposite corner i, -1 for none; `hard[t, i]` is set where that edge must stay.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_TRI = "i4[:, ::1]"


@njit("f8(f8[:, ::1], i8, i8, i8)", nogil=True, cache=True)
def _turn(xy, a, b, c):  # type: ignore[no-untyped-def]
    """Return twice the area of a triangle, above 0 when it turns left."""
    return (xy[b, 0] - xy[a, 0]) * (xy[c, 1] - xy[a, 1]) - (xy[b, 1] - xy[a, 1]) * (
        xy[c, 0] - xy[a, 0]
    )


@njit("i8(i4[:, ::1], i8, i8)", nogil=True, cache=True)
def _corner(tri, t, v):  # type: ignore[no-untyped-def]
    """Return which corner of a triangle a point is; -1 for none."""
    for i in range(3):
        if tri[t, i] == v:
            return i
    return -1


@njit("i8(i4[:, ::1], i8, i8)", nogil=True, cache=True)
def _across(nbr, t, u):  # type: ignore[no-untyped-def]
    """Return through which edge a triangle touches another; -1 for none."""
    for i in range(3):
        if nbr[t, i] == u:
            return i
    return -1


@njit(f"void({_TRI}, {_TRI}, b1[:, ::1], i4[::1], i8, i8)", nogil=True, cache=True)
def _flip(tri, nbr, hard, at, t, i):  # type: ignore[no-untyped-def]
    """Turn the edge opposite corner i of triangle t round in the quadrangle it halves."""
    u = nbr[t, i]
    j = _across(nbr, u, t)
    i1, i2, j1, j2 = (i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3
    a, b, c, d = tri[t, i], tri[t, i1], tri[t, i2], tri[u, j]
    n_ca, n_ab, n_bd, n_dc = nbr[t, i1], nbr[t, i2], nbr[u, j1], nbr[u, j2]
    h_ca, h_ab, h_bd, h_dc = hard[t, i1], hard[t, i2], hard[u, j1], hard[u, j2]
    tri[t, 0], tri[t, 1], tri[t, 2] = a, b, d
    nbr[t, 0], nbr[t, 1], nbr[t, 2] = n_bd, u, n_ab
    hard[t, 0], hard[t, 1], hard[t, 2] = h_bd, False, h_ab
    tri[u, 0], tri[u, 1], tri[u, 2] = a, d, c
    nbr[u, 0], nbr[u, 1], nbr[u, 2] = n_dc, n_ca, t
    hard[u, 0], hard[u, 1], hard[u, 2] = h_dc, h_ca, False
    if n_bd >= 0:
        nbr[n_bd, _across(nbr, n_bd, u)] = t
    if n_ca >= 0:
        nbr[n_ca, _across(nbr, n_ca, t)] = u
    at[a], at[b], at[d], at[c] = t, t, t, u


@njit(f"UniTuple(i8, 2)({_TRI}, {_TRI}, i4[::1], i8, i8)", nogil=True, cache=True)
def _find_edge(tri, nbr, at, u, v):  # type: ignore[no-untyped-def]
    """Return a triangle with the edge u-v and the corner opposite it; (-1, -1) for none."""
    for way in range(2):
        t = at[u]
        for _ in range(10000):
            k = _corner(tri, t, u)
            if tri[t, (k + 1) % 3] == v:
                return t, (k + 2) % 3
            if tri[t, (k + 2) % 3] == v:
                return t, (k + 1) % 3
            t = nbr[t, (k + 1 + way) % 3]
            if t < 0 or t == at[u]:
                break
    return -1, -1


@njit("b1(f8[:, ::1], i8, i8, i8, i8)", nogil=True, cache=True)
def _cross(xy, a, b, u, v):  # type: ignore[no-untyped-def]
    """Return whether two pieces cross strictly inside both."""
    if u in (a, b) or v in (a, b):
        return False
    return (_turn(xy, a, b, u) > 0) != (_turn(xy, a, b, v) > 0) and (
        (_turn(xy, u, v, a) > 0) != (_turn(xy, u, v, b) > 0)
    )


@njit(f"i8(f8[:, ::1], {_TRI}, {_TRI}, i4[::1], i8, i8, f8, i4[:, ::1])", nogil=True, cache=True)
def _crossed(xy, tri, nbr, at, a, b, near, out):  # type: ignore[no-untyped-def]
    """Collect the edges a piece a-b crosses; return how many, or -2 - v for a point v on it."""
    length = math.hypot(xy[b, 0] - xy[a, 0], xy[b, 1] - xy[a, 1])
    t, k = -1, -1
    for way in range(2):
        s = at[a]
        for _ in range(10000):
            c = _corner(tri, s, a)
            p, q = tri[s, (c + 1) % 3], tri[s, (c + 2) % 3]
            for v in (p, q):
                ahead = (xy[v, 0] - xy[a, 0]) * (xy[b, 0] - xy[a, 0]) + (xy[v, 1] - xy[a, 1]) * (
                    xy[b, 1] - xy[a, 1]
                )
                if ahead > 0 and abs(_turn(xy, a, b, v)) <= near * length:
                    return -2 - v
            if _cross(xy, a, b, p, q):
                t, k = s, c
                break
            s = nbr[s, (c + 1 + way) % 3]
            if s < 0 or s == at[a]:
                break
        if t >= 0:
            break
    if t < 0:
        return 0
    made = 0
    while made < out.shape[0]:
        p, q = tri[t, (k + 1) % 3], tri[t, (k + 2) % 3]
        out[made, 0], out[made, 1] = p, q
        made += 1
        u = nbr[t, k]
        if u < 0:
            return made
        j = _across(nbr, u, t)
        apex = tri[u, j]
        if apex == b:
            return made
        if abs(_turn(xy, a, b, apex)) <= near * length:
            return -2 - apex
        # On through the edge of the far triangle that the piece leaves by.
        k = _corner(tri, u, q) if _cross(xy, a, b, p, apex) else _corner(tri, u, p)
        t = u
    return made


@njit(f"b1(f8[:, ::1], {_TRI}, {_TRI}, i8, i8)", nogil=True, cache=True)
def _convex(xy, tri, nbr, t, i):  # type: ignore[no-untyped-def]
    """Return whether the quadrangle about an edge is strictly convex: the edge may turn."""
    u = nbr[t, i]
    j = _across(nbr, u, t)
    a, b, c, d = tri[t, i], tri[t, (i + 1) % 3], tri[t, (i + 2) % 3], tri[u, j]
    return _turn(xy, a, b, d) > 0 and _turn(xy, a, d, c) > 0


@njit("b1(f8[:, ::1], i8, i8, i8, i8)", nogil=True, cache=True)
def _in_circle(xy, a, b, c, d):  # type: ignore[no-untyped-def]
    """Return whether d lies clearly inside the circle through a, b, c (counter-clockwise)."""
    ax, ay = xy[a, 0] - xy[d, 0], xy[a, 1] - xy[d, 1]
    bx, by = xy[b, 0] - xy[d, 0], xy[b, 1] - xy[d, 1]
    cx, cy = xy[c, 0] - xy[d, 0], xy[c, 1] - xy[d, 1]
    a2, b2, c2 = ax * ax + ay * ay, bx * bx + by * by, cx * cx + cy * cy
    det = ax * (by * c2 - b2 * cy) - ay * (bx * c2 - b2 * cx) + a2 * (bx * cy - by * cx)
    return det > 1e-9 * (a2 + b2 + c2) ** 2


@njit(
    f"void(f8[:, ::1], {_TRI}, {_TRI}, b1[:, ::1], i4[::1], i4[:, ::1], i8, i8, i8)",
    nogil=True,
    cache=True,
)
def _tidy(xy, tri, nbr, hard, at, edges, count, a, b):  # type: ignore[no-untyped-def]
    """Turn fresh edges back towards fat triangles, save the one that was forced."""
    for _ in range(20):
        turned = False
        for m in range(count):
            p, q = edges[m, 0], edges[m, 1]
            if (p == a and q == b) or (p == b and q == a):
                continue
            t, i = _find_edge(tri, nbr, at, p, q)
            if t < 0 or nbr[t, i] < 0 or hard[t, i] or not _convex(xy, tri, nbr, t, i):
                continue
            u = nbr[t, i]
            apex = tri[u, _across(nbr, u, t)]
            if _in_circle(xy, tri[t, 0], tri[t, 1], tri[t, 2], apex):
                _flip(tri, nbr, hard, at, t, i)
                edges[m, 0], edges[m, 1] = tri[t, 0], tri[t, 2]
                turned = True
        if not turned:
            break


@njit(
    f"b1(f8[:, ::1], {_TRI}, {_TRI}, b1[:, ::1], i4[::1], i8, i8, f8, b1, i4[:, ::1])",
    nogil=True,
    cache=True,
)
def _force_between(xy, tri, nbr, hard, at, a, b, near, is_hard, queue):  # type: ignore[no-untyped-def]
    """Make a-b an edge where no point lies between; return whether it could be."""
    t, i = _find_edge(tri, nbr, at, a, b)
    if t < 0:
        count = _crossed(xy, tri, nbr, at, a, b, near, queue)
        if count <= 0:
            return False
        todo, fresh, made, tries = count, np.empty((8192, 2), np.int32), 0, 0
        while todo > 0:
            tries += 1
            if tries > 200 * count + 1000:
                return False
            p, q = queue[0, 0], queue[0, 1]
            for m in range(1, todo):
                queue[m - 1, 0], queue[m - 1, 1] = queue[m, 0], queue[m, 1]
            todo -= 1
            t, i = _find_edge(tri, nbr, at, p, q)
            if t < 0 or nbr[t, i] < 0 or hard[t, i]:
                return False
            if not _convex(xy, tri, nbr, t, i):
                queue[todo, 0], queue[todo, 1] = p, q
                todo += 1
                continue
            _flip(tri, nbr, hard, at, t, i)
            p, q = tri[t, 0], tri[t, 2]
            if _cross(xy, a, b, p, q):
                queue[todo, 0], queue[todo, 1] = p, q
                todo += 1
            elif made < fresh.shape[0]:
                fresh[made, 0], fresh[made, 1] = p, q
                made += 1
        _tidy(xy, tri, nbr, hard, at, fresh, made, a, b)
        t, i = _find_edge(tri, nbr, at, a, b)
        if t < 0:
            return False
    if is_hard:
        hard[t, i] = True
        u = nbr[t, i]
        if u >= 0:
            hard[u, _across(nbr, u, t)] = True
    return True


@njit(
    f"i8(f8[:, ::1], {_TRI}, {_TRI}, b1[:, ::1], i4[::1], i8, i8, f8, b1)", nogil=True, cache=True
)
def force_edge(xy, tri, nbr, hard, at, a, b, near, is_hard):  # type: ignore[no-untyped-def]
    """Make a-b an edge (Sloan's way: turn every edge it crosses, then tidy those turned).

    Returns b when done; a point found on the way, to go on from; or -1 where it can't be (it
    crosses an edge forced before).
    """
    t, _ = _find_edge(tri, nbr, at, a, b)
    queue = np.empty((4096, 2), np.int32)
    if t < 0:
        count = _crossed(xy, tri, nbr, at, a, b, near, queue)
        if count <= -2:
            v = -2 - count
            done = _force_between(xy, tri, nbr, hard, at, a, v, near, is_hard, queue)
            return v if done else -1
    done = _force_between(xy, tri, nbr, hard, at, a, b, near, is_hard, queue)
    return b if done else -1


@njit(
    f"void(f8[:, ::1], f8[::1], {_TRI}, {_TRI}, b1[:, ::1], b1[::1], b1[::1], f8[:, :, ::1])",
    nogil=True,
    cache=True,
)
def corner_slopes(xy, z, tri, nbr, hard, used, flat, out):  # type: ignore[no-untyped-def]
    """Give each corner of each triangle the surface's slope there, (rise per m east, north).

    The mean of the facets round the point, weighed by their angle at it, as far as one gets
    without crossing a hard edge: a breakline keeps a crease. Facets between points of one
    contour count only where there are no others.
    """
    facet = np.empty((tri.shape[0], 2))
    for t in range(tri.shape[0]):
        a, b, c = tri[t, 0], tri[t, 1], tri[t, 2]
        area = _turn(xy, a, b, c)
        if area <= 0.0:
            facet[t, 0], facet[t, 1] = 0.0, 0.0
            continue
        ux, uy, uz = xy[b, 0] - xy[a, 0], xy[b, 1] - xy[a, 1], z[b] - z[a]
        vx, vy, vz = xy[c, 0] - xy[a, 0], xy[c, 1] - xy[a, 1], z[c] - z[a]
        facet[t, 0] = (uz * vy - vz * uy) / area
        facet[t, 1] = (ux * vz - vx * uz) / area
    for t in range(tri.shape[0]):
        for k in range(3):
            v = tri[t, k]
            for second in range(2):
                gx, gy, whole, round_it = 0.0, 0.0, 0.0, False
                for way in range(2):
                    if round_it:
                        break
                    s = t
                    for _ in range(1000):
                        c = _corner(tri, s, v)
                        counts = used[s] and (second == 1 or not flat[s])
                        if counts and not (way == 1 and s == t):
                            p, q = tri[s, (c + 1) % 3], tri[s, (c + 2) % 3]
                            ux, uy = xy[p, 0] - xy[v, 0], xy[p, 1] - xy[v, 1]
                            wx, wy = xy[q, 0] - xy[v, 0], xy[q, 1] - xy[v, 1]
                            w = abs(math.atan2(ux * wy - uy * wx, ux * wx + uy * wy))
                            gx += w * facet[s, 0]
                            gy += w * facet[s, 1]
                            whole += w
                        edge = (c + 1 + way) % 3
                        if hard[s, edge]:
                            break
                        s = nbr[s, edge]
                        round_it = s == t
                        if s < 0 or round_it:
                            break
                if whole > 0.0:
                    break
            out[t, k, 0] = gx / whole if whole > 0.0 else facet[t, 0]
            out[t, k, 1] = gy / whole if whole > 0.0 else facet[t, 1]


@njit("f8(f8[::1], f8[::1], f8[::1], f8[:, ::1], f8, f8, f8)", nogil=True, cache=True)
def _cubic(x, y, f, g, l0, l1, l2):  # type: ignore[no-untyped-def]
    """Return the reduced Clough-Tocher cubic of a triangle at barycentric (l0, l1, l2).

    Each third of the triangle is a cubic patch; across the outer edges the slope runs straight
    between the corners', so neighbours join without a crease.
    """
    sx, sy = (x[0] + x[1] + x[2]) / 3.0, (y[0] + y[1] + y[2]) / 3.0
    inner = np.empty(3)
    for i in range(3):
        inner[i] = f[i] + (g[i, 0] * (sx - x[i]) + g[i, 1] * (sy - y[i])) / 3.0
    side = np.empty(3)
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        ex, ey = x[j] - x[i], y[j] - y[i]
        near = f[i] + (g[i, 0] * ex + g[i, 1] * ey) / 3.0
        far = f[j] - (g[j, 0] * ex + g[j, 1] * ey) / 3.0
        # The direction across the edge, as sums of the way to i, j and the middle.
        t = ((sx - x[i]) * ex + (sy - y[i]) * ey) / (ex * ex + ey * ey)
        wi, wj = -(1.0 - t), -t
        start = wi * f[i] + wj * near + inner[i]
        end = wi * far + wj * f[j] + inner[j]
        side[k] = (start + end) / 2.0 - wi * near - wj * far
    # The third that holds the place lies opposite the smallest share.
    k = 0 if l0 <= l1 and l0 <= l2 else (1 if l1 <= l2 else 2)
    i, j = (k + 1) % 3, (k + 2) % 3
    share = (l0, l1, l2)
    s = 3.0 * share[k]
    a, b = share[i] - share[k], share[j] - share[k]
    ex, ey = x[j] - x[i], y[j] - y[i]
    near = f[i] + (g[i, 0] * ex + g[i, 1] * ey) / 3.0
    far = f[j] - (g[j, 0] * ex + g[j, 1] * ey) / 3.0
    mid_i = (inner[i] + side[k] + side[j]) / 3.0
    mid_j = (inner[j] + side[k] + side[i]) / 3.0
    mid_k = (inner[k] + side[i] + side[j]) / 3.0
    centre = (mid_i + mid_j + mid_k) / 3.0
    return (
        a * a * a * f[i]
        + 3 * a * a * b * near
        + 3 * a * b * b * far
        + b * b * b * f[j]
        + 3 * a * a * s * inner[i]
        + 6 * a * b * s * side[k]
        + 3 * b * b * s * inner[j]
        + 3 * a * s * s * mid_i
        + 3 * b * s * s * mid_j
        + s * s * s * centre
    )


@njit(
    f"void(f8[:, ::1], f8[::1], {_TRI}, b1[::1], f8[:, :, ::1], b1, f8, f8, f8, f8[:, ::1])",
    nogil=True,
    cache=True,
)
def fill_cells(xy, z, tri, used, slopes, smooth, west, north, cell, out):  # type: ignore[no-untyped-def]
    """Fill the cells whose centre lies in a used triangle; the rest stays."""
    rows, cols = out.shape
    x, y, f, g = np.empty(3), np.empty(3), np.empty(3), np.empty((3, 2))
    for t in range(tri.shape[0]):
        if not used[t]:
            continue
        for k in range(3):
            v = tri[t, k]
            x[k], y[k], f[k] = xy[v, 0], xy[v, 1], z[v]
            if smooth:
                g[k, 0], g[k, 1] = slopes[t, k, 0], slopes[t, k, 1]
        area = (x[1] - x[0]) * (y[2] - y[0]) - (y[1] - y[0]) * (x[2] - x[0])
        if area <= 0.0:
            continue
        r0 = max(math.ceil((north - y.max()) / cell - 0.5 - 1e-9), 0)
        r1 = min(math.floor((north - y.min()) / cell - 0.5 + 1e-9), rows - 1)
        c0 = max(math.ceil((x.min() - west) / cell - 0.5 - 1e-9), 0)
        c1 = min(math.floor((x.max() - west) / cell - 0.5 + 1e-9), cols - 1)
        for r in range(r0, r1 + 1):
            py = north - (r + 0.5) * cell
            for c in range(c0, c1 + 1):
                px = west + (c + 0.5) * cell
                l0 = ((x[1] - px) * (y[2] - py) - (y[1] - py) * (x[2] - px)) / area
                l1 = ((x[2] - px) * (y[0] - py) - (y[2] - py) * (x[0] - px)) / area
                l2 = 1.0 - l0 - l1
                if l0 < -1e-9 or l1 < -1e-9 or l2 < -1e-9:
                    continue
                if smooth:
                    out[r, c] = _cubic(x, y, f, g, l0, l1, l2)
                else:
                    out[r, c] = l0 * f[0] + l1 * f[1] + l2 * f[2]
