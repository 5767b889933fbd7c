//! Ion pairs by fixed-point iteration.

use crate::matter::{IonId, Ions};

/// A pair of a cation and an anion, a row of `salts/pairs.toml`.
#[derive(Debug, Clone)]
pub struct Pair {
    /// Symbol, `CaSO4`.
    pub symbol: String,
    /// Its cation.
    pub cation: IonId,
    /// Its anion.
    pub anion: IonId,
    /// Charge number of the pair.
    pub charge: i32,
    /// log10 of the association constant at 25 C and zero ionic strength, L/mol.
    pub log_k: f64,
    /// Truesdell-Jones ion size in angstrom, where published.
    pub size_angstrom: Option<f64>,
    /// Truesdell-Jones linear term in kg/mol.
    pub linear_kg_per_mol: f64,
    /// Limiting molar conductivity in S cm2/mol; 0 where none is published.
    pub conductivity_s_cm2_per_mol: f64,
}

/// A solution with its pairs formed.
#[derive(Debug, Clone)]
pub struct Speciation {
    /// Free species in mmol/L, by [`IonId`].
    pub free_mmol_per_l: Vec<f64>,
    /// Pairs in mmol/L, in the order of the pair table.
    pub paired_mmol_per_l: Vec<f64>,
    /// Ionic strength in mol/L, pairs counted.
    pub ionic_strength_mol_per_l: f64,
}

/// Debye-Hueckel slope of log10 at 25 C, (L/mol)^0.5; from memory, as phreeqc.dat uses it.
const SLOPE: f64 = 0.509;
/// Debye-Hueckel reciprocal length at 25 C, 1/angstrom (L/mol)^0.5; from memory, as phreeqc.dat uses it.
const RECIPROCAL_LENGTH: f64 = 0.328_5;

/// log10 of the activity coefficient: Truesdell-Jones where a size is published, Davies else, 0.1 I when uncharged.
fn log_activity(charge: i32, size: Option<f64>, linear: f64, strength: f64) -> f64 {
    let square = f64::from(charge * charge);
    let root = strength.sqrt();
    match size {
        _ if charge == 0 => 0.1 * strength,
        Some(size) => -SLOPE * square * root / (1.0 + RECIPROCAL_LENGTH * size * root) + linear * strength,
        None => -SLOPE * square * (root / (1.0 + root) - 0.3 * strength),
    }
}

fn ten_to(power: f64) -> f64 {
    libm::exp(power * std::f64::consts::LN_10)
}

/// Lets the pairs form: free = total / (1 + sum over partners of K' free partner), repeated until nothing moves.
///
/// * `total_mmol_per_l`: total of each species, by [`IonId`], each 0 or more
///
/// Returns the free species, the pairs and the ionic strength. Concentrations per litre are taken as per kilogram of
/// water, and activities are good to an ionic strength of about 0.1 mol/L: a nutrient solution, not a stock bottle.
/// The map is iterated with damping to 1e-12 relative; should it not settle in 200 rounds the last round stands, whose
/// mass balance is exact by construction of the pairs.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::pair_up};
/// let catalogue = Catalogue::standard();
/// let mut total = vec![0.0; catalogue.ions().rows().len()];
/// for (symbol, mmol) in [("Mg+2", 2.0), ("SO4-2", 2.0)] {
///     total[catalogue.ions().find(symbol).unwrap().0] = mmol;
/// }
/// let solution = pair_up(catalogue.ions(), catalogue.pairs(), &total);
/// assert!(solution.ionic_strength_mol_per_l < 0.008, "some of it is paired");
/// ```
///
/// Reference: constants of phreeqc.dat 3.8; the method is the plain one.
#[must_use]
pub fn pair_up(ions: &Ions, pairs: &[Pair], total_mmol_per_l: &[f64]) -> Speciation {
    let rows = ions.rows();
    let mut free: Vec<f64> = total_mmol_per_l.to_vec();
    let mut paired = vec![0.0; pairs.len()];
    let mut strength = 0.0;
    for _ in 0..200 {
        let squares = |concentrations: &[f64], charge: &dyn Fn(usize) -> i32| -> f64 {
            concentrations.iter().enumerate().map(|(i, c)| f64::from(charge(i).pow(2)) * c).sum()
        };
        strength = 5e-4 * (squares(&free, &|i| rows[i].charge) + squares(&paired, &|i| pairs[i].charge));
        let activity = |id: IonId| {
            let ion = &rows[id.0];
            log_activity(ion.charge, ion.size_angstrom, ion.linear_kg_per_mol, strength)
        };
        let before = free.clone();
        let mut bound = vec![0.0; rows.len()];
        for pair in pairs.iter().filter(|p| free[p.cation.0] > 0.0 && free[p.anion.0] > 0.0) {
            let own = log_activity(pair.charge, pair.size_angstrom, pair.linear_kg_per_mol, strength);
            // concentrations are mmol/L, the constant is L/mol
            let k = 1e-3 * ten_to(pair.log_k + activity(pair.cation) + activity(pair.anion) - own);
            bound[pair.cation.0] += k * before[pair.anion.0];
            bound[pair.anion.0] += k * before[pair.cation.0];
        }
        let mut moved: f64 = 0.0;
        for ((now, then), (total, bound)) in free.iter_mut().zip(&before).zip(total_mmol_per_l.iter().zip(&bound)) {
            *now = 0.5 * (then + total / (1.0 + bound));
            if *total > 0.0 {
                moved = moved.max((*now - then).abs() / total);
            }
        }
        for (amount, pair) in paired.iter_mut().zip(pairs) {
            let own = log_activity(pair.charge, pair.size_angstrom, pair.linear_kg_per_mol, strength);
            let k = 1e-3 * ten_to(pair.log_k + activity(pair.cation) + activity(pair.anion) - own);
            *amount = k * free[pair.cation.0] * free[pair.anion.0];
        }
        if moved < 1e-12 {
            break;
        }
    }
    Speciation { free_mmol_per_l: free, paired_mmol_per_l: paired, ionic_strength_mol_per_l: strength }
}
