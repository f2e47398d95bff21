//! What a captain must keep in mind before he acts on anything that points somewhere.

/// The cautions that go with every output that points somewhere.
pub const CAUTIONS: [&str; 4] = [
    "Not for navigation. Positions are where instruments said the boat was; check them on the chart.",
    "Before you run offshore: marine forecast, working radio, life-jackets on, a float plan left ashore, another \
     boat in company. You will be beyond phone coverage, and cold water kills fast.",
    "Local rules on seasons, sizes and limits decide, not this page.",
    "It describes past trips. Your licence, your training and your own eyes come first.",
];
