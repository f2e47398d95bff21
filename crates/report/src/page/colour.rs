//! Which colour is a temperature?

use std::sync::LazyLock;

/// Cold to warm, as `#rrggbb`: the perceptually uniform map that the file names with its source.
static THERMAL: LazyLock<Vec<String>> = LazyLock::new(|| {
    let lines = include_str!("../../page/thermal.csv").lines().filter(|line| !line.starts_with('#'));
    lines
        .map(|line| {
            let parts = line.split(',').filter_map(|part| part.parse::<u8>().ok());
            parts.fold("#".to_owned(), |colour, part| format!("{colour}{part:02x}"))
        })
        .collect()
});

/// Temperatures of a picture laid over the colours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Thermal {
    low_c: f64,
    high_c: f64,
}

/// A picture spreads its colours over no less, °C: or a sensor's noise would look like a front.
const LEAST_SPREAD_C: f64 = 2.0;

impl Thermal {
    /// Over these temperatures; `None` where there are none.
    pub(crate) fn over(temps_c: impl Iterator<Item = f64>) -> Option<Self> {
        let ends = temps_c.fold(None, |ends: Option<(f64, f64)>, t| {
            Some(ends.map_or((t, t), |(low, high)| (low.min(t), high.max(t))))
        });
        let (low_c, high_c) = ends?;
        let lack_c = (LEAST_SPREAD_C - (high_c - low_c)).max(0.0) / 2.0;
        Some(Self { low_c: low_c - lack_c, high_c: high_c + lack_c })
    }

    /// Step of the scale, from 0.
    pub(crate) fn step(self, temp_c: f64) -> usize {
        let part = (temp_c - self.low_c) / (self.high_c - self.low_c);
        ((part * THERMAL.len() as f64) as usize).min(THERMAL.len() - 1)
    }

    /// Colour of a step.
    pub(crate) fn colour(step: usize) -> &'static str {
        &THERMAL[step.min(THERMAL.len() - 1)]
    }

    /// Number of steps.
    pub(crate) fn steps() -> usize {
        THERMAL.len()
    }

    /// Coldest and warmest of the scale, °C.
    pub(crate) fn ends_c(self) -> (f64, f64) {
        (self.low_c, self.high_c)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_colour_is_one() {
        assert_eq!(THERMAL.len(), 32);
        assert!(THERMAL.iter().all(|colour| colour.len() == 7), "{:?}", *THERMAL);
    }

    /// WCAG 2.2, relative luminance: lighter step by step, so that the order shows without hue and in print.
    #[test]
    fn warmer_is_lighter() {
        let luminance = |colour: &String| {
            let part = |at: usize| {
                let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
                if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
        };
        let steps: Vec<f64> = THERMAL.iter().map(luminance).collect();
        assert!(steps.windows(2).all(|pair| pair[0] < pair[1]), "{steps:?}");
    }

    #[test]
    fn the_scale_spans_what_is_shown() {
        let scale = Thermal::over([4.0, 12.0, 8.0].into_iter()).unwrap();
        assert_eq!((scale.step(4.0), scale.step(12.0), scale.step(8.0)), (0, 31, 16));
        assert_eq!(scale.step(-40.0), 0);
        assert_eq!(Thermal::over([5.0].into_iter()).unwrap().ends_c(), (4.0, 6.0));
        assert_eq!(Thermal::over(std::iter::empty()), None);
    }
}
