//! `bloomsalt new FILE`.

use std::io::{BufRead, Read, Write};

use super::Console;
use super::args::NewArgs;
use super::failure::Failure;
use super::files::write_new;
use crate::ask::{Answer, NewRequest, Refusal, Request, SyringeAnswer, WaterAnswer, ask};
use crate::bench::STARTER;
use crate::quantity::{self, CAPACITY_ML, milliliter};
use crate::report::{self, Form};

pub(super) fn run(
    args: &NewArgs,
    input: &mut dyn BufRead,
    console: Console,
    err: &mut dyn Write,
) -> Result<String, Failure> {
    let file = args.file.display();
    let next = |formula: &str| format!("Edit it, then run\n   bloomsalt mix {formula} --bench {file}\n");
    if !args.ask {
        write_new(&args.file, STARTER)?;
        return Ok(format!("Wrote {file}: a starter bench. {}", next("push")));
    }
    if args.file.exists() {
        return Err(Failure::file("file-exists", &args.file, "exists already; nothing is overwritten"));
    }
    let answer = questions(input, err)?;
    let Answer::New(record) = &answer else { return Err(Failure::own("a bench file that is answered otherwise")) };
    let form = Form::Text { colour: console.colour_out, plot: false };
    let said = report::render(&answer, form).ok_or_else(|| Failure::own("a bench file without words"))?;
    write_new(&args.file, &record.text)?;
    let next = if record.no_growth.is_some() {
        format!(
            "Edit it, as said above; when growth can be mixed,\n   bloomsalt mix growth --bench {file}\nprints the weights.\n"
        )
    } else {
        next("growth")
    };
    Ok(format!("{said}\nWrote {file}. {next}"))
}

/// A shelf of every salt by its longest name fits into an answer of this many bytes.
const LONGEST_ANSWER: u64 = 64 << 10;

const TANK: &str = "How much does the tank hold when it is full? (as in 60 L; Enter for 60 L)";
const WARM: &str = "How warm is it? (as in 21 C; Enter for 25 C)";
const METER: &str = "Does your EC meter show mS/cm, or ppm? (mS, or the scale of the ppm: 500, 640 or 700; Enter for mS)";
const WATER: &str =
    "Is the water rain (also distilled or reverse osmosis), tap, or both? (rain, tap or both; Enter for rain)";
const RAIN: &str = "How much rain is there for a tank? (as in 25 L; Enter for enough)";
const REPORT: &str = "What does the supplier's report of the tap water say, in mg/L? (as in Ca=40, Mg=8, Na=12, Cl=20, SO4=30, NO3=5, \
                      alkalinity=120 mg/L CaCO3; carbonate hardness as alkalinity=8 dH, total hardness by its Ca and Mg; Enter without a report)";
const EC: &str = "What does your EC meter read of the tap water? (as in 0.45 mS/cm, or in ppm; Enter where it was not read)";
const SCALES: &str =
    "Which steps do your scales show, and up to how much? (as in 0.1 g, or 0.1 g to 2 kg, 0.001 g to 50 g; Enter for 0.1 g)";
const SYRINGE: &str = "Which step does your syringe show, and how much does it hold? (as in 0.5 mL, 60 mL; Enter for these)";
const JUGS: &str = "Which jugs or cylinders are there for more, and how much do they hold? (as in 10 mL, 1 L, two as in 10 mL, 1 L, 50 mL, 5 L; \
                    Enter for none)";
const SHELF: &str = "Which salts are on the shelf? (names with commas between, as in epsom, MKP, nitric acid 38 %; none where there are labelled \
                     products alone; Enter for the usual ones)";
const PRODUCT: &str = "Is there a labelled product beside them? (its name and label in per cent, as in complete feed: NO3-N 8, NH4-N 2, P2O5 10, \
                       K2O 30, MgO 4, Fe 0.1; a liquid with density 1.09 kg/L; Enter for none)";
/// How a question ends that may be answered with nothing.
const FOR_NONE: &str = "Enter for none)";
const PRODUCTS: &str = "Another one? (Enter for none)";
const FORMS: &str =
    "In which forms is its N, in per cent? (as in nitrate 4, ammonium 3, urea 3; Enter where the label says N alone)";
