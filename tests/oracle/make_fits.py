#!/usr/bin/env python3
"""Makes fits.json: random fits solved by an independent solver (SciPy's HiGHS).

    pip install "scipy==1.17.1" "numpy==2.4.6"
    python3 make_fits.py            # writes fits.json beside this file

The script reads nothing but itself: atomic weights, formulas and ranges are constants below, and the
random numbers are seeded. A model against a model: it shares no code with the Rust program (own formula
parser, own linear program, other solver), but it does share the written definition of the misfit and of
the order of wishes. So it can show an error in the Rust program's arithmetic or solver, never an error
in that definition, and nothing about plants. Benches, waters and prices are invented.

The linear program, per case (x_s in g/L):
    c_e = water_e + sum_s brings_es x_s,  0 <= x_s <= upper
    hard rows: min <= c_e <= max; min * N <= NH4-N + urea-N <= max * N, water counted on both sides
    1. least misfit = sum_e weight_e phi((c_e - t_e) / t_e), phi with slopes 1, 4, 16 beyond 0, .05, .20
    2. least unasked chloride and sodium brought by the salts, meq/L; an element is asked when it has a
       target, a mere limit does not ask for it
    3. least cost when every salt of the case has a price, else least mass
    Each stage is held in the later ones by a row  value <= z + 1e-9 max(1, |z|).

What a case must pass to be written (else it is dropped and counted):
    feasible    the limits can still be met when every limit and upper bound is tighter by 1e-7 relative;
                every stage certified by its dual to 1e-9 (1 + |z|); every limit recomputed from x within 1e-9;
                a second chain of solves with the interior-point method agrees to 1e-7 in every stage;
                a third chain with holds of 1e-8 instead of 1e-9 moves no value by more than 1e-6 relative
                (+ 1e-8), so that no number in the file is an artefact of the slack.
    infeasible  least total relative violation of the limits above 1e-3 by both methods, and the
                plain program reported infeasible.
"""
import json
import math
import os
import random
import re
from collections import Counter

import numpy as np
import scipy
from scipy.optimize import linprog

SEED = 20261003
FEASIBLE_WANTED = 640
INFEASIBLE_WANTED = 40

# CIAAW abridged standard atomic weights
AW = {
    "H": 1.0080, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "Mg": 24.305,
    "Si": 28.085, "P": 30.974, "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078, "Mn": 54.938,
    "Fe": 55.845, "Co": 58.933, "Ni": 58.693, "Cu": 63.546, "Zn": 65.38, "Se": 78.971, "Mo": 95.95,
}
NUTRIENTS = ["N", "NO3-N", "NH4-N", "urea-N", "P", "K", "Ca", "Mg", "S", "Cl", "Na", "Si",
             "Fe", "Mn", "Zn", "B", "Cu", "Mo"]
TRACES = {"Fe", "Mn", "Zn", "B", "Cu", "Mo"}

