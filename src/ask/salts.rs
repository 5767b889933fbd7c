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
    /// Id of one salt; all of them without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
}

pub(super) fn salts(asked: &SaltsRequest) -> Result<Answer, Refusal> {
    let bench = typed::bench(asked.bench.as_deref(), None)?;
    let catalogue = &bench.catalogue;
    let records = match &asked.id {
        Some(id) => vec![jobs::salt_record(catalogue, catalogue.salt(typed::find(catalogue, "id", id)?))],
        None => catalogue.salts().iter().map(|salt| jobs::salt_record(catalogue, salt)).collect(),
    };
    Ok(Answer::Salts(Box::new(jobs::salts_record(records))))
}
