//! `"60 L"` to a quantity: a number, a unit of the right kind, nothing guessed.

use uom::si::f64::MolarConcentration;
use uom::si::molar_concentration::mole_per_cubic_meter;

use super::units::{
    ALKALINITY, AMOUNT_CONCENTRATION, CONDUCTIVITY, DENSITY, DURATION, EQUIVALENTS, MASS, MASS_CONCENTRATION, METER_PPM,
    MOLES, TEMPERATURE, Unit, VOLUME, takes,
};
use super::{Bound, Conductivity, Density, Mass, MeterScale, Ppm, QuantityError, Temperature, Time, Volume, WholeDays};
use super::{celsius, days, gram, kilogram_per_liter, liter, millisiemens_per_cm, ppm};

/// A mass or a volume, as amounts of a liquid may be either.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Weighed.
    Mass(Mass),
    /// Drawn up.
    Volume(Volume),
}

/// A concentration by mass or by amount of substance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Concentration {
    /// mg/L and its kin.
    Mass(Ppm),
    /// mmol/L and its kin.
    Amount(MolarConcentration),
}

/// Alkalinity: acid-neutralising capacity in milliequivalents per litre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alkalinity {
    /// The capacity, meq/L.
    pub meq_per_l: f64,
}

fn number(text: &str) -> Result<f64, QuantityError> {
    let wrong = || QuantityError::NotANumber { read: text.to_owned() };
    let value: f64 = text.parse().map_err(|_| wrong())?;
    if value.is_finite() { Ok(value) } else { Err(wrong()) }
}

/// The short form of a unit that is written out, as `liters`; any other as it stands.
fn spelled_short(unit: &str) -> &str {
    const WRITTEN_OUT: [(&str, &str); 12] = [
        ("liter", "L"),
        ("litre", "L"),
        ("milliliter", "mL"),
        ("millilitre", "mL"),
        ("gallon", "gal"),
        ("US gallon", "US gal"),
        ("imp gallon", "imp gal"),
        ("gram", "g"),
        ("milligram", "mg"),
        ("kilogram", "kg"),
        ("ounce", "oz"),
        ("pound", "lb"),
    ];
    let one = unit.strip_suffix('s').unwrap_or(unit);
    let is_it = |written: &&(&str, &str)| one.eq_ignore_ascii_case(written.0);
    WRITTEN_OUT.iter().find(is_it).map_or(unit, |(_, short)| short)
}

/// Splits `"60 L"` into its number and the matching row of `units`.
fn split<'u>(text: &str, units: &'u [Unit]) -> Result<(f64, &'u Unit), QuantityError> {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|&(at, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[at + 1..].starts_with(|next: char| next.is_ascii_digit() || matches!(next, '-' | '+'));
            !(c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+') || exponent)
        })
        .map_or(text.len(), |(at, _)| at);
    let (digits, unit) = text.split_at(end);
    if digits.is_empty() {
        return Err(QuantityError::NotANumber { read: text.to_owned() });
    }
    let value = number(digits)?;
    let unit = unit.split_whitespace().collect::<Vec<_>>().join(" ");
    if unit.is_empty() {
        return Err(QuantityError::MissingUnit { takes: takes(units) });
    }
    let short = spelled_short(&unit);
    let row = units.iter().find(|(name, _)| *name == short).ok_or_else(|| QuantityError::UnknownUnit {
        takes: takes(units),
        suggestion: crate::suggest::nearest(&unit, units.iter().map(|(name, _)| *name)).map(str::to_owned),
        read: unit,
    })?;
    // what only its unit carries past the largest number
    if (value * row.1).is_finite() { Ok((value, row)) } else { Err(QuantityError::NotANumber { read: digits.to_owned() }) }
}

fn scaled(text: &str, units: &[Unit], bound: &Bound) -> Result<f64, QuantityError> {
    let (value, (_, factor)) = split(text, units)?;
    bound.check(value * factor)
}

/// A volume such as `60 L`, `15.9 gal`, `0.5 m3`; `bound` is in litres or millilitres as its own unit says.
///
/// # Errors
/// [`QuantityError`] for anything that is not a number with a unit of volume inside the bound.
pub fn volume(text: &str, bound: &Bound) -> Result<Volume, QuantityError> {
    let (value, (_, factor)) = split(text, VOLUME)?;
    let litres = value * factor;
    let per_litre = if bound.unit == "mL" { 1e3 } else { 1.0 };
    bound.check(litres * per_litre)?;
    Ok(liter(litres))
}

/// A mass such as `0.1 g`, `2 kg`, `1.5 lb`; `bound` is in grams.
///
/// # Errors
/// As [`volume`].
pub fn mass(text: &str, bound: &Bound) -> Result<Mass, QuantityError> {
    scaled(text, MASS, bound).map(gram)
}

