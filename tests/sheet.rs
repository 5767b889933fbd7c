//! The printed sheet: what stands in it, what it never holds, and where its pictures place their marks.
#![allow(clippy::disallowed_methods, reason = "reads and writes sheets")]

use std::path::Path;

use crate::program::{bloomsalt, done};
use serde_json::Value;

const BENCH: &str = "examples/streptocarpus.toml";
const CYCLE: &str = "examples/streptocarpus-cycle.toml";

fn read(path: impl AsRef<Path>) -> String {
    std::fs::read_to_string(path.as_ref()).unwrap_or_else(|error| panic!("{}: {error}", path.as_ref().display()))
}

/// The sheet that a command writes, and its JSON.
fn sheet(arguments: &[&str]) -> (String, Value) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.html");
    let path_text = path.display().to_string();
    let json = done(&[arguments, &["--json", "--sheet", &path_text]].concat());
    (read(&path), serde_json::from_str(&json).unwrap())
}

/// What a person reads of a piece of HTML: no marks, single spaces, cells and lines apart.
fn plain(html: &str) -> String {
    let mut text = String::new();
    for (at, part) in html.split('<').enumerate() {
        let (mark, rest) = if at == 0 { ("", part) } else { part.split_once('>').unwrap_or((part, "")) };
        let name = mark.trim_start_matches('/').split(' ').next().unwrap_or_default();
        if !matches!(name, "" | "b" | "span") {
            text.push(' ');
        }
        text.push_str(rest);
    }
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The rows of the tables of weights, as a person reads them.
fn weights(html: &str) -> Vec<String> {
    let tables = html.split("<table class=\"weights").skip(1).filter_map(|rest| rest.split("</table>").next());
    tables.flat_map(|table| table.split("<tr").skip(2)).map(|row| plain(&format!("<tr{row}"))).collect()
}

/// Every dose of a list stands in a row, with its name and what to measure it with.
fn doses_stand_in(doses: &Value, rows: &[String]) {
    let doses = doses.as_array().unwrap();
    assert!(!doses.is_empty());
    for dose in doses.iter().filter(|dose| !dose["measure"].is_null()) {
        let name = dose["name"].as_str().unwrap();
        let amount = if dose["measure"] == "scale" {
            let step = dose["scale_g"].as_f64().unwrap();
            let decimals = if step < 0.01 { 3 } else { 1 };
            format!("{:.decimals$} g", dose["grams"].as_f64().unwrap())
        } else {
            format!("{:.1} mL", dose["millilitres"].as_f64().unwrap())
        };
        let found = rows.iter().any(|row| row.contains(&format!(" {amount} ")) && row.contains(name));
        assert!(found, "{amount} {name} in {rows:#?}");
    }
}

#[test]
fn every_weight_of_a_mix_stands_in_its_sheet() {
    for formula in ["growth", "push", "weak"] {
        let (html, json) = sheet(&["mix", formula, "--bench", BENCH]);
        doses_stand_in(&json["doses"], &weights(&html));
    }
    // bottles as well
    let (html, json) = sheet(&["mix", "push", "--bench", "examples/ten-litres-bottles.toml"]);
    assert!(json["doses"].as_array().unwrap().iter().any(|dose| dose["measure"] == "helper"));
    doses_stand_in(&json["doses"], &weights(&html));
}

#[test]
fn new_bottles_are_told_with_what_goes_in() {
    let (html, json) = sheet(&["mix", "push", "--tank", "500 mL"]);
    let text = plain(&html);
    let bottle = &json["helpers"][0];
    assert_eq!(bottle["new"], true);
    for of in bottle["made_of"].as_array().unwrap() {
        let line = format!("{:.3} g {}", of["grams"].as_f64().unwrap(), of["name"].as_str().unwrap());
        assert!(text.contains(&line), "{line}");
    }
}

#[test]
fn a_switch_tells_drain_and_refill_first_of_all() {
    let (html, json) = sheet(&["switch", "push", "--bench", BENCH, "--holding", "growth", "--drain", "30 L"]);
    let text = plain(&html);
    let (steps, weigh) = (text.find("Drain 30 L.").unwrap(), text.find("monopotassium phosphate").unwrap());
    assert!(steps < weigh && text.contains("Fill in 30 L of water."));
    doses_stand_in(&json["doses"], &weights(&html));
    assert!(!text.contains("The tank so far, by the logbook"), "no logbook, no course");
}

#[test]
fn a_switch_by_a_logbook_shows_its_course() {
    let logbook = ["--logbook", "examples/streptocarpus-logbook.jsonl", "--at", "2026-10-03 12:00+02:00"];
    let (html, _) = sheet(&[&["switch", "push", "--bench", BENCH], &logbook[..]].concat());
    let text = plain(&html);
    assert!(text.contains("The tank so far, by the logbook"));
    // the readings of the logbook and the nitrogen that was filled in, as the file has them
    for line in [
        "Sat 12 Sep 2026 90.1 filled, growth 1.03 90.1",
        "Sat 19 Sep 2026 0.93",
        "Sat 26 Sep 2026 0.74",
        "90.1 filled, growth",
    ] {
        assert!(text.contains(line), "{line}");
    }
    // a band from low to high, and the likely line between: three lines and the one of EC
    assert_eq!((html.matches("class=\"band\"").count(), html.matches("class=\"bound\"").count()), (1, 2));
}

#[test]
fn a_check_tells_what_would_set_it_right() {
    let (html, json) = sheet(&["check", "potassium-nitrate=15g", "--against", "growth", "--bench", BENCH]);
    let rows = weights(&html);
    let options = json["remedies"]["options"].as_array().unwrap();
    assert!(options.iter().any(|option| option["possible"] == true));
    for option in options.iter().filter(|option| option["possible"] == true) {
        doses_stand_in(&option["doses"], &rows);
    }
}

#[test]
fn a_cycle_tells_every_filling_and_what_to_buy() {
    let (html, json) = sheet(&["cycle", "--bench", CYCLE, "--start", "2027-01-04"]);
    let rows = weights(&html);
    json["mixes"].as_array().unwrap().iter().for_each(|mix| doses_stand_in(&mix["doses"], &rows));
    let fillings: usize = json["tanks"].as_array().unwrap().iter().map(|tank| tank["fills"].as_array().unwrap().len()).sum();
    assert_eq!(html.matches("id=\"fill-").count(), fillings);
    assert_eq!(html.matches("class=\"fill").count(), fillings, "a mark for each");
    let to_buy = json["salts"].as_array().unwrap().iter().filter(|salt| salt["buy_g"].as_f64().unwrap() > 0.0).count();
    assert_eq!(html.matches("id=\"buy-").count(), to_buy);
}

#[test]
fn a_sheet_needs_nothing_from_outside() {
    for name in sheets() {
        let html = read(format!("examples/sheets/{name}"));
        for never in ["http", "<script", " style=", "<link", "<img", "@import", "url(", "javascript", " src=", " on"] {
            // of words that begin with "on" only an attribute acts
            let acts = |at: usize| html[at + 1..].trim_start_matches(|c: char| c.is_ascii_lowercase()).starts_with('=');
            let found = html.match_indices(never).any(|(at, _)| never != " on" || acts(at));
            assert!(!found, "{name} holds `{never}`");
        }
        assert!(html.starts_with("<!DOCTYPE html><html lang=\"en\">"), "{name}");
        assert_eq!(html.matches("<h1>").count(), 1, "{name}");
        assert!(plain(&html).ends_with("The supplier's safety data sheet and the local rules decide."), "{name}");
        // every drawing has its name and says in words what it shows
        let drawings = html.matches("<svg role=\"img\"").count();
        assert!(drawings > 0 && html.matches("<desc").count() == drawings, "{name}");
        let ids: Vec<&str> = html.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        for (at, id) in ids.iter().enumerate() {
            assert!(!ids[..at].contains(id), "{name} has two of `{id}`");
        }
    }
}

#[test]
fn names_are_escaped() {
    let folder = tempfile::tempdir().unwrap();
    let bench = folder.path().join("bench.toml");
    let evil = "<script>alert('x')</script> & \\\"two\\\" \u{1f33c}";
    let text = read(BENCH).replace("PK liquid, own batch", evil).replace("Streptocarpus crossing bench", evil);
    std::fs::write(&bench, text).unwrap();
    let bench = bench.display().to_string();
    let (html, _) = sheet(&["check", "workshop-pk=50mL", "potassium-nitrate=5g", "--bench", &bench]);
    assert!(!html.contains("<script"));
    let shown = "<script>alert('x')</script> & \"two\" \u{1f33c}";
    assert!(weights(&html)[0].contains(shown), "{:?}", weights(&html));
    assert!(html.split("</title>").next().unwrap().contains("&lt;script&gt;"), "the title too");
}

/// Shares in percent of charges.
fn shares(charges: [f64; 3]) -> [f64; 3] {
    charges.map(|charge| 100.0 * charge / charges.iter().sum::<f64>())
}

/// Cations and anions from ppm, by molar masses of their own (IUPAC 2021, abridged).
fn balance(ppm: impl Fn(&str) -> f64) -> [[f64; 3]; 2] {
    let cations = [ppm("K") / 39.0983, ppm("Ca") / (40.078 / 2.0), ppm("Mg") / (24.305 / 2.0)];
    let anions = [ppm("nitrate") / 14.007, ppm("P") / 30.974, ppm("S") / (32.06 / 2.0)];
    [shares(cations), shares(anions)]
}

/// Numbers of an attribute such as `points` or `cx`.
fn numbers(html: &str, attribute: &str) -> Vec<f64> {
    let (_, rest) = html.split_once(&format!(" {attribute}=\"")).expect(attribute);
    let value = rest.split('"').next().unwrap();
    value.split([' ', ',']).map(|number| number.parse().unwrap()).collect()
}

/// The disc of the tank itself in the triangle `id`, in percent of its three corners.
fn drawn(html: &str, id: &str) -> [f64; 3] {
    let (_, rest) = html.split_once(&format!("id=\"{id}-title\"")).unwrap();
    let drawing = rest.split("</svg>").next().unwrap();
    let corners = numbers(drawing.split_once("class=\"frame\"").unwrap().1, "points");
    let own = drawing.split_once("class=\"own\"").unwrap().1;
    let (x, y) = (numbers(own, "cx")[0], numbers(own, "cy")[0]);
    let [x1, y1, x2, y2, x3, y3] = corners[..] else { panic!("three corners") };
    let area = (y2 - y3) * (x1 - x3) + (x3 - x2) * (y1 - y3);
    let first = ((y2 - y3) * (x - x3) + (x3 - x2) * (y - y3)) / area;
    let second = ((y3 - y1) * (x - x3) + (x1 - x3) * (y - y3)) / area;
    [100.0 * first, 100.0 * second, 100.0 * (1.0 - first - second)]
}

fn close(a: [f64; 3], b: [f64; 3], by: f64, what: &str) {
    assert!(a.iter().zip(b).all(|(a, b)| (a - b).abs() < by), "{what}: {a:?} against {b:?}");
}

/// The tank's own row in the tables beside the triangles, and its marks, are where its ppm put them.
fn balance_is_right(html: &str, json: &Value, name: &str) -> [[f64; 3]; 2] {
    let ppm = |symbol: &str| {
        let element = json["elements"].as_array().unwrap().iter().find(|element| element["element"] == symbol);
        let of = element.map(|element| element["ppm"].as_f64().unwrap());
        if symbol == "nitrate" { json["nitrate_n_ppm"].as_f64().unwrap() } else { of.unwrap_or(0.0) }
    };
    let expected = balance(ppm);
    for (id, shares) in ["cations", "anions"].iter().zip(expected) {
        // a tenth of a unit of a triangle 280 units wide
        close(drawn(html, id), shares, 0.06, id);
        let told = format!("{name} {:.1} {:.1} {:.1}", shares[0], shares[1], shares[2]);
        assert!(plain(html).contains(&told), "{told}");
    }
    expected
}

#[test]
fn the_triangles_stand_where_ppm_put_them() {
    for formula in ["growth", "push"] {
        let (html, json) = sheet(&["mix", formula, "--bench", BENCH]);
        balance_is_right(&html, &json, formula);
    }
}

#[test]
fn the_published_ratio_solution_lands_where_it_is_published() {
    // A. A. Steiner, The universal nutrient solution (1984), mutual ratios, from memory: anions NO3 60 / H2PO4 5 / SO4 35 %,
    // cations K 35 / Ca 45 / Mg 20 %; at 20 meq/L, made of salts whose grams follow from their own molar masses
    let meq_per_l = [
        ("calcium-nitrate-tetrahydrate", 9.0, 236.15 / 2.0),
        ("potassium-nitrate", 3.0, 101.10),
        ("monopotassium-phosphate", 1.0, 136.086),
        ("potassium-sulfate", 3.0, 174.26 / 2.0),
        ("magnesium-sulfate-heptahydrate", 4.0, 246.47 / 2.0),
    ];
    let typed: Vec<String> =
        meq_per_l.iter().map(|(salt, meq, equivalent)| format!("{salt}={:.4}g", meq * equivalent * 60.0 / 1000.0)).collect();
    let mut arguments = vec!["check"];
    arguments.extend(typed.iter().map(String::as_str));
    let (html, json) = sheet(&arguments);
    let [cations, anions] = balance_is_right(&html, &json, "this tank");
    close(cations, [35.0, 45.0, 20.0], 0.05, "cations");
    close(anions, [60.0, 5.0, 35.0], 0.05, "anions");
}

#[test]
fn a_sheet_is_never_half_written_and_overwrites_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    std::fs::write(path("there.html"), "mine").unwrap();
    for (target, words) in [
        (path("there.html"), "exists already"),
        (path("missing/sheet.html"), "the folder does not exist"),
        (folder.path().display().to_string(), "exists already"),
    ] {
        for command in [
            &["mix", "push"][..],
            &["check", "potassium-nitrate=15g"],
            &["switch", "push", "--holding", "growth"],
            &["cycle", "--bench", CYCLE, "--start", "2027-01-04"],
        ] {
            let (status, out, err) = bloomsalt(&[command, &["--sheet", &target]].concat());
            assert_eq!((status, out.as_str()), (2, ""), "{command:?}");
            assert!(err.contains(words) && err.contains(&target), "{err}");
        }
        // the recipe and the calendar that would have come with it are not there either
        assert_eq!(bloomsalt(&["mix", "push", "--save", &path("push.json"), "--sheet", &target]).0, 2);
        let cycle = ["cycle", "--bench", CYCLE, "--start", "2027-01-04", "--calendar"];
        assert_eq!(bloomsalt(&[&cycle[..], &[&path("cycle.ics"), "--sheet", &target]].concat()).0, 2);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
    assert_eq!(read(path("there.html")), "mine");
}

#[test]
fn a_sheet_of_one_formula_is_refused_for_two_and_for_a_curve() {
    for other in [["--beside", "growth"], ["--trade", "N:Ca"]] {
        let (status, _, err) = bloomsalt(&[&["mix", "push", "--sheet", "never.html"], &other[..]].concat());
        assert_eq!(status, 2);
        assert!(err.contains("cannot be used with"), "{err}");
    }
    assert!(!Path::new("never.html").exists());
}

#[test]
fn the_text_says_what_was_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (recipe, html) = (path("push.json"), path("push.html"));
    let text = done(&["mix", "push", "--save", &recipe, "--sheet", &html]);
    let then = format!("Once it is done: `bloomsalt logbook add LOGBOOK from {recipe}`.\n");
    assert_eq!(text, format!("{}\nSaved the recipe to {recipe}.\nWrote {html}.\n{then}", done(&["mix", "push"])));
    // the same bytes again
    let again = path("again.html");
    done(&["mix", "push", "--sheet", &again]);
    assert_eq!(read(html), read(again));
}

