//! What a tank holds now, and what it becomes by draining and refilling.

use super::by_element::{ec_of, surplus_meq_per_l, unnamed_in};
use super::chemistry::{Mixture, carbon_of_water};
use super::parts::Parts;
use super::recipe::Recipe;
use super::saved::saved;
use super::{Tank, TankError};
use crate::bench::{Bench, Stock};
use crate::catalogue::Catalogue;
use crate::matter::{Composition, IonId, Ions, Kind, NUTRIENTS, Nutrient, Nutrients, Open, Water};
use crate::quantity::trimmed;
use crate::solution::{Air, LITRES_PER_KG};

/// What is in a tank, of which every litre is alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Content {
    /// Concentrations, ppm.
    pub ppm: Nutrients,
    /// Species, mmol/L. Carbon dioxide may stand among them as bicarbonate and as many protons, so that protons are fewer than
    /// none above pH 8.3.
    pub(super) mmol_per_l: Vec<(IonId, f64)>,
    /// Carbon beyond that of the species, mol/kg; negative in water above pH 8.3.
    pub(super) carbon: f64,
    /// False where the content is known by element only.
    pub(crate) alkalinity_known: bool,
    /// What labels of products in it, and waters of which little is known, leave open: meq and mmol per litre, mS/cm.
    pub(super) open: Open,
    /// Nutrients of which nothing is known: what is counted of them is only taken for granted.
    pub(crate) not_known: Vec<Nutrient>,
    /// Where it is known from, in words.
    pub known_from: String,
}

/// Cations over anions of a water without a stated alkalinity from which that is not counted as none, meq/L: own choice, what
/// rain and a reverse-osmosis filter leave.
const LACKS_MEQ_PER_L: f64 = 0.2;

/// The water of a bench.
///
/// # Errors
/// [`TankError::NotBlended`] where there are several and no job has blended them.
pub(crate) fn one_water(bench: &Bench) -> Result<&Water, TankError> {
    if bench.waters.is_empty() || !bench.blend.is_empty() {
        return Ok(&bench.water);
    }
    Err(TankError::NotBlended { ids: bench.waters.iter().map(|source| source.id.clone()).collect() })
}

/// Cations over anions of a water, meq/L, where its alkalinity is not stated and they tell that it has some.
pub(crate) fn lacks_alkalinity(catalogue: &Catalogue, water: &Water) -> Option<f64> {
    let over = || surplus_meq_per_l(catalogue, &water.nutrients);
    water.alkalinity_meq_per_l.is_none().then(over).filter(|meq| *meq > LACKS_MEQ_PER_L)
}

impl Content {
    /// The bench's water, before anything goes in.
    ///
    /// # Errors
    /// [`TankError::NoEquilibrium`]; [`TankError::NotBlended`] for several waters that no job has blended.
    pub(crate) fn of_water(bench: &Bench) -> Result<Self, TankError> {
        Self::of_one_water(&bench.catalogue, one_water(bench)?)
    }

    /// A water by its analysis.
    ///
    /// # Errors
    /// [`TankError::NoEquilibrium`].
    pub(super) fn of_one_water(catalogue: &Catalogue, water: &Water) -> Result<Self, TankError> {
        let mmol_per_l = water.ions(catalogue.ions(), catalogue.elements());
        Ok(Self {
            ppm: water.nutrients,
            carbon: carbon_of_water(catalogue, water, &mmol_per_l)?,
            mmol_per_l,
            alkalinity_known: water.unstated_ms_per_cm <= 0.0 && lacks_alkalinity(catalogue, water).is_none(),
            open: Open { ec_ms_per_cm: water.unstated_ms_per_cm, ..Open::default() },
            not_known: Vec::new(),
            known_from: "the water".to_owned(),
        })
    }

    /// The content of a tank made by a recipe, after days in air.
    ///
    /// # Errors
    /// [`TankError`].
    pub fn of_recipe(bench: &Bench, recipe: &Recipe) -> Result<Self, TankError> {
        let saved = saved(recipe, bench)?;
        let amounts: Vec<f64> = saved.doses.iter().map(|(_, amount)| amount / saved.litres()).collect();
        let name = recipe.formula.as_deref().unwrap_or("your mix");
        let tank = Tank::fresh(&saved.bench)?;
        Self::of_parts(&tank, &saved.parts(), &amounts, Air::Open, format!("a saved recipe ({name})"))
    }

