//! Sentences in the grammars that are read, and the laws that every answer keeps: what the targets share.
//!
//! Most sentences are right, so that most inputs get past the parser; into one in eight a slip is put.

pub mod bench;
pub mod count;
pub mod draw;
pub mod laws;
pub mod logbook;
pub mod recipe;
pub mod request;
