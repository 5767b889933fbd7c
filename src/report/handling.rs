//! WATCH, HOW TO MIX and SAFETY: findings, the order of mixing, labels and cautions, and where the words come from.

use super::page::{Block, Leaf, Marks, Medium, Page, Table, bold, left, strong};
use super::words::whom;
use crate::catalogue::Source;
use crate::jobs::{General, Handling, Label, MixRecord, Pictures, Step, VerdictWord, Worded};
use crate::safety::{Code, Finding, Severity};

/// What stops a mix and what it misses, or how well it meets what is asked: under the title.
pub(super) fn first_line(page: &mut Page, record: &MixRecord) {
    let words = match record.verdict.word {
        VerdictWord::Stop => record.verdict.misses.as_ref(),
        _ => Some(&record.verdict.line),
    };
    // a stop that tells what to pour is read with goggles on
    let pours = |finding: &Finding| finding.severity == Severity::Stop && !finding.adds.is_empty();
    let first = record.findings.iter().any(pours);
    if first {
        put_on(page, &record.cautions);
    }
    stops(page, record);
    if let Some(words) = words {
        page.say(bold(words));
    }
    if !first {
        put_on(page, &record.cautions);
    }
}

/// What is worn before the first bag or bottle is opened; nothing where nothing is weighed that asks for it.
pub(super) fn put_on(page: &mut Page, cautions: &[General]) {
    const IN_THIS_ORDER: [&str; 4] = ["goggles", "gloves", "apron", "dust mask"];
    let worn = |what: &&str| cautions.iter().any(|caution| caution.wear.iter().any(|one| one == what));
    let worn: Vec<&str> = IN_THIS_ORDER.into_iter().filter(worn).collect();
    if !worn.is_empty() {
        page.say(format!("On before anything is opened: {}.", worn.join(", ")));
    }
}

/// True for what is told before all else: what stops a mix, and a label that spoils it for want of a few words.
fn is_first(finding: &Finding) -> bool {
    finding.severity == Severity::Stop || finding.code == Code::NitrogenFormUnknown
}

/// What stops a mix, with its remedy.
pub(super) fn stops(page: &mut Page, record: &MixRecord) {
    let stops: Vec<Finding> = record.findings.iter().filter(|finding| is_first(finding)).cloned().collect();
    if !stops.is_empty() {
        page.add(Block::Findings(stops));
    }
}

/// What to watch.
pub(super) fn watch(page: &mut Page, findings: &[Finding]) {
    watch_of(page, findings, "");
}

/// What to watch of one state of a tank, where a page tells of two.
pub(super) fn watch_of(page: &mut Page, findings: &[Finding], state: &str) {
    page.section("Watch", state);
    page.leaf(Leaf::More);
    self::findings(page, findings);
}

/// What to watch beside what the verdict has told.
pub(super) fn watch_beside(page: &mut Page, findings: &[Finding]) {
    let (mut missed, mut rest): (Vec<Finding>, Vec<Finding>) = findings
        .iter()
        .filter(|finding| !is_first(finding))
        .cloned()
        .partition(|finding| finding.code == Code::TargetMissed);
    // how far stands at the head and in the column beside it
    if missed.len() > MISSED_EACH {
        let names: Vec<&str> = missed.iter().filter_map(|finding| finding.message.split(' ').next()).collect();
        let all = format!(
            "{} targets are missed by more than their give or take, as told at the head: {}.",
            names.len(),
            names.join(", ")
        );
        missed = vec![Finding { message: all, ..missed[0].clone() }];
    }
    missed.append(&mut rest);
    missed.sort_by_key(|finding| finding.severity);
    watch(page, &missed);
}

/// So many missed targets are told one by one.
const MISSED_EACH: usize = 2;

/// Findings without a heading.
pub(super) fn findings(page: &mut Page, findings: &[Finding]) {
    if findings.is_empty() {
        page.line("nothing to report");
    } else {
        page.add(Block::Findings(findings.to_vec()));
    }
}

/// How to make the solution.
pub(super) fn how_to(page: &mut Page, record: &MixRecord) {
    steps(page, &record.order);
}

/// The steps of making or filling up.
pub(super) fn steps(page: &mut Page, order: &[Step]) {
    page.section("How to mix", "");
    page.list(Marks::Numbers(2, 2), order.iter().map(|step| step.text.as_str()));
}

/// Hazards and cautions of a mix, and its sources; `pictures` has the words of the labels, for a sheet.
///
/// * `number`: of a salt in the list above, where it has one
pub(super) fn safety(
    page: &mut Page,
    record: &MixRecord,
    number: &dyn Fn(&str) -> Option<usize>,
    pictures: Option<&Pictures>,
) {
    let labels = pictures.map_or(&[][..], |pictures| &pictures.labels);
    handling(page, number, &record.handling, &record.cautions, labels);
    sources(page, &record.sources, labels);
}

/// Hazards and cautions of salts, by their number in the list above; by name what has none there.
///
/// * `number`: of a salt in the list above, where it has one
pub(super) fn handling(
    page: &mut Page,
    number: &dyn Fn(&str) -> Option<usize>,
    handling: &[Handling],
    cautions: &[General],
    labels: &[Label],
) {
    let listed = if handling.iter().any(|one| number(&one.salt).is_some()) { "numbers as listed; " } else { "" };
    page.section("Safety", &format!("{listed}* a stricter source; `bloomsalt salts ID` tells all"));
    page.leaf(Leaf::More);
    let cautions = cautions.iter().map(|caution| {
        let whom = whom(caution, number, handling);
        let whom = if whom.is_empty() { whom } else { format!(" ({whom})") };
        strong(&caution.heading).and(format!("{whom}: {}", caution.text))
    });
    page.list(Marks::Nothing(3), cautions).look("cautions");
    // codes come last: what to do is read first
    page.only(Medium::Text, |page| hazards(page, number, handling));
    page.only(Medium::Sheet, |page| what_labels_say(page, number, handling, labels));
}

