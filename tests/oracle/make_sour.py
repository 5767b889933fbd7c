#!/usr/bin/env python3
"""Makes sour.json: nutrient solutions of two acids, or of two waters, brought to a pH as closely as possible.

    pip install "scipy==1.17.1" "numpy==2.4.6" "pyEQL==1.7.0"
    python3 make_sour.py PROGRAM    # writes sour.json beside this file; needs make_fits.py and make_chemistry.py beside it

PROGRAM is the built `bloomsalt`. Benches are invented and seeded. Of every bench the script records two points:

`best`: the least misfit (phi of make_fits.py) over grams of salts, grams of acids and the share of the second water, as the
    limits and the pH have it, by HiGHS through SciPy. The pH is IPhreeqc's, all species of phreeqc.dat: at the wished pH it
    tells how much alkalinity the solution holds, by how much more or less of every total (finite differences) that moves, and
    one linear program after another puts the recipe's own alkalinity there, until it is met to 1e-8 eq/kg and the misfit
    stays. From three starts, of which the best is kept. The pH of the point is then found by bisection.
`found`: what the program found, its grams and litres, and the pH that IPhreeqc finds there.

Acid is for the pH alone: either none goes in and the pH is at the wish or under it, or the pH is at the wish. Litres are
taken as kilograms of water (0.3 % at these strengths). `fresh` is closed to air with the carbon of the waters, `aired` in
equilibrium with 10^-3.38 atm of CO2. Dropped and counted: benches of which no mix keeps the limits and the wish.
"""
import json
import math
import os
import random
import subprocess
import sys
import tempfile
from importlib.metadata import version

import numpy as np
import scipy
from scipy.optimize import brentq, linprog

import make_chemistry as chemistry
import make_fits as fits

SEED = 20261127
ACIDS_WANTED, WATERS_WANTED = 40, 40
AIR_LOG_P = -3.38
MOLAR = {"H3PO4": 3 * 1.008 + 30.974 + 4 * 15.999, "HNO3": 1.008 + 14.007 + 3 * 15.999, "H2SO4": 2.016 + 32.06 + 4 * 15.999}
# share by mass, formula, what a mole brings, alkalinity of a mole
ACIDS = {
    "phosphoric-acid-10": (0.10, "H3PO4", {"P": 1}, -1),
    "nitric-acid-60": (0.60, "HNO3", {"NO3-N": 1, "N": 1}, -1),
    "sulfuric-acid-35": (0.35, "H2SO4", {"S": 1}, -2),
}
SHELF = ["calcium-nitrate-tetrahydrate", "potassium-nitrate", "monopotassium-phosphate", "monoammonium-phosphate",
         "potassium-sulfate", "magnesium-sulfate-heptahydrate", "magnesium-nitrate-hexahydrate", "calcium-chloride-dihydrate",
         "ammonium-nitrate", "boric-acid", "manganese-sulfate-monohydrate"]
# nutrient: total of make_chemistry.py
TOTAL = {"Ca": "Ca+2", "Mg": "Mg+2", "K": "K+", "Na": "Na+", "NH4-N": "NH4+", "NO3-N": "NO3-", "Cl": "Cl-", "S": "SO4-2",
         "P": "PO4", "Mn": "Mn+2", "B": "B"}
AW = {e: fits.AW["N" if e.endswith("-N") else e] for e in [*TOTAL, "N"]}


def brings(salt):
    if salt in ACIDS:
        share, formula, moles, _ = ACIDS[salt]
        return {e: 1e3 * share * n * AW[e] / MOLAR[formula] for e, n in moles.items()}
    return fits.BRINGS[salt]


def alkalinity(salt):
    """meq per gram"""
    if salt not in ACIDS:
        return 0.0
    share, formula, _, meq = ACIDS[salt]
    return 1e3 * share * meq / MOLAR[formula]


# ---------------------------------------------------------------- benches

