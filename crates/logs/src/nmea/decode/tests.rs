use super::*;
use crate::observation::{FixKind, WindReference};
use crate::words::checksum;
use waterseam_units::LatLon;
use waterseam_units::convert::{MPS_PER_KMH, MPS_PER_KN};

/// The values of a sentence given by its address and fields.
fn values(inside: &str) -> Result<Vec<Value>, Reason> {
    let text = format!("${inside}*{:02X}", checksum(inside.as_bytes()));
    let mut values = Vec::new();
    decode(text.as_bytes())?.body.values(&mut |value| values.push(value))?;
    Ok(values)
}

fn check(inside: &str, want: &[Value]) {
    assert_eq!(values(inside).as_deref(), Ok(want), "{inside}");
}

fn refused(inside: &str, want: Reason) {
    assert_eq!(values(inside), Err(want), "{inside}");
}

fn set_and_drift(set_deg: f64, north: North) -> Value {
    Value::ReportedCurrent { set_deg, north, drift_mps: MPS_PER_KN }
}

fn depth(depth_m: f64, reference: DepthReference, offset_m: Option<f64>) -> Value {
    Value::WaterDepth { depth_m, reference, offset_m }
}

#[test]
fn depths_and_what_they_are_measured_from() {
    check("SDDPT,24.0,0.5", &[depth(24.5, DepthReference::Surface, Some(0.5))]);
    check("SDDPT,24.0,-0.5", &[depth(23.5, DepthReference::Keel, Some(-0.5))]);
    check("SDDPT,0113.7,-0.0,0500", &[depth(113.7, DepthReference::Transducer, None)]);
    check("SDDBS,,f,16.3,M,,F", &[depth(16.3, DepthReference::Surface, None)]);
    check("SDDPT,,0.5", &[]);
    refused("SDDPT,0.0,0.5", Reason::DepthZero);
    refused("SDDBT,0.0,f,0.0,M,0.0,F", Reason::DepthZero);
    refused("SDDPT,0.5,-1.0", Reason::ValueOutOfRange);
    refused("SDDPT,-3.0,0.5", Reason::ValueOutOfRange);
    refused("SDDBT,7.8,M,2.4,M,1.3,F", Reason::UnitUnknown);
}

#[test]
fn temperatures_of_the_water_alone() {
    let temp = |temp_c| Value::WaterTemp { temp_c };
    check("YXMTW,+12.0,C", &[temp(12.0)]);
    check("YXMTW, 9.5,C", &[temp(9.5)]);
    check("YXMTW,283.65,K", &[temp(10.5)]);
    check("WIMDA,,I,,B,20.0,C,9.5,C,,,,C,,T,,M,,N,,M", &[temp(9.5)]);
    check("YXXDR,C,21.0,C,AIRTEMP,C,9.5,C,TempWater", &[temp(9.5)]);
    check("YXXDR,C,78.0,C,ENG_WATER", &[]);
    refused("YXXDR,C,9.5,Q,TempWater", Reason::UnitUnknown);
    refused("YXMTW,9.5,Q", Reason::UnitUnknown);
    refused("YXMTW,9,5,C", Reason::UnitUnknown);
    for number in ["nan", "inf", "1e1", "12..4"] {
        refused(&format!("YXMTW,{number},C"), Reason::FieldUnreadable);
    }
}

#[test]
fn what_real_receivers_write_in_an_rmc() {
    let fix = Value::Fix { at: LatLon { lat_deg: 48.5, lon_deg: 2.25 }, from: FixKind::Rmc };
    let velocity = Value::GroundVelocity { sog_mps: MPS_PER_KN, cog_deg: Some(21.5) };
    let rmc = |end: &str| format!("GPRMC,212615.879,A,4830.0,N,00215.0,E,1.0,21.5,181207,{end}");
    // the letter of the variation left out: tests/real-receivers r047 and r070
    for end in ["0,A", ",A", ",,A", "3.2,E,A", "3.2,E", ",", "0,D,S"] {
        check(&rmc(end), &[fix, velocity]);
    }
    for end in ["0,N", "3.2,E,N"] {
        refused(&rmc(end), Reason::VoidFix);
    }
    refused(&rmc("3.2,X"), Reason::FieldUnreadable);
    // no fix, and a place that is none: r050, r079, r080, r084
    for void in [
        "GPRMC,071732.929,V,8960.0,N,00000.0,E,0.00,0.00,111111,,,N",
        "GPGGA,235946.005,8960.0,N,00000.0,E,0,0,,137.0,M,13.0,M,,",
        "GPGLL,36000.0,N,72000.0,E,000452.981,V",
    ] {
        refused(void, Reason::VoidFix);
    }
    refused("GPGLL,36000.0,N,72000.0,E,000452.981,A", Reason::PositionOutOfRange);
}