/// Cautions and hazards of what is weighed for a second mix on a page: nobody looks for them under the first. What concerns
/// every mix is told there.
///
/// * `number`: of a salt in a list above, where it has one
/// * `salts`: ids of what is weighed
pub(super) fn handling_beside(page: &mut Page, number: &dyn Fn(&str) -> Option<usize>, of: &MixRecord, salts: &[String]) {
    let weighed: Vec<Handling> = of.handling.iter().filter(|one| salts.contains(&one.salt)).cloned().collect();
    let number = |salt: &str| number(salt).filter(|_| salts.iter().any(|id| id == salt));
    let cautions = of.cautions.iter().filter(|one| one.salts.iter().any(|salt| salts.contains(salt)));
    let cautions =
        cautions.map(|one| strong(&one.heading).and(format!(" ({}): {}", whom(one, &number, &weighed), one.text)));
    page.list(Marks::Nothing(3), cautions).look("cautions");
    hazards(page, &number, &weighed);
}

/// Ids of what a mix says how to handle, and another does not.
pub(super) fn not_told(of: &MixRecord, told: &MixRecord) -> Vec<String> {
    let is_told = |salt: &String| told.handling.iter().any(|one| one.salt == *salt);
    of.handling.iter().map(|one| one.salt.clone()).filter(|salt| !is_told(salt)).collect()
}

/// The EU's signal word, and marked that of a stricter source where it says more.
fn signal_words(one: &Handling) -> Option<String> {
    let marked = one.stricter_word.as_ref().map(|word| format!("{word}*"));
    let words: Vec<String> = one.signal_word.iter().cloned().chain(marked).collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// Signal words with what they stand for in one paragraph: on a screen the cautions are to fit in beside it.
fn hazards(page: &mut Page, number: &dyn Fn(&str) -> Option<usize>, handling: &[Handling]) {
    let of = |one: &Handling| {
        let name = number(&one.salt).map_or_else(|| one.name.clone(), |place| place.to_string());
        let mark = |code: &String| if one.stricter.contains(code) { format!("{code}*") } else { code.clone() };
        format!("{name} {}", one.hazards.iter().map(mark).collect::<Vec<_>>().join(" "))
    };
    let under = |words: &str| {
        let of_words = |one: &&Handling| signal_words(one).unwrap_or_else(|| "No word".to_owned()) == words;
        let all: Vec<String> = handling.iter().filter(|one| !one.hazards.is_empty()).filter(of_words).map(of).collect();
        (!all.is_empty()).then(|| format!("{words}: {}.", all.join("; ")))
    };
    let most_severe_first = ["Danger", "Danger*", "Warning, Danger*", "Warning", "Warning*", "No word"];
    let words: Vec<String> = most_severe_first.into_iter().filter_map(under).collect();
    if !words.is_empty() {
        page.say(words.join(" "));
    }
}

/// Signal word, pictograms and statements of each salt.
fn what_labels_say(page: &mut Page, number: &dyn Fn(&str) -> Option<usize>, handling: &[Handling], labels: &[Label]) {
    let shown: Vec<(&Handling, &Label)> = handling
        .iter()
        .filter_map(|one| Some((one, labels.iter().find(|label| label.salt == one.salt)?)))
        .filter(|(_, label)| !label.statements.is_empty())
        .collect();
    if shown.is_empty() {
        return;
    }
    let mut pictograms: Vec<&Worded> = shown.iter().flat_map(|(_, label)| &label.pictograms).collect();
    pictograms.sort_by(|a, b| a.code.cmp(&b.code));
    pictograms.dedup_by(|a, b| a.code == b.code);
    let worded = |one: &&Worded| strong(&one.code).and(format!(" {}", one.words));
    page.section("What the labels say", "");
    page.leaf(Leaf::Annex);
    page.list(Marks::Nothing(3), pictograms.iter().map(worded)).look("pictograms");
    let mut table = Table::new([left("salt"), left("signal word"), left("pictograms"), left("statements")]);
    for (one, label) in shown {
        let place = number(&one.salt).map_or_else(String::new, |number| format!("{number}. "));
        let codes: Vec<&str> = label.pictograms.iter().map(|one| one.code.as_str()).collect();
        let statements: Vec<String> = label.statements.iter().map(|one| format!("{} {}", one.code, one.words)).collect();
        table.cells(vec![
            format!("{place}{}", one.name).into(),
            strong(signal_words(one).unwrap_or_else(|| "none".to_owned())),
            codes.join(" ").into(),
            statements.join("; ").into(),
        ]);
    }
    page.table(table).look("labels");
}

/// Where the numbers and the words come from, each with its grade.
pub(super) fn sources(page: &mut Page, sources: &[Source], labels: &[Label]) {
    let mut all: Vec<&Source> = sources.iter().collect();
    for source in labels.iter().flat_map(|label| &label.sources) {
        if !all.iter().any(|other| other.id == source.id) {
            all.push(source);
        }
    }
    page.only(Medium::Sheet, |page| {
        page.section("Sources", "and how far they can be trusted");
        page.leaf(Leaf::Annex);
        let items = all.iter().map(|one| strong(format!("[{}]", one.grade.words())).and(format!(" {}", one.citation)));
        page.list(Marks::Nothing(3), items).look("sources");
    });
}
