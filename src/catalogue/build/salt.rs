//! A row of a salt to a [`Salt`]: what it is made of, how far it dissolves, its hazards.

use super::{Catalogue, CatalogueError, Place, formula, known_source};
use crate::catalogue::rows::SaltRow;
use crate::matter::{
    Composition, Elements, Formula, Hazards, IonId, Kind, Label, LabelItem, Law, Nutrient, Salt, Solubility, Stated,
};

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

pub(super) fn salt(row: &SaltRow, catalogue: &Catalogue, place: &Place) -> Result<Salt, CatalogueError> {
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
    let sources = sources(row, catalogue, place)?;
    place.require(row.density_kg_per_l.is_some() == row.density_source.is_some(), "density and its source go together")?;
    let says_law = !row.law.is_empty() || row.law_more.is_some();
    place.require(says_law == row.law_source.is_some(), "law and its source go together")?;
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
        hazards: hazards(row, catalogue),
        keep_apart: row.keep_apart.clone(),
        law: Law {
            notes: row.law.clone(),
            more: row.law_more.clone(),
            restricted: row.restricted,
            from_percent: row.law_from_percent,
            source: row.law_source.clone(),
        },
        own_product: false,
        stated: Stated::default(),
        sources,
    })
}

/// Every source of a row but those of its hazards, all of them known.
fn sources(row: &SaltRow, catalogue: &Catalogue, place: &Place) -> Result<Vec<String>, CatalogueError> {
    let mut sources: Vec<String> = vec![row.composition_source.clone(), row.keep_apart_source.clone()];
    sources.extend(row.density_source.iter().chain(&row.solubility_source).chain(&row.law_source).cloned());
    sources.sort();
    sources.dedup();
    for id in sources.iter().chain(&row.hazard_sources) {
        known_source(catalogue.sources(), id, place)?;
    }
    Ok(sources)
}

fn hazards(row: &SaltRow, catalogue: &Catalogue) -> Hazards {
    Hazards {
        signal_word: Some(row.signal_word.clone()).filter(|word| !word.is_empty()),
        statements: row.hazards.iter().chain(&row.stricter_hazards).cloned().collect(),
        stricter: row.stricter_hazards.clone(),
        stricter_word: stricter_word(row, catalogue),
        stricter_source: row.stricter_source.clone(),
        note: row.hazard_note.clone(),
        pictograms: row.pictograms.clone(),
        sources: row.hazard_sources.clone(),
    }
}

/// The signal word that the statements of a stricter source alone carry, where it says more than that of the EU's class.
fn stricter_word(row: &SaltRow, catalogue: &Catalogue) -> Option<String> {
    const MILD_TO_SEVERE: [&str; 3] = ["", "Warning", "Danger"];
    let weight = |word: &str| MILD_TO_SEVERE.iter().position(|known| *known == word);
    let words = row.stricter_hazards.iter().filter_map(|code| catalogue.statement(code)?.signal_word.as_deref());
    words.max_by_key(|word| weight(word)).filter(|word| weight(word) > weight(&row.signal_word)).map(str::to_owned)
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
