use proptest::prelude::*;

use super::*;

/// An hour of legs of four minutes on the given courses in one current, by perfect instruments.
struct Legs {
    time_s: Vec<f64>,
    distance_m: Vec<f64>,
    columns: [Vec<Option<f64>>; 4],
}

impl Legs {
    fn new(courses_deg: &[f64], current: Velocity) -> Self {
        let time_s: Vec<f64> = (0..3600).map(f64::from).collect();
        let mut legs = Self { distance_m: time_s.clone(), time_s, columns: Default::default() };
        for second in 0..3600 {
            let heading_deg = courses_deg[second / 240 % courses_deg.len()];
            let (sog, cog) = (Velocity::toward(1.2, heading_deg) + current).speed_direction();
            for (column, value) in legs.columns.iter_mut().zip([Some(sog), cog, Some(1.2), Some(heading_deg)])
            {
                column.push(value);
            }
        }
        legs
    }

    fn estimate(&self) -> Currents {
        self.estimate_after(None)
    }

    fn estimate_after(&self, earlier: Option<&Calibration>) -> Currents {
        let [sog_mps, cog_deg, stw_mps, heading_deg] = &self.columns;
        let (time_s, distance_m) = (&self.time_s, &self.distance_m);
        let motion =
            Motion { time_s, distance_m, sog_mps, cog_deg, stw_mps, heading_deg, ..Motion::default() };
        estimate(motion, earlier, &Settings::default())
    }

    fn with(mut self, column: usize, value: impl Fn(f64) -> Option<f64>) -> Self {
        self.columns[column] = self.time_s.iter().map(|&t| value(t)).collect();
        self
    }
}

const CURRENT: Velocity = Velocity { east_mps: 0.2, north_mps: -0.1 };

fn only_remark(currents: &Currents) -> &str {
    assert!(currents.windows.is_empty() && currents.edges.is_empty() && currents.calibration.is_none());
    let [remark] = &currents.remarks[..] else { panic!("{:?}", currents.remarks) };
    remark
}

#[test]
fn perfect_instruments_give_the_current() {
    let got = Legs::new(&[0.0, 90.0, 200.0], CURRENT).estimate();
    assert!(got.windows.len() >= 12 && got.edges.is_empty() && got.remarks.is_empty(), "{got:?}");
    for window in &got.windows {
        let off = Velocity { east_mps: window.east_mps, north_mps: window.north_mps } - CURRENT;
        assert!(off.speed_mps() < 1e-6, "{window:?}");
    }
    let calibration = got.calibration.unwrap();
    assert!((calibration.speed_mps(1.2).value - 1.2).abs() < 1e-3, "{calibration:?}");
    assert_eq!(calibration.basis, Basis::ThisTrip);
}

#[test]
fn a_slow_log_and_a_turned_compass_are_seen() {
    let legs = Legs::new(&[0.0, 90.0, 200.0], CURRENT);
    let headings = legs.columns[3].clone();
    let got = legs.with(2, |_| Some(1.0)).with(3, |t| headings[t as usize].map(|h| h - 4.0)).estimate();
    let calibration = got.calibration.unwrap();
    assert!((calibration.speed_mps(1.0).value - 1.2).abs() < 1e-3, "{calibration:?}");
    for heading in [-4.0, 86.0, 196.0] {
        assert!((calibration.deviation_at_deg(heading).value - 4.0).abs() < 0.1, "{calibration:?}");
    }
}

#[test]
fn an_earlier_trip_tells_what_one_course_cannot() {
    let wrong = |legs: Legs| {
        let headings = legs.columns[3].clone();
        legs.with(2, |_| Some(1.0)).with(3, |t| headings[t as usize].map(|h| h - 4.0))
    };
    let around = Legs::new(&[0.0, 120.0, 240.0, 60.0, 180.0, 300.0], CURRENT);
    let earlier = wrong(around).estimate().calibration.unwrap();
    let today = wrong(Legs::new(&[40.0], CURRENT));
    assert_eq!(today.estimate().calibration, None);
    let got = today.estimate_after(Some(&earlier));
    assert_eq!(got.calibration.unwrap().basis, Basis::EarlierTrips);
    for window in &got.windows {
        let off = Velocity { east_mps: window.east_mps, north_mps: window.north_mps } - CURRENT;
        assert!(off.speed_mps() < 2.0 * window.east_se_mps.hypot(window.north_se_mps), "{window:?}");
        assert!(window.north_se_mps < 0.05, "{window:?}");
    }
}

#[test]
fn another_log_drops_what_earlier_trips_said() {
    let trip = |shown_mps: f64| Legs::new(&[0.0, 90.0, 200.0], CURRENT).with(2, |_| Some(shown_mps));
    let earlier = trip(1.0).estimate().calibration.unwrap();
    let again = trip(1.0).estimate_after(Some(&earlier));
    assert_eq!((again.calibration.unwrap().basis, again.remarks.len()), (Basis::Both, 0));
    let other = trip(1.6).estimate_after(Some(&earlier));
    assert!(other.remarks[0].contains("differently from earlier trips"), "{:?}", other.remarks);
    let calibration = other.calibration.unwrap();
    assert_eq!(calibration.basis, Basis::ThisTrip);
    assert!((calibration.speed_mps(1.6).value - 1.2).abs() < 0.01);
}

#[test]
fn one_course_tells_little_and_says_so() {
    let got = Legs::new(&[40.0], CURRENT).estimate();
    assert_eq!(got.calibration, None);
    assert!(got.remarks[0].contains("one course, about 40°"), "{:?}", got.remarks);
    assert!(got.windows.iter().all(|w| w.north_se_mps > 0.05));
}

#[test]
fn what_is_missing_is_named() {
    let legs = || Legs::new(&[0.0, 90.0], CURRENT);
    let cases = [
        (legs().with(1, |_| None), "over ground"),
        (legs().with(2, |_| None), "no speed through the water"),
        (legs().with(2, |_| Some(0.0)), "reads zero"),
        (legs().with(3, |_| None), "no heading"),
        (Legs::new(&[40.0], CURRENT).with(3, |_| None), "one course, about 50° true"),
        (legs().with(3, |_| None).with(2, |_| None), "along one line only: 0.21 m/s toward 135°"),
        (legs().with(2, |_| Some(0.4)), "too little steady motion"),
        (legs().with(0, |t| Some(t / 360.0)), "too little steady motion"),
        (Legs::new(&[0.0, 90.0, 200.0], Velocity::default()).with(2, |_| Some(4.0)), "0.3 times"),
    ];
    for (legs, remark) in cases {
        let got = legs.estimate();
        assert!(only_remark(&got).contains(remark), "{remark}: {:?}", got.remarks);
    }
}

proptest! {
    #[test]
    fn nonsense_does_no_harm(rows in prop::collection::vec(
        prop::array::uniform4(prop::option::of(prop_oneof![Just(f64::NAN), Just(1.0), -1e6f64..1e6, 0f64..3.0])), 0..200,
    )) {
        let time_s: Vec<f64> = (0..rows.len()).map(|t| t as f64).collect();
        let column = |k: usize| rows.iter().map(|row| row[k]).collect::<Vec<_>>();
        let legs = Legs { distance_m: time_s.clone(), time_s, columns: [column(0), column(1), column(2), column(3)] };
        let got = legs.estimate();
        prop_assert!(got.windows.iter().all(|w| w.east_mps.is_finite() && w.east_se_mps.is_finite()));
        prop_assert!(!got.windows.is_empty() || !got.remarks.is_empty());
    }
}
