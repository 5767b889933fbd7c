//! The uptake that meets what was read.

/// An uptake beyond this leaves nothing of what is taken at all.
pub(super) const MOST_UPTAKE: f64 = 30.0;

/// The uptake after which something that falls with it meets its target.
///
/// * `after`: what is there after an uptake
/// * `least`: the least uptake, 0 or under it
///
/// Returns `least` when less would be needed, and [`MOST_UPTAKE`] when no uptake is enough.
pub(super) fn met(after: &dyn Fn(f64) -> Option<f64>, least: f64, target: f64) -> f64 {
    // where nothing can be predicted it counts as low, so that the bracket closes
    let over = |uptake: f64| after(uptake).unwrap_or(0.0) - target;
    let zero = (0.0, over(0.0));
    let (mut low, mut high) = if zero.1 > 0.0 { (zero, (0.1, over(0.1))) } else { ((least, over(least)), zero) };
    if low.1 <= 0.0 {
        return least;
    }
    while high.1 > 0.0 {
        if high.0 >= MOST_UPTAKE {
            return MOST_UPTAKE;
        }
        (low, high) = (high, (2.0 * high.0, over(2.0 * high.0)));
    }
    // false position, the weight of an end that stays twice halved (Illinois)
    let mut stayed = 0;
    for _ in 0..60 {
        let at = low.0 + (high.0 - low.0) * low.1 / (low.1 - high.1);
        let found = over(at);
        if found.abs() <= NEAR * target || high.0 - low.0 <= 1e-12 * high.0.abs() {
            return at;
        }
        if found > 0.0 {
            low = (at, found);
            high.1 *= if stayed > 0 { 0.5 } else { 1.0 };
            stayed = 1;
        } else {
            high = (at, found);
            low.1 *= if stayed < 0 { 0.5 } else { 1.0 };
            stayed = -1;
        }
    }
    0.5 * (low.0 + high.0)
}

/// A target is met this nearly, as a fraction.
const NEAR: f64 = 1e-11;