#[test]
fn unlikely_tanks_have_a_sheet_too() {
    // nothing to weigh, a huge tank, an analysis without salts, a formula without calcium or nitrogen
    let folder = tempfile::tempdir().unwrap();
    let bare = folder.path().join("bare.toml");
    let text = "[tank]\nvolume = \"60 L\"\n[water]\nCa = 75\nalkalinity = \"187 mg/L CaCO3\"\n[shelf]\n\
                calcium-chloride-dihydrate = {}\n[formula.bare]\nCa = 75\n";
    std::fs::write(&bare, text).unwrap();
    let (html, _) = sheet(&["mix", "bare", "--bench", &bare.display().to_string()]);
    assert!(plain(&html).contains("Nothing: the water alone comes closest."));
    assert!(!plain(&html).contains("Calcium against nitrogen"), "no nitrogen is asked, so there is nothing to trade");
    let (html, json) = sheet(&["mix", "growth", "--tank", "100 m3"]);
    doses_stand_in(&json["doses"], &weights(&html));
    assert!(plain(&html).contains("portions"));
    let (html, _) = sheet(&["check", "--analysis", "N=88", "Ca=70"]);
    assert!(plain(&html).contains("pH not known") && !html.contains("class=\"weights"));
}

/// Where what begins, in the order of a sheet.
fn in_order(text: &str, headings: &[&str]) {
    let at: Vec<usize> = headings.iter().map(|head| text.find(head).unwrap_or_else(|| panic!("{head}: {text}"))).collect();
    assert!(at.is_sorted(), "{headings:?}: {at:?}");
}

