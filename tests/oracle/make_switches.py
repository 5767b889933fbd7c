#!/usr/bin/env python3
"""Makes switches.json: tanks turned over, each as ONE linear program with the drain as a variable.

    pip install "scipy==1.17.1" "numpy==2.4.6"
    python3 make_switches.py        # writes switches.json beside this file; needs make_fits.py beside it

Shelves, formulas and waters are drawn by make_fits.py (own formula parser, seeded). The Rust program does not
solve this program: it narrows or solves and then bisects, so the two are computed differently, too. Model against
model all the same: the formula below is shared. Benches, waters and contents are invented.

With v litres at c0 in a tank of V, h held back, drain D in [0, v], amounts x in grams per litre of V + h:
    c = ((v - D + h) c0 + (V - v + D) w) / (V + h) + sum a x
    1. least misfit (phi of make_fits.py) under all limits
    2. least D with that misfit, held by  misfit <= z + 1e-9, as the program holds it
    3. least D at which every target lies within 5 %, or within what it misses at 2., a relative slack of 1e-9
       allowed; null where 2. leaves open what a target comes to (by 1e-6 of it), so that its bands are ill defined
Dropped and counted: both methods of HiGHS differ by more than 1e-7 in misfit; a limit is met or missed by a hair
(least violation between 1e-9 and 1e-3, or infeasible once all limits are tighter by 1e-6).
`drain_loose_l` is 2. with 1e-7 in place of 1e-9: where it differs, the minimum is flat and the drain is ill defined.
"""
import json
import math
import os
import random
from collections import Counter

import numpy as np
import scipy

import make_fits as fits

SEED = 20261125
FEASIBLE, INFEASIBLE = 190, 10
# not in the salt table under that id, or of another composition there
NOT_HERE = {"calcium-ammonium-nitrate-decahydrate", "potassium-silicate", "borax-decahydrate",
            "ammonium-heptamolybdate-tetrahydrate", "iron-chelate-11"}


def random_tank(rng, case):
    full = round(fits.log_uniform(rng, 5, 400), 1)
    level = full if rng.random() < 0.5 else round(full * rng.uniform(0.2, 0.98), 2)
    held = 0.0 if rng.random() < 0.3 else round(full * rng.uniform(0.0, 0.2), 2)
    kind = rng.random()
    c0 = {}
    for e, (lo, hi) in fits.RANGE.items():
        if e in ("N", "Si") or rng.random() < 0.1:
            continue
        target = next((w["target"] for w in case["wishes"] if w["nutrient"] == e and w["target"]), None)
        if kind < 0.5 and target:
            c0[e] = fits.sig(target * fits.log_uniform(rng, 0.3, 2.5), 4)   # the formula, drifted or another phase
        else:
            c0[e] = fits.sig(fits.log_uniform(rng, lo, hi) * rng.uniform(0.2, 1.2), 4)
    c0["N"] = c0.get("NO3-N", 0.0) + c0.get("NH4-N", 0.0)
    c0 = {e: c0[e] for e in fits.NUTRIENTS if c0.get(e)}
    return {"full_l": full, "level_l": level, "held_back_l": held, "present": c0}


class Turned(fits.Program):
    """The program of make_fits.py with one more column: the drained share of the level, in [0, 1]."""

    def __init__(self, case, tighten=0.0):
        v, full, h = case["level_l"], case["full_l"], case["held_back_l"]
        c0, w = case["present"], case["water"]
        share = (v + h) / (full + h)
        undrained = {e: share * c0.get(e, 0.0) + (1.0 - share) * w.get(e, 0.0) for e in fits.NUTRIENTS}
        swap = {e: v * (w.get(e, 0.0) - c0.get(e, 0.0)) / (full + h) for e in fits.NUTRIENTS}
        swap = {e: by for e, by in swap.items() if by != 0.0}
        salts = case["salts"] + [{"id": "drain", "brings": swap, "upper_g_per_l": 1.0, "cost_per_g": None}]
        # the drained share has its own unit: no scale of the targets
        super().__init__({**case, "salts": case["salts"], "water": undrained})
        scale = np.append(self.scale, 1.0)
        super().__init__({**case, "salts": salts, "water": undrained}, tighten)
        # rows were made with a scale of the drain column; make them again in units of 1
        old = self.scale[-1]
        self.rows = [np.append(r[:-1], r[-1] / old) for r in self.rows]
        self.scale = scale
        self.upper[-1] = 1.0

    def lp(self, method, extra=None, drain=None, aim=None, bands=None):
        """Least misfit; under a row on the misfit, least drain, or `aim` (a row over the amounts) at no more than `drain`;
        under `bands`, (low, high) ppm of every target, least drain."""
        n, k = self.n, len(self.targets)
        cols = n + 6 * k
        a_eq, b_eq, c1 = np.zeros((k, cols)), np.zeros(k), np.zeros(cols)
        bounds = self.x_bounds()
        for i, w in enumerate(self.targets):
            e, t = w["nutrient"], w["target"]
            a_eq[i, :n] = self.column(e) / t
            b_eq[i] = 1.0 - self.water.get(e, 0.0) / t
            a_eq[i, n + 6 * i:n + 6 * i + 3] = -1.0
            a_eq[i, n + 6 * i + 3:n + 6 * i + 6] = 1.0
            c1[n + 6 * i:n + 6 * i + 6] = w["weight"] * np.array([1.0, 4.0, 16.0, 1.0, 4.0, 16.0])
            bounds += [(0.0, 0.05), (0.0, 0.15), (0.0, None)] * 2
        a_ub = [np.concatenate([r, np.zeros(6 * k)]) for r in self.rows]
        b_ub = list(self.rhs)
        c = c1
        pad = np.zeros(6 * k)
        if extra is not None:
            a_ub.append(c1), b_ub.append(extra)
        if drain is not None:
            bounds[n - 1] = (0.0, drain)
        for w, (low, high) in zip(self.targets, bands or []):
            row, water = np.concatenate([self.column(w["nutrient"]), pad]) / w["target"], self.water.get(w["nutrient"], 0.0)
            a_ub += [row, -row]
            b_ub += [(high - water) / w["target"], (water - low) / w["target"]]
        if extra is not None or bands is not None:
            c = np.zeros(cols)
            c[n - 1] = 1.0
        if aim is not None:
            c = np.concatenate([aim, pad])
        r = fits.solve(c, np.array(a_ub), np.array(b_ub), a_eq, b_eq, bounds, method)
        return r.fun if r.status == 0 else None


