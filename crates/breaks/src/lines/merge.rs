//! Which chains and single crossings are one line that drifts?
//!
//! Passes an hour and more apart find a front at another place, so that the nearest crossings need not lie along it.
//! Chains are therefore merged where one moving line fits all their crossings.

use waterseam_units::LatLon;
use waterseam_units::angle::{mean_direction_deg, turn_deg};

use super::{LEAST_CROSSING_ANGLE_DEG, Place, alike, alternates};
use crate::drift::{Course, Sighting};

/// Greatest distance of a crossing from the line, in standard errors.
const GREATEST_OFF: f64 = 3.0;
/// Greatest ratio of two steps: crossings that nothing but a drift joins must be more alike than neighbours.
const GREATEST_STEP_RATIO: f64 = 1.5;

/// Places of one line in their order along it, the end with the earlier crossing first.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    pub places: Vec<usize>,
    /// Direction of the warm side, degrees true.
    pub warm_deg: f64,
}

/// Chains merged as long as that is possible; single places that belong to none are left out.
pub(super) fn merged(chains: Vec<Vec<usize>>, places: &[Place], greatest_join_m: f64) -> Vec<Chain> {
    let mut groups = chains;
    // longest first: they tell the line best
    groups.sort_by_key(|group| std::cmp::Reverse(group.len()));
    let mut i = 0;
    while i < groups.len() {
        let candidates = (i + 1..groups.len())
            .filter(|&j| groups[i].len() >= 2 && is_near(&groups[i], &groups[j], places, greatest_join_m));
        let best = candidates
            .filter_map(|j| {
                let both = [&groups[i][..], &groups[j][..]].concat();
                Some((cost(&both, places, greatest_join_m)?, j, both))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((_, j, both)) => {
                groups[i] = both;
                groups.remove(j);
            }
            None => i += 1,
        }
    }
    groups
        .iter()
        .filter(|group| group.len() >= 2)
        .filter_map(|group| Some(Line::new(group, places)?.chain(places)))
        .collect()
}

fn is_near(a: &[usize], b: &[usize], places: &[Place], greatest_join_m: f64) -> bool {
    let distance_m = |p: usize, q: usize| {
        (places[p].east_m - places[q].east_m).hypot(places[p].north_m - places[q].north_m)
    };
    a.iter().any(|&p| b.iter().any(|&q| distance_m(p, q) <= greatest_join_m))
}

/// How unlike a line the places are, a crossing, where they may be one line that drifts.
fn cost(members: &[usize], places: &[Place], greatest_join_m: f64) -> Option<f64> {
    let line = Line::new(members, places)?;
    let warm_courses = || members.iter().flat_map(|&place| places[place].warm_courses_deg.iter());
    let least_cosine = LEAST_CROSSING_ANGLE_DEG.to_radians().sin();
    let is_one_sided =
        warm_courses().all(|course| turn_deg(line.warm_deg, *course).to_radians().cos() >= least_cosine);
    let fits = line.along_off.iter().all(|(_, _, off)| off.abs() <= GREATEST_OFF);
    let is_whole = line.along_off.windows(2).all(|w| w[1].1 - w[0].1 <= greatest_join_m);
    let first = line.along_off.first()?.0;
    let are_alike = members.iter().all(|&place| alike(&places[first], &places[place], GREATEST_STEP_RATIO));
    let is_line = alternates(members, places)
        && is_one_sided
        && fits
        && is_whole
        && are_alike
        && line.course.is_ordinary();
    let off: f64 = line.along_off.iter().map(|(_, _, off)| off * off).sum();
    is_line.then(|| (off + line.course.unlikely()) / members.len() as f64)
}

/// Places along a line that was fitted to them.
struct Line {
    course: Course,
    warm_deg: f64,
    /// Place, distance along the line, m, and distance from it in standard errors, in order along it.
    along_off: Vec<(usize, f64, f64)>,
}

impl Line {
    fn new(members: &[usize], places: &[Place]) -> Option<Self> {
        let courses = members.iter().flat_map(|&place| places[place].warm_courses_deg.iter().copied());
        let warm_deg = mean_direction_deg(courses)?;
        let sighting = |&place: &usize| {
            let Place { east_m, north_m, time_s, centre_se_m, .. } = places[place];
            Sighting { east_m, north_m, time_s, se_m: centre_se_m }
        };
        let sightings: Vec<Sighting> = members.iter().map(sighting).collect();
        let course = Course::new(&sightings, LatLon { lat_deg: 0.0, lon_deg: 0.0 })?;
        let mut along_off: Vec<(usize, f64, f64)> = members
            .iter()
            .zip(&sightings)
            .map(|(&place, sighting)| {
                let (along_m, off) = course.along_off(sighting);
                (place, along_m, off)
            })
            .collect();
        along_off.sort_by(|a, b| a.1.total_cmp(&b.1));
        Some(Self { warm_deg: course.side_deg(warm_deg), course, along_off })
    }

    fn chain(self, places: &[Place]) -> Chain {
        let mut order: Vec<usize> = self.along_off.into_iter().map(|(place, ..)| place).collect();
        let earliest = |place: Option<&usize>| place.and_then(|&place| places[place].members.iter().min());
        if earliest(order.last()) < earliest(order.first()) {
            order.reverse();
        }
        Chain { places: order, warm_deg: self.warm_deg }
    }
}
