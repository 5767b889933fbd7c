//! The house is as `DEVELOPERS.md` draws it, and files lead one way.
#![allow(clippy::disallowed_methods, reason = "reads the source")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Every source file with its path below `src/`, `/` between folders.
fn sources() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut folders = vec![root.clone()];
    let mut found = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|end| end == "rs") {
                let below = path.strip_prefix(&root).unwrap().components().map(|part| part.as_os_str().to_str().unwrap());
                found.push((below.collect::<Vec<_>>().join("/"), std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    found
}

/// What the map of `DEVELOPERS.md` says of crates: each is named only where the map has it.
#[test]
fn the_map_says_where_crates_are_used() {
    let places: [(&str, &[&str]); 4] = [
        ("clap", &["cli/"]),
        ("good_lp", &["fit/"]),
        ("maud", &["report/"]),
        ("jiff", &["cli/", "logbook/moment.rs", "quantity/date.rs"]),
    ];
    for (name, text) in sources() {
        for (of, rooms) in places {
            let used = text.contains(&format!("{of}::")) && !rooms.iter().any(|room| name.starts_with(room));
            assert!(!used, "src/{name} uses {of}, which belongs to {rooms:?}");
        }
    }
}

/// Rooms lead one way: what each may name beside itself. `jobs`, `ask`, `report` and `cli` stand on top and are named by none below.
#[test]
fn the_map_says_which_room_leads_to_which() {
    let below: [(&str, &[&str]); 11] = [
        ("quantity", &[]),
        ("matter", &["quantity"]),
        ("solution", &["matter", "quantity"]),
        ("catalogue", &["matter", "quantity", "solution"]),
        ("logbook", &["matter", "quantity"]),
        ("safety", &["logbook", "matter", "quantity", "solution"]),
        ("fit", &["matter", "quantity"]),
        ("bench", &["catalogue", "matter", "quantity"]),
        ("tank", &["bench", "catalogue", "matter", "quantity", "solution"]),
        ("jobs", &["bench", "catalogue", "logbook", "fit", "matter", "quantity", "safety", "solution", "tank"]),
        ("ask", &["bench", "catalogue", "logbook", "jobs", "matter", "quantity", "solution", "tank"]),
    ];
    let rooms = ["jobs", "ask", "report", "cli"].into_iter().chain(below.map(|(room, _)| room));
    let rooms: BTreeSet<&str> = rooms.collect();
    for (name, text) in sources() {
        let Some((own, may)) = below.iter().find(|(room, _)| name.starts_with(&format!("{room}/"))) else { continue };
        // examples in the docs come from outside and unit tests stand in no room
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        let code: String = code.lines().filter(|line| !line.trim_start().starts_with("//")).collect();
        for room in rooms.iter().filter(|room| *room != own && !may.contains(room)) {
            assert!(!code.contains(&format!("crate::{room}")), "src/{name} leads from {own} to {room}");
        }
    }
}

/// Of the powers of `std` only those are used that come out the same in whatever order they are multiplied.
#[test]
fn powers_are_squares_and_cubes() {
    for (name, text) in sources() {
        for power in text.split(".powi(").skip(1) {
            assert!(power.starts_with("2)") || power.starts_with("3)"), "src/{name}: .powi({}", &power[..8]);
        }
    }
}

/// A file of tests that the program of all tests does not name would never run.
#[test]
fn every_file_of_tests_is_run() {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let list = std::fs::read_to_string(tests.join("all.rs")).unwrap();
    for entry in std::fs::read_dir(tests).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().and_then(|stem| stem.to_str()).unwrap();
        if path.extension().is_some_and(|end| end == "rs") && name != "all" {
            assert!(list.contains(&format!("\nmod {name};\n")), "tests/all.rs does not name {name}");
        }
    }
}

/// A module by the names that lead to it: `jobs`, `today`.
type Module = Vec<String>;

/// What a line begins with that defines a name.
const DEFINES: [&str; 7] = ["const", "enum", "fn", "static", "struct", "trait", "type"];

/// A file as its paths are followed.
#[derive(Default)]
struct File {
    name: String,
    /// Without comments, imports and unit tests.
    code: String,
    /// Names that are defined in it.
    defined: BTreeSet<String>,
    /// What is imported, by the name that it has here.
    imported: BTreeMap<String, Vec<String>>,
}

impl File {
    fn read(name: String, text: &str) -> Self {
        let own = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
        let mut lines = own.lines().filter(|line| !line.trim_start().starts_with("//"));
        let mut file = Self { name, ..Self::default() };
        while let Some(line) = lines.next() {
            // a visibility leads nowhere
            let bare = line.replace("pub(in crate::", "pub(");
            let bare = bare.strip_prefix("pub").and_then(|rest| Some(rest.split_once(' ')?.1)).unwrap_or(&bare);
            if let Some(first) = bare.strip_prefix("use ") {
                let mut tree = first.to_owned();
                while !tree.ends_with(';') {
                    tree += lines.next().expect("a `;`").trim();
                }
                imported(tree.trim_end_matches(';'), &[], &mut file.imported);
                continue;
            }
            let mut words = bare.split(|c: char| !c.is_alphanumeric() && c != '_');
            if words.next().is_some_and(|word| DEFINES.contains(&word)) {
                file.defined.extend(words.find(|word| !DEFINES.contains(word)).map(str::to_owned));
            }
            file.code += bare;
            file.code.push('\n');
        }
        file
    }

    /// Every path that stands in it.
    fn paths(&self) -> impl Iterator<Item = Vec<String>> {
        let words = self.code.split(|c: char| !c.is_alphanumeric() && c != '_' && c != ':');
        let paths = words.filter(|word| word.trim_matches(':').contains("::"));
        let written = paths.map(|path| path.trim_matches(':').split("::").map(str::to_owned).collect());
        written.chain(self.imported.values().cloned())
    }
}

/// The leaves of `a::{b, c::d as e}`, by the name that each then has.
fn imported(tree: &str, before: &[String], found: &mut BTreeMap<String, Vec<String>>) {
    let tree = tree.trim();
    let (path, inside) = tree.split_once('{').map_or((tree, None), |(path, rest)| (path, rest.rsplit_once('}')));
    let (path, alias) = path.split_once(" as ").map_or((path, None), |(path, alias)| (path, Some(alias.trim())));
    let own = path.split("::").map(str::trim).filter(|name| !name.is_empty() && (*name != "self" || before.is_empty()));
    let whole: Vec<String> = before.iter().cloned().chain(own.map(str::to_owned)).collect();
    let Some((inside, _)) = inside else {
        let name = alias.map(str::to_owned).or_else(|| whole.last().cloned()).unwrap_or_default();
        found.insert(name, whole);
        return;
    };
    let (mut depth, mut from) = (0, 0);
    for (at, letter) in inside.char_indices().chain([(inside.len(), ',')]) {
        match letter {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                if !inside[from..at].trim().is_empty() {
                    imported(&inside[from..at], &whole, found);
                }
                from = at + 1;
            }
            _ => {}
        }
    }
}

