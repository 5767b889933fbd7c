/// A pH and what it may be as well (k = 2), however lopsided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhSpan {
    /// The likely one.
    pub ph: f64,
    /// Its low end.
    pub low: f64,
    /// Its high end.
    pub high: f64,
}

/// The pH of a mix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Acidity {
    /// Right after mixing.
    pub fresh: PhSpan,
    /// After days in air.
    pub aired: PhSpan,
}