#[test]
fn the_first_page_is_all_that_is_needed_to_do_the_work() {
    let (html, _) = sheet(&["mix", "push", "--bench", BENCH]);
    let leaves: Vec<&str> = html.split("<section class=\"leaf\"").collect();
    let [work, more, annex] = &leaves[..] else { panic!("three parts: {}", leaves.len()) };
    for (part, headings) in [
        (work, &["Weigh", "The meter should read", "How to mix"][..]),
        (more, &["In the tank", "Watch", "Safety"]),
        (annex, &["Balance of cations and anions", "What the labels say", "Sources"]),
    ] {
        in_order(
            part,
            &headings
                .iter()
                .map(|head| format!("\">{head}"))
                .collect::<Vec<_>>()
                .iter()
                .map(String::as_str)
                .collect::<Vec<_>>(),
        );
    }
    assert!(plain(work).contains("Turn back 28 days later at the latest, by ____"), "{work}");
    // a logbook knows the day
    let logbook = ["--logbook", "examples/streptocarpus-logbook.jsonl", "--at", "2026-10-03 12:00+02:00"];
    let (html, json) = sheet(&[&["switch", "push", "--bench", BENCH], &logbook[..]].concat());
    let work = plain(html.split("<section class=\"leaf\"").next().unwrap());
    assert!(work.contains(&format!("Turn back by {}", json["back_by"].as_str().unwrap())), "{work}");
    assert!(!work.contains("days later at the latest"), "{work}");
}

