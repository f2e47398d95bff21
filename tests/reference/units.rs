//! Unit conversions against exact rational arithmetic.
//!
//! Source: `units.csv`: BIPM SI Brochure and NIST SP 811 definitions, computed with exact fractions.

mod common;

use common::{close, table};
use waterseam_units::convert as c;

/// Size of a unit in SI for everything that has no offset.
fn factor(unit: &str) -> Option<f64> {
    Some(match unit {
        "m" | "m/s" | "kg" | "N" => 1.0,
        "ft" | "ft/s" => c::M_PER_FT,
        "fathom" => c::M_PER_FATHOM,
        "mi" => c::M_PER_MI,
        "nmi" => c::M_PER_NMI,
        "in" => c::M_PER_IN,
        "km" => 1000.0,
        "yd" => 3.0 * c::M_PER_FT,
        "cable" => 0.1 * c::M_PER_NMI,
        "kn" => c::MPS_PER_KN,
        "mph" => c::MPS_PER_MPH,
        "km/h" => c::MPS_PER_KMH,
        "lb" => c::KG_PER_LB,
        "oz" => c::KG_PER_OZ,
        "mm" | "g" => 0.001,
        "lbf" => c::KG_PER_LB * c::STANDARD_GRAVITY_MPS2,
        "ozf" => c::KG_PER_OZ * c::STANDARD_GRAVITY_MPS2,
        _ => return None,
    })
}

fn convert(from: &str, to: &str, value: f64) -> Option<f64> {
    match (from, to) {
        ("degF", "degC") => Some(c::c_from_f(value)),
        ("degC", "degF") => Some(c::f_from_c(value)),
        ("degC", "K") => Some(c::k_from_c(value)),
        ("delta_degF", "delta_degC") => Some(value / c::f_difference_from_c(1.0)),
        _ => Some(value * factor(from)? / factor(to)?),
    }
}

#[test]
fn conversions_agree_with_the_definitions() {
    let mut checked = 0;
    for row in table("units.csv") {
        let (from, to, value) = (row.text("from_unit"), row.text("to_unit"), row.must("value_in"));
        if let Some(got) = convert(from, to, value) {
            let want = row.must("value_out");
            close(&format!("{value} {from} in {to}"), got, want, 1e-12 * want.abs().max(1.0));
            checked += 1;
        }
    }
    assert!(checked >= 205, "only {checked} rows were checked");
}
