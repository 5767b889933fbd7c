#!/usr/bin/env python3
"""Makes ec_limits.json: random fits under limits of EC, searched from many starts (SciPy).

    pip install "scipy==1.17.1" "numpy==2.4.6"
    python3 make_ec_limits.py       # writes ec_limits.json beside this file

The script reads nothing but itself; the random numbers are seeded. A model against a model: definitions are shared with the
Rust program, neither code nor solver. Benches are invented, and so is the EC: three groups of ions, each of which conducts
less the more of it there is,

    EC(x) = e0 + sum over the groups g of  u_g / (1 + k_g sqrt(u_g)),   u_g = sum over the salts of a_gs x_s

which grows and is concave in the amounts. With an upper limit of EC that binds, the amounts allowed are no convex set, so a
search proves nothing: it gives a misfit that exists. Recorded is the best of

    tangents    EC replaced by its tangent, the linear program (HiGHS) solved, and so on until it rests, from 24 random starts
                (random corners of the other limits, drawn towards nothing until EC holds)
    SLSQP       from the best of these, on the program with its segments of misfit as variables and EC as it is

Only cases are written whose limit binds (the mix without it is over, or under, it by more than 1 %).
"""
import json
import math
import os
import random

import numpy as np
import scipy
from scipy.optimize import linprog, minimize

SEED = 20261125
WANTED = 300
STARTS = 24

# ppm that 1 g/L brings, to four digits
SALTS = {
    "calcium-nitrate-tetrahydrate": {"N": 118.6, "Ca": 169.7},
    "potassium-nitrate": {"N": 138.5, "K": 386.7},
    "monopotassium-phosphate": {"P": 227.6, "K": 287.3},
    "magnesium-sulfate-heptahydrate": {"Mg": 98.61, "S": 130.1},
    "potassium-sulfate": {"K": 448.7, "S": 184.0},
    "ammonium-nitrate": {"N": 350.0, "NH4-N": 175.0},
    "monoammonium-phosphate": {"N": 121.8, "NH4-N": 121.8, "P": 269.3},
    "calcium-chloride-dihydrate": {"Ca": 272.6, "Cl": 482.3},
    "magnesium-nitrate-hexahydrate": {"N": 109.2, "Mg": 94.79},
    "gypsum": {"Ca": 232.8, "S": 186.2},
    "potassium-chloride": {"K": 524.5, "Cl": 475.5},
    "ammonium-sulfate": {"N": 212.0, "NH4-N": 212.0, "S": 242.6},
    "urea": {"N": 466.5, "urea-N": 466.5},
    "sodium-nitrate": {"N": 164.8, "Na": 270.5},
}
RANGES = {"N": (40, 160), "P": (15, 60), "K": (60, 220), "Ca": (40, 140), "Mg": (15, 60), "S": (20, 90)}
KNEES, SLOPES = (0.05, 0.20), (1.0, 4.0, 16.0)


def phi(r):
    r = abs(r)
    return min(r, 0.05) + 4 * max(0.0, min(r, 0.2) - 0.05) + 16 * max(0.0, r - 0.2)