def water(rng, soft):
    hardness = rng.choice([0.05, 0.15, 0.3] if soft else [0.4, 0.7, 1.0, 1.4])
    if soft and rng.random() < 0.5:
        return {"ppm": {}, "alkalinity": 0.0, "pH": None}
    ppm = {e: fits.sig(hardness * usual * rng.uniform(0.5, 1.5), 4)
           for e, usual in (("Ca", 80), ("Mg", 12), ("Na", 25), ("Cl", 30), ("S", 15))}
    charge = sum(ppm[e] / AW[e] * z for e, z in (("Ca", 2), ("Mg", 2), ("Na", 1), ("Cl", -1), ("S", -2)))
    if charge < 0.05:
        return water(rng, soft)
    return {"ppm": ppm, "alkalinity": fits.sig(charge, 4), "pH": round(rng.uniform(6.9, 8.1), 2)}


def draw(rng, kind):
    litres = round(rng.uniform(40, 250))
    shelf = [s for s in SHELF if rng.random() < 0.85]
    acids = rng.sample(sorted(ACIDS), 2 if kind == "acids" or rng.random() < 0.4 else 1)
    waters = [water(rng, False)] if kind == "acids" else [water(rng, False), water(rng, True)]
    if kind == "waters" and rng.random() < 0.3:
        waters.reverse()
    for w in waters:
        w["on_hand"] = None
    if kind == "waters" and rng.random() < 0.4:
        waters[0]["on_hand"] = round(litres * rng.uniform(0.2, 0.9))
    wishes = {}
    for e, usual in (("N", 90), ("P", 22), ("K", 110), ("Ca", 75), ("Mg", 22), ("B", 0.3), ("Mn", 0.4)):
        wishes[e] = {"target": fits.sig(usual * rng.uniform(0.5, 1.5), 4), "max": None}
    if rng.random() < 0.4:
        wishes["S"] = {"target": fits.sig(rng.uniform(20, 70), 4), "max": None}
    if rng.random() < 0.4:
        wishes["Cl"] = {"target": None, "max": fits.sig(rng.uniform(15, 70), 3)}
    return {"kind": kind, "litres": litres, "shelf": shelf, "acids": acids, "waters": waters, "wishes": wishes,
            "share": round(rng.uniform(0.05, 0.25), 2) if rng.random() < 0.4 else None,
            "pH": round(rng.uniform(5.4, 6.3), 2), "basis": rng.choice(["fresh", "aired"])}


def bench_text(case):
    """With instruments to which no dose is too small, since a dose too small to draw up gives a wish up."""
    lines = ['[tank]', 'volume = "%d L"' % case["litres"], '[[scale]]', 'readability = "0.001 g"', 'trust = 0.2',
             '[syringe]', 'step = "0.01 mL"', 'trust = 0.5']
    for at, w in enumerate(case["waters"]):
        lines += ["[water]"] if len(case["waters"]) == 1 else ["[[water]]", 'id = "water %d"' % at]
        lines += ["%s = %r" % (e, v) for e, v in w["ppm"].items()]
        lines += ['alkalinity = "%r meq/L"' % w["alkalinity"], "pH = %r" % w["pH"]] if w["ppm"] else []
        lines += ['on_hand = "%d L"' % w["on_hand"]] if w["on_hand"] else []
    lines += ["[shelf]"] + ["%s = {}" % s for s in case["shelf"] + case["acids"]]
    lines += ["[acid]", "salt = " + json.dumps(case["acids"]), "target_pH = %r" % case["pH"], 'basis = "%s"' % case["basis"]]
    lines += ["[formula.asked]"]
    for e, w in case["wishes"].items():
        lines += ["%s = %r" % (e, w["target"]) if w["target"] else "%s = { max = %r }" % (e, w["max"])]
    lines += ["ammonium_share = { max = %r }" % case["share"]] if case["share"] else []
    return "\n".join(lines) + "\n"


# ---------------------------------------------------------------- chemistry