    /// A content that is known by nutrient only: a laboratory analysis, or what a logbook estimates.
    ///
    /// Each nutrient counts as its usual ion, iron as the chelate on the shelf if there is one; cations without an anion are
    /// there as bicarbonate. How much acid or base the solution holds such an analysis does not tell, so the pH stays open.
    #[must_use]
    pub fn of_analysis(bench: &Bench, ppm: &Nutrients, known_from: &str) -> Self {
        let (ions, elements) = (bench.catalogue.ions(), bench.catalogue.elements());
        let mut nutrients = *ppm;
        // nitrogen of unknown form counts as nitrate: ammonium is the first that plants and microbes take
        nutrients[Nutrient::NitrateN] += ppm.unsplit_nitrogen();
        let ppm = nutrients;
        let chelate = bench.shelf.iter().copied().find(|stock: &Stock| {
            let salt = bench.salt(stock);
            salt.kind == Kind::Chelate && salt.composition.nutrients[Nutrient::Fe] > 0.0
        });
        let mut mmol_per_l = Vec::new();
        if let Some(stock) = chelate {
            let of = bench.composition(&stock);
            let grams = nutrients[Nutrient::Fe] * 1e-3 / of.nutrients[Nutrient::Fe];
            mmol_per_l.extend(of.ions.iter().map(|(ion, mol)| (*ion, mol * grams * 1e3)));
            // what else the chelate brings, sodium say, is in the analysis already
            for nutrient in NUTRIENTS {
                let brought = of.nutrients[nutrient] * grams * 1e3;
                nutrients[nutrient] = (nutrients[nutrient] - brought).max(0.0);
            }
        }
        let plain = Water { nutrients, ..Water::default() };
        mmol_per_l.extend(plain.ions(ions, elements));
        let charge: f64 = mmol_per_l.iter().map(|(ion, mmol)| f64::from(ions.get(*ion).charge) * mmol).sum();
        if let Some(ion) = ions.find("HCO3-").filter(|_| charge > 0.0) {
            mmol_per_l.push((ion, charge));
        }
        Self {
            ppm,
            mmol_per_l,
            carbon: 0.0,
            alkalinity_known: false,
            open: Open::default(),
            not_known: Vec::new(),
            known_from: known_from.to_owned(),
        }
    }

    /// EC at 25 C as a logbook reckons it, by nutrient and with what nobody names, mS/cm.
    ///
    /// * `ppm`: in place of its own, after something went in
    pub(crate) fn ec_by_element(&self, catalogue: &Catalogue, ppm: &Nutrients) -> Option<f64> {
        ec_of(catalogue, ppm).map(|ec| ec + self.open.ec_ms_per_cm)
    }

    /// What a logbook estimates: as [`Content::of_analysis`], with what nobody names in the water, which no nutrient tells.
    ///
    /// * `water_per_l`: water that went in for each litre that is there
    #[must_use]
    pub fn of_logbook(bench: &Bench, ppm: &Nutrients, water_per_l: f64, known_from: &str) -> Self {
        let open = Open { ec_ms_per_cm: unnamed_in(bench, water_per_l), ..Open::default() };
        Self { open, ..Self::of_analysis(bench, ppm, known_from) }
    }

