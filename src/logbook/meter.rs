//! How the meter reads against what is predicted.

use super::{MeterBy, Moment, Slip, State};

/// A meter, the volume and the model together explain a reading that is off by this fraction at the most. Own choice.
const METER_FACTOR: f64 = 0.15;

/// A first reading within this many days of a filling or an analysis says how the meter reads, not what plants took. Own choice.
pub(super) const FRESH_DAYS: f64 = 1.0;

impl State {
    /// What told the content without the meter, where that is no more than a day ago and no reading was held against it since.
    pub(super) fn known_by(&self, at: Moment) -> Option<MeterBy> {
        self.known.filter(|(known, _)| at.days_since(known) <= FRESH_DAYS).map(|(_, by)| by)
    }

    /// Learns from a reading how the meter reads, or notes that it is too far off to; true where it was learnt.
    ///
    /// * `predicted_ms_cm`: EC of the likely content at that moment
    pub(super) fn meter_read(&mut self, entry: u64, ec_ms_cm: f64, predicted_ms_cm: f64, by: MeterBy) -> bool {
        let factor = ec_ms_cm / predicted_ms_cm;
        let learnt = (factor - 1.0).abs() <= METER_FACTOR;
        if learnt {
            (self.meter_factor, self.meter_by) = (factor, Some(by));
        } else {
            self.slips.push(Slip::MeterOff { by, entry, ec_ms_cm, predicted_ms_cm });
        }
        learnt
    }

    /// A reading up to a day before an analysis was held against what was thought to be there: how the meter reads follows
    /// from what is.
    ///
    /// * `thought_ms_cm`, `is_ms_cm`: EC at the analysis, as reckoned from that reading and as found
    pub(super) fn meter_read_before(&mut self, analysed: Moment, thought_ms_cm: Option<f64>, is_ms_cm: Option<f64>) {
        let Some((_, entry, ec)) = self.reckoned.filter(|(read, ..)| analysed.days_since(read) <= FRESH_DAYS) else {
            return;
        };
        if let (Some(thought), Some(is)) = (thought_ms_cm.filter(|ec| *ec > 0.0), is_ms_cm.filter(|ec| *ec > 0.0)) {
            let predicted_then = ec / self.meter_factor * is / thought;
            self.meter_read(entry, ec, predicted_then, MeterBy::Analysis);
        }
    }
}
