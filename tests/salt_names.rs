//! Salts found by what growers call them. The names are common practice, no source; the formulas are those of the table.

use bloomsalt::ask::{Answer, Refusal, Request, ask};
use bloomsalt::catalogue::Catalogue;
use bloomsalt::report::{Form, line, render};
use serde_json::{Value, json};

use crate::program::{bloomsalt, done};

fn asked(words: &str) -> Result<Answer, Refusal> {
    ask(&Request::parse(&json!({ "job": "salts", "words": words }).to_string()).expect("a request"))
}

fn found(words: &str) -> Vec<String> {
    let answer = asked(words).unwrap_or_else(|refusal| panic!("{words}: {refusal}"));
    let document: Value = serde_json::from_str(&line(&answer)).expect("JSON");
    assert_eq!(document["words"], words);
    let salts = document["salts"].as_array().expect("salts").iter();
    salts.map(|salt| salt["id"].as_str().expect("an id").to_owned()).collect()
}

#[test]
fn one_salt_by_id_name_everyday_name_abbreviation_and_formula() {
    for (words, id) in [
        ("boric-acid", "boric-acid"),
        ("Boric Acid", "boric-acid"),
        ("epsom", "magnesium-sulfate-heptahydrate"),
        ("Epsom salt", "magnesium-sulfate-heptahydrate"),
        ("epsom-salt", "magnesium-sulfate-heptahydrate"),
        ("gypsum", "calcium-sulfate-dihydrate"),
        ("blue vitriol", "copper-sulfate-pentahydrate"),
        ("saltpetre", "potassium-nitrate"),
        ("MAP", "monoammonium-phosphate"),
        ("mkp", "monopotassium-phosphate"),
        ("DAP", "diammonium-phosphate"),
        ("SOP", "potassium-sulfate"),
        ("sulphate of potash", "potassium-sulfate"),
        ("iron DTPA", "iron-dtpa"),
        ("dtpa", "iron-dtpa"),
        ("KNO3", "potassium-nitrate"),
        ("KNO₃", "potassium-nitrate"),
        ("KH2PO4", "monopotassium-phosphate"),
        ("Ca(NO3)2.4H2O", "calcium-nitrate-tetrahydrate"),
        ("Ca(NO3)2·4H2O", "calcium-nitrate-tetrahydrate"),
        ("Ca(NO₃)₂ · 4 H₂O", "calcium-nitrate-tetrahydrate"),
        ("Ca(NO3)2*4H2O", "calcium-nitrate-tetrahydrate"),
        ("CuSO4·5H2O", "copper-sulfate-pentahydrate"),
        // the atoms count, whatever their order
        ("NH4NO3", "ammonium-nitrate"),
        ("N2H4O3", "ammonium-nitrate"),
    ] {
        assert_eq!(found(words), [id], "{words}");
    }
}

#[test]
fn several_are_listed_in_the_order_of_the_table() {
    for (words, ids) in [
        ("calcium nitrate", &["calcium-nitrate-tetrahydrate", "ammonium-calcium-nitrate-decahydrate"][..]),
        ("MgSO4", &["magnesium-sulfate-heptahydrate", "magnesium-sulfate-monohydrate"]),
        ("H3PO4", &["phosphoric-acid-10", "phosphoric-acid-75", "phosphoric-acid-85"]),
        ("KOH", &["potassium-hydroxide", "potassium-hydroxide-10"]),
        ("borax", &["borax"]),
    ] {
        assert_eq!(found(words), ids, "{words}");
    }
    // a formula says which case it is in: no cobalt here, and no carbon monoxide
    assert!(asked("kno3").is_err());
}

/// By each of its names a salt is among those that are found, and alone where no other has that name.
#[test]
fn every_name_of_the_table_finds_its_salt() {
    let table = Catalogue::standard();
    for salt in table.salts() {
        let formula = salt.formula.as_ref().map(ToString::to_string);
        for name in [&salt.id, &salt.name].into_iter().chain(&salt.other_names).chain(&formula) {
            let found = table.search(name);
            assert!(found.iter().any(|id| table.salt(*id).id == salt.id), "{name} does not find {}", salt.id);
            assert_eq!(found, table.called(name), "{name}");
        }
    }
}

