//! What the water column is made of.

use waterseam_units::Flag;

/// A sample of the probe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Seconds since any epoch.
    pub time_s: f64,
    /// Depth below the surface, m.
    pub depth_m: f64,
    /// Temperature, °C.
    pub temp_c: f64,
}

/// A depth bin of a profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Middle of the bin, m.
    pub depth_m: f64,
    /// Mean temperature, °C.
    pub temp_c: f64,
    /// Flag.
    pub temp_qc: Flag,
    /// Samples in the bin.
    pub samples: usize,
}

/// Temperature against depth at one time: bins in order of depth, none empty.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Seconds on the clock of the samples, middle of the cast or stretch.
    pub time_s: f64,
    /// Bins, shallow to deep.
    pub bins: Vec<Bin>,
}

/// Layers of one profile. What the profile does not show is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Layers {
    /// Temperature at the top of the profile, °C.
    pub surface_temp_c: Option<f64>,
    /// Depth to which the surface layer is mixed, m.
    pub mixed_layer_depth_m: Option<f64>,
    /// Depth at which the lines through the mixed layer and the thermocline meet, m (Holte & Talley 2009).
    pub mixed_layer_fit_m: Option<f64>,
    /// Depth of the thermocline: steepest density gradient, m.
    pub thermocline_depth_m: Option<f64>,
    /// Top of the thermocline, m.
    pub thermocline_top_m: Option<f64>,
    /// Bottom of the thermocline, m.
    pub thermocline_bottom_m: Option<f64>,
    /// Steepest temperature gradient there, °C/m, negative where deeper is colder.
    pub thermocline_gradient_c_per_m: Option<f64>,
    /// Deepest sample, m.
    pub deepest_sampled_m: f64,
    /// Top of the preferred temperatures, m.
    pub preferred_top_m: Option<f64>,
    /// Bottom of the preferred temperatures, m.
    pub preferred_bottom_m: Option<f64>,
}