#[test]
fn water_speed_and_heading() {
    let speed = |kn: f64| Value::WaterSpeed { stw_mps: kn * MPS_PER_KN, across_mps: None };
    let heading = |heading_deg, north| Value::Heading { heading_deg, north };
    check("VWVHW,182.7,T,190.0,M,2.0,N,,K", &[speed(2.0), heading(182.7, North::True)]);
    check("VWVHW,,,266,M,,,,", &[heading(266.0, North::Magnetic)]);
    check("VWVHW,  ,T,266.0,M, 2.0,N", &[speed(2.0), heading(266.0, North::Magnetic)]);
    refused("VWVHW,361.0,T,,M,2.0,N,,K", Reason::ValueOutOfRange);
    refused("VWVHW,inf,T,,M,2.0,N,,K", Reason::FieldUnreadable);
    check(
        "VDVBW,2.0,-1.0,A,,,V",
        &[Value::WaterSpeed { stw_mps: 2.0 * MPS_PER_KN, across_mps: Some(-MPS_PER_KN) }],
    );
    refused("VDVBW,2.0,-1.0,V,2.0,0.1,A", Reason::StatusInvalid);
    check("HCHDG,2.0,3.0,W,4.0,W", &[heading(355.0, North::True)]);
    check("HCHDG,2.0,3.0,W,,", &[heading(359.0, North::Magnetic)]);
    check("HCHDM,360.0,M", &[heading(0.0, North::Magnetic)]);
    check("GPTHS,77.1,A", &[heading(77.1, North::True)]);
    refused("GPTHS,77.1,V", Reason::StatusInvalid);
    check("IIVDR,344.3,T,,M,1.0,N", &[set_and_drift(344.3, North::True)]);
    check("IIVDR,,T,351.5,M,1.0,N", &[set_and_drift(351.5, North::Magnetic)]);
    check("IIVDR,,T,,M,1.0,N", &[]);
}

#[test]
fn wind_from_every_kind_of_instrument() {
    let wind = |speed_mps, from_deg, reference| Value::Wind { speed_mps, from_deg, reference };
    check("WIMWV,251,R,18.0,K,A", &[wind(18.0 * MPS_PER_KMH, 251.0, WindReference::Apparent)]);
    check("WIMWV,251,T,5.0,M,A", &[wind(5.0, 251.0, WindReference::WaterFromBow)]);
    check("WIMWD,10.0,T,,M,,N,5.0,M", &[wind(5.0, 10.0, WindReference::TrueNorth)]);
    check("IIVWR,099,L,05.0,N,,,,", &[wind(5.0 * MPS_PER_KN, 261.0, WindReference::Apparent)]);
    check("IIVWR,099,R,,N,5.0,M,,", &[wind(5.0, 99.0, WindReference::Apparent)]);
    refused("WIMWV,251,R,18.0,N,V", Reason::StatusInvalid);
    refused("WIMWV,251,R,18.0,Q,A", Reason::UnitUnknown);
    refused("IIVWR,199,L,05.0,N,,,,", Reason::ValueOutOfRange);
}

#[test]
fn fixes_and_what_is_none() {
    let at = LatLon { lat_deg: 46.25, lon_deg: -29.5 };
    let fix = |from| Value::Fix { at, from };
    let place = "4615.0,N,02930.0,W";
    check(&format!("GPGGA,060000,{place},1,09,0.9,--,M,,M,,"), &[fix(FixKind::Gga)]);
    check(&format!("GPGGA,060000,{place},,,,,M,,M,,"), &[fix(FixKind::Gga)]);
    check(&format!("GPGNS,060000,{place},NA,,,,,,"), &[fix(FixKind::Gns)]);
    check(&format!("GPGLL,{place},,A"), &[fix(FixKind::Gll)]);
    let velocity = Value::GroundVelocity { sog_mps: 2.0 * MPS_PER_KN, cog_deg: None };
    check(&format!("GPRMC,60000.0123456789,A,{place}, 2.0,,000000,,"), &[fix(FixKind::Rmc), velocity]);
    check("GPVTG,,T,,M,2.0,N,,K,A", &[velocity]);
    for mode in ["E", "M", "N"] {
        refused(&format!("GPRMC,060000,A,{place},2.0,,140526,,,{mode}"), Reason::VoidFix);
        refused(&format!("GPVTG,,T,,M,2.0,N,,K,{mode}"), Reason::VoidFix);
    }
    for quality in ["0", "6", "7"] {
        refused(&format!("GPGGA,060000,{place},{quality},09,0.9,180,M,,M,,"), Reason::VoidFix);
    }
    refused(&format!("GPGNS,060000,{place},SN,,,,,,"), Reason::Simulated);
    refused(&format!("GPRMC,060000,A,{place},-2.0,,140526,,,A"), Reason::ValueOutOfRange);
}

#[test]
fn dates_of_zda() {
    let said = |inside: &str| {
        let text = format!("${inside}*{:02X}", checksum(inside.as_bytes()));
        decode(text.as_bytes()).map(|decoded| decoded.body.said().unwrap_or_default().time_us())
    };
    let want = Ok(Some(1_397_678_239_000_000));
    assert_eq!(said("GPZDA,195719,16,04,2014,-02,00"), want);
    assert_eq!(said("GPZDA,195719,16,04,14,-02,00"), want, "as a real receiver sends it");
    assert_eq!(said("GPZDA,195719,16,4,2014"), want);
    assert_eq!(said("GPZDA,000012.00,00,00,0000,00,00"), Ok(None));
    assert_eq!(said("GPZDA,195719,31,04,2014,,"), Err(Reason::DateOutOfRange));
    assert_eq!(said("GPZDA,195719,16,04,1970,,"), Err(Reason::DateOutOfRange));
}
