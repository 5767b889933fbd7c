#!/usr/bin/env python3
"""Makes waters.json and single_salts.json: MEASURED conductivities, pasted below. Needs only Python.

    python3 make_measured.py        # writes both files beside this one

Waters: Stuyfzand 1987, as a data set under the MIT licence (groundwaterconductivity) carries them; measured EC at 20 C.
Single solutes: CRC Handbook, "Electrical Conductivity of Aqueous Solutions", 20 C, by mass per cent; the rows
"read" come from a stored page of that table (its columns assigned by position), the rows "memory" from nobody's page: do not let a hard
test depend on those alone.
"""
import json
import os

# no,Cl,HCO3,SO4,NO3,CO3,pH,Na,K,Ca,Mg,NH4 (mg/L of the ion), measured uS/cm at 20 C, Stuyfzand's own calculation
WATERS = """
1,5.0,38,0.9,1.5,0,7.6,5.9,0.8,6.5,2.6,0.0,67,67
2,32.0,171,0.0,0.1,0,7.91,23.0,10.9,14.0,21.0,0.4,326,322
3,4.4,0,5.5,3.4,0,4.07,1.5,0.2,1.0,0.4,0.7,48,52
4,17.7,55,38.4,0.0,0,7.0,16.1,3.9,20.0,4.9,0.0,212,212
5,14.9,0,2.5,1.5,0,4.19,7.9,0.37,1.0,0.95,0.3,65,70
6,83.0,0,19.5,13.1,0,3.96,45.3,2.17,6.2,5.6,1.2,334,340
7,15.6,0,8.9,8.0,0,4.63,8.1,0.75,3.3,1.3,1.9,87,85
8,16.3,113,21.0,24.8,0,7.57,6.0,0.66,53.3,3.0,0.1,282,293
9,33.0,307,1.0,0.1,0,7.34,20.0,6.3,79.0,7.9,2.3,486,492
10,196.0,716,6.0,0.0,0,7.77,350.0,7.4,29.0,10.0,3.0,1445,1463
11,39.0,101,116.0,0.6,0,7.0,23.0,2.8,58.0,13.0,0.0,458,456
12,11.0,415,437.0,0.0,0,7.0,297.0,3.9,20.0,26.7,0.0,1204,1261
13,113.0,32,62.0,0.0,0,6.2,62.0,3.7,29.0,9.1,0.4,505,505
14,476.0,226,17.0,0.0,0,8.0,165.0,22.8,112.0,52.0,1.4,1660,1620
15,42.0,185,63.0,69.5,0,7.57,26.0,1.9,101.0,5.0,0.1,585,578
16,34.0,352,140.0,372.0,0,7.04,19.0,0.3,285.0,4.1,0.1,1248,1246
17,128.0,201,48.0,0.0,0,7.0,161.0,0.0,18.0,0.0,0.0,735,726
18,206.0,212,100.0,0.0,0,7.53,103.0,2.4,121.0,4.7,0.3,1021,1018
19,190.0,917,5.0,0.0,0,7.26,170.0,13.1,200.0,12.5,26.4,1680,1663
20,349.0,4750,190.0,0.0,0,7.0,1901.0,96.0,106.0,11.5,0.0,6455,6530
21,326.0,762,372.0,0.0,0,7.0,650.0,0.0,10.0,7.0,0.0,2580,2630
22,2084.0,1910,2.0,0.0,0,7.0,1540.0,44.0,102.0,154.0,37.0,7200,7320
23,92.0,732,879.0,0.0,30,7.0,738.0,3.9,16.0,10.9,0.0,2645,2625
24,850.0,72,2130.0,0.0,0,7.3,462.0,9.1,696.0,204.0,0.0,4965,4905
25,714.0,255,19.0,0.0,0,7.73,316.0,30.7,80.0,75.0,0.9,2440,2412
26,1790.0,621,230.0,0.9,0,7.53,1290.0,32.7,60.0,69.0,0.3,5810,5880
27,3300.0,1710,27.0,0.0,0,6.94,1900.0,76.0,236.0,290.0,0.0,9600,9824
28,5285.0,2635,4.0,0.0,0,7.0,3300.0,95.0,160.0,390.0,70.0,14950,14800
29,386.0,134,5005.0,0.0,0,7.0,1957.0,19.6,425.0,128.0,0.0,8340,8310
30,3120.0,140,2426.0,0.0,3,7.0,2415.0,58.7,357.0,202.0,0.0,11600,11600
31,4230.0,480,274.0,0.0,0,7.12,1437.0,21.5,1038.0,205.0,10.1,11250,11250
32,15500.0,261,2050.0,0.0,0,7.18,8300.0,300.0,430.0,1110.0,8.6,36300,36100
33,25350.0,256,11170.0,0.0,0,7.0,20050.0,670.0,1065.0,115.0,0.0,65800,67500
34,189000.0,40,11700.0,63.0,0,7.0,121000.0,3700.0,722.0,2490.0,0.0,199100,215900
"""

