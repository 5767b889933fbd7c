use crate::solution::SpeciationError;

/// Why it cannot be said what a tank holds.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum TankError {
    /// A solution that the chemistry cannot reckon.
    NoEquilibrium {
        /// What was asked for.
        words: String,
    },
    /// No bottle of that id.
    UnknownBottle {
        /// What was asked for.
        id: String,
    },
    /// Millilitres of a solid.
    SolidByVolume {
        /// Name of the salt.
        name: String,
    },
    /// Several waters, and no telling how much of each.
    NotBlended {
        /// Their ids.
        ids: Vec<String>,
    },
    /// A recipe that cannot be read.
    NoRecipe {
        /// What is wrong with it.
        why: String,
    },
}

impl From<SpeciationError> for TankError {
    fn from(error: SpeciationError) -> Self {
        Self::NoEquilibrium { words: error.to_string() }
    }
}

impl std::fmt::Display for TankError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoEquilibrium { words } => f.write_str(words),
            Self::UnknownBottle { id } => write!(f, "there is no bottle `{id}` on the bench"),
            Self::SolidByVolume { name } => {
                write!(f, "{name} is a solid; millilitres of it say nothing of its weight")
            }
            Self::NotBlended { ids } => write!(
                f,
                "the bench has several waters ({}), and how much of each is in the tank is not known here",
                ids.join(", ")
            ),
            Self::NoRecipe { why } => write!(f, "the recipe cannot be used: {why}"),
        }
    }
}

impl std::error::Error for TankError {}
