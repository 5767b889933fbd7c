//! What must not meet in a concentrate.

use crate::matter::{Composition, Ions, Kind, Nutrient, Nutrients};

/// A substance as far as storing it with others goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stored<'a> {
    /// What it is to the fit.
    pub kind: Kind,
    /// Grams of nutrients that a unit of it brings.
    pub nutrients: &'a Nutrients,
    /// True when it brings phosphate as HPO4 2-, whose solution is not acid.
    pub base_phosphate: bool,
    /// A product of the grower's own, whose label does not say what else is in it.
    pub own_product: bool,
}

impl<'a> Stored<'a> {
    /// What brings these nutrients in these species.
    #[must_use]
    pub fn new(kind: Kind, composition: &'a Composition, own_product: bool, ions: &Ions) -> Self {
        let base_phosphate = composition.ions.iter().any(|(ion, _)| ions.get(*ion).symbol == "HPO4-2");
        Self { kind, nutrients: &composition.nutrients, base_phosphate, own_product }
    }

    fn brings(&self, nutrient: Nutrient) -> bool {
        self.nutrients[nutrient] > 0.0
    }

    /// A metal that no chelate holds.
    fn bare_metal(&self) -> bool {
        let metals = [Nutrient::Mn, Nutrient::Zn, Nutrient::Cu, Nutrient::Fe];
        self.kind != Kind::Chelate && metals.into_iter().any(|metal| self.brings(metal))
    }
}

/// Why two substances are kept in bottles of their own, however weak; `None` where they may share one.
///
/// Beside what [`kept_apart_in_stock`] keeps apart: magnesium from every phosphate, since a thin bottle made with tap water
/// need not be acid, and chelates among themselves. Common practice, no source, but for calcium and phosphate, which the
/// saturation indices bear out.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, safety::{Stored, kept_apart, kept_apart_in_stock}};
/// let table = Catalogue::standard();
/// let of = |id: &str| {
///     let salt = table.salt(table.find(id).unwrap());
///     Stored::new(salt.kind, &salt.composition, salt.own_product, table.ions())
/// };
/// assert!(kept_apart(of("calcium-nitrate-tetrahydrate"), of("potassium-sulfate")).is_some());
/// assert!(kept_apart(of("boric-acid"), of("zinc-sulfate-heptahydrate")).is_none());
/// let (magnesium, phosphate) = (of("magnesium-sulfate-heptahydrate"), of("monopotassium-phosphate"));
/// assert!(kept_apart(magnesium, phosphate).is_some());
/// assert!(kept_apart_in_stock(magnesium, phosphate).is_none());
/// ```
#[must_use]
pub fn kept_apart(a: Stored, b: Stored) -> Option<&'static str> {
    let magnesium = |one: Stored, other: Stored| one.brings(Nutrient::Mg) && other.brings(Nutrient::P);
    kept_apart_in_stock(a, b).or_else(|| {
        if magnesium(a, b) || magnesium(b, a) {
            Some(PHOSPHATE_TAKES)
        } else if (a.kind == Kind::Chelate) != (b.kind == Kind::Chelate) {
            Some(CHELATE_LOSES)
        } else {
            None
        }
    })
}

/// True for two that may share a concentrate and are better apart where that costs no bottle: phosphate from magnesium and
/// from chelates, whose metal it would take if they let go of it. Common practice, no source.
#[must_use]
pub fn better_apart_in_stock(a: Stored, b: Stored) -> bool {
    let uneasy =
        |one: Stored, other: Stored| one.brings(Nutrient::P) && (other.brings(Nutrient::Mg) || other.kind == Kind::Chelate);
    uneasy(a, b) || uneasy(b, a)
}

const PHOSPHATE_TAKES: &str = "phosphate takes metals and magnesium with it";
const CHELATE_LOSES: &str = "a chelate may lose its metal to another";

/// Why two substances are kept apart in a concentrate; `None` where they may share one.
///
/// Calcium precipitates with sulfate, phosphate and molybdate; bare metals with phosphate and with borax; magnesium with
/// phosphate that is not acid: a concentrate of dihydrogen phosphate has a pH near 4.5, where hardly any of it is in the form
/// that takes magnesium, and the traces of alkalinity in soft water do not change that. Iron without a chelate rusts, chelates
/// are kept from bare metals, and acids, bases, silicates and products of the grower's own are kept by themselves. Common
/// practice and the incompatibilities of the salt table, from memory; no source.
#[must_use]
pub fn kept_apart_in_stock(a: Stored, b: Stored) -> Option<&'static str> {
    let either = |one: &dyn Fn(Stored) -> bool, other: &dyn Fn(Stored) -> bool| (one(a) && other(b)) || (one(b) && other(a));
    let calcium = |s: Stored| s.brings(Nutrient::Ca);
    let magnesium = |s: Stored| s.brings(Nutrient::Mg);
    let phosphate = |s: Stored| s.brings(Nutrient::P);
    let takes_calcium = |s: Stored| s.brings(Nutrient::S) || s.brings(Nutrient::P) || s.brings(Nutrient::Mo);
    let metal = |s: Stored| s.bare_metal();
    let bare_iron = |s: Stored| s.kind != Kind::Chelate && s.brings(Nutrient::Fe);
    let chelate = |s: Stored| s.kind == Kind::Chelate;
    // borax is a base; boric acid is not
    let borax = |s: Stored| s.brings(Nutrient::B) && s.brings(Nutrient::Na);
    let alone = |s: Stored| matches!(s.kind, Kind::Acid | Kind::Base | Kind::Silicate);
    if alone(a) || alone(b) {
        Some("acids, bases and silicates are kept by themselves")
    } else if a.own_product || b.own_product {
        Some("what else a product of your own holds is not known")
    } else if bare_iron(a) || bare_iron(b) {
        Some("iron without a chelate rusts, and takes others with it")
    } else if either(&calcium, &takes_calcium) {
        Some("calcium falls out with sulfate, phosphate and molybdate")
    } else if either(&phosphate, &metal) || either(&|s| s.base_phosphate, &magnesium) {
        Some(PHOSPHATE_TAKES)
    } else if either(&borax, &|s| metal(s) || calcium(s) || magnesium(s)) {
        Some("borax is a base, and metals fall out with it")
    } else if either(&chelate, &metal) {
        Some(CHELATE_LOSES)
    } else {
        None
    }
}
