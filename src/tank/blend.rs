//! Several waters as one: what the shares of each come to.

use super::chemistry::Mixture;
use super::content::lacks_alkalinity;
use super::parts::Parts;
use super::{Content, Tank, TankError};
use crate::bench::{Bench, Source};
use crate::matter::{Nutrients, Water};

/// What each of the waters of a bench holds, in file order.
///
/// # Errors
/// [`TankError::NoEquilibrium`].
pub(crate) fn contents(bench: &Bench) -> Result<Vec<Content>, TankError> {
    bench.waters.iter().map(|source| Content::of_one_water(&bench.catalogue, &source.water)).collect()
}

/// The bench with a blend of its waters for its water.
///
/// Concentrations, alkalinity and carbon are those of the waters by their shares; the pH follows from these. Where alkalinity is
/// measured in one water at least, one without counts as 0.
///
/// * `shares`: of each water in file order, summing to 1
///
/// # Errors
/// [`TankError::NoEquilibrium`].
pub(crate) fn with_blend(bench: &Bench, shares: &[f64]) -> Result<Bench, TankError> {
    let blend = bench.waters.iter().zip(shares).map(|(source, share)| (source.id.clone(), *share)).collect();
    let alone = bench.waters.iter().zip(shares).find(|(_, share)| **share >= 1.0);
    let water = match alone {
        Some((source, _)) => source.water.clone(),
        None => blended(bench, shares)?,
    };
    Ok(Bench { water, blend, ..bench.clone() })
}

fn blended(bench: &Bench, shares: &[f64]) -> Result<Water, TankError> {
    let mut nutrients = Nutrients::default();
    let (mut alkalinity, mut unstated): (Option<f64>, f64) = (None, 0.0);
    for (source, share) in bench.waters.iter().zip(shares) {
        nutrients.add(&source.water.nutrients, *share);
        unstated += source.water.unstated_ms_per_cm * share;
        if let Some(meq) = source.water.alkalinity_meq_per_l {
            alkalinity = Some(alkalinity.unwrap_or(0.0) + meq * share);
        }
    }
    // of a blend with a water whose alkalinity nobody knows it is not known either
    let lacks =
        |(source, share): (&Source, &f64)| *share > 0.0 && lacks_alkalinity(&bench.catalogue, &source.water).is_some();
    if bench.waters.iter().zip(shares).any(lacks) {
        alkalinity = None;
    }
    let parts: Vec<(Content, f64)> = contents(bench)?.into_iter().zip(shares.iter().copied()).collect();
    let tank = Tank::full_of(bench, Content::blended(bench.catalogue.ions(), &parts));
    let ph = Mixture::new(&tank, &Parts::new(bench, Vec::new())).solution(&[])?.fresh.ph;
    // without alkalinity the carbon of every water is that of air, whatever its pH
    let ph = alkalinity.filter(|meq| *meq > 0.0).map(|_| ph);
    Ok(Water { nutrients, alkalinity_meq_per_l: alkalinity, ph, ec_ms_per_cm: None, unstated_ms_per_cm: unstated })
}

#[cfg(test)]
mod tests {
    use super::{Content, contents, with_blend};
    use crate::bench::Bench;
    use crate::matter::IonId;

    /// Total of an ion, and all carbon beyond the species, mmol/L and mol/kg.
    fn totals(content: &Content) -> (Vec<(IonId, f64)>, f64) {
        let mut sum: Vec<(IonId, f64)> = Vec::new();
        for (ion, mmol) in &content.mmol_per_l {
            match sum.iter_mut().find(|(other, _)| other == ion) {
                Some((_, all)) => *all += mmol,
                None => sum.push((*ion, *mmol)),
            }
        }
        (sum, content.carbon)
    }

    /// The pH of a blend is no sum, and its carbon, which follows from it, is.
    #[test]
    fn ions_and_carbon_of_a_blend_are_the_sums_of_its_waters() {
        let waters = [
            "",
            "Ca = 80\nMg = 12\nNa = 20\nCl = 30\nS = 20\nalkalinity = \"200 mg/L CaCO3\"\npH = 7.6\n",
            "Ca = 4\nalkalinity = \"0.2 meq/L\"\npH = 8.9\n",
            "Na = 40\nCl = 20\nalkalinity = \"1.1 meq/L\"\n",
            "Ca = 30\nCl = 53\npH = 6\n",
        ];
        let listed: Vec<String> =
            waters.iter().enumerate().map(|(at, lines)| format!("[[water]]\nid = \"{at}\"\n{lines}")).collect();
        let bench = Bench::parse(&format!("[tank]\nvolume = \"60 L\"\n{}", listed.concat()), "waters").expect("valid");
        let each = contents(&bench).expect("waters");
        let mixes =
            [[0.4, 0.6, 0.0, 0.0, 0.0], [0.9, 0.1, 0.0, 0.0, 0.0], [0.0, 0.3, 0.7, 0.0, 0.0], [0.2, 0.1, 0.3, 0.3, 0.1]];
        for shares in mixes {
            let blend = with_blend(&bench, &shares).expect("a blend");
            let (ions, carbon) = totals(&Content::of_water(&blend).expect("a water"));
            let sum: f64 = each.iter().zip(shares).map(|(content, share)| content.carbon * share).sum();
            assert!(
                (carbon - sum).abs() < 1e-9 * (1.0 + sum.abs()) && (carbon - sum).abs() < 1e-6 * sum.abs(),
                "{carbon} {sum}"
            );
            for (ion, mmol) in ions {
                let of =
                    |content: &Content| totals(content).0.iter().find(|(other, _)| *other == ion).map_or(0.0, |(_, m)| *m);
                let sum: f64 = each.iter().zip(shares).map(|(content, share)| of(content) * share).sum();
                assert!((mmol - sum).abs() < 1e-9 * (1.0 + sum), "{mmol} {sum}");
            }
        }
    }

    /// Alkalinity adds up by the shares of the waters, and one water that goes in without stating it leaves it open.
    #[test]
    fn alkalinity_of_a_blend_is_known_where_that_of_all_that_go_in_is() {
        let waters =
            ["Ca = 20\nalkalinity = \"1 meq/L\"\npH = 7\n", "Ca = 40\nalkalinity = \"2 meq/L\"\npH = 7\n", "Ca = 60\n"];
        let listed: Vec<String> =
            waters.iter().enumerate().map(|(at, lines)| format!("[[water]]\nid = \"{at}\"\n{lines}")).collect();
        let bench = Bench::parse(&format!("[tank]\nvolume = \"60 L\"\n{}", listed.concat()), "waters").expect("valid");
        let of = |shares: [f64; 3]| with_blend(&bench, &shares).expect("a blend").water.alkalinity_meq_per_l;
        assert!((of([0.5, 0.5, 0.0]).expect("known") - 1.5).abs() < 1e-9);
        assert_eq!((of([0.5, 0.0, 0.5]), of([0.0, 0.9, 0.1])), (None, None));
    }
}
