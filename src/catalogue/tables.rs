//! The files of `salts/` as the program carries them.

use serde::de::DeserializeOwned;

macro_rules! tables {
    ($($name:literal),* $(,)?) => {
        /// Name and text of each file, in reading order; the salts keep this order wherever ties are broken.
        pub(super) const TEXTS: &[(&str, &str)] =
            &[$((concat!($name, ".toml"), include_str!(concat!("../../salts/", $name, ".toml")))),*];
        /// The same as JSON, prepared by `build.rs`.
        const PREPARED: &[(&str, &str)] =
            &[$((concat!($name, ".toml"), include_str!(concat!(env!("OUT_DIR"), "/", $name, ".json")))),*];
    };
}

tables!(
    "sources",
    "elements",
    "ions",
    "species",
    "minerals",
    "hazard-statements",
    "cautions",
    "macro",
    "traces",
    "chelates",
    "silicates",
    "acids",
    "bases",
);

/// Name and text of each file: TOML as it is written, or JSON that was made of it.
#[derive(Clone, Copy)]
pub(super) struct Tables<'a> {
    texts: &'a [(&'a str, &'a str)],
    are_json: bool,
}

impl<'a> Tables<'a> {
    /// The files that the program carries.
    pub(super) fn prepared() -> Tables<'static> {
        Tables { texts: PREPARED, are_json: true }
    }

    /// Files of TOML.
    pub(super) fn of(texts: &'a [(&'a str, &'a str)]) -> Self {
        Self { texts, are_json: false }
    }

    /// The rows of one file, or what is wrong with it.
    pub(super) fn read<T: DeserializeOwned>(self, file: &str) -> Result<T, String> {
        let (_, text) = self.texts.iter().find(|(name, _)| *name == file).ok_or_else(|| "missing".to_owned())?;
        if self.are_json {
            serde_json::from_str(text).map_err(|error| error.to_string())
        } else {
            toml::from_str(text).map_err(|error| error.to_string())
        }
    }
}
