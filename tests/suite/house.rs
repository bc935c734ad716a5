//! The order of the rooms: who may import whom, no circle of files larger than a pair, one meaning for each type's name.
//!
//! Read off the `use` lines and paths of the source, through re-exports, so that it holds of what is written and not of
//! what is meant.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::{Path, PathBuf};

use petgraph::algo::tarjan_scc;
use petgraph::graphmap::DiGraphMap;
use syn::visit::Visit;

/// The rooms from the ground up. A room may import those of the lines above its own.
const STOREYS: &[&[&str]] = &[
    &["limits", "observer", "visible"],
    &["model"],
    &["rules"],
    &["input"],
    &["network"],
    &["reading"],
    &["coverage"],
    &["plan"],
    &["judge", "locate", "prepare", "wiring"],
    &["draw"],
    &["session"],
    &["page"],
];

/// What stands beside the rooms: every room may read the limits, and the limits name each room's own; and whatever shows
/// a text of a file makes it safe to show.
const BESIDE: &[&str] = &["limits", "visible"];

type ModulePath = Vec<String>;

/// One file: its module, what its paths start with, and the types that it defines.
struct File {
    module: ModulePath,
    /// Whether its `use` lines only pass names on: a `mod.rs`, `lib.rs`.
    is_front: bool,
    /// Full paths that it uses, from the crate's root.
    uses: Vec<ModulePath>,
    /// Names that it passes on, with where they are from.
    passes_on: HashMap<String, ModulePath>,
    types: Vec<String>,
}

struct Reading {
    module: ModulePath,
    /// How many inline modules deep.
    inline: ModulePath,
    uses: Vec<ModulePath>,
    passes_on: HashMap<String, ModulePath>,
    types: Vec<String>,
}

impl Reading {
    /// A path as written, from the crate's root; none where it is another crate's, or of this very file.
    fn full_path(&self, written: &[String]) -> Option<ModulePath> {
        let mut base: ModulePath = [self.module.as_slice(), &self.inline].concat();
        let mut rest = written;
        match written.first()?.as_str() {
            "crate" => {
                base.clear();
                rest = &rest[1..];
            }
            "self" => rest = &rest[1..],
            "super" => {
                while rest.first().is_some_and(|part| part == "super") {
                    base.pop();
                    rest = &rest[1..];
                }
            }
            _ => return None,
        }
        base.extend_from_slice(rest);
        Some(base)
    }

    fn take_tree(&mut self, tree: &syn::UseTree, before: &mut Vec<String>, is_public: bool) {
        match tree {
            syn::UseTree::Path(path) => {
                before.push(path.ident.to_string());
                self.take_tree(&path.tree, before, is_public);
                before.pop();
            }
            syn::UseTree::Group(group) => {
                for tree in &group.items {
                    self.take_tree(tree, before, is_public);
                }
            }
            syn::UseTree::Name(name) => self.take_use(before, &name.ident.to_string(), None, is_public),
            syn::UseTree::Rename(rename) => {
                self.take_use(before, &rename.ident.to_string(), Some(rename.rename.to_string()), is_public);
            }
            syn::UseTree::Glob(_) => self.take_use(before, "*", None, is_public),
        }
    }

    fn take_use(&mut self, before: &[String], name: &str, renamed: Option<String>, is_public: bool) {
        let mut written = before.to_vec();
        if name != "self" {
            written.push(name.to_owned());
        }
        // A path that starts with a module of this very one is passed on from it.
        let Some(full) =
            self.full_path(&written).or_else(|| is_public.then(|| [self.module.as_slice(), &written].concat()))
        else {
            return;
        };
        if is_public && self.inline.is_empty() {
            let shown = renamed.unwrap_or_else(|| written.last().expect("a path has a part").clone());
            self.passes_on.insert(shown, full);
        } else {
            self.uses.push(full);
        }
    }
}

fn is_for_tests(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        attribute.path().is_ident("cfg")
            && attribute.parse_args::<syn::Path>().is_ok_and(|what| what.is_ident("test") || what.is_ident("doctest"))
    })
}

impl<'ast> Visit<'ast> for Reading {
    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        if is_for_tests(&item.attrs) || item.content.is_none() {
            return;
        }
        self.inline.push(item.ident.to_string());
        syn::visit::visit_item_mod(self, item);
        self.inline.pop();
    }

    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        let is_public = !matches!(item.vis, syn::Visibility::Inherited);
        self.take_tree(&item.tree, &mut Vec::new(), is_public);
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let written: Vec<String> = path.segments.iter().map(|segment| segment.ident.to_string()).collect();
        if let Some(full) = self.full_path(&written) {
            self.uses.push(full);
        }
        syn::visit::visit_path(self, path);
    }

    fn visit_vis_restricted(&mut self, _: &'ast syn::VisRestricted) {
        // `pub(in path)` imports nothing.
    }

    fn visit_item_struct(&mut self, item: &'ast syn::ItemStruct) {
        self.types.push(item.ident.to_string());
        syn::visit::visit_item_struct(self, item);
    }

    fn visit_item_enum(&mut self, item: &'ast syn::ItemEnum) {
        self.types.push(item.ident.to_string());
        syn::visit::visit_item_enum(self, item);
    }

    fn visit_item_trait(&mut self, item: &'ast syn::ItemTrait) {
        self.types.push(item.ident.to_string());
        syn::visit::visit_item_trait(self, item);
    }

    fn visit_item_type(&mut self, item: &'ast syn::ItemType) {
        self.types.push(item.ident.to_string());
        syn::visit::visit_item_type(self, item);
    }
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

