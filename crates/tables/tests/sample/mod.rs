//! A small trip of the charter boat *Kittiwake* with every table filled: invented, and in agreement with itself.

use waterseam_tables::{
    TripTables, bands, bites, break_lines, break_sides, breaks, calibrations, cell_visits, current_edges,
    currents, effort, isotherm_breaks, isotherms, layers, lure_speeds, profiles, rod_spells, sections,
    set_aside, sources, surface_map, tackle_rates, track, trips, wkb,
};
use waterseam_units::LatLon;

/// 2026-06-14T05:12:00Z.
pub const START_US: i64 = 1_781_413_920_000_000;
const SECOND: i64 = 1_000_000;
const LAT: f64 = 46.2;
const LON: f64 = -29.4;
/// The H3 cell that holds the position, resolution 9 (h3 4.5.0: `latlng_to_cell(46.2, -29.4, 9)`).
const CELL: u64 = 0x0891_a6ba_d5b3_ffff;

/// A trip of `seconds` seconds that starts at `start_us`.
pub fn trip(trip_id: &str, start_us: i64, seconds: usize) -> TripTables {
    let id = || trip_id.to_owned();
    let end_us = start_us + (seconds as i64 - 1) * SECOND;
    let spell_id = || format!("{trip_id}-spell-1");
    let line_id = || format!("{trip_id}-line-1");
    TripTables {
        sources: vec![source(trip_id, start_us, end_us)],
        set_aside: vec![set_aside::Row {
            trip_id: Some(id()),
            file_name: "0614.nmea".to_owned(),
            line: 17,
            byte: 1024,
            reason: "checksum_wrong".to_owned(),
            raw: "$GPRMC,051200,A,46\u{fffd}".to_owned(),
        }],
        trips: vec![summary(trip_id, start_us, end_us)],
        track: (0..seconds).map(|n| track_row(trip_id, start_us, n)).collect(),
        breaks: (1..=2).map(|n| break_row(trip_id, start_us, n, line_id())).collect(),
        break_lines: vec![break_line_row(trip_id, start_us, end_us, line_id())],
        surface_map: vec![map_row(trip_id)],
        isotherms: vec![isotherm_row(trip_id)],
        isotherm_breaks: vec![isotherm_break_row(trip_id, start_us)],
        currents: vec![currents::Row {
            trip_id: trip_id.into(),
            time: start_us,
            lat: LAT,
            lon: LON,
            distance_m: 0.0,
            set_deg: Some(90.0),
            drift_mps: 0.2,
            east_mps: 0.2,
            north_mps: 0.0,
            east_se_mps: 0.03,
            north_se_mps: 0.03,
            method: "heading".to_owned(),
            probe_speed_mps: Some(1.1),
            probe_depth_m: Some(14.2),
            probe_minus_log_mps: Some(-0.08),
            probe_minus_log_se_mps: Some(0.03),
        }],
        current_edges: vec![current_edges::Row {
            trip_id: id(),
            edge_id: format!("{trip_id}-edge-1"),
            time: start_us,
            lat: LAT,
            lon: LON,
            distance_m: 0.0,
            east_change_mps: -0.3,
            north_change_mps: 0.4,
            change_mps: 0.5,
            width_m: 80.0,
            convergence_per_s: 0.006,
            p_value: 0.001,
            shear_per_s: Some(0.002),
            break_id: None,
        }],
        calibrations: vec![calibration_row(trip_id)],
        lure_speeds: vec![lure_speed_row(trip_id)],
        profiles: (0..3).map(|bin| profile_row(trip_id, start_us, bin)).collect(),
        layers: vec![layer_row(trip_id, start_us)],
        sections: vec![section_row(trip_id, start_us)],
        rod_spells: vec![spell_row(trip_id, start_us, end_us, spell_id())],
        bites: vec![bite(trip_id, start_us, spell_id())],
        effort: vec![effort::Row {
            trip_id: trip_id.into(),
            time: start_us,
            lat: LAT,
            lon: LON,
            cell: CELL,
            spell_id: spell_id(),
            rod_hours: 1.0 / 60.0,
            depth_m: Some(15.8),
            temp_at_depth_c: Some(9.4),
            surface_temp_c: Some(14.1),
            stw_mps: None,
            lure_speed_mps: Some(0.9),
            break_distance_m: Some(120.0),
            break_side: Some("cold".to_owned()),
            above_thermocline_m: Some(-2.5),
            sun_elevation_deg: 8.5,
        }],
        cell_visits: vec![cell_visit_row(trip_id)],
        bands: vec![bands::Row {
            trip_id: id(),
            factor: "depth_m".to_owned(),
            species: "*".to_owned(),
            low: 15.0,
            high: 20.0,
            rod_hours: 0.5,
            bites: 1,
            rate_per_rod_hour: Some(1.6),
            rate_low: Some(0.3),
            rate_high: Some(4.4),
            in_productive_band: false,
            band_p_value: None,
            band_p_adjusted: None,
            more_rod_hours: Some(40.0),
        }],
        tackle_rates: vec![tackle_row(trip_id)],
        break_sides: vec![sides_row(trip_id)],
    }
}

