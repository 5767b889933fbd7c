//! What can be typed. Completions and the man page come from the same definitions.

use std::path::PathBuf;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, CommandFactory, Parser, Subcommand};
use clap_complete::Shell;
use serde::de::DeserializeOwned;

use super::logbook_args::{LogbookArgs, LogbookCommand, When};
use super::switch_args::{ScaleArgs, SwitchArgs};
use crate::ask::MeterFactor;
use crate::jobs::Prefer;

/// Grams of salts for a hydroponic reservoir, from target concentrations, for growers who force plants into flower.
#[derive(Debug, Parser)]
#[command(name = "bloomsalt", version, about, max_term_width = 80, arg_required_else_help = true)]
#[command(after_help = "For ornamental plants. The supplier's safety data sheet and the local rules decide.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Command,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Write a starter bench file to edit; never overwrites
    New(NewArgs),
    /// What to weigh for a fresh tank of a formula
    Mix(MixArgs),
    /// What a mix already made contains: ppm, EC, pH, what may fall out, warnings
    Check(CheckArgs),
    /// Dates, amounts and shopping for growth, push and back again, and which pollen meets which stigmas
    Cycle(CycleArgs),
    /// Record what happens to a tank, and read what is in it now and what is to come
    Logbook(LogbookArgs),
    /// From what the tank holds to a formula: how much to drain, refill and weigh in
    Switch(SwitchArgs),
    /// A saved recipe for another volume, weighable again
    Scale(ScaleArgs),
    /// Concentrated stock bottles of a formula, and the dose per litre
    Stock(StockArgs),
    /// What to do today: what is in the tank, what is due, what fills it up, whose pollen to collect
    Today(TodayArgs),
    /// What to pour into a tank that is filled up and not drained, and the day to drain it all the same
    TopUp(TopUpArgs),
    /// The salt table, or one salt with composition, solubility, hazards and sources
    Salts(SaltsArgs),
    /// One request a line of standard input, one answer or refusal a line of standard output, in order
    Batch,
    /// Print completions for a shell
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Print the man page
    Man,
    /// Print the JSON schema of requests, answers, refusals and recipes
    Schema,
}

#[derive(Debug, Args)]
pub(super) struct NewArgs {
    /// The file to write
    pub(super) file: PathBuf,
    /// Ask for tank, water, scales and shelf, and write those
    #[arg(long)]
    pub(super) ask: bool,
}

