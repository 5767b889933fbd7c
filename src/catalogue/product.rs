//! A product of the grower's own: from its label, and what is stated beside it, to ions and a kind.

use super::Catalogue;
use crate::matter::{
    Chelator, Composition, Formula, Hazards, Ion, IonId, Kind, Label, LabelError, LabelItem, Law, Nutrient, Open, Salt,
    Stated,
};

/// What labels omit may move the alkalinity of a product by as much beyond what they state, eq/kg: own choice.
const OMITTED_EQ_PER_KG: f64 = 1.0;
/// From here on a product is an acid, or a base, eq/kg: own choice. 10 % phosphoric acid has 1.02.
const STRONG_EQ_PER_KG: f64 = 1.0;
/// Nothing lighter than magnesium stands in a salt for the cation that its label omits, nothing lighter than chloride for the
/// anion: where a solid has less room than that, protons, hydroxide or carbonate are what is left, g for an equivalent.
const LIGHTEST_G_PER_EQ: (f64, f64) = (12.15, 35.45);
/// No solution holds more potassium as chloride than a saturated one (3.4 mol/kg at 20 C): more, with no anion named, is hydroxide,
/// carbonate or silicate, eq/kg: own choice.
const POTASSIUM_CHLORIDE_EQ_PER_KG: f64 = 4.0;
/// What an equivalent of an acid weighs of which no label tells the name, g: own choice, the heaviest of the common ones.
const UNNAMED_ACID_G_PER_EQ: f64 = 98.0;
/// Acids of which a label names the anion: its nutrient, equivalents in a mole, formula. Those first that rules restrict from the least.
const NAMED_ACIDS: [(Nutrient, f64, &str); 4] = [
    (Nutrient::NitrateN, 1.0, "HNO3"),
    (Nutrient::S, 2.0, "H2SO4"),
    (Nutrient::Cl, 1.0, "HCl"),
    (Nutrient::P, 1.0, "H3PO4"),
];
/// From here on rules restrict who may have hydrochloric acid, which the table does not have, mass percent.
const HYDROCHLORIC_FROM_PERCENT: f64 = 10.0;
/// Rules know potassium hydroxide above this, mass percent: the solid of the table is above it, its solution is not.
const HYDROXIDE_OVER_PERCENT: f64 = 17.0;
const HYDROXIDES: [&str; 2] = ["potassium-hydroxide", "potassium-hydroxide-10"];
/// Charges closer than this balance, equivalents per gram.
const BALANCED_EQ_PER_G: f64 = 1e-12;

impl Catalogue {
    /// A product of the grower's own.
    ///
    /// * `analysis`: what its label says, percent by mass
    ///
    /// # Errors
    /// [`LabelError`] for a label that cannot be.
    pub(crate) fn own_product(
        &self,
        id: &str,
        name: &str,
        density_kg_per_l: Option<f64>,
        analysis: &[LabelItem],
        stated: Stated,
    ) -> Result<Salt, LabelError> {
        let composition = self.of_label(&Label::new(analysis, self.elements())?, stated);
        let kind = self.kind_of(&composition, stated, density_kg_per_l.is_some());
        let strengths = if kind == Kind::Acid { self.strengths(&composition, stated) } else { Vec::new() };
        let law = if kind == Kind::Base { self.law_of_base(&composition) } else { self.law_of(&strengths) };
        Ok(Salt {
            id: id.to_owned(),
            name: name.to_owned(),
            other_names: Vec::new(),
            kind,
            formula: None,
            analysis: analysis.iter().map(|item| (item.key.clone(), item.percent)).collect(),
            composition,
            cas: None,
            usual_purity: 1.0,
            mass_percent: (!strengths.is_empty())
                .then(|| strengths.iter().map(|(_, percent)| percent).sum::<f64>().min(100.0)),
            density_kg_per_l,
            solubility: None,
            ph_range: None,
            hazards: Hazards::default(),
            keep_apart: Vec::new(),
            law,
            own_product: true,
            stated,
            sources: vec!["own-label".to_owned()],
        })
    }

