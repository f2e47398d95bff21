//! Thermocline, isotherms and mixed layer of analytic profiles.
//!
//! Sources: closed forms in `thermocline_truth.csv` (pycnocline by the CIPM density formula, weighted estimate of
//! Read et al. 2011), `thermocline_isotherms.csv`, `mixed_layer.csv` (threshold rows; de Boyer Montégut et al. 2004; line fit of Holte & Talley 2009 by the package holteandtalley 0.0.3)
//! and `thermocline_noisy.csv`. The tolerances are those of the tables.

mod common;

use common::{Row, close, table};
use waterseam_column::{
    Bin, HolteTalley, Layers, MixedBy, Profile, Sample, Settings, bin, isotherm_depth_m, layers,
    mixed_candidates, mixed_layer, mixed_layer_depth_m,
};
use waterseam_units::Flag;

/// The samples of a profile as they stand in a table.
fn samples(name: &str, id: &str) -> Vec<Sample> {
    let rows = table(name).into_iter().filter(|row| row.text("profile_id") == id);
    rows.map(|row| Sample { time_s: 0.0, depth_m: row.must("depth_m"), temp_c: row.must("temp_c") }).collect()
}

/// The clean profile, each sample its own bin.
fn clean(id: &str) -> Profile {
    let bin = |s: Sample| Bin { depth_m: s.depth_m, temp_c: s.temp_c, temp_qc: Flag::Pass, samples: 1 };
    Profile { time_s: 0.0, bins: samples("thermocline_profiles.csv", id).into_iter().map(bin).collect() }
}

fn fresh(profile: &Profile) -> Layers {
    layers(profile, None, 0.0, &Settings::default())
}

fn truth() -> impl Iterator<Item = (String, Row)> {
    table("thermocline_truth.csv").into_iter().map(|row| (row.text("profile_id").to_owned(), row))
}

#[test]
fn thermoclines_are_where_the_closed_forms_have_them() {
    for (id, row) in truth() {
        let got = fresh(&clean(&id));
        close(&id, got.surface_temp_c.unwrap(), row.must("surface_temp_c"), 1e-12);
        if row.must("has_thermocline") == 0.0 {
            assert_eq!(got.thermocline_depth_m, None, "{id}");
            continue;
        }
        let depth_m = got.thermocline_depth_m.unwrap_or_else(|| panic!("{id}: no thermocline"));
        match row.number("weighted_m") {
            Some(weighted_m) => {
                close(&id, depth_m, row.must("pycnocline_m"), 0.1);
                // 0.05 m is the tolerance for another density formula
                close(&id, depth_m, weighted_m, 0.05);
            }
            // inverse stratification: the temperature gradient is the one to look for
            None => close(&id, depth_m, row.must("thermocline_m"), 0.1),
        }
        close(&id, got.thermocline_gradient_c_per_m.unwrap(), row.must("sampled_grad_c_per_m"), 1e-9);
    }
}

#[test]
fn isotherms_are_where_the_closed_forms_have_them() {
    for row in table("thermocline_isotherms.csv") {
        let (id, temp_c) = (row.text("profile_id"), row.must("isotherm_c"));
        let case = format!("{id} at {temp_c} °C");
        let profile = clean(id);
        let got = isotherm_depth_m(&profile, temp_c);
        assert_eq!(got.is_some(), row.number("depth_sampled_m").is_some(), "{case}");
        let Some(got) = got else { continue };
        close(&case, got, row.must("depth_sampled_m"), 1e-9);
        let spacing_m = profile.bins[1].depth_m - profile.bins[0].depth_m;
        close(&case, got, row.must("depth_exact_m"), 0.5 * spacing_m);
    }
}

#[test]
fn mixed_layers_are_where_the_threshold_has_them() {
    let rows: Vec<Row> =
        table("mixed_layer.csv").into_iter().filter(|r| r.text("method") == "threshold").collect();
    assert_eq!(rows.len(), 55);
    for row in rows {
        let (id, reference_m, threshold_c) = (row.text("profile_id"), row.must("zref_m"), row.must("dt_c"));
        let case = format!("{id} from {reference_m} m by {threshold_c} °C");
        let profile = clean(id);
        let got = mixed_layer_depth_m(&profile, reference_m, threshold_c);
        assert_eq!(got.is_some(), row.number("depth_sampled_m").is_some(), "{case}: {got:?}");
        let Some(got) = got else { continue };
        close(&case, got, row.must("depth_sampled_m"), 1e-9);
        let spacing_m = profile.bins[1].depth_m - profile.bins[0].depth_m;
        close(&case, got, row.must("depth_exact_m"), 0.5 * spacing_m);
    }
}

