//! One entry as one line of text, and back.

use serde_json::{Map, Value, json};

use super::{Entry, Event, Moment};

/// Version of a line; a line without one is of this version.
const VERSION: u64 = 1;
/// What stands before the eight digits that close a line.
const CHECK: &str = ",\"check\":\"";

/// A line that is no entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Unreadable {
    /// In words, why.
    pub(super) why: String,
    /// True when the line just stops: the start of an entry whose end never reached the disk.
    pub(super) cut_off: bool,
}

/// What each value of a byte adds to a CRC-32.
const CRC: [u32; 256] = {
    let mut table = [0; 256];
    let mut register: u32 = 0;
    let mut at = 0;
    while at < table.len() {
        let mut bit = 0;
        while bit < 8 {
            register = if register & 1 == 1 { (register >> 1) ^ 0xEDB8_8320 } else { register >> 1 };
            bit += 1;
        }
        table[at] = register;
        at += 1;
        #[allow(clippy::cast_possible_truncation, reason = "at most 256; `try_from` is not const")]
        {
            register = at as u32;
        }
    }
    table
};

/// CRC-32 (IEEE 802.3, reflected, polynomial EDB88320) of some bytes.
///
/// Reference: ISO/IEC 13239 annex A; the check value of "123456789" is CBF43926.
pub(crate) fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |register, byte| {
        let [low, ..] = register.to_le_bytes();
        CRC[usize::from(low ^ byte)] ^ (register >> 8)
    })
}

/// The line of an entry, its line end included: one JSON object, closed by the CRC-32 of what stands before.
#[must_use]
pub fn line(entry: &Entry) -> String {
    let mut object = Map::new();
    object.insert("entry".to_owned(), json!(entry.number));
    object.insert("version".to_owned(), json!(VERSION));
    object.insert("at".to_owned(), json!(entry.at.to_string()));
    if let Ok(Value::Object(event)) = serde_json::to_value(&entry.event) {
        object.extend(event);
    }
    let text = Value::Object(object).to_string();
    let open = text.strip_suffix('}').unwrap_or(&text);
    format!("{open}{CHECK}{:08x}\"}}\n", crc32(open.as_bytes()))
}

/// Reads one line, without its line end.
pub(super) fn read(bytes: &[u8]) -> Result<Entry, Unreadable> {
    let damaged = |why: String| Unreadable { why, cut_off: false };
    let cut_off = |why: &str| Unreadable { why: why.to_owned(), cut_off: true };
    // a file that grew without its bytes reaching the disk ends in zeros
    let kept = bytes.len() - bytes.iter().rev().take_while(|byte| **byte == 0).count();
    if kept < bytes.len() || kept == 0 {
        return Err(cut_off("nothing but zeros, or nothing at all, where it should go on"));
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) if error.error_len().is_none() => return Err(cut_off("it stops in the middle of a letter")),
        Err(_) => return Err(damaged("it is not UTF-8 text".to_owned())),
    };
    let mut object: Map<String, Value> = serde_json::from_str(text).map_err(|error| {
        if error.is_eof() { cut_off("it stops in the middle of an entry") } else { damaged(format!("not JSON: {error}")) }
    })?;
    if let Some(check) = object.remove("check") {
        let open = text.rsplit_once(CHECK).map_or(text, |(open, _)| open);
        let sum = format!("{:08x}", crc32(open.as_bytes()));
        if check.as_str() != Some(&sum) || text.len() != open.len() + CHECK.len() + sum.len() + 2 {
            return Err(damaged(format!("its check is {check} and should be \"{sum}\": a letter or a digit has changed")));
        }
    }
    let version = object.remove("version").unwrap_or(json!(VERSION));
    if version != json!(VERSION) {
        return Err(damaged(format!("it is of version {version}; this program reads version {VERSION}")));
    }
    let number = object.remove("entry").and_then(|value| value.as_u64()).filter(|number| *number > 0);
    let number = number.ok_or_else(|| damaged("`entry` is no number from 1".to_owned()))?;
    let at = object.remove("at").unwrap_or(Value::Null);
    let at = at.as_str().ok_or_else(|| damaged("`at` is no text".to_owned()))?;
    let at = Moment::parse(at).map_err(|why| damaged(format!("`at`: {why}")))?;
    let event: Event = serde_json::from_value(Value::Object(object)).map_err(|error| damaged(error.to_string()))?;
    event.check().map_err(damaged)?;
    Ok(Entry { number, at, event })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_check_value_of_the_standard() {
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    }
}
