//! What can be written into a logbook.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Moment;
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{
    ADDED_G, ADDED_L, BROUGHT_MG, Bound, DAYS, EC_READING_MS_PER_CM, HELD_BACK_L, LEVEL_L, LOGBOOK_VOLUME_L, PH,
    SOLUTION_PPM, TANK_L, TEMPERATURE_C,
};

/// Numbers by the symbol of a nutrient, grams by the id of a salt, or millilitres by that of a bottle.
pub type Amounts = BTreeMap<String, f64>;

/// The longest text an entry takes, characters.
pub const LONGEST_TEXT: usize = 4000;

/// An entry: its number, when it happened and what.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// 1 for the first, one more each time.
    pub number: u64,
    /// When it happened, which may be earlier than the entry before it.
    pub at: Moment,
    /// What happened.
    pub event: Event,
}

/// What happened to a tank.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "event", rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Event {
    /// The first entry of a logbook that belongs to one of several tanks.
    Tank {
        /// Its id.
        tank: String,
    },
    /// The tank was emptied as far as it goes and filled with a fresh solution, or with plain water.
    Filled {
        /// What was filled in, L.
        volume_l: f64,
        /// What had stayed behind in medium and pipes and counts as part of the tank from now on, L.
        #[serde(default, skip_serializing_if = "is_zero")]
        held_back_l: f64,
        /// The formula it was mixed to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        formula: Option<String>,
        /// How long that formula may be fed, as the bench file said then, days.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hold_at_most_days: Option<f64>,
        /// What went in, g by salt, bottles counted as the salts in them.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        salts_g: Amounts,
        /// What was drawn from bottles, mL by bottle.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        bottles_ml: Amounts,
        /// What the fresh solution held, its water counted, as reckoned then; ppm by nutrient.
        ppm: Amounts,
    },
    /// Salts went in.
    Added {
        /// What went in, g by salt, bottles counted as the salts in them.
        salts_g: Amounts,
        /// What was drawn from bottles, mL by bottle.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        bottles_ml: Amounts,
        /// What that brought, as reckoned then; mg by nutrient.
        mg: Amounts,
    },
    /// Water went in.
    ToppedUp {
        /// How much, L.
        volume_l: f64,
        /// The level of the tank after it, where it was read, L.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        level_after_l: Option<f64>,
        /// What the water held; ppm by nutrient.
        ppm: Amounts,
    },
    /// Solution was let out.
    Drained {
        /// How much, L.
        volume_l: f64,
    },
    /// A job was done whole: solution let out, water filled in, salts poured in. One entry, so all of it counts or none.
    Done {
        /// The formula that the tank was brought to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        formula: Option<String>,
        /// How long that formula may be fed, as the bench file said then, days.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hold_at_most_days: Option<f64>,
        /// The level of the tank before it, where it is known, L.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        level_before_l: Option<f64>,
        /// What was let out first, L.
        #[serde(default, skip_serializing_if = "is_zero")]
        drained_l: f64,
        /// How much water was then filled in, L.
        #[serde(default, skip_serializing_if = "is_zero")]
        filled_l: f64,
        /// What the water held; ppm by nutrient.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        water_ppm: Amounts,
        /// What went in, g by salt, bottles counted as the salts in them.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        salts_g: Amounts,
        /// What was drawn from bottles, mL by bottle.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        bottles_ml: Amounts,
        /// What that brought, as reckoned then; mg by nutrient.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        mg: Amounts,
    },
    /// Meters were read; at least one of them.
    Reading {
        /// EC at 25 C, mS/cm.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ec_ms_cm: Option<f64>,
        /// pH.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ph: Option<f64>,
        /// Temperature of the solution, C.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        temperature_c: Option<f64>,
        /// What is in the tank, without what medium and pipes hold back, L.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        level_l: Option<f64>,
    },
    /// A laboratory analysed the solution.
    Analysis {
        /// What it found; ppm by nutrient. Nitrogen as N or by its forms, not both.
        ppm: Amounts,
    },
    /// Anything worth remembering.
    Note {
        /// Its words.
        text: String,
    },
    /// A phase began.
    Phase {
        /// Its name, usually that of a formula.
        phase: String,
        /// How long it may last, as the bench file said then, days.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hold_at_most_days: Option<f64>,
    },
    /// Flower stalks were seen.
    StalksSeen {},
    /// An earlier entry was wrong and no longer counts.
    Voided {
        /// Its number.
        voids: u64,
        /// Why.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        why: Option<String>,
    },
    /// Lines of the file that cannot be read were looked at and given up.
    Recovered {
        /// Their line numbers, from 1.
        lines: Vec<usize>,
    },
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

