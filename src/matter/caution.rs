//! A row of `salts/cautions.toml` and what it applies to.

use serde::Deserialize;

use super::{Ions, Kind, Salt};

/// One caution and what it applies to.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// Short id.
    pub id: String,
    /// A word or two to find it by.
    pub heading: String,
    /// 1 is printed first.
    pub rank: u8,
    /// Applies to salts with any of these H statements.
    #[serde(default)]
    pub statements: Vec<String>,
    /// Applies to salts that release any of these species.
    #[serde(default)]
    pub species: Vec<String>,
    /// Applies to salts of these kinds.
    #[serde(default)]
    pub kinds: Vec<String>,
    /// Applies to salts of these kinds that burn (H314).
    #[serde(default)]
    pub burning_kinds: Vec<String>,
    /// Applies to these salts by id.
    #[serde(default)]
    pub salts: Vec<String>,
    /// Applies to products of the grower's own of these kinds: what is known of their hazards is nothing.
    #[serde(default)]
    pub own_kinds: Vec<String>,
    /// Applies to acids of the grower's own that bring any of these species: what their acid is shows in their label.
    #[serde(default)]
    pub own_acids_of: Vec<String>,
    /// Applies to bases of the grower's own that release any of these species.
    #[serde(default)]
    pub own_bases_of: Vec<String>,
    /// True where it applies to every product of the grower's own.
    #[serde(default)]
    pub own: bool,
    /// What is put on before the work.
    #[serde(default)]
    pub wear: Vec<String>,
    /// True where it applies to no liquid.
    #[serde(default)]
    pub solids: bool,
    /// Ids of cautions in whose place this one does not stand: where one of them concerns a salt, this one would say less.
    #[serde(default)]
    pub gives_way_to: Vec<String>,
    /// Applies to every mix, whatever is in it.
    #[serde(default)]
    pub always: bool,
    /// Applies to solution that is poured away and whose pH is under this.
    pub spent_under: Option<f64>,
    /// Applies to solution that is poured away and whose pH is over this.
    pub spent_over: Option<f64>,
    /// Says what is and is not shown of a formula with less nitrogen or more phosphorus than growth.
    #[serde(default)]
    pub pushed: bool,
    /// What to do, short.
    pub text: String,
    /// What there is to say beside, to who asks about one salt.
    pub more: Option<String>,
    /// Source id.
    pub source: String,
}

impl Caution {
    /// True where the rule of this row names the salt: a statement, a kind, an id or a species of it.
    pub(crate) fn concerns(&self, salt: &Salt, ions: &Ions) -> bool {
        let is_solid = salt.density_kg_per_l.is_none();
        let brings = |symbols: &[String]| {
            symbols.iter().any(|symbol| {
                ions.find(symbol).is_some_and(|id| salt.composition.ions.iter().any(|(ion, mol)| *ion == id && *mol > 0.0))
            })
        };
        let named = self.statements.iter().any(|code| salt.hazards.statements.contains(code))
            || self.kinds.iter().any(|kind| kind == salt.kind.name())
            || (salt.hazards.burns() && self.burning_kinds.iter().any(|kind| kind == salt.kind.name()))
            || (salt.own_product && self.own_kinds.iter().any(|kind| kind == salt.kind.name()))
            || self.salts.contains(&salt.id)
            || (salt.own_product && (self.own || salt.kind == Kind::Acid && brings(&self.own_acids_of)))
            || (salt.own_product && salt.kind == Kind::Base && brings(&self.own_bases_of))
            || brings(&self.species);
        named && (is_solid || !self.solids)
    }
}
