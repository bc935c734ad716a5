//! `why_no_fewer_walks` and `why_no_fewer_operations` of FORMAT.md part 3, checked by going through every setting.
//!
//! What a certificate says of settings is looked up in all of them; what an exhausted search says is searched again, for
//! the pairs that it names alone, walk by walk over (setting, pairs done).

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::asked::Asked;

use super::conduct::{Joined, Setting, Taken};
use super::cover::{Course, course, readings, starts, take_all};
use super::kinds::{list, texts};
use super::plan::{Limits, Stands, dials, every_setting, plan, plan_leads, prepared, turned};
use super::wiring::Wiring;

/// More settings than this are not gone through.
const SETTINGS: usize = 1024;

/// A pair in one combination of the unknown positions.
type Requirement = (usize, usize);

/// Every setting of an installation that a plan may bring about, and what it tests.
pub struct Ground<'c> {
    case: (&'c Value, Option<&'c Value>, &'c Asked),
    /// Needed pairs, as [length, core, core].
    names: Vec<[String; 3]>,
    /// For each pair, the combinations in which the test set leaves it untested.
    open: Vec<Vec<usize>>,
    /// For each combination, where devices started.
    started: Vec<BTreeMap<String, String>>,
    devices: Vec<String>,
    /// For each device, the names of how it can stand; and whether nobody can put it back as it was found.
    stands: Vec<(Vec<String>, bool)>,
    /// How each device stands in each setting, by number; the first is how the plan finds them.
    settings: Vec<Vec<usize>>,
    tests: Vec<BTreeSet<Requirement>>,
}

/// What is wrong with a certificate.
pub type Checked = Result<(), String>;

