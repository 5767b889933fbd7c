//! A bench file for a form: read, and changed key by key.

use serde::{Deserialize, Serialize};

use super::{Answer, Refusal, typed};
use crate::bench::{Bench, Edit, EditError, STARTER, Step, edited};
use crate::jobs;
use crate::logbook::crc32;

/// What is asked of a bench file that a form shows.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct BenchReadRequest {
    /// Text of the bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
}

/// What is to be changed in a bench file.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct BenchEditRequest {
    /// Text of the bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Fingerprint of the text that was shown when the changes were made; a text that is another one by now is refused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fingerprint: Option<String>,
    /// The changes, one after the other; all of them are made, or none.
    pub edits: Vec<Edit>,
}

/// A fingerprint tells whether a text has changed by chance, not by malice.
fn fingerprint(text: &str) -> String {
    format!("{:08x}", crc32(text.as_bytes()))
}

pub(super) fn read(asked: &BenchReadRequest) -> Result<Answer, Refusal> {
    let text = asked.bench.as_deref().unwrap_or(STARTER);
    let bench = typed::bench(Some(text), None)?;
    Ok(Answer::BenchRead(Box::new(jobs::bench_record(&bench, text, fingerprint(text)))))
}

pub(super) fn edit(asked: &BenchEditRequest) -> Result<Answer, Refusal> {
    let before = asked.bench.as_deref().unwrap_or(STARTER);
    let made_from = fingerprint(before);
    if let Some(shown) = asked.fingerprint.as_ref().filter(|shown| **shown != made_from) {
        let help = Some("read the bench again, and make the change in what it says now".to_owned());
        let refusal = Refusal::input("changed-meanwhile", "the bench has been changed since it was shown", help);
        return Err(refusal.about("fingerprint", shown, Some(made_from)));
    }
    let mut text = before.to_owned();
    for edit in &asked.edits {
        text = match edited(&text, edit) {
            Ok(text) => text,
            Err(error) => return Err(no_edit(&text, edit, error)),
        };
    }
    Bench::parse(&text, "bench")?;
    Ok(Answer::BenchEdit(Box::new(jobs::bench_edit_record(text, made_from))))
}

/// Why a change is not made; of a text that is no TOML what the reader says of it.
fn no_edit(text: &str, edit: &Edit, error: EditError) -> Refusal {
    if let (EditError::ByHand, Err(refused)) = (error, Bench::parse(text, "bench"))
        && refused.problems.iter().any(|problem| problem.key.is_empty())
    {
        return refused.into();
    }
    let step = |step: &Step| match step {
        Step::Key(key) => key.clone(),
        Step::At(at) => at.to_string(),
    };
    let key = edit.key.iter().map(step).collect::<Vec<_>>().join(" ");
    Refusal::input("bench-edit", format!("`{key}`: {error}"), None).about("edits", &key, None)
}
