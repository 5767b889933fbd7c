//! Stands in for the crate `web-time`, of which `microlp` takes `Instant` to measure its own time. Everywhere but in a browser
//! that is the one of `std`. In a browser it would bring `wasm-bindgen` with imports from JavaScript, for a deadline that is
//! never set here: a search ends by a count, never by a clock. So there the clock stands still and the module imports nothing.

#[cfg(not(all(target_family = "wasm", target_os = "unknown")))]
pub use std::time::*;

#[cfg(all(target_family = "wasm", target_os = "unknown"))]
pub use still::Instant;

#[cfg(all(target_family = "wasm", target_os = "unknown"))]
mod still {
    use core::ops::Add;
    use core::time::Duration;

    /// A moment by a clock that stands still: the time since the program began, always nothing.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub struct Instant(Duration);

    impl Instant {
        /// The only moment there is.
        #[must_use]
        pub fn now() -> Self {
            Self(Duration::ZERO)
        }

        /// The time since then, as this clock knows it.
        #[must_use]
        pub fn elapsed(&self) -> Duration {
            Self::now().duration_since(*self)
        }

        /// The time since an earlier moment.
        #[must_use]
        pub fn duration_since(&self, earlier: Self) -> Duration {
            self.0.saturating_sub(earlier.0)
        }

        /// The moment after a while, if there is one.
        #[must_use]
        pub fn checked_add(&self, while_: Duration) -> Option<Self> {
            self.0.checked_add(while_).map(Self)
        }
    }

    impl Add<Duration> for Instant {
        type Output = Self;

        fn add(self, while_: Duration) -> Self {
            Self(self.0 + while_)
        }
    }
}