#[test]
fn what_is_left_out_has_no_box_and_acids_are_marked() {
    let folder = tempfile::tempdir().unwrap();
    let bench = folder.path().join("bench.toml");
    let text = "[tank]\nvolume = \"60 L\"\n[water]\nCa = 60\nalkalinity = \"150 mg/L CaCO3\"\n[[scale]]\nreadability = \"1 g\"\n\
                [acid]\nsalt = \"phosphoric-acid-10\"\ntarget_pH = 5.8\n[shelf]\npotassium-nitrate = {}\nboric-acid = {}\n\
                [formula.bare]\nK = 200\nB = 0.3\n";
    std::fs::write(&bench, text).unwrap();
    let (html, json) = sheet(&["mix", "bare", "--bench", &bench.display().to_string()]);
    let doses = json["doses"].as_array().unwrap();
    let boxes = html.matches("type=\"checkbox\" id=\"weigh-").count();
    let measured = doses.iter().filter(|dose| !dose["measure"].is_null()).count();
    assert!(boxes == measured && measured > 0, "{boxes} of {doses:#?}");
    let acids: Vec<&Value> = doses.iter().filter(|dose| dose["acid"] == true).collect();
    assert_eq!(acids.iter().map(|dose| dose["salt"].as_str().unwrap()).collect::<Vec<_>>(), ["phosphoric-acid-10"]);
    assert_eq!(html.matches("class=\"acid-mark\"").count(), 1);
    let left_out = doses.iter().filter(|dose| dose["measure"].is_null() && dose["helper"].is_null()).count();
    assert_eq!(html.matches("LEFT OUT").count(), left_out);
}

