//! What a tank is filled up with from dilute bottles that are there: a law of eight fillings up a tank, on tanks, paces and syringes
//! that differ. A new bottle is made only for what is a third short with water alone; what is too little for the syringe waits, and
//! nothing that is there to bring it stays a third short for that.
#![allow(clippy::disallowed_methods, reason = "reads and writes the files of the walk")]

use bloomsalt::quantity::Date;
use serde_json::Value;

use crate::program::done;

const SALTS: &str = "[shelf]\ncalcium-nitrate-tetrahydrate = {}\npotassium-nitrate = {}\nmonopotassium-phosphate = {}\n\
    potassium-sulfate = {}\nmagnesium-sulfate-heptahydrate = {}\niron-dtpa = {}\nboric-acid = {}\n\
    manganese-sulfate-monohydrate = {}\nzinc-sulfate-heptahydrate = {}\ncopper-sulfate-pentahydrate = {}\n\
    sodium-molybdate-dihydrate = {}\n[formula.growth]\nN = 90\nP = 18\nK = 100\nCa = 75\nMg = 22\nFe = 1.5\nMn = 0.4\nZn = 0.2\n\
    B = 0.3\nCu = 0.05\nMo = 0.08\n";
const TRACES: [&str; 6] = ["Fe", "Mn", "Zn", "B", "Cu", "Mo"];
const TARGETS: [f64; 6] = [1.5, 0.4, 0.2, 0.3, 0.05, 0.08];

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&done(arguments)).expect("JSON")
}

/// The lines of new bottles for the bench file, made on a day.
fn bottles(helpers: &Value, day: &str) -> (usize, String) {
    let mut lines = String::new();
    let new: Vec<&Value> = helpers.as_array().expect("bottles").iter().filter(|one| one["new"] == true).collect();
    for one in &new {
        let of = |part: &Value| {
            let id = part["salt"].as_str().or(part["helper"].as_str()).expect("an id");
            match part["grams"].as_f64().filter(|_| part["millilitres"].is_null()) {
                Some(grams) => format!("{id} = \"{grams} g\""),
                None => format!("{id} = \"{} mL\"", part["millilitres"]),
            }
        };
        let made_of: Vec<String> = one["made_of"].as_array().expect("a list").iter().map(of).collect();
        let made = format!(
            "[[helper]]\nid = {}\nvolume = \"{} mL\"\nmade_of = {{ {} }}\nmade_on = {day}\n",
            one["id"],
            one["volume_ml"],
            made_of.join(", ")
        );
        lines.push_str(&made);
    }
    (new.len(), lines)
}

#[test]
fn a_new_bottle_is_made_only_for_what_is_a_third_short() {
    let (mut made, mut fillings) = (0, 0);
    for (at, (litres, step, smallest_g)) in
        [(40.0, 0.5, 0.01), (25.0, 0.5, 0.01), (60.0, 1.0, 0.01), (40.0, 0.1, 0.01), (90.0, 0.5, 0.1)]
            .into_iter()
            .enumerate()
    {
        let folder = tempfile::tempdir().expect("a folder");
        let path = |name: &str| folder.path().join(name).display().to_string();
        let (bench, logbook) = (path("bench.toml"), path("tank.jsonl"));
        let mut text = format!(
            "bottles = [\"250 mL\", \"1 L\"]\n[tank]\nvolume = \"{litres} L\"\n[[scale]]\nreadability = \"{smallest_g} g\"\n\
             [syringe]\nstep = \"{step} mL\"\ncapacity = \"60 mL\"\n{SALTS}"
        );
        std::fs::write(&bench, &text).expect("written");
        let mix = json(&["mix", "growth", "--bench", &bench, "--save", &path("first.json"), "--json"]);
        text += &bottles(&mix["helpers"], "2027-01-01").1;
        std::fs::write(&bench, &text).expect("written");
        let add = |when: &str, event: &[&str]| {
            done(&[&["logbook", "add", &logbook, "--yes", "--at", when, "--bench", &bench], event].concat());
        };
        add("2027-01-01 09:00+00:00", &["from", &path("first.json")]);
        add("2027-01-01 10:00+00:00", &["reading", "--ec", "0.97 mS/cm"]);
        for filling in 1..=8 {
            let day = Date::parse("2027-01-01").expect("a day").plus(4 * filling).to_string();
            let (now, done_at) = (format!("{day} 09:00+00:00"), format!("{day} 10:00+00:00"));
            // a tenth of the water, and more or less of the salts
            let (level, ec) = (0.9 * litres, 0.95 - 0.01 * f64::from((3 * filling + i32::try_from(at).unwrap_or(0)) % 7));
            add(&now, &["reading", "--ec", &format!("{ec:.2} mS/cm"), "--level", &format!("{level:.1} L")]);
            let look = |at: &str, level: f64, save: &[&str]| {
                let there = json(&["logbook", "now", &logbook, "--at", at, "--bench", &bench, "--json"]);
                let ppm = |of: &str| {
                    let each = there["elements"].as_array().expect("elements");
                    each.iter().find(|one| one["element"] == of).and_then(|one| one["ppm"].as_f64())
                };
                let with_water = TRACES.map(|of| ppm(of).unwrap_or(0.0) * level / litres);
                let asked = ["today", "--logbook", &logbook, "--bench", &bench, "--at", at, "--json"];
                let fill = json(&[&asked[..], save].concat())["tanks"][0]["fill_up"].clone();
                let (new, lines) = if fill.is_null() { (0, String::new()) } else { bottles(&fill["helpers"], &day) };
                let short = with_water.iter().zip(TARGETS).any(|(ppm, target)| *ppm < (2.0 / 3.0 + 0.02) * target);
                assert!(new == 0 || short, "{litres} L, {at}: {lines} though {with_water:?}");
                (fill, new, lines)
            };
            let recipe = path(&format!("fill-{filling}.json"));
            let (fill, new, lines) = look(&now, level, &["--save", &recipe]);
            for missed in fill["missed"].as_array().expect("a list") {
                let (ppm, target) = (missed["ppm"].as_f64().expect("ppm"), missed["target_ppm"].as_f64().expect("ppm"));
                let is_trace = TRACES.iter().any(|of| missed["element"] == *of);
                assert!(!is_trace || ppm > 0.6 * target, "{litres} L, {day}: {missed}");
            }
            text += &lines;
            std::fs::write(&bench, &text).expect("written");
            add(&done_at, &["from", &recipe]);
            // by the same law what waited goes on waiting once that is in
            look(&format!("{day} 11:00+00:00"), litres, &[]);
            made += new;
            fillings += 1;
        }
    }
    // what is made serves the next times
    assert!(made * 2 < fillings, "{made} new bottles in {fillings} fillings up");
}