    /// The same content with the alkalinity and the carbon that a measured pH tells, in air: elements alone leave them open, and
    /// days of feeding move what a recipe had.
    ///
    /// * `ph`: 0 to 14
    ///
    /// # Errors
    /// [`TankError::NoEquilibrium`].
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::{bench::Bench, jobs::{self, Content}, matter::{Nutrient, Nutrients}};
    /// let bench = Bench::starter();
    /// let mut ppm = Nutrients::default();
    /// (ppm[Nutrient::NitrateN], ppm[Nutrient::P], ppm[Nutrient::K]) = (90.0, 18.0, 280.0);
    /// let holding = Content::of_analysis(&bench, &ppm, "a laboratory analysis");
    /// assert!(holding.alkalinity_meq_per_l(&bench).is_none());
    /// let acid = holding.clone().at_ph(&bench, 5.0)?.alkalinity_meq_per_l(&bench);
    /// let hard = holding.at_ph(&bench, 7.5)?.alkalinity_meq_per_l(&bench);
    /// assert!(acid.unwrap() < 0.05 && hard.unwrap() > 0.4);
    /// # Ok::<(), jobs::JobError>(())
    /// ```
    ///
    /// Reference: `docs/switch.md`.
    pub fn at_ph(mut self, bench: &Bench, ph: f64) -> Result<Self, TankError> {
        let ions = bench.catalogue.ions();
        let charge = |of: &[(IonId, f64)]| of.iter().map(|(ion, mmol)| f64::from(ions.get(*ion).charge) * mmol).sum::<f64>();
        let some = |symbol: &str, mmol: f64| ions.find(symbol).map(|ion| (ion, mmol)).into_iter().collect::<Vec<_>>();
        let before = charge(&self.mmol_per_l);
        let acid_or_base = ["HCO3-", "H+"].map(|symbol| ions.find(symbol));
        self.mmol_per_l.retain(|(ion, _)| !acid_or_base.contains(&Some(*ion)));
        let (tank, parts) = (Tank::full_of(bench, self.clone()), Parts::new(bench, Vec::new()));
        let (alkalinity, carbon) = Mixture::new(&tank, &parts).beyond_ions_at_ph(&[], ph)?;
        // a proton less is an equivalent more
        let protons = some("H+", -alkalinity * 1e3 / LITRES_PER_KG);
        let there = std::mem::take(&mut self.mmol_per_l);
        self.mmol_per_l = blended([(there, 1.0), (carbon_dioxide(ions, carbon), 1.0), (protons, 1.0)]);
        // charge that was taken for bicarbonate and is none is another ion's: the solution stays as neutral as it was,
        // and its ionic strength moves the pH by less than a thousandth
        let over = charge(&self.mmol_per_l) - before;
        self.mmol_per_l.extend(some(if over > 0.0 { "unknown anion" } else { "unknown cation" }, over.abs()));
        (self.alkalinity_known, self.open) = (true, Open { ec_ms_per_cm: self.open.ec_ms_per_cm, ..Open::default() });
        self.known_from = format!("{}, its pH {} as measured", self.known_from, trimmed(ph, 2));
        Ok(self)
    }

    /// Alkalinity, meq/L; none where it is not known.
    #[must_use]
    pub fn alkalinity_meq_per_l(&self, bench: &Bench) -> Option<f64> {
        let chemistry = bench.catalogue.chemistry();
        let of_ion = |(ion, mmol): &(IonId, f64)| mmol * chemistry.species[chemistry.of_ion[ion.0]].alkalinity;
        self.alkalinity_known.then(|| self.mmol_per_l.iter().map(of_ion).sum())
    }

    /// What parts poured into a tank make of it, amounts per litre in the unit of each; with the carbon dioxide of the water,
    /// or after days in air.
    ///
    /// # Errors
    /// [`TankError::NoEquilibrium`].
    pub(crate) fn of_parts(
        tank: &Tank,
        parts: &Parts,
        per_litre: &[f64],
        air: Air,
        known_from: String,
    ) -> Result<Self, TankError> {
        let Self { mut ppm, mut mmol_per_l, alkalinity_known, mut open, .. } = tank.before.clone();
        for (at, amount) in per_litre.iter().enumerate() {
            let Composition { ions, nutrients, open: of_part } = parts.composition(at);
            ppm.add(&nutrients, amount * 1e3);
            open.add(&of_part, amount * 1e3);
            mmol_per_l.extend(ions.into_iter().map(|(ion, mol)| (ion, mol * amount * 1e3)));
        }
        let carbon = match air {
            Air::Closed => tank.before.carbon,
            Air::Open => Mixture::new(tank, parts).carbon_beyond_ions_aired(per_litre)?,
        };
        mmol_per_l.extend(carbon_dioxide(tank.bench.catalogue.ions(), carbon));
        Ok(Self { ppm, mmol_per_l, carbon: 0.0, alkalinity_known, open, not_known: Vec::new(), known_from })
    }

    /// What a litre of `water` brings in place of a litre of this content: mol and grams, some of it less than nothing.
    pub(crate) fn exchanged(&self, ions: &Ions, water: &Self) -> Composition {
        let mut nutrients = water.ppm.scaled(1e-3);
        nutrients.add(&self.ppm, -1e-3);
        let species = blended([(water.species(ions), 1.0), (self.species(ions), -1.0)]);
        let mut open = water.open.scaled(1e-3);
        open.add(&self.open, -1e-3);
        Composition { ions: species.into_iter().map(|(ion, mmol)| (ion, mmol * 1e-3)).collect(), nutrients, open }
    }

