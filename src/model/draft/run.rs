//! The run of a circuit: its boxes in the order in which the feed goes through them.

use std::fmt;

use indexmap::IndexMap;
use serde::de::value::{MapAccessDeserializer, SeqAccessDeserializer};
use serde::de::{MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::model::{Lamp, Load, Metres, Strappers, Third};

/// A step of a run: a box that the feed goes on from, with all that hangs off it.
///
/// Which keys go together, and what a step comes to, says `FORMAT.md`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct StepDraft {
    /// A light at which the feed is looped in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rose: Option<StopDraft>,
    /// A junction box at which the feed is looped in.
    #[serde(rename = "box", skip_serializing_if = "Option::is_none")]
    pub junction: Option<StopDraft>,
    /// One switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub switch: Option<StopDraft>,
    /// Several switches of the same lights, in the order in which the cable goes from one to the next.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub switches: Option<Vec<StopDraft>>,
    /// A dimmer in the place of a switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dimmer: Option<StopDraft>,
    /// One light.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub light: Option<StopDraft>,
    /// Several lights, each fed from the one before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lights: Option<Vec<StopDraft>>,
    /// One socket.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub socket: Option<StopDraft>,
    /// Several sockets, each fed from the one before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sockets: Option<Vec<StopDraft>>,
    /// A fused connection.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fused: Option<StopDraft>,
    /// A double-pole switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub isolator: Option<StopDraft>,
    /// A switch in the line, that all steps fed from it are behind.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub master: Option<StopDraft>,
    /// A load.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub appliance: Option<StopDraft>,
    /// A transformer; what it feeds is a circuit with it as its `source`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub transformer: Option<StopDraft>,
    /// A smoke or heat alarm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alarm: Option<StopDraft>,
    /// Several alarms, each fed from the one before, with a core that interconnects them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alarms: Option<Vec<StopDraft>>,
    /// A contactor in line and neutral.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub contactor: Option<StopDraft>,
    /// The switch that works the contactor's coil.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<StopDraft>,
    /// A sensor that switches lights.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sensor: Option<StopDraft>,
    /// A switch past the sensor: on, the lights are lit whatever it senses.
    #[serde(rename = "override", skip_serializing_if = "Option::is_none")]
    pub bypass: Option<StopDraft>,
    /// From the last socket back to what feeds the first, so many metres: a ring.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub back: Option<Metres>,
    /// Another kind than the step's own, of its sockets, its switch or its load.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// What its appliance is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub load: Option<Load>,
    /// What the third core between switches does; what `installation` says where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub third: Option<Third>,
    /// Where strappers run, if not from switch to switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strappers: Option<Strappers>,
    /// The number of the box that it is fed from; the one before where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<i64>,
    /// Its number, which then is not counted; the next where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<i64>,
    /// What its cables measure in mm²; the circuit's where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mm2: Option<f64>,
    /// What its lights are lit by; the circuit's where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lamp: Option<Lamp>,
}

impl StepDraft {
    /// The keys that are given, in the format's order.
    pub(in crate::model) fn keys(&self) -> impl Iterator<Item = &'static str> {
        let given = [
            ("rose", self.rose.is_some()),
            ("box", self.junction.is_some()),
            ("switch", self.switch.is_some()),
            ("switches", self.switches.is_some()),
            ("dimmer", self.dimmer.is_some()),
            ("light", self.light.is_some()),
            ("lights", self.lights.is_some()),
            ("socket", self.socket.is_some()),
            ("sockets", self.sockets.is_some()),
            ("fused", self.fused.is_some()),
            ("isolator", self.isolator.is_some()),
            ("master", self.master.is_some()),
            ("appliance", self.appliance.is_some()),
            ("transformer", self.transformer.is_some()),
            ("alarm", self.alarm.is_some()),
            ("alarms", self.alarms.is_some()),
            ("contactor", self.contactor.is_some()),
            ("by", self.by.is_some()),
            ("sensor", self.sensor.is_some()),
            ("override", self.bypass.is_some()),
            ("back", self.back.is_some()),
            ("kind", self.kind.is_some()),
            ("load", self.load.is_some()),
            ("third", self.third.is_some()),
            ("strappers", self.strappers.is_some()),
            ("from", self.from.is_some()),
            ("number", self.number.is_some()),
            ("mm2", self.mm2.is_some()),
            ("lamp", self.lamp.is_some()),
        ];
        given.into_iter().filter_map(|(key, is_given)| is_given.then_some(key))
    }

    /// The stops under a key.
    pub(in crate::model) fn stops(&self, key: &str) -> &[StopDraft] {
        match key {
            "rose" => self.rose.as_slice(),
            "box" => self.junction.as_slice(),
            "switch" => self.switch.as_slice(),
            "switches" => self.switches.as_deref().unwrap_or_default(),
            "dimmer" => self.dimmer.as_slice(),
            "light" => self.light.as_slice(),
            "lights" => self.lights.as_deref().unwrap_or_default(),
            "socket" => self.socket.as_slice(),
            "sockets" => self.sockets.as_deref().unwrap_or_default(),
            "fused" => self.fused.as_slice(),
            "isolator" => self.isolator.as_slice(),
            "master" => self.master.as_slice(),
            "appliance" => self.appliance.as_slice(),
            "transformer" => self.transformer.as_slice(),
            "alarm" => self.alarm.as_slice(),
            "alarms" => self.alarms.as_deref().unwrap_or_default(),
            "contactor" => self.contactor.as_slice(),
            "by" => self.by.as_slice(),
            "sensor" => self.sensor.as_slice(),
            "override" => self.bypass.as_slice(),
            _ => &[],
        }
    }
}

