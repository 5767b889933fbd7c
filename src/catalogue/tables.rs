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

/// Files of rows. A trait and no flag: a program that reads what it carries, and no TOML, then holds no reader of rows in TOML.
pub(super) trait Tables {
    /// The rows of one file, or what is wrong with it.
    fn read<T: DeserializeOwned>(&self, file: &str) -> Result<T, String>;
}

/// The files that the program carries.
pub(super) struct Prepared;

impl Tables for Prepared {
    fn read<T: DeserializeOwned>(&self, file: &str) -> Result<T, String> {
        serde_json::from_str(text_of(PREPARED, file)?).map_err(|error| error.to_string())
    }
}

/// Files of TOML, name and text of each.
pub(super) struct Written<'a>(pub(super) &'a [(&'a str, &'a str)]);

impl Tables for Written<'_> {
    fn read<T: DeserializeOwned>(&self, file: &str) -> Result<T, String> {
        toml::from_str(text_of(self.0, file)?).map_err(|error| error.to_string())
    }
}

fn text_of<'a>(texts: &[(&str, &'a str)], file: &str) -> Result<&'a str, String> {
    texts.iter().find(|(name, _)| *name == file).map(|(_, text)| *text).ok_or_else(|| "missing".to_owned())
}
