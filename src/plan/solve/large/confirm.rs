//! Each "no" of the solver, confirmed by a second one that shares no code with it: in the tests only.
//!
//! It is given each clause as the solver is, and asked with the core of the "no" alone. So it confirms what proofs rest
//! on too.

use std::cell::Cell;

use varisat::{ExtendFormula, Solver};

use super::formula::Lit;

thread_local! {
    /// How often it was asked.
    static ASKED: Cell<usize> = const { Cell::new(0) };
}

/// The second solver of a formula.
#[derive(Default)]
pub(super) struct Second {
    solver: Solver<'static>,
}

impl Second {
    pub(super) fn clause(&mut self, lits: &[Lit]) {
        let lits: Vec<varisat::Lit> = lits.iter().map(of).collect();
        self.solver.add_clause(&lits);
    }

    /// Confirms that the clauses can't hold with these literals.
    ///
    /// # Panics
    ///
    /// Where they can.
    pub(super) fn confirm_no(&mut self, core: &[Lit]) {
        ASKED.set(ASKED.get() + 1);
        let lits: Vec<varisat::Lit> = core.iter().map(of).collect();
        self.solver.assume(&lits);
        let holds = self.solver.solve().expect("it is not interrupted");
        assert!(!holds, "a second solver finds how the formula can hold");
    }
}

fn of(lit: &Lit) -> varisat::Lit {
    varisat::Lit::from_index(lit.var().idx() as usize, lit.sign())
}

mod tests {
    use std::path::{Path, PathBuf};

    use super::*;
    use crate::observer::{Unwatched, Watch};
    use crate::plan::request::{Afterwards, Priority, Request, SearchBy, SwitchWork};
    use crate::plan::solve::large::formula::{Answer, Budget, Formula};
    use crate::{Input, Need, Network, Plan, read_installation, read_test_set};

    /// The plans of all fixtures, by the solver alone, in every way that they can be asked for.
    #[test]
    fn a_second_solver_confirms_each_no() {
        let before = ASKED.get();
        let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures");
        let mut paths: Vec<PathBuf> = ["small", "plan"]
            .iter()
            .flat_map(|folder| std::fs::read_dir(tests.join(folder)).expect("it is there"))
            .map(|entry| entry.expect("it can be read").path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
            .collect();
        paths.sort();
        let mut planned = 0;
        for path in &paths {
            let text = std::fs::read_to_string(path).expect("it can be read");
            if !text.contains("[[board]]") {
                continue;
            }
            let installation = read_installation(Input::toml(&text)).expect("it is valid");
            let test_set = std::fs::read(path.with_extension("tests.toml")).ok();
            let test_set = test_set.map(|text| read_test_set(Input::toml(&text), &installation).expect("it is valid"));
            let network = Network::of(installation);
            for test_set in [None, test_set.as_ref()] {
                for need in [Need::Standard, Need::EveryPair] {
                    for (priority, afterwards, switches) in [
                        (Priority::Operations, Afterwards::AsLeft, SwitchWork::AsNeeded),
                        (Priority::Stops, Afterwards::AsFound, SwitchWork::Each),
                    ] {
                        let mut request = Request::from(need);
                        request.search = SearchBy::Solver;
                        (request.priority, request.afterwards, request.switches) = (priority, afterwards, switches);
                        let _ = Plan::with(&network, test_set, &request, &mut Unwatched).expect("it is for this one");
                        planned += 1;
                    }
                }
            }
        }
        let asked = ASKED.get() - before;
        assert!(asked > planned, "{asked} times no in {planned} plans");
    }

    /// A formula that the first solver has another copy of than the second: its "no" is seen to be wrong.
    #[test]
    #[should_panic(expected = "a second solver finds how the formula can hold")]
    fn a_wrong_no_is_noticed() {
        let mut formula = Formula::new();
        let [one, other] = [formula.lit(), formula.lit()];
        formula.clause([one, other]);
        formula.clause_of_the_first([!one]);
        let mut unwatched = Unwatched;
        let mut watch = Watch::new(&mut unwatched);
        let answer = formula.ask(&[!other], &mut Budget(u64::MAX), &mut watch);
        assert_ne!(answer, Answer::GaveUp);
    }
}
