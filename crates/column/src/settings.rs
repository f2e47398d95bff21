//! Which thresholds decide what a profile and a layer are?

/// Thresholds of the water column.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// A cast or a towed stretch must span at least this much depth, m.
    ///
    /// Default 5: less does not cross a thermocline from its top to its bottom (common practice, no source).
    pub least_span_m: f64,
    /// A cast takes at most this long, s.
    ///
    /// Default 900: the shortest of a large lake's internal waves that move a thermocline take some tens of
    /// minutes (from memory), so that down to a quarter of an hour the water stands still.
    pub longest_s: f64,
    /// The probe has turned round when its depth comes back by this much, m.
    ///
    /// Default 2: more than swell, a boat's surging and the noise of a pressure sensor.
    pub turn_m: f64,
    /// Samples further apart than this belong to different casts, s. Default 600.
    pub gap_s: f64,
    /// Towed data without a cast are collected over this long, s, and half as long again where they do not yet
    /// span enough. Default 3600: a thermocline drifts by metres within hours (common practice, no source).
    pub stretch_s: f64,
    /// Height of a depth bin, m. Bins are centred on whole multiples. Default 0.5.
    pub bin_m: f64,
    /// Time constant of the probe's thermometer, which is taken out of casts, s. Default 0: none.
    pub lag_s: f64,
    /// Casts down and up that a lag needs at least. Default 4: their scatter is its error, and of fewer it is
    /// hardly known.
    pub lag_least_casts: usize,
    /// A lag is sure from this many standard errors on. Default 4: with four casts three would be chance in 6 %
    /// (Student's t).
    pub lag_sure_se: f64,
    /// Shorter lags do not matter, s. Default 0.5: a probe sinks half a bin in it.
    pub lag_least_s: f64,
    /// No thermometer is slower, s. Default 60: a probe that is told by its case (common practice, no source).
    pub lag_most_s: f64,
    /// A bin whose samples scatter more than this about its slope (standard deviation, °C) is suspect.
    /// Default 1: more than depth noise makes in all but the sharpest thermocline.
    pub scatter_max_c: f64,
    /// A profile that starts deeper than this says nothing about the surface, m. Default 3.
    pub surface_m: f64,
    /// Depth of the temperature that the mixed layer is compared with, m. Default 1: lakes need 0 to 1,
    /// seas 10 (de Boyer Montégut et al. 2004, J. Geophys. Res. 109, C12003, for the sea).
    pub mixed_layer_reference_m: f64,
    /// Departure from the reference temperature at the base of the mixed layer, °C.
    /// Default 0.2 (de Boyer Montégut et al. 2004).
    pub mixed_layer_threshold_c: f64,
    /// A line holds through the mixed layer while its residuals are no more than this (root mean square), °C.
    ///
    /// Default 0.02: a fifth of what a probe's display shows (common practice, no source); more where the bins scatter.
    pub mixed_fit_residual_c: f64,
    /// Water whose warmest and coldest bins differ by less has no thermocline, °C.
    /// Default 1 (the usual cut-off; common practice, no source).
    pub least_range_c: f64,
    /// A temperature gradient below this over three metres is no thermocline, °C/m.
    ///
    /// Default 0.2 (common practice, no source); the classical 1 °C/m would miss broad ones.
    pub least_gradient_c_per_m: f64,
    /// The thermocline ends where the gradient has fallen to this part of its peak.
    ///
    /// Default 0.2: for a layer shaped like a hyperbolic tangent that holds nine tenths of the whole change.
    pub layer_edge_fraction: f64,
    /// A probe that sinks or rises more slowly than this does not pass through an isotherm, m/s: the isotherm comes to it.
    ///
    /// Default 0.04: twice as fast as a wave of 1 m within five minutes.
    pub least_pass_mps: f64,
    /// Standard error of a temperature of the probe, °C. Default 0.05: its last decimal (common practice, no source).
    pub probe_temp_se_c: f64,
    /// Standard error of a depth of the probe, m. Default 0.15: half a foot (common practice, no source).
    pub probe_depth_se_m: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            least_span_m: 5.0,
            longest_s: 900.0,
            turn_m: 2.0,
            gap_s: 600.0,
            stretch_s: 3600.0,
            bin_m: 0.5,
            lag_s: 0.0,
            lag_least_casts: 4,
            lag_sure_se: 4.0,
            lag_least_s: 0.5,
            lag_most_s: 60.0,
            scatter_max_c: 1.0,
            surface_m: 3.0,
            mixed_layer_reference_m: 1.0,
            mixed_layer_threshold_c: 0.2,
            mixed_fit_residual_c: 0.02,
            least_range_c: 1.0,
            least_gradient_c_per_m: 0.2,
            layer_edge_fraction: 0.2,
            least_pass_mps: 0.04,
            probe_temp_se_c: 0.05,
            probe_depth_se_m: 0.15,
        }
    }
}