fn within(key: &str, value: f64, bound: &Bound) -> Result<(), String> {
    bound.check(value).map(drop).map_err(|error| format!("`{key}`: {error}"))
}

fn each(key: &str, amounts: &Amounts, bound: &Bound) -> Result<(), String> {
    amounts.iter().try_for_each(|(name, value)| within(&format!("{key}.{name}"), *value, bound))
}

fn drawn(bottles_ml: &Amounts) -> Result<(), String> {
    bottles_ml.iter().try_for_each(|(id, ml)| within(&format!("bottles_ml.{id}"), ml * 1e-3, &ADDED_L))
}

fn text(key: &str, text: &str) -> Result<(), String> {
    let count = text.chars().count();
    if text.trim().is_empty() {
        Err(format!("`{key}` is empty"))
    } else if count > LONGEST_TEXT {
        Err(format!("`{key}` has {count} characters; it takes {LONGEST_TEXT} at the most"))
    } else {
        Ok(())
    }
}

/// Amounts of an entry; those of a logbook have been checked.
pub(super) fn amounts(of: &Amounts) -> Nutrients {
    nutrients(of).unwrap_or_default()
}

/// Nutrients from numbers by symbol: `N` is all nitrogen, never less than its forms.
///
/// # Errors
/// In words, for a symbol that is none and for an `N` under the sum of its forms.
pub fn nutrients(amounts: &Amounts) -> Result<Nutrients, String> {
    let mut all = Nutrients::default();
    for (symbol, value) in amounts {
        let nutrient = Nutrient::parse(symbol).ok_or_else(|| format!("`{symbol}` is no nutrient"))?;
        all[nutrient] = *value;
    }
    let forms: f64 = NUTRIENTS.into_iter().filter(|n| n.is_nitrogen_form()).map(|n| all[n]).sum();
    // nine digits are written, so the sum may be off in the last of them
    if forms > all[Nutrient::N] * (1.0 + 1e-7) {
        if amounts.contains_key("N") {
            return Err(format!("`N` is {}, less than its forms together ({forms})", all[Nutrient::N]));
        }
        all[Nutrient::N] = forms;
    }
    all[Nutrient::N] = all[Nutrient::N].max(forms);
    Ok(all)
}

impl Event {
    /// True for what moves or measures the content of a tank, a filling with it.
    #[must_use]
    pub fn is_of_content(&self) -> bool {
        matches!(
            self,
            Self::Filled { .. }
                | Self::Added { .. }
                | Self::ToppedUp { .. }
                | Self::Drained { .. }
                | Self::Done { .. }
                | Self::Reading { .. }
                | Self::Analysis { .. }
        )
    }

