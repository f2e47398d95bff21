//! What a captain must keep in mind before he acts on anything that points somewhere.

/// The cautions that go with every output that points somewhere.
pub const CAUTIONS: [&str; 3] = [
    "Not for navigation; these are past trips, and your licence, training and eyes come first.",
    "Offshore is beyond phone coverage and cold water kills fast: check the marine forecast, radio working, \
     life-jackets on, float plan left ashore, another boat in company.",
    "Local rules on seasons, sizes and limits decide.",
];

/// The cautions that go with running depths.
pub const RUNNING_DEPTH_CAUTIONS: [&str; 2] = [
    "A running depth is an estimate: swell, current, turns and the lure move it. Mind the bottom, and what stands \
     up from it.",
    "A weight that hangs up pulls hard on rod and boat: keep clear of the wire, and a cutter at hand.",
];
