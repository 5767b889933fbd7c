//! Species as rows of `salts/species.toml`, and totals of a solution in terms of the masters.

use crate::matter::{IonId, Ions};

/// Litres of a dilute solution per kilogram of its water, at 25 C.
pub(crate) const LITRES_PER_KG: f64 = 1.003;

/// Index of a species that is made of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct MasterId(pub(crate) usize);

impl MasterId {
    /// Its position in [`Chemistry::masters`].
    #[must_use]
    pub fn index(self) -> usize {
        self.0
    }
}

/// How a species moves in an electric field.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Mobility {
    /// Tracer diffusion coefficient at 25 C, m2/s.
    pub diffusion_m2_per_s: f64,
    /// Its own temperature dependence, K.
    pub temperature_k: f64,
    /// Ion size in the conductance equation, angstrom; `None` where none is published.
    pub relaxation_angstrom: Option<f64>,
}

/// A dissolved species.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Species {
    /// Symbol with charge.
    pub symbol: String,
    /// Charge number.
    pub charge: i32,
    /// Masters and how often each occurs, without protons.
    pub masters: Vec<(MasterId, f64)>,
    /// Protons; negative where they are given off.
    pub protons: f64,
    /// log10 of the formation constant at 25 C and zero ionic strength.
    pub log_k: f64,
    /// Truesdell-Jones ion size, angstrom.
    pub size_angstrom: Option<f64>,
    /// Truesdell-Jones linear term, or the salting-out coefficient of an uncharged species; kg/mol.
    pub linear_kg_per_mol: Option<f64>,
    /// Its mobility, where one is published.
    pub mobility: Option<Mobility>,
    /// Alkalinity that a mole counts, eq/mol: zero level CO2, H2PO4-, NH4+, SO4-2, H3BO3, H4SiO4 and the undissociated
    /// citric and acetic acids.
    pub alkalinity: f64,
}

/// All that is known of dissolved species.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Chemistry {
    /// Symbols of the masters.
    pub masters: Vec<String>,
    /// Species; the masters among them.
    pub species: Vec<Species>,
    /// For every ion that salts release: its species.
    pub of_ion: Vec<usize>,
}

/// What a solution holds, whatever its pH.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Totals {
    /// mol/kg of water of each master.
    pub mol_per_kg: Vec<f64>,
    /// Alkalinity by the zero level of [`Species::alkalinity`], eq/kg.
    pub alkalinity_eq_per_kg: f64,
}

/// Alkalinity that a mole of a fully deprotonated master counts.
pub(crate) fn master_alkalinity(symbol: &str) -> f64 {
    match symbol {
        "PO4-3" | "CO3-2" => 2.0,
        "Citrate-3" => 3.0,
        "CH3COO-" => 1.0,
        _ => 0.0,
    }
}

impl Chemistry {
    /// The master called `symbol`.
    #[must_use]
    pub fn master(&self, symbol: &str) -> Option<MasterId> {
        self.masters.iter().position(|master| master == symbol).map(MasterId)
    }

    /// The position of a species.
    #[must_use]
    pub fn find(&self, symbol: &str) -> Option<usize> {
        self.species.iter().position(|species| species.symbol == symbol)
    }

    /// Totals from what salts and water release.
    ///
    /// * `mmol_per_l`: each ion, by [`IonId`], in mmol per litre of solution, each 0 or more
    ///
    /// A kilogram of water makes 1.003 litres of a dilute solution at 25 C; the molal totals follow.
    #[must_use]
    pub fn totals(&self, ions: &Ions, mmol_per_l: &[f64]) -> Totals {
        let mut totals = Totals { mol_per_kg: vec![0.0; self.masters.len()], alkalinity_eq_per_kg: 0.0 };
        for (id, mmol) in (0..ions.rows().len()).map(IonId).zip(mmol_per_l).filter(|(_, mmol)| **mmol != 0.0) {
            let species = &self.species[self.of_ion[id.0]];
            let molal = mmol * 1e-3 * LITRES_PER_KG;
            for (master, count) in &species.masters {
                totals.mol_per_kg[master.0] += count * molal;
            }
            totals.alkalinity_eq_per_kg += species.alkalinity * molal;
        }
        totals
    }
}