const ACID: &str = "Which acid brings the pH down, and to which pH? (as in nitric acid 38 %, 5.8, or two as in nitric acid 38 %, phosphoric acid \
                    10 %, 5.8; without a pH 5.8; Enter for none)";

/// Asks one question after another, each until its answer fits.
fn questions(input: &mut dyn BufRead, err: &mut dyn Write) -> Result<Answer, Failure> {
    let (tank, scales) = ("60 L".to_owned(), vec!["0.1 g".to_owned()]);
    let request = NewRequest {
        tank,
        temperature: None,
        meter_scale: None,
        water: WaterAnswer::Rain {},
        scales,
        syringe: None,
        jugs: Vec::new(),
        shelf: Vec::new(),
        products: Vec::new(),
        acid: None,
    };
    let mut asking = Asking { request, input, err };
    asking.tank()?;
    asking.water()?;
    asking.instruments()?;
    asking.shelf()?;
    ask(&Request::New(asking.request)).map_err(Failure::from)
}

/// The scale of a meter; none for one that shows EC.
fn meter_scale(said: &str) -> Result<Option<String>, Refusal> {
    let shows = said.to_ascii_lowercase();
    let scale = shows.replace("ppm", "").replace("scale", "");
    match scale.trim() {
        _ if ["ms", "ms/cm", "us", "us/cm"].contains(&shows.as_str()) => Ok(None),
        "0.5" => Ok(Some("500".to_owned())),
        "0.64" => Ok(Some("640".to_owned())),
        "0.7" => Ok(Some("700".to_owned())),
        "" => {
            let message = "ppm of which scale? 500, 640 or 700, as the meter or its manual says";
            Err(Refusal::input("answer", message, None))
        }
        scale => Ok(Some(scale.to_owned())),
    }
}

/// Where the water comes from, in the words that people have for it.
fn water(said: &str) -> Result<WaterAnswer, Refusal> {
    let said = said.to_ascii_lowercase();
    let has = |words: &[&str]| words.iter().any(|word| said.contains(word));
    let rain = has(&["rain", "distilled", "osmosis", "butt"]) || said.split(' ').any(|word| word == "ro");
    let tap = has(&["tap", "mains", "well", "city"]) && said != "well";
    match (rain, tap) {
        _ if said == "both" => Ok(WaterAnswer::RainAndTap { rain: None, report: Vec::new() }),
        (true, true) => Ok(WaterAnswer::RainAndTap { rain: None, report: Vec::new() }),
        (true, false) => Ok(WaterAnswer::Rain {}),
        (false, true) => Ok(WaterAnswer::Tap { report: Vec::new() }),
        (false, false) => Err(Refusal::input(
            "answer",
            format!("`{said}` is neither rain nor tap nor both; well water counts as tap"),
            None,
        )),
    }
}

/// Commas that stand for a decimal point made one: those between two digits, the first of them not of a number with a point.
fn with_points(said: &str) -> String {
    let letters: Vec<char> = said.chars().collect();
    let digit = |at: usize| letters.get(at).is_some_and(char::is_ascii_digit);
    let number_before = |at: usize| {
        let start =
            letters[..at].iter().rposition(|letter| !letter.is_ascii_digit() && *letter != '.').map_or(0, |at| at + 1);
        letters[start..at].iter().collect::<String>()
    };
    let read = |at: usize| {
        let decimal = letters[at] == ',' && at > 0 && digit(at - 1) && digit(at + 1) && !number_before(at).contains('.');
        if decimal { '.' } else { letters[at] }
    };
    (0..letters.len()).map(read).collect()
}

/// Two volumes, the step of what measures liquids and what it holds.
fn step_and_capacity(said: &[String]) -> Result<SyringeAnswer, Refusal> {
    let [step, capacity] = said else {
        return Err(Refusal::input("answer", "two volumes, the step and what it holds, as in 0.5 mL, 60 mL", None));
    };
    // whichever is said first: the step is the lesser of the two
    let millilitres = |said: &String| quantity::volume(said, &CAPACITY_ML).map(milliliter).ok();
    let (step, capacity) = match (millilitres(step), millilitres(capacity)) {
        (Some(one), Some(other)) if one > other => (capacity, step),
        _ => (step, capacity),
    };
    Ok(SyringeAnswer { step: step.clone(), capacity: capacity.clone() })
}

