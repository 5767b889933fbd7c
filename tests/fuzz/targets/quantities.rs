//! Quantities as they are typed: what is printed of them parses back.
#![no_main]

use bloomsalt::quantity as q;
use bloomsalt_fuzz::count::{Count, End};
use bloomsalt_fuzz::draw::Draw;

static COUNT: Count = Count::new();

const UNITS: [&str; 44] = [
    "L",
    "l",
    "mL",
    "ml",
    "m3",
    "gal",
    "US gal",
    "imp gal",
    "fl oz",
    "US fl oz",
    "imp fl oz",
    "g",
    "mg",
    "kg",
    "t",
    "oz",
    "lb",
    "ppm",
    "mg/L",
    "g/L",
    "mmol/L",
    "umol/L",
    "mol/L",
    "mS/cm",
    "uS/cm",
    "µS/cm",
    "dS/m",
    "kg/L",
    "g/mL",
    "g/cm3",
    "days",
    "day",
    "d",
    "weeks",
    "week",
    "C",
    "°C",
    "F",
    "°F",
    "mg/L CaCO3",
    "meq/L",
    "mg/L HCO3",
    "eq",
    "mol",
];

/// A number with a unit, as a grower may type it.
fn typed(draw: &mut Draw) -> String {
    let number = match draw.below(6) {
        0 => format!("{}", draw.below(400)),
        1 => format!("{}", draw.size(1e-2, 1e4)),
        2 => format!("{:e}", draw.size(1e-2, 1e4)),
        3 => format!("{:.17}", draw.size(1e-3, 10.0)),
        4 => format!("+{}.", draw.below(99)),
        _ => format!("{}{}", draw.one(&["", "-"]), draw.size(1e-9, 1e9)),
    };
    let gap = draw.one(&[" ", "", "  ", "\t", "\u{a0}"]);
    let unit = draw.one(&UNITS);
    let text = format!("{gap}{number}{gap}{unit}{gap}");
    if draw.once_in(4) { draw.slipped(text) } else { text }
}

/// The text of a number is that number, to half of its last place.
fn prints(value: f64, decimals: usize) {
    let half = 0.5 * 10_f64.powi(-i32::try_from(decimals).unwrap_or(0)) * (1.0 + 1e-9) + value.abs() * 1e-15;
    for text in [q::fixed(value, decimals), q::trimmed(value, decimals)] {
        let read: f64 = text.parse().unwrap_or_else(|_| panic!("{value:e} prints as {text}"));
        assert!((read - value).abs() <= half && text != "-0", "{value:e} prints as {text}");
    }
    let rounded = q::round_to(value, decimals);
    assert_eq!(q::round_to(rounded, decimals), rounded, "{value:e}");
    for text in [q::significant(value, 3), q::ppm_text(value)] {
        let read: f64 = text.parse().unwrap_or_else(|_| panic!("{value:e} prints as {text}"));
        // three digits from 1 on
        assert!((read - value).abs() <= 0.0051 * value.abs().max(0.1), "{value:e} prints as {text}");
    }
    let nine = q::nine_digits(value);
    assert!((nine - value).abs() <= 5.001e-9 * value.abs() && q::nine_digits(nine) == nine, "{value:e}: {nine:e}");
}

/// A volume as it is told can be typed again, and is the same to half of the last place.
fn volume(litres: f64) {
    // a bucket is told in three digits or in whole litres, a volume in the steps of its unit
    let (step, bucket) = match litres {
        litres if litres < 0.999_95 => (0.000_1, 0.01),
        litres if litres < 10.0 => (0.01, 0.01),
        litres if litres < 100.0 => (0.01, 0.1),
        litres if litres < 9_999.0 => (0.01, 1.0),
        _ => (1.0, 1.0),
    };
    for (text, step) in [(q::volume_text(q::liter(litres)), step), (q::bucket_text(litres), bucket)] {
        let read = q::volume(&text, &q::LEVEL_L).unwrap_or_else(|error| panic!("{litres} L prints as {text}: {error}"));
        let off = (read.value * 1e3 - litres).abs();
        assert!(off <= 0.500_001 * step + 1e-12 * litres, "{litres} L prints as {text}, {off} L off");
    }
}

fn days(text: &str) -> bool {
    let read = q::whole_days(text, &q::STARTS_AFTER_DAYS);
    if let Ok(days) = read {
        assert_eq!(q::whole_days(&days.to_string(), &q::STARTS_AFTER_DAYS), Ok(days), "{text}");
        let day = q::Date::parse("2028-02-29").expect("a day").plus(days.0);
        assert_eq!(q::Date::parse(&day.to_string()), Ok(day));
        assert_eq!(day.days_since(q::Date::parse("2028-02-29").expect("a day")), days.0);
    }
    read.is_ok()
}

/// Whether any reader takes it, after every one of them has had it.
fn reads(text: &str) -> bool {
    let mut taken = days(text) || q::Date::parse(text).is_ok() || q::Date::parse_week(text).is_ok();
    let mut told = |result: Result<f64, q::QuantityError>| match result {
        Ok(value) => {
            assert!(value.is_finite(), "{text}");
            taken = true;
        }
        Err(error) => assert!(!error.to_string().is_empty() && !error.allowed().is_empty(), "{text}"),
    };
    for bound in q::BOUNDS {
        let within = |value: f64, factor: f64| {
            let slack = 1e-9 * bound.high.abs().max(bound.low.abs());
            assert!((bound.low - slack..=bound.high + slack).contains(&(value * factor)), "{text}: {value} in {bound:?}");
            value
        };
        match bound.unit {
            "L" => told(q::volume(text, bound).map(|read| within(read.value, 1e3))),
            "mL" => told(q::volume(text, bound).map(|read| within(read.value, 1e6))),
            "g" => told(q::mass(text, bound).map(|read| within(read.value, 1e3))),
            "mS/cm" => told(q::conductivity(text, bound, None).map(|read| within(read.value, 10.0))),
            "kg/L" => told(q::density(text, bound).map(|read| within(read.value, 1e-3))),
            "days" => told(q::duration(text, bound).map(|read| within(read.value, 1.0 / 86_400.0))),
            "C" => told(q::temperature(text, bound).map(|read| within(read.value - 273.15, 1.0))),
            "meq/L" => told(q::alkalinity(text, bound).map(|read| within(read.meq_per_l, 1.0))),
            "eq" => told(q::equivalents(text, bound).map(|read| within(read, 1.0))),
            "mol" => told(q::moles(text, bound).map(|read| within(read, 1.0))),
            _ => {}
        }
    }
    told(q::concentration(text).map(|read| match read {
        q::Concentration::Mass(read) => read.value,
        q::Concentration::Amount(read) => read.value,
    }));
    if let Ok(read) = q::volume(text, &q::LEVEL_L) {
        volume(read.value * 1e3);
    }
    if let Ok(read) = q::mass(text, &q::WEIGHED_G) {
        let grams = q::nine_digits(read.value * 1e3);
        assert_eq!(q::mass(&format!("{grams} g"), &q::WEIGHED_G), Ok(q::gram(grams)), "{text}");
        prints(read.value * 1e3, 3);
    }
    taken
}

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let draw = &mut Draw::new(bytes);
    let text = if draw.once_in(64) { draw.words() } else { typed(draw) };
    let taken = reads(&text);
    let value = draw.size(1e-6, 1e7) * draw.one(&[1.0, -1.0]);
    prints(value, draw.below(7));
    volume(value.abs().min(1e5));
    COUNT.note(if taken { End::Answered } else { End::Refused });
});
