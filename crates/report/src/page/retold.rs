//! How is a text told in other units where it can hold no elements, as the title of a mark, or is one of very many?
//!
//! As a template that holds what the three systems tell otherwise: `Bite 3: 05:50  coho, {45 ft, 53.5 °F,|13.7 m, 11.9 °C,} cold side`. The
//! script of the page takes of each brace what belongs to the chosen system, so that all wording stays here.

use std::ops::Range;

use super::markup::{Markup, put};
use super::measure::Styles;
use crate::summary::Style;

/// Words that are the same in all systems and no longer than this together do not part two runs of words that differ.
const GAP: usize = 8;

/// What is shown where the pointer rests and read aloud: in the boat's units, until the script tells it in others.
pub(crate) fn title(out: &mut Markup, styles: &Styles, words: impl Fn(&Style) -> String) {
    let boat = words(styles.boat());
    let each = styles.each(words);
    if each.iter().all(|words| *words == boat) {
        put!(out, "<title>{}</title>", boat);
    } else {
        put!(out, "<title data-in=\"{}\">{}</title>", template(&each), boat);
    }
}

/// The template of a text that each system tells. In a brace stand imperial, metric and marine, the last only where it differs from
/// metric. What means something to whoever reads it, and `#`, is percent-encoded (RFC 3986).
pub(crate) fn template(each: &[String; 3]) -> String {
    let words = each.each_ref().map(|text| text.split(' ').collect::<Vec<_>>());
    let mut parts = Vec::new();
    let mut at = 0;
    for run in runs(&words) {
        if at < run[0].start {
            parts.push(encoded(&words[0][at..run[0].start]));
        }
        at = run[0].end;
        let mut told = [0, 1, 2].map(|system| encoded(&words[system][run[system].clone()])).to_vec();
        if told[1] == told[2] {
            told.pop();
        }
        parts.push(format!("{{{}}}", told.join("|")));
    }
    if at < words[0].len() {
        parts.push(encoded(&words[0][at..]));
    }
    parts.join(" ")
}

/// Where the systems' words differ, in each of them.
fn runs(words: &[Vec<&str>; 3]) -> Vec<[Range<usize>; 3]> {
    let least = words.iter().map(Vec::len).min().unwrap_or(0);
    let alike = |at: [usize; 3]| words[0][at[0]] == words[1][at[1]] && words[0][at[0]] == words[2][at[2]];
    if words.iter().any(|words| words.len() > least) {
        // what rounds to nothing in one unit may be told in another: all between the first and the last word that differ
        let first = (0..least).take_while(|&n| alike([n; 3])).count();
        let from_end = |n: usize| words.each_ref().map(|words| words.len() - 1 - n);
        let last = (0..least - first).take_while(|&n| alike(from_end(n))).count();
        return vec![words.each_ref().map(|words| first..words.len() - last)];
    }
    let mut ranges: Vec<Range<usize>> = Vec::new();
    for n in (0..least).filter(|&n| !alike([n; 3])) {
        match ranges.last_mut() {
            Some(last) if words[0][last.end..n].iter().map(|word| word.len() + 1).sum::<usize>() <= GAP => {
                last.end = n + 1;
            }
            _ => ranges.push(n..n + 1),
        }
    }
    ranges.into_iter().map(|range| [range.clone(), range.clone(), range]).collect()
}

fn encoded(words: &[&str]) -> String {
    let mut out = String::new();
    for (n, word) in words.iter().enumerate() {
        if n > 0 {
            out.push(' ');
        }
        for letter in word.chars() {
            match letter {
                '%' => out.push_str("%25"),
                '{' => out.push_str("%7B"),
                '|' => out.push_str("%7C"),
                '}' => out.push_str("%7D"),
                '#' => out.push_str("%23"),
                letter => out.push(letter),
            }
        }
    }
    out
}

