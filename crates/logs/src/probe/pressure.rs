//! How deep is the water column whose weight a pressure sensor feels?

use waterseam_units::convert::STANDARD_GRAVITY_MPS2;

/// Pascal in a decibar (exact).
const PA_PER_DBAR: f64 = 1e4;
/// Density of fresh water in whole kg/m³ (EOS-80: 999.8 at 0 °C, 995.7 at 30 °C).
const FRESH_WATER_KG_PER_M3: f64 = 1000.0;
/// Density that a unit of practical salinity adds, kg/m³ (EOS-80: 0.74 at 30 °C to 0.81 at 0 °C).
const PER_SALINITY_KG_PER_M3: f64 = 0.78;

/// Depth in m of a sea pressure (that is, without the air's) in dbar.
///
/// # Method
/// The hydrostatic equation with one density for the whole column and standard gravity.
///
/// # Limits
/// Against TEOS-10 (gsw 3.6.23: density of the column, gravity of the latitude) the depth is 0.7 % too small to
/// 0.4 % too large, for practical salinities up to 38, water from freezing to 25 °C, any latitude and 200 m of depth;
/// between latitudes 20° and 60° and 2 to 20 °C within 0.5 %.
pub(super) fn depth_m(pressure_dbar: f64, salinity_psu: f64) -> f64 {
    let density_kg_per_m3 = FRESH_WATER_KG_PER_M3 + PER_SALINITY_KG_PER_M3 * salinity_psu;
    pressure_dbar * PA_PER_DBAR / (density_kg_per_m3 * STANDARD_GRAVITY_MPS2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pressure in dbar, practical salinity, °C, depth in m.
    const TEOS_10: [(f64, f64, f64, f64); 6] = [
        (10.0, 0.0, 4.0, 10.1967),
        (30.0, 0.0, 18.0, 30.6308),
        (60.0, 0.0, 5.0, 61.1727),
        (10.0, 32.0, 12.0, 9.9549),
        (100.0, 35.0, 10.0, 99.2676),
        (103.5, 35.0, 17.5, 102.8976),
    ];

    #[test]
    fn agrees_with_teos_10() {
        // gsw 3.6.23 at 46° N: 1 / rho_t_exact summed up from 0 dbar to the pressure, divided by grav half way down
        for (pressure_dbar, salinity, temp_c, depth) in TEOS_10 {
            let got = depth_m(pressure_dbar, salinity);
            assert!((got / depth - 1.0).abs() < 0.005, "{salinity}, {temp_c} °C: {got} for {depth}");
        }
    }
}
