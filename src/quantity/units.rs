//! The unit tables, and short constructors and readers over the `uom` types.

use uom::si::electrical_conductivity::siemens_per_meter;
use uom::si::f64::{ElectricalConductivity, MassConcentration, MassDensity, ThermodynamicTemperature};
use uom::si::mass_concentration::milligram_per_liter;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::day;

use crate::weights::weight;

/// A volume of liquid.
pub type Volume = uom::si::f64::Volume;
/// A mass.
pub type Mass = uom::si::f64::Mass;
/// A mass concentration. One ppm is one milligram of the element in a litre, here and nowhere else.
pub type Ppm = MassConcentration;
/// An electrical conductivity (EC), at 25 C unless a name says otherwise.
pub type Conductivity = ElectricalConductivity;
/// A temperature.
pub type Temperature = ThermodynamicTemperature;
/// A density of a liquid.
pub type Density = MassDensity;
/// A span of time.
pub type Time = uom::si::f64::Time;

/// A unit as written and how many of the table's base unit it makes.
pub(super) type Unit = (&'static str, f64);

/// Litres of a US gallon: 231 cubic inches, NIST Special Publication 811.
pub const US_GALLON_L: f64 = 3.785_411_784;

/// Base: litre. The gallons and fluid ounces are exact by definition (NIST SP 811, appendix B).
pub(super) const VOLUME: &[Unit] = &[
    ("L", 1.0),
    ("l", 1.0),
    ("mL", 1e-3),
    ("ml", 1e-3),
    ("m3", 1e3),
    ("gal", US_GALLON_L),
    ("US gal", US_GALLON_L),
    ("imp gal", 4.546_09),
    ("fl oz", 0.029_573_529_562_5),
    ("US fl oz", 0.029_573_529_562_5),
    ("imp fl oz", 0.028_413_062_5),
];

/// Base: gram. Ounce and pound are the avoirdupois ones, exact by definition (NIST SP 811, appendix B).
pub(super) const MASS: &[Unit] =
    &[("g", 1.0), ("mg", 1e-3), ("kg", 1e3), ("t", 1e6), ("oz", 28.349_523_125), ("lb", 453.592_37)];

/// Base: mg/L.
pub(super) const MASS_CONCENTRATION: &[Unit] = &[("ppm", 1.0), ("mg/L", 1.0), ("mg/l", 1.0), ("g/L", 1e3), ("g/l", 1e3)];

/// Base: mmol/L.
pub(super) const AMOUNT_CONCENTRATION: &[Unit] =
    &[("mmol/L", 1.0), ("mmol/l", 1.0), ("umol/L", 1e-3), ("umol/l", 1e-3), ("mol/L", 1e3), ("mol/l", 1e3)];

/// Base: mS/cm.
pub(super) const CONDUCTIVITY: &[Unit] = &[("mS/cm", 1.0), ("uS/cm", 1e-3), ("µS/cm", 1e-3), ("dS/m", 1.0)];

/// A display scale of some meters: mg/L of dissolved solids claimed per uS/cm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterScale {
    /// Its factor, as printed on the meter.
    pub factor: f64,
    /// What it is called.
    pub name: &'static str,
}

/// The scales in use (manuals of several meters): sodium chloride, irrigation practice, and the 40/40/20 mixture.
pub const METER_SCALES: [MeterScale; 3] = [
    MeterScale { factor: 0.5, name: "0.5 scale (sodium chloride)" },
    MeterScale { factor: 0.64, name: "0.64 scale (irrigation water)" },
    MeterScale { factor: 0.7, name: "0.7 scale (sulfate, bicarbonate and chloride 40:40:20)" },
];

/// What a meter with a scale of dissolved solids shows in place of EC.
pub(super) const METER_PPM: &[Unit] = &[("ppm", 1.0)];

/// Base: kg/L.
pub(super) const DENSITY: &[Unit] = &[("kg/L", 1.0), ("kg/l", 1.0), ("g/mL", 1.0), ("g/ml", 1.0), ("g/cm3", 1.0)];

/// Base: day.
pub(super) const DURATION: &[Unit] = &[("days", 1.0), ("day", 1.0), ("d", 1.0), ("weeks", 7.0), ("week", 7.0)];

