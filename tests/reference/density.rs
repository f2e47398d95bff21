//! Density and temperature of maximum density of fresh, lake and sea water.
//!
//! Sources: `water_density.csv`: TEOS-10 by gsw 3.6.23 (same formula: 1e-3 kg/m³) and IAPWS-95 by iapws 1.5.5 (fresh
//! water: 0.02 kg/m³). `water_max_density.csv`: TEOS-10 by gsw 3.6.23 (0.01 °C). The tolerances are those of the
//! tables.

mod common;

use common::{Row, close, table};
use waterseam_column::{
    conservative_temp_c, density_kg_m3, density_teos10_kg_m3, temp_of_max_density_c,
    temp_of_max_density_teos10_c,
};

/// Temperature, Absolute Salinity and pressure of a row.
fn state(row: &Row) -> (f64, f64, f64) {
    (row.must("t_c"), row.must("sa_gkg"), row.must("p_dbar"))
}

#[test]
fn density_agrees_with_teos10() {
    for row in table("water_density.csv") {
        let (t, sa, p) = state(&row);
        close(row.text("id"), density_teos10_kg_m3(t, sa, p), row.must("rho_teos10_75term"), 1e-3);
    }
}

#[test]
fn conservative_temperature_agrees_with_teos10() {
    for row in table("water_density.csv") {
        let (t, sa, p) = state(&row);
        // the table has no tolerance for it: 1e-3 °C moves the density by less than 3e-4 kg/m³
        close(row.text("id"), conservative_temp_c(t, sa, p), row.must("ct_c"), 1e-3);
    }
}

#[test]
fn fresh_water_agrees_with_iapws95() {
    let fresh: Vec<Row> =
        table("water_density.csv").into_iter().filter(|r| r.text("kind") == "fresh").collect();
    assert_eq!(fresh.len(), 26);
    for row in fresh {
        let (t, sa, p) = state(&row);
        close(row.text("id"), density_teos10_kg_m3(t, sa, p), row.must("rho_iapws95"), 0.02);
    }
}

#[test]
fn density_by_depth_and_practical_salinity_agrees() {
    for row in table("water_density.csv") {
        let Some(salinity) = row.number("sp") else { continue };
        let (t, _, p) = state(&row);
        // 1 dbar is 1.02 m of fresh and 0.99 m of sea water: within a metre the pressure term is 0.005 kg/m³ each;
        // the Baltic's composition anomaly, which is left out, is 0.07 kg/m³ (header of the table)
        let depth_m = p * 1e4 / (9.80665 * (1000.0 + 0.78 * salinity));
        let within = if row.text("note") == "Baltic" { 0.07 } else { 0.005 };
        close(row.text("id"), density_kg_m3(t, salinity, depth_m), row.must("rho_teos10_75term"), within);
    }
}

#[test]
fn temperature_of_maximum_density_agrees_with_teos10() {
    for row in table("water_max_density.csv") {
        let (sa, p) = (row.must("sa_gkg"), row.must("p_dbar"));
        let case = format!("{sa} g/kg at {p} dbar");
        close(&case, temp_of_max_density_teos10_c(sa, p), row.must("tmd_teos10_c"), 0.01);
        if let Some(pure) = row.number("tmd_iapws95_c") {
            close(&case, temp_of_max_density_c(0.0, p / 0.980_665), pure, 0.01);
        }
    }
}