# id, formula, atoms of nitrogen per formula unit as nitrate, ammonium, urea, usual price per g, is a trace salt
SALTS = [
    ("calcium-nitrate-tetrahydrate", "Ca(NO3)2.4H2O", 2, 0, 0, 0.0065, False),
    ("calcium-ammonium-nitrate-decahydrate", "5Ca(NO3)2.NH4NO3.10H2O", 11, 1, 0, 0.0030, False),
    ("potassium-nitrate", "KNO3", 1, 0, 0, 0.0060, False),
    ("monopotassium-phosphate", "KH2PO4", 0, 0, 0, 0.0090, False),
    ("dipotassium-phosphate", "K2HPO4", 0, 0, 0, 0.0120, False),
    ("potassium-sulfate", "K2SO4", 0, 0, 0, 0.0050, False),
    ("potassium-chloride", "KCl", 0, 0, 0, 0.0025, False),
    ("magnesium-sulfate-heptahydrate", "MgSO4.7H2O", 0, 0, 0, 0.0022, False),
    ("magnesium-nitrate-hexahydrate", "Mg(NO3)2.6H2O", 2, 0, 0, 0.0060, False),
    ("monoammonium-phosphate", "NH4H2PO4", 0, 1, 0, 0.0060, False),
    ("diammonium-phosphate", "(NH4)2HPO4", 0, 2, 0, 0.0070, False),
    ("ammonium-nitrate", "NH4NO3", 1, 1, 0, 0.0040, False),
    ("ammonium-sulfate", "(NH4)2SO4", 0, 2, 0, 0.0025, False),
    ("ammonium-chloride", "NH4Cl", 0, 1, 0, 0.0035, False),
    ("calcium-chloride-dihydrate", "CaCl2.2H2O", 0, 0, 0, 0.0028, False),
    ("calcium-sulfate-dihydrate", "CaSO4.2H2O", 0, 0, 0, 0.0015, False),
    ("urea", "CO(NH2)2", 0, 0, 2, 0.0020, False),
    ("sodium-nitrate", "NaNO3", 1, 0, 0, 0.0050, False),
    ("sodium-chloride", "NaCl", 0, 0, 0, 0.0010, False),
    ("potassium-silicate", "K2SiO3", 0, 0, 0, 0.0110, False),
    ("boric-acid", "H3BO3", 0, 0, 0, 0.0120, True),
    ("borax-decahydrate", "Na2B4O7.10H2O", 0, 0, 0, 0.0080, True),
    ("manganese-sulfate-monohydrate", "MnSO4.H2O", 0, 0, 0, 0.0150, True),
    ("manganese-chloride-tetrahydrate", "MnCl2.4H2O", 0, 0, 0, 0.0200, True),
    ("zinc-sulfate-heptahydrate", "ZnSO4.7H2O", 0, 0, 0, 0.0120, True),
    ("copper-sulfate-pentahydrate", "CuSO4.5H2O", 0, 0, 0, 0.0180, True),
    ("sodium-molybdate-dihydrate", "Na2MoO4.2H2O", 0, 0, 0, 0.0900, True),
    ("ammonium-heptamolybdate-tetrahydrate", "(NH4)6Mo7O24.4H2O", 0, 6, 0, 0.1200, True),
    ("iron-sulfate-heptahydrate", "FeSO4.7H2O", 0, 0, 0, 0.0050, True),
    ("iron-chelate-11", None, 0, 0, 0, 0.0350, True),  # 11 % Fe by mass, 2 Na per Fe, its nitrogen not counted
]


def atoms(formula):
    """Counts of atoms. Parts of a double salt or hydrate are divided by '.', each with an optional factor."""
    total = Counter()
    for part in formula.split("."):
        m = re.match(r"\d+", part)
        factor = int(m.group()) if m else 1
        body = part[m.end():] if m else part
        stack = [Counter()]
        pos = 0
        for t in re.finditer(r"([A-Z][a-z]?)(\d*)|(\()|(\))(\d*)", body):
            if t.start() != pos:
                raise ValueError(formula)
            pos = t.end()
            if t.group(1):
                stack[-1][t.group(1)] += int(t.group(2) or 1)
            elif t.group(3):
                stack.append(Counter())
            else:
                inner = stack.pop()
                for el, n in inner.items():
                    stack[-1][el] += n * int(t.group(5) or 1)
        if pos != len(body) or len(stack) != 1:
            raise ValueError(formula)
        for el, n in stack[0].items():
            total[el] += n * factor
    return total


def brings_of(formula, nitrate, ammonium, urea):
    """ppm (mg/L) of each nutrient per g/L of the salt."""
    if formula is None:
        return {"Na": 110.0 * 2.0 * AW["Na"] / AW["Fe"], "Fe": 110.0}
    count = atoms(formula)
    mass = sum(AW[el] * n for el, n in count.items())
    assert nitrate + ammonium + urea == count["N"], formula
    forms = {"N": count["N"], "NO3-N": nitrate, "NH4-N": ammonium, "urea-N": urea}
    out = {}
    for e in NUTRIENTS:
        n = forms[e] if e in forms else count[e]
        if n:
            out[e] = 1000.0 * n * AW["N" if e in forms else e] / mass
    return out


