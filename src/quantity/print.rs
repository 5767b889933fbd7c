//! Numbers as text: the one place where anything is rounded for reading.

use super::{Volume, liter, liter_of};

/// `value` with `decimals` places; a result that rounds to zero carries no minus sign.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.starts_with('-') && text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) { text[1..].to_owned() } else { text }
}

/// `value` in the digits that fit its size: three significant ones, never more than `most` decimals.
#[must_use]
pub fn significant(value: f64, most: usize) -> String {
    let size = value.abs();
    let decimals = if size >= 100.0 {
        0
    } else if size >= 10.0 {
        1
    } else if size >= 1.0 {
        2
    } else {
        3
    };
    fixed(value, decimals.min(most))
}

/// Decimals of a concentration in ppm: one from 10 ppm, two from 1 ppm, three below.
#[must_use]
pub fn ppm_decimals(value: f64) -> usize {
    if value.abs() >= 9.995 {
        1
    } else if value.abs() >= 0.9995 {
        2
    } else {
        3
    }
}

/// A concentration in ppm in the digits of [`ppm_decimals`].
#[must_use]
pub fn ppm_text(value: f64) -> String {
    fixed(value, ppm_decimals(value))
}

/// `value` with at most `decimals` places, zeros at the end left out.
#[must_use]
pub fn trimmed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Whole steps of an instrument without a last-bit tail: 182 steps of 0.1 are 18.2.
#[must_use]
pub fn whole_steps(steps: f64, step: f64) -> f64 {
    let inverse = (1.0 / step).round();
    if (inverse * step - 1.0).abs() < 1e-12 { steps / inverse } else { steps * step }
}

/// Grams to two decimals, and what is under one in milligrams, so that no dose reads as 0.
#[must_use]
pub fn grams_text(grams: f64) -> String {
    if grams < 1.0 { format!("{} mg", significant(grams * 1e3, 2)) } else { format!("{} g", significant(grams, 2)) }
}

/// A volume in the unit that reads best: mL under a litre, m3 from ten thousand litres.
#[must_use]
pub fn volume_text(volume: Volume) -> String {
    let litres = volume / liter(1.0);
    let litres = litres.get::<uom::si::ratio::ratio>();
    if litres < 1.0 {
        format!("{} mL", trimmed(litres * 1e3, 1))
    } else if litres < 10_000.0 {
        format!("{} L", trimmed(litres, 2))
    } else {
        format!("{} m3", trimmed(litres * 1e-3, 3))
    }
}

/// Litres as a bucket shows them: whole ones from a hundred, a tenth from ten, a hundredth below.
#[must_use]
pub fn bucket_text(litres: f64) -> String {
    let shown = if litres >= 100.0 { litres.round() } else { round_to(litres, if litres >= 10.0 { 1 } else { 2 }) };
    volume_text(liter(shown))
}

/// Litres of several things, such as `40 L of rain, 20 L of tap`; nothing where there are none.
pub fn buckets_text<'a>(each: impl IntoIterator<Item = (&'a str, f64)>) -> Option<String> {
    let some = each.into_iter().filter(|(_, litres)| *litres > 0.0);
    let words: Vec<String> = some.map(|(of, litres)| format!("{} of {of}", bucket_text(litres))).collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// `value` rounded to `decimals` places, for numbers that programs read.
///
/// Going through text keeps the rounding the same as what people read.
#[must_use]
pub fn round_to(value: f64, decimals: usize) -> f64 {
    fixed(value, decimals).parse().unwrap_or(value)
}

/// Significant digits of a number that is written for programs: more than anyone can measure, and the same on every platform.
const DIGITS: usize = 9;
/// Powers of ten that are exact, as every whole number of nine digits is: a quotient of both is the nearest number to its decimal.
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];
/// This near to a half between two whole numbers of nine digits the digits themselves decide.
const NEAR_HALF: f64 = 1e-5;

/// Litres of a volume to nine significant digits, for files.
#[must_use]
pub fn liters_written(volume: Volume) -> f64 {
    nine_digits(liter_of(volume))
}

/// `value` to nine significant digits, for files: more than anyone can measure, and no noise of a unit's factor.
#[must_use]
pub fn nine_digits(value: f64) -> f64 {
    quickly(value).unwrap_or_else(|| by_digits(value))
}

