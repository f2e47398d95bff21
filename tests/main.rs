//! Whole runs through the binary: the main job, and every kind of bad input that a card can bring.

#![expect(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]

mod whole {
    pub mod bad_input;
    pub mod cards;
    pub mod cells;
    pub mod clocks;
    pub mod currents;
    pub mod demo;
    pub mod exports;
    pub mod faults;
    pub mod full_disk;
    pub mod helpers;
    pub mod hostile;
    pub mod hotspots;
    pub mod inspect;
    pub mod isotherms;
    pub mod main_job;
    pub mod odd_bites;
    pub mod pages;
    pub mod real_receivers;
    pub mod recopied;
    pub mod rundepth;
    pub mod sensors;
    pub mod time;
    pub mod without_trip;
}
