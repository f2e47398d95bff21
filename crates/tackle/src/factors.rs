//! By what may a captain's tackle differ from the round figures of [`materials`](crate::materials)?

use waterseam_logs::LineMethod;

/// Something that is not known exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Factor {
    /// Line out over what is noted.
    LineOut,
    /// Weight in water of the line.
    LineWeight,
    /// Drag across the line; on a downrigger that of its weight too.
    LineDrag,
    /// Drag of a clip-on or keel weight.
    WeightDrag,
    /// Weight of the lure in water.
    LureWeight,
    /// Drag of the lure.
    LureDrag,
    /// Depth of a diver over its table.
    Table,
}

/// Number of factors.
pub(crate) const FACTORS: usize = 7;

/// How well a factor is known before anybody looked.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Prior {
    pub factor: Factor,
    /// The factor one standard error above the round figure.
    pub at_one_se: f64,
    /// Part of its variance that stays with the boat from day to day, and that observations can tell; the
    /// rest comes with each lure and each time that the line is set.
    pub kept: f64,
}

/// What the tackle differs by, in standard errors of each prior.
pub(crate) type Differences = [f64; FACTORS];

/// A line's own weight and drag: 15 % (common practice, no source). It is the same line every day.
const LINE: [Prior; 5] = [
    // a line counter and its spool (common practice, no source), half of it the spool's
    Prior { factor: Factor::LineOut, at_one_se: 1.05, kept: 0.5 },
    Prior { factor: Factor::LineWeight, at_one_se: 1.15, kept: 1.0 },
    Prior { factor: Factor::LineDrag, at_one_se: 1.15, kept: 1.0 },
    // half of a lure's difference is the captain's taste in lures (common practice, no source)
    Prior { factor: Factor::LureWeight, at_one_se: 2.0, kept: 0.5 },
    Prior { factor: Factor::LureDrag, at_one_se: 1.5, kept: 0.5 },
];

/// The same with a weight ahead of the lure, whose shape is not known (common practice, no source).
const WEIGHTED: [Prior; 6] = {
    let [out, weight, drag, lure_weight, lure_drag] = LINE;
    [
        out,
        weight,
        drag,
        Prior { factor: Factor::WeightDrag, at_one_se: 1.3, kept: 1.0 },
        lure_weight,
        lure_drag,
    ]
};

/// Of a downrigger the wire, the weight's fin and the line clipped to it are not known: a quarter more drag is
/// half as much again of blow-back (common practice, no source).
const DOWNRIGGER: [Prior; 1] = [Prior { factor: Factor::LineDrag, at_one_se: 1.25, kept: 1.0 }];

/// A captain's own table of a diver (common practice, no source).
const DIVER: [Prior; 1] = [Prior { factor: Factor::Table, at_one_se: 1.1, kept: 1.0 }];

/// What is not known of a method.
pub(crate) fn priors(method: LineMethod) -> &'static [Prior] {
    match method {
        LineMethod::Downrigger => &DOWNRIGGER,
        LineMethod::Diver => &DIVER,
        LineMethod::ClipWeight | LineMethod::KeelWeight => &WEIGHTED,
        LineMethod::Leadcore | LineMethod::WeightedWire | LineMethod::FlatLine => &LINE,
    }
}

/// Factors on the round figures.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Factors {
    pub line_out: f64,
    pub line_weight: f64,
    pub line_drag: f64,
    pub weight_drag: f64,
    pub lure_weight: f64,
    pub lure_drag: f64,
    pub table: f64,
}

impl Factors {
    /// The factors at some differences from the priors.
    pub fn at(method: LineMethod, differences: &Differences) -> Self {
        let mut factors = [1.0; FACTORS];
        for prior in priors(method) {
            let difference = differences[prior.factor as usize];
            // ones and noughts, which come most, need no power
            factors[prior.factor as usize] = match difference {
                0.0 => 1.0,
                1.0 => prior.at_one_se,
                _ => prior.at_one_se.powf(difference),
            };
        }
        let [line_out, line_weight, line_drag, weight_drag, lure_weight, lure_drag, table] = factors;
        Self { line_out, line_weight, line_drag, weight_drag, lure_weight, lure_drag, table }
    }
}