#[test]
fn labels_are_there_to_cut_out() {
    let (html, json) = sheet(&["mix", "push", "--tank", "500 mL"]);
    let cut = html.split("class=\"cut\"").skip(1).map(|part| plain(part.split("</ul>").next().unwrap()));
    let cut: Vec<String> = cut.collect();
    let new: Vec<&Value> = json["helpers"].as_array().unwrap().iter().filter(|helper| helper["new"] == true).collect();
    assert!(!new.is_empty() && new.len() == cut.len());
    for (helper, label) in new.iter().zip(&cut) {
        for line in helper["label"].as_array().unwrap() {
            assert!(label.contains(line.as_str().unwrap()), "{line}: {label}");
        }
    }
    let (html, _) = sheet(&["cycle", "--bench", CYCLE, "--start", "2027-01-04"]);
    let text = plain(&html);
    assert!(text.contains("pollen of early blues") && text.contains("kept dry, 5 days"), "{text}");
}

#[test]
fn no_backtick_is_printed() {
    for arguments in [
        &["mix", "push", "--bench", "examples/ten-litres-bottles.toml"][..],
        &["cycle", "--bench", CYCLE, "--start", "2027-01-04"],
        &["stock", "growth", "--bench", BENCH],
    ] {
        let (html, _) = sheet(arguments);
        let body = html.split_once("</style>").unwrap().1;
        assert!(!body.contains('`'), "{arguments:?}");
        assert!(body.contains("<code>"), "{arguments:?}");
    }
}

