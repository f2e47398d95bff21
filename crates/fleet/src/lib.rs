//! What was done and caught in each place, over the pools of many boats: by SQL, here or on several machines.
//!
//! A pool (`waterseam compact`) lies in a folder or in a store that speaks S3. The questions stand in `sql/`, in a
//! dialect that other engines take unchanged; what this crate adds is where the tables are, and who works.
//!
//! ```text
//! effort ──┐                     DataFusion in this process,
//! visits   ├─▶ visits.sql ─┐     or Ballista: a scheduler and any number of executors
//! trips  ──┼─▶ outings.sql ├─▶ layer.sql (always in this process: visits are few)
//! bites  ──┘─▶ bites.sql  ─┘
//! ```
//! The answers to the first three, kept as Parquet, are what `waterseam hotspots --answers` makes its rates and intervals
//! of; whichever engine gave them, they are the same.

pub mod ask;
pub mod cluster;
pub mod csv;
pub mod keep;
mod stores;