/// All files of the library, by their modules.
fn house() -> BTreeMap<ModulePath, File> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    sources(&root, &mut paths);
    let mut files = BTreeMap::new();
    for path in paths {
        let shown = path.strip_prefix(&root).unwrap().with_extension("");
        let mut module: ModulePath = shown.iter().map(|part| part.to_str().unwrap().to_owned()).collect();
        if module == ["main"] {
            continue;
        }
        let last = module.last().unwrap().clone();
        let is_front = last == "mod" || last == "lib";
        if is_front {
            module.pop();
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let parsed = syn::parse_file(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let mut reading = Reading {
            module: module.clone(),
            inline: Vec::new(),
            uses: Vec::new(),
            passes_on: HashMap::new(),
            types: Vec::new(),
        };
        reading.visit_file(&parsed);
        let Reading { uses, passes_on, types, .. } = reading;
        files.insert(module.clone(), File { module, is_front, uses, passes_on, types });
    }
    files
}

/// The file in which what a path names is written, through whatever passes it on.
fn home<'h>(files: &'h BTreeMap<ModulePath, File>, path: &[String]) -> Option<&'h File> {
    let mut path = path.to_vec();
    for _ in 0..16 {
        let depth = (0..=path.len()).rev().find(|&depth| files.contains_key(&path[..depth]))?;
        let file = &files[&path[..depth]];
        match path.get(depth).and_then(|name| file.passes_on.get(name)) {
            Some(from) => path = [from.as_slice(), &path[depth + 1..]].concat(),
            None => return Some(file),
        }
    }
    None
}

fn shown(module: &[String]) -> String {
    if module.is_empty() { "lib".to_owned() } else { module.join("/") }
}

/// Each file with the files that it imports.
fn imports(files: &BTreeMap<ModulePath, File>) -> BTreeSet<(String, String)> {
    let mut imports = BTreeSet::new();
    for file in files.values() {
        for path in &file.uses {
            let Some(target) = home(files, path) else { continue };
            if target.module != file.module {
                imports.insert((shown(&file.module), shown(&target.module)));
            }
        }
        // What a front passes on from another room is an import of it.
        for path in file.passes_on.values().filter(|_| file.is_front && !file.module.is_empty()) {
            if let Some(target) = home(files, path)
                && target.module.first() != file.module.first()
            {
                imports.insert((shown(&file.module), shown(&target.module)));
            }
        }
    }
    imports
}

fn room(file: &str) -> &str {
    file.split('/').next().unwrap()
}

#[test]
fn no_room_imports_one_above_it() {
    let files = house();
    let storey = |name: &str| STOREYS.iter().position(|rooms| rooms.contains(&name));
    let mut wrong = Vec::new();
    for (from, to) in imports(&files) {
        let (inner, outer) = (room(&from), room(&to));
        if inner == outer || inner == "lib" || BESIDE.contains(&inner) || BESIDE.contains(&outer) {
            continue;
        }
        let allowed = match (inner, storey(inner), storey(outer)) {
            // The command sees what the library makes public at its front.
            ("cli", _, _) => outer != "cli",
            (_, Some(own), Some(other)) => other < own,
            _ => false,
        };
        if !allowed {
            wrong.push(format!("{from} imports {to}"));
        }
    }
    assert!(wrong.is_empty(), "{} imports against the order of rooms:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn no_circle_of_files_is_larger_than_a_pair() {
    let files = house();
    let imports = imports(&files);
    let graph: DiGraphMap<&str, ()> = imports.iter().map(|(from, to)| (from.as_str(), to.as_str())).collect();
    let circles: Vec<String> = tarjan_scc(&graph)
        .into_iter()
        .filter(|circle| circle.len() > 2)
        .map(|mut circle| {
            circle.sort_unstable();
            format!("{} files: {}", circle.len(), circle.join(", "))
        })
        .collect();
    assert!(circles.is_empty(), "{}", circles.join("\n"));
}

#[test]
fn each_name_of_a_type_is_defined_once() {
    let mut defined: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    let files = house();
    for file in files.values() {
        for name in &file.types {
            defined.entry(name).or_default().push(shown(&file.module));
        }
    }
    let twice: Vec<String> =
        defined.iter().filter(|(_, at)| at.len() > 1).map(|(name, at)| format!("{name}: {}", at.join(", "))).collect();
    assert!(twice.is_empty(), "{} names are defined more than once:\n{}", twice.len(), twice.join("\n"));
}

#[test]
fn the_house_is_read_whole() {
    let files = house();
    let rooms: BTreeSet<&str> = files.keys().filter_map(|module| module.first()).map(String::as_str).collect();
    let known: BTreeSet<&str> = STOREYS.iter().flat_map(|rooms| rooms.iter().copied()).chain(["cli"]).collect();
    assert_eq!(rooms, known, "every room has its place in the order");
    assert!(imports(&files).len() > files.len(), "files import one another");
}