#[test]
fn a_limit_of_ammonium_is_not_bought_with_other_nitrogen() {
    for (at, urea_g) in [1, 2, 4, 5, 6, 8].into_iter().enumerate() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = |name: &str| folder.path().join(name).display().to_string();
        let (bench, logbook) = (path("bench.toml"), path("tank.jsonl"));
        let text = format!(
            "[tank]\nvolume = \"60 L\"\n[[scale]]\nreadability = \"0.001 g\"\n{SALTS}ammonium_share = {{ max = 0.15 }}\n"
        );
        std::fs::write(&bench, text).expect("written");
        let (urea, nitrate) = (format!("urea={urea_g}g"), format!("potassium-nitrate={}g", 4 + 3 * (at % 3)));
        let with =
            ["filled", "--volume", "60 L", "--formula", "growth", &urea, &nitrate, "magnesium-sulfate-heptahydrate=13g"];
        let add = ["logbook", "add", &logbook, "--yes", "--at", "2027-01-01 09:00+00:00", "--bench", &bench];
        done(&[&add[..], &with].concat());
        let today = json(&["today", "--logbook", &logbook, "--bench", &bench, "--at", "2027-01-02 09:00+00:00", "--json"]);
        let fill = &today["tanks"][0]["fill_up"];
        assert!(!fill["doses"].as_array().expect("what is lacking is added").is_empty(), "{urea}");
        for missed in fill["missed"].as_array().expect("a list") {
            let (ppm, target) = (missed["ppm"].as_f64().expect("ppm"), missed["target_ppm"].as_f64().expect("ppm"));
            // eight grams of urea alone are 62 ppm of nitrogen, and calcium comes with nitrate; under the limit it went to threefold
            assert!(ppm < 1.5 * target, "{urea}: {missed}");
        }
        // and where it is not kept it is told
        let recipe = path("fill.json");
        let at = "2027-01-02 09:00+00:00";
        done(&["today", "--logbook", &logbook, "--bench", &bench, "--at", at, "--save", &recipe]);
        done(&["logbook", "add", &logbook, "--yes", "--at", at, "--bench", &bench, "from", &recipe]);
        let there = json(&["logbook", "now", &logbook, "--at", at, "--bench", &bench, "--json"]);
        let ppm = |of: &str| {
            let each = there["elements"].as_array().expect("elements");
            each.iter().find(|one| one["element"] == of).and_then(|one| one["ppm"].as_f64()).unwrap_or(0.0)
        };
        let share = (ppm("NH4-N") + ppm("urea-N")) / ppm("N");
        let told = fill["stops"].as_array().expect("findings").iter().any(|one| one["code"] == "limit-missed");
        assert_eq!(share > 0.15 + 1e-3, told, "{urea}: {share}");
    }
}