/// Base: degree Celsius; Fahrenheit is affine and handled where it is parsed.
pub(super) const TEMPERATURE: &[Unit] = &[("C", 1.0), ("°C", 1.0), ("F", 0.0), ("°F", 0.0)];

/// Equivalent mass of calcium carbonate, g/mol: half of its molar mass.
pub(crate) const CACO3_G_PER_EQ: f64 = 0.5 * (weight("Ca") + CO3_G_PER_MOL);
/// Equivalent mass of bicarbonate, g/mol.
pub(crate) const HCO3_G_PER_EQ: f64 = weight("H") + CO3_G_PER_MOL;
/// Of calcium oxide, g/mol.
const CAO_G_PER_EQ: f64 = 0.5 * (weight("Ca") + weight("O"));
const CO3_G_PER_MOL: f64 = weight("C") + 3.0 * weight("O");

/// Base: meq/L. A German degree is 10 mg/L of CaO, a French one 10 mg/L of CaCO3 (definitions, from memory).
pub(super) const ALKALINITY: &[Unit] = &[
    ("mg/L CaCO3", 1.0 / CACO3_G_PER_EQ),
    ("ppm CaCO3", 1.0 / CACO3_G_PER_EQ),
    ("meq/L", 1.0),
    ("mmol/L", 1.0),
    ("mg/L HCO3", 1.0 / HCO3_G_PER_EQ),
    ("ppm HCO3", 1.0 / HCO3_G_PER_EQ),
    ("dH", 10.0 / CAO_G_PER_EQ),
    ("°dH", 10.0 / CAO_G_PER_EQ),
    ("fH", 10.0 / CACO3_G_PER_EQ),
    ("°fH", 10.0 / CACO3_G_PER_EQ),
];

/// Base: equivalent.
pub(super) const EQUIVALENTS: &[Unit] = &[("eq", 1.0), ("meq", 1e-3)];

/// Base: mole.
pub(super) const MOLES: &[Unit] = &[("mol", 1.0), ("mmol", 1e-3)];

/// A volume of `value` litres.
#[must_use]
pub fn liter(value: f64) -> Volume {
    Volume::new::<uom::si::volume::liter>(value)
}

/// A volume in millilitres, as a plain number.
#[must_use]
pub fn milliliter(volume: Volume) -> f64 {
    volume.get::<uom::si::volume::milliliter>()
}

/// Litres of a volume.
#[must_use]
pub fn liter_of(volume: Volume) -> f64 {
    milliliter(volume) * 1e-3
}

/// A mass of `value` grams.
#[must_use]
pub fn gram(value: f64) -> Mass {
    Mass::new::<uom::si::mass::gram>(value)
}

/// A mass concentration of `value` mg/L.
#[must_use]
pub fn ppm(value: f64) -> Ppm {
    Ppm::new::<milligram_per_liter>(value)
}

/// A mass concentration in mg/L, as a plain number.
#[must_use]
pub fn ppm_of(value: Ppm) -> f64 {
    value.get::<milligram_per_liter>()
}

/// A conductivity of `value` mS/cm (1 mS/cm = 0.1 S/m).
#[must_use]
pub fn millisiemens_per_cm(value: f64) -> Conductivity {
    Conductivity::new::<siemens_per_meter>(value * 0.1)
}

/// A temperature of `value` degrees Celsius.
#[must_use]
pub fn celsius(value: f64) -> Temperature {
    Temperature::new::<degree_celsius>(value)
}

/// A density of `value` kg/L.
#[must_use]
pub fn kilogram_per_liter(value: f64) -> Density {
    Density::new::<kilogram_per_cubic_meter>(value * 1e3)
}

/// A density in grams per millilitre, as a plain number.
#[must_use]
pub fn gram_per_milliliter_of(value: Density) -> f64 {
    value.get::<kilogram_per_cubic_meter>() * 1e-3
}

/// A span of `value` days.
#[must_use]
pub fn days(value: f64) -> Time {
    Time::new::<day>(value)
}

/// The units taken, in words.
pub(super) fn takes(units: &[Unit]) -> String {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in units {
        let spelled_before = names.iter().any(|seen| seen.eq_ignore_ascii_case(name));
        if !spelled_before && !name.contains(['°', 'µ']) {
            names.push(name);
        }
    }
    match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => names.concat(),
    }
}