fn tackle_row(trip_id: &str) -> tackle_rates::Row {
    tackle_rates::Row {
        trip_id: trip_id.to_owned(),
        what: "lure".to_owned(),
        name: "blue spoon".to_owned(),
        species: "*".to_owned(),
        rod_hours: 0.5,
        bites: 1,
        expected_bites: 0.9,
        ratio: 1.1,
        ratio_low: 0.4,
        ratio_high: 2.6,
    }
}

fn sides_row(trip_id: &str) -> break_sides::Row {
    break_sides::Row {
        trip_id: trip_id.to_owned(),
        species: "*".to_owned(),
        within_m: 400.0,
        warm_bites: 0,
        warm_rod_hours: 0.2,
        cold_bites: 1,
        cold_rod_hours: 0.3,
        ratio: Some(0.0),
        ratio_low: Some(0.0),
        ratio_high: None,
        p_value: 1.0,
    }
}

fn source(trip_id: &str, start_us: i64, end_us: i64) -> sources::Row {
    sources::Row {
        trip_id: Some(trip_id.to_owned()),
        file_name: "0614.nmea".to_owned(),
        content_hash: "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262".to_owned(),
        kind: "nmea0183".to_owned(),
        bytes: 9_000,
        records_read: 120,
        records_used: 100,
        records_not_needed: 18,
        records_set_aside: 2,
        set_aside_reasons: r#"{"checksum_wrong":1,"torn":1}"#.to_owned(),
        time_first: Some(start_us),
        time_last: Some(end_us),
        clock_offset_s: Some(0.0),
        clock_offset_method: Some("gps".to_owned()),
        remarks: "[]".to_owned(),
    }
}

fn cell_visit_row(trip_id: &str) -> cell_visits::Row {
    cell_visits::Row {
        trip_id: trip_id.to_owned(),
        cell: CELL,
        rod_hours: 1.0 / 60.0,
        run_m: 60.0,
        breaks: 2,
        surface_temp_c: Some(14.1),
    }
}