# solute, mS/cm at the mass per cents below (empty: not in the table), how
PERCENT = [0.5, 1, 2, 5, 10, 15, 20, 25, 30, 40, 50]
SINGLE = """
CH3COOH,0.3,0.6,0.8,1.2,1.5,1.7,1.7,1.6,1.4,1.1,0.8,read
NH3,0.5,0.7,1.0,1.1,1.0,0.7,0.5,0.4,,,,read
NH4Cl,10.5,20.4,40.3,95.3,180,,,,,,,read
(NH4)2SO4,7.4,14.2,25.7,57.4,105,147,185,215,,,,read
CaCl2,8.1,15.7,29.4,67.0,117,157,177,183,172,106,,read
citric acid,1.2,2.1,3.0,4.7,6.2,7.0,7.2,7.1,,,,read
CuSO4,2.9,5.4,9.3,19.0,32.2,42.3,,,,,,read
HCl,45.1,92.9,183,,,,,,,,,read
MgCl2,8.6,16.6,31.2,66.9,108,129,134,122,98,,,read
MgSO4,4.1,7.6,13.3,27.4,42.7,54.2,51.1,44.1,,,,read
MnSO4,,6.2,10.6,21.6,34.5,43.7,47.6,,,,,read
HNO3,28.4,56.1,108,,,,,,,,,read
H3PO4,5.5,10.1,16.2,31.5,59.4,88.4,118,146,173,209,,memory
KBr,5.2,10.2,19.5,47.7,95.6,144,194,247,,,,memory
K2CO3,7.0,13.6,25.4,58.0,109,152,188,207,,,,memory
KCl,8.2,15.7,29.5,71.9,143,208,,,,,,memory
KH2PO4,3.0,5.9,11.0,25.0,44.6,,,,,,,memory
K2HPO4,5.2,9.9,18.3,40.3,,,,,,,,memory
KOH,20.0,38.5,75.0,178,,,,,,,,memory
KNO3,5.5,10.7,20.1,47.0,87.3,124,157,182,,,,memory
K2SO4,5.8,11.2,21.0,48.0,88.6,,,,,,,memory
NaCl,8.2,16.0,30.2,70.1,126,171,204,222,,,,memory
NaOH,24.8,48.6,93.1,206,,,,,,,,memory
NaNO3,5.4,10.6,20.4,46.2,82.6,111,134,152,,,,memory
Na2SO4,5.9,11.2,19.8,42.7,71.3,91.1,109,,,,,memory
H2SO4,24.3,47.8,92,211,,,,,,,,memory
ZnSO4,2.8,5.4,10.0,20.5,33.7,43.3,,,,,,memory
"""

EQ = {"Cl": (-1, 35.45), "HCO3": (-1, 61.017), "SO4": (-2, 96.056), "NO3": (-1, 62.004), "CO3": (-2, 60.008),
      "Na": (1, 22.990), "K": (1, 39.098), "Ca": (2, 40.078), "Mg": (2, 24.305), "NH4": (1, 18.039)}


def notes(no, ph, cations, anions):
    out = []
    if no in (3, 5):
        out.append("acid and organic-affected: a sum of ions overshoots")
    if no >= 31:
        out.append("brine")
    if ph == 7.0:
        out.append("the source prints pH 7.0, which looks like a filler for not measured; pH is null here")
    off = 200 * (cations - anions) / (cations + anions)
    if abs(off) > 5:
        out.append("cations minus anions %.0f %% of their mean" % off)
    return "; ".join(out)


def waters():
    out = []
    for line in WATERS.split():
        f = line.split(",")
        v = [float(x) for x in f]
        mg = dict(zip(["Cl", "HCO3", "SO4", "NO3", "CO3"], v[1:6]))
        mg.update(zip(["Na", "K", "Ca", "Mg", "NH4"], v[7:12]))
        ph, no = v[6], int(f[0])
        cations, anions = 1e3 * 10 ** -ph if ph != 7.0 else 0.0, 0.0
        for k, x in mg.items():
            z, m = EQ[k]
            if z > 0:
                cations += z * x / m
            else:
                anions -= z * x / m
        out.append({"number": no, "mg_per_l": mg, "pH": None if ph == 7.0 else ph,
                    "cations_meq_per_l": round(cations, 4), "anions_meq_per_l": round(anions, 4),
                    "ec20_us_cm": v[12], "stuyfzand_calculated_ec20_us_cm": v[13],
                    "note": notes(no, ph, cations, anions)})
    return out


def singles():
    out = []
    for line in SINGLE.strip().split("\n"):
        f = line.split(",")
        points = [{"mass_percent": p, "ec20_ms_cm": float(x)} for p, x in zip(PERCENT, f[1:-1]) if x]
        assert len(f) == len(PERCENT) + 2 and f[-1] in ("read", "memory")
        out.append({"solute": f[0], "how": f[-1], "points": points})
    return out


def write(name, field, rows, extra):
    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), name)
    with open(path, "w", encoding="utf-8", newline="\n") as f:
        f.write('{"made_by":"make_measured.py",%s,"%s":[\n' % (extra, field))
        f.write(",\n".join(json.dumps(r, separators=(",", ":")) for r in rows))
        f.write("\n]}\n")
    print(name, len(rows), "rows")


def main():
    write("waters.json", "waters", waters(), '"source":"Stuyfzand 1987, measured, 20 C"')
    write("single_salts.json", "solutes", singles(), '"source":"CRC Handbook, measured, 20 C"')


if __name__ == "__main__":
    main()
