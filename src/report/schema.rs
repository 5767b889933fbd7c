//! The JSON schema of what is asked and answered.

use schemars::generate::{SchemaGenerator, SchemaSettings};
use serde_json::{Map, Value};

use crate::ask::{Appended, Document, Refusal, Request};
use crate::jobs;

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
        ("bench-read", of::<jobs::BenchRecord>(written())),
        ("bench-edit", of::<jobs::BenchEditRecord>(written())),
        ("salts", of::<jobs::SaltsRecord>(written())),
        ("logbook-add", of::<Appended>(written())),
        ("logbook-show", of::<jobs::ShowRecord>(written())),
        ("logbook-merge", of::<Document<jobs::MergeRecord>>(written())),
        ("logbook-now", of::<Document<jobs::NowRecord>>(written())),
        ("logbook-forecast", of::<Document<jobs::ForecastRecord>>(written())),
    ]
    .map(|(key, schema)| (key.to_owned(), schema))
    .into_iter()
    .collect();
    format!("{:#}\n", Value::Object(all))
}

fn of<T: schemars::JsonSchema>(generator: SchemaGenerator) -> Value {
    generator.into_root_schema_for::<T>().to_value()
}
