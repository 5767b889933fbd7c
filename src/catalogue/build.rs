//! From rows to a [`Catalogue`]: every reference resolved, every charge and element balanced.

mod salt;
mod strength;

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use self::salt::salt;
use self::strength::strengths;
use super::rows::{
    CautionFile, ElementFile, IonFile, IonRow, MineralFile, MineralRow, SaltFile, SourceFile, SpeciesFile, SpeciesRow,
    StatementFile,
};
use super::tables::{Prepared, Tables, Written};
use super::{Basis, Catalogue, Source};
use crate::matter::{Elements, Formula, Ion, Ions, NitrogenForm, Nutrient};
use crate::solution::{Chemistry, MOST_MASTERS, MasterId, Mineral, Mobility, Species, master_alkalinity};

/// The files that hold `[[salt]]` rows.
const SALT_FILES: [&str; 6] = ["macro.toml", "traces.toml", "chelates.toml", "silicates.toml", "acids.toml", "bases.toml"];

/// What is wrong with a row of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct CatalogueError {
    /// File of `salts/`.
    pub file: String,
    /// Id or symbol of the row; empty when the file itself does not parse.
    pub row: String,
    /// What is wrong.
    pub message: String,
}

impl fmt::Display for CatalogueError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "salts/{}: {}: {}", self.file, if self.row.is_empty() { "file" } else { &self.row }, self.message)
    }
}

impl std::error::Error for CatalogueError {}

pub(super) fn embedded() -> Result<Catalogue, CatalogueError> {
    from_tables(&Prepared)
}

pub(super) fn from_texts(texts: &[(&str, &str)]) -> Result<Catalogue, CatalogueError> {
    from_tables(&Written(texts))
}

/// A file and row under check, so that every error says where.
struct Place<'a> {
    file: &'a str,
    row: &'a str,
}

impl Place<'_> {
    fn wrong(&self, message: impl Into<String>) -> CatalogueError {
        CatalogueError { file: self.file.to_owned(), row: self.row.to_owned(), message: message.into() }
    }

    fn require(&self, holds: bool, message: impl Into<String>) -> Result<(), CatalogueError> {
        if holds { Ok(()) } else { Err(self.wrong(message)) }
    }
}

fn read<T: serde::de::DeserializeOwned>(tables: &impl Tables, file: &str) -> Result<T, CatalogueError> {
    tables.read(file).map_err(|message| Place { file, row: "" }.wrong(message))
}

fn from_tables(tables: &impl Tables) -> Result<Catalogue, CatalogueError> {
    let SourceFile { source: sources } = read(tables, "sources.toml")?;
    let weights: ElementFile = read(tables, "elements.toml")?;
    known_source(&sources, &weights.source, &Place { file: "elements.toml", row: "source" })?;
    let elements = Elements::new(weights.weights_g_per_mol);

    let mut ions = Vec::new();
    let IonFile { ion: rows } = read(tables, "ions.toml")?;
    for row in rows {
        ions.push(ion(&row, &elements)?);
    }
    let ions = Ions::new(ions);
    let SpeciesFile { species } = read(tables, "species.toml")?;
    let chemistry = chemistry(&species, &sources, &ions)?;
    let MineralFile { mineral } = read(tables, "minerals.toml")?;
    let minerals = minerals(&mineral, &sources, &chemistry)?;

    let statements: StatementFile = read(tables, "hazard-statements.toml")?;
    let CautionFile { caution: cautions } = read(tables, "cautions.toml")?;
    let basis = Basis {
        elements,
        ions,
        chemistry,
        minerals,
        sources,
        statements: statements.statement,
        pictograms: statements.pictogram,
        cautions,
    };
    for (file, row, source) in basis
        .statements
        .iter()
        .map(|s| ("hazard-statements.toml", &s.code, &s.source))
        .chain(basis.pictograms.iter().map(|p| ("hazard-statements.toml", &p.code, &p.source)))
        .chain(basis.cautions.iter().map(|c| ("cautions.toml", &c.id, &c.source)))
    {
        known_source(&basis.sources, source, &Place { file, row })?;
    }
    let mut catalogue = Catalogue { basis: Arc::new(basis), salts: Arc::default(), strengths: Arc::default() };
    for file in SALT_FILES {
        let SaltFile { salt: rows, strength } = read(tables, file)?;
        for row in rows {
            let place = Place { file, row: &row.id };
            place.require(catalogue.find(&row.id).is_none(), "this id occurs twice")?;
            let salt = salt(&row, &catalogue, &place)?;
            Arc::make_mut(&mut catalogue.salts).push(salt);
        }
        for row in strength {
            let strengths = strengths(&row, &catalogue, &Place { file, row: &row.of })?;
            Arc::make_mut(&mut catalogue.strengths).push(strengths);
        }
    }
    Ok(catalogue)
}

fn known_source(sources: &[Source], id: &str, place: &Place) -> Result<(), CatalogueError> {
    place.require(sources.iter().any(|source| source.id == id), format!("source `{id}` is not in the register"))
}

fn formula(text: &str, elements: &Elements, place: &Place) -> Result<Formula, CatalogueError> {
    Formula::parse(text, elements).map_err(|error| place.wrong(error.to_string()))
}

