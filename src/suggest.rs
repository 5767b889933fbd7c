//! "Did you mean": the nearest known word, the same on every run.

/// The known word nearest to `typed`, where one is near enough to be meant; the first of equals wins.
#[must_use]
pub fn nearest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let known: Vec<&str> = known.into_iter().collect();
    // a short form that begins one known word only, or a long form of one: `calcium-nitrate`, `gallon`
    let short: Vec<&str> = known.iter().copied().filter(|word| typed.len() > 1 && word.starts_with(typed)).collect();
    if let [one] = short[..] {
        return Some(one);
    }
    let long = known.iter().copied().filter(|word| word.len() > 1 && typed.starts_with(word)).max_by_key(|word| word.len());
    if let Some(word) = long.filter(|word| short.is_empty() && word.len() * 2 >= typed.len()) {
        return Some(word);
    }
    let mut best: Option<(usize, &str)> = None;
    for word in if short.is_empty() { known } else { short } {
        let far = strsim::damerau_levenshtein(&typed.to_lowercase(), &word.to_lowercase());
        if best.is_none_or(|(least, _)| far < least) {
            best = Some((far, word));
        }
    }
    let (far, word) = best?;
    // something of it must stay: `F` is no slip for `P`
    let kept = far < typed.chars().count().min(word.chars().count());
    let case_only = typed.eq_ignore_ascii_case(word);
    ((kept || case_only) && far <= 1 + typed.chars().count().max(word.chars().count()) / 4).then_some(word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_words_are_found_and_far_ones_are_not() {
        assert_eq!(
            nearest("calcium-nitrate-tetrahidrate", ["urea", "calcium-nitrate-tetrahydrate"]),
            Some("calcium-nitrate-tetrahydrate")
        );
        assert_eq!(nearest("volum", ["volume", "plus_minus"]), Some("volume"));
        assert_eq!(nearest("xyz", ["volume", "temperature"]), None);
        assert_eq!(nearest("mg", ["Mg", "Mn"]), Some("Mg"));
    }
}
