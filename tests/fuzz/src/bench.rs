//! Bench files.

use std::fmt::Write as _;

use crate::draw::Draw;

/// A bench file, and what can be asked of it by name.
pub struct Sentence {
    pub text: String,
    pub formulas: Vec<&'static str>,
    pub shelf: Vec<&'static str>,
    pub waters: Vec<&'static str>,
}

pub const FORMULAS: [&str; 3] = ["growth", "push", "weak"];
const USUAL: [&str; 13] = [
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
];
pub const RARE: [&str; 12] = [
    "urea",
    "ammonium-nitrate",
    "potassium-chloride",
    "dipotassium-phosphate",
    "ammonium-sulfate",
    "calcium-sulfate-dihydrate",
    "sodium-nitrate",
    "potassium-silicate-solution",
    "potassium-hydroxide",
    "iron-edta",
    "workshop-pk",
    "workshop-acid",
];
const ACIDS: [&str; 6] =
    ["phosphoric-acid-10", "nitric-acid-60", "sulfuric-acid-35", "citric-acid", "workshop-acid", "phosphoric-acid-85"];
/// Elements with a usual target, ppm.
pub const ASKED: [(&str, f64); 16] = [
    ("N", 90.0),
    ("P", 25.0),
    ("K", 110.0),
    ("Ca", 70.0),
    ("Mg", 22.0),
    ("Fe", 1.5),
    ("Mn", 0.4),
    ("Zn", 0.1),
    ("B", 0.3),
    ("Cu", 0.08),
    ("Mo", 0.05),
    ("S", 40.0),
    ("Cl", 30.0),
    ("Na", 20.0),
    ("Si", 15.0),
    ("NH4-N", 8.0),
];
const PRODUCTS: &str = "[[product]]\nid = \"workshop-pk\"\nname = \"PK liquid, own batch\"\ndensity = \"1.09 kg/L\"\n\
     analysis = { P2O5 = 6.5, K2O = 4.3 }\n\
     [[product]]\nid = \"workshop-acid\"\ndensity = \"1.05 kg/L\"\nanalysis = { P2O5 = 7.24 }\nalkalinity_per_kg = \"-1.02 eq\"\n";

/// A volume of a tank.
pub fn volume(draw: &mut Draw) -> String {
    match draw.below(8) {
        7 => format!("{} mL", draw.size(100.0, 1e8)),
        6 => format!("{} gal", draw.size(0.03, 26_000.0)),
        5 => format!("{} L", draw.size(0.1, 1e5)),
        _ => draw.one(&["60 L", "40 L", "10 L", "1 m3"]).to_owned(),
    }
}

/// A right bench file.
pub fn sentence(draw: &mut Draw) -> Sentence {
    let mut text = String::from("name = \"Flood bench\"\n");
    if draw.once_in(6) {
        text.push_str("bottles = [\"250 mL\", \"5 L\"]\n");
    }
    tank(draw, &mut text);
    let waters = water(draw, &mut text);
    instruments(draw, &mut text);
    let shelf = shelf(draw, &mut text);
    text.push_str(PRODUCTS);
    bottles(draw, &mut text, &shelf);
    if draw.once_in(3) {
        acid(draw, &mut text);
    }
    let mut formulas = Vec::new();
    for name in FORMULAS {
        if formulas.is_empty() || !draw.once_in(8) {
            formula(draw, &mut text, name, !formulas.is_empty());
            formulas.push(name);
        }
    }
    if draw.once_in(3) {
        cycle(draw, &mut text, &formulas);
    }
    Sentence { text, formulas, shelf, waters }
}

fn tank(draw: &mut Draw, text: &mut String) {
    let several = draw.once_in(6);
    for id in ["long bench", "small bench"].into_iter().take(1 + usize::from(several)) {
        text.push_str(if several { "[[tank]]\n" } else { "[tank]\n" });
        if several {
            let _ = writeln!(text, "id = \"{id}\"");
        }
        let _ = writeln!(text, "volume = \"{}\"", volume(draw));
        if draw.once_in(3) {
            let _ = writeln!(text, "temperature = \"{} C\"", draw.one(&[21.0, 4.0, 0.0, 50.0]));
        }
    }
}