/// CRC-32 (IEEE 802.3) of some bytes, bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |register, byte| {
        let mixed = register ^ u32::from(*byte);
        (0..8).fold(mixed, |bits, _| if bits & 1 == 1 { (bits >> 1) ^ 0xEDB8_8320 } else { bits >> 1 })
    })
}

/// Names of the example sheets.
fn sheets() -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir("examples/sheets")
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn every_example_sheet_was_validated_as_it_stands() {
    let record: Value = serde_json::from_str(&read("tests/oracle/sheets.json")).unwrap();
    assert!(record["checker"].as_str().is_some_and(|checker| checker.contains("Nu HTML checker")));
    let files = record["files"].as_array().unwrap();
    assert_eq!(files.iter().map(|file| file["file"].as_str().unwrap()).collect::<Vec<_>>(), sheets());
    for file in files {
        let name = file["file"].as_str().unwrap();
        assert_eq!(file["messages"], 0, "{name}");
        // printed on either paper: a mix is two pages, and then come pictures and hazards; none is wholly empty
        for paper in ["A4", "Letter"] {
            let pages = file["pages"][paper].as_array().unwrap();
            assert!(pages.iter().all(|page| page.as_u64() > Some(0)), "{name}: {pages:?}");
            if name.starts_with("mix") || name.starts_with("switch") {
                assert_eq!(pages[..2], [2, 3], "{name} on {paper}: the first page of its second and third part");
            }
        }
        let now = format!("{:08x}", crc32(read(format!("examples/sheets/{name}")).as_bytes()));
        assert_eq!(file["crc32"], now, "{name} has changed since: run tests/pages/look.sh FOLDER and look at it");
    }
}