fn ion(row: &IonRow, elements: &Elements) -> Result<Ion, CatalogueError> {
    let place = Place { file: "ions.toml", row: &row.symbol };
    let nitrogen = match row.nitrogen.as_deref() {
        None => None,
        Some("bound") => Some(NitrogenForm::Bound),
        Some(form) => Some(NitrogenForm::Counts(
            Nutrient::parse(form).filter(|n| n.is_nitrogen_form()).ok_or_else(|| place.wrong("nitrogen is no form of N"))?,
        )),
    };
    let formula = row.formula.as_deref().map(|text| formula(text, elements, &place)).transpose()?;
    let holds_nitrogen = formula.as_ref().is_some_and(|f| f.count("N") > 0);
    place.require(holds_nitrogen == nitrogen.is_some(), "nitrogen is stated exactly for species that hold it")?;
    Ok(Ion { symbol: row.symbol.clone(), formula, charge: row.charge, nitrogen })
}

/// Masters and protons of `made_of`.
fn parts(
    made_of: &BTreeMap<String, f64>,
    masters: &[String],
    place: &Place,
) -> Result<(Vec<(MasterId, f64)>, f64), CatalogueError> {
    let mut of_masters = Vec::new();
    let mut protons = 0.0;
    for (symbol, count) in made_of {
        if symbol == "H+" {
            protons = *count;
        } else {
            let at = masters.iter().position(|master| master == symbol);
            let at = at.ok_or_else(|| place.wrong(format!("`{symbol}` is not a master species")))?;
            of_masters.push((MasterId(at), *count));
        }
    }
    Ok((of_masters, protons))
}

fn chemistry(rows: &[SpeciesRow], sources: &[Source], ions: &Ions) -> Result<Chemistry, CatalogueError> {
    let is_master = |row: &&SpeciesRow| row.made_of.len() == 1 && row.made_of.contains_key(&row.symbol);
    let masters: Vec<String> = rows.iter().filter(is_master).map(|row| row.symbol.clone()).collect();
    let charge_of = |symbol: &String| rows.iter().find(|row| row.symbol == *symbol).map_or(0, |row| row.charge);
    let mut species: Vec<Species> = Vec::new();
    for row in rows {
        let place = Place { file: "species.toml", row: &row.symbol };
        known_source(sources, &row.source, &place)?;
        if let Some(source) = &row.diffusion_source {
            known_source(sources, source, &place)?;
        }
        place.require(species.iter().all(|other| other.symbol != row.symbol), "this symbol occurs twice")?;
        place.require(
            row.diffusion_m2_per_s.is_some() == row.diffusion_source.is_some(),
            "a diffusion coefficient and its source go together",
        )?;
        let (of_masters, protons) = parts(&row.made_of, &masters, &place)?;
        place.require(of_masters.len() <= MOST_MASTERS, "it is made of too many masters")?;
        let charge: f64 = row.made_of.iter().map(|(symbol, count)| f64::from(charge_of(symbol)) * count).sum();
        place.require((charge - f64::from(row.charge)).abs() < 1e-9, "the charge is not that of what it is made of")?;
        let alkalinity: f64 = of_masters.iter().map(|(master, count)| count * master_alkalinity(&masters[master.0])).sum();
        species.push(Species {
            symbol: row.symbol.clone(),
            charge: row.charge,
            masters: of_masters,
            protons,
            log_k: row.log_k,
            size_angstrom: row.size_angstrom,
            linear_kg_per_mol: row.linear_kg_per_mol,
            mobility: row.diffusion_m2_per_s.map(|diffusion_m2_per_s| Mobility {
                diffusion_m2_per_s,
                temperature_k: row.diffusion_temperature_k,
                relaxation_angstrom: row.relaxation_angstrom,
            }),
            alkalinity: alkalinity - protons,
        });
    }
    let mut of_ion = Vec::new();
    for ion in ions.rows() {
        let place = Place { file: "ions.toml", row: &ion.symbol };
        let at = species.iter().position(|species| species.symbol == ion.symbol);
        let at = at.ok_or_else(|| place.wrong("it has no row in species.toml"))?;
        place.require(species[at].charge == ion.charge, "the charge differs from species.toml")?;
        of_ion.push(at);
    }
    Ok(Chemistry { masters, species, of_ion })
}

fn minerals(rows: &[MineralRow], sources: &[Source], chemistry: &Chemistry) -> Result<Vec<Mineral>, CatalogueError> {
    rows.iter()
        .map(|row| {
            let place = Place { file: "minerals.toml", row: &row.name };
            known_source(sources, &row.source, &place)?;
            row.enthalpy_source.as_ref().map_or(Ok(()), |source| known_source(sources, source, &place))?;
            let both = row.enthalpy_kj_per_mol.is_some() == row.enthalpy_source.is_some();
            place.require(both, "an enthalpy and its source go together")?;
            let (masters, protons) = parts(&row.made_of, &chemistry.masters, &place)?;
            Ok(Mineral {
                name: row.name.clone(),
                masters,
                protons,
                log_k: row.log_k,
                slow: row.slow,
                of_tanks: !row.bottles_only,
                in_bottles: row.in_bottles,
                enthalpy_kj_per_mol: row.enthalpy_kj_per_mol,
                source: row.source.clone(),
            })
        })
        .collect()
}