fn water(draw: &mut Draw, text: &mut String) -> Vec<&'static str> {
    let (one, ids): (bool, &[&str]) = match draw.below(4) {
        0 => return Vec::new(),
        1 | 2 => (true, &["tap"]),
        _ => (false, &["rain", "tap", "well"]),
    };
    let ids = &ids[..if one { 1 } else { 2 + draw.below(2) }];
    for (at, id) in ids.iter().enumerate() {
        text.push_str(if one { "[water]\n" } else { "[[water]]\n" });
        if !one {
            let _ = writeln!(text, "id = \"{id}\"");
            if draw.once_in(3) {
                let _ = writeln!(text, "on_hand = \"{} L\"", draw.size(0.1, 1e6));
            }
            if at == 0 {
                continue;
            }
        }
        let extreme = draw.once_in(8);
        for (element, ppm) in [("Ca", 60.0), ("Mg", 9.0), ("Na", 18.0), ("Cl", 28.0), ("S", 15.0), ("N", 4.0), ("K", 3.0)] {
            if !draw.once_in(4) {
                let most = if extreme { 5000.0 } else { 2.0 * ppm };
                let _ = writeln!(text, "{element} = {}", draw.size(0.01, most));
            }
        }
        if !draw.once_in(4) {
            let _ = writeln!(text, "alkalinity = \"{} meq/L\"", draw.size(0.01, if extreme { 50.0 } else { 6.0 }));
        }
        if !draw.once_in(3) {
            let _ = writeln!(text, "pH = {}", draw.one(&[7.2, 7.5, 8.3, 6.0, if extreme { 14.0 } else { 7.0 }]));
        }
    }
    if one { Vec::new() } else { ids.to_vec() }
}

fn instruments(draw: &mut Draw, text: &mut String) {
    for step in [0.1, 0.001].into_iter().take(draw.below(3)) {
        let step = if draw.once_in(6) { draw.size(0.0001, 100.0) } else { step };
        let _ = write!(text, "[[scale]]\nreadability = \"{step} g\"\n");
        if draw.once_in(3) {
            let _ = writeln!(text, "trust = {}", draw.size(0.001, 0.5));
        }
        if draw.once_in(4) {
            let _ = writeln!(text, "capacity = \"{} g\"", draw.size(step.max(0.01), 1e6));
        }
    }
    if draw.once_in(2) {
        let step = draw.size(0.01, 100.0);
        let _ = write!(text, "[syringe]\nstep = \"{step} mL\"\ncapacity = \"{} mL\"\n", draw.size(step.max(0.1), 1e5));
    }
}

fn shelf(draw: &mut Draw, text: &mut String) -> Vec<&'static str> {
    text.push_str("[shelf]\n");
    let (few, priced) = (draw.once_in(8), draw.once_in(3));
    let mut shelf = Vec::new();
    for id in USUAL.into_iter().chain(RARE) {
        let out = if USUAL.contains(&id) && !few { draw.once_in(8) } else { !draw.once_in(8) };
        if out {
            continue;
        }
        shelf.push(id);
        let mut said = Vec::new();
        if draw.once_in(6) {
            said.push(format!("on_hand = \"{} g\"", draw.size(1e-6, 1e7)));
        }
        if draw.once_in(8) {
            said.push(format!("purity = {}", draw.size(0.01, 1.0)));
        }
        if priced {
            said.push(format!("price_per_kg = {}", draw.size(0.01, 1e6)));
        }
        let _ = writeln!(text, "{id} = {{ {} }}", said.join(", "));
    }
    if shelf.is_empty() {
        shelf.push(USUAL[0]);
        let _ = writeln!(text, "{} = {{}}", USUAL[0]);
    }
    shelf
}

fn bottles(draw: &mut Draw, text: &mut String, shelf: &[&str]) {
    let count = if draw.once_in(3) { 1 + draw.below(3) } else { 0 };
    let mut before: Option<(String, f64)> = None;
    for at in 0..count {
        let litres = draw.size(0.05, 50.0);
        let mut of = vec![format!("{} = \"{} g\"", draw.one(shelf), draw.size(0.0001, 100.0))];
        if let Some((id, held)) = before.filter(|_| draw.once_in(2)) {
            of.push(format!("{id} = \"{} mL\"", draw.size(0.01, (litres.min(held) * 900.0).max(0.02))));
        }
        let id = format!("bottle-{at}");
        let _ = write!(text, "[[helper]]\nid = \"{id}\"\nvolume = \"{litres} L\"\nmade_of = {{ {} }}\n", of.join(", "));
        if draw.once_in(3) {
            let _ = writeln!(text, "left = \"{} L\"", draw.size(litres * 1e-3, litres));
        }
        before = Some((id, litres));
    }
}

