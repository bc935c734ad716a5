//! A service: several people ask about one installation at once, each with a time by which the answer must be there. How
//! do threads share it, and what does an answer say that was not finished?

use std::error::Error;
use std::sync::{Arc, Mutex, mpsc};
use std::thread;
use std::time::Duration;

use lengthwise::plan::Request;
use lengthwise::{Cancel, Coverage, Deadline, Input, Need, Network, Plan, TestSet, read_installation, read_test_set};

/// What is asked, with what has been done so far, and by when.
struct Question {
    number: usize,
    what: What,
    tests: TestSet,
    within: Duration,
}

#[derive(Clone, Copy)]
enum What {
    Cover,
    Plan,
}

fn main() -> Result<(), Box<dyn Error>> {
    let installation = read_installation(Input::toml(include_bytes!("../demo/skerry-light.toml")))?;
    let tests = read_test_set(Input::toml(include_bytes!("../demo/as-usual.toml")), &installation)?;
    // A network never changes, so that all workers ask the same one.
    let network = Arc::new(Network::of(installation));
    // One call of `cancel`, from any thread, stops all that is being worked out.
    let closing = Cancel::default();

    let (ask, questions) = mpsc::channel::<Question>();
    let questions = Arc::new(Mutex::new(questions));
    let (tell, answers) = mpsc::channel();
    for _ in 0..thread::available_parallelism()?.get() {
        let (network, questions) = (Arc::clone(&network), Arc::clone(&questions));
        let (tell, closing) = (tell.clone(), closing.clone());
        thread::spawn(move || {
            loop {
                let Ok(question) = questions.lock().expect("no worker panics").recv() else { break };
                let answer = answer(&network, &question, closing.clone());
                // Nobody may be left to hear it.
                let _ = tell.send((question.number, answer));
            }
        });
    }
    drop(tell);

    let minute = Duration::from_secs(60);
    for (number, (what, within)) in
        [(What::Cover, minute), (What::Plan, minute), (What::Plan, Duration::ZERO)].into_iter().enumerate()
    {
        ask.send(Question { number, what, tests: tests.clone(), within })?;
    }
    drop(ask);
    let mut answers: Vec<(usize, String)> = answers.into_iter().collect();
    answers.sort();
    for (number, answer) in answers {
        println!("{}. {answer}", number + 1);
    }
    Ok(())
}

/// An answer is data: it goes to another thread, or over the wire as JSON.
fn answer(network: &Network, question: &Question, closing: Cancel) -> String {
    let mut observer = (Deadline::after(question.within), closing);
    let of_another = "the test set is of another installation";
    match question.what {
        What::Cover => {
            let coverage = Coverage::watched(network, &question.tests, Need::Standard, &mut observer);
            let coverage = coverage.expect(of_another);
            let (tested, required) = (coverage.summary.tested, coverage.summary.required);
            format!("{tested} of {required} pairs are tested.{}", in_time(coverage.stopped))
        }
        What::Plan => {
            let plan = Plan::with(network, Some(&question.tests), &Request::default(), &mut observer);
            let plan = plan.expect(of_another);
            let (walks, least) = (plan.totals.walks, plan.bounds.walks);
            let planned = match plan.not_planned.len() {
                0 => String::new(),
                open => format!(" {open} pairs are not planned for."),
            };
            format!("{walks} walks, and no plan has fewer than {least}.{planned}{}", in_time(plan.stopped))
        }
    }
}

fn in_time(stopped: bool) -> &'static str {
    if stopped { " Time was up: what is claimed holds, and there may be better." } else { "" }
}
