#!/usr/bin/env python3
"""Records when the first solid saturates in strong solutions of potassium sulfate, potassium chloride and magnesium sulfate.

Answers come from IPhreeqc with its pitzer.dat (U.S. Geological Survey), through phreeqpython from PyPI: the Pitzer model is
made for brines, where the program's own chemistry does not reach. Grade: a model against a rule, at 25 C. Writes stock.json
beside this file: for each case mmol of each salt in a litre of tank, and how many times stronger the solution is when each
solid reaches saturation. Strengths are per litre of solution, by the engine's own density.

    pip install phreeqpython && python3 tests/oracle/make_stock.py
"""
import json
import pathlib
import random

import phreeqpython

# molar masses, g/mol: IUPAC/CIAAW abridged standard weights 2021, from memory; they turn kilograms into litres only
SALTS = {"K2SO4": 174.259, "KCl": 74.551, "MgSO4": 120.366}
SINGLE = ["Arcanite", "Sylvite", "Epsomite"]
DOUBLE = ["Schoenite", "Leonite", "Kainite"]

engine = phreeqpython.PhreeqPython(database="pitzer.dat")


def index(mmol_per_kg, solids):
    solution = engine.add_solution_simple({salt: n for salt, n in mmol_per_kg.items() if n > 0}, temperature=25)
    found = {solid: solution.si(solid) for solid in solids}
    density = solution.density
    solution.forget()
    return found, density


def strength(mix, solid):
    """Times the tank at which `solid` saturates; None where its ions are not there or it never does."""
    low, high = 0.0, 6000.0 / sum(mix.values())
    at = lambda times: index({salt: n * times for salt, n in mix.items()}, [solid])[0][solid]
    if at(high) < 0:
        return None
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if at(middle) < 0 else (low, middle)
    # from a kilogram of water to a litre of solution
    mmol = {salt: n * high for salt, n in mix.items()}
    density = index(mmol, [solid])[1]
    kilograms = 1.0 + sum(mmol[salt] * SALTS[salt] for salt in mmol) * 1e-6
    return high / (kilograms / density)


def main():
    draw = random.Random(6)
    cases = []
    while len(cases) < 60:
        mix = {salt: round(draw.uniform(0.05, 2.0), 3) if draw.random() < 0.75 else 0.0 for salt in SALTS}
        if sum(mix.values()) < 0.2:
            continue
        has = {"K": mix["K2SO4"] + mix["KCl"] > 0, "Mg": mix["MgSO4"] > 0, "Cl": mix["KCl"] > 0, "S": mix["K2SO4"] + mix["MgSO4"] > 0}
        needs = {"Arcanite": "K S", "Sylvite": "K Cl", "Epsomite": "Mg S", "Schoenite": "K Mg S", "Leonite": "K Mg S", "Kainite": "K Mg S Cl"}
        saturates = {}
        for solid in SINGLE + DOUBLE:
            times = strength(mix, solid) if all(has[ion] for ion in needs[solid].split()) else None
            saturates[solid] = None if times is None else round(times, 3)
        cases.append({"mmol_per_l": mix, "saturates_at_times": saturates})
    text = {"engine": "IPhreeqc through phreeqpython, pitzer.dat, 25 C", "cases": cases}
    pathlib.Path(__file__).with_name("stock.json").write_text(json.dumps(text, indent=1) + "\n")


main()
