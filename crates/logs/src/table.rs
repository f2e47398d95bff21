//! How is a delimited table laid out, and what stands in its rows?
//!
//! Tables come off loggers, phones and spreadsheets: comma, semicolon or tab, a preamble before the headings,
//! a row of units behind them, decimal commas, several ways to write a date. What one row cannot tell (which
//! number is the month, whether a comma is a decimal comma) is settled by the whole file, so a table is read
//! twice: once for evidence, once for its values.

pub(crate) mod account;
pub(crate) mod fields;
pub(crate) mod heading;
pub(crate) mod layout;
pub(crate) mod moment;
pub(crate) mod number;
pub(crate) mod rows;
pub(crate) mod vocabulary;
pub(crate) mod when;
