//! Records as JSON.

use serde::Serialize;
use serde_json::{Value, json};

use crate::quantity::nine_digits;

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
            let rounded = nine_digits(exact);
            // a difference that only rounding left is nothing
            *value = json!(if rounded.abs() < 1e-12 { 0.0 } else { rounded });
        }
        Value::Array(items) => items.iter_mut().for_each(round),
        Value::Object(entries) => entries.values_mut().for_each(round),
        _ => {}
    }
}
