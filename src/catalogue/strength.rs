//! Acids of another strength than the rows of the table: named by their per cent by mass, as `nitric-acid-38`.

use super::{Catalogue, SaltId};
use crate::matter::{Hazards, Law, Salt};
use crate::quantity::round_to;

/// An acid that is sold in many strengths.
#[derive(Debug, Clone)]
pub(super) struct Strengths {
    /// Its id without the per cent, as `nitric-acid`.
    pub of: String,
    /// The row that has its formula, what it is kept apart from and its rules.
    pub like: SaltId,
    /// Density at 20 C by per cent, kg/L, weakest first; straight lines between, and nothing beyond.
    pub density: Vec<(f64, f64)>,
    /// Public rules restrict it from this per cent on.
    pub restricted_from: Option<f64>,
    /// The EU's class by per cent, weakest first: from each on until the next.
    pub classes: Vec<(f64, Hazards)>,
    /// Source of the densities.
    pub density_source: String,
}

impl Strengths {
    /// The per cent that an id names, where it is within what is known; as one writes a number, so that no acid has two ids.
    fn percent(&self, id: &str) -> Option<f64> {
        let text = id.strip_prefix(&self.of)?.strip_prefix('-')?;
        let percent: f64 = text.parse().ok().filter(|percent: &f64| percent.to_string() == text)?;
        let (weakest, strongest) = (self.density.first()?.0, self.density.last()?.0);
        (weakest..=strongest).contains(&percent).then_some(percent)
    }

    fn density(&self, percent: f64) -> Option<f64> {
        let pair = self.density.windows(2).find(|pair| percent <= pair[1].0)?;
        let [(from, thinner), (to, thicker)] = [pair[0], pair[1]];
        Some(round_to(thinner + (thicker - thinner) * (percent - from) / (to - from), 4))
    }
}