/// Two lines meet at `c - w` of a tanh layer, where its tangent reaches the warm side; the one profile that is mixed
/// down to where the reference program starts (10 m) is compared with that program too, to one sample.
#[test]
fn line_fits_of_the_mixed_layer_meet_where_the_tangent_does() {
    let single = |row: &Row| !row.text("layers").contains(';') && row.must("has_thermocline") == 1.0;
    let mut checked = 0;
    for (id, row) in truth().filter(|(_, row)| single(row)) {
        let layer: Vec<f64> = row.text("layers").split(':').map(|v| v.parse().expect("a number")).collect();
        let got = fresh(&clean(&id)).mixed_layer_fit_m;
        println!("{id}: {got:?} for {}", layer[1] - layer[2]);
        let got = got.unwrap_or_else(|| panic!("{id}: no line fit"));
        close(&id, got, layer[1] - layer[2], row.must("dz_m"));
        checked += 1;
    }
    assert_eq!(checked, 6);
    let is_fit = |row: &&Row| row.text("profile_id") == "p04" && row.text("method") == "holte_talley_MLTFIT";
    let table = table("mixed_layer.csv");
    let published_m = table.iter().find(is_fit).expect("a row").must("depth_sampled_m");
    close("p04", fresh(&clean("p04")).mixed_layer_fit_m.expect("a fit"), published_m, 1.0);
}

#[test]
fn noise_moves_a_thermocline_by_less_than_half_its_width() {
    // noise of the samples and half width of the (deeper) layer: headers of the tables
    for (id, width_m) in [("p01", 1.5), ("p02", 5.0), ("p05", 2.0), ("p11", 1.0)] {
        let settings = Settings::default();
        let bins = bin(&samples("thermocline_noisy.csv", &format!("{id}n")), &settings);
        let got = layers(&Profile { time_s: 0.0, bins }, None, 0.0, &settings).thermocline_depth_m;
        let (_, row) = truth().find(|(truth_id, _)| truth_id == id).expect("a clean profile");
        for column in ["thermocline_m", "pycnocline_m"] {
            close(&format!("{id}n {column}"), got.expect("a thermocline"), row.must(column), 0.5 * width_m);
        }
    }
}

#[test]
fn noise_moves_an_isotherm_by_little() {
    let settings = Settings::default();
    let mut checked = 0;
    for (id, noise_c) in [("p01", 0.05), ("p02", 0.1), ("p05", 0.1), ("p11", 0.05)] {
        let samples = samples("thermocline_noisy.csv", &format!("{id}n"));
        let noisy = Profile { time_s: 0.0, bins: bin(&samples, &settings) };
        for row in table("thermocline_isotherms.csv").iter().filter(|row| row.text("profile_id") == id) {
            let (temp_c, exact_m) = (row.must("isotherm_c"), row.must("depth_exact_m"));
            let slope = isotherm_slope(id, exact_m);
            // the irregular casts have gaps of up to 5 m, across which the water bends and a straight line does not
            let gap_m =
                samples.windows(2).find(|s| s[1].depth_m > exact_m).map(|s| s[1].depth_m - s[0].depth_m);
            if slope > 0.3 && gap_m.expect("a deeper sample") <= 1.0 {
                let got =
                    isotherm_depth_m(&noisy, temp_c).unwrap_or_else(|| panic!("{id}n has no {temp_c} °C"));
                close(&format!("{id}n at {temp_c} °C"), got, exact_m, 3.0 * noise_c / slope + 0.1);
                checked += 1;
            }
        }
    }
    assert!(checked >= 6, "only {checked} isotherms lie between near samples");
}

/// |dT/dz| of the closed form at a depth, from the layers `a:c:w` of the truth table.
fn isotherm_slope(id: &str, depth_m: f64) -> f64 {
    let (_, row) = truth().find(|(truth_id, _)| truth_id == id).expect("a clean profile");
    let slope = |layer: &str| {
        let [a, c, w] = layer.split(':').map(|v| v.parse::<f64>().expect("a number")).collect::<Vec<_>>()[..]
        else {
            panic!("{layer} is no layer")
        };
        0.5 * a / w * ((depth_m - c) / w).cosh().powi(-2)
    };
    row.text("layers").split(';').map(slope).sum::<f64>().abs()
}

