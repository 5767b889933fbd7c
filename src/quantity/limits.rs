//! A range that is open at either end.

/// A lower and an upper limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits<T> {
    /// The least allowed.
    pub min: Option<T>,
    /// The most allowed.
    pub max: Option<T>,
}

impl<T> Default for Limits<T> {
    fn default() -> Self {
        Self { min: None, max: None }
    }
}

impl<T> Limits<T> {
    /// The same limits in another unit.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::quantity::Limits;
    /// let percent = Limits { min: None, max: Some(0.2) }.map(|share: f64| 100.0 * share);
    /// assert_eq!(percent, Limits { min: None, max: Some(20.0) });
    /// ```
    pub fn map<U>(self, to: impl Fn(T) -> U) -> Limits<U> {
        Limits { min: self.min.map(&to), max: self.max.map(&to) }
    }

    /// True where there is a limit.
    pub const fn is_any(&self) -> bool {
        self.min.is_some() || self.max.is_some()
    }
}