class Case:
    def __init__(self, rng):
        names = rng.sample(sorted(SALTS), rng.randint(5, 12))
        self.salts = []
        for name in names:
            charge = 0.0 if name == "urea" else sum(SALTS[name].values()) / 300.0
            groups = [charge * rng.uniform(0.1, 1.0) for _ in range(3)]
            self.salts.append({
                "id": name, "brings": SALTS[name], "groups": groups,
                "upper_g_per_l": round(rng.uniform(0.05, 1.0), 3) if rng.random() < 0.25 else None,
            })
        self.water = {e: round(rng.uniform(0, 0.3) * low, 1) for e, (low, _) in RANGES.items() if rng.random() < 0.4}
        self.wishes = []
        for e, (low, high) in RANGES.items():
            if rng.random() < 0.85:
                t = round(rng.uniform(low, high), 1)
                self.wishes.append({
                    "nutrient": e, "target": t,
                    "min": round(t * rng.uniform(0.3, 0.7), 1) if rng.random() < 0.15 else None,
                    "max": round(t * rng.uniform(1.02, 1.3), 1) if rng.random() < 0.25 else None,
                    "weight": rng.choice([1.0, 1.0, 1.0, 2.0, 0.5]),
                })
        if rng.random() < 0.5:
            self.wishes.append({"nutrient": "Cl", "target": None, "min": None, "max": rng.choice([20.0, 60.0, 120.0]), "weight": 1.0})
        self.share = rng.choice([None, None, 0.1, 0.25])
        self.k = [round(rng.uniform(0.05, 0.8), 3) for _ in range(3)]
        self.e0 = round(rng.uniform(0.0, 0.3), 3)
        n = len(self.salts)
        self.groups = np.array([s["groups"] for s in self.salts]).T
        self.bounds = [(0, s["upper_g_per_l"]) for s in self.salts]
        of = lambda e: np.array([s["brings"].get(e, 0.0) for s in self.salts])
        rows, right = [], []
        for w in self.wishes:
            base = self.water.get(w["nutrient"], 0.0)
            if w["max"] is not None:
                rows.append(of(w["nutrient"])), right.append(w["max"] - base)
            if w["min"] is not None:
                rows.append(-of(w["nutrient"])), right.append(base - w["min"])
        if self.share is not None:
            rows.append(of("NH4-N") + of("urea-N") - self.share * of("N")), right.append(self.share * self.water.get("N", 0.0))
        self.limit_rows, self.limit_right = np.array(rows).reshape(-1, n), np.array(right)
        targets = [w for w in self.wishes if w["target"]]
        self.targets = targets
        # variables: salts, then six segments of misfit a target
        m = len(targets)
        self.cost = np.concatenate([np.zeros(n)] + [w["weight"] * np.array(SLOPES * 2) for w in targets])
        self.eq, self.eq_right = np.zeros((m, n + 6 * m)), np.zeros(m)
        self.all_bounds = list(self.bounds)
        for i, w in enumerate(targets):
            self.eq[i, :n] = of(w["nutrient"]) / w["target"]
            self.eq[i, n + 6 * i:n + 6 * i + 6] = [-1, -1, -1, 1, 1, 1]
            self.eq_right[i] = 1 - self.water.get(w["nutrient"], 0.0) / w["target"]
            self.all_bounds += [(0, KNEES[0]), (0, KNEES[1] - KNEES[0]), (0, None)] * 2
        self.wide = np.hstack([self.limit_rows, np.zeros((len(self.limit_right), 6 * m))])

    def ec(self, x):
        u = self.groups @ x
        return self.e0 + float(sum(u[g] / (1 + self.k[g] * math.sqrt(max(u[g], 0.0))) for g in range(3)))

    def slope(self, x):
        u = np.maximum(self.groups @ x, 0.0)
        root = np.sqrt(u)
        d = [(1 + self.k[g] * root[g] / 2) / (1 + self.k[g] * root[g]) ** 2 for g in range(3)]
        return np.array(d) @ self.groups

    def misfit(self, x):
        total = 0.0
        for w in self.targets:
            c = self.water.get(w["nutrient"], 0.0) + sum(s["brings"].get(w["nutrient"], 0.0) * v for s, v in zip(self.salts, x))
            total += w["weight"] * phi((c - w["target"]) / w["target"])
        return total

    def program(self, cuts):
        rows, right = [self.wide], [self.limit_right]
        n = len(self.salts)
        for a, b in cuts:
            rows.append(np.concatenate([a, np.zeros(len(self.cost) - n)])[None, :]), right.append([b])
        a, b = np.vstack(rows), np.concatenate(right)
        got = linprog(self.cost, A_ub=a if len(b) else None, b_ub=b if len(b) else None, A_eq=self.eq, b_eq=self.eq_right,
                      bounds=self.all_bounds, method="highs")
        return got.x[:n] if got.status == 0 else None

    def corner(self, rng):
        n = len(self.salts)
        cost = np.array([rng.uniform(-1, 0.6) for _ in range(n)])
        bounds = [(0, 3.0 if u is None else u) for _, u in self.bounds]
        has = len(self.limit_right) > 0
        got = linprog(cost, A_ub=self.limit_rows if has else None, b_ub=self.limit_right if has else None, bounds=bounds, method="highs")
        return got.x if got.status == 0 else None

    def off(self, x):
        e = self.ec(x)
        return max(e - self.max if self.max is not None else 0.0, self.min - e if self.min is not None else 0.0)

    def walk(self, x):
        lower, best = [], None
        before = math.inf
        for _ in range(25):
            e, s = self.ec(x), self.slope(x)
            cuts = []
            if self.min is not None:
                lower.append((-s, e - s @ x - self.min))
                cuts += lower
            if self.max is not None:
                cuts.append((s, self.max - e + s @ x))
            x = self.program(cuts)
            if x is None:
                return best
            value = self.misfit(x)
            if self.off(x) <= 1e-7 and (best is None or value < best[0]):
                best = (value, x)
            if abs(value - before) < 1e-10 and self.off(x) <= 1e-7:
                return best
            before = value
        return best

    def polished(self, x):
        n, m = len(self.salts), len(self.targets)
        z = np.zeros(n + 6 * m)
        z[:n] = x
        for i in range(m):
            r = self.eq[i, :n] @ x - self.eq_right[i]
            at = n + 6 * i + (0 if r > 0 else 3)
            left = abs(r)
            for piece, length in enumerate((KNEES[0], KNEES[1] - KNEES[0], math.inf)):
                z[at + piece] = min(left, length)
                left -= z[at + piece]
        limits = [{"type": "eq", "fun": lambda z: self.eq @ z - self.eq_right, "jac": lambda z: self.eq}]
        if len(self.limit_right):
            limits.append({"type": "ineq", "fun": lambda z: self.limit_right - self.wide @ z, "jac": lambda z: -self.wide})
        pad = np.zeros(6 * m)
        if self.max is not None:
            limits.append({"type": "ineq", "fun": lambda z: self.max - self.ec(z[:n]), "jac": lambda z: -np.concatenate([self.slope(z[:n]), pad])})
        if self.min is not None:
            limits.append({"type": "ineq", "fun": lambda z: self.ec(z[:n]) - self.min, "jac": lambda z: np.concatenate([self.slope(z[:n]), pad])})
        got = minimize(lambda z: self.cost @ z, z, jac=lambda z: self.cost, bounds=self.all_bounds, constraints=limits,
                       method="SLSQP", options={"maxiter": 60, "ftol": 1e-12})
        x = np.maximum(got.x[:n], 0.0)
        fits = not len(self.limit_right) or np.all(self.limit_rows @ x <= self.limit_right + 1e-7 * np.maximum(1, abs(self.limit_right)))
        fits = fits and all(u is None or v <= u + 1e-9 for v, (_, u) in zip(x, self.bounds))
        return (self.misfit(x), x) if fits and self.off(x) <= 1e-7 else None


