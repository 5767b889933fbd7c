//! Chemical formulas with hydrate water, parsed strictly.

use std::collections::BTreeMap;
use std::fmt;

use super::Elements;

/// The elements of one formula unit and how often each occurs.
///
/// `5Ca(NO3)2.NH4NO3.10H2O` is read as parts joined by dots, each with an optional leading factor; parts may hold
/// nested parentheses. Nothing else is accepted: no charge, no spaces, no unknown element, no count of zero.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Formula {
    counts: BTreeMap<String, u32>,
    text: String,
}

/// Why a text is not a chemical formula.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct FormulaError {
    /// The formula as written.
    pub formula: String,
    /// Byte position of the first thing that does not fit.
    pub at: usize,
    /// What was expected there.
    pub expected: &'static str,
}

impl fmt::Display for FormulaError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not a chemical formula: {} expected at position {}", self.formula, self.expected, self.at + 1)
    }
}

impl std::error::Error for FormulaError {}

/// Counts beyond this are a slip of the pen, and bounding them keeps every product inside `u32`.
const MOST: u32 = 1000;
/// Parentheses deeper than this are refused.
const DEEPEST: usize = 4;

impl Formula {
    /// Reads a formula; every element must be in `elements`.
    ///
    /// # Errors
    /// [`FormulaError`] at the first byte that does not fit.
    ///
    /// # Examples
    /// ```
    /// let catalogue = bloomsalt::catalogue::Catalogue::standard();
    /// let gypsum = bloomsalt::matter::Formula::parse("CaSO4.2H2O", catalogue.elements())?;
    /// assert!((gypsum.molar_mass(catalogue.elements()) - 172.164).abs() < 1e-9);
    /// # Ok::<(), bloomsalt::matter::FormulaError>(())
    /// ```
    pub fn parse(text: &str, elements: &Elements) -> Result<Self, FormulaError> {
        let mut reader = Reader { text, at: 0, elements };
        let mut counts = BTreeMap::new();
        loop {
            let factor = reader.count()?.unwrap_or(1);
            let part = reader.group(0)?;
            for (symbol, count) in part {
                *counts.entry(symbol).or_insert(0) += count * factor;
            }
            match reader.peek() {
                None => break,
                Some(b'.') => reader.at += 1,
                Some(_) => return Err(reader.expected("an element, `(` or `.`")),
            }
        }
        Ok(Self { counts, text: text.to_owned() })
    }

    /// How many atoms of `symbol` one formula unit holds.
    #[must_use]
    pub fn count(&self, symbol: &str) -> u32 {
        self.counts.get(symbol).copied().unwrap_or(0)
    }

    /// Symbols and counts, by symbol.
    pub fn counts(&self) -> impl Iterator<Item = (&str, u32)> {
        self.counts.iter().map(|(symbol, count)| (symbol.as_str(), *count))
    }

    /// Molar mass in g/mol: the sum of atomic weights.
    #[must_use]
    pub fn molar_mass(&self, elements: &Elements) -> f64 {
        self.counts().map(|(symbol, count)| f64::from(count) * elements.weight(symbol).unwrap_or(f64::NAN)).sum()
    }

    /// Mass fraction of one element, 0 to 1.
    #[must_use]
    pub fn mass_fraction(&self, symbol: &str, elements: &Elements) -> f64 {
        f64::from(self.count(symbol)) * elements.weight(symbol).unwrap_or(f64::NAN) / self.molar_mass(elements)
    }
}

impl fmt::Display for Formula {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
    elements: &'a Elements,
}

impl Reader<'_> {
    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn expected(&self, expected: &'static str) -> FormulaError {
        FormulaError { formula: self.text.to_owned(), at: self.at, expected }
    }

    /// A positive whole number without leading zero, if one starts here.
    fn count(&mut self) -> Result<Option<u32>, FormulaError> {
        let start = self.at;
        while self.peek().is_some_and(|b| b.is_ascii_digit()) {
            self.at += 1;
        }
        let digits = &self.text[start..self.at];
        if digits.is_empty() {
            return Ok(None);
        }
        match digits.parse::<u32>() {
            Ok(n) if (1..=MOST).contains(&n) && !digits.starts_with('0') => Ok(Some(n)),
            _ => {
                self.at = start;
                Err(self.expected("a count from 1 to 1000"))
            }
        }
    }

    /// Elements and parenthesised groups up to a dot, a closing parenthesis or the end; at least one.
    fn group(&mut self, depth: usize) -> Result<BTreeMap<String, u32>, FormulaError> {
        let mut counts = BTreeMap::new();
        loop {
            let inner = match self.peek() {
                Some(b'(') if depth < DEEPEST => {
                    self.at += 1;
                    let inner = self.group(depth + 1)?;
                    if self.peek() != Some(b')') {
                        return Err(self.expected("`)`"));
                    }
                    self.at += 1;
                    inner
                }
                Some(b) if b.is_ascii_uppercase() => BTreeMap::from([(self.element()?, 1)]),
                _ if counts.is_empty() => return Err(self.expected("an element")),
                _ => return Ok(counts),
            };
            let times = self.count()?.unwrap_or(1);
            for (symbol, count) in inner {
                let sum: &mut u32 = counts.entry(symbol).or_insert(0);
                *sum += count * times;
                if *sum > MOST {
                    return Err(self.expected("fewer atoms"));
                }
            }
        }
    }

    fn element(&mut self) -> Result<String, FormulaError> {
        let rest = &self.text.as_bytes()[self.at..];
        let long = rest.get(1).is_some_and(u8::is_ascii_lowercase);
        let symbol = &self.text[self.at..self.at + 1 + usize::from(long)];
        if self.elements.weight(symbol).is_none() {
            return Err(self.expected("a known element"));
        }
        self.at += symbol.len();
        Ok(symbol.to_owned())
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    fn elements() -> Elements {
        Elements::new(
            [("H", 1.008), ("N", 14.007), ("O", 15.999), ("Ca", 40.078), ("C", 12.011)].map(|(s, w)| (s.to_owned(), w)),
        )
    }

    #[test]
    fn hydrates_and_double_salts() {
        let f = Formula::parse("5Ca(NO3)2.NH4NO3.10H2O", &elements()).unwrap();
        assert_eq!((f.count("Ca"), f.count("N"), f.count("H"), f.count("O")), (5, 12, 24, 43));
        assert_relative_eq!(f.molar_mass(&elements()), 1080.623, epsilon = 1e-9);
    }

    #[test]
    fn mistakes_name_the_place() {
        for (text, at) in [
            ("", 0),
            ("ca", 0),
            ("Ca(NO3", 6),
            ("Ca(NO3)2.", 9),
            ("CaX", 2),
            ("Ca0", 2),
            ("Ca2+", 3),
            ("Ca NO3", 2),
            ("()", 1),
            ("((((((Ca))))))", 4),
            ("H999999999999", 1),
            ("(H1000)1000", 11),
            ("CaÅ", 2),
        ] {
            assert_eq!(Formula::parse(text, &elements()).map_err(|e| e.at), Err(at), "{text}");
        }
    }
}
