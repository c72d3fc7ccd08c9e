"""Reference travels of four sprung wheels on uneven ground.

    pip install numpy==2.4.6 scipy==1.17.1
    python make_load_sharing_scipy.py

Writes load_sharing_scipy.csv beside this file.

Method. A rigid body stands on four springs; it has a height z, a pitch p and a roll r, small, so that over a wheel at
(x, y) it stands b = z + x p + y r high. A wheel on ground of height h has travel h - b, no less than full droop (there
it hangs) and no more than the bump stop. Potential energy is the sum over the wheels of

    load u + rate u^2 / 2 + load b,     u >= h - b,  u >= droop,  h - b <= bump

and the body settles where it is least: a convex quadratic programme in z, p, r and four u. It is solved by
scipy.optimize.minimize with SLSQP and refined by solving the equations of the constraints that are met with
equality; rows on which the refined answer isn't a minimum by its multipliers are refused. No wheel loads
are unknowns here, and nothing is taken in straight pieces.
"""

import csv
import os

import numpy as np
import scipy
from scipy.optimize import minimize

SEED = 20261125
ROWS = 240
HERE = os.path.dirname(os.path.abspath(__file__))


def programme(x, y, h, load, rate, droop, bump):
    """Quadratic form, linear term, rows G v >= g: v = (z, 1000 p, 1000 r, u1..u4)."""
    q = np.zeros((7, 7))
    c = np.zeros(7)
    rows, least = [], []
    for i in range(4):
        b = np.zeros(7)
        b[:3] = [1.0, x[i] / 1000.0, y[i] / 1000.0]
        u = np.zeros(7)
        u[3 + i] = 1.0
        q[3 + i, 3 + i] = rate[i]
        c += load[i] * u + load[i] * b
        rows.append(u + b)
        least.append(h[i])
        rows.append(u)
        least.append(droop[i])
        rows.append(b)
        least.append(h[i] - bump[i])
    return q, c, np.array(rows), np.array(least)


def solve(q, c, g, least, start):
    """The minimum, polished on its active rows."""
    scale = 1.0 / 10000.0
    energy = lambda v: scale * (0.5 * v @ q @ v + c @ v)
    slope = lambda v: scale * (q @ v + c)
    first = minimize(
        energy, start, jac=slope, method="SLSQP", options={"maxiter": 2000, "ftol": 1e-14},
        constraints=[{"type": "ineq", "fun": lambda v: g @ v - least, "jac": lambda v: g}],
    )
    for tolerance in (1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 0.1, 1.0):
        active = np.flatnonzero(g @ first.x - least < tolerance)
        a = g[active]
        n = len(active)
        kkt = np.block([[q, -a.T], [a, np.zeros((n, n))]])
        right = np.concatenate([-c, least[active]])
        answer, *_ = np.linalg.lstsq(kkt, right, rcond=None)
        v, multipliers = answer[:7], answer[7:]
        miss = np.abs(kkt @ answer - right).max()
        if miss < 1e-8 and (multipliers > -1e-7).all() and (g @ v - least > -1e-9).all():
            return v
    return None


def main():
    rng = np.random.default_rng(SEED)
    out, refused = [], 0
    while len(out) < ROWS:
        base, front, rear = rng.uniform(2200, 3700), rng.uniform(600, 1000), rng.uniform(600, 1000)
        x = np.array([0.0, 0.0, -base, -base])
        y = np.array([front, -front, rear, -rear])
        load = np.repeat(rng.uniform(2500, 11000, 2), 2)
        rate = np.repeat(rng.uniform(15, 70, 2), 2)
        droop = -np.repeat(rng.uniform(60, 200, 2), 2)
        bump = np.repeat(rng.uniform(50, 150, 2), 2)
        # The springs still push at full droop: else where a wheel hangs isn't settled by energy alone.
        if (load + rate * droop < 100).any():
            continue
        h = rng.uniform(-1, 1, 4) * 10 ** rng.uniform(1.0, 2.9)
        q, c, g, least = programme(x, y, h, load, rate, droop, bump)
        start = np.concatenate([[h.max() + 1, 0, 0], h - h.max() - 1])
        start[3:] = np.maximum(start[3:], droop)
        v = solve(q, c, g, least, start)
        if v is None:
            refused += 1
            continue
        b = v[0] + x / 1000.0 * v[1] + y / 1000.0 * v[2]
        travel = np.maximum(h - b, droop)
        hang = np.maximum(droop - (h - b), 0.0)
        # Two wheels that hang at once leave the body no single place.
        if (hang > 1e-6).sum() > 1:
            continue
        out.append([base, front, rear, load[0], load[2], rate[0], rate[2], droop[0], droop[2], bump[0], bump[2], *h,
                    *travel, *hang])
    print(len(out), "rows,", refused, "refused")
    head = ["in_wheelbase", "in_front_half_track", "in_rear_half_track", "in_front_load", "in_rear_load",
            "in_front_rate", "in_rear_rate", "in_front_droop", "in_rear_droop", "in_front_bump", "in_rear_bump"]
    wheels = ["fl", "fr", "rl", "rr"]
    head += [f"in_ground_{w}" for w in wheels] + [f"out_travel_{w}" for w in wheels] + [f"out_hang_{w}" for w in wheels]
    path = os.path.join(HERE, "load_sharing_scipy.csv")
    with open(path, "w", newline="") as file:
        file.write("# generator: make_load_sharing_scipy.py\n")
        file.write(f"# libraries: numpy {np.__version__}, scipy {scipy.__version__}\n")
        file.write(f"# seed: {SEED}\n")
        file.write("# four sprung wheels on uneven ground, mm, N, N/mm; least potential energy; bump positive\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(head)
        for row in out:
            writer.writerow([repr(float(value)) for value in row])


if __name__ == "__main__":
    main()
