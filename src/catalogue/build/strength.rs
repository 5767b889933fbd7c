//! A row of the strengths of an acid.

use super::{Catalogue, CatalogueError, Place, known_source};
use crate::catalogue::rows::StrengthRow;
use crate::catalogue::strength::Strengths;
use crate::matter::Hazards;

pub(super) fn strengths(row: &StrengthRow, catalogue: &Catalogue, place: &Place) -> Result<Strengths, CatalogueError> {
    let like = catalogue.find(&row.like).ok_or_else(|| place.wrong(format!("there is no row `{}`", row.like)))?;
    place.require(catalogue.salt(like).mass_percent.is_some(), "`like` states no mass_percent")?;
    known_source(catalogue.sources(), &row.density_source, place)?;
    for source in row.class.iter().flat_map(|class| &class.sources) {
        known_source(catalogue.sources(), source, place)?;
    }
    let mut density = Vec::new();
    for (percent, kg_per_l) in &row.density_kg_per_l {
        let percent: f64 = percent.parse().map_err(|_| place.wrong(format!("density at `{percent}` is no per cent")))?;
        density.push((percent, *kg_per_l));
    }
    density.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    place.require(density.len() > 1, "a density needs two strengths at the least")?;
    place.require(row.class.is_sorted_by(|a, b| a.from < b.from), "classes stand weakest first")?;
    for class in &row.class {
        let known = class.hazards.iter().all(|code| catalogue.statement(code).is_some());
        let pictured = class.pictograms.iter().all(|code| catalogue.pictogram(code).is_some());
        place.require(known && pictured, "a code has no words in hazard-statements.toml")?;
    }
    let class = |class: &crate::catalogue::rows::ClassRow| {
        let hazards = Hazards {
            signal_word: Some(class.signal_word.clone()),
            statements: class.hazards.clone(),
            pictograms: class.pictograms.clone(),
            sources: class.sources.clone(),
            ..Hazards::default()
        };
        (class.from, hazards)
    };
    Ok(Strengths {
        of: row.of.clone(),
        like,
        density,
        restricted_from: row.restricted_from,
        classes: row.class.iter().map(class).collect(),
        density_source: row.density_source.clone(),
    })
}
