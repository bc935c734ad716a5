//! What else the trade calls the built-in kinds (common practice), so that an unknown kind can be told the one meant.

/// Kinds with words for them, in lower case, without blanks and hyphens.
const WORDS: &[(&str, &[&str])] = &[
    ("one-way", &["1way", "singlepole", "switch", "lightswitch", "plateswitch", "pullcord", "pullswitch"]),
    ("two-way", &["2way", "changeover", "threeway", "3way"]),
    ("intermediate", &["crossover", "fourway", "4way"]),
    ("double-pole", &["2pole", "dp", "isolator", "cookerswitch", "showerswitch"]),
    ("triple-pole", &["3pole", "tp", "threephaseisolator"]),
    ("fused-connection", &["spur", "fusedspur", "fcu", "connectionunit"]),
    ("socket", &["outlet", "socketoutlet", "receptacle"]),
    ("switched-socket", &["switchedoutlet", "switchedsocketoutlet"]),
    (
        "luminaire",
        &["lamp", "light", "downlight", "downlighter", "rose", "ceilingrose", "pendant", "batten", "spotlight", "bulb"],
    ),
    (
        "appliance",
        &[
            "fan",
            "extractor",
            "cooker",
            "oven",
            "hob",
            "heater",
            "boiler",
            "shower",
            "immersion",
            "motor",
            "pump",
            "load",
        ],
    ),
    ("appliance-3", &["threephaseappliance", "threephasemotor", "threephaseload"]),
    ("detector", &["smokealarm", "smokedetector", "smoke", "heatalarm", "heatdetector", "firealarm", "coalarm"]),
    ("sensor", &["pir", "motionsensor", "motiondetector", "occupancysensor", "photocell", "presencedetector"]),
    ("dimmer", &["dimmerswitch", "dimmingswitch"]),
    ("contactor", &["relay"]),
    ("indicator", &["neon", "pilotlamp", "pilotlight"]),
    ("surge-protector", &["spd", "surgearrester", "surgeprotection"]),
    ("transformer", &["belltransformer", "powersupply"]),
    ("junction", &["junctionbox", "jb", "joint", "jointbox", "connector", "terminalblock", "backbox"]),
    ("selector-3", &["selector", "rotary", "rotaryswitch", "fanspeedswitch"]),
];

/// The built-in kind that a word of the trade means.
pub(crate) fn kind_of_the_trade(word: &str) -> Option<&'static str> {
    let word: String = word.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).take(40).collect();
    let is_meant = |&&(kind, words): &&(&str, &[&str])| words.contains(&word.as_str()) || kind.replace('-', "") == word;
    WORDS.iter().find(is_meant).map(|&(kind, _)| kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::installation::built_in_names;

    #[test]
    fn words_mean_kinds_that_there_are() {
        let mut seen: Vec<&str> = Vec::new();
        for &(kind, words) in WORDS {
            assert!(built_in_names().any(|name| name == kind), "{kind}");
            for &word in words {
                assert!(!seen.contains(&word), "`{word}` means one kind");
                seen.push(word);
                assert_eq!(kind_of_the_trade(word), Some(kind));
            }
        }
        assert_eq!(kind_of_the_trade("2-way"), Some("two-way"));
        assert_eq!(kind_of_the_trade("Two Way"), Some("two-way"));
        assert_eq!(kind_of_the_trade("Smoke alarm"), Some("detector"));
        assert_eq!(kind_of_the_trade("sofa"), None);
    }
}