    /// The content of a tank in which `share` of the volume is this and the rest `water`.
    pub(crate) fn thinned(&self, ions: &Ions, water: &Self, share: f64) -> Self {
        let mut ppm = water.ppm.scaled(1.0 - share);
        ppm.add(&self.ppm, share);
        let mut open = water.open.scaled(1.0 - share);
        open.add(&self.open, share);
        Self {
            ppm,
            alkalinity_known: self.alkalinity_known && (water.alkalinity_known || share >= 1.0),
            mmol_per_l: blended([(water.species(ions), 1.0 - share), (self.species(ions), share)]),
            carbon: 0.0,
            open,
            ..self.clone()
        }
    }

    /// Several contents blended, each with its share.
    pub(super) fn blended(ions: &Ions, contents: &[(Self, f64)]) -> Self {
        let (mut ppm, mut open) = (Nutrients::default(), Open::default());
        for (content, share) in contents {
            ppm.add(&content.ppm, *share);
            open.add(&content.open, *share);
        }
        Self {
            ppm,
            mmol_per_l: blended(contents.iter().map(|(content, share)| (content.species(ions), *share))),
            carbon: 0.0,
            alkalinity_known: contents.iter().all(|(content, share)| content.alkalinity_known || *share <= 0.0),
            open,
            not_known: Vec::new(),
            known_from: "the waters".to_owned(),
        }
    }

    /// Its species, all of its carbon among them.
    fn species(&self, ions: &Ions) -> Vec<(IonId, f64)> {
        let mut species = self.mmol_per_l.clone();
        if self.carbon != 0.0 {
            species.extend(carbon_dioxide(ions, self.carbon));
        }
        species
    }
}

/// Carbon beyond the bicarbonate of a water, mol/kg, as species in mmol/L: CO2 is HCO3- + H+ less water, so its charge and its
/// alkalinity are nothing. Less than nothing above pH 8.3, where some of the bicarbonate is carbonate.
fn carbon_dioxide(ions: &Ions, mol_per_kg: f64) -> Vec<(IonId, f64)> {
    let mmol_per_l = mol_per_kg * 1e3 / LITRES_PER_KG;
    ["HCO3-", "H+"].into_iter().filter_map(|symbol| Some((ions.find(symbol)?, mmol_per_l))).collect()
}

/// Species of several waters, each with its share.
fn blended(waters: impl IntoIterator<Item = (Vec<(IonId, f64)>, f64)>) -> Vec<(IonId, f64)> {
    let mut sum: Vec<(IonId, f64)> = Vec::new();
    for (species, times) in waters {
        for (ion, mmol) in species {
            match sum.iter_mut().find(|(other, _)| *other == ion) {
                Some((_, all)) => *all += mmol * times,
                None => sum.push((ion, mmol * times)),
            }
        }
    }
    sum.retain(|(_, mmol)| *mmol != 0.0);
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nobody knows the alkalinity of water that is thinned, or thins, with water of which it is not known; of two that are known it is
    /// the mean by their shares, as every concentration is.
    #[test]
    fn what_is_thinned_is_known_where_both_waters_are() {
        let bench = Bench::starter();
        let (catalogue, ions) = (&bench.catalogue, bench.catalogue.ions());
        let of = |ca: f64, alkalinity_meq_per_l: Option<f64>| {
            let mut water = Water { alkalinity_meq_per_l, ..Water::default() };
            water.nutrients[Nutrient::Ca] = ca;
            Content::of_one_water(catalogue, &water).unwrap()
        };
        let (soft, hard, unknown) = (of(20.0, Some(1.0)), of(80.0, Some(4.0)), of(60.0, None));
        for (this, water, share, meq) in [
            (&soft, &hard, 0.25, Some(3.25)),
            (&hard, &soft, 0.25, Some(1.75)),
            (&soft, &unknown, 0.25, None),
            (&unknown, &soft, 0.25, None),
            (&soft, &unknown, 1.0, Some(1.0)),
        ] {
            for thinned in [
                this.thinned(ions, water, share),
                Content::blended(ions, &[(this.clone(), share), (water.clone(), 1.0 - share)]),
            ] {
                let ca = share * this.ppm[Nutrient::Ca] + (1.0 - share) * water.ppm[Nutrient::Ca];
                assert!((thinned.ppm[Nutrient::Ca] - ca).abs() < 1e-9, "{thinned:?}");
                let found = thinned.alkalinity_meq_per_l(&bench);
                assert_eq!(found.is_some(), meq.is_some(), "{thinned:?}");
                assert!(found.zip(meq).is_none_or(|(found, meq)| (found - meq).abs() < 1e-9), "{found:?} {meq:?}");
            }
        }
    }
}
