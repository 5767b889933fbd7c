//! A label and a water report as they are typed: words and figures as keys.

use super::Refusal;
use crate::catalogue::Catalogue;
use crate::jobs::NewProduct;

/// A key and its value: `Ca=40`, or as one says it, `Ca 40`.
pub(super) fn pair(typed: &str) -> Option<(&str, &str)> {
    let (key, value) = typed.split_once(['=', ':']).or_else(|| typed.trim().split_once(' '))?;
    let (key, value) = (key.trim(), value.trim());
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    let sound = !key.is_empty() && key.chars().all(plain) && !value.is_empty() && !value.chars().any(char::is_control);
    sound.then_some((key, value))
}

/// Words of a label before its per cents, in the place of which its keys stand.
const OF_LABELS: [(&str, &str); 8] = [
    ("nitrate nitrogen", "NO3-N"),
    ("nitric nitrogen", "NO3-N"),
    ("ammonium nitrogen", "NH4-N"),
    ("ammoniacal nitrogen", "NH4-N"),
    ("urea nitrogen", "urea-N"),
    ("ureic nitrogen", "urea-N"),
    ("total nitrogen", "N"),
    ("nitrogen", "N"),
];

/// A part of a label as its keys have it: `nitrate nitrogen 10.5 %` is `NO3-N 10.5 %`.
fn as_keys(part: &str) -> String {
    let lower = part.to_ascii_lowercase();
    let said =
        OF_LABELS.iter().find(|(words, _)| lower.strip_prefix(words).is_some_and(|rest| rest.starts_with([' ', '='])));
    said.map_or_else(|| part.to_owned(), |(words, key)| format!("{key}{}", &part[words.len()..]))
}

/// A labelled product: its name, a colon, and its label.
pub(super) fn product(typed: &str) -> Result<NewProduct, Refusal> {
    let wrong = |message: String| {
        let help = Some("write it as in complete feed: NO3-N 8, NH4-N 2, P2O5 10, K2O 30, MgO 4, Fe 0.1".to_owned());
        Refusal::input("answer", message, help).about("products", typed, None)
    };
    let (name, label) =
        typed.split_once(':').ok_or_else(|| wrong(format!("`{typed}` has no `:` between name and label")))?;
    let name = name.trim();
    let words: Vec<String> = name
        .to_lowercase()
        .split(|letter: char| !letter.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect();
    if words.is_empty() || name.chars().any(char::is_control) {
        return Err(wrong(format!("`{typed}` has no name before its label")));
    }
    let mut product = NewProduct { name: name.to_owned(), id: words.join("-"), density: None, label: Vec::new() };
    if Catalogue::standard().find(&product.id).is_some() {
        return Err(wrong(format!("`{name}` is a salt of the table; give the product another name")));
    }
    for part in label.split(',').map(str::trim).filter(|part| !part.is_empty()) {
        let part = &as_keys(part);
        let (key, value) = pair(part).ok_or_else(|| wrong(format!("`{part}` is no key and per cent of a label")))?;
        if key.eq_ignore_ascii_case("density") {
            product.density = Some(value.to_owned());
            continue;
        }
        let percent = value.trim_end_matches('%').trim();
        if percent.parse::<f64>().is_err() {
            return Err(wrong(format!("`{part}`: `{value}` is no per cent")));
        }
        product.label.push((key.to_owned(), percent.to_owned()));
    }
    if product.label.is_empty() {
        return Err(wrong(format!("`{name}` has no label")));
    }
    Ok(product)
}
