//! The codes of the findings: one for each rule, and the only list of them.

use std::fmt;

use serde::Serialize;

macro_rules! codes {
    ($($(#[$doc:meta])+ $code:ident = $text:literal,)+) => {
        /// Which rule fired. It prints as in JSON: `nitrogen-low`. `docs/findings.md` says when each fires.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
        #[non_exhaustive]
        pub enum Code {
            $($(#[$doc])+ #[serde(rename = $text)] $code,)+
        }

        impl Code {
            /// Every code, in the order of `docs/findings.md`.
            pub const ALL: &[Self] = &[$(Self::$code),+];

            /// As it is printed.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self {
                    $(Self::$code => $text,)+
                }
            }
        }
    };
}

codes! {
    /// A limit of the formula is missed.
    LimitMissed = "limit-missed",
    /// A target is missed.
    TargetMissed = "target-missed",
    /// An element that plants need has neither a target nor a minimum.
    ElementNotNamed = "element-not-named",
    /// There is less than half of where usual feeds start.
    ElementAbsent = "element-absent",
    /// The nitrogen that is asked is low.
    NitrogenLow = "nitrogen-low",
    /// Stronger than any usual feed.
    FeedTooStrong = "feed-too-strong",
    /// So much phosphorus hinders iron and zinc.
    PhosphorusHigh = "phosphorus-high",
    /// Sensitive roots suffer from chloride.
    ChlorideHigh = "chloride-high",
    /// Sodium piles up.
    SodiumHigh = "sodium-high",
    /// Leaf edges may burn.
    BoronHigh = "boron-high",
    /// Copper may harm roots.
    CopperHigh = "copper-high",
    /// Zinc may harm roots.
    ZincHigh = "zinc-high",
    /// Leaves may spot.
    ManganeseHigh = "manganese-high",
    /// Potassium crowds calcium and magnesium out.
    PotassiumCrowds = "potassium-crowds",
    /// Calcium, magnesium and potassium stand ill to each other.
    Ratios = "ratios",
    /// Too much of the nitrogen is ammonium or urea.
    AmmoniumShare = "ammonium-share",
    /// EC is outside the limits of the formula.
    EcOutside = "ec-outside",
    /// The pH is outside the range that roots bear, or may well be.
    PhOutside = "ph-outside",
    /// The pH is near an end of that range.
    PhNearEdge = "ph-near-edge",
    /// Enough alkalinity stays to move the pH in the days after.
    AlkalinityLeft = "alkalinity-left",
    /// The pH is outside the range in which a chelate holds.
    ChelateOutside = "chelate-outside",
    /// Two on one list must not meet undiluted.
    MustNotMeet = "must-not-meet",
    /// A salt stays out, since it must not meet the acid.
    KeptFromAcid = "kept-from-acid",
    /// Microbes eat the acid.
    AcidDoesNotLast = "acid-does-not-last",
    /// Public rules restrict an acid that goes in.
    AcidRestricted = "acid-restricted",
    /// A mineral may fall out.
    WillPrecipitate = "will-precipitate",
    /// The pH is under the wish without acid.
    PhUnderWish = "ph-under-wish",
    /// Alkalinity that is not stated leaves the pH open.
    PhUnknown = "ph-unknown",
    /// More concentrated than the chemistry is good for.
    BeyondTheModel = "beyond-the-model",
    /// The acid, as its measure shows it, misses the wish.
    PhInSteps = "ph-in-steps",
    /// The acid does not bring the pH to the wish.
    PhWishNotMet = "ph-wish-not-met",
    /// The acid alone brings more of a nutrient than is asked.
    AcidBringsMore = "acid-brings-more",
    /// Nothing on the bench can be trusted with a dose.
    CannotBeWeighed = "cannot-be-weighed",
    /// From the bottles of the bench the mix would be as close.
    BottlesUndrawn = "bottles-undrawn",
    /// A salt is near its solubility, or over it.
    DissolvesSlowly = "dissolves-slowly",
    /// All there is of a salt goes in, or more is asked than there is.
    ShelfRunsShort = "shelf-runs-short",
    /// A stock bottle is weaker than was asked.
    StockWeaker = "stock-weaker",
    /// Two stock bottles could be one if it were acid enough.
    StockNotAcid = "stock-not-acid",
    /// Stock bottles cannot be dosed for another formula.
    BottlesCannotDose = "bottles-cannot-dose",
    /// Stock bottles are made without an acid that comes in a bottle.
    AcidLeftOut = "acid-left-out",
    /// The analysis of a water contradicts itself.
    WaterCannotBeTrue = "water-cannot-be-true",
    /// Nothing is stated of a water that is not pure.
    WaterUnknown = "water-unknown",
    /// Alkalinity or pH of a water is taken for granted.
    WaterAssumed = "water-assumed",
    /// A plan feeds a formula for longer than it may be.
    HeldTooLong = "held-too-long",
    /// No pollen of a group meets a stigma of another.
    GroupsNeverMeet = "groups-never-meet",
    /// Nothing of a mix for one tank of a plan can be measured.
    TankNotMeasurable = "tank-not-measurable",
    /// Seed is ripe after the last day of feeding.
    SeedRipensLater = "seed-ripens-later",
    /// A logbook does not tell how fast a tank runs down.
    RenewalNotLearnt = "renewal-not-learnt",
    /// A tank may be past a limit before it is renewed.
    MayRunDownSooner = "may-run-down-sooner",
    /// EC changes by much at once.
    InTwoSteps = "in-two-steps",
    /// A tank holds more than its formula allows.
    OverItsLimit = "over-its-limit",
    /// Nitrogen may be under its floor.
    NitrogenUnderFloor = "nitrogen-under-floor",
    /// A phase has lasted longer than it may.
    HoldOver = "hold-over",
    /// The day by which a phase has to end.
    BackBy = "back-by",
    /// A bottle is older than it keeps.
    BottleOld = "bottle-old",
    /// An entry changes a tank that no earlier entry fills.
    TankNotFilled = "tank-not-filled",
    /// A level is over what the entries explain.
    LevelHigher = "level-higher",
    /// More was drained than there was.
    DrainedMore = "drained-more",
    /// The first EC of a filling is far from what is predicted.
    FirstReadingOff = "first-reading-off",
    /// No uptake explains an EC.
    EcNotExplained = "ec-not-explained",
    /// The EC of a content cannot be predicted.
    EcNotPredicted = "ec-not-predicted",
    /// Nothing tells what plants took.
    UptakeUnknown = "uptake-unknown",
    /// The last reading is old.
    ReadingOld = "reading-old",
    /// No level tells the loss of water.
    LevelUnknown = "level-unknown",
    /// Entries are dated later than the moment asked for.
    DatedLater = "dated-later",
    /// Reading and prediction are further apart than errors explain.
    ReadingApart = "reading-apart",
    /// The same, and no single slip explains it.
    ReadingUnexplained = "reading-unexplained",
    /// A reading is as far off as a slip makes it.
    ReadsTooFar = "reads-too-far",
    /// An analysis does not name what the formula asks for.
    NotAnalysed = "not-analysed",
    /// An analysis states nitrogen without its forms.
    NitrogenNotSplit = "nitrogen-not-split",
    /// The anions of an analysis outweigh its cations.
    AnalysisUnbalanced = "analysis-unbalanced",
    /// What holds a target that is missed.
    WhyMissed = "why-missed",
    /// Salts that would bring the mix closer.
    WouldHelp = "would-help",
    /// As measured out the mix is closer than the exact amounts.
    CloserThanExact = "closer-than-exact",
    /// No whole steps keep every limit.
    LimitGaveWay = "limit-gave-way",
    /// A dose is larger than asked, as the instruments are trusted with no less.
    RaisedToFloor = "raised-to-floor",
    /// Nitrogen whose form no label states meets the limit of the ammonium share.
    NitrogenFormUnknown = "nitrogen-form-unknown",
    /// A push that holds nearly as much nitrogen as growth asks for.
    PushNotLean = "push-not-lean",
    /// No label states an element that the tank lacks.
    LabelOmits = "label-omits",
    /// Public rules restrict who may have a salt.
    SaltRestricted = "salt-restricted",
    /// What must be an acid or a base by its label does not state its alkalinity.
    AlkalinityNotStated = "alkalinity-not-stated",
    /// A chelate stands in one bottle with bare metals that may take it.
    ChelateExchanges = "chelate-exchanges",
    /// What a wish for few salts costs.
    FewerSalts = "fewer-salts",
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
