//! The tank: volume and content, and the three courses that the content may have taken.

use crate::matter::Nutrients;

/// One of the three courses that the content of the tank may have taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Track {
    /// The one that leaves the least nitrogen; warnings go by it.
    Low,
    /// The likely one.
    Likely,
    /// The one that leaves the most nitrogen.
    High,
}

/// Every track, in the order of [`Tank::left_mg`].
pub const TRACKS: [Track; 3] = [Track::Low, Track::Likely, Track::High];

/// The tank: volume and content.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tank {
    /// Everything, what medium and pipes hold back included, L.
    pub volume_l: f64,
    /// What medium and pipes hold back, L.
    pub held_back_l: f64,
    /// Water that went in, less what was let out, L: more than the volume by what leaves and air took, which leaves behind what the
    /// water brought.
    pub water_l: f64,
    /// What went in less what was drained, nothing taken up, mg.
    pub booked_mg: Nutrients,
    /// What is left when plants took their share, by [`TRACKS`], mg.
    pub left_mg: [Nutrients; 3],
}

impl Tank {
    /// Water that went in for each litre of it; 1 in an empty tank.
    #[must_use]
    pub fn water_per_l(&self) -> f64 {
        self.water_per_l_after(0.0, 0.0)
    }

    /// The same after so much is let out, and so much water filled in, L.
    #[must_use]
    pub fn water_per_l_after(&self, drained_l: f64, filled_l: f64) -> f64 {
        let kept = if self.volume_l > 1e-6 { (1.0 - drained_l / self.volume_l).max(0.0) } else { 0.0 };
        let volume_l = self.volume_l * kept + filled_l;
        if volume_l > 1e-6 { (self.water_l * kept + filled_l) / volume_l } else { 1.0 }
    }

    /// Concentrations of a content in mg, ppm; none in an empty tank.
    #[must_use]
    pub fn ppm(&self, mg: &Nutrients) -> Option<Nutrients> {
        (self.volume_l > 1e-6).then(|| mg.scaled(1.0 / self.volume_l))
    }

    /// The concentrations of a track, ppm; none in an empty tank.
    #[must_use]
    pub fn ppm_on(&self, track: Track) -> Option<Nutrients> {
        self.ppm(&self.left_mg[track as usize])
    }
}
