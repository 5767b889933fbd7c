//! Prepares the tables of `salts/`: as JSON they are read at a fraction of the cost of TOML, at each start of the program.
#![allow(clippy::disallowed_methods, reason = "reads the tables and writes what is embedded of them")]
#![allow(clippy::print_stdout, reason = "how a build script speaks to cargo")]

use std::error::Error;
use std::path::Path;
use std::{env, fs};

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=salts");
    let out = env::var("OUT_DIR")?;
    for entry in fs::read_dir("salts")? {
        let path = entry?.path();
        if path.extension().is_some_and(|extension| extension == "toml") {
            let table: toml::Value =
                toml::from_str(&fs::read_to_string(&path)?).map_err(|error| format!("{}: {error}", path.display()))?;
            let name = path.file_stem().and_then(|name| name.to_str()).ok_or("a file without a name")?;
            fs::write(Path::new(&out).join(format!("{name}.json")), serde_json::to_string(&table)?)?;
        }
    }
    Ok(())
}