BRINGS = {s[0]: brings_of(*s[1:5]) for s in SALTS}
PRICE = {s[0]: s[5] for s in SALTS}
IS_TRACE = {s[0]: s[6] for s in SALTS}
IDS = [s[0] for s in SALTS]

# realistic targets, ppm
RANGE = {
    "N": (30, 250), "P": (8, 70), "K": (40, 300), "Ca": (30, 220), "Mg": (10, 70), "S": (15, 130),
    "Fe": (0.5, 5), "Mn": (0.1, 1.5), "Zn": (0.05, 0.5), "B": (0.1, 0.7), "Cu": (0.02, 0.15), "Mo": (0.01, 0.1),
    "Cl": (5, 60), "Na": (3, 30), "Si": (5, 40), "NO3-N": (30, 200), "NH4-N": (2, 25),
}


# ---------------------------------------------------------------- random benches

def log_uniform(rng, lo, hi):
    return math.exp(rng.uniform(math.log(lo), math.log(hi)))


def sig(v, n):
    return float(f"{v:.{n}g}")


def random_water(rng):
    kind = rng.random()
    w = {}
    if kind < 0.5:
        return w
    if kind < 0.7:  # soft
        for e, hi in (("Ca", 15), ("Mg", 4), ("Na", 8), ("Cl", 10), ("S", 5), ("K", 2)):
            if rng.random() < 0.7:
                w[e] = round(rng.uniform(0.1, hi), 2)
    else:  # hard
        for e, lo, hi in (("Ca", 40, 130), ("Mg", 4, 35), ("Na", 5, 60), ("Cl", 8, 60), ("S", 5, 50), ("K", 1, 6),
                          ("Si", 1, 9), ("Fe", 0.01, 0.3), ("B", 0.01, 0.15), ("Zn", 0.01, 0.1)):
            if rng.random() < (0.95 if e in ("Ca", "Mg") else 0.6):
                w[e] = round(rng.uniform(lo, hi), 2)
    if rng.random() < 0.2:
        w["NO3-N"] = round(rng.uniform(0.2, 9), 2)
        if rng.random() < 0.3:
            w["NH4-N"] = round(rng.uniform(0.05, 1), 2)
        w["N"] = w["NO3-N"] + w.get("NH4-N", 0.0)
    return w


def pick_targeted(rng, n):
    """Names of the targeted nutrients; N with both of its forms is never asked for."""
    main = ["N", "P", "K", "Ca", "Mg", "S"]
    rest = ["Fe", "Mn", "Zn", "B", "Cu", "Mo"]
    names = []
    if rng.random() < 0.6:
        names += rng.sample(main, min(n, rng.randint(3, 6)))
        rest_now = rest + [e for e in main if e not in names]
        names += rng.sample(rest_now, max(0, min(len(rest_now), n - len(names))))
    else:
        names = rng.sample(main + rest, n)
    if rng.random() < 0.12:
        names[rng.randrange(len(names))] = rng.choice(["Cl", "Na", "Cl", "Na", "Si"])
    if rng.random() < 0.06:
        form = rng.choice(["NO3-N", "NH4-N"])
        names[rng.randrange(len(names))] = form
    return sorted(set(names), key=NUTRIENTS.index)


def pick_salts(rng, n, targeted):
    pool = [i for i in IDS if i != "potassium-silicate" or "Si" in targeted]
    if rng.random() < 0.7:  # sensible: start with one source of each targeted nutrient
        chosen = []
        for e in rng.sample(targeted, len(targeted)):
            if len(chosen) < n and not any(e in BRINGS[i] for i in chosen):
                sources = [i for i in pool if e in BRINGS[i]]
                if sources:
                    chosen.append(rng.choice(sources))
        others = [i for i in pool if i not in chosen]
        chosen += rng.sample(others, max(0, min(len(others), n - len(chosen))))
    else:
        chosen = rng.sample(pool, min(n, len(pool)))
    rng.shuffle(chosen)
    return chosen


