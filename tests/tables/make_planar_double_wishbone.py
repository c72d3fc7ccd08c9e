"""Writes the published planar double wishbone table, checked in closed form.

    pip install numpy==2.4.6
    python make_planar_double_wishbone.py

Source of the numbers: D. Park, MathGroup [mg64453], 17 February 2006. The values are the published
ones, six significant digits; nothing here replaces them. The closed form only labels each value with
its geometric branch and stops the script if a value is off by more than 6e-4 deg.
"""

import csv
import math
import os

import numpy as np

SEED = None   # nothing random here
HERE = os.path.dirname(os.path.abspath(__file__))

# a, first column, second column, as published
PUBLISHED = [
    (0, "0", "277.628"), (5, "8.14157", "279.009"), (10, "16.3816", "281.034"),
    (15, "24.8218", "283.798"), (20, "33.5778", "287.445"), (25, "42.7897", "292.171"),
    (30, "52.6316", "298.233"), (35, "63.3125", "305.928"), (40, "75.0545", "315.54"),
    (45, "88.0132", "327.201"), (50, "102.111", "340.683"), (55, "116.839", "355.264"),
    (60, "9.92425", "131.266"), (65, "23.8027", "144.4"), (70, "36.4951", "155.625"),
    (75, "47.9915", "164.805"), (80, "58.473", "172.123"), (85, "68.1628", "177.873"),
    (90, "77.2632", "182.348"),
]


def closed_form(a_deg):
    """Both b in degrees; the first has the upper joint left of the line upper pivot -> lower joint."""
    a = math.radians(a_deg)
    pivot = np.array([5.0, 7.0])
    v = 13.0 * np.array([math.cos(a), math.sin(a)]) - pivot
    d = math.hypot(*v)
    heading = math.atan2(v[1], v[0])
    opening = math.acos((8.0**2 + d * d - 7.0**2) / (2 * 8.0 * d))
    return [math.degrees(heading + opening) % 360, math.degrees(heading - opening) % 360]


def apart(p, q):
    return abs((p - q + 180) % 360 - 180)


def main():
    rows, worst, swapped = [], 0.0, []
    for a, first, second in PUBLISHED:
        exact = closed_form(a)
        for column, text in (("first", first), ("second", second)):
            off = [apart(float(text), e) for e in exact]
            i = int(np.argmin(off))
            assert off[i] < 6e-4, (a, text, exact)
            worst = max(worst, off[i])
            rows.append((i, a, text, "as_built" if i == 0 else "other", column))
            if (column == "first") != (i == 0) and a not in swapped:
                swapped.append(a)
    rows.sort(key=lambda r: (r[0], r[1]))
    head = f"""generator: make_planar_double_wishbone.py
libraries: numpy {np.__version__} (used for the check only); seed: none, nothing random
source: D. Park, MathGroup [mg64453], 17 February 2006 (published values, six significant digits)
lengths have no unit (any length unit), angles in deg
mechanism: lower pivot (0,0), lower arm 13 at angle a; upper pivot (5,7), upper arm 8 at angle b;
  the arms' outer joints stay 7 apart; at a = 0 the as-built joints are (13,0) and (13,7), b = 0
a_deg -> b_deg, both branches
branch: the geometric branch, found in closed form; it is NOT the published column. The published table
  sorts its two roots by size, so its columns swap branch at a = 60 (a root passes 360 there). Here
  as_built holds the rows that join up with b = 0 at a = 0 (upper joint to the left of the line from the
  upper pivot to the lower joint) and other holds the rest; published_column says where the value stood.
  rows whose published column is not the branch's own: a = {', '.join(map(str, swapped))}
largest difference between a published value and the closed form: {worst:.2e} deg
suggested tolerance: 6e-4 deg, compared modulo 360, because the published values carry six significant digits
  (half a unit of the third decimal for values of 100 deg and more)"""
    with open(os.path.join(HERE, "planar_double_wishbone.csv"), "w", newline="") as f:
        for line in head.splitlines():
            f.write("# " + line + "\n")
        w = csv.writer(f, lineterminator="\n")
        w.writerow(["a_deg", "b_deg", "branch", "published_column"])
        for _, a, b, branch, column in rows:
            w.writerow([a, b, branch, column])
    print(head)


if __name__ == "__main__":
    main()