/// The module in which a path ends, where its name is defined: what another only passes on is looked for behind it.
fn end_of(files: &BTreeMap<Module, File>, from: &Module, path: &[String]) -> Option<Module> {
    let (mut at, mut rest) = (from.clone(), path);
    let mut is_first = true;
    while let Some((name, after)) = rest.split_first() {
        let child: Module = at.iter().chain([name]).cloned().collect();
        let file = files.get(&at)?;
        match name.as_str() {
            "crate" => at = Module::new(),
            "self" => {}
            "super" => drop(at.pop()),
            _ if files.contains_key(&child) => at = child,
            _ if file.defined.contains(name) => return Some(at),
            _ => match file.imported.get(name).filter(|path| path.first() != Some(name)) {
                Some(behind) => return end_of(files, &at, &[behind, after].concat()),
                // a crate from outside, or what a macro defines here
                None => return (!is_first).then_some(at),
            },
        }
        (rest, is_first) = (after, false);
    }
    Some(at)
}

/// No file needs another that needs it, however many lie between, but for a module and its own parts.
#[test]
fn files_lead_one_way() {
    let module = |name: &str| -> Module {
        let path = name.trim_end_matches(".rs").split('/').map(str::to_owned);
        path.filter(|part| part != "mod" && part != "lib").collect()
    };
    let files: BTreeMap<Module, File> = sources()
        .into_iter()
        // the program only runs the library; the tables are built before there is one
        .filter(|(name, _)| name != "main.rs" && !name.starts_with("catalogue/build"))
        .map(|(name, text)| (module(&name), File::read(name, &text)))
        .collect();
    let is_part = |a: &Module, b: &Module| b.split_last().is_some_and(|(_, whole)| whole == a.as_slice());
    let needs = |(module, file): (&Module, &File)| {
        let ends = file.paths().filter_map(|path| end_of(&files, module, &path));
        let others: BTreeSet<Module> =
            ends.filter(|end| end != module && !is_part(module, end) && !is_part(end, module)).collect();
        (module.clone(), others)
    };
    let mut needed: BTreeMap<Module, BTreeSet<Module>> = files.iter().map(needs).collect();
    let leads: usize = needed.values().map(BTreeSet::len).sum();
    assert!(leads > 1000, "paths are followed: {leads}");
    // what needs nothing more, and what nothing needs, stands in no circle
    loop {
        let before = needed.len();
        let left: BTreeSet<Module> = needed.keys().cloned().collect();
        for of in needed.values_mut() {
            of.retain(|other| left.contains(other));
        }
        let called: BTreeSet<Module> = needed.values().flatten().cloned().collect();
        needed.retain(|module, of| !of.is_empty() && called.contains(module));
        if needed.len() == before {
            break;
        }
    }
    let told = |(module, of): (&Module, &BTreeSet<Module>)| {
        let names: Vec<&str> = of.iter().map(|other| files[other].name.as_str()).collect();
        format!("{} -> {}", files[module].name, names.join(", "))
    };
    let circles: Vec<String> = needed.iter().map(told).collect();
    assert!(circles.is_empty(), "files lead in a circle:\n{}", circles.join("\n"));
}
