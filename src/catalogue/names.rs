//! Salts by every name that a grower may have for them.

use super::{Catalogue, SaltId};
use crate::matter::{Formula, Salt};
use crate::suggest;

impl Catalogue {
    /// The salts that are meant by `words`, in the order of the table; empty where none is.
    ///
    /// The closest kind of fit decides alone: the id; then a whole name, abbreviation (`MKP`) or formula, its water of
    /// crystallisation behind `·`, `.` or `*`; then a formula without that water; then every word the beginning of a word of
    /// the salt's names; then every word somewhere in them. Letters of a formula keep their case, those of names do not.
    ///
    /// # Examples
    /// ```
    /// let table = bloomsalt::catalogue::Catalogue::standard();
    /// let ids = |words| table.search(words).into_iter().map(|id| table.salt(id).id.as_str()).collect::<Vec<_>>();
    /// assert_eq!(ids("epsom"), ["magnesium-sulfate-heptahydrate"]);
    /// assert_eq!(ids("MgSO4·7H2O"), ["magnesium-sulfate-heptahydrate"]);
    /// assert_eq!(ids("MgSO4"), ["magnesium-sulfate-heptahydrate", "magnesium-sulfate-monohydrate"]);
    /// ```
    #[must_use]
    pub fn search(&self, words: &str) -> Vec<SaltId> {
        let called = self.called(words);
        if !called.is_empty() {
            return called;
        }
        let formula = plain_formula(words);
        let without_water = |salt: &Salt| {
            let text = salt.formula.as_ref().map(ToString::to_string).unwrap_or_default();
            text.split_once('.').is_some() && text.split('.').any(|part| part == formula)
        };
        let words = words_of(words);
        let names = |salt: &Salt| names(salt).flat_map(words_of).collect::<Vec<_>>();
        let each = |fits: fn(&str, &str) -> bool| {
            self.those(|salt| {
                let names = names(salt);
                !words.is_empty() && words.iter().all(|word| names.iter().any(|name| fits(name, word)))
            })
        };
        let kinds: [&dyn Fn() -> Vec<SaltId>; 3] =
            [&|| self.those(without_water), &|| each(|name, word| name.starts_with(word)), &|| {
                each(|name, word| name.contains(word))
            }];
        kinds.iter().map(|found| found()).find(|found| !found.is_empty()).unwrap_or_default()
    }

    /// The salts that have exactly this id, name, abbreviation or formula.
    #[must_use]
    pub fn called(&self, name: &str) -> Vec<SaltId> {
        if let Some(id) = self.find(name.trim()) {
            return vec![id];
        }
        let formula = Formula::parse(&plain_formula(name), self.elements()).ok();
        let wanted = words_of(name);
        let by_name = |salt: &Salt| names(salt).any(|name| words_of(name) == wanted);
        self.those(|salt| {
            let same = |formula: &Formula| salt.formula.as_ref().is_some_and(|own| own.counts().eq(formula.counts()));
            formula.as_ref().is_some_and(same) || (!wanted.is_empty() && by_name(salt))
        })
    }

    /// The salts of which a name begins with these words, so that `calcium chloride` finds every one of its hydrates.
    ///
    /// # Examples
    /// ```
    /// let table = bloomsalt::catalogue::Catalogue::standard();
    /// let ids = |words| table.beginning_with(words).into_iter().map(|id| table.salt(id).id.as_str()).collect::<Vec<_>>();
    /// assert_eq!(ids("calcium chloride"), ["calcium-chloride-dihydrate", "calcium-chloride-anhydrous"]);
    /// assert_eq!(ids("epsom salts"), ["magnesium-sulfate-heptahydrate"]);
    /// ```
    #[must_use]
    pub fn beginning_with(&self, words: &str) -> Vec<SaltId> {
        let words = words_of(words);
        self.those(|salt| !words.is_empty() && names(salt).any(|name| words_of(name).starts_with(&words)))
    }

