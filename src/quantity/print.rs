//! Numbers as text: the one place where anything is rounded for reading.

use super::{Volume, liter};

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

/// `value` rounded to `decimals` places, for numbers that programs read.
///
/// Going through text keeps the rounding the same as what people read.
#[must_use]
pub fn round_to(value: f64, decimals: usize) -> f64 {
    fixed(value, decimals).parse().unwrap_or(value)
}

/// `value` to nine significant digits, for files: more than anyone can measure, and no noise of a unit's factor.
#[must_use]
pub fn nine_digits(value: f64) -> f64 {
    format!("{value:.8e}").parse().unwrap_or(value)
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
}
