//! How to handle the salts, how to mix, and where the numbers come from.

use maud::{Markup, html};

use super::page::section;
use crate::catalogue::Source;
use crate::jobs::{General, Handling, Label, MixRecord, Step, Worded};
use crate::report::words::{number_of, whom};

/// Order of mixing, warning labels and cautions, and sources of a mix.
pub(super) fn of_mix(record: &MixRecord, labels: &[Label]) -> Vec<Markup> {
    let number = |salt: &str| number_of(record, salt);
    let listed: Vec<Handling> = record.handling.iter().filter(|h| number(&h.salt).is_some()).cloned().collect();
    vec![handling(&number, &listed, &record.cautions, labels), order(&record.order), sources(&record.sources, labels)]
}

/// Labels and cautions of salts.
///
/// * `number`: of a salt in the list above, where it has one
pub(super) fn handling(
    number: &dyn Fn(&str) -> Option<usize>,
    handling: &[Handling],
    cautions: &[General],
    labels: &[Label],
) -> Markup {
    let shown: Vec<(&Handling, &Label)> = handling
        .iter()
        .filter_map(|one| Some((one, labels.iter().find(|label| label.salt == one.salt)?)))
        .filter(|(one, label)| one.signal_word.is_some() || !label.statements.is_empty())
        .collect();
    let mut pictograms: Vec<&Worded> = Vec::new();
    for one in shown.iter().flat_map(|(_, label)| &label.pictograms) {
        if !pictograms.iter().any(|other| other.code == one.code) {
            pictograms.push(one);
        }
    }
    pictograms.sort_by(|a, b| a.code.cmp(&b.code));
    let body = html! {
        @if !cautions.is_empty() {
            ul .cautions {
                @for caution in cautions {
                    @let whom = whom(caution, number, handling);
                    li { b { (caution.heading) } @if !whom.is_empty() { " (" (whom) ")" } ": " (caution.text) }
                }
            }
        }
        @if !shown.is_empty() {
            h3 { "What the labels say" }
            @if !pictograms.is_empty() {
                ul .pictograms { @for one in &pictograms { li { b .pictogram { (one.code) } " " (one.words) } } }
            }
            table .labels {
                thead { tr { th scope="col" { "salt" } th scope="col" { "signal word" } th scope="col" { "pictograms" } th scope="col" { "statements" } } }
                tbody { @for (one, label) in &shown { (row(number(&one.salt), one, label)) } }
            }
        }
    };
    section("handling", "Handle with care", "numbers as in the list above", &body)
}

fn row(number: Option<usize>, one: &Handling, label: &Label) -> Markup {
    html! {
        tr {
            th scope="row" { @if let Some(number) = number { (number) ". " } (one.name) }
            td { b { (one.signal_word.as_deref().unwrap_or("none")) } }
            td { @for one in &label.pictograms { span .pictogram { (one.code) } " " } }
            td {
                @for (at, one) in label.statements.iter().enumerate() {
                    @if at > 0 { "; " }
                    span .code { (one.code) } " " (one.words)
                }
            }
        }
    }
}

/// How to make the solution.
fn order(steps: &[Step]) -> Markup {
    if steps.is_empty() {
        return html! {};
    }
    section("order", "Order of mixing", "", &html! { ol .steps { @for step in steps { li { (step.text) } } } })
}

/// Where the numbers and the words come from, each with its grade.
pub(super) fn sources(sources: &[Source], labels: &[Label]) -> Markup {
    let mut all: Vec<&Source> = sources.iter().collect();
    for source in labels.iter().flat_map(|label| &label.sources) {
        if !all.iter().any(|other| other.id == source.id) {
            all.push(source);
        }
    }
    let body =
        html! { ul .sources { @for source in all { li { (source.citation) " " b { "[" (source.grade.words()) "]" } } } } };
    section("sources", "Sources", "and how far they can be trusted", &body)
}
