//! "Did you mean": the nearest known word, the same on every run.

/// The known word nearest to `typed`, where one is near enough to be meant; the first of equals wins.
#[must_use]
pub fn nearest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let mut best: Option<(usize, &str)> = None;
    for word in known {
        let far = strsim::damerau_levenshtein(&typed.to_lowercase(), &word.to_lowercase());
        if best.is_none_or(|(least, _)| far < least) {
            best = Some((far, word));
        }
    }
    let (far, word) = best?;
    (far <= 1 + typed.chars().count().max(word.chars().count()) / 4).then_some(word)
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
