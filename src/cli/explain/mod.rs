//! What each error of a file means, at length.

use super::output::refusal;
use super::text::layout::Page;

/// For each code a heading, and below it what it means.
const ERRORS: &str = include_str!("errors.md");

/// Each code with what it means.
fn errors() -> impl Iterator<Item = (&'static str, &'static str)> {
    ERRORS.split("\n## ").skip(1).filter_map(|part| part.split_once('\n'))
}

/// What an error means, laid out; where no code is given, all codes.
pub(super) fn of(code: Option<&str>) -> Result<impl FnOnce(&mut Page), String> {
    let found = match code {
        None => None,
        Some(code) => Some(errors().find(|&(name, _)| name == code).ok_or_else(|| {
            refusal(
                format!("no error has the code {code}"),
                "it stands in brackets behind the error; `lengthwise explain` lists all",
            )
        })?),
    };
    Ok(move |page: &mut Page| match found {
        Some((name, text)) => render(page, name, text),
        None => {
            let names: Vec<&str> = errors().map(|(name, _)| name).collect();
            page.paragraph(0, 0, &names.join(", "));
        }
    })
}

fn render(page: &mut Page, name: &str, text: &str) {
    page.heading(name);
    let mut is_code = false;
    for line in text.trim_end().lines() {
        if line.starts_with("```") {
            is_code = !is_code;
        } else {
            page.paragraph(if is_code { 4 } else { 0 }, 0, line);
        }
    }
}

#[cfg(test)]
mod tests {
    use strum::VariantNames;

    use super::*;
    use crate::cli::terminal::Terminal;
    use crate::input::InputFault;
    use crate::model::{ModelFault, RunFault};

    #[test]
    fn every_error_is_explained_and_nothing_else() {
        let mut all = [InputFault::VARIANTS, ModelFault::VARIANTS, RunFault::VARIANTS].concat();
        all.retain(|code| !["model", "run"].contains(code));
        all.sort();
        let mut explained: Vec<&str> = errors().map(|(name, _)| name).collect();
        explained.sort();
        assert_eq!(explained, all);
        for code in explained {
            let mut page = Page::new(Terminal { width: 80, shows_colour: false });
            of(Some(code)).unwrap_or_else(|error| panic!("{error}"))(&mut page);
            assert!(page.into_text().lines().count() >= 3, "{code}");
        }
        assert!(of(Some("no-such-code")).is_err());
    }
}
