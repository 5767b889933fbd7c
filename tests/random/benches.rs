//! Random bench files, as text: ordinary ones near what growers have, and extreme ones from everywhere that is allowed.
#![allow(clippy::disallowed_methods, reason = "random draws; nothing of them is printed")]

use std::fmt::Write as _;

use crate::random::Random;

/// A bench file and what was drawn for it.
pub struct Drawn {
    pub text: String,
    /// Targets and limits of `growth` and of `push`: symbols that have a target.
    pub targets: [Vec<&'static str>; 2],
    pub litres: f64,
    /// Ids that may be weighed in, of salts and bottles.
    pub shelf: Vec<String>,
    pub bottles: Vec<String>,
}

const MACRO: [(&str, f64); 5] = [("N", 90.0), ("P", 25.0), ("K", 110.0), ("Ca", 70.0), ("Mg", 22.0)];
const TRACE: [(&str, f64); 6] = [("Fe", 1.5), ("Mn", 0.4), ("Zn", 0.1), ("B", 0.3), ("Cu", 0.08), ("Mo", 0.05)];
const BESIDE: [(&str, f64); 6] = [("S", 40.0), ("Cl", 30.0), ("Na", 20.0), ("Si", 15.0), ("NO3-N", 60.0), ("NH4-N", 8.0)];

/// Salts that most shelves have.
pub const USUAL: [&str; 16] = [
    "calcium-nitrate-tetrahydrate",
    "potassium-nitrate",
    "monopotassium-phosphate",
    "monoammonium-phosphate",
    "potassium-sulfate",
    "magnesium-sulfate-heptahydrate",
    "calcium-chloride-dihydrate",
    "iron-dtpa",
    "boric-acid",
    "manganese-sulfate-monohydrate",
    "zinc-sulfate-heptahydrate",
    "copper-sulfate-pentahydrate",
    "sodium-molybdate-dihydrate",
    "magnesium-nitrate-hexahydrate",
    "ammonium-calcium-nitrate-decahydrate",
    "ammonium-nitrate",
];
const RARE: [&str; 14] = [
    "urea",
    "potassium-chloride",
    "dipotassium-phosphate",
    "magnesium-sulfate-monohydrate",
    "diammonium-phosphate",
    "ammonium-sulfate",
    "ammonium-chloride",
    "calcium-chloride-anhydrous",
    "calcium-sulfate-dihydrate",
    "sodium-nitrate",
    "sodium-chloride",
    "potassium-silicate-solution",
    "iron-edta",
    "iron-eddha",
];
const ACIDS: [&str; 6] =
    ["phosphoric-acid-10", "phosphoric-acid-85", "nitric-acid-60", "sulfuric-acid-35", "citric-acid", "acetic-acid"];
/// Products: id, what stands in the file, and whether it is a liquid acid.
const PRODUCTS: [(&str, &str); 4] = [
    (
        "own-npk",
        "density = \"1.15 kg/L\"\nanalysis = { NO3-N = 3, NH4-N = 2, P2O5 = 4, K2O = 6 }\nalkalinity_per_kg = \"0 eq\"\n",
    ),
    ("own-pk", "analysis = { P2O5 = 52, K2O = 34 }\n"),
    (
        "own-micro",
        "analysis = { Fe = 7.1, Mn = 3.5, Zn = 0.6, B = 1.1, Cu = 0.3, Mo = 0.2 }\nalkalinity_per_kg = \"0 eq\"\n",
    ),
    ("own-unsplit", "analysis = { N = 15, P2O5 = 5, K2O = 20, MgO = 3 }\n"),
];
const OWN_ACIDS: [(&str, &str); 2] = [
    ("own-nitric", "density = \"1.24 kg/L\"\nanalysis = { NO3-N = 8.45 }\nalkalinity_per_kg = \"-6.03 eq\"\n"),
    ("own-phosphoric", "density = \"1.05 kg/L\"\nanalysis = { P2O5 = 7.24 }\nalkalinity_per_kg = \"-1.02 eq\"\n"),
];

/// A number of the size that a file has.
fn number(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

/// Evenly on a logarithmic scale.
pub fn inside(random: &mut Random, low: f64, high: f64) -> f64 {
    number(random.between(low.ln(), high.ln()).exp().clamp(low, high))
}

fn one<T: Copy>(random: &mut Random, of: &[T]) -> T {
    of[random.below(of.len())]
}

/// A bench of this number: two in three ordinary, the others extreme.
pub fn bench(seed: u64) -> Drawn {
    let random = &mut Random(seed.wrapping_mul(0x5851_F42D_4C95_7F2D) ^ 0x0011_0B1C);
    let extreme = random.chance(1.0 / 3.0);
    let litres = if extreme {
        inside(random, 0.1, 100_000.0)
    } else {
        one(random, &[1.0, 5.0, 10.0, 20.0, 40.0, 60.0, 100.0, 400.0])
    };
    let mut text = format!("name = \"bench {seed}\"\n");
    if random.chance(0.1) {
        text.push_str("bottles = [\"1 L\", \"5 L\"]\n");
    }
    let _ = write!(text, "[tank]\nvolume = \"{litres} L\"\n");
    if random.chance(0.3) {
        let _ = writeln!(text, "temperature = \"{} C\"", one(random, &[4.0, 12.0, 18.0, 21.0, 30.0]));
    }
    water(random, &mut text, extreme);
    let coarsest = instruments(random, &mut text, extreme);
    let mut shelf = shelf_ids(random, extreme);
    let products: Vec<(&str, &str)> = PRODUCTS.into_iter().filter(|_| random.chance(0.12)).collect();
    let acid = random.chance(0.35).then(|| acid(random));
    let acids: Vec<&str> = acid.iter().flat_map(|(id, ..)| [*id].into_iter().chain(another_acid(seed, id))).collect();
    text.push_str("[shelf]\n");
    shelf.extend(products.iter().map(|(id, _)| (*id).to_owned()));
    let priced = random.chance(0.2);
    for id in &shelf {
        let _ = writeln!(text, "{id} = {{ {} }}", entry(random, litres, extreme, priced));
    }
    for (id, words) in products.iter().chain(OWN_ACIDS.iter().filter(|(id, _)| acids.contains(id))) {
        let _ = write!(text, "[[product]]\nid = \"{id}\"\nname = \"{id}\"\n{words}");
    }
    let bottles = helpers(random, &mut text, &shelf, coarsest, extreme);
    if let Some((_, ph, basis)) = &acid {
        let salt = if let [one] = acids[..] { format!("{one:?}") } else { format!("{acids:?}") };
        let _ = write!(text, "[acid]\nsalt = {salt}\ntarget_pH = {ph}\nbasis = \"{basis}\"\n");
    }
    let growth = formula(random, &mut text, "growth", extreme, &[]);
    let like: &[&str] = if random.chance(0.7) { &growth } else { &[] };
    let push = formula(random, &mut text, "push", extreme, like);
    text.push_str("[cycle]\ngrowth = { formula = \"growth\", lasts = \"28 days\" }\n");
    text.push_str("push = { formula = \"push\", lasts = \"21 days\" }\nrenew_every = \"14 days\"\n");
    Drawn { text, targets: [growth, push], litres, shelf, bottles }
}

fn water(random: &mut Random, text: &mut String, extreme: bool) {
    let kind = random.below(if extreme { 4 } else { 3 });
    if kind == 0 {
        return;
    }
    let hard = [0.0, 0.3, 1.0, 8.0][kind];
    text.push_str("[water]\n");
    for (element, ppm) in
        [("Ca", 70.0), ("Mg", 12.0), ("Na", 20.0), ("K", 3.0), ("Cl", 25.0), ("S", 15.0), ("N", 4.0), ("B", 0.05)]
    {
        if random.chance(0.8) {
            let _ = writeln!(text, "{element} = {}", number(ppm * hard * random.between(0.2, 2.0)));
        }
    }
    if random.chance(0.8) {
        let _ = writeln!(text, "alkalinity = \"{} meq/L\"", number(3.0 * hard.min(4.0) * random.between(0.2, 2.0)));
    }
    if random.chance(0.6) {
        let _ = writeln!(text, "pH = {:.1}", random.between(6.5, 8.3));
    }
}

/// Scales and a syringe. Returns the coarsest step of a scale that is sure to be there, g.
fn instruments(random: &mut Random, text: &mut String, extreme: bool) -> f64 {
    let steps: Vec<f64> = if extreme {
        (0..=random.below(2)).map(|_| inside(random, 0.0001, 100.0)).collect()
    } else {
        one(random, &[&[0.1, 0.001][..], &[0.1], &[0.1, 0.01], &[1.0], &[1.0, 0.1], &[0.01], &[0.001]]).to_vec()
    };
    for step in &steps {
        let _ = write!(text, "[[scale]]\nreadability = \"{step} g\"\n");
        if random.chance(0.3) {
            let _ = writeln!(text, "trust = {}", inside(random, 0.005, 0.5));
        }
        if random.chance(0.2) {
            let _ = writeln!(text, "capacity = \"{} g\"", number((step * 2000.0).clamp(0.01, 1e6)));
        }
    }
    if random.chance(0.5) {
        let step = if extreme { inside(random, 0.01, 100.0) } else { one(random, &[0.1, 0.2, 0.5, 1.0]) };
        let _ = write!(text, "[syringe]\nstep = \"{step} mL\"\n");
        if random.chance(0.3) {
            let _ = writeln!(text, "capacity = \"{} mL\"", number((step * 100.0).clamp(0.1, 1e5)));
        }
    }
    steps.iter().copied().fold(0.0, f64::max)
}

fn shelf_ids(random: &mut Random, extreme: bool) -> Vec<String> {
    let ids = |of: &[&str]| of.iter().map(|id| (*id).to_owned()).collect();
    match random.below(if extreme { 4 } else { 12 }) {
        0 => ids(&[one(random, &USUAL)]),
        1 => ids(&[one(random, &["urea", "calcium-chloride-dihydrate", "potassium-chloride", "sodium-chloride"])]),
        2 => {
            let everything: Vec<&str> = USUAL.into_iter().chain(RARE).collect();
            let count = 1 + random.below(20);
            ids(&random.some(&everything, count))
        }
        _ => {
            let mut chosen: Vec<&str> = USUAL.into_iter().filter(|_| random.chance(0.85)).collect();
            chosen.extend(RARE.into_iter().filter(|_| random.chance(0.08)));
            ids(&chosen)
        }
    }
}

/// What a shelf entry says.
fn entry(random: &mut Random, litres: f64, extreme: bool, priced: bool) -> String {
    let mut said = Vec::new();
    if random.chance(if extreme { 0.4 } else { 0.2 }) {
        let most = if extreme { inside(random, 1e-6, 1e7) } else { number(litres * random.between(0.02, 2.0)) };
        said.push(format!("on_hand = \"{most} g\""));
    }
    if random.chance(0.15) {
        said.push(format!("purity = {:.2}", random.between(0.9, 1.0)));
    }
    if priced {
        said.push(format!("price_per_kg = {:.2}", random.between(1.0, 40.0)));
    }
    said.join(", ")
}

fn acid(random: &mut Random) -> (&'static str, f64, &'static str) {
    let id = if random.chance(0.3) { one(random, &OWN_ACIDS).0 } else { one(random, &ACIDS) };
    (id, one(random, &[4.5, 5.5, 5.8, 6.2, 6.5]), one(random, &["fresh", "aired"]))
}

/// A second acid beside the first on some benches, drawn apart so that nothing else of the bench changes.
fn another_acid(seed: u64, first: &str) -> Option<&'static str> {
    let random = &mut Random(seed ^ 0x0002_AC1D);
    let drawn = random.chance(0.4).then(|| acid(random).0);
    drawn.filter(|second| *second != first)
}

/// Bottles already made, some of one another.
fn helpers(random: &mut Random, text: &mut String, shelf: &[String], coarsest: f64, extreme: bool) -> Vec<String> {
    let mut made: Vec<(String, f64)> = Vec::new();
    let count = if random.chance(0.3) { 1 + random.below(3) } else { 0 };
    for at in 0..count {
        let litres = if extreme { inside(random, 0.01, 100.0) } else { one(random, &[0.25, 0.5, 1.0, 5.0]) };
        let from = made.last().filter(|_| random.chance(0.3)).cloned();
        let of = match from {
            Some((bottle, held)) => format!("{bottle} = \"{} mL\"", number(litres.min(held) * random.between(20.0, 400.0))),
            None => {
                let most =
                    if extreme { inside(random, 0.001, 1000.0) } else { coarsest.max(0.5) * random.between(2.0, 40.0) };
                let salt = &shelf[random.below(shelf.len())];
                format!("{salt} = \"{} g\"", number(most.clamp(0.0001, 1e5)))
            }
        };
        let id = format!("h{at}");
        let _ = write!(text, "[[helper]]\nid = \"{id}\"\nvolume = \"{litres} L\"\nmade_of = {{ {of} }}\n");
        if random.chance(0.3) {
            let _ = writeln!(text, "left = \"{} L\"", number(litres * random.between(0.0, 1.0)));
        }
        made.push((id, litres));
    }
    made.into_iter().map(|(id, _)| id).collect()
}

/// A formula; `like` are the targets that it shares with another. Returns what has a target.
fn formula(random: &mut Random, text: &mut String, name: &str, extreme: bool, like: &[&'static str]) -> Vec<&'static str> {
    let _ = writeln!(text, "[formula.{name}]");
    let empty = text.len();
    let mut targets = Vec::new();
    let full = random.chance(0.75);
    // total nitrogen and its forms at once are refused, so the forms come only where N does not
    let forms = random.chance(0.1);
    for (element, usual) in MACRO.into_iter().chain(TRACE).chain(BESIDE) {
        let is_form = element.contains("-N");
        if is_form && !forms || element == "N" && forms {
            continue;
        }
        let beside = BESIDE.iter().any(|(other, _)| *other == element);
        let share = if like.contains(&element) {
            0.95
        } else if beside && !is_form {
            0.1
        } else if full {
            0.9
        } else {
            0.3
        };
        let ppm = if extreme && random.chance(0.3) {
            inside(random, 0.0001, 5000.0)
        } else {
            number(usual * random.between(0.3, 2.0))
        };
        if random.chance(share) {
            targets.push(element);
            let _ = match random.below(12) {
                0 => writeln!(text, "{element} = {{ target = {ppm}, weight = {} }}", inside(random, 0.1, 10.0)),
                1 => writeln!(
                    text,
                    "{element} = {{ target = {ppm}, max = {} }}",
                    number((ppm * random.between(1.0, 1.5)).min(5000.0))
                ),
                2 => writeln!(text, "{element} = {{ target = {ppm}, min = {} }}", number(ppm * random.between(0.5, 1.0))),
                _ => writeln!(text, "{element} = {ppm}"),
            };
        } else if random.chance(0.25) {
            let _ = match random.below(4) {
                0 => writeln!(text, "{element} = {{ min = {} }}", number(ppm * 0.5)),
                1 => writeln!(
                    text,
                    "{element} = {{ min = {}, max = {} }}",
                    number(ppm * 0.3),
                    number((ppm * 2.0).min(5000.0))
                ),
                _ => writeln!(text, "{element} = {{ max = {} }}", number((ppm * 1.5).min(5000.0))),
            };
        }
    }
    if text.len() == empty {
        text.push_str("K = 110\n");
        targets.push("K");
    }
    if random.chance(0.3) {
        let _ = writeln!(text, "ammonium_share = {{ max = {:.2} }}", random.between(0.03, 0.6));
    }
    if random.chance(0.2) {
        let high = if extreme { inside(random, 0.05, 20.0) } else { number(random.between(0.5, 2.0)) };
        let _ = match random.below(4) {
            0 => writeln!(text, "EC = {{ min = \"{} mS/cm\", max = \"{high} mS/cm\" }}", number(high * 0.6)),
            _ => writeln!(text, "EC = {{ max = \"{high} mS/cm\" }}"),
        };
    }
    targets
}
