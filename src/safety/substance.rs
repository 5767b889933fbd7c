//! What goes into a tank, as far as meeting other things, holding its metal and the law go.

use crate::matter::{Ions, Kind, Nutrient, Salt};

/// A chelate, and what could stand in for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Chelate {
    /// From which pH to which it holds.
    pub ph_range: (f64, f64),
    /// Other chelates of its metal: name and range.
    pub others: Vec<(String, (f64, f64))>,
    /// Source id of the range.
    pub source: Option<String>,
}

/// What the acids of the table that microbes eat bring.
const ORGANIC: [&str; 2] = ["H3Citrate", "CH3COOH"];

/// Public rules that restrict a substance.
#[derive(Debug, Clone, PartialEq)]
pub struct Restricted {
    /// One sentence a rule.
    pub notes: Vec<String>,
    /// Source id.
    pub source: Option<String>,
}

/// Something that goes into the tank, by itself or from a bottle.
#[derive(Debug, Clone, PartialEq)]
pub struct Substance {
    /// Id.
    pub id: String,
    /// Name.
    pub name: String,
    /// What it is to the fit.
    pub kind: Kind,
    /// True where it brings urea.
    pub urea: bool,
    /// True where it brings ammonium.
    pub ammonium: bool,
    /// True for nitric acid of whatever strength.
    pub nitric_acid: bool,
    /// True for nitric or sulfuric acid that burns: it frees chlorine or hydrogen chloride from a chloride.
    pub frees_chlorine: bool,
    /// True where it brings chloride.
    pub chloride: bool,
    /// True for an acid that microbes eat.
    pub organic_acid: bool,
    /// True where an acid makes it froth.
    pub carbonate: bool,
    /// True where it sets ammonia free: a hydroxide or a carbonate, not a bicarbonate.
    pub strong_base: bool,
    /// True for a hydroxide.
    pub hydroxide: bool,
    /// True for an acid that burns, or of whose hazards nothing is known.
    pub burning_acid: bool,
    /// True for dry urea.
    pub dry_urea: bool,
    /// True for a dry nitrate that draws damp with urea: of calcium or ammonium.
    pub damp_with_urea: bool,
    /// Set for a chelate whose range is known.
    pub chelate: Option<Chelate>,
    /// Set where public rules restrict it.
    pub restricted: Option<Restricted>,
}

impl Substance {
    /// What a salt of the table, or a product, is in this light.
    ///
    /// * `table`: every salt that may be named instead of a chelate
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::{catalogue::Catalogue, safety::Substance};
    /// let table = Catalogue::standard();
    /// let salt = table.salt(table.find("potassium-hydroxide").unwrap());
    /// assert!(Substance::of(salt, table.ions(), table.salts()).strong_base);
    /// ```
    #[must_use]
    pub fn of(salt: &Salt, ions: &Ions, table: &[Salt]) -> Self {
        let brings = |nutrient| salt.composition.nutrients[nutrient] > 0.0;
        let releases = |symbol: &str| {
            let id = ions.find(symbol);
            salt.composition.ions.iter().any(|(ion, mol)| Some(*ion) == id && *mol > 0.0)
        };
        let metals = [Nutrient::Fe, Nutrient::Mn, Nutrient::Zn, Nutrient::Cu];
        let metal = metals.into_iter().find(|metal| brings(*metal));
        let stands_in = |other: &&Salt| {
            let same = metal.is_some_and(|metal| other.composition.nutrients[metal] > 0.0);
            other.kind == Kind::Chelate && other.id != salt.id && same
        };
        let others = || table.iter().filter(stands_in).filter_map(|other| Some((other.name.clone(), other.ph_range?)));
        let burns = salt.may_burn();
        let damps = brings(Nutrient::NitrateN) && (brings(Nutrient::Ca) || brings(Nutrient::AmmoniumN));
        let restricted = Restricted { notes: salt.law.notes.clone(), source: salt.law.source.clone() };
        Self {
            id: salt.id.clone(),
            name: salt.name.clone(),
            kind: salt.kind,
            urea: brings(Nutrient::UreaN),
            ammonium: brings(Nutrient::AmmoniumN),
            nitric_acid: salt.kind == Kind::Acid && brings(Nutrient::NitrateN),
            frees_chlorine: salt.kind == Kind::Acid && burns && (brings(Nutrient::NitrateN) || brings(Nutrient::S)),
            chloride: brings(Nutrient::Cl),
            organic_acid: salt.kind == Kind::Acid && ORGANIC.into_iter().any(releases),
            carbonate: releases("CO3-2") || releases("HCO3-"),
            strong_base: salt.kind == Kind::Base && (releases("OH-") || releases("CO3-2")),
            hydroxide: salt.kind == Kind::Base && releases("OH-"),
            burning_acid: salt.kind == Kind::Acid && burns,
            dry_urea: brings(Nutrient::UreaN) && !salt.is_liquid(),
            damp_with_urea: salt.kind == Kind::Salt && damps && !salt.is_liquid(),
            chelate: salt.ph_range.map(|ph_range| Chelate {
                ph_range,
                others: others().collect(),
                source: salt.sources.first().cloned(),
            }),
            restricted: salt.law.restricted.then_some(restricted),
        }
    }
}
