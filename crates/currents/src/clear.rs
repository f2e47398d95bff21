//! Which terms of log and compass do the courses determine, and what do the others leave open?
//!
//! A term that the courses hardly determine is better left alone: it trades against the current (a cycle of the deviation and
//! leeway in an even wind look alike, and both like a current to one half). It is held where it was before, and what it
//! may be counts in every error (consider covariance: Bierman 1977, Factorization Methods for Discrete Sequential
//! Estimation, chapter 8; from memory).

use nalgebra::{DMatrix, DVector};

use crate::Settings;
use crate::model::{DEVIATION, LEEWAY, OFFSET, SCALE, Spread, TERMS};

/// Terms that are determined together or not at all.
const GROUPS: [&[usize]; 6] = [
    &[LEEWAY],
    &[OFFSET],
    &[DEVIATION + 3, DEVIATION + 4],
    &[DEVIATION + 1, DEVIATION + 2],
    &[DEVIATION],
    &[SCALE],
];

/// The group of terms, of those not held already, whose standard errors are the furthest above what is clear.
pub(crate) fn open(spread: &Spread, clear: [bool; TERMS], settings: &Settings) -> Option<&'static [usize]> {
    let se = standard_errors(spread, clear);
    let limits = limits(settings);
    let worst_of = |group: &&[usize]| group.iter().map(|&term| se[term] / limits[term]).fold(0.0, f64::max);
    let left = GROUPS.into_iter().filter(|group| clear[group[0]] && worst_of(group) > 1.0);
    left.max_by(|a, b| worst_of(a).total_cmp(&worst_of(b)))
}

/// The terms that are clear by a covariance, the worst held first: the others may be clear without it.
pub(crate) fn clear(spread: &Spread, settings: &Settings) -> [bool; TERMS] {
    let mut clear = [true; TERMS];
    while let Some(group) = open(spread, clear, settings) {
        for &term in group {
            clear[term] = false;
        }
    }
    clear
}

/// Greatest standard error of a clear term.
fn limits(settings: &Settings) -> [f64; TERMS] {
    let cycle = settings.clear_cycle_se_deg.to_radians();
    let part = settings.calibration_se_max;
    [part, settings.clear_offset_se_mps, part, cycle, cycle, cycle, cycle, settings.clear_leeway_se]
}

/// Standard errors of the clear terms with the others held; 0 of those.
pub(crate) fn standard_errors(spread: &Spread, clear: [bool; TERMS]) -> [f64; TERMS] {
    let (free, held) = parts(clear);
    let mut se = [0.0; TERMS];
    let of_held = DMatrix::from_fn(held.len(), held.len(), |i, j| spread[(held[i], held[j])]).cholesky();
    for &term in &free {
        let with_held = DVector::from_fn(held.len(), |i, _| spread[(held[i], term)]);
        let explained = of_held.as_ref().map_or(0.0, |of_held| with_held.dot(&of_held.solve(&with_held)));
        se[term] = (spread[(term, term)] - explained).max(0.0).sqrt();
    }
    se
}

/// Covariance of all terms where those that are not clear are held with the errors that they have in `before`.
/// `information`: inverse of the covariance that a fit of all terms would have, were the noise the same in all directions;
/// `scatter`: the same as what was fitted scatters.
pub(crate) fn with_held(
    information: &Spread,
    scatter: &Spread,
    before: &Spread,
    clear: [bool; TERMS],
) -> Option<Spread> {
    let (free, held) = parts(clear);
    let of = |rows: &[usize], columns: &[usize], matrix: &Spread| {
        DMatrix::from_fn(rows.len(), columns.len(), |i, j| matrix[(rows[i], columns[j])])
    };
    let of_free = of(&free, &free, information).try_inverse()?;
    // how the free terms follow an error of the held ones
    let follow = -&of_free * of(&free, &held, information);
    let of_held = of(&held, &held, before);
    let together = &follow * &of_held;
    let of_free = &of_free * of(&free, &free, scatter) * &of_free + &together * follow.transpose();
    let mut spread = Spread::zeros();
    for (i, &a) in free.iter().enumerate() {
        for (j, &b) in free.iter().enumerate() {
            spread[(a, b)] = of_free[(i, j)];
        }
        for (j, &b) in held.iter().enumerate() {
            spread[(a, b)] = together[(i, j)];
            spread[(b, a)] = together[(i, j)];
        }
    }
    for (i, &a) in held.iter().enumerate() {
        for (j, &b) in held.iter().enumerate() {
            spread[(a, b)] = of_held[(i, j)];
        }
    }
    Some(spread)
}

fn parts(clear: [bool; TERMS]) -> (Vec<usize>, Vec<usize>) {
    (0..TERMS).partition(|&term| clear[term])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::raw_spread;

    #[test]
    fn a_term_that_is_open_is_held_and_frees_its_rival() {
        let settings = Settings::default();
        let raw = raw_spread(&settings);
        let before = raw.cholesky().unwrap().inverse();
        // the steps tell everything well, but for C and the leeway, which they hardly tell apart
        let (c, l) = (DEVIATION + 2, LEEWAY);
        let mut told = before * 1e4;
        told[(l, l)] *= 0.3;
        let both = 0.9995 * (told[(c, c)] * told[(l, l)]).sqrt();
        (told[(c, l)], told[(l, c)]) = (both, both);
        let spread = (told + before).cholesky().unwrap().inverse();
        let clear = clear(&spread, &settings);
        assert!(!clear[LEEWAY] && clear[c] && clear[SCALE], "{clear:?}");
        let held = with_held(&(told + before), &(told + before), &raw, clear).unwrap();
        assert!((held[(l, l)] - raw[(l, l)]).abs() < 1e-12);
        let se = standard_errors(&held, clear);
        assert!(
            (se[c] - (told[(c, c)] + before[(c, c)]).powf(-0.5)).abs() < 1e-9,
            "as if the leeway were known"
        );
        assert!(held[(c, c)] > 4.0 * se[c] * se[c], "what the leeway may be counts");
        assert!(held.cholesky().is_some());
    }

    #[test]
    fn nothing_is_clear_of_raw_instruments() {
        let settings = Settings::default();
        assert_eq!(clear(&raw_spread(&settings), &settings), [false; TERMS]);
    }
}