def bands(p, z, drain):
    """What every target may come to at the least waste; None where the best fit does not settle it."""
    found = []
    for w in p.targets:
        e, t = w["nutrient"], w["target"]
        row = p.column(e) / t
        ends = [p.lp("highs", z + 1e-9, drain + 1e-9, sign * row) for sign in (1.0, -1.0)]
        if None in ends or -ends[1] - ends[0] > 1e-6:
            return None
        there = t * (ends[0] - ends[1]) / 2.0 + p.water.get(e, 0.0)
        found.append((min(0.95 * t, there * (1 - 1e-9)), max(1.05 * t, there * (1 + 1e-9))))
    return found


def judge(case):
    names = {w["nutrient"] for w in case["wishes"] if w["target"] is not None}
    if len(names) < 2 or {"N", "NO3-N", "NH4-N"} <= names:
        return "skipped: not a bench", None
    p = Turned(case)
    v = p.violation("highs")
    if v is None or 1e-9 < v <= 1e-3:
        return "dropped: borderline", None
    none = {k: None for k in ("misfit", "drain_l", "drain_loose_l", "least_waste_l")}
    if v > 1e-3:
        return "infeasible", {"feasible": False, **none}
    if not Turned(case, tighten=1e-6).possible("highs"):
        return "dropped: borderline", None
    z, other = p.lp("highs"), p.lp("highs-ipm")
    if z is None or other is None or abs(z - other) > 1e-7 * (1 + abs(z)):
        return "dropped: methods disagree", None
    found = [p.lp("highs", z + more) for more in (1e-9, 1e-7)]
    if None in found:
        return "dropped: second program failed", None
    within = bands(p, z, found[0])
    waste = None if within is None else p.lp("highs", bands=within)
    if within is not None and waste is None:
        return "dropped: second program failed", None
    d = [None if f is None else max(0.0, f) * case["level_l"] for f in found + [waste]]
    return "feasible", {"feasible": True, "misfit": max(0.0, z), "drain_l": d[0], "drain_loose_l": d[1], "least_waste_l": d[2]}


def main():
    fits.IDS[:] = [i for i in fits.IDS if i not in NOT_HERE]
    rng, tally, cases = random.Random(SEED), Counter(), []
    wanted = {"feasible": FEASIBLE, "infeasible": INFEASIBLE}
    while any(wanted.values()):
        case = fits.random_case(rng, contradict=rng.random() < 0.06)
        if case is None:
            continue
        case = {**case, **random_tank(rng, case)}
        verdict, result = judge(case)
        tally[verdict] += 1
        if result is None or not wanted[verdict]:
            continue
        wanted[verdict] -= 1
        for salt in case["salts"]:
            del salt["brings"], salt["cost_per_g"]
        cases.append({"id": len(cases), **case, **result})
    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "switches.json")
    with open(path, "w", encoding="utf-8", newline="\n") as f:
        f.write('{"made_by":"make_switches.py","solver":%s,"cases":[\n' % json.dumps(f"SciPy {scipy.__version__} HiGHS"))
        f.write(",\n".join(json.dumps(c, separators=(",", ":"), allow_nan=False) for c in cases))
        f.write("\n]}\n")
    for k, v in sorted(tally.items()):
        print(f"{v:6d}  {k}")
    ok = [c for c in cases if c["feasible"]]
    drains = [c["drain_l"] / c["level_l"] for c in ok]
    print("nothing drained:", sum(d < 1e-6 for d in drains), "all:", sum(d > 1 - 1e-6 for d in drains),
          "between:", sum(1e-6 <= d <= 1 - 1e-6 for d in drains))
    print("flat:", sum(abs(c["drain_l"] - c["drain_loose_l"]) > 1e-4 * c["level_l"] for c in ok),
          "partly full:", sum(c["level_l"] < c["full_l"] for c in cases), "held back:", sum(c["held_back_l"] > 0 for c in cases),
          "least waste not settled:", sum(c["least_waste_l"] is None for c in ok),
          "less than the best fit:", sum(c["least_waste_l"] is not None and c["least_waste_l"] < c["drain_l"] - 1e-6 for c in ok),
          "misfit 0:", sum(c["misfit"] < 1e-9 for c in ok))
    print(os.path.getsize(path), "bytes")


if __name__ == "__main__":
    main()
