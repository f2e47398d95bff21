use waterseam_units::Flag;

use super::*;

fn profile(points: impl IntoIterator<Item = (f64, f64)>) -> Profile {
    let bin = |(depth_m, temp_c)| Bin { depth_m, temp_c, temp_qc: Flag::Pass, samples: 3 };
    Profile { time_s: 0.0, bins: points.into_iter().map(bin).collect() }
}

/// A tanh layer: centre and half width in m, from `warm_c` above to `cold_c` below, every half metre.
fn lake(centre_m: f64, width_m: f64, warm_c: f64, cold_c: f64, from_m: f64, to_m: f64) -> Profile {
    let n = ((to_m - from_m) / 0.5) as usize;
    profile(
        (0..=n)
            .map(|i| from_m + 0.5 * i as f64)
            .map(|z| (z, cold_c + 0.5 * (warm_c - cold_c) * (1.0 - ((z - centre_m) / width_m).tanh()))),
    )
}

fn of(profile: &Profile) -> Layers {
    layers(profile, Some((10.0, 14.0)), 0.0, &Settings::default())
}

#[test]
fn a_summer_lake() {
    let got = of(&lake(12.0, 2.0, 20.0, 6.0, 0.0, 40.0));
    // density makes the upper, warmer part count for more
    assert!((10.5..12.0).contains(&got.thermocline_depth_m.unwrap()), "{got:?}");
    assert!(
        got.thermocline_top_m < got.thermocline_depth_m && got.thermocline_depth_m < got.thermocline_bottom_m
    );
    assert!((got.thermocline_gradient_c_per_m.unwrap() + 3.5).abs() < 0.15);
    assert!(got.mixed_layer_depth_m.unwrap() < got.thermocline_top_m.unwrap() + 1.0);
    assert_eq!((got.deepest_sampled_m, got.surface_temp_c.unwrap().round()), (40.0, 20.0));
    assert!(got.preferred_top_m.unwrap() < got.preferred_bottom_m.unwrap());
}

#[test]
fn no_thermocline_where_it_is_not_seen() {
    let cases = [
        ("the cast ends above it", lake(25.0, 2.0, 20.0, 5.0, 0.0, 23.5)),
        ("the cast starts below it", lake(12.0, 2.0, 20.0, 5.0, 12.5, 30.0)),
        ("under one degree in all", lake(12.0, 2.0, 9.8, 9.0, 0.0, 30.0)),
        ("a slope without a layer", profile((0..60).map(|i| (f64::from(i), 16.0 - 0.1 * f64::from(i))))),
    ];
    for (case, profile) in cases {
        assert_eq!(of(&profile).thermocline_depth_m, None, "{case}");
    }
}

#[test]
fn a_profile_that_starts_deep_says_nothing_about_the_surface() {
    let got = of(&lake(20.0, 2.0, 20.0, 6.0, 8.0, 40.0));
    assert_eq!((got.surface_temp_c, got.mixed_layer_depth_m), (None, None));
    assert!(got.thermocline_depth_m.is_some());
}

#[test]
fn an_empty_profile_has_no_layers() {
    assert_eq!(of(&profile([])), Layers::default());
}

#[test]
fn sea_water_keeps_its_density_in_the_cold() {
    // at 3 °C fresh water would be judged by its temperature, salt water by its density
    let cold = lake(15.0, 3.0, 4.0, -1.0, 0.0, 40.0);
    let salt = layers(&cold, None, 32.0, &Settings::default());
    let fresh = layers(&cold, None, 0.0, &Settings::default());
    assert!((fresh.thermocline_depth_m.unwrap() - 15.0).abs() < 0.05);
    assert!(salt.thermocline_depth_m.unwrap() < fresh.thermocline_depth_m.unwrap());
}
