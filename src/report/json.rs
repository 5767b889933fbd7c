//! Records as JSON, and their schema.

use schemars::JsonSchema;
use schemars::generate::{SchemaGenerator, SchemaSettings};
use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::ask::{Appended, Document, Refusal, Request};
use crate::jobs;

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

/// A record as JSON on one line, with its line end; numbers as in [`document`].
#[must_use]
pub fn line(record: &impl Serialize) -> String {
    let mut value = serde_json::to_value(record).unwrap_or(Value::Null);
    round(&mut value);
    format!("{value}\n")
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

/// JSON schema (draft 2020-12) of a request, of every answer by its job, of a refusal and of a recipe: one object with a key
/// for each.
///
/// That of a request says what is taken, the others what is written: every key that is always there is required, null or not.
#[must_use]
pub fn schema() -> String {
    let written = || SchemaSettings::draft2020_12().for_serialize().into_generator();
    let all: Map<String, Value> = [
        ("request", of::<Request>(SchemaSettings::draft2020_12().into_generator())),
        ("refusal", of::<Refusal>(written())),
        ("recipe", of::<jobs::Recipe>(written())),
        ("mix", of::<Document<jobs::MixRecord>>(written())),
        ("mix-beside", of::<jobs::Beside>(written())),
        ("trade", of::<jobs::TradeRecord>(written())),
        ("check", of::<Document<jobs::CheckRecord>>(written())),
        ("switch", of::<Document<jobs::SwitchRecord>>(written())),
        ("scale", of::<Document<jobs::ScaleRecord>>(written())),
        ("stock", of::<Document<jobs::StockRecord>>(written())),
        ("cycle", of::<Document<jobs::CycleRecord>>(written())),
        ("today", of::<Document<jobs::TodayRecord>>(written())),
        ("top-up", of::<Document<jobs::TopUpRecord>>(written())),
        ("new", of::<jobs::NewRecord>(written())),
        ("salts", of::<jobs::SaltsRecord>(written())),
        ("logbook-add", of::<Appended>(written())),
        ("logbook-show", of::<jobs::ShowRecord>(written())),
        ("logbook-now", of::<Document<jobs::NowRecord>>(written())),
        ("logbook-forecast", of::<Document<jobs::ForecastRecord>>(written())),
    ]
    .map(|(key, schema)| (key.to_owned(), schema))
    .into_iter()
    .collect();
    format!("{:#}\n", Value::Object(all))
}

fn of<T: JsonSchema>(generator: SchemaGenerator) -> Value {
    generator.into_root_schema_for::<T>().to_value()
}