/// Parts a template into a phrase, which many share, with `#` for each number, and the numbers.
pub(crate) fn without_numbers(template: &str) -> (String, Vec<&str>) {
    let (mut phrase, mut numbers) = (String::with_capacity(template.len()), Vec::new());
    let mut rest = template;
    while let Some(from) = rest.find(|letter: char| letter.is_ascii_digit()) {
        let long = rest[from..].find(|letter: char| !letter.is_ascii_digit() && letter != '.');
        // a full stop at the end of a number ends a sentence
        let number = rest[from..].split_at(long.unwrap_or(rest.len() - from)).0.trim_end_matches('.');
        phrase.push_str(&rest[..from]);
        phrase.push('#');
        numbers.push(number);
        rest = &rest[from + number.len()..];
    }
    phrase.push_str(rest);
    (phrase, numbers)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// What the script makes of a template.
    fn told(template: &str, system: usize) -> String {
        let mut parts = template.split('{');
        let mut text = parts.next().unwrap().to_owned();
        for part in parts {
            let (choice, rest) = part.split_once('}').unwrap();
            let choice: Vec<&str> = choice.split('|').collect();
            text.push_str(choice[system.min(choice.len() - 1)]);
            text.push_str(rest);
        }
        for (encoded, letter) in [("%23", "#"), ("%7B", "{"), ("%7C", "|"), ("%7D", "}"), ("%25", "%")] {
            text = text.replace(encoded, letter);
        }
        text
    }

    fn of(each: [&str; 3]) -> String {
        template(&each.map(str::to_owned))
    }

    #[test]
    fn only_what_differs_is_told_for_each() {
        let each = [
            "Bite 3: 05:50  coho, 45 ft, 53.5 °F, cold side, 2.4 mph, spoon",
            "Bite 3: 05:50  coho, 13.7 m, 11.9 °C, cold side, 3.9 km/h, spoon",
            "Bite 3: 05:50  coho, 13.7 m, 11.9 °C, cold side, 2.1 kn, spoon",
        ];
        let template = of(each);
        assert_eq!(
            template,
            "Bite 3: 05:50  coho, {45 ft, 53.5 °F,|13.7 m, 11.9 °C,} cold side, {2.4 mph,|3.9 km/h,|2.1 kn,} spoon"
        );
        assert_eq!([0, 1, 2].map(|system| told(&template, system)), each);
        assert_eq!(of(["the same"; 3]), "the same");
    }

    #[test]
    fn a_sentence_that_is_longer_in_one_system_is_told_whole() {
        let each = ["from 9 ft on", "from 3 m, in a gap of 60 m on", "from 3 m on"];
        assert_eq!([0, 1, 2].map(|system| told(&of(each), system)), each);
    }

    #[test]
    fn a_phrase_without_its_numbers() {
        let (phrase, numbers) = without_numbers("0.52 a rod-hour (90 %25 sure: 0.2 to 12).");
        assert_eq!(phrase, "# a rod-hour (# %# sure: # to #).");
        assert_eq!(numbers, ["0.52", "90", "25", "0.2", "12"]);
        assert_eq!(without_numbers("in 1. And"), ("in #. And".to_owned(), vec!["1"]));
    }

    proptest! {
        #[test]
        fn every_system_gets_its_own_text(
            each in prop::array::uniform3(prop::collection::vec("[ab%|{}#]{1,3}", 1..8)),
        ) {
            let each = each.map(|words| words.join(" "));
            let template = template(&each);
            for (system, text) in each.iter().enumerate() {
                prop_assert_eq!(&single_blanks(&told(&template, system)), text);
            }
            let (phrase, numbers) = without_numbers(&template);
            let mut numbers = numbers.into_iter();
            let again: String =
                phrase.split_inclusive('#').map(|part| match part.strip_suffix('#') {
                    Some(part) => format!("{part}{}", numbers.next().unwrap()),
                    None => part.to_owned(),
                }).collect();
            prop_assert_eq!(again, template);
        }
    }

    /// A run that one system has no word for leaves two blanks, which a page shows as one.
    fn single_blanks(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}
