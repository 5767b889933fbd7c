//! What must not meet in a concentrate.

use crate::matter::{Composition, Kind, Nutrient, Nutrients};

/// A substance as far as storing it with others goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stored<'a> {
    /// What it is to the fit.
    pub kind: Kind,
    /// Grams of nutrients that a unit of it brings.
    pub nutrients: &'a Nutrients,
    /// A product of the grower's own, whose label does not say what else is in it.
    pub own_product: bool,
}

impl<'a> Stored<'a> {
    /// What brings these nutrients in these species.
    #[must_use]
    pub fn new(kind: Kind, composition: &'a Composition, own_product: bool) -> Self {
        Self { kind, nutrients: &composition.nutrients, own_product }
    }

    pub(crate) fn brings(&self, nutrient: Nutrient) -> bool {
        self.nutrients[nutrient] > 0.0
    }

    /// A metal that no chelate holds.
    pub(crate) fn bare_metal(&self) -> bool {
        let metals = [Nutrient::Mn, Nutrient::Zn, Nutrient::Cu, Nutrient::Fe];
        self.kind != Kind::Chelate && metals.into_iter().any(|metal| self.brings(metal))
    }
}

const CHELATE_LOSES: &str = "a chelate of iron may lose it to copper or zinc";

/// Why two substances never share a bottle with each other, however weak; `None` where they may.
///
/// Calcium precipitates with sulfate, phosphate and molybdate; borax is a base and takes out metals, calcium and magnesium;
/// iron without a chelate rusts; acids, bases, silicates and products of the grower's own, but those whose metals a declared
/// chelate holds, are kept by themselves. A chelate of iron is kept from bare copper and zinc. Phosphate with magnesium and
/// with bare metals is no matter of the two alone: that is judged by the chemistry of the whole bottle. Common practice and the
/// incompatibilities of the salt table, from memory.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, safety::{Stored, kept_apart}};
/// let table = Catalogue::standard();
/// let of = |id: &str| {
///     let salt = table.salt(table.find(id).unwrap());
///     Stored::new(salt.kind, &salt.composition, salt.own_product)
/// };
/// assert!(kept_apart(of("calcium-nitrate-tetrahydrate"), of("potassium-sulfate")).is_some());
/// assert!(kept_apart(of("iron-dtpa"), of("copper-sulfate-pentahydrate")).is_some());
/// assert!(kept_apart(of("monopotassium-phosphate"), of("magnesium-sulfate-heptahydrate")).is_none());
/// ```
///
/// Reference: `docs/stock.md`.
#[must_use]
pub fn kept_apart(a: Stored, b: Stored) -> Option<&'static str> {
    let iron_chelate = |s: Stored| s.kind == Kind::Chelate && s.brings(Nutrient::Fe);
    let takes_iron = |s: Stored| s.kind != Kind::Chelate && (s.brings(Nutrient::Cu) || s.brings(Nutrient::Zn));
    let loses = (iron_chelate(a) && takes_iron(b)) || (iron_chelate(b) && takes_iron(a));
    never_together(a, b).or(loses.then_some(CHELATE_LOSES))
}

/// [`kept_apart`] where there is one bottle only: a chelate of iron may then stand with copper and zinc.
#[must_use]
pub fn never_together(a: Stored, b: Stored) -> Option<&'static str> {
    let either = |one: &dyn Fn(Stored) -> bool, other: &dyn Fn(Stored) -> bool| (one(a) && other(b)) || (one(b) && other(a));
    let calcium = |s: Stored| s.brings(Nutrient::Ca);
    let takes_calcium = |s: Stored| s.brings(Nutrient::S) || s.brings(Nutrient::P) || s.brings(Nutrient::Mo);
    let bare_iron = |s: Stored| s.kind != Kind::Chelate && s.brings(Nutrient::Fe);
    // borax is a base; boric acid is not
    let borax = |s: Stored| s.brings(Nutrient::B) && s.brings(Nutrient::Na) && !s.own_product;
    let alone = |s: Stored| matches!(s.kind, Kind::Acid | Kind::Base | Kind::Silicate);
    if alone(a) || alone(b) {
        Some("acids, bases and silicates are kept by themselves")
    } else if unknown(a) || unknown(b) {
        Some("what else a product of your own holds is not known")
    } else if bare_iron(a) || bare_iron(b) {
        Some("iron without a chelate rusts, and takes others with it")
    } else if either(&calcium, &takes_calcium) {
        Some("calcium falls out with sulfate, phosphate and molybdate")
    } else if either(&borax, &|s| s.bare_metal() || calcium(s) || s.brings(Nutrient::Mg)) {
        Some("borax is a base, and metals fall out with it")
    } else {
        None
    }
}

/// True where a chelate may lose its metal to a salt beside it in a bottle: iron or manganese to bare copper or zinc, zinc to bare
/// copper. From memory.
#[must_use]
pub fn may_lose_its_metal(chelate: Stored, bare: Stored) -> bool {
    let holds = |nutrient| chelate.kind == Kind::Chelate && chelate.brings(nutrient);
    let is_bare = |nutrient| bare.kind != Kind::Chelate && bare.brings(nutrient);
    let weak = holds(Nutrient::Fe) || holds(Nutrient::Mn);
    (weak && (is_bare(Nutrient::Cu) || is_bare(Nutrient::Zn))) || (holds(Nutrient::Zn) && is_bare(Nutrient::Cu))
}

/// True for a product of the grower's own whose metals no declared chelate holds.
fn unknown(stored: Stored) -> bool {
    stored.own_product && stored.kind != Kind::Chelate
}

/// Why two substances of a bottle without phosphate are kept apart: copper from molybdate, whose solution is not acid by
/// itself, so that copper falls out as molybdate and as hydroxy-sulfate. In the acid of a phosphate bottle the trade keeps both.
#[must_use]
pub fn kept_apart_without_phosphate(a: Stored, b: Stored) -> Option<&'static str> {
    let copper = |s: Stored| s.kind != Kind::Chelate && s.brings(Nutrient::Cu);
    let meets = |one: Stored, other: Stored| copper(one) && other.brings(Nutrient::Mo);
    (meets(a, b) || meets(b, a)).then_some("where no phosphate makes it acid, copper falls out with molybdate")
}

/// True for two that may share a bottle and are better apart where that costs no bottle: phosphate from magnesium, from bare
/// metals and from chelates, chelates from bare metals, and what stands with calcium in the trade's bottles but calcium and
/// chelates. Common practice.
#[must_use]
pub fn better_apart(a: Stored, b: Stored) -> bool {
    let phosphate_takes = |s: Stored| s.brings(Nutrient::Mg) || s.bare_metal() || s.kind == Kind::Chelate;
    let trade_has_elsewhere = |s: Stored| s.brings(Nutrient::Mg) || s.brings(Nutrient::B) || s.bare_metal();
    let uneasy = |one: Stored, other: Stored| {
        (one.brings(Nutrient::P) && phosphate_takes(other))
            || (one.kind == Kind::Chelate && other.bare_metal())
            || (one.brings(Nutrient::Ca) && trade_has_elsewhere(other))
    };
    uneasy(a, b) || uneasy(b, a)
}
