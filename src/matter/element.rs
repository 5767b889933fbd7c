//! Atomic weights.

use std::collections::BTreeMap;

/// Abridged standard atomic weights by symbol.
///
/// Source: IUPAC/CIAAW abridged table 2021, `salts/elements.toml`.
#[derive(Debug, Clone, Default)]
pub struct Elements {
    weights: BTreeMap<String, f64>,
}

impl Elements {
    /// A table from symbols and weights in g/mol.
    pub fn new(rows: impl IntoIterator<Item = (String, f64)>) -> Self {
        Self { weights: rows.into_iter().collect() }
    }

    /// The atomic weight of `symbol` in g/mol, if the table holds it.
    #[must_use]
    pub fn weight(&self, symbol: &str) -> Option<f64> {
        self.weights.get(symbol).copied()
    }

    /// Symbols and weights, by symbol.
    pub fn iter(&self) -> impl Iterator<Item = (&str, f64)> {
        self.weights.iter().map(|(symbol, weight)| (symbol.as_str(), *weight))
    }
}