impl<'c> Ground<'c> {
    /// None where there is too much to try.
    pub fn of(installation: &'c Value, test_set: Option<&'c Value>, asked: &'c Asked) -> Option<Ground<'c>> {
        let wiring = Wiring::of(installation);
        let nothing = serde_json::json!({});
        let tests = test_set.unwrap_or(&nothing);
        let limits = Limits::of(installation, tests, asked);
        if !asked.without.is_empty() {
            // Boards in locked rooms stand in further ways, which are gone through elsewhere.
            return None;
        }
        let begun = starts(&wiring, tests);
        let courses: Vec<Course> = begun.iter().map(|start| course(&wiring, tests, start.clone())).collect();
        let passes = readings(&wiring, tests);
        let sound: Vec<_> =
            take_all(&wiring, &courses, &passes).into_iter().filter(|reading| reading.void.is_none()).collect();
        let pairs: Vec<_> = wiring.pairs().into_iter().filter(|pair| wiring.requires(pair, asked.need)).collect();
        let open = pairs.iter().map(|pair| {
            let is_open = |&at: &usize| !sound.iter().any(|reading| reading.taken[at].parts(pair.nodes));
            (0..courses.len()).filter(is_open).collect()
        });
        let open = open.collect();
        let left: Vec<Setting> = courses.into_iter().map(|course| prepared(&wiring, &limits, course.left)).collect();
        let mut dials = dials(&wiring, &limits, &left);
        if asked.restore {
            dials.retain(|dial| !dial.is_one_way());
        }
        let every = every_setting(&dials, SETTINGS)?;
        let leads = plan_leads(&wiring, &limits);
        let tested = every.iter().map(|setting| {
            let joined: Vec<Joined> =
                left.iter().map(|left| Joined::of(&wiring, &turned(&dials, setting, left))).collect();
            let mut tested = BTreeSet::new();
            for leads in &leads {
                let taken: Vec<Taken> = joined.iter().map(|joined| Taken::with(joined, leads)).collect();
                if taken.iter().any(|taken| taken.void.is_some()) {
                    continue;
                }
                for (number, pair) in pairs.iter().enumerate().filter(|(_, pair)| leads.count_for(pair)) {
                    let parts = |&at: &usize| taken[at].parts(pair.nodes);
                    tested.extend((0..taken.len()).filter(parts).map(|at| (number, at)));
                }
            }
            tested
        });
        let tests = tested.collect();
        let named = |device: usize, at: usize| wiring.devices[device].positions[at].0.clone();
        Some(Ground {
            case: (installation, test_set, asked),
            names: pairs
                .iter()
                .map(|pair| {
                    let [a, b] = pair.cores.clone();
                    [wiring.lengths[pair.length].id.clone(), a, b]
                })
                .collect(),
            open,
            started: begun
                .iter()
                .map(|start| {
                    let names = wiring.devices.iter().enumerate();
                    names.map(|(at, device)| (device.name.clone(), named(at, start.positions[at]))).collect()
                })
                .collect(),
            devices: dials.iter().map(|dial| wiring.devices[dial.device].name.clone()).collect(),
            stands: dials
                .iter()
                .map(|dial| {
                    let name = |stands: &Stands| match *stands {
                        Stands::At(at) => named(dial.device, at),
                        Stands::AsFound => "as-found".to_owned(),
                        Stands::On(_) if dial.stands.len() == 2 => "other".to_owned(),
                        Stands::On(1) => "next".to_owned(),
                        Stands::On(steps) => format!("next-{steps}"),
                    };
                    (dial.stands.iter().map(name).collect(), dial.is_one_way())
                })
                .collect(),
            settings: every
                .iter()
                .map(|setting| {
                    let place = |(dial, stands): (&super::plan::Dial, &Stands)| {
                        dial.stands.iter().position(|other| other == stands).unwrap()
                    };
                    dials.iter().zip(setting).map(place).collect()
                })
                .collect(),
            tests,
        })
    }

    pub fn setting_count(&self) -> usize {
        self.settings.len()
    }

    /// Whether both certificates of a plan hold, and are of what it claims.
    pub fn check(&self, plan: &Value) -> Checked {
        self.check_walks(plan).map_err(|wrong| format!("walks: {wrong}"))?;
        self.check_operations(plan).map_err(|wrong| format!("operations: {wrong}"))
    }

    fn check_walks(&self, plan: &Value) -> Checked {
        let proof = &plan["why_no_fewer_walks"];
        let walks = number(&plan["totals"]["walks"])?;
        let kind = proof["proof"].as_str().ok_or("no kind")?;
        that((kind != "not-proven") == (plan["optimal"]["walks"] == true), "what is proven has a proof")?;
        let read = walks - usize::from(self.is_put_back() && walks > 0);
        match kind {
            "not-proven" => Ok(()),
            "nothing-to-operate" => that(walks == 0, "there are walks"),
            "left-at-start" => {
                that(read == 1, "it is a proof of one walk")?;
                let (pair, _) = self.requirement(&proof["pair"], &Value::Null)?;
                let is_left = self.open[pair].iter().any(|&at| !self.tests[0].contains(&(pair, at)));
                that(is_left, "the pair is tested as things stand")
            }
            "exclude-one-another" => {
                that(list(&proof["pairs"]).len() >= read, "fewer pairs than walks")?;
                self.check_exclusion(proof, &(0..self.devices.len()).collect::<Vec<_>>())
            }
            "search-exhausted" if proof["core"].is_object() => {
                let core = self.core(&proof["core"])?;
                let all: Vec<usize> = (0..self.devices.len()).collect();
                let in_fewer = |core: &[Vec<Requirement>]| self.least(core, walks - 1, &all).is_some();
                that(walks > 0 && !in_fewer(&core), "the core can be had in fewer walks")?;
                self.check_irreducible(&proof["core"], &core, in_fewer)
            }
            "search-exhausted" => self.as_searched("walks", walks),
            _ => Err(format!("no such kind: {kind}")),
        }
    }

    fn check_operations(&self, plan: &Value) -> Checked {
        let proof = &plan["why_no_fewer_operations"];
        let [operations, walks] = ["operations", "walks"].map(|what| number(&plan["totals"][what]));
        let (operations, walks) = (operations?, walks?);
        let kind = proof["proof"].as_str().ok_or("no kind")?;
        that((kind != "not-proven") == (plan["optimal"]["operations"] == true), "what is proven has a proof")?;
        match kind {
            "not-proven" => Ok(()),
            "nothing-to-operate" => that(operations == 0, "there are operations"),
            "a-walk-each" => that(operations == walks && plan["optimal"]["walks"] == true, "more than a walk each"),
            "search-exhausted" => self.as_searched("operations", operations),
            "in-parts" => {
                let mut used = BTreeSet::new();
                let mut sum = 0;
                for part in list(&proof["parts"]) {
                    let devices = self.device_numbers(&part["devices"])?;
                    that(devices.iter().all(|&device| used.insert(device)), "two parts share a switch")?;
                    sum += number(&part["operations"])?;
                    self.check_part(part, &devices, walks)?;
                    if part["proof"] == "search-exhausted" && !part["core"].is_object() {
                        self.as_searched("operations", operations)?;
                    }
                }
                that(sum == operations, "the parts do not add up")
            }
            _ => Err(format!("no such kind: {kind}")),
        }
    }

    /// Whether the part's devices are operated so often at least, whatever is done with the others.
    fn check_part(&self, part: &Value, devices: &[usize], walks: usize) -> Checked {
        let operations = number(&part["operations"])?;
        match part["proof"].as_str() {
            Some("nearest") => {
                let requirement = self.requirement(&part["pair"], &part["start"])?;
                let moved = |setting: &Vec<usize>| devices.iter().filter(|&&device| setting[device] != 0).count();
                let met = self.settings.iter().zip(&self.tests).filter(|(_, tests)| tests.contains(&requirement));
                let nearest = met.map(|(setting, _)| moved(setting)).min().ok_or("no setting tests the pair")?;
                let times = if self.is_put_back() { 2 } else { 1 };
                that(operations <= times * nearest, "the pair needs fewer operations")
            }
            Some("exclude-one-another") => {
                let most = list(&part["pairs"]).len() + usize::from(self.is_put_back());
                that(operations <= most, "fewer pairs than operations")?;
                self.check_exclusion(part, devices)
            }
            Some("search-exhausted") if part["core"].is_object() => {
                let core = self.core(&part["core"])?;
                let with_fewer = |core: &[Vec<Requirement>]| {
                    self.least(core, walks, devices).is_some_and(|least| least < operations)
                };
                that(!with_fewer(&core), "the core needs fewer operations")?;
                self.check_irreducible(&part["core"], &core, with_fewer)
            }
            Some("search-exhausted") => Ok(()),
            kind => Err(format!("no such kind: {kind:?}")),
        }
    }

    /// That no two pairs are tested where these devices stand alike, and none where they stand as found.
    fn check_exclusion(&self, proof: &Value, devices: &[usize]) -> Checked {
        let rows = list(&proof["pairs"]);
        let starts = list(&proof["starts"]);
        that(starts.is_empty() || starts.len() == rows.len(), "as many starts as pairs")?;
        let requirements: Vec<Requirement> = rows
            .iter()
            .enumerate()
            .map(|(at, pair)| self.requirement(pair, starts.get(at).unwrap_or(&Value::Null)))
            .collect::<Result<_, _>>()?;
        let ways: Vec<BTreeSet<Vec<usize>>> = requirements.iter().map(|&row| self.ways(row, devices)).collect();
        let found = vec![0; devices.len()];
        for (at, way) in ways.iter().enumerate() {
            that(!way.contains(&found), "a pair is tested as things stand")?;
            that(ways[..at].iter().all(|other| other.is_disjoint(way)), "two pairs fit one setting")?;
        }
        for reason in list(&proof["because"]) {
            let devices = self.device_numbers(&reason["devices"])?;
            that(!devices.is_empty(), "a reason without a switch")?;
            let of: Vec<usize> = list(&reason["of"]).iter().map(number).collect::<Result<_, _>>()?;
            that(of.len() > 1 && of.iter().collect::<BTreeSet<_>>().len() == of.len(), "a reason of two at least")?;
            that(of.len() == list(&reason["needs"]).len(), "each has its needs")?;
            let mut known: BTreeSet<Vec<usize>> = BTreeSet::new();
            for (&at, needs) in of.iter().zip(list(&reason["needs"])) {
                let needs: BTreeSet<Vec<usize>> =
                    list(needs).iter().map(|way| self.way(way, &devices)).collect::<Result<_, _>>()?;
                let requirement = *requirements.get(at).ok_or("a reason of no pair")?;
                that(self.ways(requirement, &devices).is_subset(&needs), "a pair is tested in a way not named")?;
                that(needs.iter().all(|way| known.insert(way.clone())), "two pairs share a way")?;
            }
        }
        Ok(())
    }

    fn check_irreducible(
        &self,
        proof: &Value,
        core: &[Vec<Requirement>],
        with_less: impl Fn(&[Vec<Requirement>]) -> bool,
    ) -> Checked {
        if proof["irreducible"] != true {
            return Ok(());
        }
        for left_out in 0..core.len() {
            let rest: Vec<Vec<Requirement>> =
                core.iter().enumerate().filter(|(at, _)| *at != left_out).map(|(_, row)| row.clone()).collect();
            that(with_less(&rest), "a pair of the core can be left out")?;
        }
        Ok(())
    }

    /// The oracle's own plan, where a certificate says no more than that all was searched.
    fn as_searched(&self, what: &str, said: usize) -> Checked {
        let (installation, test_set, asked) = self.case;
        let Some(least) = plan(installation, test_set, asked) else { return Ok(()) };
        that(number(&least[what])? >= said, "the search finds less")
    }

    fn is_put_back(&self) -> bool {
        self.case.2.restore
    }

    /// How devices stand in the settings that meet a requirement.
    fn ways(&self, requirement: Requirement, devices: &[usize]) -> BTreeSet<Vec<usize>> {
        let met = self.settings.iter().zip(&self.tests).filter(|(_, tests)| tests.contains(&requirement));
        met.map(|(setting, _)| devices.iter().map(|&device| setting[device]).collect()).collect()
    }

    fn device_numbers(&self, names: &Value) -> Result<Vec<usize>, String> {
        let number = |name: &String| self.devices.iter().position(|device| device == name);
        texts(names).iter().map(|name| number(name).ok_or(format!("nobody operates {name}"))).collect()
    }

    fn way(&self, way: &Value, devices: &[usize]) -> Result<Vec<usize>, String> {
        let names = texts(way);
        that(names.len() == devices.len(), "a way tells of each switch")?;
        let place = |(name, &device): (&String, &usize)| self.stands[device].0.iter().position(|other| other == name);
        names.iter().zip(devices).map(|row| place(row).ok_or(format!("no position {}", row.0))).collect()
    }

    /// A pair, in the combinations that a start leaves and in which the test set does not test it.
    fn bundle(&self, pair: &Value, start: &Value) -> Result<Vec<Requirement>, String> {
        let name = texts(pair);
        let pair =
            self.names.iter().position(|known| known[..] == name[..]).ok_or(format!("{name:?} is not needed"))?;
        let is_so = |&at: &usize| {
            let named = start.as_object().into_iter().flatten();
            let mut named = named.map(|(device, at_first)| self.started[at].get(device).is_some_and(|x| at_first == x));
            named.all(|is_so| is_so)
        };
        let open: Vec<Requirement> = self.open[pair].iter().copied().filter(is_so).map(|at| (pair, at)).collect();
        that(!open.is_empty(), "it is tested already")?;
        Ok(open)
    }

    /// One requirement of those: a certificate names starts so far that it does not matter which.
    fn requirement(&self, pair: &Value, start: &Value) -> Result<Requirement, String> {
        Ok(self.bundle(pair, start)?[0])
    }

    fn core(&self, proof: &Value) -> Result<Vec<Vec<Requirement>>, String> {
        let starts = list(&proof["starts"]);
        let rows = list(&proof["pairs"]).iter().enumerate();
        rows.map(|(at, pair)| self.bundle(pair, starts.get(at).unwrap_or(&Value::Null))).collect()
    }

    /// The fewest operations at some devices with which requirements are met in so many walks, the others standing as it
    /// suits; none where they are not.
    fn least(&self, core: &[Vec<Requirement>], walks: usize, devices: &[usize]) -> Option<usize> {
        let requirements: Vec<Requirement> = core.iter().flatten().copied().collect();
        assert!(requirements.len() <= 64, "a core is small");
        let full = requirements.iter().enumerate().fold(0u64, |mask, (at, _)| mask | 1 << at);
        let mut meets: BTreeMap<Vec<usize>, u64> = BTreeMap::new();
        for (setting, tests) in self.settings.iter().zip(&self.tests) {
            let way = devices.iter().map(|&device| setting[device]).collect();
            let met = requirements.iter().enumerate().filter(|(_, row)| tests.contains(row));
            *meets.entry(way).or_default() |= met.fold(0u64, |mask, (at, _)| mask | 1 << at);
        }
        let found = vec![0; devices.len()];
        let begun = (found.clone(), meets[&found]);
        // What tests nothing of these is not gone to: it lies on no shorter way.
        meets.retain(|way, met| *met != 0 || *way == found);
        let is_end = |(way, met): &(Vec<usize>, u64)| *met == full && (!self.is_put_back() || *way == found);
        let mut states: BTreeMap<(Vec<usize>, u64), usize> = BTreeMap::from([(begun, 0)]);
        for _ in 0..walks {
            let mut next = states.clone();
            for ((way, met), cost) in &states {
                for (to, more) in &meets {
                    let mut changed = devices.iter().zip(way.iter().zip(to)).filter(|(_, (a, b))| a != b);
                    if changed.clone().any(|(&device, (_, &b))| self.stands[device].1 && b == 0) {
                        continue;
                    }
                    let cost = cost + changed.by_ref().count();
                    let known = next.entry((to.clone(), met | more)).or_insert(cost);
                    *known = cost.min(*known);
                }
            }
            states = next;
        }
        states.into_iter().filter(|(state, _)| is_end(state)).map(|(_, cost)| cost).min()
    }
}

fn that(holds: bool, wrong: &str) -> Checked {
    if holds { Ok(()) } else { Err(wrong.to_owned()) }
}

fn number(value: &Value) -> Result<usize, String> {
    value.as_u64().map(|value| value as usize).ok_or_else(|| "no number".to_owned())
}
