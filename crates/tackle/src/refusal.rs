//! Why does nothing say how deep a setup runs?

/// What is missing, or cannot be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Refusal {
    /// Nobody said how the line is taken down.
    NoMethod,
    /// Nobody said how much line is out.
    NoLineOut,
    /// A clip-on or keel weight of unknown weight.
    NoWeight,
    /// All of the line out is leader, so that the weight is not in the water.
    AllLeader,
    /// A number is negative or not finite.
    NotANumber,
    /// A diver without a table: a diving plane obeys its maker's angles, not the physics of a line.
    NoTable,
    /// Several tables might be those of this diver.
    WhichTable,
    /// The diver's tables say nothing about this speed.
    TableSpeed {
        /// Slowest that they speak for, m/s.
        slowest_mps: f64,
        /// Fastest that they speak for, m/s.
        fastest_mps: f64,
    },
    /// The diver's table says nothing about this much line out.
    TableLine {
        /// Least line out of the table, m.
        shortest_m: f64,
        /// Most line out of the table, m.
        longest_m: f64,
    },
    /// The depth is not reached.
    TooDeep {
        /// The deepest that is, m.
        deepest_m: f64,
        /// Line out there, m.
        line_out_m: f64,
    },
    /// The line runs deeper than that from the start.
    TooShallow {
        /// The shallowest that it runs, m.
        shallowest_m: f64,
    },
}