/// A stop of a run: a point, and the length that leads to it. Written as metres (`4`), as a place (`"loft"`), as both
/// (`["loft", 4]`), or as a table with any key of the two.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(transform = crate::model::schema::stop))]
#[serde(remote = "Self", deny_unknown_fields)]
pub struct StopDraft {
    /// The point's location; that of what feeds it where not given.
    #[serde(rename = "in", skip_serializing_if = "Option::is_none")]
    pub location: Option<String>,
    /// How long the length to it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub metres: Option<Metres>,
    /// The point's id; made of the circuit's and the step's number where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// The name for people.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Another kind than what the step takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// The plate that it is on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plate: Option<String>,
    /// Terminals beyond those that the kind and the step give it.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub terminals: Vec<String>,
    /// Groups of terminals joined for good.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub links: Vec<Vec<String>>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lamp: Option<Lamp>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub load: Option<Load>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub manual: Option<bool>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub removable: Option<bool>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fixed: Option<bool>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub operable: Option<bool>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub visible: Option<bool>,
    /// As of a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stands: Option<String>,
    /// Free text for the length; made of its cores and `mm2` where not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cable: Option<String>,
    /// Cores that are otherwise than the step makes them, or further ones.
    #[serde(skip_serializing_if = "IndexMap::is_empty", default)]
    pub cores: IndexMap<String, [String; 2]>,
}

impl StopDraft {
    /// So many metres on, in the same place as what feeds it.
    pub fn metres(metres: f64) -> Self {
        StopDraft { metres: Some(Metres(metres)), ..StopDraft::default() }
    }

    /// In a location, so many metres on.
    pub fn at(location: impl Into<String>, metres: f64) -> Self {
        StopDraft { location: Some(location.into()), ..StopDraft::metres(metres) }
    }
}

impl Serialize for StopDraft {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let short = StopDraft { location: self.location.clone(), metres: self.metres, ..StopDraft::default() };
        match (&self.location, self.metres) {
            (Some(location), Some(metres)) if *self == short => (location, metres).serialize(serializer),
            (Some(location), None) if *self == short => serializer.serialize_str(location),
            (None, Some(metres)) if *self == short => metres.serialize(serializer),
            _ => StopDraft::serialize(self, serializer),
        }
    }
}

impl<'de> Deserialize<'de> for StopDraft {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<StopDraft, D::Error> {
        deserializer.deserialize_any(StopVisitor)
    }
}

struct StopVisitor;

impl<'de> Visitor<'de> for StopVisitor {
    type Value = StopDraft;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("metres, a place, both in a list, or a table")
    }

    fn visit_f64<E>(self, metres: f64) -> Result<StopDraft, E> {
        Ok(StopDraft::metres(metres))
    }

    fn visit_i64<E>(self, metres: i64) -> Result<StopDraft, E> {
        Ok(StopDraft::metres(metres as f64))
    }

    fn visit_u64<E>(self, metres: u64) -> Result<StopDraft, E> {
        Ok(StopDraft::metres(metres as f64))
    }

    fn visit_str<E>(self, location: &str) -> Result<StopDraft, E> {
        Ok(StopDraft { location: Some(location.to_owned()), ..StopDraft::default() })
    }

    fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<StopDraft, A::Error> {
        let (location, metres) = <(String, f64)>::deserialize(SeqAccessDeserializer::new(list))?;
        Ok(StopDraft::at(location, metres))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<StopDraft, A::Error> {
        StopDraft::deserialize(MapAccessDeserializer::new(map))
    }
}