/// A profile of the table of choices.
fn chosen_profile(row: &Row) -> Profile {
    let terms = |column: &str| -> Vec<[f64; 3]> {
        let term = |text: &str| {
            let numbers: Vec<f64> = text.split(':').map(|v| v.parse().expect("a number")).collect();
            <[f64; 3]>::try_from(numbers).expect("three numbers")
        };
        row.text(column).split(';').filter(|text| !text.is_empty()).map(term).collect()
    };
    let (layers, bumps) = (terms("layers"), terms("bumps"));
    let (dz_m, zmax_m) = (row.must("dz_m"), row.must("zmax_m"));
    let temp_c = |z: f64| {
        let layers = layers.iter().map(|[a, c, w]| 0.5 * a * (1.0 - ((z - c) / w).tanh()));
        let bumps = bumps.iter().map(|[a, c, w]| a * (-((z - c) / w).powi(2)).exp());
        row.must("bottom_c") + row.must("slope_c_per_m") * z + layers.sum::<f64>() + bumps.sum::<f64>()
    };
    let depths = (0..=(zmax_m / dz_m) as i32).map(|i| dz_m * f64::from(i));
    let bin = |depth_m| Bin { depth_m, temp_c: temp_c(depth_m), temp_qc: Flag::Pass, samples: 1 };
    Profile { time_s: 0.0, bins: depths.map(bin).collect() }
}

/// Where the two differ: the program takes the line fit as soon as the threshold agrees with it, because it compares the intrusion with itself
/// where figure 9 of the paper compares it with the line fit; the paper wants two agreements.
const INTRUSIONS: [&str; 5] = ["c18", "c20", "c27", "c28", "c30"];

/// Where no gradient exceeds the threshold, the program seeks the steepest, but compares sizes with signed gradients.
const NEVER_STEEP: &str = "c35";

#[test]
fn mixed_layers_are_chosen_as_another_program_chooses() {
    // the program takes the upper of warmest and fastest warming, however far apart they are
    let settings = HolteTalley { intrusion_m: f64::INFINITY, ..HolteTalley::AS_PUBLISHED };
    let mut of_each = [0; 5];
    for row in table("mixed_layer_choice.csv") {
        let case = row.text("case").to_owned();
        let (profile, sample_m) = (chosen_profile(&row), row.must("dz_m"));
        let ways = mixed_candidates(&profile, &settings).unwrap_or_else(|| panic!("{case}: nothing"));
        close(&case, ways.threshold_m, row.must("threshold_m"), 1e-9);
        if case != NEVER_STEEP {
            close(&format!("{case} gradient"), ways.gradient_m, row.must("gradient_m"), sample_m);
        }
        for (column, got_m) in [
            ("line_fit_m", ways.line_fit_m),
            ("warmest_m", ways.warmest_m),
            ("intrusion_m", ways.intrusion_m),
        ] {
            close(&format!("{case} {column}"), got_m, row.must(column), sample_m);
        }
        let got = mixed_layer(&profile, &settings).unwrap_or_else(|| panic!("{case}: no mixed layer"));
        if INTRUSIONS.contains(&case.as_str()) {
            assert_eq!((got.by, got.depth_m), (MixedBy::Intrusion, ways.intrusion_m), "{case}");
            continue;
        }
        assert_eq!(got.is_summer, row.text("kind") == "summer", "{case}: {got:?} {ways:?}");
        close(&format!("{case} chosen {:?}", got.by), got.depth_m, row.must("chosen_m"), sample_m);
        of_each[got.by as usize] += 1;
    }
    assert!(of_each.iter().all(|n| *n >= 2), "every way wins somewhere: {of_each:?}");
}

/// A mixed layer ends above its thermocline, and not where the water has hardly begun to cool: between three half widths of a tanh layer
/// above its middle (a quarter of a per cent of the whole change) and half of one.
#[test]
fn the_chosen_mixed_layer_of_a_lake_ends_where_its_thermocline_begins() {
    let settings = Settings::default();
    let noisy =
        |id: &str| Profile { time_s: 0.0, bins: bin(&samples("thermocline_noisy.csv", id), &settings) };
    let mut checked = 0;
    for (id, row) in truth().filter(|(_, row)| row.must("has_thermocline") == 1.0) {
        let upper = row.text("layers").split(';').next().expect("a layer");
        let layer: Vec<f64> = upper.split(':').map(|v| v.parse().expect("a number")).collect();
        let noisy = noisy(&format!("{id}n"));
        for (is_clean, profile) in [(true, clean(&id)), (false, noisy)] {
            if profile.bins.is_empty() {
                continue;
            }
            let got = mixed_layer(&profile, &HolteTalley::default()).unwrap_or_else(|| panic!("{id}: none"));
            // the noisy casts are irregular, with gaps of up to 5 m, in which the thermocline may lie
            let from_m = if is_clean { layer[1] - 3.0 * layer[2] } else { 0.0 };
            let begins_m = from_m..=layer[1] - 0.5 * layer[2];
            assert!(begins_m.contains(&got.depth_m), "{id}: {got:?}, layer {layer:?}");
            checked += 1;
        }
    }
    assert_eq!(checked, 12);
}
