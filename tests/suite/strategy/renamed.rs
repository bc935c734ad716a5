//! The same case under other names, its lists in another order.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::Case;

/// A case under other names.
pub struct Renamed {
    pub case: Case,
    names: BTreeMap<String, String>,
    cores: BTreeMap<String, String>,
}

/// Gives everything that a file names freely another name, of another place in the alphabet, and turns all lists around whose order
/// says nothing.
pub fn renamed(case: &Case) -> Renamed {
    let installation = &case.installation;
    let mut names = BTreeMap::new();
    for (list, letter) in
        [("board", "b"), ("circuit", "c"), ("point", "p"), ("length", "w"), ("location", "r"), ("kind", "k")]
    {
        let ids: Vec<&str> = entries(&installation[list]).iter().map(|entry| entry["id"].as_str().unwrap()).collect();
        for (number, id) in ids.iter().enumerate() {
            // Circuits and lengths are named apart from the rest, and so are kept apart here.
            names.insert(format!("{list} {id}"), format!("{letter}{}", ids.len() - number));
        }
    }
    let mut cores = BTreeMap::new();
    for length in entries(&installation["length"]) {
        let all: Vec<&String> = length["cores"].as_object().unwrap().keys().collect();
        for (number, core) in all.iter().enumerate() {
            let count = all.len() - number;
            cores.entry(core.to_string()).or_insert_with(|| format!("core_{count}_{core}"));
        }
    }
    let mut renamed = Renamed { case: case.clone(), names, cores };
    renamed.case.installation = renamed.installation(installation);
    renamed.case.test_set = renamed.test_set(&case.test_set);
    renamed.case.further_pass = renamed.pass(&case.further_pass);
    renamed
}

