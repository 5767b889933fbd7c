//! The library without the command line: a bench from text, a mix, and what it says.
//!
//! `cargo run --example library`

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, MixOptions};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let bench = Bench::parse(include_str!("streptocarpus.toml"), "streptocarpus.toml")?;
    let mix = jobs::mix(&bench, "push", &MixOptions::default())?;
    let mut lines: Vec<String> =
        mix.doses.iter().filter_map(|dose| dose.grams().map(|grams| format!("{grams:>8.3} g  {}", dose.name))).collect();
    lines.push(format!("EC {:.2} mS/cm, give or take {:.2}", mix.ec_ms_cm, mix.ec_plus_minus_ms_cm));
    lines.extend(mix.findings.iter().map(|finding| format!("{}: {}", finding.code, finding.message)));
    std::io::Write::write_all(&mut std::io::stdout(), (lines.join("\n") + "\n").as_bytes())?;
    Ok(())
}