impl Catalogue {
    /// The same table with every acid that an id names by its strength and the table does not have.
    ///
    /// * `ids`: of salts, such as those of a shelf; what names no acid changes nothing
    #[must_use]
    pub(crate) fn with_strengths<'t>(mut self, ids: impl IntoIterator<Item = &'t str>) -> Self {
        for id in ids {
            if self.find(id).is_none()
                && let Some(acid) = self.of_strength(id)
            {
                std::sync::Arc::make_mut(&mut self.salts).push(acid);
            }
        }
        self
    }

    /// The acid that an id names by its strength.
    ///
    /// Composition in proportion to the strength, density between those that are known, class and rules by the strength;
    /// all else as the row of the table.
    pub(crate) fn of_strength(&self, id: &str) -> Option<Salt> {
        let (of, percent) = self.strengths.iter().find_map(|of| Some((of, of.percent(id)?)))?;
        let like = self.salt(of.like);
        let class = of.classes.iter().rev().find(|(from, _)| percent >= *from);
        let restricted = of.restricted_from.is_some_and(|from| percent >= from);
        let mut sources = like.sources.clone();
        if !restricted {
            sources.retain(|source| Some(source) != like.law.source.as_ref());
        }
        sources.push(of.density_source.clone());
        sources.sort();
        sources.dedup();
        Some(Salt {
            id: id.to_owned(),
            name: format!("{} {percent} %", of.of.replace('-', " ")),
            other_names: Vec::new(),
            composition: like.composition.scaled(percent / like.mass_percent?),
            mass_percent: Some(percent),
            density_kg_per_l: Some(of.density(percent)?),
            hazards: class.map_or_else(Hazards::default, |(_, class)| class.clone()),
            law: if restricted { like.law.clone() } else { Law::default() },
            sources,
            ..like.clone()
        })
    }

    /// True where an acid burns once it is thinned to so much by mass: by the EU's class of that strength, where strengths of it are
    /// known, else as the salt itself, and always where of its hazards nothing is known.
    pub(crate) fn burns_at(&self, salt: &Salt, percent: f64) -> bool {
        match self.strengths.iter().find(|of| of.percent(&salt.id).is_some()) {
            Some(of) => of.classes.iter().rev().find(|(from, _)| percent >= *from).is_some_and(|(_, class)| class.burns()),
            None => salt.may_burn(),
        }
    }

    /// The strengths that an id without one, or with one that is not known, may have: `nitric-acid-1 to nitric-acid-70`.
    pub(crate) fn strengths_of(&self, typed: &str) -> Option<String> {
        let of = self.strengths.iter().find(|of| typed.strip_prefix(&of.of).is_some_and(|rest| rest.starts_with('-')))?;
        let ((weakest, _), (strongest, _)) = (of.density.first()?, of.density.last()?);
        Some(format!("{0}-{weakest} to {0}-{strongest}, by its per cent by mass", of.of))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every row of an acid that states its strength is what its strength alone makes of the strongest row.
    #[test]
    fn rows_are_their_strengths() {
        let table = Catalogue::standard();
        let mut compared = 0;
        for row in table.salts() {
            let Some(acid) = table.of_strength(&row.id) else { continue };
            compared += 1;
            let near = |what: &str, a: f64, b: f64| assert!((a - b).abs() <= 1e-9 * a.abs(), "{}: {what} {a} {b}", row.id);
            for ((ion, mol), (of, derived)) in row.composition.ions.iter().zip(&acid.composition.ions) {
                assert_eq!(ion, of);
                near("an ion", *mol, *derived);
            }
            for nutrient in crate::matter::NUTRIENTS {
                near(nutrient.symbol(), row.composition.nutrients[nutrient], acid.composition.nutrients[nutrient]);
            }
            near("density", row.density_kg_per_l.expect("a liquid"), acid.density_kg_per_l.expect("a liquid"));
            assert_eq!((&row.name, row.mass_percent, row.kind), (&acid.name, acid.mass_percent, acid.kind));
            assert_eq!(row.hazards.statements, acid.hazards.statements, "{}", row.id);
            assert_eq!(row.hazards.signal_word, acid.hazards.signal_word, "{}", row.id);
            assert_eq!(row.hazards.pictograms, acid.hazards.pictograms, "{}", row.id);
            assert_eq!((&row.law.notes, row.law.restricted), (&acid.law.notes, acid.law.restricted), "{}", row.id);
            assert_eq!((&row.keep_apart, &row.cas), (&acid.keep_apart, &acid.cas));
        }
        assert_eq!(compared, 5, "phosphoric 10, 75 and 85 %, nitric 60 %, sulfuric 35 %");
    }

    #[test]
    fn any_strength_within_what_is_known() {
        let table = Catalogue::standard();
        let acid = |id: &str| table.of_strength(id);
        // reference values of handbooks at 20 C: 1.233 at 38 %, 1.391 at 65 %
        for (id, density) in [("nitric-acid-38", 1.233), ("nitric-acid-65", 1.391), ("nitric-acid-53", 1.328)] {
            let found = acid(id).expect(id).density_kg_per_l.expect("a liquid");
            assert!((found - density).abs() < 1e-3, "{id}: {found}");
        }
        let restricted = |id: &str| acid(id).expect(id).law.restricted;
        // the general limit for eyes of what burns: 3 % (from memory)
        let blinds = |id: &str| table.of_strength(id).expect("known").hazards.statements.iter().any(|code| code == "H318");
        assert!(!blinds("nitric-acid-2.9") && blinds("nitric-acid-3") && blinds("nitric-acid-4.9"));
        assert!(!restricted("nitric-acid-2.9") && restricted("nitric-acid-3") && restricted("sulfuric-acid-15"));
        assert!(!restricted("sulfuric-acid-14.9") && !restricted("phosphoric-acid-29") && restricted("phosphoric-acid-30"));
        for id in [
            "nitric-acid-0.5",
            "nitric-acid-71",
            "nitric-acid-038",
            "nitric-acid-38.0",
            "nitric-acid-3e1",
            "nitric-acid",
            "nitric-acid-",
            "nitric-acid--5",
            "nitric-acid-inf",
            "boric-acid-38",
        ] {
            assert!(acid(id).is_none(), "{id}");
        }
        assert_eq!(
            table.clone().with_strengths(["urea", "nitric-acid-38", "nitric-acid-38"]).salts().len(),
            table.salts().len() + 1
        );
    }
}
