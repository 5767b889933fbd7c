//! Ids and names as the bench file takes them.

use super::reader::Item;
use crate::quantity::unseen;

/// An id: lower-case letters, digits and hyphens.
pub(super) fn well_formed<'a>(item: &Item<'a>) -> Option<&'a str> {
    let id = item.text("an id in quotes")?;
    let fits = !id.is_empty() && id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
    if !fits {
        item.wrong(format!("read \"{id}\"; an id is lower-case letters, digits and hyphens"), None);
    }
    fits.then_some(id)
}

/// A name goes into calendars and tables, where a line break or a terminal's command has no business.
pub(super) fn plain_name<'a>(item: &Item<'a>) -> Option<&'a str> {
    let name = item.text("a name in quotes")?;
    let fits = !name.trim().is_empty() && name.chars().count() <= 60 && unseen(name).is_none();
    if !fits {
        item.wrong(format!("read {}; a name is 1 to 60 characters on one line", item.read()), None);
    }
    fits.then_some(name)
}
