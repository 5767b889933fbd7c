//! Records as JSON, their schema, and the document of a failure.

use serde::Serialize;
use serde_json::{Map, Value, json};

/// Significant digits of every number: more than anyone can measure, few enough to be the same on every platform.
const DIGITS: i32 = 9;

/// A record as pretty JSON with a line end.
///
/// Numbers are rounded to nine significant digits so that the last bits of a platform do not show.
#[must_use]
pub fn document(record: &impl Serialize) -> String {
    let mut value = serde_json::to_value(record).unwrap_or(Value::Null);
    round(&mut value);
    format!("{value:#}\n")
}

fn round(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let exact = number.as_f64().unwrap_or(0.0);
            let digits = usize::try_from(DIGITS - 1).unwrap_or(0);
            let rounded: f64 = format!("{exact:.digits$e}").parse().unwrap_or(exact);
            // a difference that only rounding left is nothing
            *value = json!(if rounded.abs() < 1e-12 { 0.0 } else { rounded });
        }
        Value::Array(items) => items.iter_mut().for_each(round),
        Value::Object(entries) => entries.values_mut().for_each(round),
        _ => {}
    }
}

/// The document of a run that failed.
#[must_use]
#[allow(clippy::too_many_arguments, reason = "one argument for every key of the document")]
pub fn error_document(
    job: &str,
    code: &str,
    message: &str,
    file: Option<&str>,
    line: Option<usize>,
    key: Option<&str>,
    conflict: &[String],
) -> String {
    let error = json!({
        "code": code, "message": message, "file": file, "line": line, "key": key, "conflict": conflict,
    });
    format!("{:#}\n", json!({ "version": 1, "job": job, "error": error }))
}

/// JSON schema (draft 2020-12) of what `mix --json` prints, of what it prints with `--beside` and with `--trade`, of
/// `cycle --json`, of `check --json`, of `stock --json`, of `salts --json`, of a recipe, and of what the commands of `diary` print.
#[must_use]
pub fn schema() -> String {
    let mut all = Map::new();
    all.insert("mix".to_owned(), schemars::schema_for!(crate::jobs::MixRecord).to_value());
    all.insert("mix-beside".to_owned(), schemars::schema_for!(crate::jobs::Beside).to_value());
    all.insert("cycle".to_owned(), schemars::schema_for!(crate::jobs::CycleRecord).to_value());
    all.insert("check".to_owned(), schemars::schema_for!(crate::jobs::CheckRecord).to_value());
    all.insert("trade".to_owned(), schemars::schema_for!(crate::jobs::TradeRecord).to_value());
    all.insert("switch".to_owned(), schemars::schema_for!(crate::jobs::SwitchRecord).to_value());
    all.insert("scale".to_owned(), schemars::schema_for!(crate::jobs::ScaleRecord).to_value());
    all.insert("stock".to_owned(), schemars::schema_for!(crate::jobs::StockRecord).to_value());
    all.insert("salts".to_owned(), schemars::schema_for!(crate::jobs::SaltsRecord).to_value());
    all.insert("recipe".to_owned(), schemars::schema_for!(crate::jobs::Recipe).to_value());
    all.insert("diary-add".to_owned(), schemars::schema_for!(crate::jobs::AddedRecord).to_value());
    all.insert("diary-show".to_owned(), schemars::schema_for!(crate::jobs::ShowRecord).to_value());
    all.insert("diary-now".to_owned(), schemars::schema_for!(crate::jobs::NowRecord).to_value());
    all.insert("diary-forecast".to_owned(), schemars::schema_for!(crate::jobs::ForecastRecord).to_value());
    format!("{:#}\n", Value::Object(all))
}
