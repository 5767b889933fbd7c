//! The one door: every job is one serialisable [`Request`], answered by an [`Answer`] or refused by a [`Refusal`].
//!
//! Quantities are the text that a grower types, files are their text, and a moment is stated: nothing here reads a file,
//! prints or knows the time. What a face needs beside [`ask`] is [`crate::report::render`].
//!
//! ```
//! use bloomsalt::ask::{Request, ask};
//! let request = Request::parse(r#"{ "job": "mix", "formula": "push", "tank": "15.9 gal" }"#)?;
//! assert!(ask(&request).is_ok());
//! let refusal = ask(&Request::parse(r#"{ "job": "mix", "formula": "psh" }"#)?).expect_err("no such formula");
//! assert_eq!(refusal.problems[0].help.as_deref(), Some("did you mean `push`?"));
//! # Ok::<(), bloomsalt::ask::Refusal>(())
//! ```
//!
//! Reference: `docs/ask.md`.

mod answer;
mod bench;
mod check;
mod cycle;
mod document;
mod done;
mod entry;
mod happened;
mod label;
mod logbook;
mod meter;
mod mix;
mod new;
mod refusal;
mod request;
mod salts;
mod scale;
mod stock;
mod switch;
mod today;
mod top_up;
mod typed;

pub use answer::Answer;
pub use bench::{BenchEditRequest, BenchReadRequest};
pub use check::CheckRequest;
pub use cycle::CycleRequest;
pub use document::{Also, Appended, Document, Figures, LogbookTorn};
pub use happened::{AddRequest, Happened};
pub use logbook::{ForecastRequest, MergeRequest, NowRequest, ShowRequest};
pub use meter::MeterFactor;
pub use mix::{BesideRequest, MixRequest, TradeRequest};
pub use new::{NewRequest, SyringeAnswer, WaterAnswer};
pub use refusal::{Problem, Refusal};
pub use request::Request;
pub use salts::SaltsRequest;
pub use scale::ScaleRequest;
pub use stock::StockRequest;
pub use switch::SwitchRequest;
pub use today::TodayRequest;
pub use top_up::TopUpRequest;
#[cfg(feature = "cli")]
pub(crate) use typed::LOGBOOKS;

/// Does what is asked.
///
/// # Errors
/// A [`Refusal`] with every problem, and the limits that contradict each other.
pub fn ask(request: &Request) -> Result<Answer, Refusal> {
    if request.also().contains(&Also::Remedy) && !matches!(request, Request::Check(_)) {
        return Err(Refusal::input("usage", "`remedy` goes with `check`", None).of_job(request.job()));
    }
    let answered = match request {
        Request::Mix(asked) => mix::mix(asked),
        Request::MixBeside(asked) => mix::beside(asked),
        Request::Trade(asked) => mix::trade(asked),
        Request::Check(asked) => check::check(asked),
        Request::Switch(asked) => switch::switch(asked),
        Request::Scale(asked) => scale::scale(asked),
        Request::Stock(asked) => stock::stock(asked),
        Request::Cycle(asked) => cycle::cycle(asked),
        Request::LogbookAdd(asked) => entry::add(asked),
        Request::LogbookShow(asked) => logbook::show(asked),
        Request::LogbookMerge(asked) => logbook::merge(asked),
        Request::LogbookNow(asked) => logbook::now(asked),
        Request::LogbookForecast(asked) => logbook::forecast(asked),
        Request::Today(asked) => today::today(asked),
        Request::TopUp(asked) => top_up::top_up(asked),
        Request::New(asked) => new::new(asked),
        Request::BenchRead(asked) => bench::read(asked),
        Request::BenchEdit(asked) => bench::edit(asked),
        Request::Salts(asked) => salts::salts(asked),
    };
    answered.map_err(|refusal| refusal.of_job(request.job()))
}
