//! The salt table.

use serde::{Deserialize, Serialize};

use super::{Answer, Refusal, typed};
use crate::jobs;

/// What is asked of the salt table.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct SaltsRequest {
    /// Text of a bench file, for products of one's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Id, name, everyday name, abbreviation or formula of a salt, or words of its name; all salts without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

pub(super) fn salts(asked: &SaltsRequest) -> Result<Answer, Refusal> {
    let bench = typed::bench(asked.bench.as_deref(), None)?;
    let catalogue = &bench.catalogue.clone().with_strengths(asked.words.as_deref().map(str::trim));
    let found = match &asked.words {
        None => catalogue.salts().iter().collect(),
        Some(words) => match &catalogue.search(words)[..] {
            [] => return Err(typed::no_salt(catalogue, "words", words)),
            found => found.iter().map(|id| catalogue.salt(*id)).collect(),
        },
    };
    Ok(Answer::Salts(Box::new(jobs::salts_record(catalogue, asked.words.clone(), found))))
}
