//! Chelates at a pH that is out of what they bear.

use super::acidity::told;
use super::{Code, Facts, Finding, Substance};
use crate::quantity::trimmed;
use crate::solution::{Acidity, PhSpan};

/// The chelates of a mix that lose their metal.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    found.extend(facts.ph.iter().flat_map(|ph| chelates_outside(facts.substances, ph)));
}

/// Chelates that are surely out of their range at a pH.
#[must_use]
pub fn chelates_outside(substances: &[Substance], ph: &Acidity) -> Vec<Finding> {
    substances.iter().filter_map(|substance| chelate_outside(substance, ph)).collect()
}

fn chelate_outside(substance: &Substance, ph: &Acidity) -> Option<Finding> {
    let chelate = substance.chelate.as_ref()?;
    let (low, high) = chelate.ph_range;
    let outside = |span: &PhSpan| span.low > high || span.high < low;
    let (span, when) =
        [(&ph.fresh, "right after mixing"), (&ph.aired, "after days in air")].into_iter().find(|(span, _)| outside(span))?;
    let range = |(low, high): (f64, f64)| format!("{} to {}", trimmed(low, 1), trimmed(high, 1));
    let everywhere = |of: (f64, f64)| within(&ph.fresh, of) && within(&ph.aired, of);
    let holds = chelate.others.iter().find(|(_, of)| everywhere(*of));
    Some(Finding {
        source: chelate.source.clone(),
        ..Finding::warning(
            Code::ChelateOutside,
            format!(
                "{} holds at pH {}, and pH comes to {} {when}: out of that it lets its metal go.",
                substance.name,
                range(chelate.ph_range),
                told(span.ph, if span.low > high { high } else { low })
            ),
        )
        .remedy(match holds {
            Some((name, of)) => format!("{name} holds there (pH {}).", range(*of)),
            None if span.low > high => "No chelate of the table holds there: bring the pH down.".to_owned(),
            None => "No chelate of the table holds there: bring the pH up.".to_owned(),
        })
    })
}

/// True where a pH is in a range at both of its ends.
fn within(span: &PhSpan, (low, high): (f64, f64)) -> bool {
    span.low >= low && span.high <= high
}
