//! What to watch: findings with their severity in words.

use maud::{Markup, html};

use super::page::section;
use crate::safety::{Finding, Severity};

/// The findings of a job.
pub(super) fn watch(findings: &[Finding]) -> Markup {
    section("watch", "What to watch", "", &list(findings))
}

/// Findings as a list.
pub(super) fn list(findings: &[Finding]) -> Markup {
    html! {
        @if findings.is_empty() {
            p { "Nothing to report." }
        } @else {
            ul .findings { @for finding in findings { (one(finding)) } }
        }
    }
}

fn one(finding: &Finding) -> Markup {
    // a border of its own for each, so that no colour is needed to tell them apart
    let (word, class) = match finding.severity {
        Severity::Stop => ("STOP", "stop"),
        Severity::Warning => ("Warning", "warning"),
        Severity::Note => ("Note", "note"),
    };
    html! {
        li {
            span .severity .(class) { (word) } " "
            span .words {
                (finding.message)
                @if let Some(remedy) = &finding.remedy { " " (remedy) }
                " " span .code { "[" (finding.code) "]" }
            }
        }
    }
}