#[derive(Debug, Args)]
pub(super) struct TopUpArgs {
    /// The formula that the tank should keep; else the one that it is fed
    pub(super) formula: Option<String>,
    /// The logbook of the tank, which tells what plants take and how much water goes
    #[arg(long, value_name = "FILE")]
    pub(super) logbook: PathBuf,
    /// Bench file, for the water, the shelf and the formulas; without it a starter bench is used
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    #[command(flatten)]
    pub(super) when: When,
    /// Another table of uptake for the logbook
    #[arg(long, value_name = "FILE")]
    pub(super) uptake: Option<PathBuf>,
    /// How much to mix, such as "6 L"; else what a week loses
    #[arg(long, value_name = "VOLUME")]
    pub(super) volume: Option<String>,
    /// Save it to a new file, for `logbook add FILE from`
    #[arg(long, value_name = "FILE")]
    pub(super) save: Option<PathBuf>,
    /// Write a sheet to print, a new HTML file
    #[arg(long, value_name = "FILE")]
    pub(super) sheet: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct TodayArgs {
    /// Bench file, for the water, the shelf, the formulas and the plan; without it a starter bench is used
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// The logbook of the tank, once for each tank; without it the plan alone speaks
    #[arg(long, value_name = "FILE")]
    pub(super) logbook: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) when: When,
    /// Another table of uptake for the logbook
    #[arg(long, value_name = "FILE", requires = "logbook")]
    pub(super) uptake: Option<PathBuf>,
    /// First day of the plan, such as 2027-01-04; else the `start` of the bench file
    #[arg(long, value_name = "DATE", conflicts_with = "first_open")]
    pub(super) start: Option<String>,
    /// Count the plan back from the week in which the first flower should open, its first day or 2027-W10
    #[arg(long, value_name = "DATE")]
    pub(super) first_open: Option<String>,
    /// Save what fills the tank up to a new file, for `logbook add FILE from`
    #[arg(long, value_name = "FILE", requires = "logbook")]
    pub(super) save: Option<PathBuf>,
    /// Of several tanks the one whose fill-up is saved
    #[arg(long, value_name = "ID", requires = "save")]
    pub(super) tank: Option<String>,
    /// Write a sheet to print, a new HTML file
    #[arg(long, value_name = "FILE")]
    pub(super) sheet: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct MixArgs {
    /// Name of the formula, such as growth or push
    pub(super) formula: String,
    /// Bench file; without it a starter bench is used
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Volume of the tank, such as "60 L" or "15.9 gal"; overrides the bench file
    #[arg(long, value_name = "VOLUME")]
    pub(super) tank: Option<String>,
    /// Set another formula beside it
    #[arg(long, value_name = "OTHER")]
    pub(super) beside: Option<String>,
    /// What of one element can be had against another, such as N:Ca
    #[arg(long, value_name = "A:B", conflicts_with_all = ["beside", "save", "meter_scale", "salts_at_most", "prefer", "tank"])]
    pub(super) trade: Option<String>,
    /// Also say what a meter with a dissolved-solids scale shows
    #[arg(long, value_name = "FACTOR", value_parser = one_of::<MeterFactor>(&["0.5", "0.64", "0.7"]))]
    pub(super) meter_scale: Option<MeterFactor>,
    /// The most salts of the shelf to use; bottles already made and the acid are not counted
    #[arg(long, value_name = "N", value_parser = at_least_one)]
    pub(super) salts_at_most: Option<usize>,
    /// What to prefer among mixes that come equally close: the least cost, the fewest salts, the least weight
    #[arg(long, value_name = "WISH", value_parser = one_of::<Prefer>(&["cheap", "few", "light"]))]
    pub(super) prefer: Option<Prefer>,
    /// Save the recipe to a new file
    #[arg(long, value_name = "FILE", conflicts_with = "beside")]
    pub(super) save: Option<PathBuf>,
    /// Write a sheet to print, a new HTML file
    #[arg(long, value_name = "FILE", conflicts_with_all = ["beside", "trade"])]
    pub(super) sheet: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct CheckArgs {
    /// What went in, such as potassium-nitrate=14.1g, "phosphoric-acid-10=72 mL" or, for a bottle of the bench,
    /// traces=50mL; g, mg, kg, mL, L, oz, lb
    #[arg(required_unless_present_any = ["recipe", "analysis"], conflicts_with_all = ["recipe", "analysis"])]
    #[arg(value_name = "SALT=AMOUNT")]
    pub(super) added: Vec<String>,
    /// Which of several waters of the bench file it was filled with, such as rain=40L; one alone needs no volume
    #[arg(long, value_name = "ID=VOLUME", conflicts_with_all = ["recipe", "analysis"])]
    pub(super) water: Vec<String>,
    /// A recipe that --save wrote, in place of the salts
    #[arg(long, value_name = "FILE", conflicts_with = "analysis")]
    pub(super) recipe: Option<PathBuf>,
    /// What a laboratory found in the tank in ppm, such as N=88 Ca=70, in place of the salts
    #[arg(long, value_name = "ELEMENT=PPM", num_args = 1.., conflicts_with_all = ["reads", "save"])]
    pub(super) analysis: Vec<String>,
    /// Hold it against a formula: what is off, and what would set it right
    #[arg(long, value_name = "FORMULA")]
    pub(super) against: Option<String>,
    /// What the EC meter reads, such as "1.35 mS/cm": which slips would explain it
    #[arg(long, value_name = "EC")]
    pub(super) reads: Option<String>,
    /// How far the meter may be off, as a fraction of what it reads (k = 2); 0.03 unless stated
    #[arg(long, value_name = "FRACTION", requires = "reads")]
    pub(super) meter_error: Option<String>,
    /// For a meter that does not correct to 25 C: the temperature that it was read at, such as "18 C"
    #[arg(long, value_name = "TEMPERATURE", requires = "reads")]
    pub(super) read_at: Option<String>,
    /// What it was made up to, such as "60 L" or "15.9 gal"; overrides bench file and recipe, and scales nothing
    #[arg(long, value_name = "VOLUME")]
    pub(super) tank: Option<String>,
    /// Bench file, for the water, the purities, bottles and products of your own; without it rain water
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Also say what a meter with a dissolved-solids scale shows
    #[arg(long, value_name = "FACTOR", value_parser = one_of::<MeterFactor>(&["0.5", "0.64", "0.7"]))]
    pub(super) meter_scale: Option<MeterFactor>,
    /// Save the recipe of what went in to a new file
    #[arg(long, value_name = "FILE", conflicts_with = "recipe")]
    pub(super) save: Option<PathBuf>,
    /// Save what would set it right to a new file, for `logbook add FILE from`
    #[arg(long, value_name = "FILE", requires = "against", conflicts_with = "save")]
    pub(super) save_remedy: Option<PathBuf>,
    /// Write a sheet to print, a new HTML file
    #[arg(long, value_name = "FILE")]
    pub(super) sheet: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("begin").args(["start", "first_open"]))]
pub(super) struct CycleArgs {
    /// Bench file with a [cycle]
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Volume of the tank of the bench, such as "60 L" or "15.9 gal"; overrides the bench file
    #[arg(long, value_name = "VOLUME")]
    pub(super) tank: Option<String>,
    /// First day of the cycle, such as 2027-01-04; else the `start` of the bench file
    #[arg(long, value_name = "DATE")]
    pub(super) start: Option<String>,
    /// Renew tanks earlier where this logbook says that they run down before `renew_every` is over; once for each tank
    #[arg(long, value_name = "FILE")]
    pub(super) logbook: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) when: When,
    /// Another table of uptake for the logbook
    #[arg(long, value_name = "FILE")]
    pub(super) uptake: Option<PathBuf>,
    /// Count back from the week in which the first flower should open, its first day or 2027-W10
    #[arg(long, value_name = "DATE")]
    pub(super) first_open: Option<String>,
    /// Start the groups as is best for all of them together, and not as the bench file says
    #[arg(long)]
    pub(super) best_start: bool,
    /// Write a new iCalendar file
    #[arg(long, value_name = "FILE")]
    pub(super) calendar: Option<PathBuf>,
    /// Day that the calendar file says it was written on; today without it
    #[arg(long, value_name = "DATE", requires = "calendar")]
    pub(super) stamp: Option<String>,
    /// Write a new file of comma-separated values
    #[arg(long, value_name = "FILE")]
    pub(super) csv: Option<PathBuf>,
    /// Write a sheet to print, a new HTML file
    #[arg(long, value_name = "FILE")]
    pub(super) sheet: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct StockArgs {
    /// Name of the formula, such as growth or push
    pub(super) formula: String,
    /// How many times as strong as the tank the bottles should be, 10 to 1000
    #[arg(long, value_name = "TIMES", default_value = "100")]
    pub(super) strength: String,
    /// What each bottle is made up to, such as "1 L"
    #[arg(long, value_name = "VOLUME", default_value = "1 L")]
    pub(super) bottle: String,
    /// The lowest temperature at which the bottles stand, such as "10 C"
    #[arg(long, value_name = "TEMPERATURE", default_value = "10 C")]
    pub(super) coldest: String,
    /// Also say which doses of the same bottles come closest to another formula
    #[arg(long, value_name = "FORMULA")]
    pub(super) dose_for: Option<String>,
    /// Volume of the tank, such as "60 L" or "15.9 gal"; overrides the bench file
    #[arg(long, value_name = "VOLUME")]
    pub(super) tank: Option<String>,
    /// Bench file; without it a starter bench is used
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Write a sheet to print, a new HTML file
    #[arg(long, value_name = "FILE")]
    pub(super) sheet: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct SaltsArgs {
    /// Words for a salt: its id, name, everyday name, abbreviation or formula
    pub(super) words: Vec<String>,
    /// Bench file, for products of your own
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

/// One of a closed set, by the names that it has in a request.
fn one_of<T: DeserializeOwned + Clone + Send + Sync + 'static>(
    names: &'static [&'static str],
) -> impl TypedValueParser<Value = T> {
    PossibleValuesParser::new(names).try_map(|name| serde_json::from_value::<T>(serde_json::Value::String(name)))
}

/// A count of at least 1.
fn at_least_one(typed: &str) -> Result<usize, String> {
    typed.parse().ok().filter(|count| *count >= 1).ok_or_else(|| "it takes a whole number from 1".to_owned())
}

impl Command {
    /// Name of the job, and whether it prints JSON.
    pub(super) fn job(&self) -> (&'static str, bool) {
        match self {
            Self::New(_) => ("new", false),
            Self::Mix(args) => ("mix", args.json),
            Self::Check(args) => ("check", args.json),
            Self::Cycle(args) => ("cycle", args.json),
            Self::Switch(args) => ("switch", args.json),
            Self::Scale(args) => ("scale", args.json),
            Self::Stock(args) => ("stock", args.json),
            Self::Today(args) => ("today", args.json),
            Self::TopUp(args) => ("top-up", args.json),
            Self::Salts(args) => ("salts", args.json),
            Self::Logbook(args) => args.command.job(),
            Self::Batch => ("batch", true),
            Self::Completions { .. } => ("completions", false),
            Self::Man => ("man", false),
            Self::Schema => ("schema", false),
        }
    }

    /// True for what is done once a file is written, and answers after that.
    pub(super) fn has_written(&self) -> bool {
        matches!(self, Self::New(_) | Self::Logbook(LogbookArgs { command: LogbookCommand::Add(_) }))
    }
}

/// The clap definitions, for docs and tests.
#[must_use]
pub fn command() -> clap::Command {
    Arguments::command()
}