    /// What to say to an id that no salt has: what has it for a name, or what was probably meant.
    #[must_use]
    pub fn meant(&self, typed: &str) -> Option<String> {
        let quoted =
            |ids: &[SaltId]| ids.iter().map(|id| format!("`{}`", self.salt(*id).id)).collect::<Vec<_>>().join(" or ");
        let called = self.called(typed);
        match called[..] {
            [] => {}
            [_] => return Some(format!("{} is {}", typed.trim(), quoted(&called))),
            _ => return Some(format!("{} may be {}", typed.trim(), quoted(&called))),
        }
        // a name with the figures of its bag behind it: MKP 0-52-34
        let named = typed.split_whitespace().filter(|word| word.chars().any(char::is_alphabetic));
        let named = named.collect::<Vec<_>>().join(" ");
        if named != typed.trim() && !self.called(&named).is_empty() {
            return self
                .meant(&named)
                .map(|meant| format!("{meant}; a bag that is not that goes in by its label, as a product"));
        }
        let by_strength = typed.trim().trim_end_matches('%').trim_end().to_lowercase().replace(' ', "-");
        if self.of_strength(&by_strength).is_some() {
            return Some(format!("{} is `{by_strength}`", typed.trim()));
        }
        let ids = self.salts.iter().map(|salt| salt.id.as_str());
        let near = suggest::nearest(typed, ids).map(|id| format!("did you mean `{id}`?"));
        near.or_else(|| {
            let found = self.search(typed);
            (1..=FEW).contains(&found.len()).then(|| format!("did you mean {}?", quoted(&found)))
        })
        .or_else(|| {
            let formulas = self.salts.iter().map(|salt| salt.formula.as_ref().map(ToString::to_string));
            let formulas: Vec<String> = formulas.map(Option::unwrap_or_default).collect();
            let all = self.salts.iter().zip(&formulas);
            let all = all.flat_map(|(salt, formula)| names(salt).chain([formula.as_str()]).map(|name| (name, &salt.id)));
            let near = suggest::nearest(typed, all.clone().map(|(name, _)| name))?;
            let (name, id) = all.clone().find(|(name, _)| *name == near)?;
            Some(format!("did you mean {name}, which is `{id}`?"))
        })
    }

    fn those(&self, fits: impl Fn(&Salt) -> bool) -> Vec<SaltId> {
        (0..self.salts.len()).filter(|at| fits(&self.salts[*at])).map(SaltId).collect()
    }
}

/// So many salts are named in a suggestion.
const FEW: usize = 3;

/// Every name that a salt has in words.
fn names(salt: &Salt) -> impl Iterator<Item = &str> + Clone {
    [salt.id.as_str(), salt.name.as_str()].into_iter().chain(salt.other_names.iter().map(String::as_str))
}

/// The words of a name: lower case, without what stands between them, in one spelling of sulfur and saltpetre, one for many.
fn words_of(name: &str) -> Vec<String> {
    let lower = name.to_lowercase().replace("sulph", "sulf").replace("saltpeter", "saltpetre");
    let one = |word: &str| match word.strip_suffix('s') {
        Some(one) if one.len() > 3 && !one.ends_with('s') => one.to_owned(),
        _ => word.to_owned(),
    };
    lower.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty()).map(one).collect()
}

/// A formula as the table writes it: figures on the line, a full stop before water.
fn plain_formula(text: &str) -> String {
    let plain = |letter: char| match letter {
        '·' | '•' | '∙' | '⋅' | '*' => '.',
        '₀'..='₉' => char::from_digit(u32::from(letter) - u32::from('₀'), 10).unwrap_or(letter),
        letter => letter,
    };
    text.chars().filter(|letter| !letter.is_whitespace()).map(plain).collect()
}

#[cfg(test)]
mod tests {
    use crate::catalogue::Catalogue;

    /// An acid by its strength is told as the file takes it, and not another strength of it.
    #[test]
    fn an_acid_is_meant_by_its_strength() {
        let table = Catalogue::standard();
        let words = [
            ("nitric acid 10 %", "nitric-acid-10"),
            ("Phosphoric acid 7.5%", "phosphoric-acid-7.5"),
            ("sulfuric acid 20", "sulfuric-acid-20"),
        ];
        for (typed, id) in words {
            assert_eq!(table.meant(typed), Some(format!("{typed} is `{id}`")));
        }
        assert!(table.meant("nitric acid 99 %").is_none_or(|said| !said.contains("nitric-acid-99")));
    }
}