    /// One gram of a labelled product.
    ///
    /// Every entry of the label counts as its usual ion, none of which counts as alkalinity. The alkalinity is carried by
    /// ions: what is below 0 by protons, what is above by carbonate as far as carbon is stated, else by hydroxide. The
    /// Metals of a stated chelate come as its ions, as far as the table has them; the rest counts as bare. The
    /// charge that is then open is that of an unknown ion. Alkalinity that is not stated lies between 0 and the imbalance of
    /// the label, give or take what labels omit; the middle counts and half the span is open.
    fn of_label(&self, label: &Label, stated: Stated) -> Composition {
        let ions = self.ions();
        let unsplit = label.unsplit_percent() / 100.0 / self.elements().weight("N").unwrap_or(f64::INFINITY);
        let ion = |symbol: &str, mol: f64| ions.find(symbol).filter(|_| mol > 0.0).map(|id| (id, mol));
        let mut open = Open::default();
        let closing = |imbalance: f64| -> Vec<(IonId, f64)> {
            let (low, high) = (imbalance - unsplit, imbalance + unsplit);
            let least = low.min(0.0) - OMITTED_EQ_PER_KG * 1e-3;
            let most = high.max(0.0) + OMITTED_EQ_PER_KG * 1e-3;
            let alkalinity = stated.alkalinity_eq_per_kg.map_or(f64::midpoint(least, most), |stated| stated * 1e-3);
            let carbon = stated.carbon_mol_per_kg.map_or(0.0, |stated| stated * 1e-3);
            if stated.alkalinity_eq_per_kg.is_none() {
                open.alkalinity_eq = (most - least) / 2.0;
            } else if stated.carbon_mol_per_kg.is_none() {
                open.carbon_mol = alkalinity.max(0.0);
            }
            let carbonate = (alkalinity - carbon).clamp(0.0, carbon);
            let beyond = alkalinity - carbon - carbonate;
            let left = imbalance - alkalinity;
            let left = if left.abs() > BALANCED_EQ_PER_G { left } else { 0.0 };
            [
                ion("CO3-2", carbonate),
                ion("HCO3-", carbon - carbonate),
                ion("OH-", beyond),
                ion("H+", -beyond),
                ion("unknown anion", left),
                ion("unknown cation", -left),
            ]
            .into_iter()
            .flatten()
            .collect()
        };
        // the closure is called once, and says what is open on the way
        let composition =
            label.composition(|nutrient| self.carrier(nutrient, stated.chelate), closing, ions, self.elements());
        Composition { open, ..composition }
    }

    /// The ion as which a stated chelate holds a nutrient, where it is a metal and the table has that chelate of it.
    fn carrier(&self, nutrient: Nutrient, chelate: Option<Chelator>) -> Option<IonId> {
        let chelated = format!("{}{}", nutrient.symbol(), chelate?.symbol());
        let is = |symbol: &str| {
            symbol.strip_prefix(&chelated).is_some_and(|charge| charge.starts_with(['-', '+']) || charge.is_empty())
        };
        self.ions().rows().iter().position(|ion| is(&ion.symbol)).map(IonId)
    }

    /// Metals of a label that the table does not know as the chelate stated.
    pub(crate) fn not_as_chelate(&self, label: &[LabelItem], chelate: Chelator) -> Vec<Nutrient> {
        let Ok(label) = Label::new(label, self.elements()) else { return Vec::new() };
        let metals = [Nutrient::Fe, Nutrient::Mn, Nutrient::Zn, Nutrient::Cu];
        metals.into_iter().filter(|metal| label.has(*metal) && self.carrier(*metal, Some(chelate)).is_none()).collect()
    }

    /// What a product is to the fit and to the hand, whatever it is called.
    ///
    /// By its stated alkalinity: an acid below -1 eq/kg, but for what molybdate takes up of it; a base above 1 eq/kg beyond what
    /// hydrogen phosphate and borate count, or a silicate where it brings silicon. Without one: what it must be by its label, and an
    /// acid where `[acid]` names it. Anything else is a salt, or a chelate where it states one.
    fn kind_of(&self, composition: &Composition, stated: Stated, is_liquid: bool) -> Kind {
        let plain = if stated.chelate.is_some() { Kind::Chelate } else { Kind::Salt };
        let named = if stated.named_acid { Kind::Acid } else { plain };
        let Some(alkalinity) = stated.alkalinity_eq_per_kg else {
            return self.must_be(composition, stated, is_liquid).unwrap_or(named);
        };
        let mol_per_kg = |nutrient: Nutrient| self.mol_per_kg(composition, nutrient);
        if alkalinity + 2.0 * mol_per_kg(Nutrient::Mo) < -STRONG_EQ_PER_KG {
            Kind::Acid
        } else if alkalinity - mol_per_kg(Nutrient::P) - mol_per_kg(Nutrient::B) <= STRONG_EQ_PER_KG {
            if alkalinity < 0.0 { named } else { plain }
        } else if mol_per_kg(Nutrient::Si) > 0.0 {
            Kind::Silicate
        } else {
            Kind::Base
        }
    }