fn summary(trip_id: &str, start_us: i64, end_us: i64) -> trips::Row {
    trips::Row {
        trip_id: trip_id.to_owned(),
        boat: "Kittiwake".to_owned(),
        time_start: start_us,
        time_end: end_us,
        distance_m: 90.0,
        trolling_s: 60.0,
        farthest_from_start_m: 88.0,
        bites: 1,
        rod_hours: 0.5,
        surface_temp_min_c: Some(11.7),
        surface_temp_max_c: Some(14.1),
        program_version: "0.1.0".to_owned(),
        units: "imperial".to_owned(),
        time_zone: "Atlantic/Azores".to_owned(),
        effort_assumed: false,
        rate_per_rod_hour: Some(2.0),
        rate_low: Some(0.1),
        rate_high: Some(6.0),
        remarks: r#"["The speed log reads 4 % low."]"#.to_owned(),
        hull_temp_bias_c: Some(0.4),
        hull_temp_bias_se_c: Some(0.06),
        hull_temp_bias_method: Some("probe".to_owned()),
        hull_temp_bias_applied: Some(true),
        hull_temp_lag_s: Some(8.0),
        hull_temp_lag_se_s: None,
        hull_temp_lag_method: Some("boat_file".to_owned()),
        hull_temp_lag_applied: Some(true),
        transducer_depth_m: Some(0.6),
        transducer_depth_method: Some("boat_file".to_owned()),
        quality: Some(r#"{"surface_temp":{"spike":{"pass":120}}}"#.to_owned()),
        probe_lag_s: Some(4.2),
        probe_lag_se_s: Some(0.3),
        probe_lag_applied: Some(true),
        local_date: Some("2026-06-14".to_owned()),
    }
}

fn track_row(trip_id: &str, start_us: i64, n: usize) -> track::Row {
    let run = n as f64;
    track::Row {
        trip_id: trip_id.into(),
        time: start_us + n as i64 * SECOND,
        lat: LAT + run * 1e-5,
        lon: LON - run * 1.7e-6,
        position_qc: 1,
        distance_m: 1.1 * run,
        sog_mps: Some(1.1),
        cog_deg: Some(354.0),
        stw_mps: None,
        stw_across_mps: None,
        heading_deg: Some(352.5),
        water_depth_m: (n.is_multiple_of(2)).then_some(61.0 + run / 7.0),
        surface_temp_c: Some(14.1 - (run / 20.0).tanh()),
        surface_temp_raw_c: Some(14.0 - (run / 20.0).tanh()),
        surface_temp_qc: 1,
        probe_depth_m: None,
        probe_temp_c: None,
        probe_speed_mps: None,
        wind_speed_mps: None,
        wind_from_deg: None,
        activity: "troll".into(),
        sun_elevation_deg: 8.5 + run / 400.0,
        cell: CELL,
        water_depth_qc: if n.is_multiple_of(2) { 1 } else { 9 },
        probe_temp_qc: 9,
        sog_qc: Some(1),
        stw_qc: Some(9),
        heading_qc: Some(1),
    }
}

fn map_row(trip_id: &str) -> surface_map::Row {
    surface_map::Row {
        trip_id: trip_id.into(),
        lat: LAT,
        lon: LON,
        column: 3,
        row: 4,
        cell_m: 100.0,
        temp_c: 13.2,
        error_c: 0.2,
        gradient_c_per_km: Some(4.0),
        is_edge: true,
    }
}

fn section_row(trip_id: &str, start_us: i64) -> sections::Row {
    sections::Row {
        trip_id: trip_id.into(),
        section_id: format!("{trip_id}-section-1").as_str().into(),
        column: 0,
        time: start_us,
        lat: LAT,
        lon: LON,
        distance_m: 0.0,
        depth_m: 12.0,
        temp_c: Some(11.8),
        temp_se_c: Some(0.6),
        method: "between_casts".into(),
    }
}

fn isotherm_row(trip_id: &str) -> isotherms::Row {
    let vertices = [LAT, LAT + 0.01].map(|lat_deg| LatLon { lat_deg, lon_deg: LON });
    isotherms::Row {
        trip_id: trip_id.to_owned(),
        isotherm_id: format!("{trip_id}-isotherm-1"),
        geometry: wkb::line(&vertices),
        temp_c: 13.0,
        length_m: 1_112.0,
    }
}

fn isotherm_break_row(trip_id: &str, start_us: i64) -> isotherm_breaks::Row {
    isotherm_breaks::Row {
        trip_id: trip_id.to_owned(),
        break_id: format!("{trip_id}-isotherm-break-1"),
        isotherm_c: 12.8,
        time: start_us + SECOND,
        lat: LAT,
        lon: LON,
        distance_m: 40.0,
        depth_before_m: 12.0,
        depth_after_m: 18.5,
        step_m: 6.5,
        width_m: 180.0,
        gap_m: 120.0,
        centre_se_m: 12.0,
        step_se_m: 0.4,
        p_value: 1e-6,
    }
}

fn break_row(trip_id: &str, start_us: i64, n: i64, line: String) -> breaks::Row {
    breaks::Row {
        trip_id: trip_id.to_owned(),
        break_id: format!("{trip_id}-break-{n}"),
        break_line_id: (n == 1).then_some(line),
        time: start_us + n * SECOND,
        lat: LAT,
        lon: LON,
        distance_m: 40.0,
        temp_before_c: 14.1,
        temp_after_c: 11.7,
        step_c: -2.4,
        width_m: 120.0,
        gradient_c_per_km: 26.0,
        centre_se_m: 4.0,
        step_se_c: 0.1,
        p_value: 1e-6,
        kind: "thermal_break".to_owned(),
        warm_side_deg: Some(180.0),
        depth_m: None,
        gap_m: Some(2.4),
    }
}

fn calibration_row(trip_id: &str) -> calibrations::Row {
    calibrations::Row {
        trip_id: trip_id.to_owned(),
        speed_log: "VW".to_owned(),
        is_used: true,
        source: Some("this_trip".to_owned()),
        trips_used: 1,
        is_changed: false,
        log_factor: Some(1.06),
        log_factor_se: Some(0.01),
        log_scale: Some(1.06),
        log_scale_se: Some(0.01),
        log_offset_mps: None,
        log_offset_se_mps: None,
        deviation_a_deg: Some(2.1),
        deviation_a_se_deg: Some(0.4),
        deviation_b_deg: None,
        deviation_b_se_deg: None,
        deviation_c_deg: None,
        deviation_c_se_deg: None,
        deviation_d_deg: None,
        deviation_d_se_deg: None,
        deviation_e_deg: None,
        deviation_e_se_deg: None,
        leeway_part: None,
        leeway_part_se: None,
        lag_s: Some(1.2),
        lag_se_s: Some(0.3),
        mean_east_mps: Some(0.2),
        mean_north_mps: Some(0.0),
        mean_se_mps: Some(0.03),
        carried: None,
    }
}

fn lure_speed_row(trip_id: &str) -> lure_speeds::Row {
    lure_speeds::Row {
        trip_id: trip_id.to_owned(),
        depth_m: 14.2,
        looks: 40,
        course_deg: 90.0,
        probe_mps: 1.1,
        lure_speed_mps: 1.09,
        sog_mps: Some(1.2),
        sog_se_mps: Some(0.03),
        probe_scale: 0.99,
        probe_scale_se: 0.02,
        east_mps: 0.11,
        north_mps: 0.02,
        east_se_mps: 0.03,
        north_se_mps: 0.04,
        shear_east_mps: Some(-0.09),
        shear_north_mps: Some(0.02),
        probe_minus_log_mps: Some(-0.02),
        probe_minus_log_se_mps: Some(0.01),
    }
}

fn profile_row(trip_id: &str, start_us: i64, bin: i64) -> profiles::Row {
    profiles::Row {
        trip_id: trip_id.to_owned(),
        profile_id: format!("{trip_id}-profile-1"),
        time: start_us,
        lat: LAT,
        lon: LON,
        depth_m: bin as f64 + 0.5,
        temp_c: 14.0 - bin as f64,
        temp_qc: 1,
        samples: 12,
    }
}

fn layer_row(trip_id: &str, start_us: i64) -> layers::Row {
    layers::Row {
        trip_id: trip_id.to_owned(),
        profile_id: format!("{trip_id}-profile-1"),
        time: start_us,
        lat: LAT,
        lon: LON,
        surface_temp_c: Some(14.0),
        mixed_layer_depth_m: Some(6.0),
        mixed_layer_fit_m: Some(7.5),
        mixed_layer_chosen_m: Some(7.5),
        mixed_layer_method: Some("line_fit".to_owned()),
        thermocline_depth_m: Some(11.0),
        thermocline_depth_se_m: Some(0.4),
        thermocline_top_m: Some(8.0),
        thermocline_bottom_m: Some(16.0),
        thermocline_gradient_c_per_m: Some(-1.1),
        deepest_sampled_m: 32.0,
        preferred_top_m: Some(9.0),
        preferred_top_se_m: Some(0.3),
        preferred_bottom_m: None,
        preferred_bottom_se_m: None,
    }
}

fn bite(trip_id: &str, start_us: i64, spell_id: String) -> bites::Row {
    bites::Row {
        trip_id: trip_id.to_owned(),
        bite_id: format!("{trip_id}-bite-1"),
        time: start_us + 30 * SECOND,
        time_se_s: Some(30.0),
        lat: LAT,
        lon: LON,
        species: Some("chinook".to_owned()),
        outcome: Some("landed".to_owned()),
        weight_kg: Some(5.2),
        length_m: None,
        rod: Some("port rigger".to_owned()),
        spell_id: Some(spell_id),
        lure: Some("green spoon".to_owned()),
        depth_m: Some(15.8),
        depth_se_m: Some(0.6),
        depth_source: Some("counter".to_owned()),
        temp_at_depth_c: Some(9.4),
        temp_at_depth_se_c: Some(0.3),
        surface_temp_c: Some(14.1),
        water_depth_m: Some(61.0),
        sog_mps: Some(1.1),
        stw_mps: None,
        lure_speed_mps: Some(0.9),
        set_deg: Some(90.0),
        drift_mps: Some(0.2),
        break_distance_m: Some(120.0),
        break_side: Some("warm".to_owned()),
        above_thermocline_m: Some(-4.8),
        sun_elevation_deg: 8.5,
        cell: CELL,
        note: Some("first light, “slow roll”".to_owned()),
    }
}

fn break_line_row(trip_id: &str, start_us: i64, end_us: i64, line_id: String) -> break_lines::Row {
    break_lines::Row {
        trip_id: trip_id.to_owned(),
        break_line_id: line_id,
        geometry: wkb::line(&[
            LatLon { lat_deg: LAT, lon_deg: LON },
            LatLon { lat_deg: LAT + 0.05, lon_deg: LON + 0.025 },
        ]),
        crossings: 2,
        step_c: 2.4,
        length_m: 5_880.0,
        warm_side_deg: 71.0,
        drift_mps: None,
        drift_toward_deg: None,
        drift_se_mps: Some(0.01),
        direction_se_deg: Some(2.0),
        across_se_m: Some(30.0),
        time_first: start_us,
        time_last: end_us,
    }
}

fn spell_row(trip_id: &str, start_us: i64, end_us: i64, spell_id: String) -> rod_spells::Row {
    rod_spells::Row {
        trip_id: trip_id.to_owned(),
        spell_id,
        rod: "port rigger".to_owned(),
        time_in: start_us,
        time_out: end_us,
        method: Some("downrigger".to_owned()),
        line_out_m: Some(17.0),
        weight_kg: Some(4.5),
        lure: Some("green spoon".to_owned()),
        running_depth_m: Some(15.8),
        running_depth_se_m: Some(0.6),
        depth_source: Some("counter".to_owned()),
        assumed: false,
    }
}