fn entries(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn turned_around(list: &Value, entry: impl FnMut(&Value) -> Value) -> Value {
    entries(list).iter().rev().map(entry).collect()
}

impl Renamed {
    fn of(&self, list: &str, id: &str) -> Option<String> {
        self.names.get(&format!("{list} {id}")).cloned()
    }

    /// The new name of whatever this names: a core, a length, or a thing or terminal by its full name.
    pub fn name(&self, old: &str) -> String {
        if let Some(core) = self.cores.get(old) {
            return core.clone();
        }
        if let Some(length) = self.of("length", old) {
            return length;
        }
        self.full(old)
    }

    /// The new full name of a device, an end of a length or a terminal.
    fn full(&self, old: &str) -> String {
        let (thing, rest) = match old.find(['/', '.']) {
            Some(at) => old.split_at(at),
            None => (old, ""),
        };
        let thing = self.of("point", thing).or_else(|| self.of("board", thing)).unwrap_or_else(|| thing.to_owned());
        // Ways and groups are named by their board's own list: ways 1, 2, 3 and groups A, B.
        let rest = match rest.split_at_checked(1) {
            Some(("/", rest)) => {
                let (way, terminal) =
                    rest.split_once('.').map_or((rest, None), |(way, terminal)| (way, Some(terminal)));
                let terminal = terminal.map(|terminal| format!(".{terminal}")).unwrap_or_default();
                format!("/{}{terminal}", new_way(way))
            }
            Some((".", rest)) => {
                let (first, terminal) = rest.split_once('.').map_or((rest, None), |(a, b)| (a, Some(b)));
                match terminal {
                    Some(terminal) => format!(".{}.{terminal}", new_group(first)),
                    None => format!(".{}", new_group(first)),
                }
            }
            _ => String::new(),
        };
        thing + &rest
    }

    fn installation(&self, old: &Value) -> Value {
        let mut new = Map::new();
        for (key, value) in old.as_object().unwrap() {
            let value = match key.as_str() {
                "board" | "circuit" | "point" | "length" | "location" | "kind" => {
                    turned_around(value, |entry| self.entry(key, entry))
                }
                "passage" => turned_around(value, |passage| {
                    let between =
                        turned_around(&passage["between"], |room| self.of("location", room.as_str().unwrap()).into());
                    json!({ "between": between, "metres": passage["metres"] })
                }),
                _ => value.clone(),
            };
            new.insert(key.clone(), value);
        }
        new.into()
    }

    fn entry(&self, list: &str, old: &Value) -> Value {
        let mut new = Map::new();
        for (key, value) in old.as_object().unwrap() {
            let text = value.as_str().unwrap_or_default();
            let value = match (list, key.as_str()) {
                (_, "id") => self.of(list, text).into(),
                (_, "circuit") => self.of("circuit", text).into(),
                (_, "location") => self.of("location", text).into(),
                (_, "plate") => format!("plate-of-{text}").into(),
                ("circuit", "way") | ("length", "from" | "to") => self.full(text).into(),
                ("circuit", "relief") if !value["leaves"].is_null() => {
                    let leaves = turned_around(&value["leaves"], |name| self.full(name.as_str().unwrap()).into());
                    json!({ "because": value["because"], "leaves": leaves })
                }
                ("point", "kind") => self.of("kind", text).unwrap_or_else(|| text.to_owned()).into(),
                ("point", "terminals" | "links") => turned_around(value, Value::clone),
                ("kind", "bridges") => turned_around(value, Value::clone),
                ("board", "group") => turned_around(value, |group| {
                    let mut group = group.clone();
                    group["id"] = new_group(group["id"].as_str().unwrap()).into();
                    group
                }),
                ("board", "way") => turned_around(value, |way| {
                    let mut way = way.clone();
                    way["id"] = new_way(way["id"].as_str().unwrap()).into();
                    if let Some(group) = way["group"].as_str() {
                        way["group"] = new_group(group).into();
                    }
                    if !way["poles"].is_null() {
                        way["poles"] = turned_around(&way["poles"], Value::clone);
                    }
                    way
                }),
                ("length", "cores") => {
                    let cores = value.as_object().unwrap().iter();
                    Value::Object(cores.map(|(core, ends)| (self.cores[core].clone(), ends.clone())).collect())
                }
                _ => value.clone(),
            };
            new.insert(key.clone(), value);
        }
        new.into()
    }

    fn test_set(&self, old: &Value) -> Value {
        let mut new = old.clone();
        if let Some(start) = old["start"].as_object() {
            let start = start.iter().map(|(name, words)| (self.full(name), words.clone()));
            new["start"] = Value::Object(start.collect());
        }
        new["pass"] = entries(&old["pass"]).iter().map(|pass| self.pass(pass)).collect();
        new
    }

    fn pass(&self, old: &Value) -> Value {
        let mut new = old.clone();
        for list in ["operate", "remove", "link", "refit"] {
            if !old[list].is_null() {
                new[list] = turned_around(&old[list], |name| self.full(name.as_str().unwrap()).into());
            }
        }
        if let Some(set) = old["set"].as_object() {
            new["set"] =
                Value::Object(set.iter().map(|(name, position)| (self.full(name), position.clone())).collect());
        }
        for (number, reading) in entries(&old["reading"]).iter().enumerate() {
            let new = &mut new["reading"][number];
            if let Some(circuit) = reading["circuit"].as_str() {
                new["circuit"] = self.of("circuit", circuit).into();
            }
            if let Some(board) = reading["board"].as_str() {
                new["board"] = self.of("board", board).into();
            }
            // Which lead is named first says nothing either.
            new["between"] = turned_around(&reading["between"], |lead| {
                let touches: Vec<String> =
                    lead.as_str().unwrap().split('+').rev().map(|name| self.touched(name)).collect();
                touches.join("+").into()
            });
        }
        new
    }

    /// What a lead touches: a full name, or a conductor's own, which stays.
    fn touched(&self, name: &str) -> String {
        if name.contains('.') { self.full(name) } else { name.to_owned() }
    }
}

fn new_way(id: &str) -> String {
    format!("way-{}", 100 - id.parse::<u32>().expect("the dice number ways"))
}

fn new_group(id: &str) -> String {
    match id {
        "A" => "zone-2".to_owned(),
        "B" => "zone-1".to_owned(),
        other => other.to_owned(),
    }
}