#[test]
fn what_nobody_is_called_gets_the_nearest() {
    for (words, help) in [
        ("monopotassium phosfate", "did you mean `monopotassium-phosphate`?"),
        ("kno3", "did you mean KNO3, which is `potassium-nitrate`?"),
        ("gipsum", "did you mean gypsum, which is `calcium-sulfate-dihydrate`?"),
        ("zzzzzz", "the salt table lists the ids"),
    ] {
        let refusal = asked(words).expect_err(words);
        let problem = &refusal.problems[0];
        assert_eq!((problem.code.as_str(), problem.read.as_deref()), ("unknown-salt", Some(words)));
        assert_eq!(problem.help.as_deref(), Some(help), "{words}");
    }
    assert!(asked("").is_err() && asked(" - ").is_err());
    let (status, _, err) = bloomsalt(&["salts", "zzzzzz"]);
    assert!(status == 2 && err.contains("help: `bloomsalt salts` lists the ids"), "{err}");
}

/// A wrong id is met by the one that is meant, wherever it stands.
#[test]
fn a_name_in_the_place_of_an_id_is_told_the_id() {
    for (typed, help) in [
        ("MKP", "MKP is `monopotassium-phosphate`"),
        ("KOH", "KOH may be `potassium-hydroxide` or `potassium-hydroxide-10`"),
        ("epsom", "did you mean `magnesium-sulfate-heptahydrate`?"),
        ("calcium-nitrate", "did you mean `calcium-nitrate-tetrahydrate`?"),
    ] {
        let bench = format!("[tank]\nvolume = \"60 L\"\n[shelf]\n{typed} = {{}}\n[formula.growth]\nN = 90\n");
        let asked = json!({ "job": "mix", "formula": "growth", "bench": bench });
        let refusal = ask(&Request::parse(&asked.to_string()).expect("a request")).expect_err(typed);
        assert_eq!(refusal.problems[0].help.as_deref(), Some(help), "{asked}");
    }
}

/// What went into a tank is typed by any name that is one salt's, of several that of the shelf; a name that leaves it open is refused
/// with every salt that it may be, and a word that only begins one is none.
#[test]
fn what_went_in_is_typed_by_its_name() {
    let check = |typed: &str| {
        let request = json!({ "job": "check", "added": [format!("{typed}=3g")] });
        ask(&Request::parse(&request.to_string()).expect("a request")).map(|answer| line(&answer))
    };
    let same = [
        ("MKP", "monopotassium-phosphate"),
        ("potassium nitrate", "potassium-nitrate"),
        // the starter's shelf has one of the two
        ("calcium nitrate", "calcium-nitrate-tetrahydrate"),
        ("epsom salt", "magnesium-sulfate-heptahydrate"),
    ];
    for (typed, id) in same {
        assert_eq!(check(typed).expect(typed), check(id).expect(id));
    }
    let refused = |typed: &str| check(typed).expect_err(typed).problems.remove(0);
    let several = refused("KOH");
    let help = several.help.expect("it names them");
    assert!(several.message.contains("several salts"), "{}", several.message);
    assert!(help.contains("potassium-hydroxide, potassium-hydroxide-10"), "{help}");
    assert!(refused("potassium").message.contains("no salt"), "a word that begins many names");
}

/// Every face prints a salt from the record alone.
#[test]
fn text_sheet_and_terminal_say_the_same_of_a_salt() {
    for words in ["MKP", "nitric-acid-60", "calcium nitrate"] {
        let answer = asked(words).expect("answered");
        let text = render(&answer, Form::Text { colour: false, plot: false }).expect("a text");
        let typed: Vec<&str> = ["salts"].into_iter().chain(words.split(' ')).collect();
        assert_eq!(done(&typed), text);
        let sheet = render(&answer, Form::Sheet).expect("a sheet");
        let Answer::Salts(record) = &answer else { panic!("{answer:?}") };
        for salt in &record.salts {
            assert!(sheet.contains(&salt.id) && text.contains(&salt.id));
        }
        let whole = record.salts.len() == 1;
        assert_eq!((text.contains("HAZARDS"), sheet.contains("Hazards")), (whole, whole), "{words}");
    }
    // an own product has no words of its own in the table
    let bench = include_str!("../src/bench/starter.toml").to_owned()
        + "\n[[product]]\nid = \"workshop-pk\"\nname = \"PK liquid\"\ndensity = \"1.09 kg/L\"\nanalysis = { P2O5 = 6.5, K2O = 4.3 }\n";
    let asked = json!({ "job": "salts", "words": "pk liquid", "bench": bench });
    let answer = ask(&Request::parse(&asked.to_string()).expect("a request")).expect("answered");
    let text = render(&answer, Form::Text { colour: false, plot: false }).expect("a text");
    assert!(text.starts_with("PK LIQUID  workshop-pk") && text.contains("not known: see the label"), "{text}");
}
