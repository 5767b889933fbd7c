//! A first bench file: what was written, what stays unknown, and what its shelf makes of growth.

use super::page::Page;
use super::text::text;
use super::words::missed;
use crate::jobs::NewRecord;
use crate::quantity::trimmed;

/// What is said of a bench file that was made from answers.
#[must_use]
pub fn new(record: &NewRecord, colour: bool) -> String {
    text(&new_page(record), colour)
}

pub(super) fn new_page(record: &NewRecord) -> Page {
    let mut page = Page::new("A bench file", "from your answers; edit it as you learn more");
    if record.unknown.is_empty() {
        page.line("its water is known");
    } else {
        page.say(format!("Not known of your water, and counted as nothing: {}.", record.unknown.join(", ")));
        for what in &record.unknown {
            page.say(format!("{what}: {}", settles(what)));
        }
        page.say(
            "The supplier's water report has all of these, often on its site; write them into [water]. Until then read the pH and \
             the EC after every mix, or take rain water.",
        );
    }
    for one in &record.taken {
        page.say(format!(
            "{} is taken as `{}`. It may be {} too: where the bag says so, write that under [shelf].",
            one.typed,
            one.salt,
            one.others.iter().map(|other| format!("`{other}`")).collect::<Vec<_>>().join(" or ")
        ));
    }
    for name in &record.nitrogen_unsplit {
        page.say(format!(
            "{name} states N without its forms: all of that counts as ammonium, and no more goes in than the limit of ammonium \
             allows. Its bag, or its maker, says them: write NO3-N, NH4-N and urea-N in place of N into its `analysis`."
        ));
    }
    page.say(format!(
        "Nothing under {} g is weighed on these scales (`trust` in the file): less comes in a dilute bottle that the mix tells of.",
        trimmed(record.smallest_g, 4)
    ));
    match &record.no_growth {
        Some(why) => {
            page.say(format!("growth cannot be mixed on it: {why}"));
        }
        None if record.missed.is_empty() => {
            page.line("growth can be mixed on it, every target within 5 %");
        }
        None => {
            page.say(format!(
                "growth on this shelf misses (ppm): {}; a mix of growth says what would help",
                missed(&record.missed)
            ));
        }
    }
    page
}

/// What a figure of the report would settle.
fn settles(what: &str) -> &'static str {
    match what {
        "alkalinity" => "how far the pH climbs after mixing, and how much acid holds it",
        "Ca" | "Mg" => "how much less of it has to be weighed",
        "Na" => "whether it piles up in the tank, and when to drain",
        "Cl" => "how much chloride salts may still bring",
        "S" => "how much sulfate is there already",
        _ => "how much nitrogen is there already, which a push has to know",
    }
}