def main():
    rng = random.Random(SEED)
    cases, tried, polished = [], 0, 0
    while len(cases) < WANTED:
        tried += 1
        case = Case(rng)
        case.max = case.min = None
        free = case.program([])
        if free is None or case.misfit(free) > 30:
            continue
        e = case.ec(free)
        kind = rng.choice(["max", "max", "max", "min", "both"])
        room = e - case.e0
        if kind in ("max", "both"):
            case.max = round(case.e0 + room * rng.uniform(0.4, 0.97), 4)
        if kind == "both":
            case.min = round(case.e0 + (case.max - case.e0) * rng.uniform(0.6, 0.99), 4)
        if kind == "min":
            case.min = round(case.e0 + room * rng.uniform(1.03, 1.5), 4)
        best = case.walk(free)
        starts = 0
        while starts < STARTS:
            x = case.corner(rng)
            if x is None:
                break
            starts += 1
            while case.max is not None and case.ec(x) > case.max and max(x) > 1e-6:
                x = x * rng.uniform(0.5, 0.95)
            got = case.walk(x)
            if got and (best is None or got[0] < best[0]):
                best = got
        if best is None:
            continue
        finer = case.polished(best[1])
        if finer and finer[0] < best[0] - 1e-6:
            polished += 1
            best = finer
        cases.append({
            "id": len(cases), "salts": case.salts, "water": case.water, "wishes": case.wishes, "share_max": case.share,
            "k": case.k, "e0": case.e0, "ec_max": case.max, "ec_min": case.min,
            "misfit_free": case.misfit(free), "misfit": best[0], "x": [round(float(v), 9) for v in best[1]], "ec": case.ec(best[1]),
        })
    out = {"made_by": "make_ec_limits.py", "solver": f"scipy {scipy.__version__}", "cases": cases}
    with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "ec_limits.json"), "w") as file:
        json.dump(out, file, indent=None, separators=(",", ":"))
        file.write("\n")
    print(f"{len(cases)} cases of {tried} drawn; SLSQP went below the tangents in {polished}")


if __name__ == "__main__":
    main()