/// Forms of nitrogen in the words of a label, as its keys.
fn forms(said: &str) -> Result<String, Refusal> {
    let form = |one: &String| {
        let lower = one.to_lowercase();
        let has = |words: &[&str]| words.iter().any(|word| lower.contains(word));
        let key = match () {
            () if has(&["ammon", "nh4"]) => "NH4-N",
            () if has(&["urea", "ureic", "amid"]) => "urea-N",
            () if has(&["nitrat", "nitric", "no3"]) => "NO3-N",
            () => return None,
        };
        let percent = lower.trim_end_matches('%').trim_end().rsplit([' ', '=', ':']).next()?.parse::<f64>().ok()?;
        Some(if percent > 0.0 { format!(", {key} {percent}") } else { String::new() })
    };
    let all: Option<Vec<String>> = listed(said).iter().map(form).collect();
    all.map(|all| all.concat()).ok_or_else(|| {
        Refusal::input(
            "answer",
            format!("`{said}` is no list of forms and per cents, as in nitrate 4, ammonium 3, urea 3"),
            None,
        )
    })
}

fn listed(said: &str) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for one in with_points(said).split(',').map(str::trim).filter(|one| !one.is_empty()) {
        // "0.01 g, to 100 g" is one scale
        match all.last_mut().filter(|_| one.starts_with("to ")) {
            Some(before) => *before = format!("{before} {one}"),
            None => all.push(one.to_owned()),
        }
    }
    all
}

/// True for words that say that there is nothing of it.
fn is_none(said: &str) -> bool {
    ["none", "no", "nothing", "-"].contains(&said.to_lowercase().as_str())
}

/// Questions at a terminal, and what was answered so far.
struct Asking<'a> {
    request: NewRequest,
    input: &'a mut dyn BufRead,
    err: &'a mut dyn Write,
}