    fn mol_per_kg(&self, composition: &Composition, nutrient: Nutrient) -> f64 {
        let weight = self.elements().weight(nutrient.element()).unwrap_or(f64::INFINITY);
        composition.nutrients[nutrient] / weight * 1e3
    }

    /// The ions that a label names, without those that close its charge: mol/kg.
    fn named_ions<'c>(&'c self, composition: &'c Composition) -> impl Iterator<Item = (&'c Ion, f64)> {
        let closes = |symbol: &str| matches!(symbol, "H+" | "OH-" | "HCO3-" | "CO3-2");
        let ions = composition.ions.iter().map(|(ion, mol)| (self.ions().get(*ion), mol * 1e3));
        ions.filter(move |(ion, _)| ion.formula.is_some() && !closes(&ion.symbol))
    }

    /// Cations of a label over its anions, eq/kg: the alkalinity of a product whose label omits nothing else.
    pub(crate) fn left_over_eq_per_kg(&self, composition: &Composition) -> f64 {
        self.named_ions(composition).map(|(ion, mol)| f64::from(ion.charge) * mol).sum()
    }

    /// The acid, base or silicate that a product without a stated alkalinity must be: by the charge that its label leaves open and
    /// no omitted ion can close.
    fn must_be(&self, composition: &Composition, stated: Stated, is_liquid: bool) -> Option<Kind> {
        if stated.chelate.is_some() {
            return None;
        }
        let mol_per_kg = |nutrient: Nutrient| self.mol_per_kg(composition, nutrient);
        let split = [Nutrient::NitrateN, Nutrient::AmmoniumN, Nutrient::UreaN].map(mol_per_kg).iter().sum::<f64>();
        let unsplit = (mol_per_kg(Nutrient::N) - split).max(0.0);
        let left = self.left_over_eq_per_kg(composition);
        let room_g = 1e3 - self.named_ions(composition).map(|(ion, mol)| mol * self.molar_mass(ion)).sum::<f64>();
        let (anions, cations) = (-(left + unsplit) - 2.0 * mol_per_kg(Nutrient::Mo), left - unsplit);
        let has_room = |eq: f64, lightest: f64| room_g >= eq * lightest;
        let (cation, anion) = LIGHTEST_G_PER_EQ;
        let sure = STRONG_EQ_PER_KG + OMITTED_EQ_PER_KG;
        // the label of a solution that names one anion and nothing else omits no cation: there is none
        let alone = || self.named_ions(composition).filter(|(_, mol)| *mol > 0.0).count() == 1;
        let enough = if is_liquid && alone() { STRONG_EQ_PER_KG } else { sure };
        if anions > enough && (is_liquid || !has_room(anions, cation)) {
            Some(Kind::Acid)
        } else if cations > STRONG_EQ_PER_KG && mol_per_kg(Nutrient::Si) > 0.0 {
            Some(Kind::Silicate)
        } else if is_liquid {
            (cations.min(mol_per_kg(Nutrient::K)) > POTASSIUM_CHLORIDE_EQ_PER_KG).then_some(Kind::Base)
        } else {
            (cations > sure && !has_room(cations, anion)).then_some(Kind::Base)
        }
    }

    fn molar_mass(&self, ion: &Ion) -> f64 {
        ion.formula.as_ref().map_or(0.0, |formula| formula.molar_mass(self.elements()))
    }

    /// The acids that a product of a known or likely alkalinity holds, by its anions: the nutrient of each, mass percent. What no
    /// anion of the label accounts for counts as an acid without a name.
    fn strengths(&self, composition: &Composition, stated: Stated) -> Vec<(Option<Nutrient>, f64)> {
        let likely = || -self.left_over_eq_per_kg(composition);
        let mut left = stated.alkalinity_eq_per_kg.map_or_else(likely, |alkalinity| -alkalinity).max(0.0);
        let mut strengths = Vec::new();
        for (nutrient, eq_per_mol, formula) in NAMED_ACIDS {
            let g_per_mol =
                Formula::parse(formula, self.elements()).map_or(0.0, |formula| formula.molar_mass(self.elements()));
            let eq = (self.mol_per_kg(composition, nutrient) * eq_per_mol).min(left);
            left -= eq;
            if eq > 0.0 {
                strengths.push((Some(nutrient), eq / eq_per_mol * g_per_mol / 10.0));
            }
        }
        if left > 0.0 {
            strengths.push((None, left * UNNAMED_ACID_G_PER_EQ / 10.0));
        }
        strengths
    }

    /// The rules for an acid of the table, of the first that a product holds so much of.
    fn law_of(&self, strengths: &[(Option<Nutrient>, f64)]) -> Law {
        let rules = |(nutrient, percent): &(Option<Nutrient>, f64)| {
            let of = |salt: &&Salt| {
                let brings = nutrient.is_some_and(|nutrient| salt.composition.nutrients[nutrient] > 0.0);
                salt.kind == Kind::Acid && brings && salt.law.from_percent.is_some_and(|from| *percent >= from)
            };
            let hydrochloric = || {
                let is = *nutrient == Some(Nutrient::Cl) && *percent >= HYDROCHLORIC_FROM_PERCENT;
                is.then(hydrochloric_law)
            };
            self.salts().iter().find(of).map(|salt| salt.law.clone()).or_else(hydrochloric)
        };
        strengths.iter().find_map(rules).unwrap_or_default()
    }

    /// The rules for the hydroxide of a base: those of potassium hydroxide so strong, as far as its potassium goes. Of other bases,
    /// carbonates among them, none are known.
    fn law_of_base(&self, composition: &Composition) -> Law {
        let of = |symbol: &str| -> f64 {
            let id = self.ions().find(symbol);
            composition.ions.iter().filter(|(ion, _)| Some(*ion) == id).map(|(_, mol)| mol).sum()
        };
        let g_per_mol = Formula::parse("KOH", self.elements()).map_or(0.0, |formula| formula.molar_mass(self.elements()));
        let percent = 100.0 * of("K+").min(of("OH-")) * g_per_mol;
        let [solid, solution] = HYDROXIDES;
        let id = if percent > HYDROXIDE_OVER_PERCENT { solid } else { solution };
        self.find(id).filter(|_| percent > 0.0).map(|id| self.salt(id).law.clone()).unwrap_or_default()
    }
}