# the charge of a solution alone: what make_chemistry.py lists takes most of the time
PUNCH = """
SELECTED_OUTPUT 1
    -reset false
    -high_precision true
USER_PUNCH 1
    -start
10 PUNCH CHARGE_BALANCE, TOT("water")
    -end
"""


class Solution:
    """Alkalinity that totals hold at a pH, by IPhreeqc; eq/kg. Totals in mmol/kg, carbon among them."""

    def __init__(self):
        self.engine = chemistry.Engine()

    def holds_each(self, many, ph, aired):
        text = PUNCH
        for at, totals in enumerate(many):
            lines = ["SOLUTION %d" % (at + 1), " temp 25", " units mmol/kgw", " water 1", " pH %.12g" % ph, " pe 4"]
            lines += [" %s %.12g" % (chemistry.TOTALS[k][0], v) for k, v in totals.items() if v > 0 and not (aired and k == "C")]
            lines += [" C(4) 1 CO2(g) %g" % AIR_LOG_P] if aired else []
            text += "\n".join(lines) + "\n"
        self.engine.run(text + "END\n")
        charge = [self.engine.value(row, 0) / self.engine.value(row, 1) for row in range(1, len(many) + 1)]
        return [sum(chemistry.TOTALS[k][1] * v for k, v in totals.items()) * 1e-3 - of
                for totals, of in zip(many, charge)]

    def holds(self, totals, ph, aired):
        return self.holds_each([totals], ph, aired)[0]

    def ph(self, totals, meq, aired):
        return brentq(lambda ph: self.holds(totals, ph, aired) - meq * 1e-3, 2.0, 10.5, xtol=1e-6)

    def carbon(self, w):
        """mmol/kg that belongs to the alkalinity and the pH of a water; that of air in pure water"""
        if not w["ppm"]:
            return 1e3 * 10 ** (-1.468 + AIR_LOG_P)
        totals = {TOTAL[e]: v / AW[e] for e, v in w["ppm"].items()}
        return brentq(lambda c: self.holds({**totals, "C": c}, w["pH"], False) * 1e3 - w["alkalinity"], 1e-6, 30.0, xtol=1e-10)


