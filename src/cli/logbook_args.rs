//! What can be typed after `bloomsalt logbook`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

#[derive(Debug, Args)]
pub(super) struct LogbookArgs {
    #[command(subcommand)]
    pub(super) command: LogbookCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum LogbookCommand {
    /// Write down what happened; the file is made when it does not exist
    Add(AddArgs),
    /// Every entry
    Show(ReadArgs),
    /// Volume, content with its range, and readings
    Now(NowArgs),
    /// When nitrogen falls under a floor, when EC leaves its range, what to add now
    Forecast(ForecastArgs),
}

impl LogbookCommand {
    /// Name of the job, and whether it prints JSON.
    pub(super) fn job(&self) -> (&'static str, bool) {
        match self {
            Self::Add(args) => ("logbook-add", args.json),
            Self::Show(args) => ("logbook-show", args.json),
            Self::Now(args) => ("logbook-now", args.read.json),
            Self::Forecast(args) => ("logbook-forecast", args.now.read.json),
        }
    }
}

/// A moment: stated, or now.
#[derive(Debug, Args)]
pub(super) struct When {
    /// When it happened, such as "2026-10-03 18:30+02:00"; without an offset by the clock of --zone; a day alone is its noon; else now
    #[arg(long, value_name = "MOMENT", global = true)]
    pub(super) at: Option<String>,
    /// Time zone, such as Europe/Berlin or +02:00; else that of the system
    #[arg(long, value_name = "ZONE", global = true, allow_hyphen_values = true)]
    pub(super) zone: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct AddArgs {
    /// The logbook of the tank
    pub(super) file: PathBuf,
    #[command(flatten)]
    pub(super) when: When,
    /// Bench file, for the water, the purities, products of your own and formulas
    #[arg(long, value_name = "FILE", global = true)]
    pub(super) bench: Option<PathBuf>,
    /// Id of one of several tanks of the bench file: a new logbook is bound to it
    #[arg(long, value_name = "ID", global = true)]
    pub(super) tank: Option<String>,
    /// Enter it as it is typed, also where it looks like a slip
    #[arg(long, global = true)]
    pub(super) yes: bool,
    /// Print JSON for programs
    #[arg(long, global = true)]
    pub(super) json: bool,
    #[command(subcommand)]
    pub(super) event: AddEvent,
}

#[derive(Debug, Clone, Subcommand)]
pub(super) enum AddEvent {
    /// The tank was emptied and filled; without salts or recipe, with water alone
    Filled {
        /// What went in, such as potassium-nitrate=14.1g, or traces-1=20mL of a bottle
        #[arg(value_name = "SALT=AMOUNT")]
        salts: Vec<String>,
        /// How much was filled in, such as "60 L"; a recipe knows it
        #[arg(long, value_name = "VOLUME", required_unless_present = "recipe")]
        volume: Option<String>,
        /// A recipe that `mix --save` wrote, in place of the salts
        #[arg(long, value_name = "FILE", conflicts_with = "salts")]
        recipe: Option<PathBuf>,
        /// The formula it was mixed to
        #[arg(long, value_name = "FORMULA")]
        formula: Option<String>,
        /// What had stayed behind in medium and pipes, such as "4 L"
        #[arg(long, value_name = "VOLUME")]
        held_back: Option<String>,
        /// The water brought nothing, whatever the bench file says
        #[arg(long, conflicts_with = "recipe")]
        pure: bool,
        /// Which of several waters of the bench file went in, such as rain=40L; one alone needs no volume
        #[arg(long, value_name = "ID=VOLUME", conflicts_with_all = ["recipe", "pure"])]
        water: Vec<String>,
    },
    /// Salts went in
    Added {
        /// What went in, such as potassium-nitrate=14.1g, or traces-1=20mL of a bottle
        #[arg(required = true, value_name = "SALT=AMOUNT")]
        salts: Vec<String>,
    },
    /// Water went in
    ToppedUp {
        /// How much, such as "8 L"; else from the level that the logbook has up to that of --to
        #[arg(long, value_name = "VOLUME", required_unless_present = "to")]
        volume: Option<String>,
        /// The level after it, such as "60 L": tells how much had been lost
        #[arg(long, value_name = "VOLUME")]
        to: Option<String>,
        /// The water brought nothing, whatever the bench file says
        #[arg(long)]
        pure: bool,
        /// Which of several waters of the bench file went in, such as rain=4L; one alone needs no volume
        #[arg(long, value_name = "ID=VOLUME", conflicts_with = "pure")]
        water: Vec<String>,
    },
    /// Solution was let out
    Drained {
        /// How much, such as "20 L"
        #[arg(long, value_name = "VOLUME")]
        volume: String,
    },
    /// A saved recipe was done whole: a fresh tank, or let out, filled up and poured into what the tank holds
    From {
        /// A recipe that --save wrote
        recipe: PathBuf,
        /// What was really weighed where it differs, such as potassium-nitrate=14.1g; 0g for what was left out
        #[arg(value_name = "SALT=AMOUNT")]
        weighed: Vec<String>,
        /// What was really let out, such as "20 L"
        #[arg(long, value_name = "VOLUME")]
        drained: Option<String>,
        /// What was really filled in, such as "28 L"
        #[arg(long, value_name = "VOLUME")]
        filled: Option<String>,
        /// The level after it, such as "60 L": tells how much had been lost
        #[arg(long, value_name = "VOLUME")]
        to: Option<String>,
        /// What had stayed behind in medium and pipes of a fresh tank, such as "4 L"
        #[arg(long, value_name = "VOLUME")]
        held_back: Option<String>,
    },
    /// Meters were read
    Reading {
        /// EC at 25 C, such as "1.1 mS/cm"
        #[arg(long, value_name = "EC")]
        ec: Option<String>,
        /// pH, such as 5.9
        #[arg(long, value_name = "PH")]
        ph: Option<String>,
        /// Temperature of the solution, such as "21 C"
        #[arg(long, value_name = "TEMPERATURE")]
        temperature: Option<String>,
        /// What is in the tank, such as "52 L"
        #[arg(long, value_name = "VOLUME")]
        level: Option<String>,
    },
    /// A laboratory analysed the solution
    Analysis {
        /// What it found in ppm, such as N=88 Ca=70
        #[arg(required = true, value_name = "ELEMENT=PPM")]
        found: Vec<String>,
    },
    /// Anything worth remembering
    Note {
        /// The words, in quotes
        text: String,
    },
    /// A phase began, such as push
    Phase {
        /// Its name; the name of a formula brings its days
        name: String,
    },
    /// Flower stalks were seen
    Stalks,
    /// An earlier entry was wrong and no longer counts
    Void {
        /// Its number
        entry: u64,
        /// Why
        #[arg(long, value_name = "WORDS")]
        why: Option<String>,
    },
    /// Lines of a damaged file are given up; they stay in the file
    Recovered {
        /// Their line numbers
        #[arg(required = true, value_name = "LINE")]
        lines: Vec<usize>,
    },
}

#[derive(Debug, Args)]
pub(super) struct ReadArgs {
    /// The logbook of the tank
    pub(super) file: PathBuf,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct NowArgs {
    #[command(flatten)]
    pub(super) read: ReadArgs,
    #[command(flatten)]
    pub(super) when: When,
    /// Bench file, for the water, products of your own and formulas
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// A table of uptake of your own, laid out as salts/uptake.toml
    #[arg(long, value_name = "FILE")]
    pub(super) uptake: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct ForecastArgs {
    #[command(flatten)]
    pub(super) now: NowArgs,
    /// A formula to hold the tank against; else the one it was filled to
    #[arg(long, value_name = "FORMULA")]
    pub(super) formula: Option<String>,
    /// A floor for nitrogen, such as "30 ppm"; else half of the formula's target
    #[arg(long, value_name = "PPM")]
    pub(super) floor: Option<String>,
    /// Save what to add now to a new file, for `logbook add FILE from`
    #[arg(long, value_name = "FILE")]
    pub(super) save: Option<PathBuf>,
}
