//! What is sought along a track, and what is ordinary for it without any break?
//!
//! The search is the same for the temperature of the surface and for the depth of an isotherm: smooth steps in values along a
//! track. What differs stands here, in the unit of the values (°C or m).

/// Values along a track: slices of equal length, time increasing.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Values<'a> {
    pub time_s: &'a [f64],
    pub distance_m: &'a [f64],
    pub value: &'a [f64],
}

/// What counts as a step.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wanted {
    /// Least absolute step.
    pub least_step: f64,
    /// Greatest width along the track, m, and the same in sample spacings where those lie far apart.
    pub greatest_width_m: f64,
    /// Greatest part of false ones.
    pub greatest_p_value: f64,
    /// Size of the distance cells that samples are averaged in, m.
    pub cell_m: f64,
    /// Longest piece of track without data that a step may lie across, m, or four sample spacings …
    pub greatest_gap_m: f64,
    /// … and the longest time, s.
    pub greatest_gap_s: f64,
    /// Lag that was taken out of the values, s.
    pub lag_s: f64,
    /// How fast values change in one place, a second.
    pub in_place_per_s: f64,
    /// What is ordinary for them.
    pub ordinary: &'static Ordinary,
}

/// What is ordinary for values along a track without any break.
#[derive(Debug)]
pub(crate) struct Ordinary {
    /// No instrument scatters less; keeps a noiseless record from being infinitely sure.
    pub least_white: f64,
    /// No water is more even than this over a metre, as a variance.
    pub least_background_per_m: f64,
    /// Slopes that are ordinary, a metre. What seems steeper may be breaks that are not found yet.
    pub least_slope_per_m: f64,
    pub greatest_slope_per_m: f64,
    /// Time constants tried for the correlated error, s.
    pub drift_s: [f64; 6],
    /// By how much contrasts between lengths of track may be smaller than the noise model says, in variances.
    pub least_square: f64,
    /// Least height of a spike: less does no harm to the least step.
    pub spike: f64,
    /// Whether a silent sensor must first settle.
    pub wakes: bool,
}

/// Of a surface temperature, °C.
pub(crate) const TEMPERATURE: Ordinary = Ordinary {
    least_white: 0.005,
    // 0.05 °C over a kilometre
    least_background_per_m: 0.05 * 0.05 / 1_000.0,
    least_slope_per_m: 0.05e-3,
    // lakes and seas have 0.1 to 0.2 °C/km (common practice, no source)
    greatest_slope_per_m: 0.2e-3,
    drift_s: [4.0, 8.0, 16.0, 32.0, 64.0, 128.0],
    least_square: 0.3,
    spike: 0.3,
    wakes: true,
};

/// Of the depth of an isotherm, m.
pub(crate) const ISOTHERM_DEPTH: Ordinary = Ordinary {
    // a probe's depth, twice its last decimal (common practice, no source)
    least_white: 0.1,
    // 0.2 m over a kilometre
    least_background_per_m: 0.2 * 0.2 / 1_000.0,
    least_slope_per_m: 0.2e-3,
    // the tilt of a basin's internal seiche: some metres over some kilometres (common practice, no source)
    greatest_slope_per_m: 1.5e-3,
    // internal waves of some minutes to half an hour, seen at one pass of the probe every minute or two
    drift_s: [30.0, 60.0, 120.0, 240.0, 480.0, 960.0],
    // a hundred passes do not tell
    least_square: 1.0,
    spike: 3.0,
    wakes: false,
};
