//! A value of a bench file changed in its text: every byte that does not belong to it stays, comments and line ends among them.
//!
//! The text is cut at the places that the TOML reader tells. An editor that writes the whole text anew would drop the comment
//! above a key that is taken out, and change line ends and the order of dotted keys.

mod change;
mod find;
mod write;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::written::written;
use change::set;
use find::removed;
use write::inline;

/// The longest way to a value; a bench file needs half of it.
const DEEPEST: usize = 12;

/// A step on the way to a value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum Step {
    /// A key of a table.
    Key(String),
    /// An entry of a list or of `[[…]]`, from 0.
    At(usize),
}

/// One change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Edit {
    /// The way to the value: `["formula", "push", "N", "times"]`, `["scale", 0, "trust"]`. The place after the last of a list is a new one.
    pub key: Vec<Step>,
    /// What is to stand there; without it, or null, what stands there is taken out. A text such as `2026-10-03` is a day, unless a text is replaced.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Value>,
}

/// Why a change cannot be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EditError {
    /// There is no such place in the file.
    NoPlace,
    /// A null, or a number that a bench file cannot hold.
    NoValue,
    /// Here stands a section, and what it is to be has no keys of its own.
    TakesKeys,
    /// The text is written in a way that only a person can change it in.
    ByHand,
}

impl std::fmt::Display for EditError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::NoPlace => "there is no such place in the bench file",
            Self::NoValue => "a bench file holds texts, whole numbers up to 2^63, decimals, lists and tables; no null",
            Self::TakesKeys => "a section stands here, and takes an object with keys of its own",
            Self::ByHand => "it is written in a way that cannot be changed key by key; change it in the text of the file",
        })
    }
}

impl std::error::Error for EditError {}

/// The text with one change made. Whether it still is a bench is for [`Bench::parse`](super::Bench::parse) to say.
///
/// A new key stands below the last of its section, a new section at the end of the text, one of several below the last of
/// them. A key that is taken out takes the comment on its own line along, a section those between its header and its last key.
///
/// # Errors
/// [`EditError`]; the text is as it was. `ByHand` for a text that is no TOML, too.
///
/// # Examples
/// ```
/// use bloomsalt::bench::{Edit, Step, edited};
/// let key = vec![Step::Key("tank".to_owned()), Step::Key("volume".to_owned())];
/// let edit = Edit { key, value: Some("45 L".into()) };
/// assert_eq!(edited("[tank]\nvolume = \"60 L\" # in all\n", &edit)?, "[tank]\nvolume = \"45 L\" # in all\n");
/// # Ok::<(), bloomsalt::bench::EditError>(())
/// ```
pub fn edited(text: &str, edit: &Edit) -> Result<String, EditError> {
    let (path, value) = (&edit.key[..], edit.value.as_ref().filter(|value| !value.is_null()));
    if path.is_empty() || path.len() > DEEPEST {
        return Err(EditError::NoPlace);
    }
    let mut wanted = written(text).ok_or(EditError::ByHand)?;
    let new = match value {
        Some(value) => {
            inline(value).ok_or(EditError::NoValue)?;
            set(text, path, value)?
        }
        None => removed(text, path)?,
    };
    *place(&mut wanted, path).ok_or(EditError::NoPlace)? = value.cloned().unwrap_or_default();
    // whatever way the text is written in: what was asked for has changed, and nothing else
    if written(&new).is_some_and(|new| same(&new, &wanted)) { Ok(new) } else { Err(EditError::ByHand) }
}

/// The place of a value in a document, made where there is none yet.
fn place<'v>(root: &'v mut Value, path: &[Step]) -> Option<&'v mut Value> {
    path.iter().try_fold(root, |value, step| {
        if value.is_null() {
            *value = if matches!(step, Step::Key(_)) { Value::Object(Map::new()) } else { Value::Array(Vec::new()) };
        }
        match (value, step) {
            (Value::Object(keys), Step::Key(key)) => Some(keys.entry(key.clone()).or_insert(Value::Null)),
            (Value::Array(list), Step::At(at)) => {
                if *at == list.len() {
                    list.push(Value::Null);
                }
                list.get_mut(*at)
            }
            _ => None,
        }
    })
}

/// True of what holds nothing.
fn nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Object(keys) => keys.values().all(nothing),
        Value::Array(list) => list.iter().all(nothing),
        _ => false,
    }
}

/// True where two documents say the same: what holds nothing is as good as not there.
fn same(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Object(one), Value::Object(other)) => one.keys().chain(other.keys()).all(|key| {
            let of = |all: &Map<String, Value>| all.get(key).cloned().unwrap_or_default();
            same(&of(one), &of(other))
        }),
        (Value::Array(one), Value::Array(other)) => {
            let there = |list: &[Value]| list.iter().filter(|value| !value.is_null()).cloned().collect::<Vec<_>>();
            let (one, other) = (there(one), there(other));
            one.len() == other.len() && one.iter().zip(&other).all(|(one, other)| same(one, other))
        }
        _ => one == other || (nothing(one) && nothing(other)),
    }
}
