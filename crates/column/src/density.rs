//! How heavy is water of a temperature and salt content at a depth?
//!
//! TEOS-10 (IOC, SCOR and IAPSO, 2010, The international thermodynamic equation of seawater) through the `gsw`
//! crate's 75-term polynomial (Roquet et al. 2015, Ocean Modelling 90, 29–43). In fresh water the polynomial lies
//! within 0.002 kg/m³ of IAPWS-95, which is far below what a thermocline shows.

use gsw::conversions::{ct_from_pt, sr_from_sp};
use gsw::volume::{ct_maxdensity, enthalpy_first_derivatives, rho};
use waterseam_units::convert::{STANDARD_GRAVITY_MPS2, k_from_c};

/// Specific heat that defines Conservative Temperature, J/(kg K) (exact; TEOS-10 manual, equation 3.3.3).
const CP0_J_PER_KG_K: f64 = 3_991.867_957_119_63;
/// Pascals in a decibar.
const PA_PER_DBAR: f64 = 1e4;

/// In-situ density, kg/m³, of water of an in-situ temperature (°C, ITS-90) and practical salinity (0 for fresh
/// water) at a depth in m.
///
/// Absolute Salinity is taken for the reference salinity of sea water (Millero et al. 2008): the regional anomaly
/// is left out, which costs up to 0.07 kg/m³ in the Baltic and next to nothing elsewhere, and no gradient.
pub fn density_kg_m3(temp_c: f64, salinity: f64, depth_m: f64) -> f64 {
    density_teos10_kg_m3(temp_c, absolute_salinity_g_kg(salinity), pressure_dbar(depth_m, salinity))
}

/// In-situ density, kg/m³, from in-situ temperature (°C, ITS-90), Absolute Salinity (g/kg) and sea pressure (dbar,
/// 0 at the surface).
pub fn density_teos10_kg_m3(temp_c: f64, absolute_salinity_g_kg: f64, pressure_dbar: f64) -> f64 {
    let sa = absolute_salinity_g_kg.max(0.0);
    value(rho(sa, conservative_temp_c(temp_c, sa, pressure_dbar), pressure_dbar))
}

/// Conservative Temperature, °C, from in-situ temperature (°C, ITS-90), Absolute Salinity (g/kg) and sea pressure
/// (dbar).
///
/// Solves `(T0 + t) cp0 = (T0 + θ) ∂h/∂Θ` for the potential temperature θ (TEOS-10 manual, section A.11: the
/// in-situ temperature is the slope of enthalpy with entropy).
pub fn conservative_temp_c(temp_c: f64, absolute_salinity_g_kg: f64, pressure_dbar: f64) -> f64 {
    let sa = absolute_salinity_g_kg.max(0.0);
    let mut potential_temp_c = temp_c;
    if pressure_dbar == 0.0 {
        // nothing to lift: both temperatures are one
        return value(ct_from_pt(sa, temp_c));
    }
    // the slope differs from cp0 by a part in a thousand at 1000 dbar and hardly changes with θ: each round gains
    // four digits
    for _ in 0..4 {
        let ct = value(ct_from_pt(sa, potential_temp_c));
        let (_, slope) = value(enthalpy_first_derivatives(sa, ct, pressure_dbar));
        potential_temp_c = k_from_c(temp_c) * CP0_J_PER_KG_K / slope - k_from_c(0.0);
    }
    value(ct_from_pt(sa, potential_temp_c))
}

/// In-situ temperature, °C, at which water of a practical salinity is heaviest at a depth in m.
///
/// 3.98 °C for fresh water at the surface; 0.2 °C less for each 100 m and for each g/kg of salt.
pub fn temp_of_max_density_c(salinity: f64, depth_m: f64) -> f64 {
    temp_of_max_density_teos10_c(absolute_salinity_g_kg(salinity), pressure_dbar(depth_m, salinity))
}

/// In-situ temperature of maximum density, °C, from Absolute Salinity (g/kg) and sea pressure (dbar).
pub fn temp_of_max_density_teos10_c(absolute_salinity_g_kg: f64, pressure_dbar: f64) -> f64 {
    let sa = absolute_salinity_g_kg.max(0.0);
    let target_ct = value(ct_maxdensity(sa, pressure_dbar));
    let mut temp_c = target_ct;
    // Conservative and in-situ temperature run nearly parallel (slope 1.05 in fresh water)
    for _ in 0..10 {
        temp_c -= conservative_temp_c(temp_c, sa, pressure_dbar) - target_ct;
    }
    temp_c
}

/// What a `gsw` function gives: it refuses negative salinity only, and every caller here clamps that.
fn value<T>(result: gsw::Result<T>) -> T {
    result.expect("salinity is not negative")
}

fn absolute_salinity_g_kg(salinity: f64) -> f64 {
    sr_from_sp(salinity.max(0.0))
}

/// Hydrostatic pressure of a column of uniform density (1000 kg/m³, and 0.78 kg/m³ more for each unit of salinity:
/// the slope of sea water at 10 °C). Within 0.3 % of the compressible column down to 300 m.
fn pressure_dbar(depth_m: f64, salinity: f64) -> f64 {
    depth_m * (1000.0 + 0.78 * salinity.max(0.0)) * STANDARD_GRAVITY_MPS2 / PA_PER_DBAR
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn fresh_water_is_heaviest_near_four_degrees() {
        let t = temp_of_max_density_c(0.0, 0.0);
        assert!(density_kg_m3(t, 0.0, 0.0) > density_kg_m3(t - 0.2, 0.0, 0.0));
        assert!(density_kg_m3(t, 0.0, 0.0) > density_kg_m3(t + 0.2, 0.0, 0.0));
    }

    #[test]
    fn a_salinity_below_zero_counts_as_fresh() {
        assert_eq!(density_kg_m3(10.0, -1.0, 5.0), density_kg_m3(10.0, 0.0, 5.0));
    }

    proptest! {
        #[test]
        fn deeper_and_saltier_is_heavier(t in -1f64..30.0, s in 0f64..36.0, z in 0f64..290.0) {
            let here = density_kg_m3(t, s, z);
            prop_assert!(density_kg_m3(t, s, z + 10.0) > here);
            prop_assert!(density_kg_m3(t, s + 1.0, z) > here);
        }
    }
}
