//! A mix and a check through the one door, without the terminal: requests from JSON, answers as records.
//!
//! `cargo run --example ask`

use std::io::Write;

use bloomsalt::ask::{Answer, Refusal, Request, ask};
use bloomsalt::report::{Form, render};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = std::io::stdout().lock();
    let mix = serde_json::json!({ "job": "mix", "bench": include_str!("streptocarpus.toml"), "formula": "push" });
    let Answer::Mix(mix) = ask(&Request::parse(&mix.to_string())?)? else { unreachable!("a mix answers a mix") };
    for dose in &mix.record.doses {
        if let Some(grams) = dose.grams() {
            writeln!(out, "{grams:>8.3} g  {}", dose.name)?;
        }
    }
    let check = r#"{ "job": "check", "added": ["potassium-nitrate=14.1g"], "tank": "60 L", "against": "growth" }"#;
    let answer = ask(&Request::parse(check)?)?;
    write!(out, "\n{}", render(&answer, Form::Text { colour: false, plot: false }).unwrap_or_default())?;
    let slip: Refusal = match ask(&Request::parse(r#"{ "job": "mix", "formula": "push", "tank": "60 galon" }"#)?) {
        Err(refusal) => refusal,
        Ok(_) => unreachable!("there is no such unit"),
    };
    writeln!(out, "\n{slip}")?;
    Ok(())
}