class Bench:
    def __init__(self, case, solution):
        self.case, self.solution, self.aired = case, solution, case["basis"] == "aired"
        self.names = case["shelf"] + case["acids"]
        self.acid = np.array([n in ACIDS for n in self.names] + [False] * (len(case["waters"]) - 1))
        first = case["waters"][0]
        carbon = [solution.carbon(w) for w in case["waters"]]
        keys = list(TOTAL)
        ppm = lambda b: np.array([b.get(e, 0.0) for e in keys])
        self.keys = keys
        columns = [(ppm(brings(n)), 0.0, alkalinity(n)) for n in self.names]
        if len(case["waters"]) == 2:
            other = case["waters"][1]
            columns.append((ppm(other["ppm"]) - ppm(first["ppm"]), carbon[1] - carbon[0], other["alkalinity"] - first["alkalinity"]))
        self.ppm = np.array([c[0] for c in columns]).T
        self.water, self.carbon = ppm(first["ppm"]), (carbon[0], np.array([c[1] for c in columns]))
        self.meq = (first["alkalinity"], np.array([c[2] for c in columns]))
        share = (0.0, 1.0)
        if len(case["waters"]) == 2 and first["on_hand"]:
            share = (max(0.0, 1.0 - first["on_hand"] / case["litres"]), 1.0)
        self.bounds = [(0.0, None)] * len(self.names) + [share] * (len(case["waters"]) - 1)

    def row(self, e):
        """ppm of a nutrient: of the columns, of the water"""
        if e == "N":
            a, b = self.row("NO3-N"), self.row("NH4-N")
            return a[0] + b[0], a[1] + b[1]
        at = self.keys.index(e)
        return self.ppm[at], self.water[at]

    def totals(self, x):
        ppm = self.water + self.ppm @ x
        return {**{TOTAL[e]: max(0.0, v / AW[e]) for e, v in zip(self.keys, ppm)}, "C": self.carbon[0] + self.carbon[1] @ x}

    def over(self, x):
        """Alkalinity beyond what the solution holds at the wished pH, meq/kg: above 0 the pH is above the wish. And its slope."""
        totals, step = self.totals(x), 1e-3
        steps = [totals] + [{**totals, k: v + step} for k, v in totals.items()]
        at, *moved = self.solution.holds_each(steps, self.case["pH"], self.aired)
        by = {k: 1e3 * (m - at) / step for k, m in zip(totals, moved)}
        held = sum(by[TOTAL[e]] * self.ppm[i] / AW[e] for i, e in enumerate(self.keys)) + by["C"] * self.carbon[1]
        return self.meq[0] + self.meq[1] @ x - 1e3 * at, self.meq[1] - held

    def misfit(self, x):
        total = 0.0
        for e, w in self.case["wishes"].items():
            if w["target"]:
                row, water = self.row(e)
                total += fits.phi((row @ x + water - w["target"]) / w["target"])
        return total

    def program(self, over, slope, x0, without):
        """One linear program: amounts, or None"""
        n = len(self.bounds)
        targets = [(e, w["target"]) for e, w in self.case["wishes"].items() if w["target"]]
        cols = n + 6 * len(targets)
        cost, a_eq, b_eq, a_ub, b_ub = np.zeros(cols), [], [], [], []
        bounds = [(0.0, 0.0) if without and a else b for a, b in zip(self.acid, self.bounds)]
        for i, (e, t) in enumerate(targets):
            row, water = self.row(e)
            full = np.zeros(cols)
            full[:n] = row / t
            at = n + 6 * i
            full[at:at + 3], full[at + 3:at + 6] = -1.0, 1.0
            cost[at:at + 6] = [1.0, 4.0, 16.0] * 2
            a_eq.append(full), b_eq.append(1.0 - water / t)
            bounds += [(0.0, 0.05), (0.0, 0.15), (0.0, None)] * 2
        for e, w in self.case["wishes"].items():
            if w["max"]:
                row, water = self.row(e)
                a_ub.append(np.pad(row / w["max"], (0, cols - n))), b_ub.append(1.0 - water / w["max"])
        if self.case["share"]:
            (ammonium, w1), (nitrogen, w2) = self.row("NH4-N"), self.row("N")
            a_ub.append(np.pad((ammonium - self.case["share"] * nitrogen) / 10, (0, cols - n)))
            b_ub.append((self.case["share"] * w2 - w1) / 10)
        ph = np.pad(slope, (0, cols - n)), slope @ x0 - over
        (a_ub if without else a_eq).append(ph[0]), (b_ub if without else b_eq).append(ph[1])
        r = linprog(cost, A_ub=np.array(a_ub) if a_ub else None, b_ub=b_ub or None, A_eq=np.array(a_eq), b_eq=b_eq,
                    bounds=bounds, method="highs", options=fits.OPTIONS)
        return np.array(r.x[:n]) if r.status == 0 else None

    def settle(self, x, without):
        """(misfit, amounts) where the pH is at the wish to 1e-8 eq/kg, or None"""
        last, (over, slope) = None, self.over(x)
        for _ in range(40):
            new = self.program(over, slope, x, without)
            if new is None:
                return None
            x, now = new, self.misfit(new)
            over, slope = self.over(x)
            if last is not None and abs(now - last) < 1e-7 and (over < 1e-5 if without else abs(over) < 1e-5):
                return now, x
            last = now
        return None

    def best(self, rng):
        """the least of both ways from several starts"""
        found, n = [], len(self.bounds)
        for at in range(3):
            x = np.zeros(n)
            if at:
                x[:len(self.names)] = [rng.uniform(0, 0.4) * (0.05 if fits.IS_TRACE.get(s) else 1) for s in self.names]
            found += [self.settle(x, without) for without in (True, False)]
        found = [f for f in found if f]
        return min(found, key=lambda f: f[0]) if found else None

    def point(self, x):
        grams = {n: v * self.case["litres"] for n, v in zip(self.names, x) if v > 1e-9}
        second = x[len(self.names)] if len(self.case["waters"]) == 2 else None
        litres = None if second is None else [(1 - second) * self.case["litres"], second * self.case["litres"]]
        ph = self.solution.ph(self.totals(x), self.meq[0] + self.meq[1] @ x, self.aired)
        return {"misfit": float(self.misfit(x)), "pH": round(ph, 5), "grams": grams, "litres": litres}

    def found(self, program, text):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "bench.toml")
            with open(path, "w", encoding="utf-8") as f:
                f.write(text)
            run = subprocess.run([program, "mix", "asked", "--bench", path, "--json"], capture_output=True, text=True)
        mix = json.loads(run.stdout)
        if run.returncode:
            return None, mix
        x = np.zeros(len(self.bounds))
        for dose in mix["doses"]:
            if dose["salt"] is None:        # a dilute bottle of a salt of which the exact mix has none
                assert not dose["millilitres_exact"], dose
                continue
            x[self.names.index(dose["salt"])] = dose["grams_exact"] / self.case["litres"]
        if len(self.case["waters"]) == 2:
            x[-1] = mix["waters"][1]["litres"] / self.case["litres"]
        return x, mix


