//! What is written in a sentence comes back, whatever the sentence and the unit.

use proptest::prelude::*;
use waterseam_units::convert::{
    M_PER_FATHOM, M_PER_FT, MPS_PER_KMH, MPS_PER_KN, MPS_PER_MPH, c_from_f, c_from_k,
};

use super::*;
use crate::observation::FixKind::{Gga, Gll, Gns, Rmc};
use crate::observation::WindReference;
use crate::words::checksum;

/// Ten-millionths of a minute in a degree.
const PER_DEGREE: u64 = 600_000_000;

/// The values of a sentence given by its address and fields.
fn values(inside: &str) -> Vec<Value> {
    let text = format!("${inside}*{:02X}", checksum(inside.as_bytes()));
    let mut values = Vec::new();
    let decoded = decode(text.as_bytes()).unwrap_or_else(|reason| panic!("{inside}: {reason:?}"));
    decoded
        .body
        .values(&mut |value| values.push(value))
        .unwrap_or_else(|reason| panic!("{inside}: {reason:?}"));
    values
}

fn near(got: f64, want: f64) -> bool {
    (got - want).abs() <= 1e-12 * want.abs().max(1.0)
}

/// Whether a value agrees with another to the last digits of a double.
fn same(got: Value, want: Value) -> bool {
    match (got, want) {
        (Value::Fix { at: a, from: f }, Value::Fix { at: b, from: g }) => {
            f == g && near(a.lat_deg, b.lat_deg) && near(a.lon_deg, b.lon_deg)
        }
        (Value::Mark { at: a }, Value::Mark { at: b }) => {
            near(a.lat_deg, b.lat_deg) && near(a.lon_deg, b.lon_deg)
        }
        (
            Value::GroundVelocity { sog_mps: a, cog_deg: Some(c) },
            Value::GroundVelocity { sog_mps: b, cog_deg: Some(d) },
        ) => near(a, b) && near(c, d),
        (
            Value::ReportedCurrent { set_deg: a, north: f, drift_mps: c },
            Value::ReportedCurrent { set_deg: b, north: g, drift_mps: d },
        ) => f == g && near(a, b) && near(c, d),
        (Value::WaterTemp { temp_c: a }, Value::WaterTemp { temp_c: b }) => near(a, b),
        (
            Value::WaterDepth { depth_m: a, reference: f, offset_m: c },
            Value::WaterDepth { depth_m: b, reference: g, offset_m: d },
        ) => f == g && near(a, b) && c == d,
        (
            Value::WaterSpeed { stw_mps: a, across_mps: c },
            Value::WaterSpeed { stw_mps: b, across_mps: d },
        ) => near(a, b) && near(c.unwrap_or(0.0), d.unwrap_or(0.0)) && c.is_some() == d.is_some(),
        (Value::Heading { heading_deg: a, north: f }, Value::Heading { heading_deg: b, north: g }) => {
            f == g && near(a, b)
        }
        (
            Value::Wind { speed_mps: a, from_deg: c, reference: f },
            Value::Wind { speed_mps: b, from_deg: d, reference: g },
        ) => f == g && near(a, b) && near(c, d),
        _ => false,
    }
}

fn check(inside: &str, want: &[Value]) {
    let got = values(inside);
    let all = got.len() == want.len() && got.iter().zip(want).all(|(got, want)| same(*got, *want));
    assert!(all, "{inside}: {got:?}, not {want:?}");
}

/// A part of a position as a sentence writes it, in so many digits of degrees, and in degrees.
fn coordinate(units: u64, digits: usize, negative: bool) -> (String, f64) {
    let (degrees, minutes) = (units / PER_DEGREE, units % PER_DEGREE);
    let text = format!("{degrees:0digits$}{:02}.{:07}", minutes / 10_000_000, minutes % 10_000_000);
    let angle = units as f64 / PER_DEGREE as f64;
    (text, if negative { -angle } else { angle })
}

/// A number with three decimals, as text and as it is.
fn number(range: std::ops::Range<i64>) -> impl Strategy<Value = (String, f64)> {
    range.prop_map(|thousandths| {
        let text = format!("{:.3}", thousandths as f64 / 1000.0);
        let value = text.parse().unwrap();
        (text, value)
    })
}