/// The number of nine digits by way of its decimal text.
fn by_digits(value: f64) -> f64 {
    format!("{value:.*e}", DIGITS - 1).parse().unwrap_or(value)
}

/// The same by arithmetic, where that is sure to come to the same; which it is but near a half, below 1e-14 and from 1e9.
fn quickly(value: f64) -> Option<f64> {
    let size = value.abs();
    if size == 0.0 {
        return Some(value);
    }
    // the power that brings nine digits before the point
    let power = POWERS.iter().position(|power| size * power >= POWERS[DIGITS - 1])?;
    let whole = size * POWERS[power];
    let off_half = (whole - whole.floor() - 0.5).abs();
    let is_sure = whole < POWERS[DIGITS] && off_half > NEAR_HALF;
    is_sure.then(|| (whole.round() / POWERS[power]).copysign(value))
}

/// The first letter of a text that is not seen and does something: a line end, a terminal's command, a mark that turns the direction of
/// writing or joins without showing.
pub(crate) fn unseen(text: &str) -> Option<char> {
    let acts = |letter: &char| {
        let hidden = ['\u{ad}', '\u{61c}', '\u{180e}', '\u{2028}', '\u{2029}', '\u{feff}'];
        letter.is_control()
            || hidden.contains(letter)
            || ('\u{200b}'..='\u{200f}').contains(letter)
            || ('\u{202a}'..='\u{202e}').contains(letter)
            || ('\u{2060}'..='\u{206f}').contains(letter)
            || ('\u{e0000}'..='\u{e007f}').contains(letter)
    };
    text.chars().find(acts)
}

/// A text of the grower's own without what is not seen.
pub(crate) fn visible(text: &str) -> String {
    text.chars().map(|letter| if unseen(letter.encode_utf8(&mut [0; 4])).is_some() { ' ' } else { letter }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zero_has_no_sign() {
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(-0.06, 1), "-0.1");
        assert_eq!(round_to(-0.000_4, 3).to_string(), "0");
    }

    #[test]
    fn digits_follow_size() {
        assert_eq!(ppm_text(100.04), "100.0");
        assert_eq!(ppm_text(1.5), "1.50");
        assert_eq!(ppm_text(0.08), "0.080");
        assert_eq!(significant(123.4, 2), "123");
        assert_eq!(significant(0.0456, 3), "0.046");
    }

    #[test]
    fn volumes_pick_their_unit() {
        assert_eq!(volume_text(liter(0.25)), "250 mL");
        assert_eq!(volume_text(liter(60.0)), "60 L");
        assert_eq!(volume_text(liter(60.567)), "60.57 L");
        assert_eq!(volume_text(liter(100_000.0)), "100 m3");
    }

    /// Numbers of every size, near halves and powers of ten: both ways are one where the quick one answers.
    #[test]
    fn the_quick_way_rounds_as_the_digits_do() {
        let mut state = 1_u64;
        let mut answered = 0;
        for round in 0..200_000_u32 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let unit = f64::from(u32::try_from(state >> 32).unwrap_or(0)) / f64::from(u32::MAX);
            let whole = (unit * 1e9).floor() + [0.0, 0.5, 0.499_999, 0.25, 1e-7][(round % 5) as usize];
            let exact = whole * libm::exp10(f64::from(round % 41) - 30.0) * if round % 2 == 0 { 1.0 } else { -1.0 };
            if let Some(quick) = quickly(exact) {
                answered += 1;
                assert_eq!(quick.to_bits(), by_digits(exact).to_bits(), "{exact:e}");
            }
        }
        assert!(answered > 50_000, "{answered}");
        for exact in [1.0, 10.0, 0.1, 999_999_999.4, 99_999.999_95, 123_456_789.5, 0.3, 1e22, 1e-22] {
            assert!(quickly(exact).is_none_or(|quick| quick.to_bits() == by_digits(exact).to_bits()), "{exact}");
        }
        assert_eq!((quickly(-0.0).map(f64::to_bits), quickly(f64::NAN)), (Some(by_digits(-0.0).to_bits()), None));
    }
}