def main():
    rng, solution, cases, dropped = random.Random(SEED), Solution(), [], 0
    wanted = {"acids": ACIDS_WANTED, "waters": WATERS_WANTED}
    for kind, count in wanted.items():
        made = 0
        while made < count:
            case = draw(rng, kind)
            text = bench_text(case)
            bench = Bench(case, solution)
            best = bench.best(rng)
            if best is None:
                dropped += 1
                continue
            made += 1
            x, mix = bench.found(sys.argv[1], text)
            found = bench.point(x) if x is not None else None
            record = {"id": len(cases), "kind": kind, "pH": case["pH"], "basis": case["basis"], "bench": text,
                      "best": bench.point(best[1]), "found": found}
            cases.append(record)
            sour = found and found["pH"] - case["pH"]
            acid = found and any(a in found["grams"] for a in ACIDS)
            if not found or found["misfit"] > best[0] + 1e-3 or sour > 0.05 or acid and sour < -0.05:
                print(record["id"], kind, "wish", case["pH"], case["basis"], "best", best[0], record["best"]["pH"],
                      "found", found and (found["misfit"], found["pH"]), [f["code"] for f in mix.get("findings", [])])
    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "sour.json")
    made_with = f"SciPy {scipy.__version__} HiGHS; IPhreeqc 3.8.6 (pyEQL {version('pyEQL')}), phreeqc.dat 2024-05-22"
    with open(path, "w", encoding="utf-8", newline="\n") as f:
        f.write('{"made_by":"make_sour.py","with":%s,"cases":[\n' % json.dumps(made_with))
        f.write(",\n".join(json.dumps(c, separators=(",", ":"), allow_nan=False) for c in cases))
        f.write("\n]}\n")
    print(len(cases), "cases,", dropped, "dropped;", os.path.getsize(path), "bytes")
    for kind in wanted:
        some = [c for c in cases if c["kind"] == kind and c["found"]]
        over = sorted(c["found"]["misfit"] - c["best"]["misfit"] for c in some)
        ph = sorted(abs(c["found"]["pH"] - c["pH"]) for c in some if any(a in c["found"]["grams"] for a in ACIDS))
        two = sum(sum(a in c["found"]["grams"] for a in ACIDS) > 1 for c in some)
        blended = sum(c["found"]["litres"] is not None and min(c["found"]["litres"]) > 1e-6 for c in some)
        print(kind, "misfit over the best: median %.2g, worst %.2g" % (over[len(over) // 2], over[-1]),
              "pH off the wish of those with acid: median %.3f, worst %.3f" % (ph[len(ph) // 2], ph[-1]), two, "of two acids,", blended, "blended")


if __name__ == "__main__":
    main()
