//! What can be typed after `bloomsalt switch` and `bloomsalt scale`.

use std::path::PathBuf;

use clap::Args;

use super::logbook_args::When;

#[derive(Debug, Args)]
pub(super) struct SwitchArgs {
    /// The formula to turn to, such as push
    pub(super) formula: String,
    /// The tank holds this formula, as it is mixed, after days in air
    #[arg(long, value_name = "FORMULA", conflicts_with_all = ["recipe", "analysis", "logbook"])]
    pub(super) holding: Option<String>,
    /// The tank holds what this saved recipe makes
    #[arg(long, value_name = "FILE", conflicts_with_all = ["analysis", "logbook"])]
    pub(super) recipe: Option<PathBuf>,
    /// The tank holds what a laboratory found, such as N=88 P=17 K=95; ppm
    #[arg(long, value_name = "ELEMENT=PPM", num_args = 1.., conflicts_with = "logbook")]
    pub(super) analysis: Vec<String>,
    /// The tank holds what this logbook says
    #[arg(long, value_name = "FILE")]
    pub(super) logbook: Option<PathBuf>,
    /// The pH measured in the tank, such as 6.1; else that of the logbook, where it stands
    #[arg(long, value_name = "PH")]
    pub(super) holding_ph: Option<String>,
    #[command(flatten)]
    pub(super) when: When,
    /// Another table of uptake for the logbook
    #[arg(long, value_name = "FILE", requires = "logbook")]
    pub(super) uptake: Option<PathBuf>,
    /// What is in the tank and can be drained, such as "50 L"; else the tank is full
    #[arg(long, value_name = "VOLUME")]
    pub(super) level: Option<String>,
    /// What stays behind in medium and pipes, such as "4 L"
    #[arg(long, value_name = "VOLUME")]
    pub(super) held_back: Option<String>,
    /// Drain in whole buckets of this size, such as "10 L"
    #[arg(long, value_name = "VOLUME", conflicts_with = "drain")]
    pub(super) bucket: Option<String>,
    /// Drain just this much, such as "30 L"
    #[arg(long, value_name = "VOLUME")]
    pub(super) drain: Option<String>,
    /// Warn when EC changes by more than this at once; else 0.5 mS/cm
    #[arg(long, value_name = "EC")]
    pub(super) ec_step: Option<String>,
    /// The day on which it is done, such as 2027-01-04, to say when to turn back
    #[arg(long, value_name = "DATE")]
    pub(super) on: Option<String>,
    /// In so many steps over days, 2 to 4, each an equal part of the way
    #[arg(long, value_name = "COUNT", conflicts_with = "drain")]
    pub(super) steps: Option<u32>,
    /// Days from one step to the next; else 2
    #[arg(long, value_name = "DAYS", requires = "steps")]
    pub(super) every_days: Option<u32>,
    /// Volume of the full tank, such as "60 L"; overrides the bench file
    #[arg(long, value_name = "VOLUME")]
    pub(super) tank: Option<String>,
    /// Bench file; without it a starter bench is used
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Save what is let out, filled in and weighed in to a new file, for `logbook add FILE from`
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
pub(super) struct ScaleArgs {
    /// A recipe that `mix --save` wrote
    pub(super) recipe: PathBuf,
    /// The volume to scale it to, such as "10 L"
    #[arg(long, value_name = "VOLUME")]
    pub(super) to: String,
    /// Bench file, for its water, instruments, bottles and prices; else the water of the recipe and the starter's instruments
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Save the new recipe to a new file
    #[arg(long, value_name = "FILE")]
    pub(super) save: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}