/// A mass or a volume, whichever the unit says; each with its own bound.
///
/// # Errors
/// As [`volume`].
pub fn amount(text: &str, grams: &Bound, litres: &Bound) -> Result<Amount, QuantityError> {
    let all: Vec<Unit> = MASS.iter().chain(VOLUME).copied().collect();
    let (_, (unit, _)) = split(text, &all)?;
    if MASS.iter().any(|(name, _)| name == unit) {
        mass(text, grams).map(Amount::Mass)
    } else {
        volume(text, litres).map(Amount::Volume)
    }
}

/// A concentration such as `90 ppm`, `0.2 g/L` or `6.4 mmol/L`. The bound is checked by the caller, who knows
/// the molar mass.
///
/// # Errors
/// As [`volume`], without a range.
pub fn concentration(text: &str) -> Result<Concentration, QuantityError> {
    let all: Vec<Unit> = MASS_CONCENTRATION.iter().chain(AMOUNT_CONCENTRATION).copied().collect();
    let (value, (unit, factor)) = split(text, &all)?;
    Ok(if MASS_CONCENTRATION.iter().any(|(name, _)| name == unit) {
        Concentration::Mass(ppm(value * factor))
    } else {
        Concentration::Amount(MolarConcentration::new::<mole_per_cubic_meter>(value * factor))
    })
}

/// A conductivity such as `1.3 mS/cm`, `1300 uS/cm` or `1.3 dS/m`, or `650 ppm` as a meter shows it; `bound` in mS/cm.
///
/// * `meter`: the scale of the grower's meter; nothing where that is not known, and then ppm is refused
///
/// # Errors
/// As [`volume`], and [`QuantityError::ScaleUnknown`].
///
/// # Examples
/// ```
/// use bloomsalt::quantity::{EC_READING_MS_PER_CM, METER_SCALES, conductivity, millisiemens_per_cm};
/// assert_eq!(conductivity("650 ppm", &EC_READING_MS_PER_CM, Some(METER_SCALES[0])), Ok(millisiemens_per_cm(1.3)));
/// assert!(conductivity("650 ppm", &EC_READING_MS_PER_CM, None).is_err());
/// ```
pub fn conductivity(text: &str, bound: &Bound, meter: Option<MeterScale>) -> Result<Conductivity, QuantityError> {
    let Ok((ppm, _)) = split(text, METER_PPM) else { return scaled(text, CONDUCTIVITY, bound).map(millisiemens_per_cm) };
    let meter = meter.ok_or(QuantityError::ScaleUnknown)?;
    bound.check(ppm / (1e3 * meter.factor)).map(millisiemens_per_cm)
}

/// A density such as `1.09 kg/L`; `bound` in kg/L.
///
/// # Errors
/// As [`volume`].
pub fn density(text: &str, bound: &Bound) -> Result<Density, QuantityError> {
    scaled(text, DENSITY, bound).map(kilogram_per_liter)
}

/// A span of time such as `28 days` or `4 weeks`; `bound` in days.
///
/// # Errors
/// As [`volume`].
pub fn duration(text: &str, bound: &Bound) -> Result<Time, QuantityError> {
    scaled(text, DURATION, bound).map(days)
}

/// A span of whole days such as `28 days`, `4 weeks` or `-1 day`; `bound` in days.
///
/// # Errors
/// As [`volume`], and [`QuantityError::NotWhole`] for a part of a day.
pub fn whole_days(text: &str, bound: &Bound) -> Result<WholeDays, QuantityError> {
    let days = scaled(text, DURATION, bound)?;
    // the bounds keep far inside what an i32 holds
    #[allow(clippy::cast_possible_truncation, reason = "whole and bounded")]
    let whole = days as i32;
    if (f64::from(whole) - days).abs() < 1e-9 { Ok(WholeDays(whole)) } else { Err(QuantityError::NotWhole { days }) }
}

/// A temperature such as `21 C` or `70 F`; `bound` in degrees Celsius.
///
/// # Errors
/// As [`volume`].
pub fn temperature(text: &str, bound: &Bound) -> Result<Temperature, QuantityError> {
    let (value, (unit, _)) = split(text, TEMPERATURE)?;
    let degrees = if unit.ends_with('F') { (value - 32.0) / 1.8 } else { value };
    bound.check(degrees).map(celsius)
}

/// An alkalinity such as `25 mg/L CaCO3`, `0.5 meq/L`, `30 mg/L HCO3` or `9 °dH`; `bound` in meq/L.
///
/// # Errors
/// As [`volume`].
pub fn alkalinity(text: &str, bound: &Bound) -> Result<Alkalinity, QuantityError> {
    scaled(text, ALKALINITY, bound).map(|meq_per_l| Alkalinity { meq_per_l })
}