fn acid(draw: &mut Draw, text: &mut String) {
    let (one, other) = (draw.one(&ACIDS), draw.one(&ACIDS));
    let salt = if one == other || draw.once_in(2) { format!("{one:?}") } else { format!("[{one:?}, {other:?}]") };
    let ph = draw.one(&[5.8, 5.5, 6.5, 4.0, 7.5]);
    let _ = write!(text, "[acid]\nsalt = {salt}\ntarget_pH = {ph}\nbasis = \"{}\"\n", draw.one(&["fresh", "aired"]));
}

fn formula(draw: &mut Draw, text: &mut String, name: &str, may_start_from: bool) {
    let _ = writeln!(text, "[formula.{name}]");
    let from = may_start_from && draw.once_in(2);
    let empty = text.len();
    if from {
        text.push_str("from = \"growth\"\n");
        if draw.once_in(2) {
            let _ = writeln!(text, "strength = {}", draw.size(0.01, 10.0));
        }
    }
    let extreme = draw.once_in(8);
    for (at, (element, usual)) in ASKED.into_iter().enumerate() {
        // what else is asked of the same is inherited or left out
        if at < 11 && !from && draw.once_in(8) || (at >= 11 || from) && !draw.once_in(6) {
            continue;
        }
        let ppm = if extreme { draw.size(0.0001, 5000.0) } else { draw.size(usual * 0.3, usual * 2.0) };
        let most = (ppm * 1.5).min(5000.0);
        let _ = match draw.below(10) {
            9 => writeln!(text, "{element} = {{ target = {ppm}, weight = {} }}", draw.size(0.001, 1000.0)),
            8 => writeln!(text, "{element} = {{ target = {ppm}, max = {most} }}"),
            7 => writeln!(text, "{element} = {{ target = {ppm}, min = {} }}", ppm * draw.share()),
            6 => writeln!(text, "{element} = {{ max = {most} }}"),
            5 => writeln!(text, "{element} = {{ min = {}, max = {most} }}", ppm * draw.share()),
            _ => writeln!(text, "{element} = {ppm}"),
        };
    }
    if text.len() == empty {
        text.push_str("K = 110\n");
    }
    if draw.once_in(4) {
        let _ = writeln!(text, "ammonium_share = {{ max = {:.3} }}", draw.share());
    }
    if draw.once_in(4) {
        let high = draw.size(0.01, 20.0);
        let low = if draw.once_in(3) { format!("min = \"{} mS/cm\", ", high * draw.share()) } else { String::new() };
        let _ = writeln!(text, "EC = {{ {low}max = \"{high} mS/cm\" }}");
    }
    if draw.once_in(4) {
        let _ = writeln!(text, "hold_at_most = \"{} days\"", 1 + draw.below(60));
    }
}

fn cycle(draw: &mut Draw, text: &mut String, formulas: &[&str]) {
    let mut phase = |draw: &mut Draw, key: &str, days: usize| {
        let _ =
            writeln!(text, "{key} = {{ formula = {:?}, lasts = \"{} days\" }}", draw.one(formulas), 1 + draw.below(days));
    };
    let head = "[cycle]\n";
    phase(draw, &format!("{head}growth"), 60);
    phase(draw, "push", 40);
    for key in ["hold", "back", "ripening"] {
        if draw.once_in(2) {
            phase(draw, key, 60);
        }
    }
    let _ = writeln!(text, "renew_every = \"{} days\"", 1 + draw.below(30));
    for id in ["early", "late"].into_iter().take(draw.below(3)) {
        let _ = write!(text, "[[group]]\nid = \"{id}\"\ndays_to_flower = \"{} days\"\n", 1 + draw.below(80));
        let _ = write!(text, "flowers_for = \"{} days\"\npollen_from = \"0 days\"\n", 1 + draw.below(20));
        let _ = write!(text, "pollen_to = \"{} days\"\nstigma_from = \"2 days\"\n", draw.below(9));
        let _ = writeln!(text, "stigma_to = \"{} days\"", 2 + draw.below(9));
        if draw.once_in(3) {
            let _ = writeln!(text, "starts_after = \"{} days\"", draw.below(40));
        }
    }
}
