//! Which tuning of a rival is best?

use crate::rivals::Rival;
use crate::score::Score;
use crate::trips::{Day, Wanted};

/// The tuning of the best F1 for breaks of 0.6 °C and more.
pub fn best(rivals: &[Rival], days: &[Day]) -> Rival {
    rivals
        .iter()
        .map(|&rival| (Score::of(days, Wanted { step_c: 0.6 }, |day| day.rival(rival)).f1(), rival))
        .filter(|(f1, _)| f1.is_finite())
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap()
        .1
}