/// Who may have hydrochloric acid.
fn hydrochloric_law() -> Law {
    Law {
        notes: [
            "EU: not named in the annexes of 2019/1148 (from memory).",
            "GB Poisons Act 1972 as amended by SI 2023/63: from 10 % private persons need a licence to have or use it (from memory, \
             check).",
            "Elsewhere: not known here.",
        ]
        .map(str::to_owned)
        .into(),
        more: Some("The rule of Northern Ireland is not known here.".to_owned()),
        restricted: true,
        from_percent: Some(HYDROCHLORIC_FROM_PERCENT),
        source: Some("gb-si-2023-63".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::matter::{LabelItem, NUTRIENTS};

    fn product(analysis: &[(&str, f64)], alkalinity: Option<f64>, carbon: Option<f64>) -> (Composition, Kind) {
        let table = Catalogue::standard();
        let items: Vec<LabelItem> =
            analysis.iter().map(|(key, percent)| LabelItem { key: (*key).to_owned(), percent: *percent }).collect();
        let label = Label::new(&items, table.elements()).expect("a label");
        let stated = Stated { alkalinity_eq_per_kg: alkalinity, carbon_mol_per_kg: carbon, ..Stated::default() };
        let composition = table.of_label(&label, stated);
        let kind = table.kind_of(&composition, stated, false);
        (composition, kind)
    }

    fn moles(composition: &Composition, symbol: &str) -> f64 {
        let id = Catalogue::standard().ions().find(symbol).expect("an ion");
        composition.ions.iter().filter(|(ion, _)| *ion == id).map(|(_, mol)| mol * 1e3).sum()
    }

    #[test]
    fn usual_ions_count_no_alkalinity() {
        let table = Catalogue::standard();
        for nutrient in NUTRIENTS {
            let ion = table.ions().find(nutrient.usual_ion()).expect("an ion");
            assert!(table.chemistry().species[table.chemistry().of_ion[ion.0]].alkalinity.abs() < 1e-12, "{nutrient}");
        }
    }

    #[test]
    fn metals_of_a_stated_chelate_come_as_its_ions() {
        let table = Catalogue::standard();
        let items = [("Fe", 6.0), ("Mn", 2.0)].map(|(key, percent)| LabelItem { key: key.to_owned(), percent });
        let label = Label::new(&items, table.elements()).expect("a label");
        for chelate in crate::matter::CHELATORS {
            let stated = Stated { chelate: Some(chelate), ..Stated::default() };
            let composition = table.of_label(&label, stated);
            assert_eq!(table.kind_of(&composition, stated, false), Kind::Chelate);
            let bare = table.not_as_chelate(&items, chelate);
            assert_eq!(bare.contains(&Nutrient::Mn), moles(&composition, "Mn+2") > 0.0, "{chelate:?}");
            assert!(!bare.contains(&Nutrient::Fe) && moles(&composition, "Fe+2") + moles(&composition, "Fe+3") == 0.0);
            assert!(
                composition.charge(table.ions()).abs() < 1e-15 && (composition.nutrients[Nutrient::Fe] - 0.06).abs() < 1e-12
            );
        }
    }

    #[test]
    fn charges_always_balance() {
        for (alkalinity, carbon) in [(None, None), (Some(-4.0), None), (Some(3.0), Some(2.0)), (Some(1.0), Some(2.0))] {
            let (composition, _) = product(&[("N", 6.0), ("K2O", 8.0), ("SO3", 3.0)], alkalinity, carbon);
            assert!(composition.charge(Catalogue::standard().ions()).abs() < 1e-15);
        }
    }

    /// Monopotassium phosphate as labels have it leaves 0.11 eq/kg open, reckoned by hand: 52/70.972 - 34/47.098, each in
    /// mol per 100 g.
    #[test]
    fn open_charge_of_an_mkp() {
        let (stated, kind) = product(&[("P2O5", 52.0), ("K2O", 34.0)], Some(0.0), None);
        assert!((moles(&stated, "unknown cation") - 0.11).abs() < 0.005, "{}", moles(&stated, "unknown cation"));
        assert_eq!((kind, stated.open), (Kind::Salt, Open::default()));
        let (unstated, _) = product(&[("P2O5", 52.0), ("K2O", 34.0)], None, None);
        assert!((unstated.open.alkalinity_eq * 1e3 - 1.054).abs() < 0.005, "{:?}", unstated.open);
        assert!((moles(&unstated, "H+") - 0.054).abs() < 0.005);
    }

    /// Nitrogen without a split is taken at both ends: 1.4 % is 1 eq/kg either way, and labels omit another.
    #[test]
    fn unsplit_nitrogen_widens() {
        let (unsplit, _) = product(&[("N", 1.400_7)], None, None);
        assert!((unsplit.open.alkalinity_eq * 1e3 - 2.0).abs() < 1e-9, "{:?}", unsplit.open);
    }

    /// Carbonate as far as it is stated, hydroxide beyond, and either where it is not.
    #[test]
    fn carbon_of_a_base() {
        let of = |alkalinity, carbon| product(&[("K2O", 9.42)], Some(alkalinity), carbon).0;
        for (alkalinity, carbon, expected, open) in [
            (2.0, None, [0.0, 0.0, 2.0], 2.0),
            (2.0, Some(0.0), [0.0, 0.0, 2.0], 0.0),
            (2.0, Some(2.0), [2.0, 0.0, 0.0], 0.0),
            (2.0, Some(1.0), [0.0, 1.0, 0.0], 0.0),
            (2.0, Some(1.5), [1.0, 0.5, 0.0], 0.0),
            (2.0, Some(0.5), [0.0, 0.5, 1.0], 0.0),
        ] {
            let found = of(alkalinity, carbon);
            for (symbol, expected) in ["HCO3-", "CO3-2", "OH-"].into_iter().zip(expected) {
                assert!((moles(&found, symbol) - expected).abs() < 1e-12, "{symbol}: {alkalinity} {carbon:?}");
            }
            assert!((found.open.carbon_mol * 1e3 - open).abs() < 1e-12);
        }
    }

    #[test]
    fn kinds_by_what_is_stated() {
        let kind = |analysis: &[(&str, f64)], alkalinity| product(analysis, Some(alkalinity), None).1;
        assert_eq!(kind(&[("NO3-N", 6.6)], -4.7), Kind::Acid);
        assert_eq!(kind(&[("P2O5", 7.24)], -1.02), Kind::Acid);
        assert_eq!(kind(&[("P2O5", 7.0), ("K2O", 4.0)], -0.9), Kind::Salt);
        assert_eq!(kind(&[("K2O", 47.0)], 9.98), Kind::Base);
        assert_eq!(kind(&[("K2O", 54.0), ("P2O5", 40.7)], 5.74), Kind::Salt);
        assert_eq!(kind(&[("K2O", 10.0), ("SiO2", 20.0)], 2.1), Kind::Silicate);
        assert_eq!(product(&[("NO3-N", 6.6)], None, None).1, Kind::Salt);
    }
}
