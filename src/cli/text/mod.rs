//! Text for a terminal, from the same answers that `--json` prints.

pub(super) mod coverage;
pub(super) mod judge;
pub(super) mod layout;
pub(super) mod locate;
pub(super) mod network;
pub(super) mod plan;
pub(super) mod prepare;
mod rooms;
pub(super) mod rules;
pub(super) mod terminations;
pub(super) mod works;

#[cfg(test)]
mod tests {
    use super::layout::Page;
    use crate::cli::terminal::Terminal;
    use crate::input::{Input, read_installation, read_record};
    use crate::judge::Judgement;
    use crate::locate::{Assumptions, Findings};
    use crate::network::{Need, Network};
    use crate::plan::{Plan, PlanStart, Request};
    use crate::prepare::Preparation;
    use crate::{Coverage, Observer, Standard, Terminations, Works};

    const DEMO: &str = include_str!("../../../demo/skerry-light.toml");
    const RECORD: &str = include_str!("../../../demo/record.toml");

    struct Stops;

    impl Observer for Stops {
        fn progress(&mut self, _: crate::Progress) -> std::ops::ControlFlow<()> {
            std::ops::ControlFlow::Break(())
        }
    }

    /// All answers about the demo.
    fn pages(terminal: Terminal) -> Vec<String> {
        let installation = read_installation(Input::toml(DEMO)).expect("the demo is right");
        let tests = read_record(Input::toml(RECORD), &installation).expect("the record is right");
        let network = Network::of(installation);
        let network = &network;
        let request = &Request::from(Need::Standard);
        let page = |lay_out: &dyn Fn(&mut Page)| {
            let mut page = Page::new(terminal);
            lay_out(&mut page);
            page.into_text()
        };
        let coverage = Coverage::of(network, &tests, Need::Standard).expect("they belong together");
        let judgement = Judgement::of(network, &tests, Need::Standard).expect("they belong together");
        let findings =
            Findings::watched(network, &tests, Assumptions::default(), &mut Stops).expect("they belong together");
        let plan = Plan::with(network, None, request, &mut Stops).expect("it starts from ready");
        let start = PlanStart::of(network, None, request).expect("it starts from ready");
        let preparation = Preparation::of(network);
        vec![
            page(&|page| super::coverage::render(page, network, &coverage, &tests, Need::Standard)),
            page(&|page| super::judge::render(page, network, &judgement)),
            page(&|page| super::locate::render(page, network.installation(), &tests, &findings)),
            page(&|page| super::plan::render(page, network, request, &start, &plan)),
            page(&|page| super::prepare::render(page, network, &preparation)),
            page(&|page| super::rules::render(page, &Standard::ALL.map(Standard::ruleset))),
            page(&|page| super::network::render(page, &network.report(), network.body_count())),
            page(&|page| super::works::render(page, network.installation(), &Works::of(network))),
            page(&|page| {
                let all = Terminations::of(network.installation());
                super::terminations::render(page, network.installation(), &all);
            }),
        ]
    }

    #[test]
    fn text_is_as_wide_as_its_terminal() {
        for width in [40, 80, 200] {
            for text in pages(Terminal { width, shows_colour: false }) {
                let widest = text.lines().map(textwrap::core::display_width).max().unwrap_or(0);
                assert!(widest <= width && widest > width / 2, "{widest} of {width} columns: {text}");
            }
        }
    }

    #[test]
    fn colours_change_no_word() {
        let [plain, coloured] = [false, true].map(|shows_colour| pages(Terminal { width: 80, shows_colour }));
        for (plain, coloured) in plain.iter().zip(&coloured) {
            assert!(!plain.contains('\u{1b}') && coloured.contains('\u{1b}'));
            assert_eq!(anstream::adapter::strip_str(coloured).to_string(), *plain);
        }
    }
}