/// An amount of charge or of acid-neutralising capacity such as `0 eq` or `-1.5 eq`; `bound` in equivalents.
///
/// # Errors
/// As [`volume`].
pub fn equivalents(text: &str, bound: &Bound) -> Result<f64, QuantityError> {
    scaled(text, EQUIVALENTS, bound)
}

/// An amount of substance such as `1.2 mol`; `bound` in moles.
///
/// # Errors
/// As [`volume`].
pub fn moles(text: &str, bound: &Bound) -> Result<f64, QuantityError> {
    scaled(text, MOLES, bound)
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use uom::si::mass::gram as in_grams;
    use uom::si::thermodynamic_temperature::degree_celsius;
    use uom::si::volume::{liter as in_liters, milliliter};

    use super::*;
    use crate::quantity::{ALKALINITY_MEQ_PER_L, ON_HAND_G, SYRINGE_STEP_ML, TANK_L, TEMPERATURE_C};

    /// Exact definitions: NIST SP 811 appendix B (read through a unit library).
    #[test]
    fn customary_units_are_exact() {
        for (text, ml) in [
            ("1 gal", 3_785.411_784),
            ("1 US gal", 3_785.411_784),
            ("1 imp gal", 4_546.09),
            ("10 fl oz", 295.735_295_625),
            ("10 imp fl oz", 284.130_625),
            ("0.5 m3", 500_000.0),
        ] {
            assert_relative_eq!(volume(text, &TANK_L).unwrap().get::<milliliter>(), ml, max_relative = 1e-14);
        }
        for (text, g) in [("1 oz", 28.349_523_125), ("1 lb", 453.592_37), ("2 kg", 2000.0), ("5 mg", 0.005)] {
            assert_relative_eq!(mass(text, &ON_HAND_G).unwrap().get::<in_grams>(), g, max_relative = 1e-14);
        }
    }

    #[test]
    fn temperatures_and_alkalinities() {
        assert_relative_eq!(
            temperature("70 F", &TEMPERATURE_C).unwrap().get::<degree_celsius>(),
            21.111_111,
            epsilon = 1e-5
        );
        // 1 meq/L = 50.04 mg/L CaCO3 = 61.0 mg/L HCO3
        for text in ["50.043 mg/L CaCO3", "1 meq/L", "61.016 mg/L HCO3"] {
            assert_relative_eq!(alkalinity(text, &ALKALINITY_MEQ_PER_L).unwrap().meq_per_l, 1.0, max_relative = 1e-12);
        }
        // by hand: CaO 40.078 + 15.999 = 56.077 g/mol, so 10 mg/L are 0.3566 meq/L; a French degree is 10 mg/L CaCO3
        for (text, meq) in [("10 dH", 3.566_53), ("10 °dH", 3.566_53), ("50.043 fH", 10.0), ("50.043 °fH", 10.0)] {
            assert_relative_eq!(alkalinity(text, &ALKALINITY_MEQ_PER_L).unwrap().meq_per_l, meq, max_relative = 1e-5);
        }
    }

    #[test]
    fn spaces_and_exponents_are_read() {
        assert_relative_eq!(volume(" 6e1L ", &TANK_L).unwrap().get::<in_liters>(), 60.0, max_relative = 1e-12);
        assert_relative_eq!(volume("2  imp   gal", &TANK_L).unwrap().get::<in_liters>(), 9.092_18, max_relative = 1e-12);
        assert!(matches!(concentration("6.4 mmol/L"), Ok(Concentration::Amount(_))));
    }

    #[test]
    fn wrong_texts_are_refused_with_a_reason() {
        let said = |text: &str| volume(text, &TANK_L).unwrap_err().to_string();
        assert_eq!(
            said("60"),
            "the unit is missing; it takes L, mL, m3, gal, US gal, imp gal, fl oz, US fl oz or imp fl oz"
        );
        assert!(said("1,5 L").contains("after a point"));
        assert!(said("NaN L").contains("not a number"));
        assert!(said("").contains("not a number"));
        assert!(said("-5 L").contains("out of range"));
        assert!(said("1e9 L").contains("0.1 to 100000 L"));
        assert!(said("1e999 L").contains("not a number"));
        assert_eq!(said("1e308 m3"), "`1e308` is not a number");
        assert!(matches!(concentration("1e308 g/L"), Err(QuantityError::NotANumber { .. })));
        assert_eq!(volume("60 galon", &TANK_L).unwrap_err().suggestion(), Some("gal"));
        assert!(volume("5 L", &SYRINGE_STEP_ML).is_err(), "5 L is 5000 mL, beyond a syringe step");
    }
}