proptest! {
    #[test]
    fn positions(
        lat in 0..=90 * PER_DEGREE, lon in 0..=180 * PER_DEGREE, south in any::<bool>(), west in any::<bool>(),
        (sog, sog_kn) in number(0..60_000), (cog, cog_deg) in number(0..360_000),
    ) {
        let ((lat, lat_deg), (lon, lon_deg)) = (coordinate(lat, 2, south), coordinate(lon, 3, west));
        let (ns, ew) = (if south { 'S' } else { 'N' }, if west { 'W' } else { 'E' });
        let place = format!("{lat},{ns},{lon},{ew}");
        let at = waterseam_units::LatLon { lat_deg, lon_deg };
        let fix = |from| Value::Fix { at, from };
        let velocity = Value::GroundVelocity { sog_mps: sog_kn * MPS_PER_KN, cog_deg: Some(cog_deg) };
        check(&format!("GPRMC,060102.25,A,{place},{sog},{cog},140526,3.1,E,A"), &[fix(Rmc), velocity]);
        check(&format!("GPGGA,060102.25,{place},1,09,0.9,180.1,M,-33.0,M,,"), &[fix(Gga)]);
        check(&format!("GPGLL,{place},060102.25,A,A"), &[fix(Gll)]);
        check(&format!("GNGNS,060102.25,{place},AA,12,0.8,180.1,-33.0,,"), &[fix(Gns)]);
        check(&format!("GPWPL,{place},HOOKUP"), &[Value::Mark { at }]);
        check(&format!("GPVTG,{cog},T,{cog},M,{sog},N,,K,A"), &[velocity]);
        check(&format!("GPVTG,{cog},,{sog},"), &[velocity]);
        let by_kmh = Value::GroundVelocity { sog_mps: sog_kn * MPS_PER_KMH, cog_deg: Some(cog_deg) };
        check(&format!("GPVTG,{cog},T,,M,,N,{sog},K"), &[by_kmh]);
    }

    #[test]
    fn temperatures((text, value) in number(-2_000..300_000)) {
        let temp = |temp_c| [Value::WaterTemp { temp_c }];
        check(&format!("YXMTW,{text},C"), &temp(value));
        check(&format!("YXMTW,{text},F"), &temp(c_from_f(value)));
        check(&format!("YXMTW,{text},K"), &temp(c_from_k(value)));
        check(&format!("YXMTW,{text},"), &temp(value));
        check(&format!("WIMDA,29.9,I,1.01,B,20.0,C,{text},C,,,,C,,T,,M,,N,,M"), &temp(value));
        check(&format!("YXXDR,C,20.0,C,AIR,C,{text},C,WATER"), &temp(value));
        check(&format!("YXXDR,C,{text},F,SEATEMP"), &temp(c_from_f(value)));
    }

    #[test]
    fn depths((text, value) in number(1..12_000_000), (offset, offset_m) in number(1..9_000)) {
        let depth = |depth_m, reference, offset_m| [Value::WaterDepth { depth_m, reference, offset_m }];
        check(&format!("SDDPT,{text},"), &depth(value, DepthReference::Transducer, None));
        let surface = depth(value + offset_m, DepthReference::Surface, Some(offset_m));
        check(&format!("SDDPT,{text},{offset},100.0"), &surface);
        if value > offset_m {
            check(&format!("SDDPT,{text},-{offset}"), &depth(value - offset_m, DepthReference::Keel, Some(-offset_m)));
        }
        for (kind, reference) in [
            ("DBT", DepthReference::Transducer), ("DBS", DepthReference::Surface), ("DBK", DepthReference::Keel),
        ] {
            check(&format!("SD{kind},1.0,f,{text},M,1.0,F"), &depth(value, reference, None));
            check(&format!("SD{kind},{text},f,,M,,F"), &depth(value * M_PER_FT, reference, None));
            check(&format!("SD{kind},,f,,M,{text},F"), &depth(value * M_PER_FATHOM, reference, None));
        }
    }

    #[test]
    fn the_boat_in_the_water(
        (along, along_kn) in number(-5_000..40_000), (across, across_kn) in number(-5_000..5_000),
        (angle, angle_deg) in number(0..360_000), (speed, value) in number(0..90_000),
    ) {
        let water = Value::WaterSpeed {
            stw_mps: along_kn * MPS_PER_KN, across_mps: Some(across_kn * MPS_PER_KN),
        };
        check(&format!("VMVBW,{along},{across},A,9.0,9.0,V"), &[water]);
        let heading = |north| Value::Heading { heading_deg: angle_deg, north };
        let stw = |stw_mps| Value::WaterSpeed { stw_mps, across_mps: None };
        check(&format!("VWVHW,{angle},T,1.0,M,{speed},N,,K"), &[stw(value * MPS_PER_KN), heading(North::True)]);
        check(&format!("VWVHW,,T,{angle},M,,N,{speed},K"), &[stw(value * MPS_PER_KMH), heading(North::Magnetic)]);
        let current = Value::ReportedCurrent { set_deg: angle_deg, north: North::True, drift_mps: value * MPS_PER_KN };
        check(&format!("IIVDR,{angle},T,1.0,M,{speed},N"), &[current]);
        check(&format!("HEHDT,{angle},T"), &[heading(North::True)]);
        check(&format!("HCHDM,{angle},M"), &[heading(North::Magnetic)]);
        check(&format!("HETHS,{angle},A"), &[heading(North::True)]);
        check(&format!("HCHDG,{angle},,,,"), &[heading(North::Magnetic)]);
        let turned = Value::Heading { heading_deg: (angle_deg + 1.5 - 7.25).rem_euclid(360.0), north: North::True };
        check(&format!("HCHDG,{angle},1.5,E,7.25,W"), &[turned]);
    }

    #[test]
    fn winds((angle, from_deg) in number(0..360_000), (speed, value) in number(0..90_000)) {
        let wind = |speed_mps, reference| [Value::Wind { speed_mps, from_deg, reference }];
        for (unit, mps) in [('M', 1.0), ('N', MPS_PER_KN), ('K', MPS_PER_KMH), ('S', MPS_PER_MPH)] {
            check(&format!("WIMWV,{angle},R,{speed},{unit},A"), &wind(value * mps, WindReference::Apparent));
            check(&format!("WIMWV,{angle},T,{speed},{unit},A"), &wind(value * mps, WindReference::WaterFromBow));
        }
        check(&format!("WIMWD,{angle},T,,M,{speed},N,,M"), &wind(value * MPS_PER_KN, WindReference::TrueNorth));
        check(&format!("WIMWD,{angle},T,,M,,N,{speed},M"), &wind(value, WindReference::TrueNorth));
    }

    #[test]
    fn times(clock_us in 0i64..86_400_000_000, day in 0i64..43_000) {
        // from 1980 to 2097
        let date_us = (day + 3_652) * 86_400_000_000;
        let date = jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::from_microsecond(date_us).unwrap());
        let (minute, us) = (clock_us / 60_000_000, clock_us % 60_000_000);
        let clock = format!("{:02}{:02}{:02}.{:06}", minute / 60, minute % 60, us / 1_000_000, us % 1_000_000);
        let zda = format!("GPZDA,{clock},{},00,00", date.strftime("%d,%m,%Y"));
        let text = format!("${zda}*{:02X}", checksum(zda.as_bytes()));
        let said = decode(text.as_bytes()).unwrap().body.said().unwrap_or_default();
        prop_assert_eq!(said.time_us(), Some(date_us + clock_us));
        // two digits of a year reach to 2079
        if day < 36_500 {
            let rmc = format!("GPRMC,{clock},A,4612.0,N,02924.0,W,1.0,2.0,{},,,A", date.strftime("%d%m%y"));
            let text = format!("${rmc}*{:02X}", checksum(rmc.as_bytes()));
            prop_assert_eq!(decode(text.as_bytes()).unwrap().body.said().unwrap_or_default().time_us(), Some(date_us + clock_us));
        }
    }
}
