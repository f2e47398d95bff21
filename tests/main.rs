//! Whole runs through the binary: the main job, and every kind of bad input that a card can bring.

mod whole {
    pub mod bad_input;
    pub mod helpers;
    pub mod main_job;
}
