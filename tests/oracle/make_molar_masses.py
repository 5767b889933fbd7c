#!/usr/bin/env python3
"""Makes molar_masses.json: molar masses and atomic weights by the library molmass.

    pip install "molmass==2026.1.8"
    python3 make_molar_masses.py    # writes molar_masses.json beside this file

The script reads nothing but itself and the library. A model against a model: molmass averages the
isotopes of its own table, which is neither the abridged IUPAC/CIAAW table nor made from it, and parses
formulas with its own code. The two tables differ by up to 150 ppm for an element (S; B and Cl about
90, H about 60), so molar masses agree to about 1 in 10 000, not to the last digit. An error in a
formula itself (a wrong number of waters of crystallisation) is shared and cannot be seen here.
"""
import json
import os

import molmass
from molmass import ELEMENTS, Formula

FORMULAS = """
Ca(NO3)2.4H2O Ca(NO3)2 5Ca(NO3)2.NH4NO3.10H2O KNO3 KH2PO4 K2HPO4 K2SO4 MgSO4.7H2O MgSO4.H2O MgSO4
Mg(NO3)2.6H2O NH4H2PO4 (NH4)2HPO4 NH4NO3 (NH4)2SO4 NH4Cl CaCl2.2H2O KCl NaCl NaNO3 H3BO3 Na2B4O7.10H2O
MnSO4.H2O MnCl2.4H2O ZnSO4.7H2O ZnSO4.H2O CuSO4.5H2O Na2MoO4.2H2O (NH4)6Mo7O24.4H2O FeSO4.7H2O FeCl3.6H2O
C10H12FeN2NaO8 C10H18FeN2NaO11 C14H18FeN3Na2O10 C18H16FeN2NaO6 CO(NH2)2 K2SiO3 KHCO3 K2CO3 KOH H3PO4 HNO3
H2SO4 C6H8O7 C6H8O7.H2O CoSO4.7H2O NiSO4.6H2O Na2SeO4 CaSO4.2H2O CaCO3 NaHCO3
CaCl2 ZnCl2 CuCl2.2H2O CuSO4 FeCl2.4H2O FeSO4.H2O MnSO4.4H2O C2H4O2
""".split()

ATOMS = "H B C N O Na Mg Si P S Cl K Ca Mn Fe Co Ni Cu Zn Se Mo".split()


def main():
    assert len(set(FORMULAS)) == len(FORMULAS)
    masses = [{"formula": f, "g_per_mol": Formula(f).mass} for f in FORMULAS]
    weights = [{"element": e, "atomic_weight": ELEMENTS[e].mass} for e in ATOMS]
    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "molar_masses.json")
    with open(path, "w", encoding="utf-8", newline="\n") as f:
        f.write('{"made_by":"make_molar_masses.py","library":%s,"molar_masses":[\n'
                % json.dumps("molmass " + molmass.__version__))
        f.write(",\n".join(json.dumps(m, separators=(",", ":")) for m in masses))
        f.write('\n],"atomic_weights":[\n')
        f.write(",\n".join(json.dumps(w, separators=(",", ":")) for w in weights))
        f.write("\n]}\n")
    print(len(masses), "molar masses,", len(weights), "atomic weights,", os.path.getsize(path), "bytes")


if __name__ == "__main__":
    main()