def random_case(rng, contradict):
    n_targets = rng.randint(3, 12)
    targeted = pick_targeted(rng, n_targets)
    salts = pick_salts(rng, rng.randint(2, 20), targeted)
    water = random_water(rng)

    reachable = rng.random() < 0.28
    mix_c = None
    if reachable:
        mix = {}
        for s in salts:
            if rng.random() < 0.75:
                mix[s] = log_uniform(rng, 2e-4, 8e-3) if IS_TRACE[s] else log_uniform(rng, 0.03, 0.7)
        if not mix:
            mix[salts[0]] = 0.1
        mix_c = {e: water.get(e, 0.0) + sum(BRINGS[s].get(e, 0.0) * x for s, x in mix.items()) for e in NUTRIENTS}
        able = [e for e in NUTRIENTS if mix_c[e] > (1e-3 if e in TRACES else 0.5) and e not in ("urea-N", "NO3-N", "NH4-N")
                and (e in targeted or e not in ("Cl", "Na") or rng.random() < 0.15)]
        rng.shuffle(able)
        able = able[:max(3, n_targets)]
        if len(able) < 3:
            return None
        targeted = sorted(able, key=NUTRIENTS.index)

    strength = log_uniform(rng, 0.4, 1.6)
    odd_weights = rng.random() < 0.25
    wishes = {}
    for e in targeted:
        if reachable:
            t = mix_c[e]
        else:
            lo, hi = RANGE[e]
            t = sig(strength * log_uniform(rng, lo, hi), 3)
        k = sig(log_uniform(rng, 0.2, 5.0), 2) if odd_weights and rng.random() < 0.5 else 1.0
        wishes[e] = {"nutrient": e, "target": t, "weight": k, "min": None, "max": None}
    if not reachable and rng.random() < 0.12:  # absurd pairs
        for e, t in rng.choice([(("Ca", 300.0), ("N", 20.0)), (("K", 400.0), ("P", 3.0)), (("S", 300.0), ("Mg", 5.0)),
                                (("N", 300.0), ("K", 5.0)), (("P", 200.0), ("K", 20.0)), (("Fe", 50.0), ("Mn", 0.001))]):
            wishes[e] = {"nutrient": e, "target": t, "weight": 1.0, "min": None, "max": None}
    if not reachable and rng.random() < 0.12:  # water above a target
        e = rng.choice([e for e in wishes if e not in ("N", "NO3-N", "NH4-N")] or ["Ca"])
        if e in wishes:
            water[e] = sig(wishes[e]["target"] * rng.uniform(1.02, 2.5), 4)

    # limits
    def limit(e, lo, hi):
        w = wishes.setdefault(e, {"nutrient": e, "target": None, "weight": 1.0, "min": None, "max": None})
        t = w["target"]
        if t is not None and ((lo is not None and t < lo) or (hi is not None and t > hi)):
            return  # a target outside its own limits is not what this file is about
        w["min"], w["max"] = lo, hi

    if rng.random() < 0.30:
        limit("S", sig(log_uniform(rng, 3, 25), 3) if rng.random() < 0.6 else None, sig(log_uniform(rng, 60, 160), 3))
    if rng.random() < 0.30:
        limit("Cl", None, sig(rng.choice([70.0, 70.0, log_uniform(rng, 5, 120)]), 3))
    if rng.random() < 0.15:
        limit("Na", None, sig(log_uniform(rng, 3, 70), 3))
    if rng.random() < 0.35:
        for e in rng.sample(targeted, min(len(targeted), rng.randint(1, 3))):
            t = wishes[e]["target"]
            d, u = log_uniform(rng, 0.01, 0.5), log_uniform(rng, 0.01, 0.5)
            kind = rng.random()
            limit(e, sig(t * (1 - d), 6) if kind < 0.65 else None, sig(t * (1 + u), 6) if kind > 0.35 else None)
    share = {"min": None, "max": None}
    r = rng.random()
    if r < 0.33:
        share["max"] = rng.choice([0.15, 0.15, 0.10, 0.30, sig(rng.uniform(0.02, 0.5), 2)])
    elif r < 0.38:
        share["min"] = sig(rng.uniform(0.02, 0.25), 2)

    upper = {s: None for s in salts}
    if rng.random() < 0.2:
        for s in salts:
            if rng.random() < 0.5:
                upper[s] = sig(log_uniform(rng, 2e-4, 2e-2) if IS_TRACE[s] else log_uniform(rng, 0.02, 1.0), 4)

    cost = {s: None for s in salts}
    r = rng.random()
    if r < 0.75:
        for s in salts:
            cost[s] = sig(PRICE[s] * log_uniform(rng, 0.4, 2.5), 3)
        if r >= 0.5:
            for s in rng.sample(salts, rng.randint(1, max(1, len(salts) // 2))):
                cost[s] = None

    case = {
        "salts": [{"id": s, "brings": BRINGS[s], "upper_g_per_l": upper[s], "cost_per_g": cost[s]} for s in salts],
        "water": {e: water[e] for e in NUTRIENTS if e in water},
        "wishes": [wishes[e] for e in NUTRIENTS if e in wishes],
        "ammonium_share": share,
    }
    if contradict:
        make_contradiction(rng, case)
    return case


def make_contradiction(rng, case):
    """Put a limit beyond what the other limits leave possible."""
    names = [w["nutrient"] for w in case["wishes"] if w["nutrient"] != "N"] + ["N", "Ca", "S"]
    e = rng.choice(names)
    p = Program(case)
    if not p.possible("highs"):
        return  # contradictory already
    factor = 1.0 + log_uniform(rng, 0.02, 0.5)
    wish = next((w for w in case["wishes"] if w["nutrient"] == e), None)
    if wish is None:
        wish = {"nutrient": e, "target": None, "weight": 1.0, "min": None, "max": None}
        case["wishes"].append(wish)
        case["wishes"].sort(key=lambda w: NUTRIENTS.index(w["nutrient"]))
    wish["min"] = wish["max"] = None
    p = Program(case)
    hi, lo = p.extreme(e, +1), p.extreme(e, -1)
    if hi is not None and hi < 1e5 and (rng.random() < 0.6 or not lo):
        wish["min"] = sig(hi * factor, 5) if hi > 0 else sig(log_uniform(rng, 1, 20), 3)
    elif lo:
        wish["max"] = sig(lo / factor, 5)
    t = wish["target"]
    if t is not None and ((wish["min"] or 0.0) > t or (wish["max"] or math.inf) < t):
        wish["target"] = None
    case["wishes"] = [w for w in case["wishes"] if any(w[k] is not None for k in ("target", "min", "max"))]


# ---------------------------------------------------------------- the linear program

# a limit on iterations, not on time, so that every machine drops the same cases
OPTIONS = {"maxiter": 2000, "primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


def solve(c, A_ub, b_ub, A_eq, b_eq, bounds, method):
    opts = dict(OPTIONS)
    if method == "highs-ipm":
        opts["ipm_optimality_tolerance"] = 1e-10
    return linprog(c, A_ub=A_ub if len(A_ub) else None, b_ub=b_ub if len(b_ub) else None,
                   A_eq=A_eq if len(A_eq) else None, b_eq=b_eq if len(b_eq) else None,
                   bounds=bounds, method=method, options=opts)


def phi(r):
    r = abs(r)
    if r <= 0.05:
        return r
    if r <= 0.20:
        return 0.05 + 4.0 * (r - 0.05)
    return 0.65 + 16.0 * (r - 0.20)


class Program:
    """Columns: x of each salt (scaled), then for each target three steps up and three steps down."""

    def __init__(self, case, tighten=0.0):
        self.case = case
        self.salts = case["salts"]
        self.water = case["water"]
        self.n = len(self.salts)
        self.targets = [w for w in case["wishes"] if w["target"] is not None]
        asked = {w["nutrient"] for w in self.targets}
        # columns: what alone meets the tightest target, else the tightest limit, else 1 g/L
        self.scale = np.ones(self.n)
        for j, s in enumerate(self.salts):
            a = s["brings"]
            fits = [w["target"] / a[w["nutrient"]] for w in self.targets if w["nutrient"] in a]
            if not fits:
                fits = [v / a[w["nutrient"]] for w in case["wishes"] for v in (w["min"], w["max"])
                        if v and w["nutrient"] in a]
            if fits:
                self.scale[j] = min(fits)
        # hard rows, as row.x <= rhs, in units of the limit
        self.rows, self.rhs = [], []
        for w in case["wishes"]:
            e = w["nutrient"]
            a, w0 = self.column(e), self.water.get(e, 0.0)
            if w["max"] is not None:
                m = w["max"] * (1.0 - tighten)
                self.rows.append(a / w["max"]), self.rhs.append((m - w0) / w["max"])
            if w["min"] is not None:
                m = w["min"] * (1.0 + tighten)
                self.rows.append(-a / w["min"]), self.rhs.append((w0 - m) / w["min"])
        reduced = self.column("NH4-N") + self.column("urea-N")
        reduced0 = self.water.get("NH4-N", 0.0) + self.water.get("urea-N", 0.0)
        n_all, n_all0 = self.column("N"), self.water.get("N", 0.0)
        n_ref = next((w["target"] for w in self.targets if w["nutrient"] in ("N", "NO3-N")), 50.0)
        for sign, key in ((1.0, "max"), (-1.0, "min")):
            f = case["ammonium_share"][key]
            if f is not None:
                g = f * (1.0 - sign * tighten)
                unit = sign / (f * n_ref)
                self.rows.append((reduced - g * n_all) * unit), self.rhs.append((g * n_all0 - reduced0) * unit)
        self.upper = [None if s["upper_g_per_l"] is None else s["upper_g_per_l"] * (1.0 - tighten) / self.scale[j]
                      for j, s in enumerate(self.salts)]
        # objectives of stages 2 and 3 in natural units, over the scaled x
        self.unasked = np.zeros(self.n)
        for e, mass in (("Cl", 35.45), ("Na", 22.990)):
            if e not in asked:
                self.unasked += self.column(e) / mass
        self.last_is = "cost" if all(s["cost_per_g"] is not None for s in self.salts) else "mass"
        self.last = self.scale * np.array([s["cost_per_g"] if self.last_is == "cost" else 1.0 for s in self.salts])

    def column(self, e):
        """ppm of e for one scaled unit of each salt"""
        return np.array([s["brings"].get(e, 0.0) * self.scale[j] for j, s in enumerate(self.salts)])

    def x_bounds(self):
        return [(0.0, u) for u in self.upper]

    def violation(self, method):
        """least total relative violation of the hard rows"""
        m = len(self.rows)
        if m == 0:
            return 0.0
        A = np.hstack([np.array(self.rows), -np.eye(m)])
        c = np.concatenate([np.zeros(self.n), np.ones(m)])
        r = solve(c, A, np.array(self.rhs), [], [], self.x_bounds() + [(0.0, None)] * m, method)
        return max(0.0, r.fun) if r.status == 0 else None

    def possible(self, method):
        v = self.violation(method)
        return v is not None and v <= 1e-9

    def extreme(self, e, sign):
        """the most (+1) or the least (-1) of e under the limits, None when unbounded"""
        a = self.column(e)
        top = a.max()
        if top == 0.0:
            return self.water.get(e, 0.0)
        r = solve(-sign * a / top, np.array(self.rows), np.array(self.rhs), [], [], self.x_bounds(), "highs")
        return self.water.get(e, 0.0) - sign * r.fun * top if r.status == 0 else None

    # ---- the three stages

    def misfit_of(self, x):
        total = 0.0
        for w in self.targets:
            e, t = w["nutrient"], w["target"]
            c = self.water.get(e, 0.0) + float(self.column(e) @ x)
            total += w["weight"] * phi((c - t) / t)
        return total

    def limits_held(self, x):
        return all(float(r @ x) <= b + 1e-9 for r, b in zip(self.rows, self.rhs)) and \
            all(v >= 0.0 and (u is None or v <= u * (1 + 1e-9)) for v, u in zip(x, self.upper))

    def stages(self, method, hold=1e-9):
        """(status, misfit, unasked, last)"""
        n, k = self.n, len(self.targets)
        cols = n + 6 * k
        A_eq, b_eq = np.zeros((k, cols)), np.zeros(k)
        bounds = self.x_bounds()
        c1 = np.zeros(cols)
        for i, w in enumerate(self.targets):
            e, t = w["nutrient"], w["target"]
            A_eq[i, :n] = self.column(e) / t
            b_eq[i] = 1.0 - self.water.get(e, 0.0) / t
            A_eq[i, n + 6 * i:n + 6 * i + 3] = -1.0
            A_eq[i, n + 6 * i + 3:n + 6 * i + 6] = 1.0
            c1[n + 6 * i:n + 6 * i + 6] = w["weight"] * np.array([1.0, 4.0, 16.0, 1.0, 4.0, 16.0])
            bounds += [(0.0, 0.05), (0.0, 0.15), (0.0, None)] * 2
        pad = np.zeros(6 * k)
        A_ub = [np.concatenate([r, pad]) for r in self.rows]
        b_ub = list(self.rhs)

        def run(c):
            r = solve(c, np.array(A_ub), np.array(b_ub), A_eq, b_eq, bounds, method)
            if r.status != 0:
                return r, None
            return r, np.clip(r.x[:n], 0.0, [np.inf if u is None else u for u in self.upper])

        r1, x = run(c1)
        if x is None:
            return "infeasible" if r1.status == 2 else "failed", None, None, None
        z1 = self.misfit_of(x)
        if abs(z1 - r1.fun) > 1e-8 * (1 + abs(z1)):
            return "misfit of x is not the objective", None, None, None
        if not self.limits_held(x):
            return "limits not held", None, None, None
        if not self.certified(r1, c1, A_ub, b_ub, A_eq, b_eq, bounds, z1):
            return "no certificate", None, None, None
        A_ub.append(c1), b_ub.append(z1 + hold * max(1.0, abs(z1)))

        z2 = 0.0
        if self.unasked.max() > 0.0:
            unit = self.unasked.max()
            r2, x = run(np.concatenate([self.unasked / unit, pad]))
            if x is None:
                return "stage 2 failed", None, None, None
            z2 = float(self.unasked @ x)
            if not self.certified(r2, np.concatenate([self.unasked / unit, pad]), A_ub, b_ub, A_eq, b_eq, bounds, z2 / unit):
                return "stage 2 no certificate", None, None, None
            if not self.limits_held(x) or self.misfit_of(x) > b_ub[-1] + 1e-9 * (1 + abs(z1)):
                return "stage 2 not held", None, None, None
            A_ub.append(np.concatenate([self.unasked, pad])), b_ub.append(z2 + hold * max(1.0, abs(z2)))

        r3, x = run(np.concatenate([self.last / self.last.max(), pad]))
        if x is None:
            return "stage 3 failed", None, None, None
        z3 = float(self.last @ x)
        unit = self.last.max()
        if not self.certified(r3, np.concatenate([self.last / unit, pad]), A_ub, b_ub, A_eq, b_eq, bounds, z3 / unit):
            return "stage 3 no certificate", None, None, None
        if not self.limits_held(x) or self.misfit_of(x) > z1 + (hold + 1e-9) * (1 + abs(z1)) \
                or float(self.unasked @ x) > z2 + (hold + 1e-9) * (1 + abs(z2)):
            return "stage 3 not held", None, None, None
        return "ok", z1, z2, z3

    @staticmethod
    def certified(r, c, A_ub, b_ub, A_eq, b_eq, bounds, z):
        """weak duality, from the multipliers alone"""
        reduced, bound = np.array(c, float), 0.0
        if len(A_ub):
            y = np.minimum(r.ineqlin.marginals, 0.0)
            reduced = reduced - np.array(A_ub).T @ y
            bound += float(np.array(b_ub) @ y)
        y = r.eqlin.marginals
        reduced = reduced - A_eq.T @ y
        bound += float(b_eq @ y)
        for d, (_, hi) in zip(reduced, bounds):
            if d < 0.0:
                if hi is not None:
                    bound += d * hi
                elif d < -1e-9:
                    return False
        return abs(z - bound) <= 1e-9 * (1 + abs(z))


def near(a, b, rel, floor):
    return abs(a - b) <= max(rel * max(abs(a), abs(b)), floor)


# ---------------------------------------------------------------- the file

def judge(case):
    """(verdict, result)"""
    names = {w["nutrient"] for w in case["wishes"] if w["target"] is not None}
    if len(names) < 2 or {"N", "NO3-N", "NH4-N"} <= names:
        return "skipped: not a bench", None
    p = Program(case)
    v1, v2 = p.violation("highs"), p.violation("highs-ipm")
    if v1 is None or v2 is None or abs(v1 - v2) > 1e-7 * (1 + abs(v1)):
        return "dropped: violation differs between methods", None
    if v1 > 1e-9:
        if v1 <= 1e-3:
            return "dropped: borderline infeasible", None
        if any(p.stages(m)[0] != "infeasible" for m in ("highs", "highs-ipm")):
            return "dropped: infeasible not confirmed", None
        return "infeasible", None
    if not Program(case, tighten=1e-7).possible("highs"):
        return "dropped: borderline feasible", None
    first = p.stages("highs")
    if first[0] != "ok":
        return "dropped: first method: " + first[0], None
    second = p.stages("highs-ipm")
    if second[0] != "ok":
        return "dropped: second method: " + second[0], None
    for name, a, b, floor in zip(("misfit", "unasked", "last"), first[1:], second[1:], (1e-9, 1e-8, 1e-9)):
        if not near(a, b, 1e-7, floor):
            return f"dropped: methods disagree in {name}", None
    loose = p.stages("highs", hold=1e-8)
    if loose[0] != "ok":
        return "dropped: looser holds: " + loose[0], None
    for name, a, b in zip(("misfit", "unasked", "last"), first[1:], loose[1:]):
        if not abs(a - b) <= 1e-6 * abs(a) + 1e-8:
            return f"dropped: {name} hangs on the slack", None
    return "feasible", (p, first)


def main():
    rng = random.Random(SEED)
    tally, cases = Counter(), []
    n_ok = n_bad = 0
    while n_ok < FEASIBLE_WANTED or n_bad < INFEASIBLE_WANTED:
        case = random_case(rng, contradict=rng.random() < 0.06)
        if case is None:
            continue
        verdict, result = judge(case)
        if verdict == "infeasible" and n_bad >= INFEASIBLE_WANTED or verdict == "feasible" and n_ok >= FEASIBLE_WANTED:
            tally[verdict + ", not needed any more"] += 1
            continue
        tally[verdict] += 1
        if verdict == "feasible":
            n_ok += 1
            p, (_, misfit, unasked, last) = result
            out = {"misfit": misfit, "unasked_meq_per_l": unasked, "last": last, "last_is": p.last_is, "feasible": True}
        elif verdict == "infeasible":
            n_bad += 1
            out = {"misfit": None, "unasked_meq_per_l": None, "last": None,
                   "last_is": Program(case).last_is, "feasible": False}
        else:
            continue
        cases.append({"id": len(cases), **case, **out})

    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "fits.json")
    with open(path, "w", encoding="utf-8", newline="\n") as f:
        f.write('{"made_by":"make_fits.py","solver":%s,"cases":[\n' % json.dumps(f"SciPy {scipy.__version__} HiGHS"))
        f.write(",\n".join(json.dumps(c, separators=(",", ":"), allow_nan=False) for c in cases))
        f.write("\n]}\n")

    for k, v in sorted(tally.items()):
        print(f"{v:6d}  {k}")
    m = sorted(c["misfit"] for c in cases if c["feasible"])
    print("misfit:", {q: sig(m[min(len(m) - 1, int(q * len(m)))], 4) for q in (0, .1, .25, .5, .75, .9, 1)},
          "at most 1e-9:", sum(v <= 1e-9 for v in m))
    print(os.path.getsize(path), "bytes")


if __name__ == "__main__":
    main()
