//! From rows to a [`Catalogue`]: every reference resolved, every charge and element balanced.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use super::rows::{
    CautionFile, ElementFile, IonFile, IonRow, MineralFile, MineralRow, SaltFile, SaltRow, SourceFile, SpeciesFile,
    SpeciesRow, StatementFile,
};
use super::tables::Tables;
use super::{Basis, Catalogue, Source};
use crate::matter::{
    Composition, Elements, Formula, Hazards, Ion, IonId, Ions, Kind, Label, LabelItem, Law, NitrogenForm, Nutrient, Salt,
    Solubility, Stated,
};
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
    from_tables(Tables::prepared())
}

pub(super) fn from_texts(texts: &[(&str, &str)]) -> Result<Catalogue, CatalogueError> {
    from_tables(Tables::of(texts))
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

fn read<T: serde::de::DeserializeOwned>(tables: Tables, file: &str) -> Result<T, CatalogueError> {
    tables.read(file).map_err(|message| Place { file, row: "" }.wrong(message))
}

fn from_tables(tables: Tables) -> Result<Catalogue, CatalogueError> {
    let sources = read::<SourceFile>(tables, "sources.toml")?.source;
    let weights = read::<ElementFile>(tables, "elements.toml")?;
    known_source(&sources, &weights.source, &Place { file: "elements.toml", row: "source" })?;
    let elements = Elements::new(weights.weights_g_per_mol);

    let mut ions = Vec::new();
    for row in read::<IonFile>(tables, "ions.toml")?.ion {
        ions.push(ion(&row, &elements)?);
    }
    let ions = Ions::new(ions);
    let chemistry = chemistry(&read::<SpeciesFile>(tables, "species.toml")?.species, &sources, &ions)?;
    let minerals = minerals(&read::<MineralFile>(tables, "minerals.toml")?.mineral, &sources, &chemistry)?;

    let statements = read::<StatementFile>(tables, "hazard-statements.toml")?;
    let cautions = read::<CautionFile>(tables, "cautions.toml")?.caution;
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
    let mut catalogue = Catalogue { basis: Arc::new(basis), salts: Arc::default() };
    for file in SALT_FILES {
        for row in read::<SaltFile>(tables, file)?.salt {
            let place = Place { file, row: &row.id };
            place.require(catalogue.find(&row.id).is_none(), "this id occurs twice")?;
            let salt = salt(&row, &catalogue, &place)?;
            Arc::make_mut(&mut catalogue.salts).push(salt);
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

/// True when the digits of a CAS number carry their check digit.
fn cas_is_sound(cas: &str) -> bool {
    let parts: Vec<&str> = cas.split('-').collect();
    let [body, pair, check] = parts[..] else { return false };
    if !(2..=7).contains(&body.len()) || pair.len() != 2 || check.len() != 1 {
        return false;
    }
    let digits: Option<Vec<u32>> = format!("{body}{pair}").chars().map(|c| c.to_digit(10)).collect();
    digits.is_some_and(|digits| {
        let sum: u32 = digits.iter().rev().zip(1..).map(|(digit, place)| digit * place).sum();
        check == (sum % 10).to_string()
    })
}

fn salt(row: &SaltRow, catalogue: &Catalogue, place: &Place) -> Result<Salt, CatalogueError> {
    let (elements, ions) = (catalogue.elements(), catalogue.ions());
    let kind = match row.kind.as_str() {
        "salt" => Kind::Salt,
        "chelate" => Kind::Chelate,
        "silicate" => Kind::Silicate,
        "acid" => Kind::Acid,
        "base" => Kind::Base,
        other => return Err(place.wrong(format!("kind `{other}` is not salt, chelate, silicate, acid or base"))),
    };
    place.require(
        row.id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'),
        "an id is lower case, digits and hyphens",
    )?;
    place.require((0.01..=1.0).contains(&row.usual_purity), "usual_purity is a fraction from 0.01 to 1")?;
    if let Some(cas) = &row.cas {
        place.require(cas_is_sound(cas), format!("CAS number {cas} fails its check digit"))?;
    }
    let written = row.formula.as_deref().map(|text| formula(text, elements, place)).transpose()?;
    let composition = match &written {
        Some(written) => by_formula(row, written, catalogue, place)?,
        None => by_label(row, catalogue, place)?,
    };
    place.require(composition.charge(ions).abs() < 1e-12, "charges do not balance")?;
    hazards_known(row, catalogue, place)?;

    let mut sources: Vec<String> = vec![row.composition_source.clone(), row.keep_apart_source.clone()];
    sources.extend(row.density_source.iter().chain(&row.solubility_source).chain(&row.law_source).cloned());
    sources.sort();
    sources.dedup();
    for id in sources.iter().chain(&row.hazard_sources) {
        known_source(catalogue.sources(), id, place)?;
    }
    place.require(row.density_kg_per_l.is_some() == row.density_source.is_some(), "density and its source go together")?;
    place.require(row.law.is_empty() == row.law_source.is_none(), "law and its source go together")?;
    place.require(row.mass_percent.is_none() || row.density_kg_per_l.is_some(), "a solution needs a density")?;
    Ok(Salt {
        id: row.id.clone(),
        name: row.name.clone(),
        other_names: row.other_names.clone(),
        kind,
        solubility: solubility(row, written.as_ref(), elements, place)?,
        formula: written,
        analysis: row.analysis_percent.iter().map(|(key, percent)| (key.clone(), *percent)).collect(),
        composition,
        cas: row.cas.clone(),
        usual_purity: row.usual_purity,
        mass_percent: row.mass_percent,
        density_kg_per_l: row.density_kg_per_l,
        ph_range: row.ph_range,
        hazards: Hazards {
            signal_word: Some(row.signal_word.clone()).filter(|word| !word.is_empty()),
            statements: row.hazards.iter().chain(&row.stricter_hazards).cloned().collect(),
            stricter: row.stricter_hazards.clone(),
            stricter_source: row.stricter_source.clone(),
            note: row.hazard_note.clone(),
            pictograms: row.pictograms.clone(),
            sources: row.hazard_sources.clone(),
        },
        keep_apart: row.keep_apart.clone(),
        law: Law {
            notes: row.law.clone(),
            more: row.law_more.clone(),
            restricted: row.restricted,
            source: row.law_source.clone(),
        },
        own_product: false,
        stated: Stated::default(),
        sources,
    })
}

fn hazards_known(row: &SaltRow, catalogue: &Catalogue, place: &Place) -> Result<(), CatalogueError> {
    place.require(
        matches!(row.signal_word.as_str(), "" | "Warning" | "Danger"),
        "signal_word is Danger, Warning or nothing",
    )?;
    for code in row.hazards.iter().chain(&row.stricter_hazards) {
        place.require(catalogue.statement(code).is_some(), format!("{code} has no words in hazard-statements.toml"))?;
    }
    for code in &row.pictograms {
        place.require(catalogue.pictogram(code).is_some(), format!("{code} has no words in hazard-statements.toml"))?;
    }
    place.require(
        row.stricter_hazards.iter().all(|code| !row.hazards.contains(code)),
        "a statement of the EU's class stands among those of the stricter source alone",
    )?;
    place.require(
        row.stricter_hazards.is_empty() == row.stricter_source.is_none()
            && row.stricter_source.iter().all(|source| row.hazard_sources.contains(source)),
        "stricter_hazards and stricter_source go together, and the source is one of hazard_sources",
    )?;
    place.require(!row.hazard_sources.is_empty(), "hazards need a source, even where there are none")
}

fn by_formula(
    row: &SaltRow,
    written: &Formula,
    catalogue: &Catalogue,
    place: &Place,
) -> Result<Composition, CatalogueError> {
    let (elements, ions) = (catalogue.elements(), catalogue.ions());
    let mut into: Vec<(IonId, f64)> = Vec::new();
    for (symbol, count) in &row.dissolves_into {
        let id = ions.find(symbol).ok_or_else(|| place.wrong(format!("species `{symbol}` is not in ions.toml")))?;
        into.push((id, *count));
    }
    place.require(!into.is_empty(), "dissolves_into is missing")?;
    for symbol in elements.iter().map(|(symbol, _)| symbol).filter(|symbol| !matches!(*symbol, "H" | "O")) {
        let released: f64 = into
            .iter()
            .map(|(id, count)| count * ions.get(*id).formula.as_ref().map_or(0.0, |f| f64::from(f.count(symbol))))
            .sum();
        place.require(
            (released - f64::from(written.count(symbol))).abs() < 1e-9,
            format!("{symbol}: the formula holds {}, dissolves_into gives {released}", written.count(symbol)),
        )?;
    }
    Ok(Composition::of_formula(written, &into, row.mass_percent.unwrap_or(100.0) / 100.0, ions, elements))
}

fn by_label(row: &SaltRow, catalogue: &Catalogue, place: &Place) -> Result<Composition, CatalogueError> {
    let (elements, ions) = (catalogue.elements(), catalogue.ions());
    let items: Vec<LabelItem> =
        row.analysis_percent.iter().map(|(key, percent)| LabelItem { key: key.clone(), percent: *percent }).collect();
    place.require(!items.is_empty(), "a row needs a formula or an analysis_percent")?;
    let label = Label::new(&items, elements).map_err(|error| place.wrong(error.to_string()))?;
    let named =
        |symbol: &String| ions.find(symbol).ok_or_else(|| place.wrong(format!("species `{symbol}` is not in ions.toml")));
    let mut carriers: Vec<(Nutrient, IonId)> = Vec::new();
    for (key, symbol) in &row.carried_as {
        let nutrient = Nutrient::parse(key).ok_or_else(|| place.wrong(format!("carried_as: `{key}` is no nutrient")))?;
        carriers.push((nutrient, named(symbol)?));
    }
    let closed_by = row.closed_by.as_ref().map(named).transpose()?;
    Ok(label.composition(
        |nutrient| carriers.iter().find(|(n, _)| *n == nutrient).map(|(_, id)| *id),
        |charge| {
            let id = closed_by.filter(|_| charge.abs() > 1e-12);
            id.map(|id| (id, -charge / f64::from(ions.get(id).charge))).into_iter().collect()
        },
        ions,
        elements,
    ))
}

fn solubility(
    row: &SaltRow,
    written: Option<&Formula>,
    elements: &Elements,
    place: &Place,
) -> Result<Option<Solubility>, CatalogueError> {
    let (Some(of), Some(source)) = (&row.solubility_of, &row.solubility_source) else {
        return place
            .require(
                row.solubility_of.is_none() && row.solubility_source.is_none() && row.solubility_mass_percent.is_empty(),
                "solubility needs solubility_of, solubility_mass_percent and solubility_source",
            )
            .map(|()| None);
    };
    let of = formula(of, elements, place)?;
    let mut mass_percent = Vec::new();
    for (key, percent) in &row.solubility_mass_percent {
        let celsius: f64 = key.parse().map_err(|_| place.wrong(format!("solubility at `{key}` is not a temperature")))?;
        place.require((0.0..100.0).contains(percent), format!("solubility {percent} % is not a mass percent"))?;
        mass_percent.push((celsius, *percent));
    }
    place.require(!mass_percent.is_empty(), "solubility_mass_percent is empty")?;
    mass_percent.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    // a hydrate weighs more than the anhydrous salt that the percentages count
    let heavier = written.map_or(1.0, |written| written.molar_mass(elements) / of.molar_mass(elements));
    let as_sold_percent = mass_percent.iter().map(|(t, percent)| (*t, (percent * heavier).min(100.0))).collect();
    Ok(Some(Solubility { of, mass_percent, as_sold_percent, source: source.clone() }))
}

#[cfg(test)]
mod tests {
    use super::cas_is_sound;

    #[test]
    fn cas_check_digits() {
        assert!(cas_is_sound("7757-79-1"));
        assert!(!cas_is_sound("7757-79-2"));
        assert!(!cas_is_sound("7757-791"));
        assert!(!cas_is_sound("é757-79-1"));
    }
}
