//! P-values adjusted for many tests, against scipy.
//!
//! Source: `benjamini_hochberg.csv`: scipy 1.17.1 `stats.false_discovery_control`, with the worked example of
//! Benjamini & Hochberg (1995). The tolerance is that of its header.

mod common;

use std::collections::BTreeMap;

use common::{Row, close, table};
use waterseam_breaks::benjamini_hochberg;

#[test]
fn adjusted_p_values_and_rejections_agree() {
    let rows = table("benjamini_hochberg.csv");
    let mut families: BTreeMap<&str, Vec<&Row>> = BTreeMap::new();
    for row in &rows {
        families.entry(row.text("family")).or_default().push(row);
    }
    assert!(families.len() >= 2);
    for (family, rows) in families {
        let p_values: Vec<f64> = rows.iter().map(|row| row.must("p")).collect();
        let adjusted = benjamini_hochberg(&p_values, p_values.len() as f64);
        for (row, adjusted) in rows.iter().zip(adjusted) {
            let case = format!("{family}, {}", row.text("i"));
            close(&case, adjusted, row.must("adjusted"), 1e-12);
            assert_eq!(adjusted <= 0.05, row.must("reject_05") == 1.0, "{case}");
            assert_eq!(adjusted <= 0.10, row.must("reject_10") == 1.0, "{case}");
        }
    }
}