impl Asking<'_> {
    /// The tank, and the meter that is held into it.
    fn tank(&mut self) -> Result<(), Failure> {
        self.one(TANK, |request, said| {
            said.clone_into(&mut request.tank);
            Ok(())
        })?;
        self.one(WARM, |request, said| {
            request.temperature = Some(said.to_owned());
            Ok(())
        })?;
        self.one(METER, |request, said| {
            request.meter_scale = meter_scale(said)?;
            Ok(())
        })?;
        Ok(())
    }

    /// The water, and what the report of a tap says.
    fn water(&mut self) -> Result<(), Failure> {
        self.one(WATER, |request, said| {
            request.water = water(said)?;
            Ok(())
        })?;
        if let WaterAnswer::RainAndTap { .. } = self.request.water {
            self.one(RAIN, |request, said| {
                if let WaterAnswer::RainAndTap { rain, .. } = &mut request.water {
                    *rain = Some(said.to_owned());
                }
                Ok(())
            })?;
        }
        let of_tap = |request: &mut NewRequest, said: Vec<String>| match &mut request.water {
            WaterAnswer::Rain {} => {}
            WaterAnswer::Tap { report } | WaterAnswer::RainAndTap { report, .. } => *report = said,
        };
        if self.request.water.report().is_some() {
            self.list(REPORT, of_tap)?;
            if self.request.water.report().is_some_and(<[String]>::is_empty) {
                self.one(EC, |request, said| {
                    of_tap(request, vec![format!("EC={said}")]);
                    Ok(())
                })?;
            }
        }
        Ok(())
    }

    /// Scales, syringe and jugs.
    fn instruments(&mut self) -> Result<(), Failure> {
        self.list(SCALES, |request, said| {
            if !said.is_empty() {
                request.scales = said;
            }
        })?;
        self.one(SYRINGE, |request, said| {
            request.syringe = Some(step_and_capacity(&listed(said))?);
            Ok(())
        })?;
        self.one(JUGS, |request, said| {
            // as a scale is told: 50 mL to 1 L
            request.jugs = listed(&said.replace(" to ", ", ")).chunks(2).map(step_and_capacity).collect::<Result<_, _>>()?;
            Ok(())
        })?;
        Ok(())
    }

    /// Salts, products, and the acid where one is likely.
    fn shelf(&mut self) -> Result<(), Failure> {
        self.list(SHELF, |request, said| request.shelf = said)?;
        let mut words = PRODUCT;
        while self.one(words, |request, said| {
            request.products.push(with_points(said));
            Ok(())
        })? {
            words = PRODUCTS;
            if self.is_unsplit()? {
                self.one(FORMS, |request, said| {
                    let forms = forms(said)?;
                    request.products.last_mut().into_iter().for_each(|product| product.push_str(&forms));
                    Ok(())
                })?;
            }
        }
        let sours = |name: &String| name.to_lowercase().contains("acid") && !name.to_lowercase().contains("boric");
        let named = self.request.shelf.iter().any(sours);
        if named || self.request.water.report().is_some() {
            self.one(ACID, |request, said| {
                request.acid = Some(with_points(said));
                Ok(())
            })?;
        }
        Ok(())
    }

    /// True where the last product states nitrogen, and not in which forms.
    fn is_unsplit(&self) -> Result<bool, Failure> {
        let Answer::New(record) = ask(&Request::New(self.request.clone()))? else { return Ok(false) };
        let last = self.request.products.last().and_then(|product| product.split_once(':'));
        Ok(last.is_some_and(|(name, _)| record.nitrogen_unsplit.last().is_some_and(|unsplit| unsplit == name.trim())))
    }

    /// Says something to the person at the terminal; a pipe that is closed stops nothing.
    fn say(&mut self, words: &str) {
        let _ = writeln!(self.err, "{words}");
    }

    /// What is typed as an answer; empty for Enter.
    fn answer(&mut self, words: &str) -> Result<String, Failure> {
        self.say(words);
        let mut line = String::new();
        // a device has lines without end
        let read = Read::take(&mut *self.input, LONGEST_ANSWER)
            .read_line(&mut line)
            .map_err(|error| Failure::input("answer", format!("no answer can be read: {error}"), None))?;
        if read as u64 == LONGEST_ANSWER {
            return Err(Failure::input("answer", "an answer is longer than 64 KiB; nothing is written", None));
        }
        if read == 0 {
            let help = Some("answer every question, or write a starter bench without `--ask`".to_owned());
            return Err(Failure::input("answer", "the answers end before the last question; nothing is written", help));
        }
        let said = line.trim();
        let read = with_points(said);
        if read != said {
            self.say(&format!("   read as {read}"));
        }
        Ok(said.to_owned())
    }

    /// Whether an answer fits, with all so far; then it is kept.
    fn takes(&mut self, tried: NewRequest) -> Result<(), Refusal> {
        ask(&Request::New(tried.clone())).map(|_| self.request = tried)
    }

    /// One question, asked again where its answer is refused. False for Enter, which leaves what is usual.
    fn one(&mut self, words: &str, take: impl Fn(&mut NewRequest, &str) -> Result<(), Refusal>) -> Result<bool, Failure> {
        loop {
            let said = self.answer(words)?;
            if said.is_empty() || words.ends_with(FOR_NONE) && is_none(&said) {
                return Ok(false);
            }
            let mut tried = self.request.clone();
            match take(&mut tried, &with_points(&said)).and_then(|()| self.takes(tried)) {
                Ok(()) => return Ok(true),
                Err(refusal) => self.say(&format!("   {refusal}")),
            }
        }
    }

    /// One question with a list for its answer. What of it is refused is told, all at once, and asked again alone; Enter then leaves
    /// it out. Where nothing of it is taken the whole is asked again: Enter alone never stands for what is usual in its place.
    fn list(&mut self, words: &str, put: impl Fn(&mut NewRequest, Vec<String>)) -> Result<(), Failure> {
        let mut kept: Vec<String> = Vec::new();
        let mut asked = words;
        loop {
            let said = listed(&self.answer(asked)?);
            let mut refused = false;
            for one in &said {
                let mut tried = self.request.clone();
                put(&mut tried, kept.iter().chain([one]).cloned().collect());
                match ask(&Request::New(tried)) {
                    Ok(_) => kept.push(one.clone()),
                    Err(refusal) => {
                        refused = true;
                        self.say(&format!("   {refusal}"));
                    }
                }
            }
            if !refused {
                put(&mut self.request, kept);
                return Ok(());
            }
            if !kept.is_empty() {
                asked = "Again, only what was refused? (the rest is taken; Enter to leave it out)";
            }
        }
    }
}
