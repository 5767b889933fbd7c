//! A salt of the table, or a product of the grower's own.

use serde::{Deserialize, Serialize};

use super::{Composition, Formula};

/// What a salt is to the fit and to the hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Takes part in every fit.
    Salt,
    /// A chelated metal; takes part in every fit.
    Chelate,
    /// Only when silicon is asked for.
    Silicate,
    /// Only when `[acid]` names it.
    Acid,
    /// Hydroxides and carbonates: never by itself.
    Base,
}

impl Kind {
    /// The kind as the table writes it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Salt => "salt",
            Self::Chelate => "chelate",
            Self::Silicate => "silicate",
            Self::Acid => "acid",
            Self::Base => "base",
        }
    }
}

/// Solubility in water against temperature.
#[derive(Debug, Clone)]
pub struct Solubility {
    /// The formula that the percentages count (the anhydrous salt, usually).
    pub of: Formula,
    /// Temperature in C and mass percent of [`Solubility::of`] in the saturated solution, by rising temperature.
    pub mass_percent: Vec<(f64, f64)>,
    /// The same as grams of the salt as sold in 100 g of saturated solution.
    pub as_sold_percent: Vec<(f64, f64)>,
    /// Source id.
    pub source: String,
}

impl Solubility {
    /// Grams of the salt as sold that a litre holds at the least, at temperature `celsius` (interpolated, held at the
    /// ends). A litre of saturated solution weighs more than a kilogram, so counting it as one errs on the safe side.
    #[must_use]
    pub fn at_least_g_per_l(&self, celsius: f64) -> f64 {
        let points = &self.as_sold_percent;
        let percent = match points.iter().position(|(t, _)| *t >= celsius) {
            None => points.last().map_or(0.0, |(_, p)| *p),
            Some(0) => points[0].1,
            Some(above) => {
                let ((t0, p0), (t1, p1)) = (points[above - 1], points[above]);
                p0 + (p1 - p0) * (celsius - t0) / (t1 - t0)
            }
        };
        percent * 10.0
    }
}

/// GHS classification.
#[derive(Debug, Clone, Default)]
pub struct Hazards {
    /// `Danger`, `Warning` or nothing, by the EU's class.
    pub signal_word: Option<String>,
    /// H statements: those of the EU's class, then those of a stricter source.
    pub statements: Vec<String>,
    /// Those of them that stand in the stricter source alone.
    pub stricter: Vec<String>,
    /// Signal word of the stricter source, where it says more than that of the EU's class.
    pub stricter_word: Option<String>,
    /// Id of the stricter source.
    pub stricter_source: Option<String>,
    /// What there is to say of the class.
    pub note: Option<String>,
    /// GHS pictograms, by the EU's class.
    pub pictograms: Vec<String>,
    /// Source ids.
    pub sources: Vec<String>,
}

impl Hazards {
    /// True for what causes severe skin burns (H314).
    #[must_use]
    pub fn burns(&self) -> bool {
        self.statements.iter().any(|code| code.starts_with("H314"))
    }
}

/// Public rules that restrict or watch a substance.
#[derive(Debug, Clone, Default)]
pub struct Law {
    /// One sentence a rule, short.
    pub notes: Vec<String>,
    /// What there is to say beside, to who asks about one salt.
    pub more: Option<String>,
    /// True when a rule restricts who may have it.
    pub restricted: bool,
    /// From which strength on it does, mass percent of the acid.
    pub from_percent: Option<f64>,
    /// Source id.
    pub source: Option<String>,
}

/// A chelate that holds metals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub enum Chelator {
    /// Ethylenediaminetetraacetate.
    #[serde(rename = "EDTA")]
    Edta,
    /// Diethylenetriaminepentaacetate.
    #[serde(rename = "DTPA")]
    Dtpa,
    /// Ethylenediamine-di(o-hydroxyphenylacetate).
    #[serde(rename = "EDDHA")]
    Eddha,
    /// Hydroxyethylethylenediaminetriacetate.
    #[serde(rename = "HEDTA")]
    Hedta,
}

/// Every chelate that a product may state.
pub const CHELATORS: [Chelator; 4] = [Chelator::Edta, Chelator::Dtpa, Chelator::Eddha, Chelator::Hedta];

impl Chelator {
    /// Its short name, as the trade and the bench file write it.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Edta => "EDTA",
            Self::Dtpa => "DTPA",
            Self::Eddha => "EDDHA",
            Self::Hedta => "HEDTA",
        }
    }
}

/// What the grower states of a product beside its label.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Stated {
    /// The chelate as which its metals come; without one they count as bare.
    pub chelate: Option<Chelator>,
    /// Acid that a kilogram neutralises, eq; negative for an acid.
    pub alkalinity_eq_per_kg: Option<f64>,
    /// Carbonate carbon in a kilogram, mol.
    pub carbon_mol_per_kg: Option<f64>,
    /// True where `[acid]` names it.
    pub named_acid: bool,
}

/// A salt: composition first, then what a person handling it must know.
#[derive(Debug, Clone)]
pub struct Salt {
    /// Lower-case hyphenated chemical name, or the grower's own id.
    pub id: String,
    /// Name in words.
    pub name: String,
    /// Other names in the trade.
    pub other_names: Vec<String>,
    /// What it is to the fit.
    pub kind: Kind,
    /// The chemical formula where the table has one.
    pub formula: Option<Formula>,
    /// The label where the composition comes from one: key and percent.
    pub analysis: Vec<(String, f64)>,
    /// One gram as sold.
    pub composition: Composition,
    /// CAS registry number.
    pub cas: Option<String>,
    /// Usual purity, a fraction.
    pub usual_purity: f64,
    /// Mass percent of the formula in a solution, or of acid in one of the grower's own.
    pub mass_percent: Option<f64>,
    /// Density of a liquid, kg/L; `None` for a solid.
    pub density_kg_per_l: Option<f64>,
    /// Solubility, where published.
    pub solubility: Option<Solubility>,
    /// pH range in which a chelate holds.
    pub ph_range: Option<(f64, f64)>,
    /// GHS classification.
    pub hazards: Hazards,
    /// What it must not be stored or mixed with.
    pub keep_apart: Vec<String>,
    /// Public rules.
    pub law: Law,
    /// A product of the grower's own: what its label leaves open.
    pub own_product: bool,
    /// What is stated of a product beside its label.
    pub stated: Stated,
    /// Source ids of composition, density and the rest.
    pub sources: Vec<String>,
}

impl Salt {
    /// True for what burns, or of whose hazards nothing is known.
    #[must_use]
    pub fn may_burn(&self) -> bool {
        self.own_product || self.hazards.burns()
    }

    /// False for a product that leaves open how much alkalinity it has: no dose of it moves a pH by a known amount.
    #[must_use]
    pub fn alkalinity_known(&self) -> bool {
        self.composition.open.alkalinity_eq <= 0.0
    }

    /// True for an acid, a base or a silicate: what is in a tank for the pH that it makes, or in spite of it.
    #[must_use]
    pub fn reacts(&self) -> bool {
        matches!(self.kind, Kind::Acid | Kind::Base | Kind::Silicate)
    }

    /// True when it is measured by a syringe.
    #[must_use]
    pub fn is_liquid(&self) -> bool {
        self.density_kg_per_l.is_some()
    }
}
