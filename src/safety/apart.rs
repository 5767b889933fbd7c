//! What must not meet in a concentrate.

use crate::matter::{Kind, Nutrient, Nutrients};

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

/// Why two substances are kept in bottles of their own; `None` where they may share one.
///
/// Calcium precipitates with sulfate, phosphate and molybdate, magnesium with phosphate where ammonium is near, bare metals
/// with phosphate and with borax, iron without a chelate rusts; acids, bases and silicates are kept by themselves, and chelates among themselves, where no acid and no other
/// metal takes theirs. Common practice, no source, but for calcium and phosphate, which the saturation indices bear out.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, safety::{Stored, kept_apart}};
/// let of = |id: &str| {
///     let salt = Catalogue::standard().salt(Catalogue::standard().find(id).unwrap());
///     Stored { kind: salt.kind, nutrients: &salt.composition.nutrients, own_product: salt.own_product }
/// };
/// assert!(kept_apart(of("calcium-nitrate-tetrahydrate"), of("potassium-sulfate")).is_some());
/// assert!(kept_apart(of("boric-acid"), of("zinc-sulfate-heptahydrate")).is_none());
/// ```
#[must_use]
pub fn kept_apart(a: Stored, b: Stored) -> Option<&'static str> {
    let either = |one: &dyn Fn(Stored) -> bool, other: &dyn Fn(Stored) -> bool| (one(a) && other(b)) || (one(b) && other(a));
    let brings = |stored: Stored, nutrient| stored.nutrients[nutrient] > 0.0;
    let calcium = |s: Stored| brings(s, Nutrient::Ca);
    let phosphate = |s: Stored| brings(s, Nutrient::P);
    let metal = |s: Stored| {
        let metals = [Nutrient::Mn, Nutrient::Zn, Nutrient::Cu, Nutrient::Fe];
        s.kind != Kind::Chelate && metals.into_iter().any(|metal| brings(s, metal))
    };
    let molybdate = |s: Stored| brings(s, Nutrient::Mo);
    let bare_iron = |s: Stored| s.kind != Kind::Chelate && brings(s, Nutrient::Fe);
    // borax is a base; boric acid is not
    let borax = |s: Stored| brings(s, Nutrient::B) && brings(s, Nutrient::Na);
    let alone = |s: Stored| matches!(s.kind, Kind::Acid | Kind::Base | Kind::Silicate);
    if alone(a) || alone(b) {
        Some("acids, bases and silicates are kept by themselves")
    } else if a.own_product || b.own_product {
        Some("what else a product of your own holds is not known")
    } else if bare_iron(a) || bare_iron(b) {
        Some("iron without a chelate rusts, and takes others with it")
    } else if either(&calcium, &|s| brings(s, Nutrient::S) || phosphate(s) || molybdate(s)) {
        Some("calcium falls out with sulfate, phosphate and molybdate")
    } else if either(&phosphate, &|s| metal(s) || brings(s, Nutrient::Mg)) {
        Some("phosphate takes metals and magnesium with it")
    } else if either(&borax, &|s| metal(s) || calcium(s) || brings(s, Nutrient::Mg)) {
        Some("borax is a base, and metals fall out with it")
    } else if (a.kind == Kind::Chelate) != (b.kind == Kind::Chelate) {
        Some("a chelate may lose its metal to another")
    } else {
        None
    }
}