    /// Whether every number and text of the event is one that a logbook may hold.
    ///
    /// # Errors
    /// In words, the first that is not, with what is allowed.
    pub fn check(&self) -> Result<(), String> {
        // long, and flat: one arm an event, each with the bounds of its own keys
        match self {
            Self::Filled { volume_l, held_back_l, formula, hold_at_most_days, salts_g, bottles_ml, ppm } => {
                within("volume_l", *volume_l, &TANK_L)?;
                within("held_back_l", *held_back_l, &HELD_BACK_L)?;
                formula.iter().try_for_each(|formula| text("formula", formula))?;
                hold_at_most_days.iter().try_for_each(|days| within("hold_at_most_days", *days, &DAYS))?;
                each("salts_g", salts_g, &ADDED_G)?;
                drawn(bottles_ml)?;
                each("ppm", ppm, &SOLUTION_PPM)?;
                nutrients(ppm).map(drop)
            }
            Self::Tank { tank } => text("tank", tank),
            Self::Added { salts_g, bottles_ml, mg } => {
                each("salts_g", salts_g, &ADDED_G)?;
                drawn(bottles_ml)?;
                each("mg", mg, &BROUGHT_MG)?;
                nutrients(mg).map(drop)
            }
            Self::ToppedUp { volume_l, level_after_l, ppm } => {
                within("volume_l", *volume_l, &LOGBOOK_VOLUME_L)?;
                level_after_l.iter().try_for_each(|level| within("level_after_l", *level, &LEVEL_L))?;
                each("ppm", ppm, &SOLUTION_PPM)?;
                if level_after_l.is_some_and(|level| level < *volume_l) {
                    return Err("`level_after_l` is less than what went in".to_owned());
                }
                nutrients(ppm).map(drop)
            }
            Self::Drained { volume_l } => within("volume_l", *volume_l, &LOGBOOK_VOLUME_L),
            Self::Done { formula, hold_at_most_days, level_before_l, bottles_ml, .. } => {
                level_before_l.iter().try_for_each(|level| within("level_before_l", *level, &LEVEL_L))?;
                formula.iter().try_for_each(|formula| text("formula", formula))?;
                hold_at_most_days.iter().try_for_each(|days| within("hold_at_most_days", *days, &DAYS))?;
                drawn(bottles_ml)?;
                let steps = self.steps();
                if steps.is_empty() {
                    return Err("nothing was let out, filled in or weighed in".to_owned());
                }
                steps.iter().try_for_each(Self::check)
            }
            Self::Reading { ec_ms_cm, ph, temperature_c, level_l } => {
                ec_ms_cm.iter().try_for_each(|ec| within("ec_ms_cm", *ec, &EC_READING_MS_PER_CM))?;
                ph.iter().try_for_each(|ph| within("ph", *ph, &PH))?;
                temperature_c.iter().try_for_each(|celsius| within("temperature_c", *celsius, &TEMPERATURE_C))?;
                level_l.iter().try_for_each(|level| within("level_l", *level, &LEVEL_L))?;
                if [ec_ms_cm, ph, temperature_c, level_l].into_iter().all(Option::is_none) {
                    return Err("the reading reads nothing".to_owned());
                }
                Ok(())
            }
            Self::Analysis { ppm } => {
                each("ppm", ppm, &SOLUTION_PPM)?;
                nutrients(ppm)?;
                let form = |symbol: &&String| Nutrient::parse(symbol).is_some_and(Nutrient::is_nitrogen_form);
                if ppm.is_empty() {
                    Err("the analysis names nothing".to_owned())
                } else if ppm.contains_key("N") && ppm.keys().any(|symbol| form(&symbol)) {
                    Err("the analysis states N and its forms; keep one of the two".to_owned())
                } else {
                    Ok(())
                }
            }
            Self::Note { text: words } => text("text", words),
            Self::Phase { phase, hold_at_most_days } => {
                text("phase", phase)?;
                hold_at_most_days.iter().try_for_each(|days| within("hold_at_most_days", *days, &DAYS))
            }
            Self::StalksSeen {} => Ok(()),
            Self::Voided { voids, why } => {
                why.iter().try_for_each(|why| text("why", why))?;
                if *voids == 0 { Err("`voids`: entries are numbered from 1".to_owned()) } else { Ok(()) }
            }
            Self::Recovered { lines } => {
                let rising = lines.windows(2).all(|pair| pair[0] < pair[1]);
                if lines.is_empty() || lines[0] == 0 || !rising {
                    Err("`lines` takes line numbers from 1, rising".to_owned())
                } else {
                    Ok(())
                }
            }
        }
    }

    /// What a job done whole did, one after the other: what each moves is said once, by the entry of its own.
    #[must_use]
    pub fn steps(&self) -> Vec<Self> {
        let Self::Done { drained_l, filled_l, water_ppm, salts_g, mg, .. } = self else { return Vec::new() };
        let drained = (*drained_l != 0.0).then_some(Self::Drained { volume_l: *drained_l });
        let filled = (*filled_l != 0.0 || !water_ppm.is_empty()).then(|| Self::ToppedUp {
            volume_l: *filled_l,
            level_after_l: None,
            ppm: water_ppm.clone(),
        });
        let added = !salts_g.is_empty() || !mg.is_empty();
        let added = added.then(|| Self::Added { salts_g: salts_g.clone(), bottles_ml: Amounts::new(), mg: mg.clone() });
        [drained, filled, added].into_iter().flatten().collect()
    }

    /// The event as the file writes it.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Tank { .. } => "tank",
            Self::Filled { .. } => "filled",
            Self::Added { .. } => "added",
            Self::ToppedUp { .. } => "topped-up",
            Self::Drained { .. } => "drained",
            Self::Done { .. } => "done",
            Self::Reading { .. } => "reading",
            Self::Analysis { .. } => "analysis",
            Self::Note { .. } => "note",
            Self::Phase { .. } => "phase",
            Self::StalksSeen {} => "stalks-seen",
            Self::Voided { .. } => "voided",
            Self::Recovered { .. } => "recovered",
        }
    }
}
